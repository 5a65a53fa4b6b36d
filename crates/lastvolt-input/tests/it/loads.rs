//! Loads: states and their laws, reset, drives, and the nets they sit on.

use lastvolt_core::model::{Law, Level};

use crate::annotated::check;

#[test]
fn loads_have_laws_ranges_and_boot_sequences() {
    let loaded = check(
        r#"
#- family.toml
[family]
boards = ["board.toml"]
[connector]
pins = ["VDD", "GND"]
[loads.module]
pins = { plus = "VDD", minus = "GND" }
working = ["1.8 V", "3.6 V"]
survives = "3.9 V"
reset = { below = "1.7 V", release = "1.85 V", boot = [{ for = "30 ms", current = "6 mA" }] }
[loads.module.states]
off = "0 A"
sleep = { typ = "2 uA", max = "4 uA" }
transmit = { current = "11.5 mA", working = ["2.0 V", "3.6 V"] }
heat = { ohm = "330 ohm" }
lamp = { watt = "20 mW" }
[loads.module.drives]
EN = { high = ["transmit"], low = ["sleep", "off"], open = ["boot"] }
#- board.toml
[parts.R1]
kind = "resistor"
value = "1 Mohm"
pins = ["EN", "GND"]
"#,
    );
    let family = loaded.family.expect("a family");
    let module = &family.loads[0];
    let names: Vec<&str> = module.states.iter().map(|s| s.name.as_str()).collect();
    assert_eq!(names, ["off", "sleep", "transmit", "heat", "lamp"]);
    assert!(matches!(module.states[1].law, Law::Current(c) if c.high() == 4e-6));
    assert!(matches!(module.states[3].law, Law::Resistance(r) if r.si() == 330.0));
    assert!(matches!(module.states[4].law, Law::Power(p) if p.si() == 0.02));
    assert_eq!(module.working_in(2).map(|w| w.from.as_volts()), Some(2.0));
    let levels = [
        Level::Low,
        Level::Low,
        Level::High,
        Level::Open,
        Level::Open,
    ];
    assert_eq!(module.drives[0].levels, levels);
    assert_eq!(module.drives[0].boot, Level::Open);
    assert_eq!(family.boards[0].nets, ["EN", "GND", "VDD"]);
}

#[test]
fn wrong_loads_are_explained() {
    let loaded = check(
        r#"
#- family.toml
[family]
boards = ["board.toml"]
[connector]
pins = ["VDD", "GND"]
[loads.module]
pins = { plus = "VDD", minus = "GND" }
working = ["3.6 V", "1.8 V"]
#         ^^^^^^^^^^^^^^^^^^ error[min-above-max]
reset = { below = "1.7 V", release = "1.5 V" }
#                                    ^^^^^^^ error[min-above-max]
[loads.module.states]
sleep = 2e-6
#       ^^^^ error[bare-number]
heat = "330 ohm"
#      ^^^^^^^^^ error[unit-mismatch]: a plain value of a state is a current
both = { ohm = "1k", watt = "1 W" }
#                    ^^^^ error[one-of-two]
none = { working = ["1 V", "2 V"] }
#      ^^^^^^^^^^^^^^^^^^^^^^^^^^^^ error[missing-key]
minus = "-1 mA"
#       ^^^^^^^ error[out-of-range]
boot = "1 mA"
#^^^ error[bad-name]
[loads.siren]
#      ^^^^^ error[missing-key]: `states` is missing
pins = { plus = "VDD" }
#      ^^^^^^^^^^^^^^^^ error[missing-key]: `minus` is missing
[loads.lamp]
pins = { plus = "VDD", minus = "VDD" }
#      ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ error[one-net]
states = { on = "1 mA" }
drives = { EN = { high = ["of"], low = ["on", "on"] } }
#                          ^^ error[unknown-name]: there is no state `of`
#                                             ^^^^ error[duplicate-name]
#- board.toml
[parts.R1]
kind = "resistor"
value = "1k"
pins = ["VDD", "GND"]
"#,
    );
    let heat = loaded
        .problems
        .iter()
        .find(|p| p.code == "unit-mismatch")
        .expect("heat");
    assert_eq!(heat.patch.as_deref(), Some("{ ohm = \"330 ohm\" }"));
}

#[test]
fn loads_sit_on_nets_that_exist() {
    check(
        r#"
#- family.toml
[family]
boards = ["one.toml", "two.toml"]
[connector]
pins = ["VDD", "GND"]
[loads.module]
pins = { plus = "VD", minus = "GND" }
#                ^^ error[unknown-name]: there is no net `VD`
states = { on = "1 mA" }
[loads.siren]
pins = { plus = "BAT", minus = "GND" }
on = ["one"]
states = { on = "1 mA" }
[loads.lamp]
pins = { plus = "BAT", minus = "GND" }
#                ^^^ error[unknown-name]: there is no net `BAT`
on = ["two"]
states = { on = "1 mA" }
[loads.bell]
pins = { plus = "VDD", minus = "GND" }
on = ["tow"]
#      ^^^ error[unknown-name]: there is no board `tow`
states = { on = "1 mA" }
[loads.fan]
pins = { plus = "VDD", minus = "GND" }
states = { on = "1 mA" }
drives = { ENABLE = { high = ["on"] } }
#          ^^^^^^ error[unknown-name]: there is no net `ENABLE`
#- one.toml
[parts.R1]
kind = "resistor"
value = "1k"
pins = ["BAT", "GND"]
[loads.meter]
pins = { plus = "BTA", minus = "GND" }
#                ^^^ error[unknown-name]: there is no net `BTA`
states = { on = "1 mA" }
[loads.R1]
#      ^^ error[duplicate-name]: the load `R1` has the name of a part
pins = { plus = "BAT", minus = "GND" }
states = { on = "1 mA" }
[loads.siren]
#      ^^^^^ error[duplicate-name]: one of the family and one of the board
pins = { plus = "BAT", minus = "GND" }
states = { on = "1 mA" }
#- two.toml
[parts.R1]
kind = "resistor"
value = "1k"
pins = ["VDD", "GND"]
"#,
    );
}

#[test]
fn parts_attach_loads_to_nets_of_a_board() {
    let loaded = check(
        r#"
#- family.toml
[family]
boards = ["one.toml", "two.toml"]
[connector]
pins = ["VDD", "GND"]
[loads.siren]
states = { off = "0 A", on = "1 mA" }
#- one.toml
[parts.X1]
kind = "load"
load = "siren"
pins = { plus = "SW", minus = "GND" }
#- two.toml
[parts.X1]
kind = "load"
load = "siren"
pins = ["VDD", "GND"]
"#,
    );
    let family = loaded.family.expect("a family");
    assert!(family.loads.is_empty());
    assert_eq!(family.boards[0].loads[0].plus, "SW");
    assert_eq!(family.boards[1].loads[0].plus, "VDD");
    check(
        r#"
#- family.toml
[family]
boards = ["one.toml"]
[connector]
pins = ["VDD", "GND"]
[loads.siren]
pins = { plus = "VDD", minus = "GND" }
states = { on = "1 mA" }
[loads.bell]
#      ^^^^ error[missing-key]: load `bell` has no `pins` and no part attaches it
states = { on = "1 mA" }
#- one.toml
[parts.X1]
kind = "load"
load = "siren"
#      ^^^^^^^ error[attached-twice]
pins = { plus = "SW", minus = "GND" }
[parts.X2]
kind = "load"
load = "sirne"
#       ^^^^^ error[unknown-name]: there is no load `sirne`
pins = { plus = "SW", minus = "GND" }
"#,
    );
}

#[test]
fn a_mistake_in_a_load_a_part_or_a_model_has_no_consequences_elsewhere() {
    check(
        r#"
#- family.toml
[family]
boards = ["one.toml"]
[connector]
pins = ["VDD", "GND"]
[loads.module]
pins = { plus = "VDD", minus = "GND" }
survives = "3.9 A"
#               ^ error[unit-mismatch]
states = { sleep = "2 uA", work = "1 W" }
#                                 ^^^^^ error[unit-mismatch]
[profiles.season]
base = { module = "sleep" }
[[profiles.season.tasks]]
name = "report"
every = "5 s"
steps = [{ for = "3 ms", set = { module = "work" } }]
#- one.toml
[parts.R1]
kind = "resistance"
#       ^^^^^^^^^^ error[unknown-name]
value = "1k"
pins = ["EN", "GND"]
[parts.U1]
kind = "boost"
model = "none-such"
#        ^^^^^^^^^ error[unknown-name]
frequency = "2 s"
#              ^ error[unit-mismatch]
pins = { in = "BAT", out = "LED", gnd = "GND" }
[loads.lamp]
pins = { plus = "LED", minus = "GND" }
states = { on = "1 mA" }
drives = { EN = { high = ["on"] } }
"#,
    );
}
