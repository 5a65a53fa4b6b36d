//! Checks diagnostics against annotations in the text that they are about.
//!
//! A line `#   ^^^ error[code]: words` says that a problem of this code stands under the carets in the
//! line above it and that its sentence contains the words; `#^^^` begins in the first column and
//! `#.^^^` in the second. A line
//! `#! error[code]: words` says so of the file as a whole. `#- name` begins a file; a text that
//! begins no file is a board of a small family. What is not annotated must not be reported.

use lastvolt_input::{Diagnostic, Loaded, Text, read};

/// A family for tests that are about one board.
const FAMILY: &str = r#"
[family]
boards = ["board.toml"]
[connector]
pins = ["VDD", "GND"]
[loads.module]
pins = { plus = "VDD", minus = "GND" }
[loads.module.states]
sleep = "2 uA"
[profiles.season]
"#;

#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Expected {
    file: String,
    line: usize,
    column: usize,
    width: usize,
    code: String,
    words: String,
}

/// Reads an annotated text and compares what is reported with what is annotated.
#[track_caller]
pub(crate) fn check(annotated: &str) -> Loaded {
    let texts = texts(annotated);
    let mut expected: Vec<Expected> = texts.iter().flat_map(annotations).collect();
    let loaded = read(&texts);
    for problem in &loaded.problems {
        let found = expected.iter().position(|e| matches(e, problem, &texts));
        match found {
            Some(at) => {
                expected.remove(at);
            }
            None => panic!("not annotated: {}", shown(problem, &texts)),
        }
    }
    assert!(
        expected.is_empty(),
        "not reported: {expected:#?}\nreported: {:#?}",
        loaded.problems
    );
    assert_eq!(loaded.family.is_some(), loaded.problems.is_empty());
    loaded
}

/// The texts of an annotated text.
pub(crate) fn texts(annotated: &str) -> Vec<Text> {
    let mut texts: Vec<Text> = Vec::new();
    if !annotated.contains("#- ") {
        let text = |name: &str, text: &str| Text {
            name: name.to_owned(),
            text: text.to_owned(),
        };
        return vec![text("family.toml", FAMILY), text("board.toml", annotated)];
    }
    for line in annotated.lines() {
        if let Some(name) = line.strip_prefix("#- ") {
            texts.push(Text {
                name: name.trim().to_owned(),
                text: String::new(),
            });
        } else if let Some(text) = texts.last_mut() {
            text.text.push_str(line);
            text.text.push('\n');
        }
    }
    texts
}

fn annotations(text: &Text) -> Vec<Expected> {
    let mut expected = Vec::new();
    let mut line = 0;
    for (number, content) in text.text.lines().enumerate() {
        let Some((mark, says)) = content
            .split_once("error[")
            .filter(|_| content.starts_with('#'))
        else {
            line = number + 1;
            continue;
        };
        let (code, words) = says.split_once(']').expect("a code");
        let carets = mark.matches('^').count();
        let (line, column, width) = match mark.find('^') {
            None => (1, 1, 0),
            Some(2) if mark.starts_with("#.") => (line, 2, carets),
            Some(1) => (line, 1, carets + 1),
            Some(at) => (line, at + 1, carets),
        };
        expected.push(Expected {
            file: text.name.clone(),
            line,
            column,
            width,
            code: code.to_owned(),
            words: words.trim_start_matches(": ").to_owned(),
        });
    }
    expected
}

fn matches(expected: &Expected, problem: &Diagnostic, texts: &[Text]) -> bool {
    expected.file == problem.file
        && expected.line == problem.line
        && expected.column == problem.column
        && expected.width == width(problem, texts)
        && expected.code == problem.code
        && problem.says.contains(expected.words.trim())
}

fn width(problem: &Diagnostic, texts: &[Text]) -> usize {
    let text = texts.iter().find(|t| t.name == problem.file);
    let under = text.and_then(|t| t.text.get(problem.span.clone()));
    under.map_or(0, |u| u.chars().count())
}

fn shown(problem: &Diagnostic, texts: &[Text]) -> String {
    format!(
        "{}:{}:{} width {} error[{}]: {}",
        problem.file,
        problem.line,
        problem.column,
        width(problem, texts),
        problem.code,
        problem.says
    )
}
