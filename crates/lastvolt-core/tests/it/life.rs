//! Lives: closed forms, published examples and laws.

use std::collections::BTreeMap;

use lastvolt_core::device::{Branch, CellModel, Loss, Setpoint, Topology, Wells};
use lastvolt_core::model::{Device, Family, Kind, Law, Profile, Step, Task, Window};
use lastvolt_core::progress::Silent;
use lastvolt_core::quantity::{
    Current, Fraction, Power, Rate, Resistance, Temperature, Time, Voltage, YEAR_SECS,
};
use lastvolt_core::time::{Bursts, Cause, Life, LifeRequest, life};

use crate::kit::{
    board, cell, cell_model, current_load, exactly, family, inductor, load_on, regulator, resistor,
    supply,
};

const NS: f64 = 1e9;

pub(crate) fn task(name: &str, every_secs: f64, steps: &[(f64, &str)]) -> Task {
    let steps = steps.iter().map(|&(secs, state)| Step {
        span_ns: (secs * NS).round() as u64,
        set: vec![("module".to_owned(), state.to_owned())],
    });
    Task {
        name: name.to_owned(),
        every_ns: (every_secs * NS).round() as u64,
        offset_ns: None,
        within: None,
        steps: steps.collect(),
    }
}

pub(crate) fn with_tasks(mut family: Family, tasks: Vec<Task>) -> Family {
    family.profiles = vec![Profile {
        name: "usual".to_owned(),
        base: Vec::new(),
        tasks,
    }];
    family
}

pub(crate) fn live(family: &Family) -> Life {
    let request = LifeRequest {
        family,
        board: &family.boards[0].name,
        profile: family.profiles.first().map(|p| p.name.as_str()),
        ambient: Temperature::from_celsius(20.0).into(),
        bursts: Bursts::Followed,
        positions: BTreeMap::new(),
    };
    life(&request, &Silent).expect("operating points")
}

/// A coin-like cell that is empty within hours or days, with wells and two branches.
pub(crate) fn small_cell(coulombs: f64) -> CellModel {
    let emf = [
        (0.0, 3.2),
        (0.05, 3.05),
        (0.5, 2.95),
        (0.85, 2.8),
        (0.95, 2.5),
        (1.0, 2.0),
    ];
    let mut model = cell_model(
        coulombs,
        &emf,
        &[(0.0, 12.0), (0.6, 18.0), (0.9, 40.0), (1.0, 80.0)],
    );
    model.wells = Some(Wells {
        available: exactly::<Fraction>(0.7),
        rate: exactly::<Rate>(2e-4),
    });
    model.polarisation = vec![
        Branch {
            ratio: 0.8,
            time: Time::from_secs(4.0),
        },
        Branch {
            ratio: 2.5,
            time: Time::from_secs(1800.0),
        },
    ];
    model
}

pub(crate) fn coin(model: CellModel) -> Family {
    let cell_pins: &[(&str, &str)] = &[("plus", "VDD"), ("minus", "GND")];
    let parts = vec![
        ("BT1", Kind::Cell, cell_pins, cell(model, 1)),
        (
            "R1",
            Kind::Resistor,
            &[("1", "VDD"), ("2", "GND")],
            resistor(2.2e6),
        ),
    ];
    let load = current_load(&[("sleep", 3e-6), ("sense", 1e-3), ("transmit", 0.011)]);
    family(vec![board("coin", parts)], vec![load])
}

fn report() -> Task {
    task("report", 5.0, &[(0.012, "sense"), (0.0032, "transmit")])
}

pub(crate) fn step_up(model: CellModel, series: usize) -> Family {
    let mut device = regulator(Topology::Boost, Setpoint::Output(exactly::<Voltage>(3.0)));
    device.loss = Loss::Share {
        share: exactly::<Fraction>(0.06),
        path: exactly::<Resistance>(0.3),
    };
    device.quiescent_out = exactly::<Current>(15e-6);
    device.runs_down_to = Voltage::from_volts(0.4);
    let bat: &[(&str, &str)] = &[("plus", "BAT"), ("minus", "GND")];
    let parts = vec![
        ("BT1", Kind::Cell, bat, cell(model, series)),
        (
            "L1",
            Kind::Inductor,
            &[("1", "BAT"), ("2", "SW")],
            inductor(4.7e-6, 0.1),
        ),
        (
            "U1",
            Kind::Boost,
            &[("in", "BAT"), ("out", "VDD"), ("gnd", "GND"), ("sw", "SW")],
            Device::Regulator(Box::new(device)),
        ),
    ];
    let states = vec![
        ("sleep", Law::Power(exactly::<Power>(20e-6))),
        ("sense", Law::Power(exactly::<Power>(5e-3))),
        ("transmit", Law::Power(exactly::<Power>(40e-3))),
    ];
    family(vec![board("one", parts)], vec![load_on("VDD", states)])
}

pub(crate) fn alkaline(coulombs: f64) -> CellModel {
    let emf = [
        (0.0, 1.6),
        (0.05, 1.52),
        (0.5, 1.27),
        (0.95, 1.0),
        (1.0, 0.6),
    ];
    let mut model = cell_model(
        coulombs,
        &emf,
        &[(0.0, 0.5), (0.6, 0.7), (0.9, 1.6), (1.0, 3.0)],
    );
    model.wells = Some(Wells {
        available: exactly::<Fraction>(0.6),
        rate: exactly::<Rate>(1.5e-5),
    });
    model.polarisation = vec![
        Branch {
            ratio: 0.6,
            time: Time::from_secs(8.0),
        },
        Branch {
            ratio: 0.9,
            time: Time::from_secs(9000.0),
        },
    ];
    model
}

/// Kinetic battery model at constant current (Manwell and McGowan 1993): the available well is
/// empty when `I t / Q + (1 - c) I (1 - e^(-k t)) / (c Q k) = 1`.
#[test]
fn ref_manwell_mcgowan_constant_current() {
    for (c, k) in [(0.6, 1e-4), (0.3, 2e-6), (0.9, 1e-2)] {
        let mut model = cell_model(100.0, &[(0.0, 3.0)], &[(0.0, 1.0)]);
        model.wells = Some(Wells {
            available: exactly::<Fraction>(c),
            rate: exactly::<Rate>(k),
        });
        let bat: &[(&str, &str)] = &[("plus", "VDD"), ("minus", "GND")];
        let board = board("coin", vec![("BT1", Kind::Cell, bat, cell(model, 1))]);
        let amps = 1e-3;
        let family = family(vec![board], vec![current_load(&[("run", amps)])]);
        let found = live(&family);
        let secs = found.life_secs.expect("it ends");
        let drop = (1.0 - c) / c * amps / k * (1.0 - libm_exp(-k * secs));
        assert!(
            ((amps * secs + drop) / 100.0 - 1.0).abs() < 1e-6,
            "c {c}, k {k}: {secs}"
        );
        assert_eq!(found.end.cause, Cause::Empty);
        assert!(found.ledger_error < 1e-6, "{}", found.ledger_error);
    }
}

fn libm_exp(x: f64) -> f64 {
    lastvolt_core::numerics::math::exp(x)
}

#[test]
fn law_ledger_closes_and_names_every_line() {
    for family in [
        with_tasks(coin(small_cell(20.0)), vec![report()]),
        with_tasks(step_up(alkaline(60.0), 1), vec![report()]),
        with_tasks(step_up(alkaline(60.0), 2), vec![report()]),
    ] {
        let found = live(&family);
        assert!(found.life_secs.is_some());
        assert!(
            found.ledger_error < 1e-6,
            "{} {:?}",
            found.ledger_error,
            found.ledger
        );
        assert!(found.points_solved < 2000, "{}", found.points_solved);
    }
}

#[test]
fn law_charge_and_times_scale_together() {
    let base = live(&with_tasks(coin(small_cell(20.0)), vec![report()]));
    let mut model = small_cell(200.0);
    if let Some(wells) = &mut model.wells {
        wells.rate = exactly::<Rate>(2e-5);
    }
    model.polarisation = vec![
        Branch {
            ratio: 0.8,
            time: Time::from_secs(40.0),
        },
        Branch {
            ratio: 2.5,
            time: Time::from_secs(18_000.0),
        },
    ];
    let slow = task("report", 50.0, &[(0.12, "sense"), (0.032, "transmit")]);
    let longer = live(&with_tasks(coin(model), vec![slow]));
    let ratio = longer.life_secs.expect("ends") / base.life_secs.expect("ends");
    assert!((ratio / 10.0 - 1.0).abs() < 1e-5, "{ratio}");
}

#[test]
fn law_life_falls_as_the_working_minimum_rises() {
    let mut last = f64::MAX;
    for minimum in [1.8, 2.0, 2.2, 2.4, 2.6] {
        let mut family = with_tasks(coin(small_cell(20.0)), vec![report()]);
        if let Some(working) = &mut family.loads[0].working {
            working.from = Voltage::from_volts(minimum);
        }
        let found = live(&family);
        let secs = found.life_secs.expect("ends");
        assert!(secs < last, "{minimum}: {secs} after {last}");
        assert_eq!(found.end.cause, Cause::BrownOut);
        last = secs;
    }
}

#[test]
fn law_a_step_split_in_two_is_the_same_step() {
    let whole = live(&with_tasks(coin(small_cell(20.0)), vec![report()]));
    let split = task(
        "report",
        5.0,
        &[
            (0.005, "sense"),
            (0.007, "sense"),
            (0.0012, "transmit"),
            (0.002, "transmit"),
        ],
    );
    let split = live(&with_tasks(coin(small_cell(20.0)), vec![split]));
    let ratio = split.life_secs.expect("ends") / whole.life_secs.expect("ends");
    assert!((ratio - 1.0).abs() < 1e-5, "{ratio}");
}

fn windowed(coulombs: f64) -> Family {
    let mut listen = task("listen", 60.0, &[(0.04, "transmit")]);
    listen.within = Some(Window {
        every_ns: 86_400 * 1_000_000_000,
        open_ns: 28_800 * 1_000_000_000,
    });
    with_tasks(coin(small_cell(coulombs)), vec![listen])
}

/// Leaps over days against every day on its own: with the charge a tenth, days are followed one by
/// one, and life scales nearly with the charge.
#[test]
fn windows_are_followed_and_leapt_alike() {
    let long = live(&windowed(400.0));
    let short = live(&windowed(4.0));
    assert!(long.ledger_error < 1e-6, "{}", long.ledger_error);
    assert!(short.ledger_error < 1e-6, "{}", short.ledger_error);
    let ratio = long.life_secs.expect("ends") / short.life_secs.expect("ends");
    assert!(ratio > 95.0 && ratio < 112.0, "{ratio}");
}

#[test]
fn a_board_without_a_load_current_lasts_past_the_horizon() {
    let mut model = small_cell(1000.0);
    model.wells = None;
    let bat: &[(&str, &str)] = &[("plus", "VDD"), ("minus", "GND")];
    let board = board("coin", vec![("BT1", Kind::Cell, bat, cell(model, 1))]);
    let family = family(vec![board], vec![current_load(&[("off", 0.0)])]);
    let found = live(&family);
    assert_eq!(found.end.cause, Cause::NoEnd);
    assert_eq!(found.life_secs, None);
    assert!(found.ledger_error < 1e-9);
    assert!(found.mean_cell_amps.abs() < 1e-12 * YEAR_SECS);
}

/// Every burst stepped by SUNDIALS (data/lives.py with scikit-sundae 1.2, values in data/lives.csv).
fn ref_life(case: &str) -> f64 {
    let rows = include_str!("data/lives.csv").lines();
    let row = rows
        .map(|r| r.split(',').collect::<Vec<_>>())
        .find(|r| r[0] == case);
    row.expect("a row")[1].parse().expect("seconds")
}

fn check_against_sundials(case: &str, family: &Family) {
    let (found, stepped) = (live(family), ref_life(case));
    let secs = found.life_secs.expect("it ends");
    let share = secs / stepped - 1.0;
    assert!(
        share.abs() < 0.005,
        "{case}: {secs} against {stepped}, {share:+.5}"
    );
    assert!(
        (secs - stepped).abs() <= found.error_secs,
        "{case}: off by {} with {}",
        secs - stepped,
        found.error_secs
    );
}

#[test]
fn ref_sundials_coin_with_bypass() {
    check_against_sundials(
        "coin-bypass",
        &with_tasks(coin(small_cell(1.0)), vec![report()]),
    );
}

#[test]
fn ref_sundials_step_up_at_constant_power() {
    check_against_sundials(
        "step-up",
        &with_tasks(step_up(alkaline(3.0), 1), vec![report()]),
    );
}

#[test]
fn ref_sundials_coin_with_a_window() {
    check_against_sundials("coin-window", &windowed(4.0));
}

/// Common practice: with the same converter losses, end voltage of the cell and kind of cell, one cell
/// lasts at most half as long as two, because it gives its energy at twice the current.
#[test]
fn one_cell_lasts_at_most_half_as_long_as_two() {
    let one = live(&with_tasks(step_up(alkaline(600.0), 1), vec![report()]));
    let two = live(&with_tasks(step_up(alkaline(600.0), 2), vec![report()]));
    let ratio = one.life_secs.expect("ends") / two.life_secs.expect("ends");
    assert!(ratio <= 0.5, "{ratio}");
    assert!(ratio > 0.2, "{ratio}");
}

/// Two months, of which whole days are leapt over.
#[test]
fn ref_sundials_coin_with_a_window_for_months() {
    check_against_sundials("coin-months", &windowed(40.0));
}

/// A month behind a converter; it ends as a window opens.
#[test]
fn ref_sundials_step_up_with_a_window_for_months() {
    let mut listen = task("listen", 60.0, &[(0.04, "transmit")]);
    listen.within = Some(Window {
        every_ns: 86_400 * 1_000_000_000,
        open_ns: 28_800 * 1_000_000_000,
    });
    check_against_sundials(
        "step-up-months",
        &with_tasks(step_up(alkaline(150.0), 1), vec![listen]),
    );
}

/// More than a fresh cell can give at all is a brown-out of the load that asks for it, not an open
/// connection: between bursts the load is served.
#[test]
fn a_load_beyond_the_short_circuit_current_browns_out() {
    let bat: &[(&str, &str)] = &[("plus", "VDD"), ("minus", "GND")];
    let parts = vec![("BT1", Kind::Cell, bat, cell(small_cell(100.0), 1))];
    let load = current_load(&[("sleep", 0.0), ("burst", 1000.0)]);
    let burst = task("burst", 1.0, &[(0.01, "burst")]);
    let found = live(&with_tasks(
        family(vec![board("coin", parts)], vec![load]),
        vec![burst],
    ));
    assert_eq!(found.end.cause, Cause::BrownOut);
    assert_eq!(found.life_secs, Some(0.0));
    assert_eq!(found.end.load.as_deref(), Some("module"));
    assert_eq!(found.end.state.as_deref(), Some("burst"));
}

/// What no cell feeds has no end, whatever its supply does for the load; that is said beside it.
#[test]
fn a_board_without_a_cell_has_no_end() {
    for (volts, warnings) in [(3.0, 0), (1.0, 1)] {
        let pins: &[(&str, &str)] = &[("plus", "VDD"), ("minus", "GND")];
        let parts = vec![("PS1", Kind::Supply, pins, supply(volts, 0.1, 1.0))];
        let load = current_load(&[("run", 1e-3)]);
        let found = live(&family(vec![board("usb", parts)], vec![load]));
        assert_eq!(found.end.cause, Cause::NoEnd);
        assert_eq!(found.life_secs, None);
        assert_eq!(found.warnings.len(), warnings, "{:?}", found.warnings);
    }
}

/// A large capacitor behind a resistor carries bursts that the settled board cannot: the charge that
/// the bursts take is not in the mean current, and the stated error says so.
#[test]
fn law_the_error_covers_charge_that_only_stored_charge_carries() {
    use crate::netlist::{Netlist, plain_capacitor};
    let board = Netlist::new("coin")
        .cell("BT1", small_cell(20.0), 1, "BAT")
        .resistor("R1", 300.0, "BAT", "VDD")
        .capacitor("C1", plain_capacitor(0.1), "VDD", "GND")
        .board();
    let mut family = crate::kit::family(
        vec![board],
        vec![crate::kit::current_load(&[
            ("sleep", 2e-6),
            ("send", 20e-3),
        ])],
    );
    family.loads[0].working = Some(lastvolt_core::model::WorkingRange {
        from: lastvolt_core::quantity::Voltage::from_volts(1.8),
        to: lastvolt_core::quantity::Voltage::from_volts(3.6),
    });
    let family = with_tasks(family, vec![task("report", 300.0, &[(1.0, "send")])]);
    let found = live(&family);
    // 20 mA for 1 s in 300 s and 2 uA, until the cell is empty.
    let most = 20.0 / (20e-3 / 300.0 + 2e-6);
    let secs = found.life_secs.expect("it ends");
    assert!(
        secs - found.error_secs <= most,
        "{secs} {} {most}",
        found.error_secs
    );
    assert!(
        found.warnings.iter().any(|w| w.contains("settled board")),
        "{:?}",
        found.warnings
    );
}
