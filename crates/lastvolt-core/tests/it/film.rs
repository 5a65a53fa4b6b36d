//! Lives and a burst of boards whose cell has a film, against every burst stepped by scipy
//! (`data/film.py`).

use lastvolt_core::circuit::Circuit;
use lastvolt_core::device::{Branch, CellModel, Film};
use lastvolt_core::model::{Family, Kind, Law, Task, Window};
use lastvolt_core::numerics::table::Table;
use lastvolt_core::progress::Silent;
use lastvolt_core::quantity::{Charge, Resistance, Time, Voltage};
use lastvolt_core::time::{Begin, BurstRequest, Cause, Life, Stretch, burst, rested};

use crate::kit::{board, cell, exactly, family, load_on, usual};
use crate::life::{live, task, with_tasks};

const STEPPED: &str = include_str!("data/film.csv");
const DAY: f64 = 86_400.0;

/// The numbers of every row of a case.
fn rows(case: &str) -> Vec<Vec<f64>> {
    let own = STEPPED
        .lines()
        .filter_map(|row| row.strip_prefix(case)?.strip_prefix(','));
    let numbers = |row: &str| {
        row.split(',')
            .map(|n| n.parse().expect("a number"))
            .collect()
    };
    own.map(numbers).collect()
}

fn film(ohms: f64, growth_secs: f64, coulombs: f64) -> Film {
    Film {
        resistance: Resistance::from_ohms(ohms),
        growth: Time::from_secs(growth_secs),
        burn_off: Charge::from_coulombs(coulombs),
    }
}

fn model(film: Option<Film>) -> CellModel {
    let charge = exactly::<Charge>(72.0);
    let line = Table::new(&[(0.0, 3.7), (1.0, 3.1)]).expect("rising");
    CellModel {
        polarisation: vec![Branch {
            ratio: 0.5,
            time: Time::from_secs(20.0),
        }],
        film,
        ..CellModel::plain(charge, line, Table::constant(8.0))
    }
}

fn fed(film: Option<Film>, need: f64, base: Law, states: &[(&'static str, Law)]) -> Family {
    let pins: &[(&str, &str)] = &[("plus", "VDD"), ("minus", "GND")];
    let parts = vec![("BT1", Kind::Cell, pins, cell(model(film), 1))];
    let mut all = vec![("sleep", base)];
    all.extend_from_slice(states);
    let mut load = load_on("VDD", all);
    if let Some(range) = &mut load.working {
        (range.from, range.to) = (Voltage::from_volts(need), Voltage::from_volts(4.0));
    }
    family(vec![board("b", parts)], vec![load])
}

fn amps(value: f64) -> Law {
    Law::Current(exactly(value))
}

fn watts(value: f64) -> Law {
    Law::Power(exactly(value))
}

/// The board of a case of the script.
fn case(name: &str, with_film: bool) -> Family {
    let of = |ohms, growth, burn_off| with_film.then(|| film(ohms, growth, burn_off));
    let send = [("send", amps(20e-3))];
    let (board, task) = match name {
        "often" => (
            fed(
                of(40.0, 2.0 * DAY, 3.6),
                2.95,
                watts(150e-6),
                &[("look", amps(5e-3)), ("send", amps(12e-3))],
            ),
            task("t", 600.0, &[(2.0, "look"), (0.5, "send")]),
        ),
        "daily" => (
            fed(
                of(40.0, 2.0 * DAY, 0.72),
                2.73,
                amps(4e-6),
                &[("look", amps(4e-3)), ("send", amps(20e-3))],
            ),
            task("t", DAY, &[(10.0, "look"), (30.0, "send")]),
        ),
        "shelf" => (
            fed(of(90.0, 2.0 * DAY, 0.72), 2.6, amps(4e-6), &send),
            task("t", DAY, &[(30.0, "send")]),
        ),
        "window" => (
            fed(of(40.0, 8.0 * DAY, 2.0), 2.65, amps(3e-6), &send),
            Task {
                within: Some(Window {
                    every_ns: 10 * 86_400_000_000_000,
                    open_ns: 86_400_000_000_000,
                }),
                ..task("t", 3600.0, &[(4.0, "send")])
            },
        ),
        _ => (
            fed(
                of(60.0, 4.0 * DAY, 0.5),
                2.55,
                amps(1e-6),
                &[("send", watts(40e-3))],
            ),
            Task {
                offset_ns: Some(86_400_000_000_000 / 4),
                ..task("t", 5.0 * DAY, &[(180.0, "send")])
            },
        ),
    };
    with_tasks(board, vec![task])
}

fn line(life: &Life, name: &str) -> f64 {
    let found = life.ledger.iter().find(|l| l.0 == name);
    found.map_or(0.0, |l| l.1)
}

/// The life within its own error, what the film takes within a percent, a ledger that closes, and shares
/// that are the fatal drop.
#[test]
fn ref_scipy_lives_with_a_film() {
    for name in ["often", "daily", "window", "rare"] {
        let life = live(&case(name, true));
        let [secs, depth, joules] = rows(name)[0][..] else {
            panic!("a row of {name}");
        };
        let found = life.life_secs.expect("an end");
        let film = line(&life, "BT1:film");
        let says = format!(
            "{name}: {found} s for {secs} s, error {}, depth {} for {depth}, film {film} J for {joules} J, ledger {}",
            life.error_secs, life.end.depth, life.ledger_error
        );
        println!("{says}");
        assert!((found - secs).abs() <= life.error_secs, "{says}");
        assert!(life.error_secs < 0.03 * secs, "{says}");
        // By time, since a life of bursts ends up to an interval apart.
        assert!((film / found * secs / joules - 1.0).abs() < 0.01, "{says}");
        assert!(life.ledger_error < 1e-6, "{says}");
        assert_eq!(life.end.cause, Cause::BrownOut, "{says}");
        let shares: f64 = life.end.shares.iter().map(|s| s.1).sum();
        let open = 3.7 - 0.6 * life.end.depth;
        let volts = life.end.net_volts.expect("a rail");
        assert!(
            (shares - (open - volts)).abs() < 2e-3,
            "{says}: {:?} {open} {volts}",
            life.end.shares
        );
    }
}

/// The first burst after the shelf feels all of the film; the mean current alone would do for months.
#[test]
fn ref_scipy_the_first_burst_after_the_shelf_browns_out() {
    let life_of = |with_film| live(&case("shelf", with_film));
    let delayed = life_of(true);
    assert_eq!(rows("shelf")[0][0], 0.0);
    assert_eq!(delayed.life_secs, Some(0.0));
    assert_eq!(delayed.end.cause, Cause::BrownOut);
    let film = delayed.end.shares.iter().find(|s| s.0 == "BT1:film");
    assert!((film.expect("a share").1 - 1.8).abs() < 1e-2, "{film:?}");
    let free = life_of(false).life_secs.expect("an end");
    assert!(free > 60.0 * DAY, "{free}");
}

/// A burst out of a rested cell: the film burns off within it.
#[test]
fn ref_scipy_voltage_delay_of_a_burst() {
    let family = case("daily", true);
    let circuit = Circuit::new(&family, &["b".to_owned()]).expect("a board");
    let situation = usual(&family, &["b"]);
    let rows = rows("wave");
    let mut start = 0;
    let stretches = rows.iter().map(|row| {
        let end = (row[0] * 1e9).round() as u64;
        let span_ns = end - std::mem::replace(&mut start, end);
        let mut stretch = Stretch::quiet(span_ns);
        if row[0] <= 30.0 {
            stretch.states = vec![("module".to_owned(), "send".to_owned())];
        }
        stretch
    });
    let mut situation = situation;
    situation.ambient = lastvolt_core::quantity::Temperature::from_celsius(20.0);
    let request = BurstRequest {
        situation,
        cells: Some(rested(&circuit, 0.2)),
        begin: Begin::Settled,
        capacitors: Vec::new(),
        stretches: stretches.collect(),
        enough_volts: None,
    };
    let wave = burst(&circuit, &request, &Silent).expect("a waveform");
    let rail = &wave.nets.iter().find(|n| n.0 == "VDD").expect("the rail").1;
    for row in &rows {
        let earlier = wave.time_secs.iter().take_while(|t| **t < row[0] - 1e-9);
        let off = rail[earlier.count()] - row[1];
        assert!(off.abs() < 1e-4, "{} s: off by {off} V", row[0]);
    }
    let last = rows.last().expect("rows");
    assert!((wave.cells_after[0][0].film - last[2]).abs() < 2e-5);
}
