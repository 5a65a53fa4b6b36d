//! Models found again from readings that a known model made.

use std::sync::atomic::{AtomicUsize, Ordering};

use lastvolt_core::device::{CellModel, CellTemperature};
use lastvolt_core::fit::{
    Amount, At, Comparison, FitRequest, Fitted, NoFit, Pinned, Property, Test, Value, fit, predict,
};
use lastvolt_core::numerics::table::Table;
use lastvolt_core::progress::{Progress, Silent};
use lastvolt_core::quantity::{Charge, Fraction, Rate, Temperature, Time, Voltage};

use super::cells::{always, amps, loaded, ohms, regime, round, service, test, watts};
use crate::kit::exactly;
use crate::netlist::assert_close;

/// The cell that a fit starts from: no activation, film or temperature, so that little is to be turned.
fn start() -> CellModel {
    let mut model = round();
    model.activation = None;
    model.temperature = None;
    model.polarisation.truncate(2);
    model
}

/// Numbers between -1 and 1 that are the same in every run: a linear congruential sequence with the
/// multiplier of D. E. Knuth, "The Art of Computer Programming", volume 2.
struct Sequence(u64);

impl Sequence {
    fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
    }

    /// About normal, with a standard deviation of 1: twelve even ones.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.next() / 2.0).sum()
    }
}

/// A cell that differs from the start in everything, by up to `by` of what a knob is expected to turn.
fn hidden(by: f64, numbers: &mut Sequence) -> CellModel {
    let mut turn = |width: f64| libm::exp(by * width * numbers.next());
    let mut cell = start();
    cell.charge = exactly::<Charge>(cell.charge.si() * turn(0.25));
    let factor = turn(0.5);
    let points = cell.resistance.points();
    let ohms: Vec<_> = points.map(|(x, y)| (x, y * factor * turn(0.3))).collect();
    cell.resistance = Table::new(&ohms).expect("rising");
    let mut open: Vec<_> = cell.open_circuit.points().collect();
    let mut before = open[0].1;
    for k in 1..open.len() {
        let fall = before - open[k].1;
        before = open[k].1;
        open[k].1 = open[k - 1].1 - fall * turn(0.3);
    }
    cell.open_circuit = Table::new(&open).expect("rising");
    if let Some(wells) = &mut cell.wells {
        wells.rate = exactly::<Rate>(wells.rate.si() * turn(0.8));
        wells.available = exactly::<Fraction>(wells.available.si() * turn(0.15));
    }
    for branch in &mut cell.polarisation {
        branch.ratio *= turn(0.6);
        branch.time = Time::from_secs(branch.time.as_secs() * turn(0.5));
    }
    cell
}

/// A dozen and more services and two curves, the last three held back, without figures.
fn asked() -> Vec<Test> {
    let time = |end| service(end, Amount::Time(Time::from_secs(1.0)));
    let curve = |end: f64| {
        let shares = [0.02, 0.1, 0.25, 0.4, 0.55, 0.7, 0.85, 0.95];
        let end = Voltage::from_volts(end);
        shares.map(|share| loaded(At::Share { share, end }, end.as_volts()))
    };
    let on = |demand| [(demand, None)];
    let hourly = [(240.0, 3600.0), (28_800.0, 86_400.0)];
    let mut tests = vec![
        test(
            "43 ohm",
            always(ohms(43.0)),
            &[time(1.2), time(1.0), time(0.9)],
        ),
        test("10 ohm", always(ohms(10.0)), &[time(1.2), time(0.9)]),
        test("3.9 ohm", always(ohms(3.9)), &[time(1.1), time(0.8)]),
        test("25 mA", always(amps(25e-3)), &curve(0.9)),
        test("250 mA", always(amps(0.25)), &curve(0.9)),
        test("1 A", always(amps(1.0)), &[time(0.9)]),
        test(
            "hourly",
            regime(&on(ohms(3.9)), &hourly),
            &[time(1.1), time(0.9)],
        ),
        test(
            "1 h a day",
            regime(&on(amps(0.1)), &[(3600.0, 86_400.0)]),
            &[time(0.9)],
        ),
        test("0.5 W", always(watts(0.5)), &[time(0.9)]),
    ];
    let mut back = vec![
        test("24 ohm", always(ohms(24.0)), &[time(1.0)]),
        test(
            "5.1 ohm by hours",
            regime(&on(ohms(5.1)), &[(3600.0, 43_200.0)]),
            &[time(0.9)],
        ),
        test("0.4 A", always(amps(0.4)), &[time(0.9)]),
        test("0.25 W", always(watts(0.25)), &[time(1.0)]),
    ];
    for test in &mut back {
        test.readings[0].fitted = false;
    }
    tests.append(&mut back);
    tests
}

/// The tests with what each unit's model says as their figures, off by a share of `noise`.
fn made(units: &[CellModel], noise: f64, numbers: &mut Sequence) -> Vec<Test> {
    let mut all = Vec::new();
    for (unit, model) in units.iter().enumerate() {
        for mut test in asked() {
            test.unit = unit;
            let said = predict(model, &test);
            for (reading, said) in test.readings.iter_mut().zip(said) {
                let by = noise * numbers.normal();
                let share = matches!(reading.value, Value::Service { .. });
                // A voltage is off by a tenth of what an amount is.
                reading.sigma = noise.max(0.002) * if share { 1.0 } else { 0.1 };
                reading.value =
                    figure(reading.value, said.value, if share { by } else { 0.1 * by });
            }
            all.push(test);
        }
    }
    all
}

/// A reading with another figure: an amount times `e^by`, a voltage and `by`.
fn figure(value: Value, said: f64, by: f64) -> Value {
    match value {
        Value::Service { end, .. } => Value::Service {
            end,
            amount: Amount::Time(Time::from_secs(said * libm::exp(by))),
        },
        Value::Volts { at, .. } => Value::Volts {
            at,
            volts: Voltage::from_volts(said + by),
        },
        other => other,
    }
}

fn fitted(tests: &[Test], units: usize) -> Fitted {
    let request = FitRequest {
        start: &start(),
        tests,
        units,
        descents: 1,
    };
    fit(&request, &Silent).expect("a fit")
}

fn pinned(fitted: &Fitted, property: Property) -> &Pinned {
    let found = fitted.pinned.iter().find(|p| p.property == property);
    found.expect("a property of the model")
}

fn within(value: f64, limits: (f64, f64)) -> bool {
    limits.0 <= value && value <= limits.1
}

fn held_back(fitted: &Fitted) -> impl Iterator<Item = &Comparison> {
    fitted.comparisons.iter().filter(|c| !c.fitted)
}

#[test]
fn a_cell_is_found_again_from_exact_readings() {
    for seed in 1..4 {
        let mut numbers = Sequence(seed);
        let cell = hidden(1.0, &mut numbers);
        let found = fitted(&made(std::slice::from_ref(&cell), 0.0, &mut numbers), 1);
        let charge = pinned(&found, Property::Charge);
        for back in held_back(&found) {
            assert_close(back.said, back.measured, 0.01);
        }
        assert!(within(cell.charge.si(), charge.limits));
        assert!(charge.is_told());
    }
}

#[test]
fn intervals_cover_what_was_held_back() {
    let (mut covered, mut all, mut widths) = (0, 0, 0.0);
    for seed in 1..11 {
        let mut numbers = Sequence(seed);
        let cell = hidden(1.0, &mut numbers);
        let found = fitted(&made(&[cell], 0.02, &mut numbers), 1);
        for back in held_back(&found) {
            covered += usize::from(within(back.measured, back.limits));
            all += 1;
            widths += back.limits.1 / back.said - 1.0;
        }
    }
    assert!(covered * 10 >= all * 8, "{covered} of {all}");
    let width = widths / f64::from(u32::try_from(all).expect("few"));
    assert!(width < 0.12, "half the interval is {width} in the mean");
}

/// All tests are at 20 degC, so nothing is said about the cold, and the rest is.
#[test]
fn what_no_test_says_is_not_told() {
    let mut numbers = Sequence(5);
    let cell = hidden(1.0, &mut numbers);
    let tests = made(&[cell], 0.01, &mut numbers);
    let cold = CellModel {
        temperature: round().temperature,
        ..start()
    };
    let request = FitRequest {
        start: &cold,
        tests: &tests,
        units: 1,
        descents: 1,
    };
    let found = fit(&request, &Silent).expect("a fit");
    for celsius in [-20.0, 0.0, 40.0] {
        for property in [
            Property::ResistanceAt(celsius),
            Property::RateAt(celsius),
            Property::ShiftAt(celsius),
            Property::BranchAt(0, celsius),
        ] {
            let pinned = pinned(&found, property);
            assert!(!pinned.is_told(), "{pinned:?}");
            // What is not told stays as the start had it.
            let (low, high) = pinned.limits;
            assert!(low < pinned.value && pinned.value < high, "{pinned:?}");
        }
    }
    assert_eq!(found.model.temperature, Some(shifted(&cold)));
    assert!(pinned(&found, Property::Charge).is_told());
    // Once a test is in the cold, its resistance is told and that of the warm is still not.
    let mut colder = tests.clone();
    for n in [1, 2] {
        let mut frozen = tests[n].clone();
        frozen.ambient = Temperature::from_celsius(-20.0);
        let said = predict(&cold, &frozen);
        for (reading, said) in frozen.readings.iter_mut().zip(said) {
            reading.value = figure(reading.value, said.value, 0.0);
        }
        colder.push(frozen);
    }
    let request = FitRequest {
        tests: &colder,
        ..request
    };
    let found = fit(&request, &Silent).expect("a fit");
    assert!(pinned(&found, Property::ResistanceAt(-20.0)).is_told());
    assert!(!pinned(&found, Property::ResistanceAt(40.0)).is_told());
}

/// The temperature factors of a cell.
fn shifted(cell: &CellModel) -> CellTemperature {
    cell.temperature.clone().expect("factors")
}

#[test]
fn two_units_with_charges_apart_are_told_apart() {
    let mut numbers = Sequence(7);
    let one = hidden(0.7, &mut numbers);
    let mut two = one.clone();
    two.charge = exactly::<Charge>(one.charge.si() * 1.1);
    let tests = made(&[one.clone(), two.clone()], 0.01, &mut numbers);
    let found = fitted(&tests, 2);
    let charge = |k: usize| found.units[k].charge.si();
    assert_close(charge(1) / charge(0), 1.1, 0.015);
    assert_close(charge(0), one.charge.si(), 0.05);
    assert_close(charge(1), two.charge.si(), 0.05);
    let between = found.model.charge.si();
    assert!(charge(0) < between && between < charge(1), "{between}");
}

#[test]
fn a_fit_is_the_same_in_every_run_and_on_one_thread() {
    let mut numbers = Sequence(3);
    let cell = hidden(1.0, &mut numbers);
    let tests = made(&[cell], 0.02, &mut numbers);
    let request = FitRequest {
        start: &start(),
        tests: &tests,
        units: 1,
        descents: 3,
    };
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        let found = pool.expect("threads").install(|| fit(&request, &Silent));
        found.expect("a fit")
    };
    let first = on(1);
    assert_eq!(first.costs.len(), 3);
    assert!(first.costs.is_sorted(), "{:?}", first.costs);
    // Debug prints every bit of a float.
    let print = format!("{first:?}");
    for threads in [1, 2, 5] {
        assert_eq!(format!("{:?}", on(threads)), print, "{threads} threads");
    }
}

#[test]
fn why_there_is_no_fit() {
    let mut numbers = Sequence(1);
    let tests = made(&[start()], 0.0, &mut numbers);
    let many = CellModel {
        polarisation: vec![start().polarisation[0]; 9],
        ..start()
    };
    let asked = |start: &CellModel, tests: &[Test], progress: &dyn Progress| {
        let request = FitRequest {
            start,
            tests,
            units: 1,
            descents: 2,
        };
        fit(&request, progress).map(|f| f.costs)
    };
    let held_back = &tests[tests.len() - 1..];
    assert_eq!(asked(&start(), &[], &Silent), Err(NoFit::NothingRead));
    assert_eq!(asked(&start(), held_back, &Silent), Err(NoFit::NothingRead));
    let most = NoFit::TooManyBranches { most: 8 };
    assert_eq!(asked(&many, &tests, &Silent), Err(most));
    for after in [0, 1, 3] {
        let impatient = Impatient {
            left: AtomicUsize::new(after),
        };
        assert_eq!(asked(&start(), &tests, &impatient), Err(NoFit::Cancelled));
    }
}

/// Stops after it was told so many times how far the work is.
struct Impatient {
    left: AtomicUsize,
}

impl Progress for Impatient {
    fn at(&self, _: f64) {
        let less = |left: usize| Some(left.saturating_sub(1));
        let _ = self
            .left
            .fetch_update(Ordering::Relaxed, Ordering::Relaxed, less);
    }

    fn cancelled(&self) -> bool {
        self.left.load(Ordering::Relaxed) == 0
    }
}
