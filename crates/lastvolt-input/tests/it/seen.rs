//! `seen`: the range of figures over real parts.

use lastvolt_input::catalog;

use crate::annotated::check;

#[test]
fn classes_of_parts_say_what_was_seen() {
    for entry in catalog() {
        let cell = entry.kind == lastvolt_core::model::Kind::Cell;
        assert!(cell || !entry.seen.is_empty(), "{}", entry.name);
    }
    let entries = catalog();
    let fet = entries.iter().find(|e| e.name == "p-fet-1v5");
    let seen = &fet.expect("the class").seen[0];
    assert_eq!(
        (seen.figure.as_str(), seen.low.as_str(), seen.high.as_str()),
        ("on_resistance at -1.5 V", "30 mohm", "150 mohm")
    );
}

#[test]
fn a_range_has_two_ends_of_one_unit_in_order() {
    check(
        r#"
[models.own]
kind = "inductor"
value = "10 uH"
seen = { winding = ["1 ohm", "20 mohm"] }
#                  ^^^^^^^^^^^^^^^^^^^^ error[min-above-max]: lowest value of `winding`
[models.two]
kind = "inductor"
seen = { winding = ["20 mohm", "1 A"] }
#                              ^^^^^ error[not-a-value]: `1 A` is not a value in the unit
[models.three]
kind = "inductor"
seen = { winding = ["20 mohm"] }
#                  ^^^^^^^^^^^ error[wrong-type]: the lowest and the highest
[models.four]
kind = "inductor"
seen = { winding = ["20", "30"] }
#                   ^^^^ error[not-a-value]: `20`
[models.five]
kind = "inductor"
seen = "much"
#      ^^^^^^ error[wrong-type]: table
[parts.L1]
kind = "inductor"
value = "10 uH"
pins = ["VDD", "GND"]
"#,
    );
}
