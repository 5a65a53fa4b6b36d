//! The boards that `data/brute.py` steps burst by burst, built of the same parts, and what it found.

use lastvolt_core::device::{
    Activation, Branch, Capacitor, CellModel, CellState, Regulator, Setpoint, Topology, Wells,
};
use lastvolt_core::model::{BootStep, Family, Law, Load, Reset, Task, Window};
use lastvolt_core::quantity::{Current, Rate, Time, Voltage};

use crate::kit::{self, current_load, exactly, load_on, regulator};
use crate::life::{alkaline, small_cell, task, with_tasks};
use crate::netlist::{
    Netlist, amps, constant_amps, constant_watts, losses, ohms, plain_capacitor, volts,
};

const SLEEP_AMPS: f64 = 3e-6;

/// A board that was stepped.
pub(crate) struct Stepped {
    /// Its name in the data.
    pub(crate) case: &'static str,
    pub(crate) family: fn() -> Family,
}

/// All of them, in the order of the data.
pub(crate) const BOARDS: [Stepped; 9] = [
    stepped("coin-direct", coin_direct),
    stepped("step-up", step_up),
    stepped("up-down", up_down),
    stepped("linear", linear),
    stepped("two-tasks", two_tasks),
    stepped("window", window),
    stepped("bypass-220u", bypass_220u),
    stepped("supercapacitor", supercapacitor),
    stepped("reset", reset),
];

const fn stepped(case: &'static str, family: fn() -> Family) -> Stepped {
    Stepped { case, family }
}

/// The board of a name.
pub(crate) fn family_of(case: &str) -> Family {
    let found = BOARDS.iter().find(|b| b.case == case);
    (found.expect("a board of this name").family)()
}

fn with_rates(mut model: CellModel, per_sec: f64, times_secs: [f64; 2]) -> CellModel {
    let wells = model.wells.map(|wells| Wells {
        rate: exactly::<Rate>(per_sec),
        ..wells
    });
    model.wells = wells;
    let branches = model.polarisation.iter().zip(times_secs);
    model.polarisation = branches
        .map(|(branch, secs)| Branch {
            time: Time::from_secs(secs),
            ..*branch
        })
        .collect();
    model
}

fn coin(coulombs: f64, per_sec: f64, slow_secs: f64) -> CellModel {
    with_rates(small_cell(coulombs), per_sec, [4.0, slow_secs])
}

fn capacitor(farads: f64, series_ohms: f64, leak_amps: f64, rated_volts: f64) -> Capacitor {
    Capacitor {
        series_resistance: ohms(series_ohms),
        leakage: Some(amps(leak_amps)),
        rated: Some(Voltage::from_volts(rated_volts)),
        ..plain_capacitor(farads)
    }
}

fn ceramic(farads: f64, series_ohms: f64) -> Capacitor {
    capacitor(farads, series_ohms, 0.0, 6.3)
}

fn bypass() -> Capacitor {
    capacitor(10e-6, 0.01, 1e-7, 6.3)
}

/// A load of three currents.
fn module(transmit_amps: f64) -> Load {
    current_load(&[
        ("sleep", SLEEP_AMPS),
        ("sense", 1e-3),
        ("transmit", transmit_amps),
    ])
}

fn report(transmit_secs: f64) -> Task {
    task(
        "report",
        5.0,
        &[(0.012, "sense"), (transmit_secs, "transmit")],
    )
}

/// Cell, capacitor and a leak on one net.
fn direct(model: CellModel, device: Capacitor, loads: Vec<Load>, tasks: Vec<Task>) -> Family {
    let board = Netlist::new("coin")
        .cell("BT1", model, 1, "VDD")
        .capacitor("C1", device, "VDD", "GND")
        .resistor("R1", 2.2e6, "VDD", "GND")
        .board();
    with_tasks(kit::family(vec![board], loads), tasks)
}

fn coin_direct() -> Family {
    let tasks = vec![report(3e-3)];
    direct(coin(0.35, 5e-3, 60.0), bypass(), vec![module(0.011)], tasks)
}

fn bypass_220u() -> Family {
    let device = capacitor(220e-6, 0.1, 2e-6, 6.3);
    let tasks = vec![report(3.2e-3)];
    direct(coin(0.35, 1e-2, 60.0), device, vec![module(0.025)], tasks)
}

fn supercapacitor() -> Family {
    let device = capacitor(0.1, 1.0, 1e-6, 5.5);
    let tasks = vec![task("report", 2.0, &[(0.02, "transmit")])];
    direct(coin(2.0, 2e-2, 60.0), device, vec![module(0.03)], tasks)
}

fn window() -> Family {
    let mut listen = task("listen", 60.0, &[(0.04, "transmit")]);
    listen.within = Some(Window {
        every_ns: 86_400 * 1_000_000_000,
        open_ns: 28_800 * 1_000_000_000,
    });
    let model = CellModel {
        self_discharge: Rate::from_per_sec(2e-8),
        ..coin(3.27, 1e-4, 7200.0)
    };
    let device = capacitor(47e-6, 0.02, 1e-7, 6.3);
    direct(model, device, vec![module(0.011)], vec![listen])
}

fn two_tasks() -> Family {
    let states = vec![
        ("idle", constant_amps(1e-6)),
        ("measure", constant_amps(6e-3)),
    ];
    let sensor = Load {
        name: "sensor".to_owned(),
        ..load_on("VDD", states)
    };
    let mut measure = task("measure", 7.3, &[(0.008, "measure")]);
    measure.steps[0].set = vec![("sensor".to_owned(), "measure".to_owned())];
    let loads = vec![module(0.011), sensor];
    let tasks = vec![report(3.2e-3), measure];
    direct(coin(0.4, 5e-3, 60.0), bypass(), loads, tasks)
}

fn reset() -> Family {
    let model = CellModel {
        activation: Some(Activation {
            volts: Voltage::from_volts(8e-3),
            current: Current::from_amps(1.4e-3),
        }),
        ..coin(0.35, 5e-3, 60.0)
    };
    let load = Load {
        reset: Some(Reset {
            below: Voltage::from_volts(1.7),
            release: Voltage::from_volts(1.9),
            boot: vec![BootStep {
                span: Time::from_secs(0.03),
                current: Current::from_amps(6e-3),
            }],
        }),
        ..module(0.011)
    };
    direct(model, bypass(), vec![load], vec![report(3.2e-3)])
}

/// A regulator between a capacitor at its input and one at its output.
fn regulated(
    netlist: Netlist,
    model: CellModel,
    series: usize,
    [input, output]: [Capacitor; 2],
    load: Load,
) -> Family {
    let board = netlist
        .cell("BT1", model, series, "BAT")
        .capacitor("C1", input, "BAT", "GND")
        .capacitor("C2", output, "VDD", "GND")
        .board();
    let family = kit::family(vec![board], vec![load]);
    with_tasks(family, vec![report(3.2e-3)])
}

fn converter(topology: Topology, set_volts: f64, response_secs: f64) -> Regulator {
    Regulator {
        response: Some(Time::from_secs(response_secs)),
        ..regulator(topology, Setpoint::Output(volts(set_volts)))
    }
}

fn step_up() -> Family {
    let device = Regulator {
        loss: losses(0.06, 0.3),
        quiescent_out: amps(15e-6),
        runs_down_to: Voltage::from_volts(0.3),
        ..converter(Topology::Boost, 3.0, 50e-6)
    };
    let pins = [("in", "BAT"), ("out", "VDD"), ("gnd", "GND"), ("sw", "SW")];
    let netlist = Netlist::new("one-cell")
        .inductor("L1", 0.1, "BAT", "SW")
        .regulator("U1", device, &pins);
    let states: Vec<(&str, Law)> = vec![
        ("sleep", constant_watts(20e-6)),
        ("sense", constant_watts(5e-3)),
        ("transmit", constant_watts(40e-3)),
    ];
    let model = with_rates(alkaline(1.0), 2e-3, [8.0, 90.0]);
    let capacitors = [ceramic(10e-6, 0.01), ceramic(22e-6, 0.01)];
    regulated(netlist, model, 1, capacitors, load_on("VDD", states))
}

fn up_down() -> Family {
    let device = Regulator {
        loss: losses(0.05, 0.3),
        quiescent_in: amps(2e-6),
        quiescent_out: amps(8e-6),
        runs_down_to: Voltage::from_volts(0.9),
        ..converter(Topology::BuckBoost, 2.5, 50e-6)
    };
    let pins = [
        ("in", "BAT"),
        ("out", "VDD"),
        ("gnd", "GND"),
        ("sw1", "LX1"),
        ("sw2", "LX2"),
    ];
    let netlist = Netlist::new("two-cell")
        .inductor("L1", 0.1, "LX1", "LX2")
        .regulator("U1", device, &pins);
    let model = with_rates(alkaline(0.6), 2e-3, [8.0, 90.0]);
    let capacitors = [ceramic(10e-6, 0.01), ceramic(22e-6, 0.01)];
    regulated(netlist, model, 2, capacitors, module(0.03))
}

fn linear() -> Family {
    let device = Regulator {
        quiescent_in: amps(1e-6),
        dropout: ohms(4.0),
        dropout_ground: 0.05,
        ..converter(Topology::Linear, 2.5, 10e-6)
    };
    let pins = [("in", "BAT"), ("out", "VDD"), ("gnd", "GND")];
    let netlist = Netlist::new("linear").regulator("U1", device, &pins);
    let capacitors = [ceramic(10e-6, 0.01), ceramic(4.7e-6, 0.02)];
    let model = coin(0.35, 5e-3, 60.0);
    regulated(netlist, model, 1, capacitors, module(0.011))
}

/// A coin cell of 225 mAh with a burst each 5 s, as `data/brute.py` counts the work of.
pub(crate) fn full_size_coin() -> Family {
    let model = coin(0.225 * 3600.0, 2e-4, 1800.0);
    direct(model, bypass(), vec![module(0.011)], vec![report(3.2e-3)])
}

/// Rows of one of the tables beside this file that begin with the given fields.
fn rows(text: &'static str, first: &[&str]) -> Vec<Vec<&'static str>> {
    let all = text.lines().map(|line| line.split(',').collect::<Vec<_>>());
    all.filter(|row| row.starts_with(first)).collect()
}

fn number(field: &str) -> f64 {
    let value = field.parse();
    value.unwrap_or_else(|_| panic!("{field} is no number"))
}

/// A life as it was stepped.
#[derive(Debug)]
pub(crate) struct SteppedLife {
    pub(crate) secs: f64,
    pub(crate) cause: &'static str,
    pub(crate) depth: f64,
    pub(crate) coulombs: f64,
    /// Steps that the solver took.
    pub(crate) steps: f64,
}

pub(crate) fn stepped_life(case: &str) -> SteppedLife {
    let rows = rows(include_str!("data/brute.csv"), &[case]);
    let row = rows.first().expect("a row of this case");
    SteppedLife {
        secs: number(row[1]),
        cause: row[2],
        depth: number(row[3]),
        coulombs: number(row[4]),
        steps: number(row[6]),
    }
}

/// The states at the start of a burst, and the lowest rail in it.
#[derive(Debug)]
pub(crate) struct SteppedBurst {
    /// At which share of the life; `reset` for a burst that makes the load reset.
    pub(crate) share: &'static str,
    pub(crate) cell: CellState,
    pub(crate) lowest_volts: f64,
}

pub(crate) fn stepped_bursts(case: &str) -> Vec<SteppedBurst> {
    let rows = rows(include_str!("data/brute_states.csv"), &[case]).into_iter();
    let bursts = rows.map(|row| SteppedBurst {
        share: row[1],
        cell: CellState {
            depth: number(row[3]),
            imbalance: number(row[4]),
            branch_volts: vec![number(row[5]), number(row[6])],
            aged: 0.0,
            film: 0.0,
        },
        lowest_volts: number(row[10]),
    });
    bursts.collect()
}

/// One instant of a waveform.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sample {
    pub(crate) secs: f64,
    pub(crate) rail_volts: f64,
    pub(crate) cell_amps: f64,
}

/// The waveform that starts from the states of [`stepped_bursts`] of this share; its first instant is
/// the rest before the burst, which begins at 0.
pub(crate) fn stepped_wave(case: &str, share: &str) -> Vec<Sample> {
    let rows = rows(include_str!("data/waveforms.csv"), &[case, share]).into_iter();
    let samples = rows.map(|row| Sample {
        secs: number(row[2]),
        rail_volts: number(row[3]),
        cell_amps: number(row[4]),
    });
    samples.collect()
}

/// What happens by itself in a waveform, with its instant in seconds.
pub(crate) fn stepped_words(case: &str, share: &str) -> Vec<(&'static str, f64)> {
    let rows = rows(include_str!("data/waveforms.csv"), &[case, share]).into_iter();
    let words = rows.filter(|row| !row[5].is_empty() && row[5] != "rest");
    words.map(|row| (row[5], number(row[2]))).collect()
}

/// Steps of the solver for the whole life of [`full_size_coin`].
pub(crate) fn full_size_steps() -> f64 {
    let rows = rows(include_str!("data/brute_work.csv"), &["coin-225mAh"]);
    number(rows.first().expect("a row of this case")[7])
}
