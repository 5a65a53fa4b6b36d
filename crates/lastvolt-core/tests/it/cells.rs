//! Cells under load in solved circuits.

use crate::netlist::{Netlist, assert_close, constant_amps, plain_cell, solve};

/// Terminal voltage of a cell under a constant current.
fn terminal_volts(open_circuit: f64, resistance: f64, load_amps: f64) -> f64 {
    let board = Netlist::new("cell")
        .cell("BT1", plain_cell(open_circuit, resistance), 1, "VDD")
        .load("sink", constant_amps(load_amps), "VDD");
    let point = solve(board).expect("operating point");
    point.net("VDD").expect("the rail")
}

/// Check CP06: 3.2 V open, 3.0 V across 1 kohm, is 66.67 ohm inside (formula of Renata's Designer
/// Guide, derived).
#[test]
fn ref_cell_resistance_from_a_loaded_reading() {
    let board = Netlist::new("cell")
        .cell("BT1", plain_cell(3.2, 66.67), 1, "VDD")
        .resistor("R1", 1000.0, "VDD", "GND");
    let point = solve(board).expect("operating point");
    // The resistance is printed with four digits, and a share of it counts here.
    assert_close(point.net("VDD").expect("the rail"), 3.0, 1e-5);
}

/// Check CP07: 2.9 V at 0.19 mA and 2.7 V at 6.8 mA are 30.3 ohm (Energizer 2032, second hand,
/// medium).
#[test]
fn ref_cell_resistance_from_two_loaded_readings() {
    let open_circuit = 2.9 + 30.3 * 0.19e-3;
    assert_close(terminal_volts(open_circuit, 30.3, 0.19e-3), 2.9, 1e-9);
    // The list gives the resistance to 0.2 ohm, which is 1.4 mV at 6.8 mA.
    assert_close(terminal_volts(open_circuit, 30.3, 6.8e-3), 2.7, 5e-4);
}
