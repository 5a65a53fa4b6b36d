//! One root cause, one finding: which findings go into which, and which never do.

use lastvolt_core::circuit::Situation;
use lastvolt_core::model::Family;
use lastvolt_core::review::{Finding, Severity, merge};
use lastvolt_input::{Text, read};

use crate::program::example;

/// The example family.
fn family() -> Family {
    let text = |name: &str| Text {
        name: name.to_owned(),
        text: std::fs::read_to_string(example().join(name)).expect("a file"),
    };
    let head = text("family.toml");
    let boards = lastvolt_input::board_files(&head.text);
    let texts: Vec<Text> = std::iter::once(head)
        .chain(boards.iter().map(|name| text(name)))
        .collect();
    read(&texts).family.expect("a family")
}

fn finding(rule: &'static str, severity: Severity, board: &str, parts: &[&str]) -> Finding {
    Finding {
        parts: parts.iter().map(|p| (*p).to_owned()).collect(),
        ..Finding::about(rule, severity, board, None)
    }
}

/// What is left, as `rule (also, also)`.
fn left(findings: Vec<Finding>) -> Vec<String> {
    let one = |f: Finding| match f.also.as_slice() {
        [] => f.rule.to_owned(),
        also => format!("{} ({})", f.rule, also.join(", ")),
    };
    merge(&family(), findings).into_iter().map(one).collect()
}

use Severity::{Fix, Note, Stop};

#[test]
fn one_cause_gives_one_finding() {
    let at_once = Finding {
        aspect: "at-once",
        ..finding("brown-out", Stop, "coin", &["BT1"])
    };
    let short = finding("life-short", Fix, "coin", &["BT1"]);
    assert_eq!(
        left(vec![at_once, short.clone()]),
        ["brown-out (life-short)"]
    );
    let later = finding("brown-out", Fix, "coin", &["BT1"]);
    assert_eq!(left(vec![later, short]), ["brown-out", "life-short"]);

    let pairs = [
        ("over-voltage", Stop, "output-error", Fix),
        ("floating-control", Stop, "pull-resistor", Fix),
        ("idle-thief", Fix, "indicator", Note),
        ("deep-discharge", Fix, "weak-cell", Fix),
        ("weak-cell", Stop, "deep-discharge", Fix),
    ];
    for (stays, heavy, yields, light) in pairs {
        let expected = format!("{stays} ({yields})");
        for swapped in [false, true] {
            let mut both = vec![
                finding(stays, heavy, "coin", &["U1", "R1"]),
                finding(yields, light, "coin", &["R1"]),
            ];
            if swapped {
                both.reverse();
            }
            assert_eq!(left(both), [expected.as_str()]);
        }
        let apart = vec![
            finding(stays, heavy, "coin", &["U1"]),
            finding(yields, light, "coin", &["R1"]),
        ];
        assert_eq!(left(apart), [stays, yields], "they share no part");
        let elsewhere = vec![
            finding(stays, heavy, "coin", &["R1"]),
            finding(yields, light, "usb", &["R1"]),
        ];
        assert_eq!(left(elsewhere), [stays, yields], "they share no board");
    }
}

#[test]
fn nothing_goes_into_a_lesser_finding() {
    for (stays, light, yields, heavy) in [
        ("over-voltage", Fix, "output-error", Stop),
        ("idle-thief", Fix, "indicator", Fix),
        ("floating-control", Fix, "pull-resistor", Stop),
    ] {
        let both = vec![
            finding(stays, light, "coin", &["R1"]),
            finding(yields, heavy, "coin", &["R1"]),
        ];
        assert_eq!(left(both), [stays, yields]);
    }
}

#[test]
fn an_accepted_finding_neither_takes_nor_is_taken() {
    for accepted in [0, 1] {
        let mut both = vec![
            finding("floating-control", Stop, "coin", &["Q1"]),
            finding("pull-resistor", Fix, "coin", &["Q1"]),
        ];
        both[accepted].accepted = Some("known".to_owned());
        assert_eq!(left(both).len(), 2);
    }
}

#[test]
fn a_reversed_cell_and_the_charge_it_takes_are_one_where_the_same_cell_is_in_backwards() {
    let family = family();
    let boards = ["coin".to_owned(), "usb".to_owned()];
    let mut situation = Situation::usual(&family, &boards, None);
    let charged = |situation: &Situation| Finding {
        situation: Some(situation.clone()),
        ..finding("cell-charged", Stop, "coin", &["coin/BT1"])
    };
    let reversed = |situation: &Situation| Finding {
        situation: Some(situation.clone()),
        ..finding("reversed-cell", Stop, "coin", &["BT1"])
    };
    let forward = vec![charged(&situation), reversed(&situation)];
    assert_eq!(left(forward), ["cell-charged", "reversed-cell"]);
    situation.reversed.insert("coin/BT1".to_owned());
    let backwards = vec![charged(&situation), reversed(&situation)];
    assert_eq!(left(backwards), ["reversed-cell (cell-charged)"]);
}

#[test]
fn a_converter_is_to_blame_where_it_is_the_only_one_and_the_loads_do_the_same() {
    let family = family();
    let pair = |board: &str, busy: bool| {
        let situation = Situation::usual(&family, &[board.to_owned()], None);
        let mut other = situation.clone();
        if busy {
            for state in other.states.values_mut() {
                state.push('x');
            }
        }
        let limit = finding("converter-limit", Stop, board, &["U1"]);
        let brown = finding("brown-out", Stop, board, &["BT1"]);
        let with = |finding, situation| Finding {
            situation: Some(situation),
            ..finding
        };
        vec![with(limit, situation), with(brown, other)]
    };
    assert_eq!(
        left(pair("one-cell", false)),
        ["converter-limit (brown-out)"]
    );
    assert_eq!(left(pair("one-cell", true)).len(), 2);
    assert_eq!(left(pair("coin", false)).len(), 2, "it has no converter");
}
