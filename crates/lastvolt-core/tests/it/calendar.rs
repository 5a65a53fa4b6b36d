//! Lives through a year of months, with days and nights, storage before and winters after the end.

use std::collections::BTreeMap;

use lastvolt_core::device::{CellModel, CellTemperature, Diode, WhenOff};
use lastvolt_core::model::{Device, Family, Kind, Months, Task, Window};
use lastvolt_core::numerics::math::{exp, exp2};
use lastvolt_core::progress::Silent;
use lastvolt_core::quantity::{
    Current, Fraction, Rate, Resistance, Temperature, TemperatureDifference, Time, Voltage,
    MONTH_SECS, YEAR_SECS,
};
use lastvolt_core::time::{Calendar, Cause, Climate, Life, LifeRequest, life};

use crate::kit::{
    board, cell, cell_model, current_load, diode, exactly, family, p_fet, resistor,
};
use crate::life::{coin, live, small_cell, step_up, alkaline, task, with_tasks};

/// A year of a cold place, January first.
const COLD: [f64; 12] = [
    -12.0, -9.0, -3.0, 4.0, 11.0, 16.0, 19.0, 17.0, 12.0, 6.0, -1.0, -8.0,
];

fn months(celsius: [f64; 12], start: usize, day_night: f64) -> Months {
    Months {
        celsius,
        start,
        day_night: TemperatureDifference::from_kelvin(day_night),
    }
}

fn live_in(family: &Family, ambient: Climate) -> Life {
    let request = LifeRequest {
        family,
        board: &family.boards[0].name,
        profile: family.profiles.first().map(|p| p.name.as_str()),
        ambient,
        positions: BTreeMap::new(),
    };
    life(&request, &Silent).expect("operating points")
}

fn secs(life: &Life) -> f64 {
    life.life_secs.expect("it ends")
}

fn three(life: &Life) -> (f64, f64, f64) {
    let Calendar {
        first_failure_secs,
        below_need_secs,
        permanent_end_secs,
    } = life.calendar.expect("a calendar");
    (
        first_failure_secs.expect("it fails"),
        below_need_secs,
        permanent_end_secs.expect("it ends"),
    )
}

/// The small coin cell with its resistance four times as high at -20 degC.
fn cold_cell(coulombs: f64) -> CellModel {
    let mut model = small_cell(coulombs);
    model.temperature = Some(CellTemperature {
        celsius: vec![-20.0, 0.0, 20.0, 45.0],
        resistance: vec![6.0, 2.2, 1.0, 0.8],
        rate: vec![0.1, 0.5, 1.0, 2.0],
        polarisation: vec![vec![8.0, 2.5, 1.0, 0.7], vec![12.0, 3.0, 1.0, 0.6]],
    });
    model.self_discharge = Rate::from_per_sec(0.03 / YEAR_SECS);
    model.ageing = Rate::from_per_sec(0.04 / YEAR_SECS);
    model
}

/// A load of one current straight on the cell, with a resistor beside it.
fn steady_load(model: CellModel, amps: f64) -> Family {
    let mut family = coin(model);
    family.loads = vec![current_load(&[("run", amps)])];
    family
}

fn windowed(mut task: Task, hours: u64) -> Task {
    task.within = Some(Window {
        every_ns: 86_400 * 1_000_000_000,
        open_ns: hours * 3_600 * 1_000_000_000,
    });
    task
}

/// Twelve equal months without a difference of day and night are no calendar at all.
#[test]
fn law_equal_months_are_the_life_without_a_calendar() {
    let listen = windowed(task("listen", 60.0, &[(0.04, "transmit")]), 8);
    for tasks in [vec![], vec![listen]] {
        let family = with_tasks(coin(cold_cell(60.0)), tasks);
        let same = months([8.0; 12], 3, 0.0);
        let calendar = live_in(&family, Climate::Calendar(&same));
        let steady = live_in(&family, Temperature::from_celsius(8.0).into());
        assert_eq!(calendar.life_secs, steady.life_secs);
        assert_eq!(calendar.ledger, steady.ledger);
        assert_eq!(calendar.trace, steady.trace);
        let (first, below, end) = three(&calendar);
        assert!(first <= end && below <= end - first, "{first} {below} {end}");
        assert_eq!(steady.calendar, None);
    }
}

/// What a plain walk through the calendar finds.
struct Walk {
    first: f64,
    below: f64,
    end: f64,
}

/// The equations of the cell, written again with explicit steps of `step` seconds: a current of `amps`
/// and a resistor of 2.2 Mohm straight on the cell, and a need of 2 V.
fn walk(model: &CellModel, months: &Months, amps: f64, step: f64) -> Walk {
    let (c, q) = (model.available(), model.charge.typ.as_coulombs());
    let half = months.day_night.as_kelvin() / 2.0;
    let (mut d, mut s, mut aged, mut v) = (0.0, 0.0, 0.0, vec![0.0; model.polarisation.len()]);
    let mut found = Walk {
        first: f64::NAN,
        below: 0.0,
        end: f64::NAN,
    };
    let mut below = 0.0;
    let mut k = 0_u32;
    loop {
        let t = f64::from(k) * step;
        let celsius_at = |t: f64| {
            let month = (t / MONTH_SECS).floor() as usize + months.start;
            let is_night = (t / 86_400.0).fract() < 0.5;
            months.celsius[month % 12] + if is_night { -half } else { half }
        };
        let celsius = celsius_at(t + step / 2.0);
        let at = |d: f64, s: f64, v: &[f64]| {
            let x = model.surface(d, s);
            let ohms = model.resistance_ohms(x, celsius, aged);
            let open = model.open_circuit_volts(x).0 - v.iter().sum::<f64>();
            // The load's current falls with the voltage only far below its need.
            let volts = (open - ohms * amps) / (1.0 + ohms / 2.2e6);
            (volts, amps + volts / 2.2e6, ohms)
        };
        let (volts, drawn, ohms) = at(d, s, &v);
        if volts < 2.0 {
            if found.first.is_nan() {
                (found.first, found.end) = (t, t);
            } else {
                below += step;
            }
        } else if !found.first.is_nan() {
            (found.below, found.end) = (below, t);
        }
        if t - found.end > 1.1 * YEAR_SECS || t > 40.0 * YEAR_SECS {
            return found;
        }
        let own = model.self_discharge_per_sec(celsius);
        d += step * (drawn / q + own);
        let rate = model.rate_per_sec(celsius);
        let level = drawn / (c * q * rate);
        s = level + (s - level) * exp(-rate * step);
        for (n, (volts, branch)) in v.iter_mut().zip(&model.polarisation).enumerate() {
            let level = model.branch_ratio(n, celsius) * ohms * drawn;
            *volts = level + (*volts - level) * exp(-step / branch.time.as_secs());
        }
        aged += step * model.ageing.as_per_sec() * exp2((celsius - 20.0) / 10.0);
        k += 1;
    }
}

/// Leaps over days, months without days and explicit steps of a quarter of an hour agree.
#[test]
fn ref_plain_steps_through_months_and_days() {
    for (day_night, start, amps) in [(10.0, 9, 3e-3), (0.0, 2, 4e-3), (14.0, 5, 2e-3)] {
        let model = cold_cell(amps * 2.6 * YEAR_SECS);
        let year = months(COLD, start, day_night);
        let found = live_in(&steady_load(model.clone(), amps), Climate::Calendar(&year));
        let stepped = walk(&model, &year, amps, 900.0);
        let (first, below, end) = three(&found);
        assert!(found.ledger_error < 1e-6, "{}", found.ledger_error);
        assert!(found.points_solved <= 2000, "{}", found.points_solved);
        // The walk knows its instants to a step, and drains as a load of one current below its need.
        let close = |a: f64, b: f64| (a - b).abs() < 0.003 * b + 2.0 * 86_400.0;
        println!("{day_night} {first} {below} {end} against {} {} {} points {}", stepped.first, stepped.below, stepped.end, found.points_solved);
        assert!(
            (first - stepped.first).abs() <= found.error_secs + 1800.0,
            "{first} against {}, stated {}",
            stepped.first,
            found.error_secs
        );
        assert!(close(end, stepped.end), "{end} against {}", stepped.end);
        assert!(close(below, stepped.below), "{below} against {}", stepped.below);
    }
}
