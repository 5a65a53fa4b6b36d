//! Operating points a second, warm, of a board with twelve nets: two cells, a fuse, a transistor, a
//! switch and a step-up/down converter with its divider and a lamp.
//!
//! The figure to reach is 80,000 on one core; the ratio behind each rate is rate over that.
//! Beside them: what a cell says of a test, and a whole fit.

use std::time::{Duration, Instant};

use lastvolt_core::circuit::{CellDrive, Circuit, Figures, Solver};
use lastvolt_core::device::{CellState, Loss, Setpoint, Topology};
use lastvolt_core::fit::{Amount, Duty, FitRequest, Test, Value, fit, predict};
use lastvolt_core::model::{Device, Family, Kind};
use lastvolt_core::progress::Silent;
use lastvolt_core::quantity::{Charge, Fraction, Resistance, Time, Voltage};

use crate::kit::exactly;

#[expect(dead_code, reason = "shared with the tests, which use more of it")]
#[path = "../tests/it/kit.rs"]
mod kit;

#[expect(dead_code, reason = "shared with the tests, which use more of it")]
#[path = "../tests/it/fit/cells.rs"]
mod fit_cells;

/// Warm operating points a second that are to be reached.
const WANTED_A_SECOND: f64 = 80_000.0;
/// Points of one sample: small against the time that other programs get in between.
const POINTS: usize = 200;

fn main() {
    divan::main();
    let family = family();
    let circuit = circuit(&family);
    let mut names = circuit.solver(kit::usual(&family, &["two"]));
    let mut warm = Warm::new(&circuit);
    report("terminals, numbers", || warm.terminals());
    report("cell states, numbers", || warm.states());
    let near = warm.figures.clone();
    report("cell states, with names", || {
        for state in states() {
            divan::black_box(names.point(&state, Some(&near))).expect("a point");
        }
    });
}

/// Two cells of which each solved point moves the depth a little.
fn states() -> impl Iterator<Item = CellDrive> {
    (0..POINTS).map(|k| {
        let cell = CellState {
            depth: 0.2 + 1e-3 * k as f64,
            imbalance: 0.0,
            branch_volts: Vec::new(),
            aged: 0.0,
            film: 0.0,
        };
        CellDrive::States(vec![vec![cell.clone(), cell]])
    })
}

struct Warm<'c, 'f> {
    solver: Solver<'c, 'f>,
    figures: Figures,
}

impl<'c, 'f> Warm<'c, 'f> {
    fn new(circuit: &'c Circuit<'f>) -> Self {
        let situation = kit::usual(circuit.family(), &["two"]);
        let mut warm = Self {
            solver: circuit.solver(situation),
            figures: Figures::default(),
        };
        warm.terminals();
        warm.states();
        warm
    }

    fn terminals(&mut self) {
        for k in 0..POINTS {
            let drive = CellDrive::Terminals(vec![3.0 - 2e-3 * k as f64]);
            let solved = self.solver.follow(&drive, &mut self.figures);
            solved.expect("a point");
        }
    }

    fn states(&mut self) {
        for state in states() {
            let solved = self.solver.follow(&state, &mut self.figures);
            solved.expect("a point");
        }
    }
}

#[divan::bench(sample_count = 200, max_time = 1)]
fn warm_points_from_terminals(bencher: divan::Bencher) {
    let family = family();
    let circuit = circuit(&family);
    let mut warm = Warm::new(&circuit);
    let counter = divan::counter::ItemsCount::new(POINTS);
    bencher.counter(counter).bench_local(|| warm.terminals());
}

#[divan::bench(sample_count = 200, max_time = 1)]
fn warm_points_from_cell_states(bencher: divan::Bencher) {
    let family = family();
    let circuit = circuit(&family);
    let mut warm = Warm::new(&circuit);
    let counter = divan::counter::ItemsCount::new(POINTS);
    bencher.counter(counter).bench_local(|| warm.states());
}

/// A load without a pause, two windows within each other, and short pulses that are leapt over.
#[divan::bench(args = ["continuous", "nested", "leaping"], max_time = 1)]
fn what_a_test_would_read(bencher: divan::Bencher, which: &str) {
    let duty = match which {
        "continuous" => fit_cells::always(fit_cells::ohms(10.0)),
        "nested" => fit_cells::regime(
            &[(fit_cells::ohms(3.9), None)],
            &[(15.0, 60.0), (28_800.0, 86_400.0)],
        ),
        _ => fit_cells::regime(&[(fit_cells::amps(0.02), None)], &[(5.0, 60.0)]),
    };
    let (cell, test) = (fit_cells::round(), timed(which, duty, &[0.9]));
    bencher.bench_local(|| predict(divan::black_box(&cell), &test));
}

/// Eight services of one cell, from a start that is 15 % larger.
#[divan::bench(max_time = 2)]
fn one_fit(bencher: divan::Bencher) {
    let loads = [43.0, 24.0, 10.0, 3.9];
    let mut tests = Vec::new();
    for load in loads {
        let duty = fit_cells::always(fit_cells::ohms(load));
        tests.push(timed("service", duty, &[1.1, 0.9]));
    }
    let cell = fit_cells::round();
    for test in &mut tests {
        let said = predict(&cell, test);
        for (reading, said) in test.readings.iter_mut().zip(said) {
            if let Value::Service { amount, .. } = &mut reading.value {
                *amount = Amount::Time(Time::from_secs(said.value));
            }
        }
    }
    let mut start = cell;
    start.charge = exactly::<Charge>(start.charge.si() * 1.15);
    let request = FitRequest {
        start: &start,
        tests: &tests,
        units: 1,
        descents: 1,
    };
    bencher.bench_local(|| fit(&request, &Silent).expect("a fit"));
}

fn timed(name: &str, duty: Duty, ends: &[f64]) -> Test {
    let time = Amount::Time(Time::from_secs(1.0));
    let values: Vec<Value> = ends.iter().map(|&e| fit_cells::service(e, time)).collect();
    fit_cells::test(name, duty, &values)
}

/// Prints the rate of the best of many short samples.
#[expect(clippy::print_stdout, reason = "a bench prints")]
fn report(what: &str, mut sample: impl FnMut()) {
    let mut best = Duration::MAX;
    for _ in 0..300 {
        #[expect(clippy::disallowed_methods, reason = "a bench has a clock")]
        let start = Instant::now();
        sample();
        best = best.min(start.elapsed());
    }
    let rate = POINTS as f64 / best.as_secs_f64();
    println!(
        "{what}: {rate:.0} warm points a second, {:.2} of what is wanted",
        rate / WANTED_A_SECOND
    );
}

fn circuit(family: &Family) -> Circuit<'_> {
    let circuit = Circuit::new(family, &["two".to_owned()]).expect("the board");
    let nets = circuit.boards()[0].nets.len();
    assert_eq!(nets, 12, "the figure is about twelve nets");
    circuit
}

/// A step-up/down converter with losses typical of its class; from memory.
fn converter() -> Device {
    let mut converter = kit::regulator(
        Topology::BuckBoost,
        Setpoint::Reference(exactly::<Voltage>(0.5)),
    );
    converter.loss = Loss::Share {
        share: exactly::<Fraction>(0.05),
        path: exactly::<Resistance>(0.3),
    };
    Device::Regulator(Box::new(converter))
}

/// Two cells with figures typical of their class; from memory.
fn cells() -> Device {
    let model = kit::cell_model(
        3600.0,
        &[
            (0.0, 1.6),
            (0.05, 1.52),
            (0.5, 1.27),
            (0.95, 1.0),
            (1.0, 0.6),
        ],
        &[(0.0, 0.16), (0.6, 0.19), (0.9, 0.5), (1.0, 1.0)],
    );
    kit::cell(model, 2)
}

/// Figures typical of such boards; from memory.
fn family() -> Family {
    let pins: [(&str, &str); 6] = [
        ("in", "VIN"),
        ("out", "VDD"),
        ("gnd", "GND"),
        ("fb", "FB"),
        ("sw1", "LX1"),
        ("sw2", "LX2"),
    ];
    let position: (&str, &[(usize, usize)]) = ("on", &[(0, 1)]);
    let red = kit::led(&[(1e-3, 1.85), (10e-3, 2.05)]);
    let two = |a: &'static str, b: &'static str| [("a", a), ("b", b)];
    let board = kit::board(
        "two",
        vec![
            (
                "BT1",
                Kind::Cell,
                &[("plus", "BAT"), ("minus", "GND")],
                cells(),
            ),
            (
                "F1",
                Kind::Fuse,
                &[("a", "BAT"), ("b", "FUSED")],
                kit::resistor(0.16),
            ),
            (
                "Q1",
                Kind::PFet,
                &[("drain", "FUSED"), ("source", "BATP"), ("gate", "GATE")],
                kit::p_fet(),
            ),
            (
                "R1",
                Kind::Resistor,
                &two("GATE", "GND"),
                kit::resistor(1e5),
            ),
            (
                "S1",
                Kind::Switch,
                &[("1", "BATP"), ("2", "VIN")],
                kit::switch(&[position]),
            ),
            (
                "L1",
                Kind::Inductor,
                &two("LX1", "LX2"),
                kit::inductor(2.2e-6, 0.085),
            ),
            ("U1", Kind::BuckBoost, &pins, converter()),
            (
                "R2",
                Kind::Resistor,
                &two("VDD", "FB"),
                kit::resistor(2.5e6),
            ),
            ("R3", Kind::Resistor, &two("FB", "GND"), kit::resistor(5e5)),
            (
                "R4",
                Kind::Resistor,
                &two("VDD", "LAMP"),
                kit::resistor(390.0),
            ),
            (
                "D1",
                Kind::Led,
                &[("anode", "LAMP"), ("cathode", "LEDK")],
                red,
            ),
            (
                "R5",
                Kind::Resistor,
                &two("LEDK", "GND"),
                kit::resistor(100.0),
            ),
        ],
    );
    let load = kit::current_load(&[("transmit", 12.5e-3)]);
    kit::family(vec![board], vec![load])
}
