//! The examples of `docs/guide/commands.md` are what the program says, figures and widths apart: those
//! drift with every catalogue entry, the words and the order do not.

use crate::program::{Folder, command};

/// Edits that the text describes, by the heading they stand under: file, from, to.
const EDITS: [(&str, &str, &str, &str); 2] = [
    (
        "## check",
        "beacon/coin.toml",
        "reversed = \"blocked\"",
        "reversed = \"possible\"",
    ),
    (
        "## When something is wrong",
        "beacon/family.toml",
        "life       = \"12 months\"",
        "life       = 12",
    ),
];

/// Words that only give a figure its unit.
const UNITS: [&str; 26] = [
    "V", "mV", "uV", "A", "mA", "uA", "nA", "pA", "W", "mW", "uW", "nW", "J", "mJ", "kJ", "%",
    "degC", "year", "years", "month", "months", "day", "days", "hours", "min", "ms",
];

/// The words of an answer without figures, units and bars.
fn words(text: &str) -> Vec<String> {
    let figure = |w: &str| {
        let w = w.trim_start_matches(['-', '(', '<']);
        w.is_empty() || w.starts_with(|c: char| c.is_ascii_digit())
    };
    let bare = |w: &str| w.trim_end_matches([',', ';', ':', '.', ')']).to_owned();
    let kept = text.split_whitespace().filter(|w| {
        let word = bare(w);
        !figure(w) && !UNITS.contains(&word.as_str()) && !w.chars().all(|c| c == '#')
    });
    kept.map(str::to_owned).collect()
}

/// One example: heading, arguments and what the guide prints.
struct Example {
    heading: String,
    args: Vec<String>,
    shown: String,
}

fn examples(guide: &str) -> Vec<Example> {
    let mut out: Vec<Example> = Vec::new();
    let (mut heading, mut inside) = (String::new(), false);
    for line in guide.lines() {
        if line.starts_with("## ") {
            line.clone_into(&mut heading);
        }
        if line.starts_with("```") {
            inside = line == "```console";
        } else if let Some(args) = line.strip_prefix("$ lastvolt ").filter(|_| inside) {
            out.push(Example {
                heading: heading.clone(),
                args: args.split(' ').map(str::to_owned).collect(),
                shown: String::new(),
            });
        } else if inside && let Some(example) = out.last_mut() {
            example.shown.push_str(line);
            example.shown.push('\n');
        }
    }
    out
}

#[test]
fn the_guide_shows_what_the_program_says() {
    let guide = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/guide/commands.md");
    let examples = examples(&std::fs::read_to_string(guide).expect("the guide"));
    assert!(6 < examples.len(), "only {} examples", examples.len());
    let folder = Folder::new("guide");
    for example in examples {
        let edit = EDITS.iter().find(|e| e.0 == example.heading);
        let exchange = |from: &str, to: &str, file: &str| {
            let path = folder.path().join(file);
            let text = std::fs::read_to_string(&path).expect("a file of the family");
            assert!(text.contains(from), "no {from} in {file}");
            std::fs::write(&path, text.replace(from, to)).expect("the edit");
        };
        if let Some((_, file, from, to)) = edit {
            exchange(from, to, file);
        }
        let args: Vec<&str> = example.args.iter().map(String::as_str).collect();
        let ran = command(&args)
            .current_dir(folder.path())
            .output()
            .expect("the program");
        if let Some((_, file, from, to)) = edit {
            exchange(to, from, file);
        }
        let bytes = if ran.status.code() == Some(2) {
            ran.stderr
        } else {
            ran.stdout
        };
        let said = String::from_utf8(bytes).expect("UTF-8");
        compare(&args.join(" "), &example.shown, &said);
    }
}

/// Fails unless the words are the same, up to a line of three dots.
fn compare(what: &str, shown: &str, said: &str) {
    let (shown, cut) = match shown.split_once("\n...") {
        Some((shown, _)) => (shown, true),
        None => (shown, false),
    };
    let (expected, mut found) = (words(shown), words(said));
    if cut {
        found.truncate(expected.len());
    }
    assert_eq!(expected, found, "`lastvolt {what}` says\n{said}");
}
