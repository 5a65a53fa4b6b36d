//! Models: the family's own win, parts override in place, keys are checked against the kind.

use lastvolt_core::device::{Regulator, Setpoint};
use lastvolt_core::model::{Confidence, Device, Part};

use crate::annotated::check;

fn regulator(part: &Part) -> &Regulator {
    match &part.device {
        Device::Regulator(regulator) => regulator,
        _ => panic!("a regulator"),
    }
}

#[test]
fn parts_override_models_in_place() {
    let loaded = check(
        r#"
[models.step-up]
kind = "boost"
reference = "0.5 V"
quiescent = { in = "1 uA", out = "20 uA" }
loss = { share = "5 %", path = "0.4 ohm" }
source = "a sheet"
confidence = "typical"
[parts.U1]
kind = "boost"
model = "step-up"
quiescent = { out = "5 uA" }
pins = { in = "BAT", out = "VDD", gnd = "GND", fb = "FB" }
[parts.U2]
kind = "boost"
model = "step-up"
output = "3 V"
quiescent = { typ = "2 uA", max = "3 uA" }
efficiency = [["1 V", "1 mA", "80 %"]]
pins = { in = "BAT", out = "VDD", gnd = "GND" }
[parts.U3]
kind = "boost"
output = "3 V"
pins = { in = "BAT", out = "VDD", gnd = "GND" }
"#,
    );
    let family = loaded.family.expect("a family");
    let parts = &family.boards[0].parts;
    let (u1, u2) = (regulator(&parts[0]), regulator(&parts[1]));
    assert_eq!(u1.quiescent_in.si(), 1e-6);
    assert_eq!(u1.quiescent_out.si(), 5e-6);
    assert!(matches!(u2.setpoint, Setpoint::Output(v) if v.si() == 3.0));
    assert_eq!((u2.quiescent_in.si(), u2.quiescent_in.high()), (2e-6, 3e-6));
    assert_eq!(u2.quiescent_out.si(), 0.0);
    assert_eq!(parts[0].origin.source.as_deref(), Some("a sheet"));
    assert_eq!(parts[0].origin.confidence, Confidence::Typical);
    assert_eq!(parts[2].origin.confidence, Confidence::DataSheet);
    assert_eq!(parts[2].origin.model, None);
}

#[test]
fn a_model_of_the_family_wins_over_the_catalog() {
    let loaded = check(
        r#"
[models.CR2032]
kind = "cell"
charge = "100 mAh"
open_circuit = [[0, "3 V"], [1, "2 V"]]
resistance = [[0, "10 ohm"]]
[parts.BT1]
kind = "cell"
model = "CR2032"
pins = { plus = "VDD", minus = "GND" }
"#,
    );
    let family = loaded.family.expect("a family");
    let Device::Cell(cell) = &family.boards[0].parts[0].device else {
        panic!("a cell");
    };
    assert!((cell.model.charge.si() - 360.0).abs() < 1e-9);
    assert!(!family.boards[0].parts[0].origin.class);
}

#[test]
fn keys_of_models_are_checked_even_where_no_part_uses_them() {
    check(
        r#"
[models.thin-film]
kind = "resistor"
rated = "0.1 W"
series = 2
#^^^^^ error[unknown-key]: unknown key `series` in model `thin-film`
[models.nothing]
#       ^^^^^^^ error[missing-key]: `kind` is missing
source = "nowhere"
[models.switch]
kind = "switch"
positions = {}
#^^^^^^^^ error[unknown-key]
[parts.R1]
#      ^^ error[missing-key]: `value` is missing
kind = "resistor"
model = "thin-film"
pins = ["VDD", "GND"]
"#,
    );
}

#[test]
fn an_error_in_a_model_is_reported_once() {
    check(
        r#"
[models.big]
kind = "resistor"
value = "-1 ohm"
#       ^^^^^^^^ error[out-of-range]
[parts.R1]
kind = "resistor"
model = "big"
pins = ["VDD", "GND"]
[parts.R2]
kind = "resistor"
model = "big"
pins = ["VDD", "GND"]
"#,
    );
}

#[test]
fn what_a_part_breaks_in_a_built_in_model_is_reported_at_the_part() {
    check(
        r#"
[parts.BT1]
#      ^^^ error[wrong-length]: `polarisation` has 2 rows for 1 branches
kind = "cell"
model = "LR6"
polarisation = [{ ratio = 1, time = "10 s" }]
pins = ["VDD", "GND"]
"#,
    );
}

#[test]
fn a_model_is_defined_once() {
    check(
        r#"
#- family.toml
[family]
boards = ["board.toml"]
[connector]
pins = ["VDD", "GND"]
[models.one]
kind = "resistor"
#- board.toml
[models.one]
#       ^^^ error[duplicate-name]: the model `one` is defined twice
kind = "resistor"
[parts.R1]
kind = "resistor"
value = "1k"
pins = ["VDD", "GND"]
"#,
    );
}

#[test]
fn cells_may_be_rated_in_place_of_charged() {
    check(
        r#"
[models.cell]
kind = "cell"
rated = { capacity = "225 mAh", load = "15 kohm", end = "2.0 V" }
charge = "230 mAh"
#^^^^^ error[one-of-two]
[models.cell2]
kind = "cell"
rated = { capacity = "225 mAh", load = "15 V", end = "2.0 V" }
#                                          ^ error[unit-mismatch]
[parts.BT1]
kind = "cell"
rated = { capacity = "225 mAh", load = "0.2 mA", end = "2.0 V", ambient = "20 degC" }
open_circuit = [[0, "3.1 V"], [0.9, "2.9 V"], [1, "1.8 V"]]
resistance = [[0, "10 ohm"]]
series = 0
#        ^ error[out-of-range]
pins = { plus = "VDD", minus = "GND" }
"#,
    );
}

#[test]
fn a_rated_cell_holds_more_than_its_rating() {
    let loaded = check(
        r#"
[parts.BT1]
kind = "cell"
rated = { capacity = "225 mAh", load = "15 kohm", end = "2.0 V" }
open_circuit = [[0, "3.1 V"], [0.9, "2.9 V"], [1, "1.8 V"]]
resistance = [[0, "10 ohm"], [1, "50 ohm"]]
wells = { available = 0.6, rate = "1e-5 /s" }
pins = { plus = "VDD", minus = "GND" }
"#,
    );
    let family = loaded.family.expect("a family");
    let Device::Cell(cell) = &family.boards[0].parts[0].device else {
        panic!("a cell");
    };
    let mah = cell.model.charge.si() / 3.6;
    assert!(225.0 < mah && mah < 250.0, "{mah}");
    check(
        r#"
[parts.BT1]
kind = "cell"
rated = { capacity = "225 mAh", load = "15 kohm", end = "3.5 V" }
#       ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ error[impossible-rating]
open_circuit = [[0, "3.1 V"], [1, "1.8 V"]]
resistance = [[0, "10 ohm"]]
pins = { plus = "VDD", minus = "GND" }
"#,
    );
}
