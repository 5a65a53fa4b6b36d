//! Operating points of small boards.

use lastvolt_core::circuit::{History, Mode};
use lastvolt_core::device::{Loss, Setpoint, Topology, WhenOff};
use lastvolt_core::model::{Device, Kind, Law};
use lastvolt_core::quantity::{Current, Fraction, Power, Resistance, Voltage};

use crate::kit::{
    Parts, board, current_load, enable, exactly, family, inductor, led, load_on, p_fet, plain_cell,
    regulator, resistor, solve, supply, switch, usual,
};

const CELL: &[(&str, &str)] = &[("plus", "BAT"), ("minus", "GND")];

#[test]
fn coin_board_with_fet_switch_and_indicator() {
    let parts: Parts = vec![
        ("BT1", Kind::Cell, CELL, plain_cell(3.0, 15.0)),
        (
            "Q1",
            Kind::PFet,
            &[("drain", "BAT"), ("source", "SW"), ("gate", "GND")],
            p_fet(),
        ),
        (
            "S1",
            Kind::Switch,
            &[("1", "SW"), ("2", "VDD")],
            switch(&[("on", &[(0, 1)]), ("off", &[])]),
        ),
        (
            "R1",
            Kind::Resistor,
            &[("1", "VDD"), ("2", "A")],
            resistor(1000.0),
        ),
        (
            "DS1",
            Kind::Led,
            &[("anode", "A"), ("cathode", "GND")],
            led(&[(1e-3, 1.85), (2e-3, 1.9), (1e-2, 2.05)]),
        ),
    ];
    let family = family(
        vec![board("coin", parts)],
        vec![current_load(&[("sleep", 2e-6), ("tx", 0.011)])],
    );
    let mut at = usual(&family, &["coin"]);
    let point = solve(&family, &at);
    let rail = point.net("VDD").expect("a rail");
    assert!(rail > 2.9 && rail < 3.0, "{rail}");
    at.positions.insert("S1".to_owned(), "off".to_owned());
    let off = solve(&family, &at);
    assert!(off.net("VDD").expect("a rail").abs() < 1e-6);
    at.positions.insert("S1".to_owned(), "on".to_owned());
    at.reversed.insert("BT1".to_owned());
    let reversed = solve(&family, &at);
    assert!(reversed.part("BT1").expect("the cell").amps.abs() < 1e-6);
    assert!(reversed.net("VDD").expect("a rail") > -0.1);
}

/// Two 3 V cells of 15 ohm each: with the rail held the gate-to-ground transistor stays on and the
/// cells drive some 135 mA round (independent estimate; a check against scipy stands elsewhere).
/// The reversed cell gives too, so its current leaves the holder at minus.
#[test]
fn reversed_cell_under_a_held_rail_takes_current() {
    let fet: &[(&str, &str)] = &[("drain", "BAT"), ("source", "VDD"), ("gate", "GND")];
    let make = |name: &str| {
        board(
            name,
            vec![
                ("BT1", Kind::Cell, CELL, plain_cell(3.0, 15.0)),
                ("Q1", Kind::PFet, fet, p_fet()),
            ],
        )
    };
    let family = family(
        vec![make("a"), make("b")],
        vec![current_load(&[("sleep", 2e-6)])],
    );
    let mut at = usual(&family, &["a", "b"]);
    at.reversed.insert("b/BT1".to_owned());
    let point = solve(&family, &at);
    let amps = point.part("b/BT1").expect("the cell").amps;
    assert!((amps + 0.135).abs() < 2e-3, "{amps}");
}

fn boost_family(emf: f64, ohms: f64, load_watts: f64) -> lastvolt_core::model::Family {
    let mut device = regulator(Topology::Boost, Setpoint::Output(exactly::<Voltage>(3.0)));
    device.loss = Loss::Share {
        share: exactly::<Fraction>(0.05),
        path: exactly::<Resistance>(0.25),
    };
    device.quiescent_out = exactly::<Current>(20e-6);
    device.when_off = WhenOff::BodyDiode;
    let parts: Parts = vec![
        ("BT1", Kind::Cell, CELL, plain_cell(emf, ohms)),
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
    let load = load_on(
        "VDD",
        vec![("run", Law::Power(exactly::<Power>(load_watts)))],
    );
    family(vec![board("one", parts)], vec![load])
}

/// The low-current root of `V i = (1 + a) P + R i^2 + Vo Iq` with `V = E - Rs i`, by the quadratic
/// formula.
#[test]
fn step_up_takes_the_low_current_root_and_folds_where_the_quadratic_has_none() {
    let (emf, ohms, path, winding) = (1.2, 0.5, 0.25, 0.1);
    let most = emf * emf / (4.0 * (ohms + path + winding));
    for share in [0.01, 0.5, 0.9, 0.99] {
        let watts = (most * share - 3.0 * 20e-6) / 1.05;
        let family = boost_family(emf, ohms, watts);
        let point = solve(&family, &usual(&family, &["one"]));
        let total = ohms + path + winding;
        let amps = (emf - (emf * emf - 4.0 * total * most * share).sqrt()) / (2.0 * total);
        let u1 = point.part("U1").expect("the converter");
        assert_eq!(u1.mode, Some(Mode::Run), "at {share}");
        let got = point.part("BT1").expect("the cell").amps;
        assert!(
            (got / amps - 1.0).abs() < 1e-7,
            "at {share}: {got} against {amps}"
        );
    }
    let family = boost_family(emf, ohms, most * 1.05 / 1.05);
    let point = solve(&family, &usual(&family, &["one"]));
    assert_eq!(
        point.part("U1").expect("the converter").mode,
        Some(Mode::Collapsed)
    );
    let fold = point.folds.first().expect("a fold");
    assert!(
        (fold.most_watts / most - 1.0).abs() < 0.02,
        "{} against {most}",
        fold.most_watts
    );
}

#[test]
fn step_up_passes_a_high_input_on() {
    let family = boost_family(3.4, 0.2, 0.03);
    let point = solve(&family, &usual(&family, &["one"]));
    assert_eq!(
        point.part("U1").expect("the converter").mode,
        Some(Mode::Pass)
    );
    assert!(point.net("VDD").expect("a rail") > 3.3);
}

#[test]
fn linear_regulator_regulates_drops_out_and_limits() {
    let make = |volts: f64, amps: f64| {
        let mut device = regulator(Topology::Linear, Setpoint::Output(exactly::<Voltage>(3.0)));
        device.dropout = exactly::<Resistance>(2.0);
        device.quiescent_in = exactly::<Current>(1e-6);
        device.limit = Some(exactly::<Current>(0.2));
        device.reverse = WhenOff::BodyDiode;
        let parts: Parts = vec![
            (
                "PS1",
                Kind::Supply,
                &[("plus", "IN"), ("minus", "GND")],
                supply(volts, 0.1, 0.5),
            ),
            (
                "U1",
                Kind::Ldo,
                &[("in", "IN"), ("out", "VDD"), ("gnd", "GND")],
                Device::Regulator(Box::new(device)),
            ),
        ];
        let family = family(
            vec![board("usb", parts)],
            vec![current_load(&[("run", amps)])],
        );
        let point = solve(&family, &usual(&family, &["usb"]));
        (
            point.part("U1").and_then(|u| u.mode),
            point.net("VDD").unwrap_or(0.0),
        )
    };
    assert_eq!(make(5.0, 0.05), (Some(Mode::Run), 3.0));
    let (mode, volts) = make(3.05, 0.05);
    assert_eq!(mode, Some(Mode::Dropout));
    assert!(
        (volts - (3.05 - 0.1 * 0.050_001 - 2.0 * 0.05)).abs() < 1e-9,
        "{volts}"
    );
    assert_eq!(make(5.0, 0.3).0, Some(Mode::Limit));
}

#[test]
fn step_up_down_regulates_through_a_divider_on_both_sides() {
    for emf in [2.4, 3.0, 3.3] {
        let mut device = regulator(
            Topology::BuckBoost,
            Setpoint::Reference(exactly::<Voltage>(0.5)),
        );
        device.loss = Loss::Share {
            share: exactly::<Fraction>(0.04),
            path: exactly::<Resistance>(0.2),
        };
        device.quiescent_in = exactly::<Current>(30e-6);
        device.enable = enable(0.4, 1.0, 1e-7);
        let parts: Parts = vec![
            ("BT1", Kind::Cell, CELL, plain_cell(emf, 0.4)),
            (
                "L1",
                Kind::Inductor,
                &[("1", "LX1"), ("2", "LX2")],
                inductor(2.2e-6, 0.08),
            ),
            (
                "R1",
                Kind::Resistor,
                &[("1", "VDD"), ("2", "FB")],
                resistor(1e6),
            ),
            (
                "R2",
                Kind::Resistor,
                &[("1", "FB"), ("2", "GND")],
                resistor(200e3),
            ),
            (
                "S1",
                Kind::Switch,
                &[("1", "BAT"), ("2", "EN")],
                switch(&[("on", &[(0, 1)]), ("off", &[])]),
            ),
            (
                "U1",
                Kind::BuckBoost,
                &[
                    ("in", "BAT"),
                    ("out", "VDD"),
                    ("gnd", "GND"),
                    ("enable", "EN"),
                    ("fb", "FB"),
                    ("sw1", "LX1"),
                    ("sw2", "LX2"),
                ],
                Device::Regulator(Box::new(device)),
            ),
        ];
        let family = family(
            vec![board("two", parts)],
            vec![current_load(&[("run", 0.02)])],
        );
        let mut at = usual(&family, &["two"]);
        let point = solve(&family, &at);
        assert!(
            (point.net("VDD").expect("a rail") - 3.0).abs() < 1e-9,
            "{point:?}"
        );
        assert_eq!(point.floating, Vec::<String>::new());
        at.positions.insert("S1".to_owned(), "off".to_owned());
        let off = solve(&family, &at);
        assert_eq!(off.floating, ["U1.enable"]);
        assert_eq!(off.part("U1").expect("the converter").mode, Some(Mode::Off));
    }
}

#[test]
fn history_decides_between_start_and_run() {
    let mut family = boost_family(0.8, 0.5, 0.01);
    for part in &mut family.boards[0].parts {
        if let Device::Regulator(u) = &mut part.device {
            u.start = vec![(Current::from_amps(1e-3), Voltage::from_volts(0.9))];
        }
    }
    let mut at = usual(&family, &["one"]);
    assert_eq!(
        solve(&family, &at).part("U1").and_then(|u| u.mode),
        Some(Mode::Run)
    );
    at.history = History::Cold;
    assert_eq!(
        solve(&family, &at).part("U1").and_then(|u| u.mode),
        Some(Mode::Start)
    );
}

/// Two converters on one rail through dividers of their own: the higher set voltage carries, the
/// other gives nothing.
#[test]
fn two_converters_on_one_rail_leave_it_to_the_higher() {
    let make = |name: &str, upper: f64| {
        let mut device = regulator(
            Topology::Boost,
            Setpoint::Reference(exactly::<Voltage>(1.0)),
        );
        device.loss = Loss::Share {
            share: exactly::<Fraction>(0.05),
            path: exactly::<Resistance>(0.3),
        };
        device.quiescent_out = exactly::<Current>(1e-6);
        let parts: Parts = vec![
            ("BT1", Kind::Cell, CELL, plain_cell(1.5, 0.4)),
            (
                "R1",
                Kind::Resistor,
                &[("1", "VDD"), ("2", "FB")],
                resistor(upper),
            ),
            (
                "R2",
                Kind::Resistor,
                &[("1", "FB"), ("2", "GND")],
                resistor(1e6),
            ),
            (
                "U1",
                Kind::Boost,
                &[("in", "BAT"), ("out", "VDD"), ("gnd", "GND"), ("fb", "FB")],
                Device::Regulator(Box::new(device)),
            ),
        ];
        board(name, parts)
    };
    let boards = vec![make("low", 1.7e6), make("high", 1.8e6)];
    let family = family(boards, vec![current_load(&[("run", 5e-3)])]);
    let point = solve(&family, &usual(&family, &["low", "high"]));
    assert!((point.net("VDD").expect("a rail") - 2.8).abs() < 1e-6);
    let given = |name: &str| point.part(name).expect("a converter").pin_amps[1];
    assert!(given("low/U1").abs() < 1e-9);
    assert!((given("high/U1") + 5e-3 + 2.8 / 2.7e6 + 2.8 / 2.8e6).abs() < 1e-8);
    assert!(point.folds.is_empty());
}
