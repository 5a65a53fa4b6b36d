//! How a board is put together, read from its netlist: control pins, feedback dividers, pull
//! resistors, what is joined by closed contacts. Nothing is told apart by its name.

use std::collections::BTreeMap;

use crate::device::{Enable, Regulator};
use crate::model::{Board, Device, Part, Pin};

/// A pin that takes next to no current and decides what its part does.
#[derive(Debug, Clone, Copy)]
pub struct ControlPin<'a> {
    /// The part.
    pub part: &'a Part,
    /// The pin.
    pub pin: &'a Pin,
    /// What it controls.
    pub role: Role,
}

/// What a control pin does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// Gate of a transistor.
    Gate,
    /// Enable input of a regulator or a load switch.
    Enable,
    /// Feedback input of a regulator.
    Feedback,
}

/// The two resistors that set the output of a regulator.
#[derive(Debug, Clone, Copy)]
pub struct Divider<'a> {
    /// The regulator part.
    pub regulator: &'a Part,
    /// What the regulator is.
    pub device: &'a Regulator,
    /// From the output to the feedback pin.
    pub upper: &'a Part,
    /// From the feedback pin to ground.
    pub lower: &'a Part,
}

/// A resistor that gives a control pin its level when nothing else does.
#[derive(Debug, Clone, Copy)]
pub struct Pull<'a> {
    /// The resistor.
    pub resistor: &'a Part,
    /// Its value.
    pub ohms: f64,
    /// The net of the control pin.
    pub net: usize,
    /// The net it pulls towards.
    pub towards: usize,
}

/// All control pins of a board, in part order.
#[must_use]
pub fn control_pins(board: &Board) -> Vec<ControlPin<'_>> {
    let pins = board.parts.iter().flat_map(|part| {
        part.pins.iter().filter_map(move |pin| {
            let role = match (&part.device, pin.name.as_str()) {
                (Device::Fet(_), "gate") => Role::Gate,
                (Device::Regulator(u), "enable") if u.enable.is_some() => Role::Enable,
                (Device::LoadSwitch(s), "enable") if s.enable.is_some() => Role::Enable,
                (Device::Regulator(_), "fb") => Role::Feedback,
                _ => return None,
            };
            Some(ControlPin { part, pin, role })
        })
    });
    pins.collect()
}

/// The enable input of a regulator or a load switch that has one.
#[must_use]
pub fn enable_of(part: &Part) -> Option<&Enable> {
    match &part.device {
        Device::Regulator(u) => u.enable.as_ref(),
        Device::LoadSwitch(s) => s.enable.as_ref(),
        _ => None,
    }
}

/// The dividers of all regulators that have one.
#[must_use]
pub fn dividers(board: &Board) -> Vec<Divider<'_>> {
    board
        .parts
        .iter()
        .filter_map(|u| divider(board, u))
        .collect()
}

fn divider<'a>(board: &'a Board, regulator: &'a Part) -> Option<Divider<'a>> {
    let Device::Regulator(device) = &regulator.device else {
        return None;
    };
    let feedback = regulator.net("fb")?;
    let between = |end: usize| {
        board
            .parts
            .iter()
            .find(|p| resistance(p).is_some() && connects(p, feedback, end))
    };
    Some(Divider {
        regulator,
        device,
        upper: between(regulator.net("out")?)?,
        lower: between(regulator.net("gnd")?)?,
    })
}

/// The value of a resistor.
#[must_use]
pub fn resistance(part: &Part) -> Option<f64> {
    match &part.device {
        Device::Resistor(r) => Some(r.value.si()),
        _ => None,
    }
}

/// Whether a part of two pins lies between two nets.
fn connects(part: &Part, a: usize, b: usize) -> bool {
    ends(part).is_some_and(|(p, q)| (p, q) == (a, b) || (p, q) == (b, a))
}

/// The nets of the first two pins.
#[must_use]
pub fn ends(part: &Part) -> Option<(usize, usize)> {
    Some((part.pins.first()?.net?, part.pins.get(1)?.net?))
}

/// For each net the lowest net that it is joined to by closed contacts, fuses, windings and wires.
#[must_use]
pub fn joined(board: &Board, positions: &BTreeMap<String, String>) -> Vec<usize> {
    let mut root: Vec<usize> = (0..board.nets.len()).collect();
    for part in &board.parts {
        for (a, b) in wires(part, positions) {
            let (keep, drop) = (root[a].min(root[b]), root[a].max(root[b]));
            for r in &mut root {
                if *r == drop {
                    *r = keep;
                }
            }
        }
    }
    root
}

/// Pairs of nets that a part joins with next to no resistance.
fn wires(part: &Part, positions: &BTreeMap<String, String>) -> Vec<(usize, usize)> {
    let ends = || ends(part).into_iter().collect();
    match &part.device {
        Device::Fuse(_) | Device::Ptc(_) | Device::Inductor(_) => ends(),
        Device::Resistor(r) if r.value.si() <= 0.0 => ends(),
        Device::Switch(switch) => {
            let position = positions.get(&part.name);
            let closed = position.and_then(|p| switch.closed_in(p));
            let nets = closed.unwrap_or_default().into_iter();
            nets.filter_map(|(a, b)| Some((part.pins.get(a)?.net?, part.pins.get(b)?.net?)))
                .collect()
        }
        _ => Vec::new(),
    }
}

/// Resistors on the nets of gates and enable pins, in part order, each once.
#[must_use]
pub fn pulls(board: &Board) -> Vec<Pull<'_>> {
    let controls: Vec<usize> = control_pins(board)
        .iter()
        .filter(|c| c.role != Role::Feedback)
        .filter_map(|c| c.pin.net)
        .collect();
    let mut out = Vec::new();
    for part in &board.parts {
        let (Some(ohms), Some((a, b))) = (resistance(part), ends(part)) else {
            continue;
        };
        if ohms <= 0.0 {
            continue;
        }
        let (net, towards) = match (controls.contains(&a), controls.contains(&b)) {
            (true, false) => (a, b),
            (false, true) => (b, a),
            _ => continue,
        };
        // A control net that is itself a supply, such as an enable tied to the input, has no pull.
        if !feeds(board, net) {
            out.push(Pull {
                resistor: part,
                ohms,
                net,
                towards,
            });
        }
    }
    out
}

/// Whether a source, a power pin of a regulator, load switch or ideal diode or a transistor's channel
/// sits on a net.
fn feeds(board: &Board, net: usize) -> bool {
    board.parts.iter().any(|part| {
        part.pins.iter().any(|pin| {
            pin.net == Some(net)
                && match &part.device {
                    Device::Cell(_) | Device::Supply(_) => true,
                    Device::Regulator(_) => matches!(pin.name.as_str(), "in" | "out" | "gnd"),
                    Device::LoadSwitch(_) | Device::IdealDiode(_) => {
                        matches!(pin.name.as_str(), "in" | "out" | "gnd")
                    }
                    Device::Detector(_) => matches!(pin.name.as_str(), "in" | "gnd"),
                    Device::Fet(_) => matches!(pin.name.as_str(), "drain" | "source"),
                    _ => false,
                }
        })
    })
}
