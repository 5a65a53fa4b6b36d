//! What every Rust file must and must not have.

use super::Tree;
use super::code::only_code;

/// Lines from which a file surely holds two concepts.
const MOST_LINES: usize = 700;

/// Files that may be longer, with the reason: tables whose entries all have the same shape.
const MAY_BE_LONG: [(&str, &str); 0] = [];

/// Words that must not stand in code, with what to do instead.
const FORBIDDEN: [(&str, &str); 6] = [
    (
        "#[ignore",
        "assert today's answer, wrong or not, and say so",
    ),
    ("should_panic", "assert the error instead"),
    ("todo!(", "build it or leave it out"),
    ("unimplemented!(", "build it or leave it out"),
    ("#[allow(", "use #[expect(.., reason = ..)]"),
    ("#![allow(", "use #![expect(.., reason = ..)]"),
];

/// Every file opens with the question it answers.
pub(crate) fn opens_with_its_question(tree: &Tree) -> Vec<String> {
    let silent = tree
        .with_ending(".rs")
        .filter(|f| !f.text.starts_with("//! "));
    silent
        .map(|f| format!("{}: does not open with a `//!` line", f.path))
        .collect()
}

/// No work left open, no test switched off.
pub(crate) fn forbidden_words(tree: &Tree) -> Vec<String> {
    let mut found = Vec::new();
    for file in tree.with_ending(".rs") {
        for (at, line) in only_code(&file.text).lines().enumerate() {
            for (word, instead) in FORBIDDEN {
                if line.contains(word) {
                    let place = format!("{}:{}", file.path, at + 1);
                    found.push(format!("{place}: `{word}`: {instead}"));
                }
            }
        }
    }
    found
}

/// No file that has grown beyond one concept.
pub(crate) fn too_long(tree: &Tree) -> Vec<String> {
    let mut found = Vec::new();
    for file in tree.with_ending(".rs") {
        let lines = file.text.lines().count();
        let excused = MAY_BE_LONG.iter().any(|(path, _)| *path == file.path);
        if lines > MOST_LINES && !excused {
            found.push(format!(
                "{}: {lines} lines; is there a concept with a name inside?",
                file.path
            ));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::{MOST_LINES, forbidden_words, opens_with_its_question, too_long};
    use crate::tidy::Tree;

    fn check(rule: fn(&Tree) -> Vec<String>, text: &str) -> usize {
        rule(&Tree::of(&[("a.rs", text)])).len()
    }

    #[test]
    fn a_file_without_a_head_is_found() {
        assert_eq!(check(opens_with_its_question, "use a;\n"), 1);
        assert_eq!(check(opens_with_its_question, "//! What?\nuse a;\n"), 0);
    }

    #[test]
    fn open_work_is_found_in_code_only() {
        for bad in [
            "fn f() { todo!() }",
            "fn f() { unimplemented!(\"later\") }",
            "#[ignore = \"slow\"]",
            "#[should_panic]",
            "#[allow(dead_code)]",
            "#![allow(dead_code)]",
        ] {
            assert_eq!(check(forbidden_words, bad), 1, "{bad}");
        }
        assert_eq!(
            check(forbidden_words, "// todo!()\nlet x = \"todo!()\";"),
            0
        );
    }

    #[test]
    fn a_long_file_is_found() {
        assert_eq!(check(too_long, &"x\n".repeat(MOST_LINES)), 0);
        assert_eq!(check(too_long, &"x\n".repeat(MOST_LINES + 1)), 1);
    }
}
