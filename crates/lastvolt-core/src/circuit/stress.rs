//! How hard a solved point works each part, as a share of what the part is rated for.
//!
//! A share of 1 is the rating itself. Quantities without a stated rating have no share: nothing is
//! assumed, except that no part with a polarity is made for the other one. There the share is the
//! voltage over [`WRONG_WAY_VOLTS`].

use std::collections::BTreeSet;

use crate::circuit::situation::qualified;
use crate::circuit::{CellDrive, Circuit, PartPoint, Point, Situation};
use crate::device::{
    Capacitor, Cell, Charging, Dielectric, Diode, Fet, Inductor, Regulator, Switch,
};
use crate::model::{Confidence, Device, Family, Heat, Kind, Load, Origin, Part, Pin};
use crate::quantity::{Current, Spread, Voltage};

/// Voltage of the wrong polarity that integrated circuits and loads bear: 0.3 V is what data sheets
/// print under absolute maximum ratings (common practice).
pub const WRONG_WAY_VOLTS: f64 = 0.3;

/// Share of its rated voltage that a polar capacitor bears the wrong way round: 0.02 for tantalum
/// (System Reliability Center part derating); electrolytic capacitors bear about a volt (common
/// practice), taken here as the same voltage as [`WRONG_WAY_VOLTS`] at least.
const REVERSE_TANTALUM: f64 = 0.02;

/// One quantity of one part.
#[derive(Debug, Clone, PartialEq)]
pub struct Stress {
    /// Name of the part or load in the circuit.
    pub part: String,
    /// What is worked: `voltage`, `reverse voltage`, `current` and so on.
    pub quantity: &'static str,
    /// The value, in the unit that the rating has.
    pub value: f64,
    /// The rating.
    pub rating: f64,
    /// The value as a share of the rating.
    pub share: f64,
}

/// Every stress of a solved point that has a rating, in circuit order, parts before loads.
#[must_use]
pub fn stresses(circuit: &Circuit, situation: &Situation, point: &Point) -> Vec<Stress> {
    let mut out = Vec::new();
    for (name, part) in circuit.parts() {
        if let Some(solved) = point.part(&name) {
            let mut of = Of {
                name: &name,
                reversed: &situation.reversed,
                out: &mut out,
            };
            of.part(part, solved, &|pin| {
                pin_volts(circuit, point, &name, part, pin)
            });
        }
    }
    for (name, load) in circuit.loads() {
        if let Some(solved) = point.load(&name) {
            let mut of = Of {
                name: &name,
                reversed: &situation.reversed,
                out: &mut out,
            };
            of.load(load, solved.volts);
        }
    }
    out.retain(|s| !is_wrong_way(s) || s.share <= 1.0 || is_driven(circuit, situation, &s.part));
    out
}

/// Current into an input of the wrong polarity from which it counts as driven. Latch-up is tested
/// with some hundred milliamperes (JEDEC JESD78, from memory); leakage alone lies far below this.
const DRIVEN_AMPS: f64 = 1e-4;
/// Name of the diode that stands for the input structure of a part.
const CLAMP: &str = "(clamp)";

fn is_wrong_way(stress: &Stress) -> bool {
    let quantities = [
        "reverse voltage at its input",
        "output reversed",
        "reverse voltage",
    ];
    stress.rating == WRONG_WAY_VOLTS && quantities.contains(&stress.quantity)
}

/// Whether more than leakage stands behind a voltage of the wrong polarity.
///
/// Behind a transistor that blocks, a net without any other path has whatever voltage the equations
/// leave it; a real input clamps it and takes next to nothing. So the point is solved again with a
/// clamp of 0.3 V across the part. Where that cannot be solved, the voltage counts.
fn is_driven(circuit: &Circuit, situation: &Situation, name: &str) -> bool {
    let Some((family, clamp)) = with_clamp(circuit, situation, name) else {
        return true;
    };
    let solved = Circuit::new(&family, &situation.boards)
        .ok()
        .and_then(|c| c.solve(situation, &CellDrive::Rested, None).ok());
    let amps = solved.and_then(|point| point.part(&clamp).map(|p| p.amps));
    amps.is_none_or(|amps| DRIVEN_AMPS < amps)
}

/// The family with a clamp from ground to input of a regulator, or across a load, and its name.
fn with_clamp(circuit: &Circuit, situation: &Situation, name: &str) -> Option<(Family, String)> {
    let (prefix, own) = name.rsplit_once('/').unwrap_or(("", name));
    let mut family = circuit.family().clone();
    let load = circuit.loads().into_iter().find(|(n, _)| n == name);
    let found = circuit.boards().iter().find_map(|board| {
        if !prefix.is_empty() && board.name != prefix {
            return None;
        }
        let net = |wanted: &str| board.nets.iter().position(|n| n == wanted);
        let ends = match &load {
            Some((_, load)) => (net(&load.minus)?, net(&load.plus)?),
            None => {
                let part = board.part(own)?;
                (part.net("gnd")?, part.net("in")?)
            }
        };
        Some((board.name.clone(), ends))
    });
    let (board, (anode, cathode)) = found?;
    let pin = |name: &str, net| Pin {
        name: name.to_owned(),
        net: Some(net),
        declared_open: false,
    };
    let parts = &mut family.boards.iter_mut().find(|b| b.name == board)?.parts;
    parts.push(Part {
        name: CLAMP.to_owned(),
        kind: Kind::Diode,
        pins: vec![pin("anode", anode), pin("cathode", cathode)],
        device: Device::Diode(clamp_diode()),
        heat: Heat::default(),
        origin: Origin {
            model: None,
            source: None,
            confidence: Confidence::Typical,
            class: true,
        },
    });
    Some((family, qualified(&situation.boards, &board, CLAMP)))
}

fn clamp_diode() -> Diode {
    let volts = Spread::exactly(Voltage::from_volts(WRONG_WAY_VOLTS));
    Diode {
        forward: vec![(Current::from_amps(1e-3), volts)],
        leakage: None,
        leakage_at: None,
        rated_current: None,
        rated_reverse: None,
    }
}

/// Voltage of the net that a pin is on, where it is on one.
fn pin_volts(circuit: &Circuit, point: &Point, name: &str, part: &Part, pin: &str) -> Option<f64> {
    let board = match name.rsplit_once('/') {
        Some((board, _)) => circuit.boards().iter().find(|b| b.name == board)?,
        None => circuit.boards().first()?,
    };
    let net = board.net_of(part.pin(pin)?.1)?;
    let alone = point.net(net);
    alone.or_else(|| point.net(&format!("{}/{net}", board.name)))
}

/// Collects the stresses of one part.
struct Of<'a> {
    name: &'a str,
    reversed: &'a BTreeSet<String>,
    out: &'a mut Vec<Stress>,
}

impl Of<'_> {
    fn add(&mut self, quantity: &'static str, value: f64, rating: Option<f64>) {
        if let Some(rating) = rating
            && rating > 0.0
            && value > 0.0
        {
            self.out.push(Stress {
                part: self.name.to_owned(),
                quantity,
                value,
                rating,
                share: value / rating,
            });
        }
    }

    fn part(&mut self, part: &Part, at: &PartPoint, volts: &dyn Fn(&str) -> Option<f64>) {
        match &part.device {
            Device::Cell(cell) => self.cell(cell, at),
            Device::Resistor(r) => self.add("power", at.watts, r.rated.map(|w| w.as_watts())),
            Device::Capacitor(c) => self.capacitor(c, at.volts),
            Device::Inductor(l) => self.inductor(l, at),
            Device::Diode(d) => self.diode(d, at),
            Device::Led(led) => self.diode(&led.junction, at),
            Device::Fet(fet) => self.fet(fet, volts),
            Device::Switch(switch) => self.switch(switch, at),
            Device::Fuse(f) => self.add("current", at.amps.abs(), f.rated.map(|a| a.as_amps())),
            Device::Regulator(u) => self.regulator(u, volts),
            Device::Supply(_) | Device::Load(_) | Device::TestPoint => {}
        }
    }

    fn cell(&mut self, cell: &Cell, at: &PartPoint) {
        let limits = &cell.model.limits;
        let continuous = limits.continuous.map(|a| a.as_amps());
        self.add("current", at.amps.abs(), continuous);
        if cell.model.charging == Charging::Primary {
            let charging = limits.reverse_current.map(|a| a.as_amps());
            self.add(
                "charging current",
                self.charging_amps(cell, at.amps),
                charging,
            );
        }
    }

    /// The largest current into the own plus of any cell of the part.
    fn charging_amps(&self, cell: &Cell, holder_amps: f64) -> f64 {
        let whole = self.reversed.contains(self.name);
        let turned = |n: usize| whole != self.reversed.contains(&format!("{}.{n}", self.name));
        let into = |n| if turned(n) { holder_amps } else { -holder_amps };
        (1..=cell.series).map(into).fold(0.0, f64::max)
    }

    fn capacitor(&mut self, c: &Capacitor, volts: f64) {
        let rated = c.rated.map(|v| v.as_volts());
        let reverse = match c.dielectric {
            Some(Dielectric::Tantalum | Dielectric::Polymer) => {
                Some((REVERSE_TANTALUM * rated.unwrap_or(0.0)).max(WRONG_WAY_VOLTS))
            }
            Some(Dielectric::Aluminium | Dielectric::DoubleLayer) => Some(WRONG_WAY_VOLTS),
            _ => None,
        };
        if reverse.is_some() {
            self.add("voltage", volts, rated);
            self.add("reverse voltage", -volts, reverse);
        } else {
            self.add("voltage", volts.abs(), rated);
        }
    }

    fn inductor(&mut self, l: &Inductor, at: &PartPoint) {
        self.add("current", at.amps.abs(), l.rated.map(|a| a.as_amps()));
        let saturation = l.saturation.map(|a| a.as_amps());
        self.add("saturation", at.amps.abs(), saturation);
    }

    fn diode(&mut self, d: &Diode, at: &PartPoint) {
        self.add("current", at.amps, d.rated_current.map(|a| a.as_amps()));
        let reverse = d.rated_reverse.map(|v| v.as_volts());
        self.add("reverse voltage", -at.volts, reverse);
    }

    fn fet(&mut self, fet: &Fet, volts: &dyn Fn(&str) -> Option<f64>) {
        let (drain, source) = (volts("drain"), volts("source"));
        if let (Some(drain), Some(source)) = (drain, source) {
            let rating = fet.rated_drain_source.map(|v| v.as_volts());
            self.add("drain-source voltage", (drain - source).abs(), rating);
        }
        if let (Some(gate), Some(source)) = (volts("gate"), source) {
            let rating = fet.rated_gate_source.map(|v| v.as_volts());
            self.add("gate-source voltage", (gate - source).abs(), rating);
        }
    }

    fn switch(&mut self, switch: &Switch, at: &PartPoint) {
        let most = at
            .pin_amps
            .iter()
            .fold(0.0_f64, |most, a| most.max(a.abs()));
        self.add("contact current", most, switch.rated.map(|a| a.as_amps()));
    }

    fn regulator(&mut self, u: &Regulator, volts: &dyn Fn(&str) -> Option<f64>) {
        if let (Some(input), Some(ground)) = (volts("in"), volts("gnd")) {
            let survives = u.survives.map(|v| v.as_volts());
            self.add("input voltage", input - ground, survives);
            self.add(
                "reverse voltage at its input",
                ground - input,
                Some(WRONG_WAY_VOLTS),
            );
        }
        if let (Some(output), Some(ground)) = (volts("out"), volts("gnd")) {
            self.add("output reversed", ground - output, Some(WRONG_WAY_VOLTS));
        }
    }

    fn load(&mut self, load: &Load, volts: f64) {
        self.add("voltage", volts, load.survives.map(|v| v.as_volts()));
        self.add("reverse voltage", -volts, Some(WRONG_WAY_VOLTS));
    }
}
