//! Run time behind a linear regulator, against the worked example of an application note.

use lastvolt_core::device::{CellModel, Regulator, Setpoint, Topology};
use lastvolt_core::quantity::{Rate, Voltage};

use crate::kit::{self, exactly, load_on, regulator};
use crate::life::{live, task, with_tasks};
use crate::netlist::{Netlist, amps, assert_close, constant_amps, plain_cell};

/// Hours on 100 mAh with 1 % self-discharge a year and 10 nA of capacitor leakage: 1.6 mA for one
/// part of the time, the standing current for 10,000.
fn hours(standing_amps: f64) -> f64 {
    let model = CellModel {
        charge: exactly(0.1 * 3600.0),
        // The note takes a year of 8760 hours.
        self_discharge: Rate::from_per_sec(0.01 / (8760.0 * 3600.0)),
        ..plain_cell(3.0, 0.0)
    };
    let device = Regulator {
        quiescent_in: amps(standing_amps - 1e-6),
        ..regulator(Topology::Linear, Setpoint::Output(exactly::<Voltage>(1.8)))
    };
    let pins = [("in", "BAT"), ("out", "VDD"), ("gnd", "GND")];
    let board = Netlist::new("ldo")
        .cell("BT1", model, 1, "BAT")
        .resistor("R1", 3.0 / 10e-9, "BAT", "GND")
        .regulator("U1", device, &pins)
        .board();
    // The currents of the note are the cell's: what the regulator takes is part of them.
    let active = constant_amps(1.6e-3 - (standing_amps - 1e-6));
    let mut load = load_on(
        "VDD",
        vec![("sleep", constant_amps(1e-6)), ("active", active)],
    );
    load.working = None;
    let family = kit::family(vec![board], vec![load]);
    let bursts = vec![task("work", 10.001, &[(1e-3, "active")])];
    let found = live(&with_tasks(family, bursts));
    found.life_secs.expect("the cell runs empty") / 3600.0
}

/// Checks LD01 to LD04: TI SBVA084 table 1 (high): 76,392 h with a regulator of 25 nA, 43,784 h
/// with one of 1 uA.
#[test]
fn ref_life_behind_a_linear_regulator() {
    // The note's last digit is an hour.
    assert_close(hours(1.025e-6), 76_392.0, 2e-5);
    assert_close(hours(2e-6), 43_784.0, 4e-5);
}
