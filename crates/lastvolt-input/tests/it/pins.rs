//! Pins: those a kind has, those it must have, and those that follow from the model.

use crate::annotated::check;

#[test]
fn pins_must_be_those_of_the_kind() {
    check(
        r#"
[parts.Q1]
kind = "p-fet"
model = "p-fet-low-threshold"
pins = { drian = "BAT", source = "VDD", gate = "GND" }
#        ^^^^^ error[unknown-pin]: a p-fet has no pin `drian`
[parts.Q2]
kind = "p-fet"
model = "p-fet-low-threshold"
pins = { drain = "BAT", source = "VDD" }
#      ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ error[missing-pin]: lacks the pin gate
[parts.Q3]
kind = "p-fet"
model = "p-fet-low-threshold"
pins = ["BAT", "VDD", "GND"]
#      ^^^^^^^^^^^^^^^^^^^^^ error[wrong-type]: a table of pin = net
[parts.R1]
kind = "resistor"
value = "1k"
pins = ["VDD"]
#      ^^^^^^^ error[wrong-length]: `pins` lists 1 nets
[parts.R2]
#      ^^ error[missing-key]: `pins` is missing in resistor `R2`
kind = "resistor"
value = "1k"
[parts.R3]
kind = "resistor"
value = "1k"
pins = { 1 = "VDD", 2 = "GND" }
open = ["2"]
#       ^^^ error[open-and-connected]
[parts.C1]
kind = "capacitor"
value = "1 uF"
pins = { plus = "VDD", anode = "GND" }
#                      ^^^^^ error[unknown-pin]
#      ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ error[missing-pin]: lacks the pin minus
[parts.TP1]
kind = "test-point"
pins = ["VDD", "GND"]
#      ^^^^^^^^^^^^^^ error[wrong-length]
"#,
    );
}

#[test]
fn pins_may_be_open_where_that_is_said() {
    let loaded = check(
        r#"
[parts.C1]
kind = "capacitor"
value = "1 uF"
pins = { plus = "VDD", minus = "GND" }
[parts.R1]
kind = "resistor"
value = "1k"
pins = { 1 = "VDD" }
open = ["2"]
[parts.TP1]
kind = "test-point"
pins = ["VDD"]
"#,
    );
    let family = loaded.family.expect("a family");
    let r1 = family.boards[0].part("R1").expect("R1");
    assert_eq!(r1.net("1"), Some(0));
    assert_eq!(r1.net("2"), None);
    assert!(r1.pins[1].declared_open && !r1.pins[0].declared_open);
}

#[test]
fn pins_of_regulators_follow_their_models() {
    check(
        r#"
[models.adjustable]
kind = "boost"
reference = "0.5 V"
enable = { low = "0.2 V", high = "0.7 V" }
[models.fixed]
kind = "buck-boost"
output = "3 V"
[parts.U1]
kind = "boost"
model = "adjustable"
pins = { in = "BAT", out = "VDD", gnd = "GND", enable = "BAT" }
#      ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ error[missing-pin]: needs the pin `fb`
[parts.U2]
kind = "boost"
model = "adjustable"
pins = { in = "BAT", out = "VDD", gnd = "GND", fb = "FB" }
#      ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ error[missing-pin]: needs the pin `enable`
[parts.U3]
kind = "buck-boost"
model = "fixed"
pins = { in = "BAT", out = "VDD", gnd = "GND", fb = "FB" }
#      ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ error[unknown-pin]: no pin `fb`
[parts.U4]
kind = "buck-boost"
model = "fixed"
pins = { in = "BAT", out = "VDD", gnd = "GND", sw1 = "L1" }
#      ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ error[missing-pin]: both or neither
[parts.U5]
kind = "buck-boost"
model = "fixed"
pins = { in = "BAT", out = "VDD", gnd = "GND", enable = "EN" }
#      ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ error[unknown-pin]: no `enable` thresholds
[parts.U6]
kind = "boost"
model = "adjustable"
pins = { in = "BAT", out = "VDD", gnd = "GND", fb = "FB" }
open = ["enable"]
"#,
    );
}

#[test]
fn a_jumper_with_two_pins_needs_no_positions() {
    let loaded = check(
        r#"
[parts.JP1]
kind = "jumper"
pins = { 1 = "VDD", 2 = "LED" }
usual = "removed"
"#,
    );
    let family = loaded.family.expect("a family");
    let part = family.boards[0].part("JP1").expect("JP1");
    let lastvolt_core::model::Device::Switch(switch) = &part.device else {
        panic!("a jumper is a switch");
    };
    assert_eq!(switch.position("fitted"), Some(0));
    assert_eq!(switch.usual, 1);
}
