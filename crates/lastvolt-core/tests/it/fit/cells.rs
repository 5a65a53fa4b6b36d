//! The cells of `data/fit.py` and short ways to write tests of them.

use lastvolt_core::device::{Activation, Branch, CellModel, CellTemperature, Film, Wells};
use lastvolt_core::fit::{Amount, At, Demand, Drive, Duty, Reading, Step, Test, Value, Window};
use lastvolt_core::quantity::{
    Charge, Current, Fraction, Power, Rate, Resistance, Temperature, Time, Voltage, YEAR_SECS,
};

use crate::kit::{cell_model, exactly};

fn branches(all: &[(f64, f64)]) -> Vec<Branch> {
    let branch = |&(ratio, secs)| Branch {
        ratio,
        time: Time::from_secs(secs),
    };
    all.iter().map(branch).collect()
}

fn wells(available: f64, per_sec: f64) -> Option<Wells> {
    Some(Wells {
        available: exactly::<Fraction>(available),
        rate: exactly::<Rate>(per_sec),
    })
}

fn per_year(share: f64) -> Rate {
    Rate::from_per_sec(share / YEAR_SECS)
}

/// A round cell with everything but a film.
pub(crate) fn round() -> CellModel {
    let open = [
        (0.0, 1.60),
        (0.05, 1.52),
        (0.3, 1.35),
        (0.6, 1.24),
        (0.85, 1.12),
        (0.95, 1.0),
        (1.0, 0.7),
    ];
    let ohms = [
        (0.0, 0.10),
        (0.5, 0.13),
        (0.8, 0.2),
        (0.95, 0.5),
        (1.0, 1.0),
    ];
    CellModel {
        wells: wells(0.6, 4e-5),
        polarisation: branches(&[(0.6, 20.0), (0.9, 900.0), (1.2, 20_000.0)]),
        activation: Some(Activation {
            volts: Voltage::from_volts(0.02),
            current: Current::from_amps(0.05),
        }),
        temperature: Some(CellTemperature {
            celsius: vec![-20.0, 0.0, 20.0, 40.0],
            resistance: vec![4.0, 1.8, 1.0, 0.8],
            rate: vec![0.2, 0.5, 1.0, 1.5],
            polarisation: vec![
                vec![5.0, 2.0, 1.0, 0.7],
                vec![3.0, 1.6, 1.0, 0.9],
                vec![6.0, 2.5, 1.0, 0.6],
            ],
            open_circuit: vec![-0.06, -0.03, 0.0, 0.01],
        }),
        self_discharge: per_year(0.03),
        ageing: per_year(0.15),
        ..cell_model(9000.0, &open, &ohms)
    }
}

/// A coin cell with a slow branch.
pub(crate) fn coin() -> CellModel {
    let open = [
        (0.0, 3.25),
        (0.04, 3.08),
        (0.5, 2.98),
        (0.85, 2.85),
        (0.95, 2.6),
        (1.0, 2.2),
    ];
    let ohms = [(0.0, 12.0), (0.6, 16.0), (0.9, 40.0), (1.0, 90.0)];
    CellModel {
        wells: wells(0.75, 1e-5),
        polarisation: branches(&[(0.8, 2.0), (1.5, 300.0), (4.0, 30_000.0)]),
        self_discharge: per_year(0.01),
        ageing: per_year(0.1),
        ..cell_model(820.0, &open, &ohms)
    }
}

/// A cell with a film.
pub(crate) fn filmed() -> CellModel {
    let open = [(0.0, 3.67), (0.9, 3.6), (0.97, 3.4), (1.0, 2.9)];
    CellModel {
        polarisation: branches(&[(1.0, 60.0)]),
        film: Some(Film {
            resistance: Resistance::from_ohms(60.0),
            growth: Time::from_secs(3.0 * 86_400.0),
            burn_off: Charge::from_coulombs(2.0),
        }),
        self_discharge: per_year(0.01),
        ..cell_model(430.0, &open, &[(0.0, 9.0), (0.8, 12.0), (1.0, 40.0)])
    }
}

/// A cell whose voltage is still high where its charge ends.
pub(crate) fn steep() -> CellModel {
    let open = [(0.0, 3.0), (0.5, 2.9), (1.0, 2.6)];
    cell_model(100.0, &open, &[(0.0, 20.0), (1.0, 20.0)])
}

pub(crate) fn amps(value: f64) -> Demand {
    Demand::Current(Current::from_amps(value))
}

pub(crate) fn ohms(value: f64) -> Demand {
    Demand::Resistance(Resistance::from_ohms(value))
}

pub(crate) fn watts(value: f64) -> Demand {
    Demand::Power(Power::from_watts(value))
}

/// A load without a pause.
pub(crate) fn always(demand: Demand) -> Duty {
    regime(&[(demand, None)], &[])
}

/// Steps and the windows in which they run, inner to outer, as (on, every).
pub(crate) fn regime(steps: &[(Demand, Option<f64>)], windows: &[(f64, f64)]) -> Duty {
    let step = |&(demand, secs): &(Demand, Option<f64>)| Step {
        demand,
        span: secs.map(Time::from_secs),
    };
    let window = |&(on, every)| Window {
        on: Time::from_secs(on),
        every: Time::from_secs(every),
    };
    Duty {
        steps: steps.iter().map(step).collect(),
        windows: windows.iter().map(window).collect(),
    }
}

/// A test at 20 degC from fresh on unit 0.
pub(crate) fn test(name: &str, duty: Duty, values: &[Value]) -> Test {
    let reading = |&value| Reading {
        value,
        sigma: 0.01,
        fitted: true,
    };
    Test {
        name: name.to_owned(),
        unit: 0,
        ambient: Temperature::from_celsius(20.0),
        age: Time::from_secs(0.0),
        loses: true,
        drive: Drive::Duty(duty),
        readings: values.iter().map(reading).collect(),
    }
}

/// What was given down to a voltage.
pub(crate) fn service(end: f64, amount: Amount) -> Value {
    Value::Service {
        end: Voltage::from_volts(end),
        amount,
    }
}

/// A loaded voltage.
pub(crate) fn loaded(at: At, volts: f64) -> Value {
    Value::Volts {
        at,
        volts: Voltage::from_volts(volts),
    }
}
