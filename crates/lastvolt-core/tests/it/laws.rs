//! Laws that every operating point obeys, on random ladders of parts between cell and last net.
//!
//! Currents into every net sum to zero, absorbed power sums to zero, the order of the parts does
//! not matter, and multiplying every resistance by k while dividing every current by k changes no
//! voltage.

use lastvolt_core::circuit::{Mode, Point};
use lastvolt_core::device::{Channel, Diode, Regulator, Setpoint, Topology};
use lastvolt_core::model::Board;
use lastvolt_core::numerics::math;
use lastvolt_core::quantity::{Current, Voltage};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

use crate::kit::{self, diode};
use crate::netlist::{
    Netlist, amps, constant_amps, fet, losses, ohms, plain_cell, solve_stack, volts,
};

/// What leads from one net to the next.
#[derive(Debug, Clone, Copy)]
enum Along {
    Resistor(f64),
    Diode,
    Transistor,
    Regulator(Topology, f64),
}

/// What hangs between a net and ground.
#[derive(Debug, Clone, Copy)]
enum Across {
    Nothing,
    Resistor(f64),
    Led(f64),
    Load(f64),
    Cell(f64, f64),
    Clamp,
}

/// A value spread evenly over powers of ten.
fn decades(from: f64, to: f64) -> impl Strategy<Value = f64> {
    (from..to).prop_map(|x: f64| math::pow(10.0, x))
}

fn along() -> impl Strategy<Value = Along> {
    let topology = prop_oneof![
        Just(Topology::Linear),
        Just(Topology::Buck),
        Just(Topology::Boost),
        Just(Topology::BuckBoost),
    ];
    prop_oneof![
        3 => decades(-2.0, 5.0).prop_map(Along::Resistor),
        2 => Just(Along::Diode),
        2 => Just(Along::Transistor),
        2 => (topology, 1.8..5.0).prop_map(|(t, v)| Along::Regulator(t, v)),
    ]
}

fn across() -> impl Strategy<Value = Across> {
    prop_oneof![
        1 => Just(Across::Nothing),
        2 => decades(1.0, 7.0).prop_map(Across::Resistor),
        1 => decades(1.5, 4.0).prop_map(Across::Led),
        2 => decades(-6.0, -1.5).prop_map(Across::Load),
        1 => (-3.2..3.2, decades(-1.0, 3.0)).prop_map(|(v, r)| Across::Cell(v, r)),
        1 => Just(Across::Clamp),
    ]
}

fn ladder() -> impl Strategy<Value = Vec<(Along, Across)>> {
    prop::collection::vec((along(), across()), 1..6)
}

fn schottky(k: f64) -> Diode {
    Diode {
        leakage: Some(amps(0.5e-6 / k)),
        leakage_at: Some(Voltage::from_volts(25.0)),
        rated_current: Some(Current::from_amps(0.2 / k)),
        ..diode(&[(1e-3 / k, 0.29), (30e-3 / k, 0.41)])
    }
}

fn regulator(topology: Topology, output: f64, k: f64) -> Regulator {
    Regulator {
        quiescent_in: amps(20e-6 / k),
        loss: losses(0.05, 0.3 * k),
        dropout: ohms(0.5 * k),
        runs_down_to: Voltage::from_volts(0.7),
        ..kit::regulator(topology, Setpoint::Output(volts(output)))
    }
}

/// The board of a ladder on a cell of 3 V, with resistances times `k` and currents divided by it.
fn board(stages: &[(Along, Across)], k: f64) -> Board {
    let mut list = Netlist::new("ladder").cell("BT0", plain_cell(3.0, 10.0 * k), 1, "N0");
    for (at, &(along, across)) in stages.iter().enumerate() {
        let (from, to) = (format!("N{at}"), format!("N{}", at + 1));
        let mid = format!("M{}", at + 1);
        list = match along {
            Along::Resistor(r) => list.resistor(&format!("R{at}"), r * k, &from, &to),
            Along::Diode => list.diode(&format!("D{at}"), schottky(k), &from, &to),
            Along::Transistor => {
                let device = fet(Channel::P, 0.7, &[(1.8, 0.1), (4.5, 0.05)]);
                list.fet(&format!("Q{at}"), device, [&from, &to, "GND"])
            }
            Along::Regulator(topology, output) => {
                let pins = [("in", from.as_str()), ("out", to.as_str()), ("gnd", "GND")];
                list.regulator(&format!("U{at}"), regulator(topology, output, k), &pins)
            }
        };
        list = match across {
            Across::Nothing => list,
            Across::Resistor(r) => list.resistor(&format!("R{at}S"), r * k, &to, "GND"),
            Across::Led(r) => list.resistor(&format!("R{at}L"), r * k, &to, &mid).led(
                &format!("DS{at}"),
                diode(&[(1e-3 / k, 1.85), (1e-2 / k, 2.05)]),
                &mid,
                "GND",
            ),
            Across::Load(i) => list.load(&format!("load{at}"), constant_amps(i / k), &to),
            Across::Cell(v, r) => list.cell(&format!("BT{}", at + 1), plain_cell(v, r * k), 1, &to),
            Across::Clamp => list.diode(&format!("D{at}C"), schottky(k), "GND", &to),
        };
    }
    list.board()
}

fn solved(board: Board) -> Result<Point, TestCaseError> {
    solve_stack(vec![board], |_| {}).map_err(|error| TestCaseError::fail(error.to_string()))
}

/// Largest current through any pin.
fn largest_amps(point: &Point) -> f64 {
    let pins = point.parts.iter().flat_map(|p| &p.pin_amps);
    pins.fold(0.0, |most: f64, i| most.max(i.abs()))
}

/// Sum of the currents into each net, ground included, from the pins of the board.
fn net_sums(board: &Board, point: &Point) -> Vec<f64> {
    let mut sums = vec![0.0; board.nets.len()];
    for part in &board.parts {
        let solved = point.part(&part.name).expect("every part is solved");
        for (pin, i) in part.pins.iter().zip(&solved.pin_amps) {
            if let Some(net) = pin.net {
                sums[net] += i;
            }
        }
    }
    for load in &board.loads {
        let solved = point.load(&load.name).expect("every load is solved");
        for (name, i) in [(&load.plus, solved.amps), (&load.minus, -solved.amps)] {
            let net = board.nets.iter().position(|n| n == name);
            sums[net.expect("the load's net is on the board")] += i;
        }
    }
    sums
}

/// Currents, powers and the reported residual of a point.
fn conserves(board: &Board, point: &Point) -> Result<(), TestCaseError> {
    // The solver's tolerance: a nanoampere's thousandth, or the rounding of the largest current.
    let allowed = 1e-12 + 1e-9 * largest_amps(point);
    for (net, sum) in board.nets.iter().zip(net_sums(board, point)) {
        prop_assert!(sum.abs() <= allowed, "currents into {net} sum to {sum}");
    }
    prop_assert!(point.kcl_residual_amps <= allowed);
    let watts = || {
        point
            .parts
            .iter()
            .map(|p| p.watts)
            .chain(point.loads.iter().map(|l| l.watts))
    };
    let turned: f64 = watts().map(f64::abs).sum();
    let sum: f64 = watts().sum();
    prop_assert!(
        sum.abs() <= 1e-12 + 1e-8 * turned,
        "power sums to {sum} of {turned}"
    );
    Ok(())
}

fn modes(point: &Point) -> Vec<(String, Option<Mode>)> {
    let mut modes: Vec<_> = point
        .parts
        .iter()
        .map(|p| (p.name.clone(), p.mode))
        .collect();
    modes.sort();
    modes
}

/// As [`modes`], without telling apart why a regulator is down: one that asks its source for more
/// than there is also drags its input below where it stops, and which is seen first is a matter of
/// the way to the solution.
fn up_or_down(point: &Point) -> Vec<(String, Option<Mode>)> {
    let mut modes = modes(point);
    for (_, mode) in &mut modes {
        if *mode == Some(Mode::Collapsed) {
            *mode = Some(Mode::Off);
        }
    }
    modes
}

/// Every net has the same voltage in both.
fn same_volts(a: &Point, b: &Point) -> Result<(), TestCaseError> {
    for net in &a.nets {
        let other = b.net(&net.name).expect("the same nets");
        // A microvolt, and the same share of a volt: both are solved to less.
        let allowed = 1e-6 + 1e-6 * net.volts.abs();
        prop_assert!(
            (net.volts - other).abs() <= allowed,
            "{}: {} and {other}",
            net.name,
            net.volts
        );
    }
    Ok(())
}

fn config(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        failure_persistence: None,
        rng_seed: RngSeed::Fixed(20_261_125),
        ..ProptestConfig::default()
    }
}

proptest! {
    #![proptest_config(config(400))]

    #[test]
    fn law_currents_and_powers_sum_to_zero(stages in ladder()) {
        let board = board(&stages, 1.0);
        let point = solved(board.clone())?;
        conserves(&board, &point)?;
    }

    #[test]
    fn law_order_of_parts_does_not_matter(stages in ladder(), turn in 0_usize..12) {
        let board = board(&stages, 1.0);
        let mut other = board.clone();
        other.parts.reverse();
        let turn = turn % other.parts.len();
        other.parts.rotate_left(turn);
        let (a, b) = (solved(board)?, solved(other)?);
        prop_assert_eq!(modes(&a), modes(&b));
        same_volts(&a, &b)?;
    }

    /// Transistors are left out, because the body diode of their class has a size of its own, and
    /// reversed cells, because a converter into one has several ways to be down.
    #[test]
    fn law_impedance_scaling(stages in ladder(), k in decades(-1.0, 2.0)) {
        let passive: Vec<_> = stages
            .into_iter()
            .filter(|(along, _)| !matches!(along, Along::Transistor))
            .filter(|(_, across)| !matches!(across, Across::Cell(v, _) if *v < 0.0))
            .collect();
        let (a, b) = (solved(board(&passive, 1.0))?, solved(board(&passive, k))?);
        prop_assert_eq!(up_or_down(&a), up_or_down(&b));
        same_volts(&a, &b)?;
        for part in &a.parts {
            let other = b.part(&part.name).expect("the same parts");
            let allowed = 1e-10 + 1e-5 * part.amps.abs();
            prop_assert!((part.amps - k * other.amps).abs() <= allowed, "{}", part.name);
        }
    }
}
