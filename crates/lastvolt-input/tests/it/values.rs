//! Values: units, ranges, spreads, and carets inside quotes.

use crate::annotated::check;

#[test]
fn bare_numbers_are_shown_with_a_unit() {
    let loaded = check(
        r#"
[parts.C1]
kind = "capacitor"
value = 10
#       ^^ error[bare-number]: `value` is the bare number 10, a capacitance with its unit is needed
rated = "6.3"
#        ^^^ error[bare-number]: `6.3` has no unit, a voltage is needed
pins = ["VDD", "GND"]
"#,
    );
    let patches: Vec<_> = loaded.problems.iter().map(|p| p.patch.as_deref()).collect();
    assert_eq!(patches, [Some("\"10 uF\""), Some("6.3 V")]);
}

#[test]
fn the_caret_stands_under_the_wrong_unit_alone() {
    check(
        r#"
[parts.R1]
kind = "resistor"
value = "10 kHz"
#           ^^^ error[unit-mismatch]: `kHz` is the unit of a frequency, a resistance is needed
rated = "0.1 w"
#            ^ error[unit-spelling]: `W` is
pins = ["VDD", "GND"]
[parts.R2]
kind = "resistor"
value = '4,7k'
#        ^^^ error[decimal-comma]
rated = """0.1 Q"""
#              ^ error[unknown-unit]
pins = ["VDD", "GND"]
[parts.R3]
kind = "resistor"
value = "4\u006b7 V"
#       ^^^^^^^^^^^^ error[unit-mismatch]
pins = ["VDD", "GND"]
"#,
    );
}

#[test]
fn values_out_of_range_are_refused() {
    check(
        r#"
[parts.R1]
kind = "resistor"
value = "-4.7 kohm"
#       ^^^^^^^^^^^ error[out-of-range]: `value` is -4.7 kohm, 0 ohm or more is allowed
rated = "0 W"
#       ^^^^^ error[out-of-range]: more than 0 W
pins = ["VDD", "GND"]
[parts.C1]
kind = "capacitor"
value = "0 F"
#       ^^^^^ error[out-of-range]
rated = "10 MV"
#           ^^ error[wrong-case]
pins = ["VDD", "GND"]
[parts.F1]
kind = "fuse"
resistance = "90 Mohm"
#                ^^^^ error[wrong-case]: `M` is mega
rated = "1e400 A"
#        ^^^^^^^ error[not-finite]
pins = ["VDD", "GND"]
[parts.R2]
kind = "resistor"
value = "0 ohm"
pins = ["VDD", "GND"]
"#,
    );
}

#[test]
fn spreads_are_ordered_and_complete() {
    check(
        r#"
[parts.R1]
kind = "resistor"
value = { min = "2 kohm", typ = "1 kohm" }
#       ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ error[min-above-max]: `min` of `value` lies above its `typ`
pins = ["VDD", "GND"]
[parts.R2]
kind = "resistor"
value = { mni = "2 kohm", max = "3 kohm" }
#         ^^^ error[unknown-key]: unknown key `mni` in `value`
pins = ["VDD", "GND"]
[parts.R3]
kind = "resistor"
value = {}
#       ^^ error[missing-key]: `value` has neither `typ` nor `min` nor `max`
pins = ["VDD", "GND"]
[parts.R4]
kind = "resistor"
value = { typ = "1 kohm", max = "1 V" }
#                                  ^ error[unit-mismatch]
rated = "0.1 W ±10 %"
#       ^^^^^^^^^^^^^ error[no-spread-here]
pins = ["VDD", "GND"]
"#,
    );
}

#[test]
fn types_that_do_not_fit_are_named() {
    check(
        r#"
title = 5
#       ^ error[wrong-type]: `title` is a number, text in quotes is needed
[parts.R1]
kind = "resistor"
value = ["4k7"]
#       ^^^^^^^ error[wrong-type]: `value` is a list, a resistance in quotes is needed
rated = true
#       ^^^^ error[wrong-type]
pins = ["VDD", "GND"]
[parts.V1]
kind = "supply"
voltage = 1979-05-27
#         ^^^^^^^^^^ error[wrong-type]: `voltage` is a date
sinks = "no"
#       ^^^^ error[wrong-type]: true or false is needed
pins = ["VDD", "GND"]
"#,
    );
}
