//! Parts and small groups of parts of random boards.

use std::fmt::Write as _;

use super::board::Maker;

const STEP_UP: &str = "model = \"boost-ultra-low-quiescent\"";
const FORWARD: &str = "model = \"schottky-small\"";
const P_FET: &str = "model = \"p-fet-low-threshold\"";
const N_FET: &str = "model = \"n-fet-low-threshold\"";
const BLOCKS: &str = "model = \"ideal-diode-28mV\"";
const LOAD_SWITCH: &str = "model = \"load-switch-1A\"";
const DETECTOR: &str = "model = \"detector-2V2\"";
const ON_OFF: &str = "positions = { on = [[\"1\", \"2\"]], off = [] }";

impl Maker<'_> {
    fn value(&mut self) -> String {
        let value = self
            .dice
            .pick(&["10k", "1M82 ±1 %", "4M7 ±5 %", "820R", "0R1"]);
        format!("value = \"{value}\"")
    }

    /// One part that lets current from one net to another.
    pub(super) fn series(&mut self, from: &str, to: &str) {
        let (a, b) = (Some(from), Some(to));
        let ground = self.ground.clone();
        let gnd = ("gnd", Some(ground.as_str()));
        let gate = if self.dice.chance(60) {
            ground.clone()
        } else {
            self.some()
        };
        let gate = ("gate", Some(gate.as_str()));
        match self.dice.below(12) {
            0 | 1 => self.part("D", "diode", FORWARD, &[("anode", a), ("cathode", b)]),
            2 => self.part("Q", "p-fet", P_FET, &[("drain", a), gate, ("source", b)]),
            3 => {
                let mid = self.fresh();
                let mid = Some(mid.as_str());
                self.part("Q", "p-fet", P_FET, &[("drain", a), gate, ("source", mid)]);
                self.part("Q", "p-fet", P_FET, &[("source", mid), gate, ("drain", b)]);
            }
            4 => self.part("S", "switch", ON_OFF, &[("1", a), ("2", b)]),
            5 => self.two("F", "fuse", "resistance = \"160 mohm\"", from, b),
            6 => self.part("U", "ideal-diode", BLOCKS, &[("in", a), ("out", b), gnd]),
            7 => {
                let enable = self.some();
                let pins = [
                    ("in", a),
                    ("out", b),
                    gnd,
                    ("enable", Some(enable.as_str())),
                ];
                self.part("U", "load-switch", LOAD_SWITCH, &pins);
            }
            8 => self.two("L", "inductor", "value = \"4u7\"", from, b),
            9 => self.two("F", "ptc", "resistance = \"300 mohm\"", from, b),
            10 => self.part("JP", "jumper", "", &[("1", a), ("2", b)]),
            _ => {
                let keys = self.value();
                self.two("R", "resistor", &keys, from, b);
            }
        }
    }

    /// A transistor between a cell's minus and the ground.
    pub(super) fn low_side(&mut self, minus: &str, gate: &str) {
        let ground = self.ground.clone();
        let pins = [
            ("drain", Some(minus)),
            ("source", Some(ground.as_str())),
            ("gate", Some(gate)),
        ];
        self.part("Q", "n-fet", N_FET, &pins);
    }

    /// A regulator from one net to another, with what belongs to it.
    pub(super) fn feed(&mut self, from: &str, to: &str) {
        let ground = self.ground.clone();
        let kind = self.dice.below(4);
        let enable = self.enable(from);
        let divided = self.dice.chance(60);
        let feedback = divided.then(|| self.fresh());
        let (lx, ly) = (self.fresh(), self.fresh());
        let with_inductor = self.dice.chance(80);
        let (a, b) = (Some(from), Some(to));
        let mut pins = vec![("in", a), ("out", b), ("gnd", Some(ground.as_str()))];
        pins.push(("enable", enable.as_deref()));
        pins.extend(feedback.as_deref().map(|net| ("fb", Some(net))));
        let nodes: &[(&str, Option<&str>)] = match kind {
            0 | 1 => &[("sw", Some(&lx))],
            2 => &[("sw1", Some(&lx)), ("sw2", Some(&ly))],
            _ => &[],
        };
        if with_inductor {
            pins.extend(nodes);
        }
        let fixed = if divided { "" } else { "\noutput = \"3.0 V\"" };
        let (word, model) = [
            ("boost", STEP_UP),
            ("buck", "model = \"buck-low-quiescent\""),
            ("buck-boost", "model = \"buck-boost-low-quiescent\""),
            ("ldo", "model = \"ldo-2uA-18V\""),
        ][kind];
        self.part("U", word, &format!("{model}{fixed}"), &pins);
        if with_inductor && kind < 3 {
            let (left, right) = [(from, lx.as_str()), (&lx, to), (&lx, &ly)][kind];
            self.two("L", "inductor", "value = \"4u7 ±20 %\"", left, Some(right));
        }
        if let Some(feedback) = &feedback {
            self.two("R", "resistor", "value = \"1M82\"", to, Some(feedback));
            self.two("R", "resistor", "value = \"1M\"", feedback, None);
        }
        if self.dice.chance(15) {
            self.part("D", "diode", FORWARD, &[("anode", a), ("cathode", b)]);
        }
    }

    /// What drives an enable pin: its input, a pull with a switch, any net, or there is no such pin.
    fn enable(&mut self, from: &str) -> Option<String> {
        match self.dice.below(4) {
            0 => None,
            1 => Some(from.to_owned()),
            2 => {
                let net = self.fresh();
                self.two("R", "resistor", "value = \"4M7\"", &net, None);
                self.part(
                    "S",
                    "switch",
                    ON_OFF,
                    &[("1", Some(from)), ("2", Some(&net))],
                );
                Some(net)
            }
            _ => Some(self.any()),
        }
    }

    /// One part from some net to ground.
    pub(super) fn shunt(&mut self) {
        let net = self.some();
        match self.dice.below(6) {
            0..3 => self.two("C", "capacitor", "value = \"22 uF ±20 %\"", &net, None),
            3 => {
                let ground = self.ground.clone();
                let pins = [("plus", Some(net.as_str())), ("minus", Some(&ground))];
                self.part("C", "capacitor", "value = \"47 uF\"", &pins);
            }
            4 => {
                let keys = self.value();
                self.two("R", "resistor", &keys, &net, None);
            }
            _ => {
                let ground = self.ground.clone();
                self.two("D", "zener", "model = \"zener-3V3\"", &ground, Some(&net));
            }
        }
    }

    /// Parts in a row to ground: a lamp with its resistor, often behind a transistor.
    pub(super) fn chain(&mut self) {
        let (top, a, b) = (self.some(), self.fresh(), self.fresh());
        let keys = self.value();
        self.two("R", "resistor", &keys, &top, Some(&a));
        if self.dice.chance(50) {
            self.two("D", "led", "model = \"led-red\"", &a, None);
            return;
        }
        self.two("D", "led", "model = \"led-red\"", &a, Some(&b));
        let gate = self.any();
        self.low_side(&b, &gate);
    }

    /// A switch of one to four poles, some throws open.
    pub(super) fn switch(&mut self) {
        let poles = 1 + self.dice.below(4);
        let throws = 1 + self.dice.below(3);
        let mut pins: Vec<(String, Option<String>)> = Vec::new();
        let mut positions = vec![String::new(); throws.max(2)];
        for pole in 0..poles {
            let first = 1 + pole * (throws + 1);
            let common = self.any();
            pins.push((first.to_string(), Some(common)));
            for (throw, closed) in positions.iter_mut().enumerate().take(throws) {
                let pin = (first + 1 + throw).to_string();
                let _ = write!(closed, "[\"{first}\", \"{pin}\"], ");
                // A throw may be on a net, declared open, or named by its position alone.
                match self.dice.below(6) {
                    0 => pins.push((pin, None)),
                    1 => {}
                    _ => {
                        let net = self.any();
                        pins.push((pin, Some(net)));
                    }
                }
            }
        }
        let mut keys = String::from("positions = { ");
        for (at, closed) in positions.iter().enumerate() {
            let _ = write!(keys, "p{at} = [{closed}], ");
        }
        keys.truncate(keys.len() - 2);
        keys += " }";
        if self.dice.chance(40) {
            keys += "\nlabel = \"POWER & <TEST>\"";
        }
        let pins: Vec<(&str, Option<&str>)> = pins
            .iter()
            .map(|(pin, net)| (pin.as_str(), net.as_deref()))
            .collect();
        self.part("S", "switch", &keys, &pins);
    }

    /// A part whose pins are all on one net.
    pub(super) fn across_one_net(&mut self) {
        let net = self.some();
        let on = Some(net.as_str());
        match self.dice.below(3) {
            0 => self.two("R", "resistor", "value = \"1k\"", &net, on),
            1 => self.part(
                "Q",
                "n-fet",
                N_FET,
                &[("drain", on), ("source", on), ("gate", on)],
            ),
            _ => self.two("C", "capacitor", "value = \"1 uF\"", &net, on),
        }
    }

    /// A part with pins that lead nowhere.
    pub(super) fn dangling(&mut self) {
        let (net, other) = (self.some(), self.any());
        let (on, to) = (Some(net.as_str()), Some(other.as_str()));
        match self.dice.below(5) {
            0 => self.part(
                "Q",
                "p-fet",
                P_FET,
                &[("drain", on), ("source", to), ("gate", None)],
            ),
            1 => self.part("R", "resistor", "value = \"1k\"", &[("1", on), ("2", None)]),
            2 => self.part(
                "U",
                "detector",
                DETECTOR,
                &[("in", on), ("out", None), ("gnd", to)],
            ),
            3 => {
                let pins = [("in", on), ("out", to), ("gnd", None), ("enable", None)];
                self.part(
                    "U",
                    "ldo",
                    "model = \"ldo-2uA-18V\"\noutput = \"3.0 V\"",
                    &pins,
                );
            }
            _ => self.part("D", "diode", FORWARD, &[("anode", None), ("cathode", on)]),
        }
    }

    /// Anything between any nets.
    pub(super) fn odd(&mut self) {
        let (one, two, three) = (self.any(), self.any(), self.any());
        let (a, b, c) = (Some(one.as_str()), Some(two.as_str()), Some(three.as_str()));
        match self.dice.below(9) {
            0 => self.part(
                "Q",
                "n-fet",
                N_FET,
                &[("drain", a), ("source", b), ("gate", c)],
            ),
            1 => self.part(
                "Q",
                "p-fet",
                P_FET,
                &[("drain", a), ("source", b), ("gate", c)],
            ),
            2 => self.part(
                "U",
                "detector",
                DETECTOR,
                &[("in", a), ("out", b), ("gnd", c)],
            ),
            3 => self.part(
                "U",
                "ideal-diode",
                BLOCKS,
                &[("in", a), ("out", b), ("gnd", c)],
            ),
            4 => {
                let pins = format!("pins = [{one:?}]");
                self.probe(&pins);
            }
            5 => self.part(
                "D",
                "zener",
                "model = \"zener-3V3\"",
                &[("anode", a), ("cathode", b)],
            ),
            6 if one != two => self.own_load(&one, &two),
            7 => self.two("C", "capacitor", "value = \"100n\"", &one, b),
            _ => {
                let keys = self.value();
                self.two("R", "resistor", &keys, &one, b);
            }
        }
    }
}
