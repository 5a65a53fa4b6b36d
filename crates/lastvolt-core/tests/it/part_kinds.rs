//! Detectors, load switches, ideal diodes, Zener diodes and resettable fuses against closed forms and
//! against bisections written here.

use lastvolt_core::circuit::{Circuit, History, Mode, Point, Situation, stresses};
use lastvolt_core::device::{
    Blocking, Capacitor, Detector, Diode, IdealDiode, LoadSwitch, OutputStage, Ptc, Setpoint,
    Topology, Zener,
};
use lastvolt_core::model::{Device, Kind};
use lastvolt_core::progress::Silent;
use lastvolt_core::quantity::{Current, Power, Spread, Voltage};
use lastvolt_core::time::{Begin, BurstRequest, HappeningKind, Stretch, Waveform, burst};

use crate::kit::{self, cell_model, load_on, regulator};
use crate::life::live;
use crate::netlist::{
    Netlist, amps, assert_close, constant_amps, family, ohms, plain_capacitor, plain_cell, solve,
    solve_with, volts,
};

fn volt(value: f64) -> Voltage {
    Voltage::from_volts(value)
}

fn detector(output: OutputStage) -> Detector {
    Detector {
        threshold: volts(1.8),
        hysteresis: volts(0.09),
        quiescent: amps(1e-6),
        output,
        output_resistance: ohms(100.0),
        leakage: amps(50e-9),
        works_from: Some(volt(0.8)),
        survives: Some(volt(6.0)),
    }
}

fn load_switch(reverse_blocking: Blocking) -> LoadSwitch {
    LoadSwitch {
        on_resistance: ohms(0.1),
        quiescent: amps(1e-6),
        shutdown: amps(20e-9),
        leakage: amps(100e-9),
        leakage_at: Some(volt(5.0)),
        limit: None,
        reverse_blocking,
        runs_down_to: volt(1.0),
        survives: Some(volt(6.0)),
        rated: Some(Current::from_amps(1.0)),
        enable: kit::enable(0.4, 1.0, 0.0),
    }
}

fn ideal_diode() -> IdealDiode {
    IdealDiode {
        forward: volts(0.028),
        on_resistance: ohms(0.14),
        leakage: amps(1e-6),
        leakage_at: Some(volt(5.0)),
        quiescent: amps(0.0),
        works_from: volt(2.6),
        survives: Some(volt(6.0)),
        rated: Some(Current::from_amps(2.6)),
    }
}

fn zener(leakage: Option<(f64, f64)>) -> Zener {
    Zener {
        breakdown: volts(5.1),
        test_current: Current::from_amps(5e-3),
        dynamic_resistance: ohms(60.0),
        junction: Diode {
            forward: vec![(Current::from_amps(10e-3), volts(0.75))],
            leakage: leakage.map(|l| amps(l.0)),
            leakage_at: leakage.map(|l| volt(l.1)),
            rated_current: None,
            rated_reverse: None,
        },
        rated_power: Some(Power::from_watts(0.25)),
    }
}

fn with_detector(netlist: Netlist, output: OutputStage, input: &str, out: &str) -> Netlist {
    let device = Device::Detector(Box::new(detector(output)));
    let pins = [("in", input), ("out", out), ("gnd", "GND")];
    netlist.part("U9", Kind::Detector, device, &pins)
}

fn with_switch(netlist: Netlist, device: LoadSwitch, pins: [&str; 3]) -> Netlist {
    let [input, out, enable] = pins;
    let device = Device::LoadSwitch(Box::new(device));
    let pins = [
        ("in", input),
        ("out", out),
        ("gnd", "GND"),
        ("enable", enable),
    ];
    netlist.part("U8", Kind::LoadSwitch, device, &pins)
}

fn with_diode(netlist: Netlist, name: &str, input: &str) -> Netlist {
    let device = Device::IdealDiode(Box::new(ideal_diode()));
    let pins = [("in", input), ("out", "VDD"), ("gnd", "GND")];
    netlist.part(name, Kind::IdealDiode, device, &pins)
}

fn net(point: &Point, name: &str) -> f64 {
    point.net(name).expect("the net is there")
}

fn mode(point: &Point, name: &str) -> Mode {
    point.part(name).and_then(|p| p.mode).expect("a mode")
}

/// Root of a rising function between two ends.
fn bisect(mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..200 {
        let middle = f64::midpoint(low, high);
        if f(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

/// Between threshold and release what was before decides; outside the voltage does.
#[test]
fn a_detector_remembers_between_its_threshold_and_its_release() {
    let cases = [
        (1.75, History::Running, Mode::Detects),
        (1.75, History::Cold, Mode::Detects),
        (1.85, History::Running, Mode::Released),
        (1.85, History::Cold, Mode::Detects),
        (1.95, History::Running, Mode::Released),
        (1.95, History::Cold, Mode::Released),
    ];
    for (supply, history, expected) in cases {
        let netlist = Netlist::new("d")
            .supply("V1", supply, 0.0, "VDD")
            .resistor("R1", 1e6, "VDD", "OUT");
        let netlist = with_detector(netlist, OutputStage::OpenDrain, "VDD", "OUT");
        let point = solve_with(netlist, |s| s.history = history).expect("a point");
        assert_eq!(mode(&point, "U9"), expected, "{supply} V {history:?}");
        let out = if expected == Mode::Released {
            supply - 1e6 * 50e-9
        } else {
            supply * 100.0 / (1e6 + 100.0)
        };
        assert_close(net(&point, "OUT"), out, 1e-9);
        let supplied = 1e-6 + (supply - out) / 1e6;
        assert_close(point.part("V1").expect("it").amps, supplied, 1e-9);
    }
}

#[test]
fn a_push_pull_output_is_driven_from_the_input() {
    for (supply, out) in [(2.0, 2.0 * 10e3 / 10.1e3), (1.7, 0.0)] {
        let netlist = Netlist::new("d")
            .supply("V1", supply, 0.0, "VDD")
            .resistor("R1", 10e3, "OUT", "GND");
        let netlist = with_detector(netlist, OutputStage::PushPull, "VDD", "OUT");
        let point = solve(netlist).expect("a point");
        assert!((net(&point, "OUT") - out).abs() < 1e-9, "{point:?}");
    }
}

/// Two cells with a lockout: 0.9 V a cell, below it the converter is off and little flows.
#[test]
fn a_detector_locks_a_converter_out() {
    for (cell_volts, runs) in [(0.95, true), (0.85, false)] {
        let mut device = regulator(Topology::Boost, Setpoint::Output(volts(3.3)));
        device.enable = kit::enable(0.3, 0.8, 0.0);
        let pins = [
            ("in", "BAT"),
            ("out", "VDD"),
            ("gnd", "GND"),
            ("enable", "EN"),
        ];
        let netlist = Netlist::new("d")
            .cell("BT1", plain_cell(cell_volts, 0.1), 2, "BAT")
            .resistor("R1", 1e6, "BAT", "EN")
            .regulator("U1", device, &pins)
            .load("module", constant_amps(10e-3), "VDD");
        let netlist = with_detector(netlist, OutputStage::OpenDrain, "BAT", "EN");
        let point = solve(netlist).expect("a point");
        assert_eq!(mode(&point, "U9") == Mode::Released, runs);
        assert_eq!(mode(&point, "U1") == Mode::Run, runs);
        if !runs {
            let taken = 1e-6 + 1.7 / (1e6 + 100.0);
            assert_close(point.part("BT1").expect("it").amps, taken, 1e-5);
        }
    }
}

/// v = max(28 mV + R i / 10, R i) forwards, nothing but leakage back.
#[test]
fn an_ideal_diode_holds_a_drop_and_the_higher_source_feeds() {
    for (load_amps, drop) in [(1e-3, 0.028 + 0.014e-3), (0.1, 0.0294), (1.0, 0.14)] {
        let netlist = Netlist::new("or")
            .supply("V1", 5.0, 0.0, "USB")
            .cell("BT1", plain_cell(3.0, 0.0), 1, "BAT")
            .load("module", constant_amps(load_amps), "VDD");
        let netlist = with_diode(with_diode(netlist, "D1", "USB"), "D2", "BAT");
        let point = solve(netlist).expect("a point");
        let leaks = (2.0 - drop) * 1e-6 / 5.0;
        let rail = net(&point, "VDD");
        assert!((rail - (5.0 - drop)).abs() < 1e-6, "{load_amps}: {rail}");
        let charging = -point.part("BT1").expect("it").amps;
        assert!((charging / leaks - 1.0).abs() < 1e-3, "{charging} {leaks}");
    }
}

/// Two of one source share its current.
#[test]
fn two_ideal_diodes_on_one_source_share() {
    let netlist =
        Netlist::new("or")
            .supply("V1", 5.0, 0.0, "USB")
            .load("module", constant_amps(0.2), "VDD");
    let netlist = with_diode(with_diode(netlist, "D1", "USB"), "D2", "USB");
    let point = solve(netlist).expect("a point");
    for name in ["D1", "D2"] {
        assert_close(point.part(name).expect("it").amps, 0.1, 1e-6);
    }
}

/// Below its lowest voltage a silicon diode is left: 0.7 V at 50 mA, emission coefficient 1.2.
#[test]
fn an_ideal_diode_without_supply_is_its_body_diode() {
    let netlist = Netlist::new("low").supply("V1", 2.5, 0.0, "IN").load(
        "module",
        constant_amps(10e-3),
        "VDD",
    );
    let point = solve(with_diode(netlist, "D1", "IN")).expect("a point");
    assert_eq!(mode(&point, "D1"), Mode::BodyDiode);
    let thermal = 1.380_649e-23 * 298.15 / 1.602_176_634e-19;
    let drop = 0.7 + 1.2 * thermal * libm::log(10e-3 / 50e-3);
    assert!((2.5 - net(&point, "VDD") - drop).abs() < 1e-5);
}

#[test]
fn a_load_switch_is_a_resistance_or_next_to_nothing() {
    for (enable, on) in [(1.2, true), (0.2, false)] {
        let netlist = Netlist::new("s")
            .supply("V1", 3.0, 0.0, "IN")
            .supply("V2", enable, 0.0, "EN")
            .resistor("R1", 100.0, "VDD", "GND");
        let device = load_switch(Blocking::WhenOff);
        let point = solve(with_switch(netlist, device, ["IN", "VDD", "EN"])).expect("a point");
        let siemens = if on { 10.0 } else { 100e-9 / 5.0 };
        let through = 3.0 / (100.0 + 1.0 / siemens);
        assert_close(net(&point, "VDD"), 100.0 * through, 1e-5);
        let own = if on { 1e-6 } else { 20e-9 };
        assert_close(point.part("V1").expect("it").amps, through + own, 1e-5);
        assert_eq!(mode(&point, "U8"), if on { Mode::On } else { Mode::Off });
    }
}

/// A supply on the output of a switch that is off: only one with a body diode leads back.
#[test]
fn a_load_switch_blocks_what_its_model_says() {
    let back = |blocking: Blocking, enable: f64| {
        let netlist = Netlist::new("s")
            .supply("V1", 3.0, 0.0, "VDD")
            .supply("V2", enable, 0.0, "EN")
            .resistor("R1", 1e3, "IN", "GND");
        let device = load_switch(blocking);
        let point = solve(with_switch(netlist, device, ["IN", "VDD", "EN"])).expect("a point");
        net(&point, "IN")
    };
    assert!(back(Blocking::Never, 0.0) > 2.0);
    assert!(back(Blocking::WhenOff, 0.0) < 1e-3);
    assert!(back(Blocking::WhenOff, 2.0) > 2.9);
    assert!(back(Blocking::Always, 2.0) < 1e-3);
}

#[test]
fn a_load_switch_limits_its_current() {
    let device = LoadSwitch {
        limit: Some(amps(0.5)),
        ..load_switch(Blocking::Always)
    };
    for (load_ohms, rail) in [(1.0, 0.5), (100.0, 5.0 * 100.0 / 100.1)] {
        let netlist = Netlist::new("s")
            .supply("V1", 5.0, 0.0, "IN")
            .resistor("R1", load_ohms, "VDD", "GND");
        let point = solve(with_switch(netlist, device.clone(), ["IN", "VDD", "IN"]));
        let point = point.expect("a point");
        assert_close(net(&point, "VDD"), rail, 1e-6);
        assert_eq!(mode(&point, "U8") == Mode::Limit, load_ohms < 2.0);
    }
}

/// V + R i(V) = E with i = Iz e^((V - Vz)/(rz Iz)), by bisection.
#[test]
fn a_zener_diode_breaks_down_along_its_points() {
    for resistance in [200.0, 1380.0, 20e3] {
        let netlist = Netlist::new("z")
            .supply("V1", 12.0, 0.0, "IN")
            .resistor("R1", resistance, "IN", "K")
            .part(
                "D1",
                Kind::Zener,
                Device::Zener(Box::new(zener(None))),
                &[("anode", "GND"), ("cathode", "K")],
            );
        let point = solve(netlist).expect("a point");
        let law = |v: f64| 5e-3 * libm::exp((v - 5.1) / 0.3);
        let expected = bisect(0.0, 12.0, |v| v + resistance * law(v) - 12.0);
        assert_close(net(&point, "K"), expected, 1e-6);
        if resistance == 1380.0 {
            assert_close(net(&point, "K"), 5.1, 1e-6);
        }
        let part = point.part("D1").expect("it");
        assert_close(part.watts, expected * law(expected), 1e-5);
    }
}

/// A stated leakage makes the foot steeper, and the dynamic resistance stays what is stated.
#[test]
fn a_zener_diode_meets_its_leakage_and_its_dynamic_resistance() {
    let device = zener(Some((1e-9, 2.0)));
    let reverse = device.reverse();
    let at = |amps: f64| reverse.volts(amps);
    assert!((at(5e-3) - 5.1).abs() < 1e-9);
    let slope = (at(5.01e-3) - at(4.99e-3)) / 0.02e-3;
    assert_close(slope, 60.0, 1e-4);
    let forward = device.forward(25.0);
    let leaks = reverse.amps(2.0).0 + 2.0 * forward.leak_siemens;
    assert_close(leaks, 1e-9, 0.02);
}

#[test]
fn a_resettable_fuse_is_its_resistance_and_its_stress_a_share_of_what_it_holds() {
    let device = Ptc {
        resistance: ohms(2.0),
        hold: Some(Current::from_amps(0.2)),
        trip: Some(Current::from_amps(0.4)),
        rated: None,
        tripped_power: None,
    };
    let netlist = Netlist::new("p")
        .supply("V1", 5.0, 0.0, "IN")
        .part(
            "F1",
            Kind::Ptc,
            Device::Ptc(device),
            &[("1", "IN"), ("2", "VDD")],
        )
        .resistor("R1", 48.0, "VDD", "GND");
    let family = family(vec![netlist.board()]);
    let names = [family.boards[0].name.clone()];
    let circuit = Circuit::new(&family, &names).expect("the board");
    let situation = Situation::usual(&family, &names, None);
    let drive = lastvolt_core::circuit::CellDrive::Rested;
    let point = circuit.solve(&situation, &drive, None).expect("a point");
    assert_close(net(&point, "VDD"), 4.8, 1e-9);
    let stresses = stresses(&circuit, &situation, &point);
    let share = stresses.iter().find(|s| s.part == "F1").expect("a stress");
    assert_close(share.share, 0.5, 1e-9);
}

fn follow_dip() -> Waveform {
    let capacitor = Capacitor {
        series_resistance: ohms(0.0),
        ..plain_capacitor(100e-6)
    };
    let netlist = Netlist::new("dip")
        .cell("BT1", plain_cell(2.0, 10.0), 1, "VDD")
        .capacitor("C1", capacitor, "VDD", "GND")
        .resistor("R1", 1e9, "VDD", "OUT");
    let netlist = with_detector(netlist, OutputStage::OpenDrain, "VDD", "OUT");
    let load = kit::current_load(&[("sleep", 0.0), ("send", 30e-3)]);
    let family = kit::family(vec![netlist.board()], vec![load]);
    let names = [family.boards[0].name.clone()];
    let circuit = Circuit::new(&family, &names).expect("the board");
    let request = BurstRequest {
        situation: Situation::usual(&family, &names, None),
        cells: None,
        begin: Begin::Settled,
        capacitors: Vec::new(),
        enough_volts: None,
        stretches: vec![
            Stretch {
                states: vec![("module".to_owned(), "send".to_owned())],
                ..Stretch::quiet(20_000_000)
            },
            Stretch::quiet(20_000_000),
        ],
    };
    burst(&circuit, &request, &Silent).expect("a waveform")
}

/// The cell's 10 ohm and 100 uF: falling to 1.8 V takes tau ln 3, rising to 1.89 V tau ln(0.3/0.11).
#[test]
fn ref_closed_form_a_detector_answers_when_the_rail_crosses_its_thresholds() {
    let wave = follow_dip();
    let found: Vec<(HappeningKind, f64)> = wave
        .happenings
        .iter()
        .map(|h| (h.kind, h.time_secs))
        .collect();
    let (falls, rises) = (libm::log(3.0), libm::log(0.3 / 0.11));
    let [(HappeningKind::Detects, down), (HappeningKind::LetsGo, up)] = found[..] else {
        panic!("{found:?}");
    };
    // The detector's own microampere takes 10 uV.
    assert!((down / (falls * 1e-3) - 1.0).abs() < 3e-3, "{down}");
    assert!(((up - 20e-3) / (rises * 1e-3) - 1.0).abs() < 3e-3, "{up}");
}

/// A cell whose voltage falls from 3 V to 1 V in proportion to its charge: with a load switch behind a
/// detector at 1.8 V its life ends with 40 % of the charge left.
#[test]
fn a_lockout_ends_a_life_with_charge_left() {
    let model = cell_model(36.0, &[(0.0, 3.0), (1.0, 1.0)], &[(0.0, 0.01)]);
    let netlist = Netlist::new("lockout")
        .cell("BT1", model, 1, "BAT")
        .resistor("R1", 10e6, "BAT", "EN");
    let netlist = with_detector(netlist, OutputStage::OpenDrain, "BAT", "EN");
    let device = load_switch(Blocking::Never);
    let board = with_switch(netlist, device, ["BAT", "VDD", "EN"]).board();
    let mut load = load_on("VDD", vec![("on", constant_amps(1e-3))]);
    load.working = None;
    let found = live(&kit::family(vec![board], vec![load]));
    let cell_volts = found.end.cell_volts.expect("the cell is named");
    assert!((cell_volts - 1.8).abs() < 1e-3, "{:?}", found.end);
    let expected = 0.6 * 36.0 / (1e-3 + 2e-6 + 50e-9);
    let life = found.life_secs.expect("it ends");
    assert!((life / expected - 1.0).abs() < 2e-3, "{life} {expected}");
}

/// What the tables of a spread hold reaches a detector.
#[test]
fn a_threshold_is_a_spread() {
    let mut device = detector(OutputStage::OpenDrain);
    device.threshold = Spread::exactly(volt(2.0));
    assert!((device.release_volts() - 2.09).abs() < 1e-12);
}
