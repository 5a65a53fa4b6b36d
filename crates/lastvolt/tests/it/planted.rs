//! Faults planted in copies of the example family: each is found, and the example itself has none.

use lastvolt_core::progress::Silent;
use lastvolt_core::review::{Finding, Severity, check};
use lastvolt_input::{Text, board_files};

use crate::rules::load;

fn example() -> Vec<Text> {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/frost-beacon");
    let text = |name: &str| Text {
        name: name.to_owned(),
        text: std::fs::read_to_string(format!("{root}/{name}")).expect("a text of the example"),
    };
    let family = text("family.toml");
    let boards = board_files(&family.text);
    std::iter::once(family)
        .chain(boards.iter().map(|name| text(name)))
        .collect()
}

/// The example with one board only, for the sake of time; `coin.toml` stands in for the family's.
fn only(file: &str) -> Vec<Text> {
    let board = if file == "family.toml" {
        "coin.toml"
    } else {
        file
    };
    let mut texts = example();
    texts.retain(|t| t.name == "family.toml" || t.name == board);
    let family = &mut texts[0].text;
    let start = family.find("boards = [").expect("a list of boards");
    let end = start + family[start..].find(']').expect("its end") + 1;
    family.replace_range(start..end, &format!("boards = [\"{board}\"]"));
    // What is accepted of stacks is about boards that are gone.
    let accepts = family.find("[[accept]]").expect("accepts");
    let rest = family[accepts..].find("\n# ").expect("what follows them");
    family.replace_range(accepts..=accepts + rest, "");
    texts
}

/// One board of the example with one piece of one text exchanged.
fn planted(file: &str, from: &str, to: &str) -> Vec<Text> {
    let mut texts = only(file);
    let text = texts.iter_mut().find(|t| t.name == file);
    let text = text.expect("the file");
    assert_eq!(text.text.matches(from).count(), 1, "{from} in {file}");
    text.text = text.text.replace(from, to);
    texts
}

/// One board of the example with one part taken off.
fn without(file: &str, part: &str) -> Vec<Text> {
    let mut texts = only(file);
    let text = texts.iter_mut().find(|t| t.name == file);
    let text = text.expect("the file");
    let header = format!("[parts.{part}]");
    let start = text.text.find(&header).expect("the part");
    let rest = &text.text[start + header.len()..];
    let end = rest
        .find("\n[")
        .map_or(text.text.len(), |n| start + header.len() + n + 1);
    text.text.replace_range(start..end, "");
    texts
}

fn findings(texts: &[Text]) -> Vec<Finding> {
    let (family, _) = load("example", texts);
    check(&family, None, &Silent).expect("a review")
}

/// The finding of a rule on a board, at least as heavy as asked.
fn find(texts: &[Text], rule: &str, board: &str, least: Severity) -> Finding {
    let found = findings(texts);
    let hit = found
        .iter()
        .find(|f| f.rule == rule && f.board == board && least <= f.severity);
    let heard: Vec<String> = found.iter().map(Finding::id).collect();
    hit.unwrap_or_else(|| panic!("no {rule} on {board}: {heard:#?}"))
        .clone()
}

#[test]
fn the_example_itself_has_nothing_that_stops_it() {
    let all = findings(&example());
    let stops: Vec<&Finding> = all
        .iter()
        .filter(|f| f.severity == Severity::Stop && f.accepted.is_none())
        .collect();
    assert!(stops.is_empty(), "{stops:#?}");
    for rule in [
        "floating-control",
        "open-pin",
        "output-error",
        "over-voltage",
        "will-not-restart",
    ] {
        let heard = all.iter().any(|f| f.rule == rule);
        assert!(!heard, "{rule} in the example");
    }
}

/// What the example is there to teach: its bypass carries edges and not the burst, in figures.
#[test]
fn the_bypass_of_the_coin_board_carries_a_part_of_the_burst_only() {
    let found = find(&only("coin.toml"), "burst-capacity", "coin", Severity::Note);
    let share = found.measured.expect("a share").value;
    assert!(0.05 < share && share < 0.5, "{share}");
}

#[test]
fn a_missing_pull_down_floats() {
    let found = find(
        &without("two-cell.toml", "R1"),
        "floating-control",
        "two-cell",
        Severity::Stop,
    );
    assert_eq!(found.parts, ["U1"]);
}

#[test]
fn a_pull_down_of_five_times_the_value_is_weak() {
    let texts = planted("two-cell.toml", "4M7 ±5 %", "22M ±5 %");
    let found = find(&texts, "pull-resistor", "two-cell", Severity::Fix);
    assert_eq!(found.parts[0], "R1");
}

#[test]
fn a_transistor_turned_round_lets_a_reversed_cell_through() {
    let texts = planted(
        "coin.toml",
        "{ drain = \"BAT\", gate = \"GND\", source = \"BATP\" }",
        "{ drain = \"BATP\", gate = \"GND\", source = \"BAT\" }",
    );
    find(&texts, "reversed-cell", "coin", Severity::Stop);
}

#[test]
fn without_the_shunt_diode_the_fuse_protects_nothing() {
    find(
        &without("two-cell.toml", "D1"),
        "reversed-cell",
        "two-cell",
        Severity::Stop,
    );
}

#[test]
fn a_third_cell_destroys_the_load_past_the_converter() {
    let texts = planted("two-cell.toml", "series = 2", "series = 3");
    let found = find(&texts, "over-voltage", "two-cell", Severity::Stop);
    let place = &found.situation.expect("a situation").positions["S1"];
    assert_eq!(place, "direct");
}

#[test]
fn a_throw_that_nobody_connected_is_open() {
    let texts = planted("coin.toml", ", 3 = \"BLEED\"", "");
    let found = findings(&texts);
    let open = found
        .iter()
        .find(|f| f.id() == "open-pin/coin/S1.3/unconnected");
    let severity = open.map(|f| f.severity);
    assert_eq!(severity, Some(Severity::Fix), "{found:#?}");
}

#[test]
fn a_wrong_divider_is_an_output_error() {
    let texts = planted("one-cell.toml", "1M82 ±1 %", "3M3 ±1 %");
    let found = find(&texts, "output-error", "one-cell", Severity::Stop);
    assert_eq!(found.parts[0], "R1");
}

#[test]
fn a_load_that_needs_more_than_the_cell_gives_browns_out() {
    let texts = planted(
        "family.toml",
        "working  = [\"1.9 V\"",
        "working  = [\"3.3 V\"",
    );
    find(&texts, "brown-out", "coin", Severity::Stop);
}

#[test]
fn a_lamp_that_is_always_lit_is_a_thief() {
    let texts = planted(
        "coin.toml",
        "positions = { removed = []",
        "usual     = \"fitted\"\npositions = { removed = []",
    );
    let found = find(&texts, "idle-thief", "coin", Severity::Fix);
    assert!(found.says.contains("indicator"), "{}", found.says);
}

#[test]
fn a_bleeder_before_the_switch_drains_the_cell_when_off() {
    let texts = planted(
        "coin.toml",
        "pins  = [\"BLEED\", \"GND\"]",
        "pins  = [\"BATP\", \"GND\"]",
    );
    find(&texts, "off-leak", "coin", Severity::Fix);
}

#[test]
fn a_capacitor_rated_for_less_than_the_cell_gives_is_found() {
    let texts = planted(
        "coin.toml",
        "rated             = \"6.3 V\"",
        "rated             = \"2.5 V\"",
    );
    let found = find(&texts, "capacitor-rating", "coin", Severity::Stop);
    assert_eq!(found.parts, ["C1"]);
}

#[test]
fn a_transistor_that_is_not_specified_for_tired_cells_is_named() {
    let texts = planted(
        "coin.toml",
        "model = \"p-fet-low-threshold\"",
        "model = \"p-fet-low-threshold\"\non_resistance = [[\"-2.5 V\", \"71 mohm\"], [\"-4.5 V\", \"52 mohm\"]]",
    );
    let found = find(&texts, "protection-drop", "coin", Severity::Fix);
    assert_eq!(found.aspect, "not-guaranteed-here");
}

#[test]
fn a_converter_that_starts_too_high_does_not_restart() {
    let texts = planted(
        "one-cell.toml",
        "model = \"boost-ultra-low-quiescent\"",
        "model = \"boost-ultra-low-quiescent\"\nstart = [[\"1 mA\", \"1.25 V\"], [\"20 mA\", \"1.3 V\"]]",
    );
    let found = find(&texts, "will-not-restart", "one-cell", Severity::Note);
    assert_eq!(found.parts, ["U1"]);
}

#[test]
fn a_longer_promise_is_not_kept() {
    let texts = planted("family.toml", "= \"24 months\"", "= \"60 months\"");
    let found = findings(&texts);
    let short = ["life-short", "brown-out"];
    let hit = found
        .iter()
        .any(|f| f.board == "coin" && short.contains(&f.rule));
    assert!(hit, "{found:#?}");
}
