//! What converters do at the lowest input that the board must work from, and which nets a source feeds
//! directly.

use std::collections::BTreeMap;

use crate::circuit::{CellDrive, Circuit, Mode, Point, Situation};
use crate::device::{Capacitor, Inductor, OutputCapacitor, PowerStage, Regulator};
use crate::model::{Board, Change, Device, Family, Part, PropertyId};
use crate::quantity::Temperature;
use crate::review::Evidence;
use crate::review::anatomy::{ends, joined, resistance};

/// Share of the depth at the end of a life up to which a board is looked at where the life ends before
/// it is required to: at the very end something always gives out.
const BEFORE_THE_END: f64 = 0.95;
/// Voltage that a transistor or diode may take from a source that feeds through it.
const PATH_VOLTS: f64 = 1.0;

/// A regulator that is on, at one point.
pub(crate) struct Working<'a> {
    /// The regulator part.
    pub(crate) part: &'a Part,
    /// What it is.
    pub(crate) device: &'a Regulator,
    /// Its inductor.
    pub(crate) inductor: Option<(&'a Part, &'a Inductor)>,
    /// Input voltage.
    pub(crate) in_volts: f64,
    /// Output voltage.
    pub(crate) out_volts: f64,
    /// Current into the input.
    pub(crate) in_amps: f64,
    /// Current out of the output.
    pub(crate) out_amps: f64,
    /// Mean current of the inductor.
    pub(crate) inductor_amps: f64,
    /// What it is doing.
    pub(crate) mode: Mode,
}

impl Working<'_> {
    /// Its power stage with the least inductance and frequency, where both are known.
    pub(crate) fn stage(&self) -> Option<PowerStage> {
        let henries = self.inductor?.1.value.low();
        let hertz = self.device.frequency?.low();
        let given = self.out_volts * self.out_amps;
        let taken = self.in_volts * self.in_amps;
        let share = if 0.0 < taken { given / taken } else { 1.0 };
        Some(PowerStage {
            topology: self.device.topology,
            in_volts: self.in_volts,
            out_volts: self.out_volts,
            efficiency: share.clamp(0.3, 1.0),
            henries,
            hertz,
        })
        .filter(|s| 0.0 < s.in_volts && 0.0 < s.out_volts && 0.0 < s.henries && 0.0 < s.hertz)
    }
}

impl<'a> Evidence<'a> {
    /// Depth at which the required life is reached; just before the end where it is not, or where none
    /// is required. The flag says which.
    pub(crate) fn promised_depth(&self) -> (f64, bool) {
        let Some(life) = self.life() else {
            return (0.0, true);
        };
        let end = (BEFORE_THE_END * life.end.depth, false);
        let Some(required) = self.family.requirement.life.map(|t| t.as_secs()) else {
            return end;
        };
        if life.life_secs.is_some_and(|secs| secs < required) {
            return end;
        }
        let trace = life.trace.time_secs.iter().zip(&life.trace.depth);
        let mut before = (0.0, life.shelf.map_or(0.0, |s| s.depth));
        for (&secs, &depth) in trace {
            if required <= secs {
                let share = (required - before.0) / (secs - before.0).max(1e-9);
                return (before.1 + share.clamp(0.0, 1.0) * (depth - before.1), true);
            }
            before = (secs, depth);
        }
        (before.1, true)
    }

    /// The family with every supply of this board at its lowest voltage.
    pub(crate) fn lowest_supplies(&self) -> Family {
        let low = |part: &Part| match &part.device {
            Device::Supply(s) => Some(s.open_circuit.low()),
            _ => None,
        };
        self.with_supplies(low)
    }

    /// The family with supplies of this board at given voltages.
    pub(crate) fn with_supplies(&self, volts: impl Fn(&Part) -> Option<f64>) -> Family {
        let set = |part: &Part| {
            let id = PropertyId {
                board: Some(self.board.name.clone()),
                part: part.name.clone(),
                key: "voltage".to_owned(),
            };
            Some(Change::Set(id, volts(part)?))
        };
        let changes: Vec<Change> = self.board.parts.iter().filter_map(set).collect();
        let family = self.family.with(&changes);
        family.unwrap_or_else(|_| self.family.clone())
    }

    /// A point of this board alone in another family.
    pub(crate) fn point_in(&self, family: &Family, situation: &Situation) -> Option<Point> {
        let circuit = Circuit::new(family, std::slice::from_ref(&self.board.name)).ok()?;
        circuit.solve(situation, &CellDrive::Rested, None).ok()
    }

    /// Every load in its hungriest state at a depth and ambient.
    pub(crate) fn heaviest(&self, depth: f64, ambient: Temperature) -> Situation {
        Situation {
            depth,
            ambient,
            states: self.worst_states(),
            ..self.usual()
        }
    }

    /// The regulators of the board at a point.
    pub(crate) fn working(&self, point: &Point) -> Vec<Working<'a>> {
        let parts = self.board.parts.iter();
        parts
            .filter_map(|p| working(self.board, p, point))
            .collect()
    }

    /// Which nets hang on a net through wires, closed contacts, and transistors and diodes that conduct
    /// with little drop in the usual situation.
    pub(crate) fn fed_from(&self, net: usize) -> Vec<bool> {
        let usual = self.usual();
        let root = joined(self.board, &usual.positions);
        let mut fed: Vec<bool> = root.iter().map(|r| *r == root[net]).collect();
        let Some(point) = self.point(&usual) else {
            return fed;
        };
        let volts = |net: usize| point.net(&self.net_name(net)).unwrap_or(0.0);
        loop {
            let next = self.board.parts.iter().find_map(|part| {
                let (a, b) = path(part)?;
                let drop = (volts(a) - volts(b)).abs();
                let is_new = fed[a] != fed[b] && drop < PATH_VOLTS && PATH_VOLTS < volts(a);
                is_new.then_some(if fed[a] { b } else { a })
            });
            let Some(next) = next else {
                return fed;
            };
            for (net, mark) in fed.iter_mut().enumerate() {
                *mark |= root[net] == root[next];
            }
        }
    }

    /// [`Self::fed_from`] through resistors of at most some ohms too.
    pub(crate) fn charged_from(&self, net: usize, most_ohms: f64) -> Vec<bool> {
        let mut fed = self.fed_from(net);
        loop {
            let next = self.board.parts.iter().find_map(|part| {
                let ohms = resistance(part).filter(|ohms| *ohms <= most_ohms)?;
                let (a, b) = ends(part)?;
                let grounds = self.grounds();
                (0.0 < ohms && fed[a] != fed[b] && !grounds[a] && !grounds[b])
                    .then_some(if fed[a] { b } else { a })
            });
            let Some(next) = next else {
                return fed;
            };
            for (net, mark) in self.fed_from(next).into_iter().enumerate() {
                fed[net] |= mark;
            }
        }
    }

    /// Capacitors between nets of one kind and ground, in part order.
    pub(crate) fn capacitors_on(&self, nets: &[bool]) -> Vec<(&'a Part, &'a Capacitor)> {
        let ground = self.grounds();
        let on = |part: &Part, set: &[bool]| {
            let mut pins = part.pins.iter().filter_map(|p| p.net);
            pins.any(|net| set[net])
        };
        let parts = self.board.parts.iter();
        let found = parts.filter_map(|part| match &part.device {
            Device::Capacitor(c) if on(part, nets) && on(part, &ground) => Some((part, c)),
            _ => None,
        });
        found.collect()
    }

    /// Which nets are joined to ground in the usual positions.
    fn grounds(&self) -> Vec<bool> {
        let root = self.usual_roots();
        let name = self.family.connector.ground_net();
        let ground = self.board.nets.iter().position(|n| n == name);
        let is_ground = |r: &usize| ground.is_some_and(|g| *r == root[g]);
        root.iter().map(is_ground).collect()
    }

    /// [`joined`] in the usual positions.
    pub(crate) fn usual_roots(&self) -> Vec<usize> {
        let positions: BTreeMap<String, String> = self.usual().positions;
        joined(self.board, &positions)
    }

    /// Which nets are joined to a pin in the usual positions.
    pub(crate) fn joined_to(&self, net: usize) -> Vec<bool> {
        let root = self.usual_roots();
        root.iter().map(|r| *r == root[net]).collect()
    }
}

/// All capacitors at an output as one: what is left at a voltage, series resistances side by side.
pub(crate) fn together(capacitors: &[(&Part, &Capacitor)], volts: f64) -> OutputCapacitor {
    let siemens = capacitors.iter().map(|(_, c)| 1.0 / c.series_ohms());
    OutputCapacitor {
        farads: capacitors.iter().map(|(_, c)| c.farads_at(volts)).sum(),
        ohms: 1.0 / siemens.sum::<f64>(),
    }
}

/// The two nets between which a transistor or a diode conducts.
fn path(part: &Part) -> Option<(usize, usize)> {
    match &part.device {
        Device::Fet(_) => Some((part.net("drain")?, part.net("source")?)),
        Device::Diode(_) => Some((part.net("anode")?, part.net("cathode")?)),
        _ => None,
    }
}

fn working<'a>(board: &'a Board, part: &'a Part, point: &Point) -> Option<Working<'a>> {
    let Device::Regulator(device) = &part.device else {
        return None;
    };
    let solved = point.part(&part.name)?;
    let at = |pin: &str| {
        let (place, pin) = part.pin(pin)?;
        let volts = point.net(board.net_of(pin)?)?;
        Some((volts, solved.pin_amps.get(place).copied()?))
    };
    let ground = at("gnd").map_or(0.0, |g| g.0);
    let (input, output) = (at("in")?, at("out")?);
    Some(Working {
        part,
        device,
        inductor: inductor(board, part),
        in_volts: input.0 - ground,
        out_volts: output.0 - ground,
        in_amps: input.1,
        out_amps: -output.1,
        inductor_amps: solved.inductor_amps.unwrap_or(0.0),
        mode: solved.mode?,
    })
}

/// The inductor on a switching pin of a converter.
pub(crate) fn inductor<'a>(board: &'a Board, part: &Part) -> Option<(&'a Part, &'a Inductor)> {
    let nets: Vec<usize> = ["sw", "sw1", "sw2"]
        .iter()
        .filter_map(|pin| part.net(pin))
        .collect();
    board.parts.iter().find_map(|p| match &p.device {
        Device::Inductor(l)
            if p.pins
                .iter()
                .any(|x| x.net.is_some_and(|n| nets.contains(&n))) =>
        {
            Some((p, l))
        }
        _ => None,
    })
}
