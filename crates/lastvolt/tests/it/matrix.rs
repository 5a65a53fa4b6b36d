//! The matrix of switch positions and reversed cells, on small boards.

use lastvolt_core::circuit::{Matrix, matrix};
use lastvolt_core::model::Family;
use lastvolt_core::progress::Silent;

use crate::rules::{load, texts};

const FAMILY: &str = r#"#--- family.toml
[family]
name   = "Fixture"
boards = ["board.toml"]
[requirement]
ambient = { low = "0 degC", usual = "20 degC", high = "40 degC" }
[connector]
pins = ["VDD", "GND"]
[loads.radio]
pins     = { plus = "VDD", minus = "GND" }
working  = ["1.8 V", "3.6 V"]
survives = "3.9 V"
[loads.radio.states]
sleep = "2 uA"
[models.round]
kind         = "cell"
chemistry    = "alkaline"
charge       = "1200 mAh"
open_circuit = [[0, "1.60 V"], [1, "0.6 V"]]
resistance   = [[0, "160 mohm"], [1, "1 ohm"]]
limits       = { continuous = "250 mA" }
source       = "made up for a test"
#--- board.toml
"#;

const CELLS: &str = r#"[parts.BT1]
kind    = "cell"
model   = "round"
series  = 2
holder  = { contact = "50 mohm", reversed = "HOLDER" }
pins    = { plus = "BAT", minus = "GND" }
"#;

fn solved(board: &str) -> Matrix {
    let (family, _): (Family, _) = load("matrix", &texts(&format!("{FAMILY}{board}")));
    matrix(&family, &["board".to_owned()], None, &Silent).expect("every case is solved")
}

fn switch(action: &str) -> String {
    format!(
        r#"[parts.S1]
kind      = "switch"
pins      = {{ 1 = "BAT", 2 = "VDD", 3 = "GND" }}
positions = {{ on = [["1", "2"]], off = [["2", "3"]] }}
action    = "{action}"
"#
    )
}

#[test]
fn positions_and_reversals_are_combined() {
    let cells = CELLS.replace("HOLDER", "possible");
    let found = solved(&format!("{cells}{}", switch("break-first")));
    // Two positions, each with the string forward, wholly reversed, and one of two cells reversed.
    assert_eq!(found.cases.len(), 2 * 4);
    assert_eq!(found.solved, found.cases.len());
    let on = &found.cases[0];
    assert!(on.situation.reversed.is_empty() && on.powered);
    assert!((on.rail_volts - 3.2).abs() < 1e-3, "{}", on.rail_volts);
    let whole = found
        .cases
        .iter()
        .find(|c| c.situation.reversed.contains("BT1"));
    let whole = whole.unwrap();
    assert!(whole.rail_volts < -2.0 && !whole.powered);
    assert_eq!(whole.stressed[0].part, "radio");
    assert_eq!(whole.stressed[0].quantity, "reverse voltage");
    let one = found
        .cases
        .iter()
        .find(|c| c.situation.reversed.contains("BT1.2"));
    assert!(one.unwrap().rail_volts.abs() < 0.01);
}

#[test]
fn a_blocking_holder_is_not_reversed_and_one_without_contact_is() {
    let blocked = solved(&(CELLS.replace("HOLDER", "blocked") + &switch("break-first")));
    assert_eq!(blocked.cases.len(), 2);
    let open = solved(&(CELLS.replace("HOLDER", "no-contact") + &switch("break-first")));
    assert_eq!(open.cases.len(), 8);
    for case in open
        .cases
        .iter()
        .filter(|c| !c.situation.reversed.is_empty())
    {
        assert!(case.cells[0].1.abs() < 1e-9, "{case:?}");
    }
}

#[test]
fn a_make_first_switch_has_a_state_in_between_that_shorts_the_cells() {
    let cells = CELLS.replace("HOLDER", "blocked");
    let found = solved(&format!("{cells}{}", switch("make-first")));
    assert_eq!(found.cases.len(), 3);
    let between = &found.cases[2];
    assert_eq!(between.situation.positions["S1"], "on+off");
    // 3.2 V through two cells, their contacts and two closed throws.
    assert!(3.0 < between.cells[0].1, "{:?}", between.cells);
    assert_eq!(between.stressed[0].part, "BT1");
    assert!(1.0 < between.stressed[0].share);
}

#[test]
fn a_reversed_cell_of_three_is_charged_by_the_others() {
    let three = CELLS.replace("HOLDER", "possible").replace("= 2", "= 3");
    let load = r#"[parts.R1]
kind  = "resistor"
value = "100"
pins  = ["BAT", "GND"]
[parts.R2]
kind  = "resistor"
value = "0"
pins  = ["BAT", "VDD"]
"#
    .replace("\"100\"", "\"100 ohm\"")
    .replace("\"0\"", "\"0 ohm\"");
    let found = solved(&(three + &load));
    let turned = found
        .cases
        .iter()
        .find(|c| c.situation.reversed.contains("BT1.2"));
    let turned = turned.unwrap();
    assert_eq!(turned.charged, ["BT1.2"]);
    assert!(
        (turned.cells[0].1 - 0.016).abs() < 1e-3,
        "{:?}",
        turned.cells
    );
    // Wholly reversed, the string drives its own current backwards: no cell is charged.
    let whole = found
        .cases
        .iter()
        .find(|c| c.situation.reversed.contains("BT1"));
    assert!(whole.unwrap().charged.is_empty());
}

#[test]
fn a_resistor_is_listed_from_half_of_its_power() {
    let cells = CELLS.replace("HOLDER", "blocked");
    let resistor = |watts: &str| {
        format!(
            "{cells}[parts.R1]\nkind = \"resistor\"\nvalue = \"100 ohm\"\nrated = \"{watts}\"\npins = [\"BAT\", \"GND\"]\n"
        )
    };
    // 3.2 V across 100 ohm are some 0.1 W.
    let near = solved(&resistor("0.25 W"));
    assert!(near.cases[0].stressed.iter().all(|s| s.part != "R1"));
    let over = solved(&resistor("0.125 W"));
    let stress = over.cases[0].stressed.iter().find(|s| s.part == "R1");
    let stress = stress.unwrap();
    assert!((stress.share - 0.1016 / 0.125).abs() < 0.02, "{stress:?}");
}
