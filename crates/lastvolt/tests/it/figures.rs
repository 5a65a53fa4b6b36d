//! What findings of the fixtures measure and propose, beyond their mark.

use lastvolt_core::circuit::Circuit;
use lastvolt_core::progress::Silent;
use lastvolt_core::review::situations::{Axes, Grid};
use lastvolt_core::review::{Finding, check};

use crate::rules::{load, suite, texts};

/// What a rule says about a fixture.
fn told(fixture: &str, rule: &str) -> Vec<Finding> {
    let suite = suite();
    let found = suite.iter().find(|(name, _)| name == fixture);
    let (name, text) = found.expect("a fixture");
    let (family, _) = load(name, &texts(text));
    let mut findings = check(&family, None, &Silent).expect("findings");
    findings.retain(|f| f.rule == rule);
    findings
}

fn one(fixture: &str, rule: &str) -> Finding {
    let mut all = told(fixture, rule);
    assert_eq!(all.len(), 1, "{fixture}: {all:#?}");
    all.remove(0)
}

#[test]
fn over_voltage_shows_the_worst_position() {
    let found = one("over-voltage-worst-hit", "over-voltage");
    let volts = found.measured.expect("a figure").value;
    assert!((8.9..9.1).contains(&volts), "{volts}");
    let position = found.situation.map(|s| s.positions["S1"].clone());
    assert_eq!(position.as_deref(), Some("second"));
}

/// Each load above what it survives is named, and what two boards do as they are meant to be used is
/// hidden neither by another position nor by what one of them accepts about itself.
#[test]
fn over_voltage_of_a_pair_is_told_beside_that_of_one_board() {
    let found = told("over-voltage-stack-usual-hit", "over-voltage");
    let of = |pair: bool| {
        let boards = |f: &&Finding| f.situation.as_ref().map_or(0, |s| s.boards.len());
        let found = found.iter().filter(move |f| (1 < boards(f)) == pair);
        found.collect::<Vec<_>>()
    };
    let alone = of(false);
    assert_eq!(alone.len(), 1, "{alone:#?}");
    assert!(alone[0].accepted.is_some(), "{alone:#?}");
    for load in ["sensor gets", "probe gets"] {
        assert!(alone[0].says.contains(load), "{}", alone[0].says);
    }
    for load in ["sensor", "probe"] {
        let mut pairs = of(true).into_iter();
        let named = pairs.find(|f| f.says.starts_with(&format!("{load} gets")));
        let named = named.expect("a finding about the pair");
        assert!(named.accepted.is_none(), "{named:#?}");
        let positions = named.situation.as_ref().map(|s| &s.positions);
        let usual = positions.is_some_and(|p| p["sensor/S1"] == "run");
        assert!(usual || named.says.contains("in the usual positions"));
    }
}

#[test]
fn a_clamp_is_judged_at_its_lowest_breakdown_too() {
    let leak = one("off-leak-zener-hit", "off-leak");
    assert!(leak.measured.is_some_and(|m| 1e-4 < m.value), "{leak:#?}");
    let warm = one("thermal-zener-spread-hit", "thermal");
    assert!(warm.measured.is_some_and(|m| 0.115 < m.value), "{warm:#?}");
}

#[test]
fn a_string_of_two_parts_is_judged_as_one_part_of_two() {
    for (one_part, two_parts, rule) in [
        (
            "deep-discharge-hit",
            "deep-discharge-parts-hit",
            "deep-discharge",
        ),
        ("weak-cell-two-hit", "weak-cell-parts-hit", "weak-cell"),
    ] {
        let (whole, split) = (one(one_part, rule), one(two_parts, rule));
        assert_eq!(split.parts, ["BT1", "BT2"]);
        assert_eq!(split.severity, whole.severity);
        assert_eq!(split.remedy.replace("BT1 and BT2", "BT1"), whole.remedy);
    }
}

#[test]
fn storage_longer_than_the_cell_keeps_promises_nothing() {
    let found = one("shelf-limit-stored-hit", "shelf-limit");
    assert!(!found.remedy.contains(" 0 s"), "{}", found.remedy);
    assert!(found.remedy.starts_with("store"), "{}", found.remedy);
}

#[test]
fn the_recovery_of_a_hiccup_is_that_of_the_cell() {
    let found = one("hiccup-early-hit", "hiccup");
    assert!(found.remedy.contains("at BT1"), "{}", found.remedy);
}

/// A cell that stands by, and gets what leaks back, has no life that leakage could shorten.
#[test]
fn leakage_takes_nothing_from_a_cell_that_stands_by() {
    let leaks = told("capacitor-rating-standby-near-miss", "capacitor-rating");
    let leaks = leaks.into_iter().filter(|f| f.aspect == "leakage");
    assert_eq!(leaks.count(), 0);
}

/// Load switches, ideal diodes and detectors may come to another state when switched on than running.
#[test]
fn load_switches_and_ideal_diodes_are_looked_at_when_switched_on_too() {
    let suite = suite();
    for (fixture, histories) in [
        ("thermal-ptc-hit", 1),
        ("thermal-load-switch-hit", 2),
        ("thermal-ideal-diode-hit", 2),
    ] {
        let found = suite.iter().find(|(name, _)| name == fixture);
        let (name, text) = found.expect("a fixture");
        let (family, _) = load(name, &texts(text));
        let circuit = Circuit::new(&family, &["board".to_owned()]).expect("the board");
        let axes = Axes::new(&circuit, family.profiles.first(), Grid::usual(&circuit));
        // The supply in and out, two joint states, three ambients.
        assert_eq!(axes.covered(), 2 * 2 * 3 * histories, "{fixture}");
    }
}
