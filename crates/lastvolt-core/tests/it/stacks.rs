//! Laws on stacks: boards of different make on one connector, cells either way round, any position.
//!
//! Every stack has an operating point; currents and powers sum to zero in it; and it does not matter
//! which board lies on top. Regulators have one set voltage each kind, so that two of a kind share a
//! rail at equal voltages.

use lastvolt_core::circuit::{Point, Situation};
use lastvolt_core::device::{Channel, Diode, Regulator, Setpoint, Topology, WhenOff};
use lastvolt_core::model::Board;
use lastvolt_core::quantity::Voltage;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

use crate::kit::{self, check_laws, diode, enable, regulator};
use crate::netlist::{
    Netlist, amps, assert_close, constant_amps, fet, losses, ohms, plain_cell, solve_stack, volts,
};

/// What is drawn at random for one board.
#[derive(Debug, Clone, Copy)]
struct Draw {
    make: Make,
    /// Share between an empty and a fresh cell.
    charge: f64,
    is_reversed: bool,
    is_on: bool,
    load_amps: f64,
}

#[derive(Debug, Clone, Copy)]
enum Make {
    /// Coin cell, series p-channel transistor, switch.
    Coin,
    /// Coin cell, fuse and shunt diode.
    Fused,
    /// One alkaline cell and a step-up converter.
    OneCell,
    /// Two alkaline cells and a step-up/down converter.
    TwoCell,
    /// An outside supply and a linear regulator.
    Usb,
}

fn draw() -> impl Strategy<Value = Draw> {
    let make = prop_oneof![
        Just(Make::Coin),
        Just(Make::Fused),
        Just(Make::OneCell),
        Just(Make::TwoCell),
        Just(Make::Usb),
    ];
    (
        make,
        0.0..1.0,
        prop::bool::weighted(0.3),
        prop::bool::weighted(0.8),
        -6.0..-1.5,
    )
        .prop_map(|(make, charge, is_reversed, is_on, exponent)| Draw {
            make,
            charge,
            is_reversed,
            is_on,
            load_amps: lastvolt_core::numerics::math::pow(10.0, exponent),
        })
}

fn silicon() -> Diode {
    diode(&[(1e-3, 0.6), (0.1, 0.75)])
}

fn converter(topology: Topology) -> Regulator {
    Regulator {
        quiescent_in: amps(2e-6),
        quiescent_out: amps(15e-6),
        bias: amps(10e-9),
        loss: losses(0.05, 0.3),
        runs_down_to: Voltage::from_volts(0.5),
        limit: Some(amps(0.5)),
        enable: enable(0.3, 0.8, 50e-9),
        ..regulator(topology, Setpoint::Reference(volts(0.5)))
    }
}

/// A step-up or step-up/down converter with divider and a switched, pulled-down enable input.
fn with_converter(list: Netlist, device: Regulator, pins: &[(&str, &str)]) -> Netlist {
    list.switch("S1", 0.05, "IN", "EN")
        .resistor("R3", 1e6, "EN", "GND")
        .regulator("U1", device, pins)
        .resistor("R1", 1e6, "VDD", "FB")
        .resistor("R2", 180e3, "FB", "GND")
}

fn board(name: &str, draw: &Draw) -> Board {
    let list = Netlist::new(name);
    let charge = draw.charge;
    let low_threshold = || fet(Channel::P, 0.7, &[(1.8, 0.1), (4.5, 0.05)]);
    let pins = [
        ("in", "IN"),
        ("out", "VDD"),
        ("gnd", "GND"),
        ("enable", "EN"),
        ("fb", "FB"),
    ];
    let list = match draw.make {
        Make::Coin => list
            .cell(
                "BT1",
                plain_cell(2.0 + 1.2 * charge, 60.0 - 45.0 * charge),
                1,
                "BAT",
            )
            .fet("Q1", low_threshold(), ["BAT", "BATP", "GND"])
            .switch("S1", 0.05, "BATP", "VDD"),
        Make::Fused => list
            .cell(
                "BT1",
                plain_cell(2.0 + 1.2 * charge, 60.0 - 45.0 * charge),
                1,
                "BAT",
            )
            .resistor("F1", 2.0, "BAT", "BATP")
            .diode("D1", silicon(), "GND", "BATP")
            .switch("S1", 0.05, "BATP", "VDD"),
        Make::OneCell => {
            let device = Regulator {
                when_off: WhenOff::BodyDiode,
                ..converter(Topology::Boost)
            };
            let list = list
                .cell(
                    "BT1",
                    plain_cell(0.8 + 0.8 * charge, 0.6 - 0.4 * charge),
                    1,
                    "IN",
                )
                .inductor("L1", 0.15, "IN", "LX");
            let sw = [&pins[..], &[("sw", "LX")]].concat();
            with_converter(list, device, &sw)
        }
        Make::TwoCell => {
            let list = list
                .cell(
                    "BT1",
                    plain_cell(0.8 + 0.8 * charge, 0.6 - 0.4 * charge),
                    2,
                    "BAT",
                )
                .fet("Q1", low_threshold(), ["BAT", "IN", "GND"])
                .inductor("L1", 0.15, "LX1", "LX2");
            let sw = [&pins[..], &[("sw1", "LX1"), ("sw2", "LX2")]].concat();
            with_converter(list, converter(Topology::BuckBoost), &sw)
        }
        Make::Usb => {
            let device = Regulator {
                quiescent_in: amps(50e-6),
                dropout: ohms(1.5),
                limit: Some(amps(0.3)),
                reverse: WhenOff::BodyDiode,
                ..regulator(Topology::Linear, Setpoint::Output(volts(3.0)))
            };
            list.supply("PS1", 4.4 + 0.85 * charge, 0.3, "VBUS")
                .switch("S1", 0.05, "VBUS", "IN")
                .regulator("U1", device, &pins[..3])
        }
    };
    list.load("module", constant_amps(draw.load_amps), "VDD")
        .board()
}

/// Names do not change with the place of a board in the stack.
fn named(draws: &[Draw]) -> Vec<(String, Draw)> {
    let names = ["a", "b", "c"];
    names
        .iter()
        .map(|n| (*n).to_owned())
        .zip(draws.iter().copied())
        .collect()
}

fn solved(stack: &[(String, Draw)]) -> Result<Point, TestCaseError> {
    let boards: Vec<Board> = stack.iter().map(|(name, draw)| board(name, draw)).collect();
    let point = solve_stack(boards, |situation| {
        for (name, draw) in stack {
            let prefix = if stack.len() == 1 {
                String::new()
            } else {
                format!("{name}/")
            };
            let position = if draw.is_on { "on" } else { "off" };
            situation
                .positions
                .insert(format!("{prefix}S1"), position.to_owned());
            if draw.is_reversed && !matches!(draw.make, Make::Usb) {
                situation.reversed.insert(format!("{prefix}BT1"));
            }
        }
    });
    point.map_err(|error| TestCaseError::fail(error.to_string()))
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 400,
        failure_persistence: None,
        rng_seed: RngSeed::Fixed(20_261_125),
        ..ProptestConfig::default()
    })]

    #[test]
    fn law_stacks_conserve_and_have_no_top(draws in prop::collection::vec(draw(), 1..=3)) {
        let mut stack = named(&draws);
        let point = solved(&stack)?;
        check_laws(&point);
        stack.reverse();
        let turned = solved(&stack)?;
        for net in &point.nets {
            let other = turned.net(&net.name).expect("the same nets");
            // A microvolt, and the same share of a volt: both are solved to less.
            let allowed = 1e-6 + 1e-6 * net.volts.abs();
            prop_assert!((net.volts - other).abs() <= allowed, "{}: {} and {other}", net.name, net.volts);
        }
    }
}

/// Two cells of 3.0 V and 15 ohm behind a p-channel transistor with its gate to ground, one backwards:
/// the sound board holds the rail up, and with it the transistor of the other one on.
/// Independent solution by scipy 1.17: `data/reversed_stack.py`, values as it printed them.
#[test]
fn ref_scipy_reversed_cell_under_a_second_board() {
    let make = |name: &str| {
        let points = [(1.8, 0.108), (2.5, 0.071), (4.5, 0.052)];
        Netlist::new(name)
            .cell("BT1", plain_cell(3.0, 15.0), 1, "BAT")
            .fet("Q1", fet(Channel::P, 0.7, &points), ["BAT", "VDD", "GND"])
            .board()
    };
    let solved = solve_stack(vec![make("a"), make("b")], |s| {
        s.reversed.insert("a/BT1".to_owned());
    });
    let point = solved.expect("an operating point");
    assert_close(point.net("VDD").expect("the rail"), 1.011_107_455_857, 1e-6);
    let round = point.part("b/BT1").expect("the cell").amps;
    assert_close(round, 0.128_179_548_994, 1e-6);
}

/// Each board has its own depth, and a source may be missing: a fresh and a worn cell on one rail
/// drive (3.2 V - 2.0 V) / (15 ohm + 60 ohm + 1 ohm) round, and alone nothing flows.
#[test]
fn boards_are_drawn_apart_and_sources_can_be_missing() {
    let make = |name: &str| {
        let model = kit::cell_model(
            1000.0,
            &[(0.0, 3.2), (1.0, 2.0)],
            &[(0.0, 15.0), (1.0, 60.0)],
        );
        Netlist::new(name)
            .cell("BT1", model, 1, "BAT")
            .resistor("R1", 0.5, "BAT", "VDD")
            .board()
    };
    let worn = |s: &mut Situation| {
        s.depths.insert("a".to_owned(), 1.0);
    };
    let point = solve_stack(vec![make("a"), make("b")], worn).expect("a point");
    let into = -point.part("a/BT1").expect("the cell").amps;
    assert_close(into, 1.2 / 76.0, 1e-9);
    let alone = solve_stack(vec![make("a"), make("b")], |s| {
        worn(s);
        s.absent.insert("b/BT1".to_owned());
    });
    let alone = alone.expect("a point");
    assert_close(alone.net("VDD").expect("the rail"), 2.0, 1e-9);
    assert_eq!(alone.part("b/BT1").expect("the holder").amps, 0.0);
}
