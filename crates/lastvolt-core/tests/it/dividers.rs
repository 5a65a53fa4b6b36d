//! Feedback dividers in solved circuits, against data sheets and application notes.

use lastvolt_core::circuit::{CellDrive, Circuit, Situation};
use lastvolt_core::device::{Regulator, Setpoint, Topology};
use lastvolt_core::model::{Change, PropertyId};

use crate::kit::regulator;
use crate::netlist::{Netlist, amps, assert_close, constant_amps, family, solve, volts};

/// A regulator of a topology with its divider on a supply of the given voltage and a light load.
fn board(topology: Topology, supply_volts: f64, regulator: Regulator, r1: f64, r2: f64) -> Netlist {
    let regulator = Regulator {
        topology,
        ..regulator
    };
    let pins = [("in", "IN"), ("out", "VDD"), ("gnd", "GND"), ("fb", "FB")];
    Netlist::new("divider")
        .supply("PS1", supply_volts, 0.0, "IN")
        .regulator("U1", regulator, &pins)
        .resistor("R1", r1, "VDD", "FB")
        .resistor("R2", r2, "FB", "GND")
        .load("module", constant_amps(1e-3), "VDD")
}

fn reference(value: f64) -> Regulator {
    regulator(Topology::BuckBoost, Setpoint::Reference(volts(value)))
}

/// Output with the divider solved, without bias current.
fn output(topology: Topology, supply_volts: f64, vref: f64, r1: f64, r2: f64) -> f64 {
    let point = solve(board(topology, supply_volts, reference(vref), r1, r2));
    let point = point.expect("a regulator with a divider has an operating point");
    point.net("VDD").expect("the rail")
}

#[track_caller]
fn check(got: f64, expected: f64, tolerance_volts: f64) {
    assert!(
        (got - expected).abs() <= tolerance_volts,
        "{got} against {expected}"
    );
}

/// Checks DV01 to DV05, BO06, BO08, BB14: set outputs of step-up and step-up/down converters (TI
/// SLVSB53, SLVS776B, E2E 103171, SLVSAG3, SLVSAF7, SLVA535B; Microchip DS22234B; values derived
/// from published resistors, DV02, DV03 and BB14 published).
#[test]
fn ref_step_up_outputs_set_by_divider() {
    for (vref, r1, r2, expected, tolerance) in [
        (0.5, 1e6, 180e3, 3.2778, 1e-3),
        (0.5, 1.2e6, 160e3, 4.25, 1e-3),
        (0.5, 1.62e6, 180e3, 5.0, 1e-3),
        (1.21, 976e3, 562e3, 3.3114, 1e-3),
        (1.21, 976e3, 309e3, 5.0319, 1e-3),
        (1.2, 768e3, 240e3, 5.04, 2e-3),
        (1.2, 1000e3, 280e3, 5.4857, 1e-3),
        (0.5, 511e3, 91e3, 3.308, 1e-3),
    ] {
        check(
            output(Topology::Boost, 2.4, vref, r1, r2),
            expected,
            tolerance,
        );
        check(
            output(Topology::BuckBoost, 2.4, vref, r1, r2),
            expected,
            tolerance,
        );
    }
}

/// Checks DV07 and DV08: step-down converters (TI SLVS076C, derived; SLVS546, high).
#[test]
fn ref_step_down_outputs_set_by_divider() {
    check(output(Topology::Buck, 3.0, 0.5, 470e3, 180e3), 1.8056, 1e-3);
    check(output(Topology::Buck, 3.0, 0.5, 360e3, 180e3), 1.5, 5e-4);
}

/// Checks DV06 (TI TPS7A25 8.2.2.2, high), DV09 and DV10 (TI TPS7A16A-Q1 table 2, derived), DV11
/// (resistors of TI SLVA450B, derived): linear regulators.
#[test]
fn ref_linear_outputs_set_by_divider() {
    check(
        output(Topology::Linear, 6.0, 1.24, 3.6e6, 1.18e6),
        5.023,
        1e-3,
    );
    check(
        output(Topology::Linear, 5.0, 1.194, 2e6, 1.13e6),
        3.3073,
        2e-3,
    );
    check(
        output(Topology::Linear, 5.0, 1.194, 1.18e6, 2.32e6),
        1.8013,
        2e-3,
    );
    check(
        output(Topology::Linear, 5.0, 0.405, 1.18e6, 187e3),
        2.9606,
        1e-3,
    );
}

/// Check DV29: a bias current into the feedback pin raises the output by itself times R1 (derived;
/// the form of TI SLVA450B eq. 4).
#[test]
fn ref_bias_current_raises_the_output() {
    let biased = Regulator {
        bias: amps(10e-9),
        ..reference(0.5)
    };
    let point = solve(board(Topology::Boost, 2.4, biased, 1e6, 180e3)).expect("operating point");
    let raised = point.net("VDD").expect("rail") - output(Topology::Boost, 2.4, 0.5, 1e6, 180e3);
    // Solved voltages are good to a few nanovolts, of 10 mV.
    assert_close(raised, 0.01, 1e-3);
}

/// Lowest and highest output over all corners of reference and resistors, each set in the family.
fn band(vref: (f64, f64), r1: f64, r2: f64, tolerance: f64) -> (f64, f64) {
    let nominal = family(vec![
        board(Topology::Boost, 2.4, reference(vref.0), r1, r2).board(),
    ]);
    let names = ["divider".to_owned()];
    let property = |part: &str, key: &str| PropertyId {
        board: Some("divider".to_owned()),
        part: part.to_owned(),
        key: key.to_owned(),
    };
    let mut found = (f64::INFINITY, f64::NEG_INFINITY);
    for corner in 0..8 {
        let side = |bit: u32| if corner >> bit & 1 == 0 { -1.0 } else { 1.0 };
        let reference = if corner & 1 == 0 { vref.0 } else { vref.1 };
        let changed = nominal
            .with(&[
                Change::Set(property("U1", "reference"), reference),
                Change::Set(property("R1", "value"), r1 * (1.0 + side(1) * tolerance)),
                Change::Set(property("R2", "value"), r2 * (1.0 + side(2) * tolerance)),
            ])
            .expect("the properties are there");
        let circuit = Circuit::new(&changed, &names).expect("the board is there");
        let situation = Situation::usual(&changed, &names, None);
        let point = circuit.solve(&situation, &CellDrive::Rested, None);
        let out = point.expect("operating point").net("VDD").expect("rail");
        found = (found.0.min(out), found.1.max(out));
    }
    found
}

/// Checks DV25 and DV26: 0.5 V +/-2 %, 1M and 180k +/-1 % (corner enumeration, derived).
#[test]
fn ref_output_band_of_a_half_volt_reference() {
    let (low, high) = band((0.49, 0.51), 1e6, 180e3, 0.01);
    check(low, 3.1583, 1e-3);
    check(high, 3.4006, 1e-3);
}

/// Check DV34: reference limits of Microchip DS22234B with 976k and 562k +/-1 % (corners, derived).
#[test]
fn ref_output_band_from_published_reference_limits() {
    let (low, high) = band((1.175, 1.245), 976e3, 562e3, 0.01);
    check(low, 3.1752, 1e-3);
    check(high, 3.4508, 1e-3);
}

/// Voltage at the tap of a plain divider.
fn tap(supply_volts: f64, r1: f64, r2: f64) -> (f64, f64) {
    let board = Netlist::new("tap")
        .supply("PS1", supply_volts, 0.0, "VDD")
        .resistor("R1", r1, "VDD", "TAP")
        .resistor("R2", r2, "TAP", "GND");
    let point = solve(board).expect("operating point");
    let current = point.part("R1").expect("R1").amps;
    (point.net("TAP").expect("the tap"), current)
}

/// Checks DV30 to DV33: 121k over 10k, each 1 %, at a 2.5 V reference (J. Sachs, EmbeddedRelated
/// 1353, high). The voltages that the article gives put the tap at the reference in each corner.
#[test]
fn ref_divider_ratio_corners() {
    check(13.1 / tap(13.1, 121e3, 10e3).0, 13.1, 1e-3);
    check(tap(32.151, 121e3 * 0.99, 10e3 * 1.01).0, 2.5, 2e-4);
    check(tap(33.361, 121e3 * 1.01, 10e3 * 0.99).0, 2.5, 2e-4);
}

/// Check DV22: current of 1.18M over 187k at 3.3 V (TI SLVA450B eq. 12, high).
#[test]
fn ref_divider_current() {
    assert_close(tap(3.3, 1.18e6, 187e3).1, 2.41e-6, 0.005);
}
