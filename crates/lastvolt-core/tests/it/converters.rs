//! Converters in solved circuits: what they take from their source, when they start, what they do
//! when off, and what happens where the source cannot give enough.

use lastvolt_core::circuit::{History, Mode, Point};
use lastvolt_core::device::{Enable, Loss, Regulator, Setpoint, Topology, WhenOff};
use lastvolt_core::quantity::{Current, Fraction, Voltage};

use crate::kit::regulator;
use crate::netlist::{
    Netlist, amps, assert_close, constant_amps, constant_watts, losses, ohms, plain_cell, solve,
    solve_with, volts,
};

const PINS: [(&str, &str); 3] = [("in", "IN"), ("out", "VDD"), ("gnd", "GND")];

fn fixed(topology: Topology, output: f64) -> Regulator {
    regulator(topology, Setpoint::Output(volts(output)))
}

fn input_amps(point: &Point) -> f64 {
    point.part("PS1").expect("the supply").amps
}

#[track_caller]
fn check_efficiency(topology: Topology, vin: f64, vout: f64, iout: f64, share: f64) {
    let row = (
        Voltage::from_volts(vin),
        Current::from_amps(iout),
        Fraction::from_share(share),
    );
    let device = Regulator {
        loss: Loss::Efficiency(vec![row]),
        ..fixed(topology, vout)
    };
    let board = Netlist::new("efficiency")
        .supply("PS1", vin, 0.0, "IN")
        .regulator("U1", device, &PINS)
        .load("module", constant_amps(iout), "VDD");
    let point = solve(board).expect("operating point");
    assert_close(input_amps(&point), vout * iout / (share * vin), 1e-6);
}

/// Checks EF01 to EF07: published efficiencies of step-up converters, as reference values (TI
/// SLVS873B, SLVS577E and product data; EF03, EF04 and EF07 TI; all high). The input current is
/// what the definition of efficiency makes of them.
#[test]
fn ref_step_up_input_current_from_published_efficiency() {
    check_efficiency(Topology::Boost, 2.0, 3.3, 1e-5, 0.88);
    check_efficiency(Topology::Boost, 2.0, 3.3, 0.1, 0.93);
    check_efficiency(Topology::Boost, 3.0, 3.6, 1e-5, 0.923);
    check_efficiency(Topology::Boost, 3.0, 3.6, 0.1, 0.963);
    check_efficiency(Topology::Boost, 2.4, 3.3, 0.3, 0.9);
    check_efficiency(Topology::Boost, 3.0, 5.0, 0.6, 0.9);
    check_efficiency(Topology::Boost, 3.6, 5.0, 3.0, 0.947);
}

/// Checks EF08 and EF09: TPS63802 stepping down and up (TI SLVA535B, high).
#[test]
fn ref_step_up_down_input_current_from_published_efficiency() {
    check_efficiency(Topology::BuckBoost, 5.0, 3.3, 2.0, 0.93);
    check_efficiency(Topology::BuckBoost, 2.6, 3.3, 2.0, 0.85);
}

/// Checks IQ01 to IQ03: current at the output, seen at the input through the efficiency (MCP1640,
/// TPS61291, TPS61220: current published, operating point chosen, derived).
///
/// The published form divides all current at the output by the efficiency, so it is set up as a
/// load there; the loss share is the one that makes this efficiency.
#[test]
fn ref_standing_current_at_the_output_seen_by_the_cell() {
    for (standing, vin, share, expected) in [
        (19e-6, 1.2, 0.75, 69.67e-6),
        (5.7e-6, 2.4, 0.9, 8.708e-6),
        (5.5e-6, 1.2, 0.8, 18.906e-6),
    ] {
        let device = Regulator {
            loss: losses(1.0 / share - 1.0, 0.0),
            ..fixed(Topology::Boost, 3.3)
        };
        let board = Netlist::new("standing")
            .supply("PS1", vin, 0.0, "IN")
            .regulator("U1", device, &PINS)
            .load("standing", constant_amps(standing), "VDD");
        let point = solve(board).expect("operating point");
        assert_close(input_amps(&point), expected, 1e-3);
    }
}

/// The regulator's own quiescent currents: V_in I_q,in + V_out I_q,out at the input, without the
/// share (the equation of docs/theory/circuit.md).
#[test]
fn own_quiescent_current_is_referred_by_the_voltages() {
    let device = Regulator {
        quiescent_in: amps(0.5e-6),
        quiescent_out: amps(19e-6),
        loss: losses(0.05, 0.35),
        ..fixed(Topology::Boost, 3.3)
    };
    let board = Netlist::new("standing")
        .supply("PS1", 1.2, 0.0, "IN")
        .regulator("U1", device, &PINS);
    let point = solve(board).expect("operating point");
    // The path's 0.35 ohm adds 0.35 (52 uA)^2 / 1.2 V, a hundred thousandth.
    assert_close(input_amps(&point), 0.5e-6 + 19e-6 * 3.3 / 1.2, 1e-4);
}

/// The smaller root of the power balance of a step-up converter is in closed form.
#[test]
fn step_up_input_current_is_the_smaller_root() {
    let (vin, vout, iout, a, path, winding) = (1.5, 3.0, 0.08, 0.05, 0.35, 0.15);
    let device = Regulator {
        loss: losses(a, path),
        ..fixed(Topology::Boost, vout)
    };
    let pins = [("in", "IN"), ("out", "VDD"), ("gnd", "GND"), ("sw", "LX")];
    let board = Netlist::new("root")
        .supply("PS1", vin, 0.0, "IN")
        .inductor("L1", winding, "IN", "LX")
        .regulator("U1", device, &pins)
        .load("module", constant_amps(iout), "VDD");
    let point = solve(board).expect("operating point");
    let (r, p) = (path + winding, (1.0 + a) * vout * iout);
    let expected = 2.0 * p / (vin + (vin * vin - 4.0 * r * p).sqrt());
    assert_close(input_amps(&point), expected, 1e-9);
    let u1 = point.part("U1").expect("U1");
    assert_eq!(u1.mode, Some(Mode::Run));
    assert_close(
        u1.inductor_amps.expect("an inductor current"),
        expected,
        1e-9,
    );
    assert_close(point.net("LX").expect("LX"), vin - winding * expected, 1e-9);
}

/// A tired alkaline cell behind 0.5 ohm feeds a lossless step-up converter of 3 V.
fn at_the_fold(path_ohms: f64, load_watts: f64) -> Point {
    let device = Regulator {
        loss: losses(0.0, path_ohms),
        ..fixed(Topology::Boost, 3.0)
    };
    let board = Netlist::new("fold")
        .cell("BT1", plain_cell(1.5, 0.5), 1, "IN")
        .regulator("U1", device, &PINS)
        .load("module", constant_watts(load_watts), "VDD");
    solve(board).expect("a folded converter is an answer")
}

/// Check ST11: the most that 1.5 V behind 0.5 ohm gives, 1.125 W (maximum power theorem, derived).
#[test]
fn ref_most_power_of_a_source() {
    let before = at_the_fold(0.0, 1.124);
    assert!(before.folds.is_empty());
    assert_eq!(before.part("U1").expect("U1").mode, Some(Mode::Run));
    let past = at_the_fold(0.0, 2.25);
    assert_eq!(past.part("U1").expect("U1").mode, Some(Mode::Collapsed));
    let fold = past.folds.first().expect("a fold");
    assert_eq!(fold.part, "U1");
    // The way to the fold is found by bisection to a ten thousandth of the load.
    assert_close(fold.most_watts, 1.125, 1e-3);
    assert_close(fold.load_share, 0.5, 1e-3);
}

/// With a path resistance the fold lies at E^2 / (4 (R_s + R_path)).
#[test]
fn path_resistance_lowers_the_fold() {
    assert!(at_the_fold(0.25, 0.749).folds.is_empty());
    let past = at_the_fold(0.25, 1.5);
    assert_close(past.folds.first().expect("a fold").load_share, 0.5, 1e-3);
}

/// A step-up converter that starts and stops at the given voltages, in the two histories.
fn mode_at(cell_volts: f64, start: (f64, f64), stops: f64, history: History) -> Mode {
    let (load_amps, start_volts) = start;
    let device = Regulator {
        start: vec![(
            Current::from_amps(load_amps),
            Voltage::from_volts(start_volts),
        )],
        runs_down_to: Voltage::from_volts(stops),
        ..fixed(Topology::Boost, 3.3)
    };
    let board = Netlist::new("start")
        .cell("BT1", plain_cell(cell_volts, 1e-3), 1, "IN")
        .regulator("U1", device, &PINS)
        .load("module", constant_amps(load_amps), "VDD");
    let point = solve_with(board, |s| s.history = history).expect("operating point");
    point
        .part("U1")
        .expect("U1")
        .mode
        .expect("a regulator has a mode")
}

/// Checks ST01 (MCP1640, Microchip DS22234B), ST02 and ST03 (TPS61010, TI SLVS314D), ST05 (TPS61291, TI
/// SLVSBX9A), ST08 (TPS61098, TI SLVS873B), all high: typical start and lowest running voltage.
#[test]
fn ref_starting_needs_more_than_running_on() {
    for (load_amps, start, stops) in [
        (1e-3, 0.65, 0.35),
        (0.1, 0.85, 0.80),
        (1.1e-3, 0.80, 0.80),
        (20e-3, 1.5, 0.9),
        (1e-3, 0.7, 0.7),
    ] {
        let mode = |volts, history| mode_at(volts, (load_amps, start), stops, history);
        assert_eq!(mode(start + 0.02, History::Cold), Mode::Run);
        assert_ne!(mode(start - 0.02, History::Cold), Mode::Run);
        assert_eq!(mode(stops + 0.02, History::Running), Mode::Run);
        assert_ne!(mode(stops - 0.02, History::Running), Mode::Run);
    }
}

/// Rail of a switched-off step-up converter: enable on ground, 50 mA through what is left.
fn off_drop(device: Regulator) -> f64 {
    let device = Regulator {
        enable: Some(Enable {
            low: Voltage::from_volts(0.2),
            high: Voltage::from_volts(0.7),
            leakage: amps(0.0),
        }),
        ..device
    };
    let pins = [
        ("in", "IN"),
        ("out", "VDD"),
        ("gnd", "GND"),
        ("enable", "GND"),
        ("sw", "LX"),
    ];
    let board = Netlist::new("off")
        .supply("PS1", 2.4, 0.0, "IN")
        .inductor("L1", 0.2, "IN", "LX")
        .regulator("U1", device, &pins)
        .load("module", constant_amps(0.05), "VDD");
    let point = solve(board).expect("operating point");
    assert_eq!(point.part("U1").expect("U1").mode, Some(Mode::Off));
    2.4 - point.net("VDD").expect("the rail")
}

/// Check SD01: off, a step-up converter passes its input less 0.61 V at 50 mA through 0.2 ohm and
/// a diode of 0.6 V (TI SLVAFO4 table 2-1, derived).
#[test]
fn ref_switched_off_body_diode_drop() {
    let device = Regulator {
        when_off: WhenOff::BodyDiode,
        pass_diode: Voltage::from_volts(0.6),
        ..fixed(Topology::Boost, 3.3)
    };
    assert_close(off_drop(device), 0.61, 1e-3);
}

/// Check SD02: a bypass of 1 ohm drops 50 mV at 50 mA (TI SLVAFO4 table 2-1, derived); the
/// inductor in series, 0.2 ohm, adds 10 mV where current goes through the switch node.
#[test]
fn ref_switched_off_bypass_drop() {
    let device = Regulator {
        when_off: WhenOff::Passes,
        dropout: ohms(1.0),
        ..fixed(Topology::Boost, 3.3)
    };
    assert_close(off_drop(device), 0.05 + 0.05 * 0.2, 1e-3);
}
