//! The classes of regulators on small boards: each gets to its output, leaves the path it states when
//! off, and comes near the efficiency that was printed for parts like it.

use lastvolt_core::circuit::{CellDrive, Circuit, Mode, Point, Situation};
use lastvolt_core::device::{Regulator, Setpoint, Topology, WhenOff};
use lastvolt_core::model::{Device, Family, Kind};
use lastvolt_input::{Text, catalog, read};

/// One class on a board with a supply, an inductor and a load.
#[derive(Clone)]
struct Trial<'n> {
    kind: Kind,
    model: &'n str,
    /// Class of the inductor; without one it has no winding.
    inductor: Option<&'n str>,
    /// Output of a fixed version in place of that of the class.
    output: Option<f64>,
    in_volts: f64,
    out_volts: f64,
    load_amps: f64,
    enabled: bool,
}

const FAMILY: &str = "[family]\nboards = [\"b.toml\"]\n[connector]\npins = [\"VDD\", \"GND\"]\n";

impl Trial<'_> {
    fn family(&self) -> Family {
        let loads = format!(
            "[loads.module]\npins = {{ plus = \"VDD\", minus = \"GND\" }}\n\
             [loads.module.states]\non = \"{:e} A\"\n",
            self.load_amps
        );
        let text = |name: &str, text: String| Text {
            name: name.to_owned(),
            text,
        };
        let loaded = read(&[
            text("family.toml", format!("{FAMILY}{loads}")),
            text("b.toml", self.board()),
        ]);
        assert_eq!(loaded.problems, [], "{}", self.model);
        loaded.family.expect("a family")
    }

    fn board(&self) -> String {
        let device = class(self.kind, self.model);
        let inductor = self.inductor.map_or_else(
            || "value = \"4.7 uH\"".to_owned(),
            |name| format!("model = \"{name}\""),
        );
        let (pins, ends) = match self.kind {
            Kind::Buck => (", sw = \"LX\"", Some(("LX", "VDD"))),
            Kind::Boost => (", sw = \"LX\"", Some(("VIN", "LX"))),
            Kind::BuckBoost => (", sw1 = \"L1\", sw2 = \"L2\"", Some(("L1", "L2"))),
            _ => ("", None),
        };
        let mut board = format!(
            "[parts.PS1]\nkind = \"supply\"\nvoltage = \"{} V\"\npins = [\"VIN\", \"GND\"]\n",
            self.in_volts
        );
        if let Some((from, to)) = ends {
            board += &format!(
                "[parts.L1]\nkind = \"inductor\"\n{inductor}\npins = [\"{from}\", \"{to}\"]\n"
            );
        }
        let mut more = pins.to_owned();
        if device.enable.is_some() {
            let to = if self.enabled { "VIN" } else { "GND" };
            more += &format!(", enable = \"{to}\"");
        }
        if let Setpoint::Reference(reference) = device.setpoint {
            let upper = (self.out_volts / reference.si() - 1.0).max(1e-3);
            board += &format!(
                "[parts.R1]\nkind = \"resistor\"\nvalue = \"{upper} Mohm\"\npins = [\"VDD\", \"FB\"]\n\
                 [parts.R2]\nkind = \"resistor\"\nvalue = \"1 Mohm\"\npins = [\"FB\", \"GND\"]\n"
            );
            more += ", fb = \"FB\"";
        }
        let output = self
            .output
            .map_or_else(String::new, |v| format!("output = \"{v} V\"\n"));
        board += &format!(
            "[parts.U1]\nkind = \"{}\"\nmodel = \"{}\"\n{output}\
             pins = {{ in = \"VIN\", out = \"VDD\", gnd = \"GND\"{more} }}\n",
            self.kind.word(),
            self.model
        );
        board
    }

    #[track_caller]
    fn solve(&self) -> Point {
        let family = self.family();
        let boards = [family.boards[0].name.clone()];
        let circuit = Circuit::new(&family, &boards).expect("the board is there");
        let situation = Situation::usual(&family, &boards, None);
        let point = circuit.solve(&situation, &CellDrive::Rested, None);
        point.unwrap_or_else(|e| panic!("{}: {e}", self.model))
    }

    /// Share of the power of the supply that comes out; what a divider takes counts as coming out, for
    /// the printed points are of fixed versions or of loads far above the divider's.
    #[track_caller]
    fn efficiency(&self) -> f64 {
        let point = self.solve();
        let load = point.load("module").expect("the load").watts;
        let divider: f64 = ["R1", "R2"]
            .iter()
            .filter_map(|name| point.part(name))
            .map(|resistor| resistor.watts)
            .sum();
        let supply = point.part("PS1").expect("the supply");
        assert_eq!(mode(&point), Mode::Run, "{}", self.model);
        (load + divider) / (self.in_volts * supply.amps)
    }
}

fn mode(point: &Point) -> Mode {
    point.part("U1").and_then(|p| p.mode).expect("a regulator")
}

fn rail(point: &Point) -> f64 {
    point.net("VDD").expect("the rail")
}

/// The figures of a class.
fn class(kind: Kind, model: &str) -> Regulator {
    let word = kind.word();
    for more in ["\nopen = [\"enable\", \"fb\"]", "\nopen = [\"enable\"]", ""] {
        let board = format!(
            "[parts.U1]\nkind = \"{word}\"\nmodel = \"{model}\"\n\
             pins = {{ in = \"A\", out = \"VDD\", gnd = \"GND\" }}{more}\n"
        );
        let text = |name: &str, text: &str| Text {
            name: name.to_owned(),
            text: text.to_owned(),
        };
        let loaded = read(&[text("family.toml", FAMILY), text("b.toml", &board)]);
        if let Some(family) = loaded.family
            && let Device::Regulator(regulator) = &family.boards[0].parts[0].device
        {
            return (**regulator).clone();
        }
    }
    panic!("{model} is a regulator")
}

/// Every class in its usual place: output and input voltage.
fn usual(device: &Regulator) -> (f64, f64) {
    let out = match device.setpoint {
        Setpoint::Output(v) => v.si(),
        Setpoint::Reference(_) if device.topology == Topology::Buck => 1.8,
        Setpoint::Reference(_) => 3.3,
    };
    let start = device.start_volts(10e-3);
    let input = match device.topology {
        Topology::Linear => out + 0.6,
        Topology::Buck => (out + 0.9).max(start),
        Topology::Boost => (0.7 * out).max(start),
        Topology::BuckBoost => 2.6,
    };
    (out, input)
}

fn every_class() -> Vec<(Kind, String)> {
    let kinds = [Kind::Ldo, Kind::Buck, Kind::Boost, Kind::BuckBoost];
    let entries = catalog().into_iter().filter(|e| kinds.contains(&e.kind));
    entries.map(|e| (e.kind, e.name)).collect()
}

fn trial<'n>(kind: Kind, model: &'n str, device: &Regulator) -> Trial<'n> {
    let (out_volts, in_volts) = usual(device);
    Trial {
        kind,
        model,
        inductor: None,
        output: None,
        in_volts,
        out_volts,
        load_amps: 10e-3,
        enabled: true,
    }
}

/// The output lies within what the class states for its reference or output, bias of megohm dividers
/// included (1 %).
#[test]
fn every_class_gets_to_its_output_at_its_usual_input() {
    let classes = every_class();
    assert!(30 <= classes.len(), "{}", classes.len());
    for (kind, name) in classes {
        let device = class(kind, &name);
        let trial = trial(kind, &name, &device);
        let point = trial.solve();
        assert_eq!(mode(&point), Mode::Run, "{name}");
        let (Setpoint::Output(set) | Setpoint::Reference(set)) = device.setpoint;
        let band = trial.out_volts / set.si();
        let (low, high) = (set.low() * band * 0.99, set.high() * band * 1.01);
        let got = rail(&point);
        assert!(
            (low..=high).contains(&got),
            "{name}: {got} in {low} to {high}"
        );
        let survives = device.survives.expect("a limit").as_volts();
        assert!(trial.in_volts < survives, "{name}");
        let quiescent = device.quiescent_in.si() + device.quiescent_out.si();
        assert!(
            device.shutdown.si() <= quiescent,
            "{name}: shutdown above quiescent current"
        );
    }
}

/// Off, a class that disconnects leaves its output without voltage, one that passes gives its input
/// on, and a body diode takes a few tenths of a volt, with a load of 1 mA.
#[test]
fn every_class_leaves_the_path_it_states_when_off() {
    for (kind, name) in every_class() {
        let device = class(kind, &name);
        let mut off = trial(kind, &name, &device);
        (off.enabled, off.load_amps) = (false, 1e-3);
        let point = off.solve();
        assert_eq!(mode(&point), Mode::Off, "{name}");
        let dropped = off.in_volts - rail(&point);
        match device.when_off {
            WhenOff::Disconnects => {
                assert!(rail(&point).abs() < 0.05, "{name}: {}", rail(&point));
                let drawn = point.part("PS1").expect("the supply").amps;
                assert!(
                    drawn < 1.5 * device.shutdown.si() + 50e-9,
                    "{name}: {drawn}"
                );
            }
            WhenOff::Passes => assert!((0.0..0.01).contains(&dropped), "{name}: {dropped}"),
            WhenOff::BodyDiode => assert!((0.2..0.8).contains(&dropped), "{name}: {dropped}"),
        }
    }
}

/// Printed points of efficiency, and how near the class comes to them with the inductor named.
#[rustfmt::skip]
const PRINTED: [(&str, &str, [f64; 6], &str); 9] = [
    // Class, inductor; input, output, load, efficiency, how far the class lies below and above it; source.
    ("boost-ultra-low-quiescent", "inductor-4u7-large", [2.0, 3.3, 10e-6, 0.88, 0.0, 0.03], "TI SLVS873B, up to (EF01)"),
    ("boost-ultra-low-quiescent", "inductor-4u7-large", [2.0, 3.3, 5e-3, 0.93, 0.01, 0.0], "TI SLVS873B, up to, from 5 mA"),
    ("boost-ultra-low-quiescent", "inductor-4u7-large", [2.0, 3.3, 100e-3, 0.93, 0.06, 0.0], "TI SLVS873B, up to (EF02)"),
    ("boost-60nA-2A", "inductor-2u2-large", [3.0, 3.6, 10e-6, 0.923, 0.0, 0.025], "TPS61094 by TI, up to (EF03)"),
    ("boost-60nA-2A", "inductor-2u2-large", [3.0, 3.6, 100e-3, 0.963, 0.025, 0.0], "TPS61094 by TI, up to (EF04)"),
    ("boost-50uA-1A5", "inductor-2u2-large", [2.4, 3.3, 300e-3, 0.90, 0.0, 0.05], "TI SLVS577, above (EF05)"),
    ("boost-50uA-1A5", "inductor-2u2-large", [3.0, 5.0, 600e-3, 0.90, 0.0, 0.05], "TI SLVS577, above (EF06)"),
    ("buck-boost-2A", "inductor-1u0-large", [5.0, 3.3, 2.0, 0.93, 0.02, 0.0], "TI SLVA535B (EF08)"),
    ("buck-boost-2A", "inductor-1u0-large", [2.6, 3.3, 2.0, 0.85, 0.0, 0.01], "TI SLVA535B (EF09)"),
];

/// Efficiency with quiescent current and winding, against printed points; how near is said in each row.
#[test]
fn ref_efficiency_near_printed_points() {
    for (model, inductor, figures, source) in PRINTED {
        let [in_volts, out_volts, load_amps, efficiency, below, above] = figures;
        let entries = catalog();
        let entry = entries.iter().find(|e| e.name == model);
        let kind = entry.expect("the class").kind;
        let fixed = matches!(class(kind, model).setpoint, Setpoint::Output(_));
        let trial = Trial {
            kind,
            model,
            inductor: Some(inductor),
            output: fixed.then_some(out_volts),
            in_volts,
            out_volts,
            load_amps,
            enabled: true,
        };
        let got = trial.efficiency();
        let near = efficiency - below..=efficiency + above;
        assert!(
            near.contains(&got),
            "{model}, {source}: {got} at {load_amps} A"
        );
    }
}

/// Above 80 % from 1 uA on (EF10, TI SLYY203B of the TPS63900), at the input of two fresh cells.
#[test]
fn ref_nanoampere_step_up_down_above_80_percent_from_1_microampere() {
    for load_amps in [1e-6, 1e-5, 1e-4, 1e-3, 1e-2, 1e-1] {
        let trial = Trial {
            kind: Kind::BuckBoost,
            model: "buck-boost-low-quiescent",
            inductor: Some("inductor-2u2-large"),
            output: None,
            in_volts: 3.0,
            out_volts: 3.3,
            load_amps,
            enabled: true,
        };
        let got = trial.efficiency();
        assert!((0.80..0.97).contains(&got), "{load_amps}: {got}");
    }
}

/// What Microchip DS22234B says that the MCP1640 carries to 3.3 V: 100 mA from 1.2 V, 150 mA from 1.5 V,
/// 350 mA from 2.4 V.
#[test]
fn ref_low_voltage_step_up_carries_what_is_printed() {
    for (in_volts, load_amps) in [(1.2, 0.1), (1.5, 0.15), (2.4, 0.35)] {
        let trial = Trial {
            kind: Kind::Boost,
            model: "boost-low-voltage",
            inductor: Some("inductor-4u7-large"),
            output: None,
            in_volts,
            out_volts: 3.3,
            load_amps,
            enabled: true,
        };
        let got = trial.efficiency();
        assert!(got < 0.96, "at most 96 %: {got}");
    }
}
