//! Operating points of small nonlinear boards against an independent solution of the same equations
//! by scipy 1.17 (`data/operating_points.py`, values as it printed them beside it).
//!
//! Agreement to a millionth is asked for: the other solution is good to some 1e-14, this one to the
//! solver's tolerance, and tables and fits are computed from the same data-sheet figures on both
//! sides.

use lastvolt_core::circuit::{Mode, Point};
use lastvolt_core::device::{
    Capacitor, CellModel, Channel, Dielectric, Diode, Enable, Fet, Regulator, Setpoint, Topology,
};
use lastvolt_core::numerics::table::Table;
use lastvolt_core::quantity::{Temperature, Voltage};

use crate::kit::{diode, regulator};
use crate::netlist::{
    Netlist, amps, assert_close, constant_amps, fet, losses, ohms, plain_capacitor, plain_cell,
    solve, solve_stack, solve_with, volts,
};

/// The stored value of a quantity of a board.
fn stored(board: &str, quantity: &str) -> f64 {
    let wanted = format!("{board},{quantity},");
    let line = include_str!("data/operating_points.csv")
        .lines()
        .find_map(|line| line.strip_prefix(&wanted));
    let value = line.and_then(|value| value.parse().ok());
    value.unwrap_or_else(|| panic!("no stored value {wanted}"))
}

#[track_caller]
fn check(got: f64, board: &str, quantity: &str) {
    assert_close(got, stored(board, quantity), 1e-6);
}

fn net(point: &Point, name: &str) -> f64 {
    point.net(name).expect("the net is there")
}

fn part_amps(point: &Point, name: &str) -> f64 {
    point.part(name).expect("the part is there").amps
}

fn p_fet() -> Fet {
    Fet {
        off_leakage: Some(amps(0.5e-6)),
        ..fet(Channel::P, 0.7, &[(1.8, 0.095), (2.5, 0.066), (4.5, 0.047)])
    }
}

fn worn_coin_cell() -> CellModel {
    let table = |points: &[(f64, f64)]| Table::new(points).expect("the points rise");
    CellModel {
        open_circuit: table(&[(0.0, 3.25), (0.1, 3.0), (0.7, 2.9), (1.0, 2.0)]),
        resistance: table(&[(0.0, 15.0), (0.7, 20.0), (1.0, 60.0)]),
        ..plain_cell(0.0, 0.0)
    }
}

fn ceramic() -> Capacitor {
    Capacitor {
        dielectric: Some(Dielectric::Class2X),
        rated: Some(Voltage::from_volts(6.3)),
        ..plain_capacitor(10e-6)
    }
}

/// A worn coin cell, p-channel transistor, switch, ceramic capacitor, LED and load, at 8 and 40 degC.
#[test]
fn ref_scipy_coin_board_with_transistor_led_and_load() {
    for celsius in [8, 40] {
        let name = format!("coin_{celsius}");
        let board = Netlist::new("coin")
            .cell("BT1", worn_coin_cell(), 1, "CELL")
            .resistor("R2", 0.05, "CELL", "BAT")
            .fet("Q1", p_fet(), ["BAT", "BATP", "GND"])
            .switch("S1", 0.05, "BATP", "VDD")
            .capacitor("C1", ceramic(), "VDD", "GND")
            .resistor("R1", 470.0, "VDD", "A")
            .led("DS1", diode(&[(1e-3, 1.85), (10e-3, 2.05)]), "A", "GND")
            .load("module", constant_amps(9.8e-3), "VDD");
        let point = solve_with(board, |s| {
            s.depth = 0.4;
            s.ambient = Temperature::from_celsius(f64::from(celsius));
        })
        .expect("operating point");
        check(net(&point, "VDD"), &name, "vdd_v");
        check(net(&point, "BAT"), &name, "bat_v");
        check(net(&point, "BATP"), &name, "batp_v");
        check(part_amps(&point, "BT1"), &name, "cell_a");
        check(part_amps(&point, "DS1"), &name, "led_a");
        check(part_amps(&point, "C1"), &name, "leak_a");
        check(point.part("Q1").expect("Q1").volts, &name, "fet_v");
    }
}

/// The step-up converter of the one-cell board under a load current.
fn one_cell(load_amps: f64) -> Point {
    let device = Regulator {
        bias: amps(10e-9),
        quiescent_in: amps(0.5e-6),
        quiescent_out: amps(19e-6),
        loss: losses(0.05, 0.35),
        ..regulator(Topology::Boost, Setpoint::Reference(volts(0.5)))
    };
    let pins = [
        ("in", "IN"),
        ("out", "VDD"),
        ("gnd", "GND"),
        ("fb", "FB"),
        ("sw", "LX"),
    ];
    let board = Netlist::new("one-cell")
        .cell("BT1", plain_cell(1.25, 0.24), 1, "IN")
        .inductor("L1", 0.2, "IN", "LX")
        .regulator("U1", device, &pins)
        .resistor("R1", 1e6, "VDD", "FB")
        .resistor("R2", 180e3, "FB", "GND")
        .load("module", constant_amps(load_amps), "VDD");
    solve(board).expect("a folded converter is an answer")
}

/// A step-up converter at a tenth and a half of its constant-power fold, and just before it.
#[test]
fn ref_scipy_step_up_board_up_to_its_fold() {
    for name in ["one_cell_tenth", "one_cell_half", "one_cell_near"] {
        let point = one_cell(stored(name, "load_a"));
        let u1 = point.part("U1").expect("U1");
        assert_eq!(u1.mode, Some(Mode::Run), "{name}");
        assert!(point.folds.is_empty(), "{name}");
        check(part_amps(&point, "BT1"), name, "cell_a");
        check(net(&point, "IN"), name, "in_v");
        check(net(&point, "LX"), name, "sw_v");
        check(
            u1.inductor_amps.expect("inductor current"),
            name,
            "inductor_a",
        );
        check(net(&point, "VDD"), "one_cell", "out_v");
    }
}

/// Past the fold the converter falls off, and the answer says how much the cell can give:
/// E'^2 / (4 (Rs + R)).
#[test]
fn ref_scipy_step_up_board_past_its_fold() {
    let fold_amps = stored("one_cell", "fold_load_a");
    for share in [1.001, 1.5] {
        let point = one_cell(share * fold_amps);
        assert_eq!(point.part("U1").expect("U1").mode, Some(Mode::Collapsed));
        let fold = point.folds.first().expect("a fold");
        assert_eq!(fold.part, "U1");
        // The share is found by bisection of the load; divider and quiescent current do not scale.
        assert_close(fold.load_share, 1.0 / share, 1e-3);
        assert_close(fold.most_watts, stored("one_cell", "most_w"), 1e-3);
    }
}

/// A reversed cell behind a gate-to-ground transistor while another board holds the rail up.
#[test]
fn ref_scipy_reversed_cell_under_another_boards_supply() {
    let name = "reversed_stack";
    let coin = |board: &str| {
        Netlist::new(board)
            .cell("BT1", plain_cell(3.0, 15.0), 1, "BAT")
            .fet("Q1", p_fet(), ["BAT", "VDD", "GND"])
    };
    let sound = coin("sound").resistor("R1", 1000.0, "VDD", "GND").board();
    let wrong = coin("wrong").board();
    let point = solve_stack(vec![sound, wrong], |s| {
        s.reversed.insert("wrong/BT1".to_owned());
    })
    .expect("operating point");
    check(net(&point, "VDD"), name, "vdd_v");
    check(part_amps(&point, "sound/BT1"), name, "sound_cell_a");
    check(net(&point, "sound/BAT"), name, "sound_bat_v");
    check(net(&point, "wrong/BAT"), name, "wrong_bat_v");
    // The current out of the holder's plus contact, whichever way round the cell is.
    let wrong_amps = part_amps(&point, "wrong/BT1");
    assert_close(
        wrong_amps.abs(),
        stored(name, "wrong_towards_rail_a").abs(),
        1e-6,
    );
}

/// Two cells, a step-up/down converter with divider, bias current, inductor and enable pull-down,
/// stepping up and stepping down.
#[test]
fn ref_scipy_step_up_down_board_on_both_sides() {
    for (name, emf, resistance, load_amps) in [
        ("two_cell_up", 1.1, 0.25, 40e-3),
        ("two_cell_down", 1.6, 0.15, 90e-3),
    ] {
        let device = Regulator {
            bias: amps(5e-9),
            quiescent_in: amps(12e-6),
            quiescent_out: amps(3e-6),
            loss: losses(0.03, 0.15),
            enable: Some(Enable {
                low: Voltage::from_volts(0.4),
                high: Voltage::from_volts(1.0),
                leakage: amps(50e-9),
            }),
            ..regulator(Topology::BuckBoost, Setpoint::Reference(volts(0.5)))
        };
        let pins = [
            ("in", "IN"),
            ("out", "VDD"),
            ("gnd", "GND"),
            ("enable", "EN"),
            ("fb", "FB"),
            ("sw1", "LX1"),
            ("sw2", "LX2"),
        ];
        let board = Netlist::new("two-cell")
            .cell("BT1", plain_cell(emf, resistance), 2, "BAT")
            .resistor("R4", 0.1, "BAT", "IN")
            .switch("S1", 0.0, "IN", "EN")
            .resistor("R3", 1e6, "EN", "GND")
            .inductor("L1", 0.08, "LX1", "LX2")
            .regulator("U1", device, &pins)
            .resistor("R1", 1e6, "VDD", "FB")
            .resistor("R2", 200e3, "FB", "GND")
            .load("module", constant_amps(load_amps), "VDD");
        let point = solve(board).expect("operating point");
        let u1 = point.part("U1").expect("U1");
        assert_eq!(u1.mode, Some(Mode::Run), "{name}");
        check(net(&point, "VDD"), name, "out_v");
        check(net(&point, "IN"), name, "in_v");
        check(part_amps(&point, "BT1"), name, "cell_a");
        check(
            u1.inductor_amps.expect("inductor current"),
            name,
            "inductor_a",
        );
    }
}

fn schottky() -> Diode {
    diode(&[(1e-3, 0.29), (30e-3, 0.41)])
}

/// A linear regulator behind a cable and a Schottky diode, regulating and in dropout.
#[test]
fn ref_scipy_linear_regulator_in_and_out_of_dropout() {
    for (name, supply_volts, mode) in [
        ("usb_regulating", 5.0, Mode::Run),
        ("usb_dropout", 3.5, Mode::Dropout),
    ] {
        let device = Regulator {
            quiescent_in: amps(55e-6),
            dropout: ohms(2.0),
            ..regulator(Topology::Linear, Setpoint::Output(volts(3.3)))
        };
        let pins = [("in", "IN"), ("out", "VDD"), ("gnd", "GND")];
        let board = Netlist::new("usb")
            .supply("PS1", supply_volts, 0.4, "VBUS")
            .diode("D1", schottky(), "VBUS", "IN")
            .regulator("U1", device, &pins)
            .resistor("R1", 82.0, "VDD", "GND");
        let point = solve(board).expect("operating point");
        assert_eq!(point.part("U1").expect("U1").mode, Some(mode), "{name}");
        check(net(&point, "VDD"), name, "out_v");
        check(net(&point, "IN"), name, "in_v");
        check(part_amps(&point, "PS1"), name, "supply_a");
    }
}
