//! `sources-fight`: do sources on one rail drive current into each other?
//!
//! The survey gives the largest current back into a supply or out of the input of a regulator, over
//! all positions, missing sources and depths. A supply that is switched off is solved as well: it is
//! held at zero volts and takes what comes, which is the worst that it can be. Sources behind diodes
//! are sound. Where a primary cell is charged as well, `cell-charged` has it.
//!
//! # References
//! USB 2.0 section 7.2.1: a device never drives the bus voltage (from memory). The rest is common
//! practice.

use crate::circuit::{CellDrive, Circuit, Detail, Point, Situation};
use crate::device::Port;
use crate::model::{Device, Family, Profile};
use crate::quantity::{Quantity as _, Resistance, Spread, Unit, Voltage};
use crate::review::rules::Rule;
use crate::review::rules::floating_control::positions;
use crate::review::situations::{Axes, Grid, Quantity, Survey};
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, Stack, words};

/// Current back into a source from which it counts: a milliampere is more than leakage of diodes and
/// of outputs that are held up, and less than anything that a source notices (common practice).
const RETURNED_AMPS: f64 = 1e-3;
/// Share of a returned current that flows on into a primary cell from which `cell-charged` has it.
const IN_CELL_SHARE: f64 = 0.5;

pub(super) struct SourcesFight;

impl Rule for SourcesFight {
    fn id(&self) -> RuleId {
        "sources-fight"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let fights = fights(e.circuit(), e.survey(), e.profile);
        let found = |f: Fight| f.told(e.finding(self.id(), Severity::Fix, &[&f.part]));
        fights.into_iter().map(found).collect()
    }

    fn look_at_stack(&self, s: &Stack) -> Vec<Finding> {
        let severity = if s.twice {
            Severity::Note
        } else {
            Severity::Fix
        };
        let fights = fights(s.circuit(), s.survey(), s.profile);
        let found = |f: Fight| f.told(s.finding(self.id(), severity, &[&f.part]));
        fights.into_iter().map(found).collect()
    }
}

/// A source that takes current.
struct Fight {
    part: String,
    amps: f64,
    situation: Situation,
    situations: usize,
    /// What the source is: a supply that is on, one that is off, a regulator.
    how: How,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum How {
    On,
    Off,
    Through,
}

/// Supplies that take current while on; else those that take it while off; else regulators through
/// which it flows back.
fn fights(circuit: &Circuit, survey: &Survey, profile: Option<&Profile>) -> Vec<Fight> {
    let parts = circuit.parts();
    let sources = parts.iter().filter(|p| is_source(&p.1.device)).count();
    if sources < 2 {
        return Vec::new();
    }
    let mut supplies = Vec::new();
    let mut through = Vec::new();
    for worst in survey.forward(Quantity::Returned) {
        if worst.value <= RETURNED_AMPS {
            continue;
        }
        let found = parts.iter().find(|p| p.0 == worst.part);
        let supply = found.is_some_and(|p| matches!(p.1.device, Device::Supply(_)));
        let fight = Fight {
            part: worst.part.clone(),
            amps: worst.value,
            situation: worst.situation.clone(),
            situations: worst.values.iter().filter(|a| RETURNED_AMPS < **a).count(),
            how: if supply { How::On } else { How::Through },
        };
        if supply {
            supplies.push(fight);
        } else if !into_cell(circuit, &fight) {
            through.push(fight);
        }
    }
    // Where a cell is charged as well, the same diode is missing: `cell-charged` has it.
    let mut charging = survey.forward(Quantity::Charging);
    if supplies.is_empty() && charging.any(|w| RETURNED_AMPS < w.value) {
        return Vec::new();
    }
    if supplies.is_empty() {
        supplies = switched_off(circuit, profile);
    }
    if supplies.is_empty() {
        through
    } else {
        supplies
    }
}

fn is_source(device: &Device) -> bool {
    matches!(device, Device::Supply(_) | Device::Cell(_))
}

/// Whether most of a returned current flows on into cells.
fn into_cell(circuit: &Circuit, fight: &Fight) -> bool {
    let solved = circuit.solve(&fight.situation, &CellDrive::Rested, None);
    let Ok(point) = solved else {
        return false;
    };
    let into: f64 = circuit
        .cell_names()
        .iter()
        .filter_map(|name| point.part(name))
        .map(|p| (-p.amps).max(0.0))
        .sum();
    IN_CELL_SHARE * fight.amps < into
}

/// Supplies that take current while they are off and others are on.
fn switched_off(circuit: &Circuit, profile: Option<&Profile>) -> Vec<Fight> {
    let axes = Axes::new(circuit, profile, Grid::usual(circuit));
    let boards: Vec<String> = circuit.boards().iter().map(|b| b.name.clone()).collect();
    let mut out = Vec::new();
    for name in circuit.supply_names() {
        let Some(family) = with_supply_off(circuit, &name) else {
            continue;
        };
        let Ok(off) = Circuit::new(&family, &boards) else {
            continue;
        };
        let mut worst: Option<Fight> = None;
        let mut situations = 0;
        let mut warm = None;
        for choice in axes.positions() {
            let situation = axes.situation(&choice);
            let Ok(point) =
                off.solve_in(Detail::Bare, &situation, &CellDrive::Rested, warm.as_ref())
            else {
                continue;
            };
            let amps = point.part(&name).map_or(0.0, |p| -p.amps);
            let through = through_regulators(&off, &point);
            warm = Some(point);
            let is_port = is_port(&off, &name);
            if amps <= RETURNED_AMPS || !is_port && through < RETURNED_AMPS {
                continue;
            }
            situations += 1;
            if worst.as_ref().is_none_or(|w| w.amps < amps) {
                worst = Some(Fight {
                    part: name.clone(),
                    amps,
                    situation,
                    situations,
                    how: How::Off,
                });
            }
        }
        out.extend(worst.map(|w| Fight { situations, ..w }));
    }
    out
}

/// Whether a supply is a USB port, which nothing may ever drive.
fn is_port(circuit: &Circuit, name: &str) -> bool {
    let parts = circuit.parts();
    let part = parts.iter().find(|p| p.0 == name).map(|p| p.1);
    part.is_some_and(|p| matches!(&p.device, Device::Supply(s) if s.port == Some(Port::Usb)))
}

/// Current that flows out of the inputs of regulators. A supply on the rail itself takes what its file
/// says that it takes; behind a regulator the current comes by a way that nobody thinks of.
fn through_regulators(circuit: &Circuit, point: &Point) -> f64 {
    let parts = circuit.parts();
    let regulators = parts
        .iter()
        .filter(|p| matches!(p.1.device, Device::Regulator(_)));
    let back = regulators.filter_map(|(name, part)| {
        let pins = &point.part(name)?.pin_amps;
        let inputs = ["in", "sw", "sw1"].into_iter();
        let inputs = inputs.filter_map(|pin| part.pin(pin).and_then(|p| pins.get(p.0)));
        Some((-inputs.sum::<f64>()).max(0.0))
    });
    back.sum()
}

/// The family with a supply that is off: zero volts at its resistance, and takes current.
fn with_supply_off(circuit: &Circuit, name: &str) -> Option<Family> {
    let (board, part) = match name.rsplit_once('/') {
        Some((board, part)) => (board.to_owned(), part),
        None => (circuit.boards().first()?.name.clone(), name),
    };
    let mut family = circuit.family().clone();
    let board = family.boards.iter_mut().find(|b| b.name == board)?;
    let part = board.parts.iter_mut().find(|p| p.name == part)?;
    let Device::Supply(supply) = &mut part.device else {
        return None;
    };
    supply.open_circuit = Spread::exactly(Voltage::from_volts(0.0));
    supply.resistance = Spread::exactly(Resistance::from_si(supply.resistance.si()));
    supply.limit = None;
    supply.sinks = true;
    Some(family)
}

impl Fight {
    fn told(&self, base: Finding) -> Finding {
        let name = &self.part;
        let place = match positions(&self.situation) {
            place if place.is_empty() => String::new(),
            place => format!(" ({place})"),
        };
        let stacked = match self.situation.boards.as_slice() {
            [_] => String::new(),
            boards => format!(" with {} plugged together", words::join(boards)),
        };
        let amps = words::amps(self.amps);
        let says = match self.how {
            How::On => format!("Other sources drive {amps} into {name}{stacked}{place}."),
            How::Off => format!(
                "While {name} is switched off, other sources drive up to {amps} back into it{stacked}{place}."
            ),
            How::Through => format!(
                "{amps} flow from the output of {name} back to its input{stacked}{place}, and on into what hangs there."
            ),
        };
        Finding {
            aspect: match self.how {
                How::On => "",
                How::Off => "off",
                How::Through => "through",
            },
            situation: Some(self.situation.clone()),
            situations: self.situations,
            measured: Some(Figure::new(self.amps, Unit::Ampere)),
            limit: Some(Figure::new(RETURNED_AMPS, Unit::Ampere)),
            says,
            remedy: format!(
                "join the sources through diodes, one between {name} and the rail: it has to carry the load and to block the voltage of the others"
            ),
            basis: "common practice; USB 2.0 section 7.2.1 for a bus port (from memory)".to_owned(),
            ..base
        }
    }
}
