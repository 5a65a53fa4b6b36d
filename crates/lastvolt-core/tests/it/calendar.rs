//! Lives through a year of months, with days and nights, storage before and winters after the end.

use std::collections::BTreeMap;

use lastvolt_core::device::{CellModel, CellTemperature, Diode};
use lastvolt_core::model::{Device, Family, Kind, Months, Task, Window};
use lastvolt_core::numerics::math::{exp, exp2};
use lastvolt_core::progress::Silent;
use lastvolt_core::quantity::{
    Current, MONTH_SECS, Rate, Temperature, TemperatureDifference, Time, Voltage, YEAR_SECS,
};
use lastvolt_core::time::{Bursts, Calendar, Cause, Climate, Life, LifeRequest, life};

use crate::kit::{board, cell, cell_model, current_load, diode, exactly, family, p_fet, resistor};
use crate::life::{alkaline, coin, small_cell, step_up, task, with_tasks};

/// A year of a cold place, January first.
const COLD: [f64; 12] = [
    -12.0, -9.0, -3.0, 4.0, 11.0, 16.0, 19.0, 17.0, 12.0, 6.0, -1.0, -8.0,
];

pub(crate) fn months(celsius: [f64; 12], start: usize, day_night: f64) -> Months {
    Months {
        celsius,
        start,
        day_night: TemperatureDifference::from_kelvin(day_night),
    }
}

pub(crate) fn live_in(family: &Family, ambient: Climate) -> Life {
    let request = LifeRequest {
        family,
        board: &family.boards[0].name,
        profile: family.profiles.first().map(|p| p.name.as_str()),
        ambient,
        bursts: Bursts::Followed,
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
        open_circuit: Vec::new(),
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
        assert!(
            first <= end && below <= end - first,
            "{first} {below} {end}"
        );
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
            let open =
                model.open_circuit_volts(x).0 + model.shift_volts(celsius) - v.iter().sum::<f64>();
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
        assert!(
            (first - stepped.first).abs() <= found.error_secs + 1800.0,
            "{first} against {}, stated {}",
            stepped.first,
            found.error_secs
        );
        assert!(close(end, stepped.end), "{end} against {}", stepped.end);
        assert!(
            close(below, stepped.below),
            "{below} against {}",
            stepped.below
        );
    }
}

/// The same walk with an open-circuit voltage that the frost lowers.
#[test]
fn ref_plain_steps_with_a_voltage_that_shifts() {
    let amps = 3e-3;
    let mut model = cold_cell(amps * 2.6 * YEAR_SECS);
    let year = months(COLD, 9, 10.0);
    let plain = live_in(&steady_load(model.clone(), amps), Climate::Calendar(&year));
    if let Some(temperature) = &mut model.temperature {
        temperature.open_circuit = vec![-0.15, -0.07, 0.0, 0.04];
    }
    let found = live_in(&steady_load(model.clone(), amps), Climate::Calendar(&year));
    let stepped = walk(&model, &year, amps, 900.0);
    assert!(found.ledger_error < 1e-6, "{}", found.ledger_error);
    let first = three(&found).0;
    assert!(
        (first - stepped.first).abs() <= found.error_secs + 1800.0,
        "{first} against {}, stated {}",
        stepped.first,
        found.error_secs
    );
    assert!(first < three(&plain).0 - 86_400.0, "{first}");
}

/// A constant current through a resistance that ages: the net falls below 2 V when
/// `I R (1 + g t_eq) = E - 2`, with t_eq twice as fast per 10 K, month by month.
#[test]
fn ref_ageing_doubles_per_10_k_and_follows_the_calendar() {
    let (emf, ohms, amps, rate) = (3.0, 100.0, 8e-3, 0.2 / YEAR_SECS);
    let mut model = cell_model(1e9, &[(0.0, emf)], &[(0.0, ohms)]);
    model.ageing = Rate::from_per_sec(rate);
    let bat: &[(&str, &str)] = &[("plus", "VDD"), ("minus", "GND")];
    let board = board("coin", vec![("BT1", Kind::Cell, bat, cell(model, 1))]);
    let family = family(vec![board], vec![current_load(&[("run", amps)])]);
    let needed = ((emf - 2.0) / (amps * ohms) - 1.0) / rate;
    for (celsius, factor) in [(10.0, 0.5), (20.0, 1.0), (30.0, 2.0), (45.0, exp2(2.5))] {
        let found = secs(&live_in(&family, Temperature::from_celsius(celsius).into()));
        assert!(
            (found * factor / needed - 1.0).abs() < 1e-6,
            "{celsius}: {found}"
        );
    }
    let year = months(COLD, 4, 12.0);
    let (mut aged, mut t) = (0.0, 0.0);
    for half_day in 0_u32.. {
        // Days are cut by the edges of months only twelve times a year: cut half days in 48.
        for _ in 0..48 {
            let at = t + 450.0;
            let month = (at / MONTH_SECS).floor() as usize + 4;
            let half = if half_day.is_multiple_of(2) {
                -6.0
            } else {
                6.0
            };
            aged += 900.0 * exp2((COLD[month % 12] + half - 20.0) / 10.0);
            t += 900.0;
        }
        if aged > needed {
            break;
        }
    }
    let found = live_in(&family, Climate::Calendar(&year));
    assert_eq!(found.end.cause, Cause::BrownOut);
    assert!(
        (secs(&found) - t).abs() < 43_200.0,
        "{} against {t}",
        secs(&found)
    );
}

/// Self-discharge alone empties a cell: the sum over the months of a rate that doubles per 10 K.
#[test]
fn ref_self_discharge_follows_the_calendar_and_the_shelf() {
    let mut model = cell_model(1e3, &[(0.0, 3.0), (1.0, 2.9)], &[(0.0, 1.0)]);
    model.self_discharge = Rate::from_per_sec(0.1 / YEAR_SECS);
    let bat: &[(&str, &str)] = &[("plus", "VDD"), ("minus", "GND")];
    let board = board("coin", vec![("BT1", Kind::Cell, bat, cell(model, 1))]);
    let mut family = family(vec![board], vec![current_load(&[("off", 0.0)])]);
    let year = months(COLD, 0, 0.0);
    let a_year: f64 = COLD
        .iter()
        .map(|c| exp2((c - 20.0) / 10.0) / 12.0 * 0.1)
        .sum();
    let found = live_in(&family, Climate::Calendar(&year));
    let whole = (1.0 / a_year).floor();
    let mut rest = 1.0 - whole * a_year;
    let mut at = whole * YEAR_SECS;
    for celsius in COLD {
        let month = exp2((celsius - 20.0) / 10.0) / 12.0 * 0.1;
        at += MONTH_SECS * (rest / month).clamp(0.0, 1.0);
        rest -= month;
    }
    assert_eq!(found.end.cause, Cause::Empty);
    assert!(
        (secs(&found) / at - 1.0).abs() < 1e-6,
        "{} against {at}",
        secs(&found)
    );
    // Two years at 20 degC on the shelf: a fifth of the charge, and the ledger starts from the rest.
    family.requirement.storage = Some(Time::from_secs(2.0 * YEAR_SECS));
    let ambient = Temperature::from_celsius(20.0);
    let stored = live_in(&family, ambient.into());
    let shelf = stored.shelf.expect("storage");
    assert!((shelf.depth - 0.2).abs() < 1e-12, "{}", shelf.depth);
    assert!((secs(&stored) / (8.0 * YEAR_SECS) - 1.0).abs() < 1e-6);
    assert!((stored.trace.depth[0] - 0.2).abs() < 1e-12);
    let sum: f64 = stored.ledger.iter().map(|l| l.1).sum();
    family.requirement.storage = None;
    let fresh: f64 = live_in(&family, ambient.into())
        .ledger
        .iter()
        .map(|l| l.1)
        .sum();
    assert!(
        (fresh - sum - shelf.joules).abs() < 1e-9 * fresh,
        "{fresh} {sum}"
    );
    assert!(stored.ledger_error < 1e-6, "{}", stored.ledger_error);
}

/// A colder winter never lengthens the time to the first failure of a board straight on its cell.
#[test]
fn law_a_colder_winter_never_lengthens_the_first_failure() {
    let report = task("report", 30.0, &[(0.02, "sense"), (0.01, "transmit")]);
    for day_night in [0.0, 8.0] {
        let mut last = f64::INFINITY;
        for colder in [0.0, 3.0, 6.0, 10.0, 15.0] {
            let mut celsius = COLD;
            for month in [0, 1, 10, 11] {
                celsius[month] -= colder - 8.0;
            }
            let mut model = cold_cell(900.0);
            // What the cold saves by self-discharge and age is not what is asked.
            model.self_discharge = Rate::from_per_sec(0.0);
            model.ageing = Rate::from_per_sec(0.0);
            let family = with_tasks(coin(model), vec![report.clone()]);
            let year = months(celsius, 6, day_night);
            let found = live_in(&family, Climate::Calendar(&year));
            assert!(
                secs(&found) <= last + found.error_secs,
                "{colder} K colder: {} after {last}",
                secs(&found)
            );
            assert!(found.points_solved <= 2000, "{}", found.points_solved);
            last = secs(&found);
        }
    }
}

/// A coin board behind a p-FET, with a Schottky diode and a capacitor's leak as a resistor beside it.
fn leaky(model: CellModel) -> Family {
    let mut clamp: Diode = diode(&[(1e-3, 0.25), (0.1, 0.4)]);
    clamp.leakage = Some(exactly::<Current>(2e-6));
    clamp.leakage_at = Some(Voltage::from_volts(5.0));
    let parts: crate::kit::Parts = vec![
        (
            "BT1",
            Kind::Cell,
            &[("plus", "BAT"), ("minus", "GND")],
            cell(model, 1),
        ),
        (
            "Q1",
            Kind::PFet,
            &[("drain", "BAT"), ("source", "VDD"), ("gate", "GND")],
            p_fet(),
        ),
        (
            "D1",
            Kind::Diode,
            &[("anode", "GND"), ("cathode", "VDD")],
            Device::Diode(clamp),
        ),
        (
            "R1",
            Kind::Resistor,
            &[("1", "VDD"), ("2", "GND")],
            resistor(4.7e6),
        ),
    ];
    let load = current_load(&[("sleep", 2e-6), ("sense", 1e-3), ("transmit", 0.011)]);
    family(vec![board("coin", parts)], vec![load])
}

/// Three temperatures are solved themselves, twelve interpolated: next to three that are solved, a
/// year that differs from them by a thousandth of a kelvin is interpolated.
#[test]
fn law_boards_between_temperatures_are_what_they_would_be_if_solved() {
    let report = task("report", 20.0, &[(0.02, "sense"), (0.005, "transmit")]);
    for (name, family) in [
        ("coin", leaky(cold_cell(400.0))),
        ("step-up", step_up(alkaline(3000.0), 1)),
    ] {
        let family = with_tasks(family, vec![report.clone()]);
        for celsius in [[-15.0, 2.0, 30.0], [-15.0, 9.0, 30.0], [-15.0, 22.0, 30.0]] {
            let year = |shift: f64| {
                let mut all = [0.0; 12];
                for (at, month) in all.iter_mut().enumerate() {
                    *month = celsius[1];
                    if at % 4 == 0 {
                        *month = celsius[0];
                    } else if at % 4 == 2 {
                        *month = celsius[2];
                    }
                }
                all[1] += shift;
                months(all, 1, 0.0)
            };
            let solved = live_in(&family, Climate::Calendar(&year(0.0)));
            let between = live_in(&family, Climate::Calendar(&year(1e-3)));
            let off = secs(&between) / secs(&solved) - 1.0;
            assert!(off.abs() <= 4e-4, "{name} {celsius:?}: {off:e}");
            assert!(between.ledger_error < 1e-6, "{}", between.ledger_error);
            assert!(between.points_solved <= 2000, "{}", between.points_solved);
        }
    }
}

/// Windows, days and months at once, in leaps and with a window whose cycle of nearly a month lets no
/// leap be taken.
#[test]
fn law_leaps_and_days_one_by_one_agree() {
    let report = task("report", 20.0, &[(0.02, "sense"), (0.005, "transmit")]);
    let listen = windowed(task("listen", 60.0, &[(0.04, "transmit")]), 8);
    let year = months(COLD, 8, 9.0);
    let leaps = with_tasks(coin(cold_cell(900.0)), vec![report.clone(), listen.clone()]);
    // A task that does nothing, in a window of 29 days.
    let mut idle = task("idle", 3600.0, &[(1.0, "sleep")]);
    idle.within = Some(Window {
        every_ns: 29 * 86_400 * 1_000_000_000,
        open_ns: 86_400 * 1_000_000_000,
    });
    let days = with_tasks(coin(cold_cell(900.0)), vec![report, listen, idle]);
    let leaps = live_in(&leaps, Climate::Calendar(&year));
    let days = live_in(&days, Climate::Calendar(&year));
    let off = secs(&leaps) - secs(&days);
    // The interval of the tasks stands for phases and is not at stake here.
    assert!(off.abs() < 60.0 + 1e-4 * secs(&days), "{off}");
    let ((_, below, end), (_, below_days, end_days)) = (three(&leaps), three(&days));
    assert!((end - end_days).abs() < 2.0 * 86_400.0, "{end} {end_days}");
    assert!(
        (below - below_days).abs() < 0.01 * below_days + 86_400.0,
        "{below} {below_days}"
    );
    assert!(leaps.ledger_error < 1e-6 && days.ledger_error < 1e-6);
    assert!(leaps.points_solved <= 2000, "{}", leaps.points_solved);
}
