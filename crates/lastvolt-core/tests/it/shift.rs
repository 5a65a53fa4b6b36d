//! Cells whose open-circuit voltage shifts with temperature, against closed forms.

use lastvolt_core::circuit::Circuit;
use lastvolt_core::device::{CellModel, CellTemperature};
use lastvolt_core::model::{Family, Kind};
use lastvolt_core::progress::Silent;
use lastvolt_core::quantity::{Temperature, YEAR_SECS};
use lastvolt_core::time::{Begin, BurstRequest, Climate, Life, Stretch, burst, rested};

use crate::calendar::{live_in, months};
use crate::kit::{board, cell, cell_model, current_load, family, solve, usual};
use crate::life::{task, with_tasks};

/// Voltages of a CR2032 at light load move so: 2.87 V at -10, 2.98 V at 20, 3.03 V at 60 degC.
fn shifting(mut model: CellModel) -> CellModel {
    model.temperature = Some(CellTemperature {
        celsius: vec![-10.0, 20.0, 60.0],
        resistance: vec![1.0; 3],
        rate: vec![1.0; 3],
        polarisation: Vec::new(),
        open_circuit: vec![-0.11, 0.0, 0.05],
    });
    model
}

/// 720 C from 3 V to 2 V in a line, 10 ohm; 10 mA, and a need of 2 V.
fn straight() -> Family {
    let model = shifting(cell_model(720.0, &[(0.0, 3.0), (1.0, 2.0)], &[(0.0, 10.0)]));
    let pins: &[(&str, &str)] = &[("plus", "VDD"), ("minus", "GND")];
    let parts = vec![("BT1", Kind::Cell, pins, cell(model, 1))];
    let load = current_load(&[("run", 0.01), ("send", 0.03)]);
    family(vec![board("b", parts)], vec![load])
}

fn line(life: &Life, name: &str) -> f64 {
    let found = life.ledger.iter().find(|l| l.0 == name);
    found.map_or(0.0, |l| l.1)
}

/// The end is where 3 - d + shift - 0.1 = 2; the line of the ledger is the shift times all charge.
#[test]
fn ref_closed_form_lives_in_cold_and_heat() {
    for (celsius, shift) in [(-10.0, -0.11), (5.0, -0.055), (20.0, 0.0)] {
        let life = live_in(&straight(), Temperature::from_celsius(celsius).into());
        let depth = 0.9 + shift;
        let secs = depth * 720.0 / 0.01;
        let found = life.life_secs.expect("an end");
        assert!((found / secs - 1.0).abs() < 1e-6, "{found} {secs}");
        let joules = line(&life, "BT1:temperature");
        assert!((joules + shift * depth * 720.0).abs() < 1e-5, "{joules}");
        assert!(life.ledger_error < 1e-9, "{}", life.ledger_error);
        assert!((life.end.net_volts.expect("a rail") - 2.0).abs() < 1e-6);
        let lost: f64 = life.end.shares.iter().map(|s| s.1).sum();
        assert!((lost - 0.1).abs() < 1e-6, "{:?}", life.end.shares);
    }
}

/// In the warm the board is given more than the tables hold, and that is no gap.
#[test]
fn a_fresh_cell_in_the_warm_lies_above_its_table() {
    let mut family = straight();
    family.loads[0].working = None;
    family.loads[0].states[0].law = lastvolt_core::model::Law::Resistance(crate::kit::exactly(1e4));
    let life = live_in(&family, Temperature::from_celsius(60.0).into());
    let volts = life.trace.rail.rest_volts[0];
    assert!((volts - 3.05 * 1e4 / 10_010.0).abs() < 1e-5, "{volts}");
    assert!(life.ledger_error < 1e-6, "{}", life.ledger_error);
    assert!(line(&life, "BT1:temperature") < 0.0);
}

#[test]
fn points_and_waveforms_rest_at_the_shifted_voltage() {
    let family = straight();
    let mut situation = usual(&family, &["b"]);
    situation.ambient = Temperature::from_celsius(-10.0);
    situation.depth = 0.25;
    let point = solve(&family, &situation);
    let expected = 2.75 - 0.11 - 0.1;
    assert!((point.net("VDD").expect("the rail") - expected).abs() < 1e-9);
    let circuit = Circuit::new(&family, &["b".to_owned()]).expect("a board");
    let request = BurstRequest {
        situation,
        cells: Some(rested(&circuit, 0.25)),
        begin: Begin::Settled,
        capacitors: Vec::new(),
        stretches: vec![Stretch {
            states: vec![("module".to_owned(), "send".to_owned())],
            ..Stretch::quiet(1_000_000)
        }],
        enough_volts: None,
    };
    let wave = burst(&circuit, &request, &Silent).expect("a waveform");
    let rail = &wave.nets.iter().find(|n| n.0 == "VDD").expect("the rail").1;
    assert!((rail[0] - expected).abs() < 1e-9);
    assert!((rail.last().expect("instants") - (expected - 0.2)).abs() < 1e-6);
}

/// Months of frost and of heat, days and tasks, with wells and charge that leaks away by itself.
#[test]
fn law_a_calendar_of_shifts_closes_the_ledger() {
    const YEAR: [f64; 12] = [
        -12.0, -9.0, -2.0, 6.0, 14.0, 25.0, 35.0, 30.0, 18.0, 8.0, 0.0, -8.0,
    ];
    let mut model = crate::life::small_cell(0.4 * 40e-6 * YEAR_SECS);
    model.self_discharge = lastvolt_core::quantity::Rate::from_per_sec(0.03 / YEAR_SECS);
    let branches = model.polarisation.len();
    let mut model = shifting(model);
    if let Some(temperature) = &mut model.temperature {
        temperature.polarisation = vec![vec![1.0; 3]; branches];
    }
    let coin = crate::life::coin(model);
    let family = with_tasks(coin, vec![task("t", 60.0, &[(0.05, "transmit")])]);
    for day_night in [0.0, 12.0] {
        let year = months(YEAR, 4, day_night);
        let life = live_in(&family, Climate::Calendar(&year));
        assert!(life.life_secs.is_some_and(|s| s > 0.1 * YEAR_SECS));
        assert!(life.ledger_error < 1e-6, "{}", life.ledger_error);
        assert!(line(&life, "BT1:temperature").abs() > 1e-4);
    }
}
