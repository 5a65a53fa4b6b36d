//! The film of a cell in text.

use lastvolt_core::model::Device;

use crate::annotated::check;

#[test]
fn a_film_is_read_with_its_units() {
    let loaded = check(
        r#"
[parts.BT1]
kind = "cell"
charge = "2400 mAh"
open_circuit = [[0, "3.67 V"], [1, "3.0 V"]]
resistance = [[0, "8 ohm"], [1, "20 ohm"]]
film = { resistance = "40 ohm", growth = "30 days", burn_off = "5 mAh" }
pins = ["VDD", "GND"]
"#,
    );
    let family = loaded.family.expect("a family");
    let Device::Cell(cell) = &family.boards[0].parts[0].device else {
        panic!("a cell");
    };
    let film = cell.model.film.expect("a film");
    assert!((film.resistance.as_ohms() - 40.0).abs() < 1e-12);
    assert!((film.growth.as_secs() - 30.0 * 86_400.0).abs() < 1e-6);
    assert!((film.burn_off.as_coulombs() - 18.0).abs() < 1e-12);
}

#[test]
fn what_is_wrong_with_a_film_is_said_at_its_place() {
    check(
        r#"
[parts.BT1]
kind = "cell"
charge = "2400 mAh"
open_circuit = [[0, "3.67 V"], [1, "3.0 V"]]
resistance = [[0, "8 ohm"], [1, "20 ohm"]]
film = { resistance = "40 V", growth = "0 days", burn_off = 5 }
#                         ^ error[unit-mismatch]
#                                      ^^^^^^^^ error[out-of-range]: `growth` is 0 days, more than 0 s is allowed
#                                                           ^ error[bare-number]
pins = ["VDD", "GND"]
[parts.BT2]
kind = "cell"
charge = "2400 mAh"
open_circuit = [[0, "3.67 V"], [1, "3.0 V"]]
resistance = [[0, "8 ohm"], [1, "20 ohm"]]
film = { resistance = "40 ohm", growth = "30 days", burn = "5 mAh" }
#                                                   ^^^^ error[unknown-key]
pins = ["VDD", "GND"]
[parts.BT3]
kind = "cell"
charge = "2400 mAh"
open_circuit = [[0, "3.67 V"], [1, "3.0 V"]]
resistance = [[0, "8 ohm"], [1, "20 ohm"]]
film = { resistance = "40 ohm", growth = "30 days" }
#      ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ error[missing-key]: `burn_off` is missing
pins = ["VDD", "GND"]
"#,
    );
}
