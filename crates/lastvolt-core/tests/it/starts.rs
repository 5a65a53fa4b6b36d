//! Between the input voltage that starts a step-up converter and the lowest at which it runs on:
//! published figures of both, against circuits solved cold and running and against a whole life.

use lastvolt_core::circuit::{History, Mode, Point};
use lastvolt_core::device::{Regulator, Setpoint, Topology};
use lastvolt_core::quantity::{Current, Voltage};
use lastvolt_core::time::Cause;

use crate::kit::{self, cell_model, load_on, regulator};
use crate::life::live;
use crate::netlist::{Netlist, assert_close, constant_amps, plain_cell, solve_with, volts};

/// A converter's published figures: current of the load that it starts into, start and lowest running
/// voltage.
struct Published {
    check: &'static str,
    load_amps: f64,
    start_volts: f64,
    stops_volts: f64,
}

const fn published(
    check: &'static str,
    load_amps: f64,
    start_volts: f64,
    stops_volts: f64,
) -> Published {
    Published {
        check,
        load_amps,
        start_volts,
        stops_volts,
    }
}

/// Typical start and lowest running voltage, where the first is higher; all high confidence. Where the
/// data sheet names no load, 10 mA is taken (any would do).
const PUBLISHED: [Published; 8] = [
    published("ST01 MCP1640, Microchip DS22234B", 1e-3, 0.65, 0.35),
    published("ST02 TPS61010, TI SLVS314D, 33 ohm", 0.1, 0.85, 0.80),
    published("ST04 TPS61200, TI SLVS577E", 10e-3, 0.5, 0.3),
    published("ST05 TPS61291, TI SLVSBX9A", 20e-3, 1.5, 0.9),
    published("ST06 TPS61094, TI product data", 10e-3, 1.8, 0.7),
    published("ST07 TPS61022, TI product data", 10e-3, 1.8, 0.5),
    published("ST09 MAX1722, Maxim 19-1735 (guaranteed)", 10e-3, 0.91, 0.8),
    published("ST10 MAX1795, Maxim 19-1798 (guaranteed)", 10e-3, 0.85, 0.7),
];

fn device(part: &Published) -> Regulator {
    Regulator {
        start: vec![(
            Current::from_amps(part.load_amps),
            Voltage::from_volts(part.start_volts),
        )],
        runs_down_to: Voltage::from_volts(part.stops_volts),
        ..regulator(Topology::Boost, Setpoint::Output(volts(3.3)))
    }
}

const PINS: [(&str, &str); 3] = [("in", "IN"), ("out", "VDD"), ("gnd", "GND")];

fn point_at(part: &Published, cell_volts: f64, history: History) -> (Mode, Point) {
    let netlist = Netlist::new("start")
        .cell("BT1", plain_cell(cell_volts, 1e-3), 1, "IN")
        .regulator("U1", device(part), &PINS)
        .load("module", constant_amps(part.load_amps), "VDD");
    let point = solve_with(netlist, |s| s.history = history).expect("operating point");
    let mode = point.part("U1").and_then(|u| u.mode);
    (mode.expect("a regulator has a mode"), point)
}

/// Between the two voltages a converter that runs goes on, and one that is off stays off.
#[test]
fn ref_between_start_and_lowest_history_decides() {
    for part in &PUBLISHED {
        let between = f64::midpoint(part.start_volts, part.stops_volts);
        let (mode, running) = point_at(part, between, History::Running);
        assert_eq!(mode, Mode::Run, "{}", part.check);
        assert_close(running.net("VDD").expect("the rail"), 3.3, 1e-6);
        let (mode, cold) = point_at(part, between, History::Cold);
        assert_eq!(mode, Mode::Start, "{}", part.check);
        let rail = cold.net("VDD").expect("the rail");
        assert!(rail.abs() < 1e-3, "{}: {rail}", part.check);
    }
}

/// A life uses the cell down to the lowest running voltage, far below what would start again.
#[test]
fn ref_a_life_ends_at_the_lowest_running_voltage() {
    for part in &PUBLISHED {
        let model = cell_model(10.0, &[(0.0, 2.0), (1.0, 0.2)], &[(0.0, 0.01)]);
        let board = Netlist::new("start")
            .cell("BT1", model, 1, "IN")
            .regulator("U1", device(part), &PINS)
            .board();
        let load = load_on("VDD", vec![("on", constant_amps(part.load_amps))]);
        let found = live(&kit::family(vec![board], vec![load]));
        assert_eq!(found.end.cause, Cause::ConverterStopped, "{}", part.check);
        let cell_volts = found.end.cell_volts.expect("the cell is named");
        assert!(
            (cell_volts - part.stops_volts).abs() < 1e-3,
            "{}: {cell_volts}",
            part.check
        );
    }
}
