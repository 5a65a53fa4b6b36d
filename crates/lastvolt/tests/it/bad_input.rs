//! Bad input of every sort: exit status 2, a place, a clear sentence, nothing written.

use std::fs;
use std::io::Read;
use std::process::Stdio;

use serde_json::Value;

use crate::program::{COIN, FAMILY, Folder, command, run};

/// What must be said about a family with one text exchanged, in both formats.
struct Wrong<'a> {
    /// Name of the test's folder.
    name: &'a str,
    /// The file, what is exchanged in it, and for what.
    file: &'a str,
    from: &'a str,
    to: &'a str,
    /// What the message must hold.
    says: &'a str,
}

impl Wrong<'_> {
    fn folder(&self) -> Folder {
        let folder = Folder::tiny(self.name);
        let text = if self.file == "family.toml" {
            FAMILY
        } else {
            COIN
        };
        assert_eq!(
            text.matches(self.from).count(),
            1,
            "{:?} in {}",
            self.from,
            self.file
        );
        folder.write(self.file, text.replace(self.from, self.to));
        folder
    }

    /// Fails unless the problem is told with its place, and nothing is written.
    fn check(&self) {
        let folder = self.folder();
        let before = folder.names();
        let text = run(&["review", folder.arg()]).expect(2);
        assert!(text.out.is_empty(), "{}", text.out);
        assert!(text.err.contains(self.says), "{}: {}", self.name, text.err);
        assert!(
            text.err.contains(&format!("{}:", self.file)),
            "{}: {}",
            self.name,
            text.err
        );
        assert_eq!(
            folder.names(),
            before,
            "{}: something was written",
            self.name
        );
        let json = run(&["check", folder.arg(), "--format", "json"])
            .expect(2)
            .json();
        let found = problems(&json).iter().any(|p| {
            p["file"] == self.file && p["says"].as_str().is_some_and(|s| s.contains(self.says))
        });
        assert!(found, "{}: {json}", self.name);
    }
}

/// The problems of a document, each with everything that it must have.
fn problems(document: &Value) -> &Vec<Value> {
    assert_eq!(
        document.as_object().expect("an object").len(),
        1,
        "{document}"
    );
    let problems = document["problems"].as_array().expect("a list");
    assert!(!problems.is_empty());
    for problem in problems {
        for key in ["code", "file", "says"] {
            assert!(
                problem[key].as_str().is_some_and(|t| !t.is_empty()),
                "{problem}"
            );
        }
        for key in ["line", "column"] {
            assert!(problem[key].as_u64().is_some_and(|n| 1 <= n), "{problem}");
        }
        assert!(
            problem.get("proposal").is_none_or(Value::is_string),
            "{problem}"
        );
    }
    problems
}

#[test]
fn slips_in_the_text_are_told_with_their_place() {
    let family = |name, from, to, says| Wrong {
        name,
        file: "family.toml",
        from,
        to,
        says,
    };
    let coin = |name, from, to, says| Wrong {
        name,
        file: "coin.toml",
        from,
        to,
        says,
    };
    let all = [
        family("bad-bare", "\"3 months\"", "3", "3"),
        family("bad-unit", "\"3 uA\"", "\"3 uF\"", "uF"),
        family("bad-key", "survives =", "survivs =", "survivs"),
        family("bad-zero-interval", "\"60 s\"", "\"0 s\"", "0 s"),
        family("bad-negative", "\"4 ms\"", "\"-4 ms\"", "-4 ms"),
        family("bad-long-task", "\"4 ms\"", "\"90 s\"", "90 s"),
        family("bad-syntax", "[connector]", "[connector", ""),
        family(
            "bad-state",
            "{ radio = \"send\" }",
            "{ radio = \"sned\" }",
            "sned",
        ),
        coin("bad-kind", "\"switch\"", "\"swich\"", "swich"),
        coin("bad-model", "\"tiny-cell\"", "\"tinny-cell\"", "tinny-cell"),
        coin("bad-pin", "plus = \"BAT\"", "top = \"BAT\"", "top"),
        coin(
            "bad-other-kind",
            "\"tiny-cell\"",
            "\"p-fet-low-threshold\"",
            "p-fet-low-threshold",
        ),
        coin("bad-contact", "\"50 mohm\"", "\"-50 mohm\"", "-50 mohm"),
        coin("bad-twice", "[parts.S1]", "[parts.BT1]", ""),
    ];
    all.iter().for_each(Wrong::check);
}

#[test]
fn every_problem_is_told_at_once() {
    let folder = Folder::tiny("bad-many");
    folder.write(
        "family.toml",
        FAMILY
            .replace("survives", "survivs")
            .replace("\"3 uA\"", "\"3 uF\""),
    );
    folder.write("coin.toml", COIN.replace("\"switch\"", "\"swich\""));
    let json = run(&["point", folder.arg(), "--format", "json"])
        .expect(2)
        .json();
    let files: Vec<&str> = problems(&json)
        .iter()
        .filter_map(|p| p["file"].as_str())
        .collect();
    assert!(files.len() >= 3, "{json}");
    assert!(
        files.contains(&"family.toml") && files.contains(&"coin.toml"),
        "{json}"
    );
    let text = run(&["point", folder.arg()]).expect(2);
    assert!(text.err.contains("errors found"), "{}", text.err);
    assert!(
        text.err.contains("did you mean `survives`?"),
        "{}",
        text.err
    );
    assert!(text.err.contains("^^"), "{}", text.err);
}

#[test]
fn a_column_counts_characters() {
    let folder = Folder::tiny("bad-column");
    let line = "sleep = { current = { typ = \"3 µA\", mux = \"4 uA\" } }";
    folder.write("family.toml", FAMILY.replace("sleep = \"3 uA\"", line));
    let json = run(&["point", folder.arg(), "--format", "json"])
        .expect(2)
        .json();
    let problem = &problems(&json)[0];
    let column = line.chars().take_while(|c| *c != 'm').count();
    let expected = line[..line.find("mux").unwrap()].chars().count() + 1;
    assert!(column < expected);
    assert_eq!(problem["column"].as_u64(), Some(expected as u64), "{json}");
    let place = format!("family.toml:{}:{expected}", problem["line"]);
    let text = run(&["point", folder.arg()]).expect(2);
    assert!(text.err.contains(&place), "{}", text.err);
}

#[test]
fn missing_folders_and_files_are_named() {
    let folder = Folder::new("bad-missing");
    let gone = format!("{}/gone", folder.arg());
    let ran = run(&["check", &gone]).expect(2);
    assert!(
        ran.err.contains("gone") && ran.err.contains("lastvolt new"),
        "{}",
        ran.err
    );
    let ran = run(&["check", folder.arg()]).expect(2);
    assert!(ran.err.contains("family.toml"), "{}", ran.err);
    folder.write("family.toml", FAMILY);
    let json = run(&["check", folder.arg(), "--format", "json"])
        .expect(2)
        .json();
    let problem = &problems(&json)[0];
    assert_eq!(problem["file"], "family.toml", "{json}");
    assert_eq!(problem["line"], 3, "{json}");
    assert!(
        problem["says"].as_str().unwrap().contains("coin.toml"),
        "{json}"
    );
}

#[test]
fn files_that_are_no_text_say_where() {
    let folder = Folder::tiny("bad-bytes");
    folder.write("coin.toml", b"title = \"A\"\n# \xff\n");
    let json = run(&["check", folder.arg(), "--format", "json"])
        .expect(2)
        .json();
    let problem = &problems(&json)[0];
    assert_eq!(problem["code"], "not-utf-8");
    assert_eq!(
        (&problem["line"], &problem["column"]),
        (&2.into(), &3.into()),
        "{json}"
    );
    let ran = run(&["check", folder.arg()]).expect(2);
    assert!(ran.err.contains("coin.toml:2:3"), "{}", ran.err);
}

#[test]
fn a_folder_or_a_huge_file_in_place_of_a_board_is_refused() {
    let folder = Folder::tiny("bad-folder");
    fs::remove_file(folder.path().join("coin.toml")).unwrap();
    fs::create_dir(folder.path().join("coin.toml")).unwrap();
    let ran = run(&["check", folder.arg()]).expect(2);
    assert!(ran.err.contains("coin.toml"), "{}", ran.err);
    fs::remove_dir(folder.path().join("coin.toml")).unwrap();
    folder.write("coin.toml", "# filling\n".repeat(1 << 20));
    let ran = run(&["check", folder.arg()]).expect(2);
    assert!(ran.err.contains("bytes"), "{}", ran.err);
    let other = folder.path().join("other.txt");
    fs::write(&other, "x").unwrap();
    let ran = run(&["check", other.to_str().unwrap()]).expect(2);
    assert!(ran.err.contains("other.txt"), "{}", ran.err);
}

#[test]
fn a_circuit_that_determines_nothing_names_the_part_and_its_place() {
    let folder = Folder::tiny("bad-loop");
    let wires = "\n[parts.R1]\nkind = \"resistor\"\nvalue = \"0 ohm\"\npins = [\"VDD\", \"X\"]\n";
    let loops = format!("{COIN}{wires}{}", wires.replace("R1", "R2"));
    folder.write("coin.toml", loops);
    for command in ["point", "matrix", "life", "check", "review"] {
        let ran = run(&[command, folder.arg()]).expect(2);
        let place = ran.err.contains("coin.toml:14:") || ran.err.contains("coin.toml:19:");
        assert!(
            place && ran.err.contains("board `coin`"),
            "{command}: {}",
            ran.err
        );
    }
    assert_eq!(folder.names(), ["coin.toml", "family.toml"]);
}

#[test]
fn long_lines_do_not_flood_the_terminal() {
    let folder = Folder::tiny("bad-long-line");
    let family = FAMILY.replace(
        "\"Tiny\"",
        &format!("\"{}\", nme = 1", "x".repeat(3_000_000)),
    );
    folder.write("family.toml", family);
    let ran = run(&["check", folder.arg()]).expect(2);
    assert!(ran.err.len() < 20_000, "{} bytes of message", ran.err.len());
}

#[test]
fn unknown_names_of_the_command_line_come_with_the_nearest() {
    let folder = Folder::tiny("bad-options");
    let dir = folder.arg();
    let says = |args: &[&str], words: &str| {
        let ran = run(args).expect(2);
        assert!(ran.err.contains(words), "{args:?}: {}", ran.err);
    };
    says(&["point", dir, "--board", "coim"], "did you mean `coin`?");
    says(&["point", dir, "--profile", "dy"], "did you mean `day`?");
    says(&["point", dir, "--set", "S2=on"], "did you mean `S1`?");
    says(&["point", dir, "--set", "S1=onn"], "did you mean `on`?");
    says(
        &["point", dir, "--state", "radio=sent"],
        "did you mean `send`?",
    );
    says(&["point", dir, "--reverse", "BT2"], "did you mean `BT1`?");
    says(&["point", dir, "--ambient", "20"], "20 degC");
    says(&["life", dir, "--ambient", "warm"], "warm");
    says(&["life", dir, "--set", "S1=onn"], "did you mean `on`?");
    says(&["check", dir, "--board", "coim"], "did you mean `coin`?");
    says(&["point", dir, "--depth", "1.5"], "0 (fresh) to 1 (empty)");
    says(&["point", dir, "--set", "S1"], "NAME=VALUE");
    let many = [
        "point",
        dir,
        "--set",
        "S2=on",
        "--reverse",
        "BT2",
        "--format",
        "json",
    ];
    let json = run(&many).expect(2).json();
    assert_eq!(problems(&json).len(), 2, "{json}");
}

#[test]
fn a_command_line_that_makes_no_sense_is_bad_input_in_either_format() {
    run(&["chek", "."]).expect(2);
    run(&[]).expect(2);
    let json = run(&["check", ".", "--fail-on", "never", "--format", "json"])
        .expect(2)
        .json();
    assert_eq!(problems(&json)[0]["code"], "usage");
    run(&["--version"]).expect(0);
    run(&["point", "--help"]).expect(0);
}

#[cfg(unix)]
#[test]
fn a_review_that_cannot_be_written_leaves_nothing_behind() {
    let folder = Folder::tiny("bad-out");
    folder.write("taken", "mine");
    let out = format!("{}/taken", folder.arg());
    let ran = run(&["review", folder.arg(), "--out", &out]).expect(2);
    assert!(ran.err.contains("taken"), "{}", ran.err);
    assert_eq!(folder.names(), ["coin.toml", "family.toml", "taken"]);
    // A folder in the place of one of the two files.
    fs::create_dir_all(folder.path().join("out/review.json")).unwrap();
    let out = format!("{}/out", folder.arg());
    run(&["review", folder.arg(), "--out", &out]).expect(2);
    let left: Vec<_> = fs::read_dir(folder.path().join("out")).unwrap().collect();
    assert_eq!(left.len(), 1, "{left:?}");
}

#[cfg(unix)]
#[test]
fn links_into_nowhere_and_pipes_are_refused() {
    let folder = Folder::tiny("bad-links");
    let coin = folder.path().join("coin.toml");
    fs::remove_file(&coin).unwrap();
    std::os::unix::fs::symlink("coin.toml", &coin).unwrap();
    run(&["check", folder.arg()]).expect(2);
    fs::remove_file(&coin).unwrap();
    std::os::unix::fs::symlink("/dev/zero", &coin).unwrap();
    let ran = run(&["check", folder.arg()]).expect(2);
    assert!(ran.err.contains("not an ordinary file"), "{}", ran.err);
}

#[test]
fn a_reader_that_goes_away_is_no_error() {
    let dir = crate::program::example_arg();
    let mut child = command(&["life", &dir, "--board", "coin", "--format", "json"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    drop(child.stdout.take());
    let status = child.wait().expect("it ends");
    let mut said = String::new();
    let mut err = child.stderr.take().expect("its messages");
    err.read_to_string(&mut said).expect("text");
    assert_eq!(status.code(), Some(0), "{said}");
    assert!(said.is_empty(), "{said}");
}
