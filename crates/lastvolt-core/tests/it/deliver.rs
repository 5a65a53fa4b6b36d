//! What a rail can give, against closed forms.

use std::collections::BTreeMap;

use lastvolt_core::deliver::{
    Deliver, DeliverRequest, Limit, Need, Output, Reach, deliver, depths, rails,
};
use lastvolt_core::device::{Branch, CellModel, Film, Regulator, Setpoint, Topology};
use lastvolt_core::model::{BootStep, Family, RailPromise, Reset, WorkingRange};
use lastvolt_core::progress::Silent;
use lastvolt_core::quantity::{Charge, Current, Resistance, Temperature, Time, Voltage};

use crate::kit::{self, cell_model, current_load, regulator};
use crate::life::{task, with_tasks};
use crate::netlist::{Netlist, amps, assert_close, losses, plain_cell, volts};

const PINS: [(&str, &str); 3] = [("in", "IN"), ("out", "VDD"), ("gnd", "GND")];
/// What the search promises, and room for rounding.
const EXACT: f64 = 1.1e-3;

/// One board that feeds the module, which sleeps at 1 uA and works from 2.0 to 3.6 V.
fn with_module(netlist: Netlist) -> Family {
    let module = current_load(&[("sleep", 1e-6), ("transmit", 0.011)]);
    kit::family(vec![netlist.board()], vec![module])
}

fn delivered(family: &Family, depths: &[f64]) -> Deliver {
    let request = DeliverRequest {
        family,
        board: &family.boards[0].name,
        profile: family.profiles.first().map(|p| p.name.as_str()),
        rail: None,
        ambients: vec![Temperature::from_celsius(25.0)],
        depths: depths.to_vec(),
        positions: BTreeMap::new(),
    };
    deliver(&request, &Silent).expect("operating points")
}

fn fresh(family: &Family) -> Output {
    delivered(family, &[0.0]).rails[0].outputs[0].clone()
}

fn fixed(topology: Topology, output: f64) -> Regulator {
    regulator(topology, Setpoint::Output(volts(output)))
}

fn promising(mut family: Family, band: Option<(f64, f64)>, current: Option<f64>) -> Family {
    family.connector.promises = vec![RailPromise {
        pin: "VDD".to_owned(),
        band: band.map(|(a, b)| (Voltage::from_volts(a), Voltage::from_volts(b))),
        current: current.map(Current::from_amps),
    }];
    family
}

/// Ohm's law: the source stands at the working minimum when (E - V) / R flows.
#[test]
fn law_a_source_behind_a_resistance_gives_down_to_the_working_minimum() {
    let board = Netlist::new("direct").cell("BT1", plain_cell(3.0, 25.0), 1, "VDD");
    let out = fresh(&with_module(board));
    assert_close(out.running_amps, 1.0 / 25.0 - 1e-6, EXACT);
    assert_close(out.starting_amps, out.running_amps, EXACT);
    assert_eq!(out.limit.limit, Limit::WorkingRange);
    assert_eq!(out.limit.at.as_deref(), Some("module"));
    assert_eq!(out.starting_limit, None);
}

/// A constant power behind a resistance has no solution past E^2 / (4 R): eq. (14) of
/// docs/theory/circuit.md.
#[test]
fn law_a_converter_gives_up_to_its_fold() {
    let (emf, source, path, out_volts) = (1.5, 0.8, 0.2, 3.0);
    let device = Regulator {
        loss: losses(0.0, path),
        ..fixed(Topology::Boost, out_volts)
    };
    let board = Netlist::new("step-up")
        .cell("BT1", plain_cell(emf, source), 1, "IN")
        .regulator("U1", device, &PINS);
    let out = fresh(&with_module(board));
    let most = emf * emf / (4.0 * (source + path)) / out_volts;
    assert_close(out.running_amps, most - 1e-6, EXACT);
    assert_eq!(
        (out.limit.limit, out.limit.at.as_deref()),
        (Limit::Fold, Some("U1"))
    );
}

#[test]
fn a_linear_regulator_gives_its_current_limit() {
    let device = Regulator {
        limit: Some(amps(0.15)),
        ..fixed(Topology::Linear, 3.0)
    };
    let board = Netlist::new("ldo")
        .supply("PS1", 5.0, 0.1, "IN")
        .regulator("U1", device, &PINS);
    let out = fresh(&with_module(board));
    assert_close(out.running_amps, 0.15, EXACT);
    assert_eq!(out.limit.limit, Limit::ConverterLimit);
}

/// V_in - R I = working minimum.
#[test]
fn a_linear_regulator_in_dropout_gives_down_to_the_working_minimum() {
    let device = Regulator {
        dropout: kit::exactly(1.0),
        ..fixed(Topology::Linear, 3.0)
    };
    let board = Netlist::new("ldo")
        .supply("PS1", 3.3, 0.0, "IN")
        .regulator("U1", device, &PINS);
    let mut family = with_module(board);
    family.loads[0].working = Some(WorkingRange {
        from: Voltage::from_volts(2.9),
        to: Voltage::from_volts(3.6),
    });
    let out = fresh(&family);
    assert_close(out.running_amps, 0.4, EXACT);
    assert_eq!(out.limit.limit, Limit::Dropout);
}

/// The start table is straight between its points: 0.8 V starts into 1 mA + 19 mA (0.15 / 0.25).
#[test]
fn a_start_table_limits_starting_and_not_running() {
    let row = |a: f64, v: f64| (Current::from_amps(a), Voltage::from_volts(v));
    let device = Regulator {
        start: vec![row(1e-3, 0.65), row(20e-3, 0.9)],
        ..fixed(Topology::Boost, 3.0)
    };
    let board = Netlist::new("step-up")
        .supply("PS1", 0.8, 0.0, "IN")
        .regulator("U1", device, &PINS);
    let out = fresh(&with_module(board));
    assert_close(out.starting_amps, 12.4e-3 - 1e-6, EXACT);
    assert!(1.0 < out.running_amps);
    let bound = out.starting_limit.expect("a limit of the start");
    assert_eq!(
        (bound.limit, bound.at.as_deref()),
        (Limit::DoesNotStart, Some("U1"))
    );
}

/// A load that boots with 10 mA wakes at 2.2 V only: E - R (I + 10 mA) = 2.2 V at the start, where
/// its own conductance of reset is nothing.
#[test]
fn boot_counts_at_the_start() {
    let board = Netlist::new("direct").cell("BT1", plain_cell(3.0, 25.0), 1, "VDD");
    let mut family = with_module(board);
    family.loads[0].reset = Some(Reset {
        below: Voltage::from_volts(1.9),
        release: Voltage::from_volts(2.2),
        boot: vec![BootStep {
            span: Time::from_secs(0.03),
            current: Current::from_amps(0.010),
        }],
    });
    let out = fresh(&family);
    assert_close(out.running_amps, 0.040, EXACT);
    // Awake from 0.8 V / 25 ohm = 32 mA downwards; then boot takes 10 mA of the 40 mA down to 2.0 V.
    assert_close(out.starting_amps, 0.030, EXACT);
    assert_eq!(
        out.starting_limit.map(|b| b.limit),
        Some(Limit::WorkingRange)
    );
}

fn polarised(ratio: f64) -> CellModel {
    let mut model = plain_cell(3.0, 10.0);
    model.polarisation = vec![Branch {
        ratio,
        time: Time::from_secs(1000.0),
    }];
    model
}

/// Settled branches for what flows on, rested ones for a moment; a burst of the board's own comes on
/// top of settled ones through R0 alone: E - I R (1 + r) - 11 mA R = 2.0 V.
#[test]
fn polarisation_counts_where_it_has_time_to_settle() {
    let board = Netlist::new("direct").cell("BT1", polarised(1.5), 1, "VDD");
    let bursts = vec![task("report", 5.0, &[(0.003, "transmit")])];
    let family = with_tasks(with_module(board), bursts);
    let out = fresh(&family);
    assert_close(out.running_amps, 1.0 / 25.0, EXACT);
    assert_close(out.burst_amps, 1.0 / 10.0, EXACT);
    let beside = out.beside_task_amps.expect("a task");
    assert_close(beside, (1.0 - 0.011 * 10.0) / 25.0, EXACT);
}

/// For a moment all of a film, 20 ohm; for long what the current leaves of it,
/// I (10 ohm + 20 ohm / (1 + I/Ig)) = 1 V with Ig = 10 C / 1000 s, twice that per 10 K.
#[test]
fn a_film_counts_as_a_current_leaves_it() {
    let mut model = plain_cell(3.0, 10.0);
    model.film = Some(Film {
        resistance: Resistance::from_ohms(20.0),
        growth: Time::from_secs(1000.0),
        burn_off: Charge::from_coulombs(10.0),
    });
    let board = Netlist::new("direct").cell("BT1", model, 1, "VDD");
    let out = fresh(&with_module(board));
    let grows = 0.01 * libm::exp2(0.5);
    let b = 30.0 * grows - 1.0;
    let amps = (-b + (b * b + 40.0 * grows).sqrt()) / 20.0;
    assert_close(out.running_amps, amps, EXACT);
    assert_close(out.burst_amps, 1.0 / 30.0, EXACT);
}

#[test]
fn a_cell_gives_what_its_maker_allows_and_no_more() {
    let mut model = plain_cell(3.0, 10.0);
    model.limits.continuous = Some(Current::from_amps(3e-3));
    model.limits.pulse = Some(Current::from_amps(15e-3));
    let board = Netlist::new("coin").cell("BT1", model, 1, "VDD");
    let out = fresh(&with_module(board));
    assert_close(out.running_amps, 3e-3, EXACT);
    assert_close(out.burst_amps, 15e-3, EXACT);
    assert_eq!(
        (out.limit.limit, out.limit.at.as_deref()),
        (Limit::CellRating, Some("BT1"))
    );
}

#[test]
fn a_supply_at_its_limit_is_said() {
    let board = Netlist::new("bench").part(
        "PS1",
        lastvolt_core::model::Kind::Supply,
        kit::supply(3.3, 0.1, 0.5),
        &[("plus", "VDD"), ("minus", "GND")],
    );
    let out = fresh(&with_module(board));
    assert_close(out.running_amps, 0.5, EXACT);
    assert_eq!(out.limit.limit, Limit::SupplyLimit);
}

#[test]
fn a_rail_that_nothing_needs_is_held_within_a_twentieth() {
    let board = Netlist::new("bare").cell("BT1", plain_cell(3.0, 10.0), 1, "VDD");
    let board = board.resistor("R1", 1e6, "VDD", "GND");
    let family = kit::family(vec![board.board()], Vec::new());
    let found = delivered(&family, &[0.0]);
    assert_eq!(found.rails[0].need, Need::Unstated);
    let out = &found.rails[0].outputs[0];
    assert_close(out.running_amps, 0.05 * 3.0 / 10.0, EXACT);
    assert_eq!(out.limit.limit, Limit::Sag);
}

#[test]
fn a_promised_band_binds_from_both_sides() {
    let board = || Netlist::new("direct").cell("BT1", plain_cell(3.0, 25.0), 1, "VDD");
    let out = fresh(&promising(with_module(board()), Some((2.8, 3.2)), None));
    assert_close(out.running_amps, 0.2 / 25.0, EXACT);
    assert_eq!(out.limit.limit, Limit::PromiseBand);
    // A rail that is too high unloaded is not held, whatever a load would pull it down to.
    let out = fresh(&promising(with_module(board()), Some((2.5, 2.9)), None));
    assert_eq!(
        (out.running_amps, out.burst_amps, out.starting_amps),
        (0.0, 0.0, 0.0)
    );
    assert_eq!(out.limit.limit, Limit::PromiseBand);
}

/// E falls straight from 3 V to 2 V: at depth d the rail gives (1 V - d V) / 25 ohm.
#[test]
fn a_promise_is_kept_down_to_the_depth_of_the_closed_form() {
    let model = cell_model(1000.0, &[(0.0, 3.0), (1.0, 2.0)], &[(0.0, 25.0)]);
    let board = Netlist::new("direct").cell("BT1", model, 1, "VDD");
    let family = promising(with_module(board), None, Some(0.015));
    let asked = depths(&family.boards[0], None);
    let found = delivered(&family, &asked);
    for out in &found.rails[0].outputs {
        assert_close(out.running_amps, (1.0 - out.depth) / 25.0, 2e-3);
    }
    let promise = found.rails[0].promise.as_ref().expect("a promise");
    let Reach::DownTo(depth) = promise.kept[0].running else {
        panic!("{promise:?}");
    };
    assert!((depth - 0.625).abs() < 1.5e-3, "{depth}");
}

#[test]
fn a_rail_that_is_switched_off_gives_nothing() {
    let board = Netlist::new("switched")
        .cell("BT1", plain_cell(3.0, 10.0), 1, "BAT")
        .switch("S1", 0.05, "BAT", "VDD");
    let family = with_module(board);
    let request = DeliverRequest {
        family: &family,
        board: "switched",
        profile: None,
        rail: None,
        ambients: vec![Temperature::from_celsius(25.0)],
        depths: vec![0.0],
        positions: BTreeMap::from([("S1".to_owned(), "off".to_owned())]),
    };
    let found = deliver(&request, &Silent).expect("operating points");
    let out = &found.rails[0].outputs[0];
    assert_eq!(
        (out.running_amps, out.limit.limit),
        (0.0, Limit::NotPowered)
    );
}

#[test]
fn law_more_depth_never_gives_more_from_a_cell_that_only_falls() {
    let model = crate::life::small_cell(100.0);
    let family = crate::life::coin(model);
    let found = delivered(&family, &depths(&family.boards[0], None));
    for pair in found.rails[0].outputs.windows(2) {
        for amps in [
            |o: &Output| o.running_amps,
            |o: &Output| o.burst_amps,
            |o: &Output| o.starting_amps,
        ] {
            assert!(amps(&pair[1]) <= amps(&pair[0]) * (1.0 + EXACT), "{pair:?}");
        }
    }
}

#[test]
fn unknown_rails_and_boards_are_errors_and_signals_are_no_rails() {
    let board = Netlist::new("direct").cell("BT1", plain_cell(3.0, 25.0), 1, "VDD");
    let board = board.resistor("R1", 1e6, "SIG", "GND");
    let mut family = with_module(board);
    family.connector.pins.push("SIG".to_owned());
    assert_eq!(rails(&family, &family.boards[0]), ["VDD"]);
    let ask = |board, rail| {
        let request = DeliverRequest {
            family: &family,
            board,
            profile: None,
            rail,
            ambients: Vec::new(),
            depths: Vec::new(),
            positions: BTreeMap::new(),
        };
        deliver(&request, &Silent)
    };
    assert!(ask("direct", Some("SIG")).is_err());
    assert!(ask("other", None).is_err());
}

/// Nothing but the added load hangs on the regulated rail, and a regulator beside the other rail has
/// no part in what that one gives.
#[test]
fn a_bare_regulator_holds_its_rail_and_is_no_limit_of_another() {
    let device = Regulator {
        limit: Some(amps(0.15)),
        ..fixed(Topology::Linear, 3.0)
    };
    let model = cell_model(1000.0, &[(0.0, 4.5), (1.0, 2.7)], &[(0.0, 1.0)]);
    let board = Netlist::new("both")
        .cell("BT1", model, 1, "VBAT")
        .regulator(
            "U1",
            device,
            &[("in", "VBAT"), ("out", "VDD"), ("gnd", "GND")],
        );
    let family = kit::family(vec![board.board()], Vec::new());
    let mut family = promising(family, Some((2.9, 3.1)), None);
    family.connector.pins.push("VBAT".to_owned());
    family.connector.promises.push(RailPromise {
        pin: "VBAT".to_owned(),
        band: None,
        current: Some(Current::from_amps(0.1)),
    });
    let found = delivered(&family, &[0.0, 0.9]);
    let names: Vec<&str> = found.rails.iter().map(|r| r.rail.as_str()).collect();
    assert_eq!(names, ["VDD", "VBAT"]);
    let fresh = &found.rails[0].outputs[0];
    assert_close(fresh.running_amps, 0.15, EXACT);
    assert_close(fresh.starting_amps, 0.15, EXACT);
    // At 0.9 the cell stands at 2.88 V: the regulator is in dropout and the rail below its band.
    assert_eq!(found.rails[0].outputs[1].limit.limit, Limit::Dropout);
    for (out, volts) in found.rails[1].outputs.iter().zip([4.5, 2.88]) {
        assert_close(out.running_amps, 0.05 * volts / 1.0, EXACT);
        assert_eq!(out.limit.limit, Limit::Sag);
    }
}
