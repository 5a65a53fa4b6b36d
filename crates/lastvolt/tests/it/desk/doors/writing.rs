//! What writes stays inside the family: links and paths that lead out of it are refused, and of two that
//! write at once one is told.

use std::fs;
use std::path::Path;

use serde_json::{Value, json};

use super::super::http::{Answer, between, get, post, token};
use super::super::served::Desk;
use super::is_well;
use crate::program::{COIN, FAMILY, Folder};

/// A board with a resistor that can be changed.
fn board() -> String {
    format!(
        "{COIN}\n# What is here stays here.\n[parts.R1]\nkind = \"resistor\"\nvalue = \"10k\"   # pulls\npins = [\"VDD\", \"GND\"]\n"
    )
}

/// The digest of the file behind a form, as the form has it.
fn base(port: u16, page: &str) -> String {
    let panel = get(port, page).text();
    between(&panel, "data-base=\"", "\"")
        .unwrap_or_default()
        .to_owned()
}

fn ask(file: &str, base: &str, to: &str) -> String {
    let change = json!({"id": "edit-0", "path": ["parts", "R1", "value"], "to": to});
    json!({"file": file, "base": base, "boards": [], "profile": null, "changes": [change]})
        .to_string()
}

fn says(answer: &Answer) -> String {
    let said: Value = serde_json::from_slice(&answer.body).unwrap_or_default();
    said["says"].as_str().unwrap_or_default().to_owned()
}

#[test]
fn a_value_is_written_whole_and_alone() {
    let folder = Folder::tiny("writing-alone");
    folder.write("coin.toml", board());
    let desk = Desk::open(folder.path());
    let word = token(desk.port);
    let base = base(desk.port, "/panel/board/coin?select=part:R1");
    assert!(!base.is_empty());
    for path in ["/edit/try", "/edit/preview"] {
        let answer = post(desk.port, path, &word, &ask("coin.toml", &base, "22k"));
        assert_eq!(answer.status, 200, "{path}: {}", answer.text());
    }
    assert_eq!(
        fs::read_to_string(folder.path().join("coin.toml")).expect("a file"),
        board(),
        "a try writes nothing"
    );
    let saved = post(
        desk.port,
        "/edit/save",
        &word,
        &ask("coin.toml", &base, "22k"),
    );
    assert_eq!(saved.status, 200, "{}", saved.text());
    let after = board().replace("\"10k\"", "\"22k\"");
    assert_eq!(
        fs::read_to_string(folder.path().join("coin.toml")).expect("a file"),
        after
    );
    assert_eq!(
        folder.names(),
        ["coin.toml", "family.toml"],
        "nothing is left beside it"
    );
    // The same once more rests on a file that is no more.
    let late = post(
        desk.port,
        "/edit/save",
        &word,
        &ask("coin.toml", &base, "33k"),
    );
    assert_eq!(late.status, 409);
    assert_eq!(
        fs::read_to_string(folder.path().join("coin.toml")).expect("a file"),
        after
    );
    for wrong in [
        "10 kVolts",
        "\"",
        "22k\"\npins = []\n#",
        "[1, 2",
        "\u{0}",
        "",
    ] {
        let base = super::writing::base(desk.port, "/panel/board/coin?select=part:R1");
        let answer = post(
            desk.port,
            "/edit/save",
            &word,
            &ask("coin.toml", &base, wrong),
        );
        assert_eq!(answer.status, 422, "{wrong:?}: {}", answer.text());
        assert_eq!(
            fs::read_to_string(folder.path().join("coin.toml")).expect("a file"),
            after,
            "{wrong:?}"
        );
    }
}

#[test]
fn only_files_of_the_family_are_written() {
    let around = Folder::new("writing-outside");
    let inside = around.path().join("family");
    fs::create_dir_all(inside.join("deep")).expect("folders");
    let boards = "boards = [\"coin.toml\", \"deep/own.toml\", \"link.toml\"]";
    fs::write(
        inside.join("family.toml"),
        FAMILY.replace("boards = [\"coin.toml\"]", boards),
    )
    .expect("written");
    let read = |path: &Path| fs::read_to_string(path).expect("a file");
    for name in [
        "family/coin.toml",
        "family/deep/own.toml",
        "beside.toml",
        "linked.toml",
        "notes.toml",
        "family/notes.toml",
    ] {
        around.write(name, board());
    }
    std::os::unix::fs::symlink("../linked.toml", inside.join("link.toml")).expect("a link");
    let mut desk = Desk::open(&inside);
    let word = token(desk.port);
    // What the command reads, the desk reads; what lies behind a link may be looked at.
    for name in ["coin", "own", "link"] {
        assert_eq!(
            get(desk.port, &format!("/board/{name}")).status,
            200,
            "{name}"
        );
    }
    // All boards have one text, and so one digest.
    let base = base(desk.port, "/panel/board/coin?select=part:R1");
    let absolute = inside.join("coin.toml");
    for file in [
        "link.toml",
        "../beside.toml",
        "../notes.toml",
        "notes.toml",
        "./coin.toml",
        "deep/../coin.toml",
        "../family/coin.toml",
        "..",
        ".",
        "",
        "/etc/passwd",
        "coin.toml/",
        "coin.toml\u{0}",
        "deep",
        "..\\beside.toml",
        absolute.to_str().expect("UTF-8"),
    ] {
        let answer = post(desk.port, "/edit/save", &word, &ask(file, &base, "22k"));
        assert_eq!(answer.status, 403, "{file:?}: {}", answer.text());
        assert!(!says(&answer).is_empty(), "{file:?}");
    }
    for name in [
        "family/coin.toml",
        "family/deep/own.toml",
        "beside.toml",
        "linked.toml",
        "notes.toml",
        "family/notes.toml",
    ] {
        assert_eq!(read(&around.path().join(name)), board(), "{name}");
    }
    // Deeper inside is inside.
    let saved = post(
        desk.port,
        "/edit/save",
        &word,
        &ask("deep/own.toml", &base, "22k"),
    );
    assert_eq!(saved.status, 200, "{}", saved.text());
    assert_eq!(
        read(&inside.join("deep/own.toml")),
        board().replace("\"10k\"", "\"22k\"")
    );
    is_well(&mut desk, "writing");
}

/// Many write the same value at once: one wins, the others are told, and the file is whole.
#[test]
fn of_many_that_write_at_once_one_wins() {
    let folder = Folder::tiny("writing-race");
    folder.write("coin.toml", board());
    let desk = Desk::open(folder.path());
    let word = token(desk.port);
    let base = base(desk.port, "/panel/board/coin?select=part:R1");
    let values: Vec<String> = (11..27).map(|n| format!("{n}k")).collect();
    let answers: Vec<u16> = std::thread::scope(|scope| {
        let writers: Vec<_> = values
            .iter()
            .map(|value| {
                scope.spawn(|| {
                    post(
                        desk.port,
                        "/edit/save",
                        &word,
                        &ask("coin.toml", &base, value),
                    )
                    .status
                })
            })
            .collect();
        writers
            .into_iter()
            .map(|w| w.join().expect("an answer"))
            .collect()
    });
    let won: Vec<&String> = values
        .iter()
        .zip(&answers)
        .filter(|(_, s)| **s == 200)
        .map(|(v, _)| v)
        .collect();
    assert_eq!(won.len(), 1, "{answers:?}");
    assert!(
        answers.iter().all(|s| matches!(s, 200 | 409)),
        "{answers:?}"
    );
    let text = fs::read_to_string(folder.path().join("coin.toml")).expect("a file");
    assert_eq!(text, board().replace("\"10k\"", &format!("\"{}\"", won[0])));
}

#[test]
fn bodies_that_make_no_sense_are_refused() {
    let folder = Folder::tiny("writing-nonsense");
    folder.write("coin.toml", board());
    let mut desk = Desk::open(folder.path());
    let word = token(desk.port);
    let base = base(desk.port, "/panel/board/coin?select=part:R1");
    let deep = format!("{}{}", "[".repeat(100_000), "]".repeat(100_000));
    let long = json!({"id": "e", "path": vec!["a"; 5000], "to": "1"});
    let many: Vec<Value> = (0..3000)
        .map(|_| json!({"id": "e", "path": ["parts", "R1", "value"], "to": "1k"}))
        .collect();
    let body =
        |changes: Value| json!({"file": "coin.toml", "base": base, "changes": changes}).to_string();
    let cases = [
        String::new(),
        "no json".to_owned(),
        "null".to_owned(),
        "[]".to_owned(),
        "{}".to_owned(),
        deep,
        body(json!([{"id": "e", "path": ["parts"], "to": "1"}])),
        body(json!([{"id": "e", "path": [], "to": "1"}])),
        body(json!([{"id": "e", "path": ["parts", "R1", 99_999_999], "to": "1"}])),
        body(json!([{"id": "e", "path": ["parts", -1], "to": "1"}])),
        body(json!([{"id": "e", "path": ["parts", "R1", "colour"], "to": "blue"}])),
        body(json!([{"id": "e", "path": ["parts", "R1", "kind"], "to": null}])),
        body(json!([long])),
        body(json!(many)),
        body(json!([{"id": "e", "path": ["parts", "R1", "value"], "to": "9".repeat(500_000)}])),
    ];
    for path in [
        "/edit/try",
        "/edit/preview",
        "/edit/nearby",
        "/edit/save",
        "/edit/undo",
        "/edit/redo",
    ] {
        for case in &cases {
            let answer = post(desk.port, path, &word, case);
            let start: String = case.chars().take(60).collect();
            assert!(answer.status < 500, "{path} {start}: {}", answer.text());
        }
    }
    assert_eq!(
        fs::read_to_string(folder.path().join("coin.toml")).expect("a file"),
        board()
    );
    is_well(&mut desk, "nonsense");
}
