//! What converters do at the lowest and highest input that the board must work from, and the capacitors
//! on nets.

use std::collections::BTreeMap;

use crate::circuit::{CellDrive, Circuit, Mode, Point, Situation};
use crate::device::{Capacitor, Inductor, Loss, OutputCapacitor, PowerStage, Regulator, Topology};
use crate::model::{Board, Change, Device, Family, Part, PropertyId};
use crate::quantity::Temperature;
use crate::review::Evidence;
use crate::review::anatomy::joined;

/// Share of the depth at the end of a life up to which a board is looked at where the life ends before
/// it is required to: at the very end something always gives out.
const BEFORE_THE_END: f64 = 0.95;

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
    /// Current that it takes, through the inductor of a step-up converter too.
    pub(crate) in_amps: f64,
    /// Current that it gives, through the inductor of a step-down converter too.
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
        let taken = self.in_volts * (self.in_amps - self.own_amps());
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

    /// Current into the input that it takes for itself, whatever it gives.
    pub(crate) fn own_amps(&self) -> f64 {
        let device = self.device;
        let is_linear = device.topology == Topology::Linear;
        let watts = match &device.loss {
            Loss::Share { .. } if is_linear => self.in_volts * device.quiescent_in.si(),
            Loss::Share { .. } => {
                self.in_volts * device.quiescent_in.si()
                    + self.out_volts * device.quiescent_out.si()
            }
            Loss::Efficiency(_) if is_linear => 0.0,
            // Below the lowest stated current the loss no longer falls: that is its own current.
            Loss::Efficiency(_) => device.table_loss_watts(self.in_volts, self.out_volts, 0.0),
        };
        watts / self.in_volts.max(1e-3)
    }

    /// Current into the input for one that leaves the output without a loss.
    pub(crate) fn step(&self) -> f64 {
        match self.device.topology {
            Topology::Linear => 1.0,
            _ => self.out_volts / self.in_volts.max(1e-3),
        }
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

    /// For each regulator the heaviest situation with fresh cells and supplies at their highest in the
    /// positions in which its input is highest.
    pub(crate) fn highest_inputs(&self) -> Vec<(Situation, Point)> {
        let family = self.high_family();
        let mut tops: BTreeMap<String, (f64, BTreeMap<String, String>)> = BTreeMap::new();
        for high in self.high() {
            for at in self.working(&high.point) {
                let known = tops.get(&at.part.name).map_or(0.0, |top| top.0);
                if known < at.in_volts {
                    let positions = high.situation.positions.clone();
                    tops.insert(at.part.name.clone(), (at.in_volts, positions));
                }
            }
        }
        let mut out: Vec<(Situation, Point)> = Vec::new();
        for (_, positions) in tops.into_values() {
            let situation = Situation {
                positions,
                ..self.heaviest(0.0, self.family.requirement.ambient.usual)
            };
            let known = out.iter().any(|o| o.0.positions == situation.positions);
            if let (false, Some(point)) = (known, self.point_in(&family, &situation)) {
                out.push((situation, point));
            }
        }
        out
    }

    /// The regulators of the board at a point.
    pub(crate) fn working(&self, point: &Point) -> Vec<Working<'a>> {
        let parts = self.board.parts.iter();
        parts
            .filter_map(|p| working(self.board, p, point))
            .collect()
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
    pub(crate) fn grounds(&self) -> Vec<bool> {
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
    // Power enters a step-up converter and leaves a step-down converter through its inductor.
    let through = |topology| match device.topology == topology {
        true => at("sw").map_or(0.0, |sw| sw.1),
        false => 0.0,
    };
    Some(Working {
        part,
        device,
        inductor: inductor(board, part),
        in_volts: input.0 - ground,
        out_volts: output.0 - ground,
        in_amps: input.1 + through(Topology::Boost),
        out_amps: -(output.1 + through(Topology::Buck)),
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

#[cfg(test)]
mod tests;
