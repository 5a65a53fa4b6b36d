//! What a followed cell gives and shows, against every window stepped by scipy 1.17 (`data/fit.py`,
//! values as it printed them beside it).

use lastvolt_core::device::CellModel;
use lastvolt_core::fit::{
    Amount, At, Drive, Duty, LogPoint, Prediction, Reading, Step, Test, Value, predict,
};
use lastvolt_core::quantity::{Charge, Current, Resistance, Temperature, Time, Voltage, YEAR_SECS};

use super::cells::{
    always, amps, coin, filmed, loaded, ohms, regime, round, service, steep, test, watts,
};

/// Largest difference of what was given, as a share, and of a voltage.
const SHARE: f64 = 0.002;
const VOLTS: f64 = 2e-3;
const HOUR: f64 = 3600.0;
const DAY: f64 = 86_400.0;

/// What, where and value of the rows of a case.
fn rows(case: &str) -> Vec<(&'static str, Vec<f64>, f64)> {
    let own = include_str!("../data/fit.csv").lines();
    let own = own.filter_map(|row| row.strip_prefix(case)?.strip_prefix(','));
    let number = |n: &str| n.parse::<f64>().expect("a number");
    own.map(|row| {
        let cells: Vec<&str> = row.split(',').collect();
        let place = cells[1].split(';').map(number).collect();
        (cells[0], place, number(cells[2]))
    })
    .collect()
}

fn value_of((what, at, value): &(&str, Vec<f64>, f64)) -> Value {
    let charge = Charge::from_coulombs;
    match *what {
        "time" => service(at[0], Amount::Time(Time::from_secs(*value))),
        "charge" => service(at[0], Amount::Charge(charge(*value))),
        "count" => service(at[0], Amount::Count(*value)),
        "at_time" => loaded(At::Time(Time::from_secs(at[0])), *value),
        "at_charge" => loaded(At::Charge(charge(at[0])), *value),
        "at_share" => {
            let end = Voltage::from_volts(at[1]);
            loaded(At::Share { share: at[0], end }, *value)
        }
        "rest" => Value::Rest {
            at: At::Charge(charge(at[0])),
            volts: Voltage::from_volts(*value),
        },
        "pulse" => Value::Pulse {
            at: At::Charge(charge(at[0])),
            pulse: pulse(at),
            volts: Voltage::from_volts(*value),
        },
        "ohms" => Value::Resistance {
            at: At::Charge(charge(at[0])),
            pulse: pulse(at),
            resistance: Resistance::from_ohms(*value),
        },
        _ => panic!("{what} is not known"),
    }
}

fn pulse(at: &[f64]) -> Step {
    Step {
        demand: amps(at[1]),
        span: Some(Time::from_secs(at[2])),
    }
}

/// What was asked of a case and by how much it is missed: a share, or volts.
fn missed(
    case: &str,
    model: &CellModel,
    change: impl FnOnce(&mut Test),
    duty: Duty,
) -> Vec<String> {
    let rows = rows(case);
    assert!(!rows.is_empty(), "no rows of {case}");
    let values: Vec<Value> = rows.iter().map(value_of).collect();
    let mut test = test(case, duty, &values);
    change(&mut test);
    let said = predict(model, &test);
    let beyond = |(row, said): (&(&str, Vec<f64>, f64), &Prediction)| {
        let (what, at, value) = row;
        let ratio = matches!(*what, "time" | "charge" | "count" | "ohms");
        let (off, most) = if ratio {
            (said.value / value - 1.0, SHARE)
        } else {
            (said.value - value, VOLTS)
        };
        (off.abs() > most).then(|| {
            format!(
                "{case} {what} {at:?}: {} for {value}, {off:+.5}",
                said.value
            )
        })
    };
    rows.iter().zip(&said).filter_map(beyond).collect()
}

fn holds(case: &str, model: &CellModel, change: impl FnOnce(&mut Test), duty: Duty) {
    let missed = missed(case, model, change, duty);
    assert!(missed.is_empty(), "{missed:#?}");
}

fn fresh(_: &mut Test) {}

fn aged(years: f64) -> impl FnOnce(&mut Test) {
    move |test| test.age = Time::from_secs(years * YEAR_SECS)
}

fn at_celsius(celsius: f64) -> impl FnOnce(&mut Test) {
    move |test| test.ambient = Temperature::from_celsius(celsius)
}

#[test]
fn ref_scipy_loads_without_a_pause() {
    holds("resistance", &round(), fresh, always(ohms(10.0)));
    holds("current", &round(), fresh, always(amps(0.5)));
    holds("heavy", &round(), fresh, always(amps(1.5)));
    holds("light", &round(), fresh, always(amps(5e-3)));
    holds("power", &round(), fresh, always(watts(0.25)));
    holds("long", &coin(), fresh, always(ohms(15e3)));
    holds("cliff", &steep(), fresh, always(amps(1e-3)));
}

/// A power that cannot be given any more ends a test above its voltage.
#[test]
fn ref_scipy_a_power_past_its_fold() {
    holds("fold", &round(), fresh, always(watts(1.5)));
}

#[test]
fn ref_scipy_regimes_of_minutes_and_hours() {
    let daily = (8.0 * HOUR, DAY);
    let on = |demand| [(demand, None)];
    let short = regime(&on(ohms(3.9)), &[(15.0, 60.0), daily]);
    holds("minutes", &round(), fresh, short);
    let hourly = regime(&on(ohms(3.9)), &[(240.0, HOUR), daily]);
    holds("hours", &round(), fresh, hourly);
    let halves = regime(&on(amps(0.1)), &[(HOUR, 12.0 * HOUR)]);
    holds("halves", &round(), fresh, halves);
    let toy = regime(&on(ohms(3.9)), &[(HOUR, DAY)]);
    holds("toy", &round(), fresh, toy);
}

#[test]
fn ref_scipy_steps_that_are_counted() {
    let pulse = [(watts(1.5), Some(2.0)), (watts(0.65), Some(28.0))];
    holds("camera", &round(), fresh, regime(&pulse, &[(300.0, HOUR)]));
    let steps = [(ohms(6.0), Some(5.0)), (amps(0.02), Some(55.0))];
    holds("always", &round(), fresh, regime(&steps, &[]));
}

#[test]
fn ref_scipy_pulses_that_are_leapt_over() {
    let ticks = regime(&[(amps(10e-3), None)], &[(5.0, 60.0)]);
    holds("ticks", &coin(), fresh, ticks);
    let pulses = regime(&[(amps(5e-3), None)], &[(5.0, 60.0)]);
    holds("cliffpulse", &steep(), fresh, pulses);
}

#[test]
fn ref_scipy_cold_and_warm() {
    holds("freezing", &round(), at_celsius(-12.0), always(ohms(10.0)));
    let hourly = regime(&[(watts(0.4), None)], &[(240.0, HOUR)]);
    holds("warm", &round(), at_celsius(35.0), hourly);
}

#[test]
fn ref_scipy_a_film_under_pulses() {
    let often = regime(&[(amps(8e-3), None)], &[(10.0, 600.0)]);
    holds("film", &filmed(), fresh, often);
    let daily = regime(&[(ohms(330.0), None)], &[(120.0, DAY)]);
    holds("filmday", &filmed(), at_celsius(25.0), daily);
}

#[test]
fn ref_scipy_aged_cells() {
    holds("aged", &round(), aged(5.0), always(ohms(5.1)));
    let pulses = regime(&[(amps(6.8e-3), None)], &[(15.0, 60.0)]);
    holds("agedcoin", &coin(), aged(8.0), pulses);
}

#[test]
fn ref_scipy_rested_cells() {
    let rested = |test: &mut Test| {
        test.drive = Drive::Rest;
        test.ambient = Temperature::from_celsius(5.0);
        test.age = Time::from_secs(YEAR_SECS);
    };
    holds("rested", &round(), rested, always(amps(1.0)));
}

/// The voltage at each point of a log whose current changes.
#[test]
fn ref_scipy_a_log() {
    let lines = include_str!("../data/fit.csv").lines();
    let lines = lines.filter_map(|row| row.strip_prefix("log,"));
    let points: Vec<LogPoint> = lines
        .map(|row| {
            let n: Vec<f64> = row
                .split(',')
                .map(|n| n.parse().expect("a number"))
                .collect();
            LogPoint {
                time: Time::from_secs(n[0]),
                amps: Current::from_amps(n[1]),
                volts: Voltage::from_volts(n[2]),
            }
        })
        .collect();
    assert!(points.len() > 10);
    let log = Test {
        drive: Drive::Log(points.clone()),
        readings: Vec::<Reading>::new(),
        ..test("log", always(amps(0.0)), &[])
    };
    let said = predict(&round(), &log);
    let off: Vec<f64> = points
        .iter()
        .zip(&said)
        .map(|(p, s)| s.value - p.volts.as_volts())
        .collect();
    assert_eq!(off.len(), points.len());
    assert!(off.iter().all(|v| v.abs() < VOLTS), "{off:?}");
}
