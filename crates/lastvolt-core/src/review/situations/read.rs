//! What is read off every solved situation: the figures that rules about sources hold against limits.

use crate::circuit::{Circuit, Point, Situation};
use crate::device::Charging;
use crate::model::Device;

/// What is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Quantity {
    /// Current into the own plus of a primary cell, where that can last: usual ambient, no switch between positions.
    Charging,
    /// Current back into the plus of a supply, or out of the input of a regulator.
    Returned,
    /// Voltage across a load.
    LoadVoltage,
}

/// One figure of one part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// What is read.
    pub what: Quantity,
    /// Place of the part in the circuit, or of the load behind the parts.
    pub place: usize,
    /// The value, in amperes or volts.
    pub value: f64,
}

/// Where in a circuit there is something to read.
pub(super) struct Reader {
    primaries: Vec<(usize, String, usize)>,
    supplies: Vec<usize>,
    regulators: Vec<(usize, Vec<usize>)>,
    names: Vec<String>,
}

impl Reader {
    pub(super) fn new(circuit: &Circuit) -> Self {
        let mut reader = Self {
            primaries: Vec::new(),
            supplies: Vec::new(),
            regulators: Vec::new(),
            names: Vec::new(),
        };
        for (at, (name, part)) in circuit.parts().into_iter().enumerate() {
            match &part.device {
                Device::Cell(cell) if cell.model.charging == Charging::Primary => {
                    reader.primaries.push((at, name.clone(), cell.series));
                }
                Device::Supply(_) => reader.supplies.push(at),
                Device::Regulator(_) => {
                    let inputs = ["in", "sw", "sw1"].into_iter();
                    let inputs = inputs.filter_map(|pin| part.pin(pin).map(|p| p.0));
                    reader.regulators.push((at, inputs.collect()));
                }
                _ => {}
            }
            reader.names.push(name);
        }
        let loads = circuit.loads().into_iter().map(|l| l.0);
        reader.names.extend(loads);
        reader
    }

    /// Name of the part or load at a place.
    pub(super) fn name(&self, place: usize) -> &str {
        &self.names[place]
    }

    /// Names of all places.
    pub(super) fn names(&self) -> Vec<&str> {
        self.names.iter().map(String::as_str).collect()
    }

    /// The readings of a point.
    pub(super) fn read(&self, situation: &Situation, lasting: bool, point: &Point) -> Vec<Reading> {
        let mut out = Vec::new();
        let mut add = |what, place, value: f64| {
            if 0.0 < value {
                out.push(Reading { what, place, value });
            }
        };
        for (at, name, series) in self.primaries.iter().filter(|_| lasting) {
            let amps = point.parts[*at].amps;
            let whole = situation.reversed.contains(name);
            let turned = |n: usize| {
                whole != (1 < *series && situation.reversed.contains(&format!("{name}.{n}")))
            };
            let into = |n: usize| if turned(n) { amps } else { -amps };
            add(
                Quantity::Charging,
                *at,
                (1..=*series).map(into).fold(0.0, f64::max),
            );
        }
        for at in &self.supplies {
            add(Quantity::Returned, *at, -point.parts[*at].amps);
        }
        for (at, inputs) in &self.regulators {
            let pins = &point.parts[*at].pin_amps;
            let into: f64 = inputs.iter().filter_map(|pin| pins.get(*pin)).sum();
            add(Quantity::Returned, *at, -into);
        }
        for (at, load) in point.loads.iter().enumerate() {
            add(Quantity::LoadVoltage, point.parts.len() + at, load.volts);
        }
        out
    }
}
