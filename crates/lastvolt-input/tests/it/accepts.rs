//! `[[accept]]`: what is read, and what is wrong with it.

use lastvolt_core::model::Accept;
use lastvolt_input::{Severity, Text, read};

use crate::annotated::{check, texts};

const FAMILY: &str = r#"
#- family.toml
[family]
boards = ["coin.toml", "usb.toml"]
[connector]
pins = ["VDD", "GND"]
[loads.module]
pins = { plus = "VDD", minus = "GND" }
states = { sleep = "2 uA" }
"#;
const COIN: &str = r#"
#- coin.toml
[parts.R1]
kind = "resistor"
value = "1k"
pins = ["VDD", "GND"]
"#;
const USB: &str = r#"
#- usb.toml
[parts.R2]
kind = "resistor"
value = "1k"
pins = ["VDD", "GND"]
"#;

/// The family with more text at the end of each of its files.
fn with(family: &str, coin: &str) -> String {
    [FAMILY, family, COIN, coin, USB].concat()
}

#[test]
fn accepts_are_read_with_their_place_and_board() {
    let family = "[[accept]]\nrule = \"idle-thief\"\nparts = [\"usb/R2\", \"module\"]\nbecause = \" known \"\n";
    let coin = "[[accept]]\nrule = \"off-leak\"\nbecause = \"short shelf life\"\n";
    let loaded = check(&with(family, coin));
    let accepts = loaded.family.expect("a family").accepts;
    let accept = |rule: &str, board: Option<&str>, parts: &[&str], because: &str| Accept {
        rule: rule.to_owned(),
        board: board.map(str::to_owned),
        parts: parts.iter().map(|p| (*p).to_owned()).collect(),
        because: because.to_owned(),
    };
    let expected = [
        accept("idle-thief", None, &["usb/R2", "module"], "known"),
        accept("off-leak", Some("coin"), &[], "short shelf life"),
    ];
    assert_eq!(accepts, expected);
    let place = loaded.spans.accept(1).expect("a place");
    assert_eq!((place.file.as_str(), place.column), ("coin.toml", 8));
    assert!(loaded.spans.accept(2).is_none());
}

#[test]
fn mistakes_are_refused_where_they_stand() {
    check(&with(
        r#"
[[accept]]
rule = "idle-theif"
#       ^^^^^^^^^^ error[unknown-name]: there is no rule `idle-theif`
parts = ["R1", "R9", "usb/R2", "usb/R1"]
#               ^^ error[unknown-name]: there is no part or load `R9`
#                               ^^^^^^ error[unknown-name]: there is no part or load `usb/R1`
because = "known"
[[accept]]
#^^^^^^^^^ error[missing-key]: `rule` is missing
because = "known"
[[accept]]
#^^^^^^^^^ error[missing-key]: `because` is missing
rule = "off-leak"
[[accept]]
rule = "off-leak"
reason = "known"
#^^^^^ error[unknown-key]: unknown key `reason`
because = "known"
"#,
        r#"
[[accept]]
rule = "off-leak"
parts = ["R2"]
#         ^^ error[unknown-name]: there is no part or load `R2`
because = ""
#         ^^ error[empty-reason]: `because` is empty
[[accept]]
rule = "open-pin"
parts = []
#       ^^ error[wrong-length]: `parts` lists no part
because = "known"
[[accept]]
rule = 3
#      ^ error[wrong-type]: `rule` is a number
because = "  "
#         ^^^^ error[empty-reason]: `because` is empty
"#,
    ));
    let text = "accept = \"off-leak\"\n#        ^^^^^^^^^^ error[wrong-type]: `accept` is text\n[parts.R1]";
    check(&with("", "").replace("[parts.R1]", text));
}

/// The problems of an annotated text as `severity[code] file:line`.
fn told(text: &str) -> (bool, Vec<String>) {
    let texts: Vec<Text> = texts(text);
    let loaded = read(&texts);
    let one = |p: &lastvolt_input::Diagnostic| {
        assert_eq!(p.severity, Severity::Warning, "{}", p.says);
        assert_eq!(p.related.len(), 1);
        format!("{} {}:{}", p.code, p.file, p.line)
    };
    (
        loaded.family.is_some(),
        loaded.problems.iter().map(one).collect(),
    )
}

#[test]
fn accepting_twice_is_a_warning_at_the_second() {
    let accept = |parts: &str, because: &str| {
        format!("[[accept]]\nrule = \"off-leak\"\n{parts}\nbecause = \"{because}\"\n")
    };
    let cases = [
        (accept("", "a"), accept("", "b"), None),
        (
            accept("parts = [\"coin/R1\"]", "a"),
            accept("parts = [\"R1\"]", "a"),
            Some("duplicate-accept"),
        ),
        (
            accept("parts = [\"coin/R1\"]", "a"),
            accept("parts = [\"R1\"]", "b"),
            Some("contradictory-accept"),
        ),
        (
            accept("parts = [\"R1\"]", "a"),
            accept("parts = [\"R1\"]", "b"),
            None,
        ),
        (
            String::new(),
            accept("parts = [\"R1\", \"module\"]", "a")
                + &accept("parts = [\"module\", \"R1\"]", "b"),
            Some("contradictory-accept"),
        ),
        (
            String::new(),
            accept("parts = [\"R1\"]", "a") + &accept("parts = [\"module\"]", "a"),
            None,
        ),
    ];
    for (family, coin, expected) in cases {
        let (read, problems) = told(&with(&family, &coin));
        assert!(read, "a warning does not keep the family from being read");
        let codes: Vec<&str> = problems
            .iter()
            .filter_map(|p| p.split(' ').next())
            .collect();
        assert_eq!(codes, expected.into_iter().collect::<Vec<_>>());
        assert!(problems.iter().all(|p| p.contains(" coin.toml:")));
    }
}
