//! Brown-out, empty cell and converter that stops are told apart.

use lastvolt_core::device::{CellModel, Regulator, Setpoint, Topology};
use lastvolt_core::model::{Board, Law, Load, Reset};
use lastvolt_core::quantity::{Power, Voltage};
use lastvolt_core::time::{Cause, Life};

use crate::kit::{self, cell_model, exactly, load_on, regulator};
use crate::life::live;
use crate::netlist::{Netlist, constant_amps};

const CHARGE_COULOMBS: f64 = 100.0;

/// A cell that keeps its voltage until it is empty.
fn flat(volts: f64, ohms: f64) -> CellModel {
    cell_model(CHARGE_COULOMBS, &[(0.0, volts)], &[(0.0, ohms)])
}

/// A cell whose voltage falls straight to nothing.
fn falling(volts: f64, ohms: f64) -> CellModel {
    cell_model(CHARGE_COULOMBS, &[(0.0, volts), (1.0, 0.1)], &[(0.0, ohms)])
}

fn converter(topology: Topology, output: f64, model: CellModel) -> Board {
    let device = Regulator {
        runs_down_to: Voltage::from_volts(0.7),
        ..regulator(topology, Setpoint::Output(exactly::<Voltage>(output)))
    };
    let pins = [("in", "BAT"), ("out", "VDD"), ("gnd", "GND")];
    Netlist::new("one")
        .cell("BT1", model, 1, "BAT")
        .regulator("U1", device, &pins)
        .board()
}

fn direct(model: CellModel) -> Board {
    Netlist::new("coin").cell("BT1", model, 1, "VDD").board()
}

fn run(board: Board, load: Load) -> Life {
    live(&kit::family(vec![board], vec![load]))
}

fn milliamp() -> Load {
    load_on("VDD", vec![("run", constant_amps(1e-3))])
}

#[test]
fn a_voltage_that_falls_below_the_need_is_a_brown_out() {
    let found = run(direct(falling(3.0, 1.0)), milliamp());
    assert_eq!(found.end.cause, Cause::BrownOut);
    assert_eq!(found.end.load.as_deref(), Some("module"));
    // 3.0 - 2.9 d - 1 mV is 2.0 V.
    assert!(
        (found.end.depth - 0.999 / 2.9).abs() < 1e-6,
        "{}",
        found.end.depth
    );
}

#[test]
fn a_cell_that_keeps_its_voltage_ends_empty() {
    for board in [
        direct(flat(3.0, 1.0)),
        converter(Topology::Boost, 3.0, flat(1.5, 0.1)),
        converter(Topology::Linear, 2.5, flat(3.0, 1.0)),
    ] {
        let found = run(board, milliamp());
        assert_eq!(found.end.cause, Cause::Empty);
        assert!((found.end.depth - 1.0).abs() < 1e-9, "{}", found.end.depth);
    }
}

#[test]
fn a_converter_that_reaches_its_lowest_input_stops() {
    let found = run(
        converter(Topology::Boost, 3.0, falling(1.5, 0.1)),
        milliamp(),
    );
    assert_eq!(found.end.cause, Cause::ConverterStopped);
    // 1.5 - 1.4 d less 0.1 ohm times some 4.3 mA is 0.7 V.
    let depth = (1.5 - 0.1 * 3e-3 / 0.7 - 0.7) / 1.4;
    assert!(
        (found.end.depth - depth).abs() < 1e-3,
        "{} {depth}",
        found.end.depth
    );
}

/// A linear regulator that no longer regulates still feeds its load: the load's need decides.
#[test]
fn dropout_is_a_brown_out_of_the_load() {
    let found = run(
        converter(Topology::Linear, 2.5, falling(3.0, 1.0)),
        milliamp(),
    );
    assert_eq!(found.end.cause, Cause::BrownOut);
    let net = found.end.net_volts.expect("a net");
    assert!((net - 2.0).abs() < 1e-3, "{net}");
}

/// A source too weak for its converter, with most of its charge left.
#[test]
fn more_than_the_cell_can_give_stops_the_converter() {
    let load = load_on("VDD", vec![("run", Law::Power(exactly::<Power>(10.2e-3)))]);
    let found = run(converter(Topology::Boost, 3.0, falling(1.5, 50.0)), load);
    assert_eq!(found.end.cause, Cause::ConverterStopped);
    // The fold of a constant power: E^2 = 4 R P.
    let open = 1.5 - 1.4 * found.end.depth;
    assert!(
        (open * open / (4.0 * 50.0 * 10.2e-3) - 1.0).abs() < 0.01,
        "{open}"
    );
}

/// A load without a working range that falls into reset.
#[test]
fn a_reset_is_a_brown_out() {
    let mut load = milliamp();
    load.working = None;
    load.reset = Some(Reset {
        below: Voltage::from_volts(1.7),
        release: Voltage::from_volts(1.85),
        boot: Vec::new(),
    });
    let found = run(direct(falling(3.0, 1.0)), load);
    assert_eq!(found.end.cause, Cause::BrownOut);
    assert_eq!(found.end.load.as_deref(), Some("module"));
    assert!(
        (found.end.depth - 1.299 / 2.9).abs() < 1e-3,
        "{}",
        found.end.depth
    );
}
