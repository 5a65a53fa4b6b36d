//! Names: unknown keys, kinds, models, nets and positions, with the nearest spelling.

use crate::annotated::check;

#[test]
fn misspelt_keys_name_the_nearest_and_hide_the_missing_one() {
    let loaded = check(
        r#"
[parts.R1]
kind = "resistor"
vlaue = "4k7"
#^^^^ error[unknown-key]: unknown key `vlaue` in resistor `R1`
pins = ["VDD", "GND"]
[parts.R2]
kind = "resistor"
value = "4k7"
colour = "brown"
#^^^^^ error[unknown-key]
pins = ["VDD", "GND"]
[parts.R3]
#      ^^ error[missing-key]: `value` is missing in resistor `R3`
kind = "resistor"
pins = ["VDD", "GND"]
"#,
    );
    assert_eq!(loaded.problems[0].patch.as_deref(), Some("value"));
    assert_eq!(loaded.problems[1].patch, None);
    assert!(
        loaded.problems[1]
            .proposal
            .as_deref()
            .is_some_and(|p| p.contains("value"))
    );
}

#[test]
fn kinds_are_known_or_not_covered() {
    check(
        r#"
[parts.R1]
kind = "resistro"
#       ^^^^^^^^ error[unknown-name]: there is no kind of part `resistro`
pins = ["VDD", "GND"]
[parts.U1]
kind = "charger"
#       ^^^^^^^ error[not-covered]: chargers and solar sources are left out
pins = ["VDD", "GND"]
[parts.U2]
#      ^^ error[missing-key]: `kind` is missing
pins = ["VDD", "GND"]
[parts.U3]
knd = "resistor"
#^^ error[unknown-key]
pins = ["VDD", "GND"]
"#,
    );
}

#[test]
fn models_are_known_and_of_the_right_kind() {
    check(
        r#"
[parts.BT1]
kind = "cell"
model = "CR2023"
#        ^^^^^^ error[unknown-name]: there is no model `CR2023`
pins = ["VDD", "GND"]
[parts.Q1]
kind = "p-fet"
model = "CR2032"
#        ^^^^^^ error[model-of-another-kind]: model `CR2032` is of the kind `cell`
pins = { drain = "A", source = "VDD", gate = "GND" }
"#,
    );
}

#[test]
fn switches_name_their_own_pins_positions_and_nets() {
    check(
        r#"
[parts.S1]
kind = "switch"
pins = { common = "BAT", left = "VDD" }
open = ["right"]
positions = { on = [["common", "left"]], off = [["common", "rihgt"]] }
#                                                           ^^^^^ error[unknown-name]: there is no pin `rihgt`
[parts.S2]
kind = "switch"
pins = { 1 = "BAT", 2 = "VDD" }
positions = { on = [["1", "2"]], off = [] }
usual = "onn"
#        ^^^ error[unknown-name]: there is no position `onn`
[parts.S3]
kind = "switch"
pins = { 1 = "BAT", 2 = "VDD" }
positions = { on = [["1", "2"]], off = [] }
means = { no = ["VDD"], off = ["VDDD"] }
#         ^^ error[unknown-name]: there is no position `no`
[parts.S4]
kind = "switch"
pins = { 1 = "BAT", 2 = "VDD" }
positions = { on = [["1", "2"]], off = [["1"], ["2", "2"]] }
#                                       ^^^^^ error[wrong-length]
#                                                    ^^^ error[self-joined]
action = "brake-first"
#         ^^^^^^^^^^^ error[unknown-word]
[parts.S5]
kind = "switch"
pins = { 1 = "BAT", 2 = "VDD" }
positions = {}
#           ^^ error[wrong-length]
[parts.S6]
kind = "switch"
pins = { 1 = "BAT", 2 = "VDD" }
positions = { on = [["1", "2"]], off = [] }
means = { on = ["VDDD"] }
#                ^^^^ error[unknown-name]: there is no net `VDDD`
"#,
    );
}

#[test]
fn names_that_cannot_be_referred_to_are_refused() {
    check(
        r#"
[parts."BT1.1"]
#      ^^^^^^^ error[bad-name]
kind = "resistor"
value = "1k"
pins = ["VDD", "a/b"]
#              ^^^^^ error[bad-name]: the name `a/b` of a net
[parts.""]
#      ^^ error[bad-name]: is empty
kind = "resistor"
value = "1k"
pins = ["VDD", "GND"]
"#,
    );
}

#[test]
fn designators_stand_once() {
    let loaded = check(
        r#"
[parts.R1]
kind = "resistor"
value = "1k"
pins = ["VDD", "GND"]
[parts.R1]
#      ^^ error[duplicate-key]: the name `R1` is used a second time
kind = "resistor"
value = "1k"
pins = ["VDD", "GND"]
"#,
    );
    assert_eq!(loaded.problems[0].related[0].place.line, 2);
}
