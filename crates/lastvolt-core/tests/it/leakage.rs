//! Leakages that the cells see: capacitors, pull resistors.

use lastvolt_core::circuit::{CellDrive, Circuit, Situation};
use lastvolt_core::device::{Capacitor, Dielectric};
use lastvolt_core::model::{Change, Corner};
use lastvolt_core::quantity::Voltage;

use crate::netlist::{Netlist, assert_close, constant_amps, family, load, plain_capacitor, solve};

/// Highest current that a capacitor at its rated voltage draws from a supply.
fn highest_leakage(dielectric: Dielectric, farads: f64, rated_volts: f64) -> f64 {
    let device = Capacitor {
        dielectric: Some(dielectric),
        rated: Some(Voltage::from_volts(rated_volts)),
        ..plain_capacitor(farads)
    };
    let board = Netlist::new("leak")
        .supply("PS1", rated_volts, 0.0, "VDD")
        .capacitor("C1", device, "VDD", "GND");
    let family = family(vec![board.board()])
        .with(&[Change::Corner(Corner::MostDrain)])
        .expect("a corner fits every family");
    let names = ["leak".to_owned()];
    let circuit = Circuit::new(&family, &names).expect("the board is there");
    let situation = Situation::usual(&family, &names, None);
    let point = circuit.solve(&situation, &CellDrive::Rested, None);
    point
        .expect("operating point")
        .part("PS1")
        .expect("PS1")
        .amps
}

/// Checks CP08 and CP09: class 2 ceramics of 10 uF 6.3 V and 1 nF 50 V (Murata FAQ 0039, high):
/// 50 ohm farad of insulation, and never more than 10 Gohm.
#[test]
fn ref_ceramic_leakage() {
    assert_close(
        highest_leakage(Dielectric::Class2X, 10e-6, 6.3),
        1.26e-6,
        1e-3,
    );
    assert_close(highest_leakage(Dielectric::Class2X, 1e-9, 50.0), 5e-9, 1e-3);
}

/// Check CP10: solid tantalum of 10 uF 6.3 V, 0.01 C V (memory-high).
#[test]
fn ref_tantalum_leakage() {
    assert_close(
        highest_leakage(Dielectric::Tantalum, 10e-6, 6.3),
        0.63e-6,
        1e-3,
    );
}

/// Checks CP11 and CP12: aluminium electrolytics, 0.01 C V but at least 3 uA (memory-high).
#[test]
fn ref_electrolytic_leakage() {
    assert_close(
        highest_leakage(Dielectric::Aluminium, 100e-6, 6.3),
        6.3e-6,
        1e-3,
    );
    assert_close(
        highest_leakage(Dielectric::Aluminium, 10e-6, 6.3),
        3.0e-6,
        1e-3,
    );
}

/// Checks PD01 to PD05: the largest pull-down lets the pin's leakage lift it just to the highest
/// low level (TPS61253, TPS61240, TPS62733, TPS62087, TPS62050: TI data sheets, V_IL / I_leak,
/// derived). The leakage is a constant current from the rail into the pin's net.
#[test]
fn ref_leakage_lifts_the_largest_pull_down_to_the_low_level() {
    for (low_volts, leakage, pull_ohms) in [
        (0.4, 5e-7, 800e3),
        (0.4, 1e-6, 400e3),
        (0.4, 5e-8, 8e6),
        (0.4, 1.6e-7, 2.5e6),
        (0.3, 2e-7, 1.5e6),
    ] {
        let mut board = Netlist::new("pull")
            .supply("PS1", 3.0, 0.0, "VDD")
            .resistor("R1", pull_ohms, "EN", "GND")
            .board();
        let mut leak = load("leak", constant_amps(leakage), "VDD");
        leak.minus = "EN".to_owned();
        board.loads.push(leak);
        let point = crate::netlist::solve_stack(vec![board], |_| {}).expect("operating point");
        assert_close(point.net("EN").expect("the pin's net"), low_volts, 1e-3);
    }
}

/// Check PD06: 1 Mohm across 3 V takes 3 uA (Ohm, derived).
#[test]
fn ref_pull_resistor_current_while_driven() {
    let board = Netlist::new("pull")
        .supply("PS1", 3.0, 0.0, "EN")
        .resistor("R1", 1e6, "EN", "GND");
    let point = solve(board).expect("operating point");
    assert_close(point.part("PS1").expect("PS1").amps, 3e-6, 1e-3);
}
