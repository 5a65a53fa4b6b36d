//! The way from a source to a rail: through the parts that let its current pass, in usual positions where
//! there is a choice.

use std::collections::BTreeSet;

use lastvolt_core::model::{Device, Part};

use super::Nets;

/// How a source reaches a rail.
pub(super) struct Way {
    /// Its place among the parts.
    pub(super) source: usize,
    /// The parts that it goes through.
    pub(super) parts: Vec<usize>,
    /// The nets from the plus of the source on.
    pub(super) nets: Vec<usize>,
    /// The rail; none where no way leads to one.
    pub(super) end: Option<usize>,
    /// Parts between its minus and ground.
    pub(super) back: Vec<usize>,
}

/// A step from a net to another through a part.
struct Step {
    from: usize,
    to: usize,
    part: usize,
    cost: u32,
}

pub(super) fn way(net: &Nets, source: &Part) -> Way {
    let place = net.board.parts.iter().position(|p| p.name == source.name);
    let mut way = Way {
        source: place.unwrap_or(0),
        parts: Vec::new(),
        nets: Vec::new(),
        end: None,
        back: Vec::new(),
    };
    let steps = steps(net);
    let Some(plus) = source.net("plus") else {
        return way;
    };
    way.nets.push(plus);
    let ground: Vec<usize> = net.ground.into_iter().collect();
    if let Some(found) = cheapest(&steps, plus, &net.rails, &ground) {
        way.end = Some(found.last().map_or(plus, |s| s.to));
        way.nets.extend(found.iter().map(|s| s.to));
        way.parts.extend(found.iter().map(|s| s.part));
    }
    let minus = source.net("minus").filter(|m| !ground.contains(m));
    if let Some(minus) = minus {
        let back = cheapest(&steps, minus, &ground, &way.nets);
        way.back = back.unwrap_or_default().iter().map(|s| s.part).collect();
    }
    way
}

/// The cheapest way from a net to one of several that enters none of the barred ones.
fn cheapest<'s>(
    steps: &'s [Step],
    from: usize,
    ends: &[usize],
    barred: &[usize],
) -> Option<Vec<&'s Step>> {
    let n_nets = steps
        .iter()
        .map(|s| s.to.max(s.from) + 1)
        .max()
        .unwrap_or(0);
    let n_nets = n_nets.max(from + 1);
    let mut best: Vec<Option<u32>> = vec![None; n_nets];
    let mut came: Vec<Option<&Step>> = vec![None; n_nets];
    let mut open = BTreeSet::from([(0, from)]);
    best[from] = Some(0);
    while let Some((cost, at)) = open.pop_first() {
        if ends.contains(&at) {
            return Some(traced(&came, from, at));
        }
        let onward = steps.iter().filter(|s| s.from == at);
        for step in onward.filter(|s| !barred.contains(&s.to)) {
            let next = cost + step.cost;
            if best[step.to].is_none_or(|b| next < b) {
                best[step.to] = Some(next);
                came[step.to] = Some(step);
                open.insert((next, step.to));
            }
        }
    }
    None
}

fn traced<'s>(came: &[Option<&'s Step>], from: usize, end: usize) -> Vec<&'s Step> {
    let mut out = Vec::new();
    let mut at = end;
    while at != from {
        let Some(step) = came.get(at).copied().flatten() else {
            break;
        };
        out.push(step);
        at = step.from;
    }
    out.reverse();
    out
}

/// Every step that current may take, with how little it looks like the way of the supply.
fn steps(net: &Nets) -> Vec<Step> {
    let mut out = Vec::new();
    for (part, of) in net.board.parts.iter().enumerate() {
        for (a, b, cost) in passes(of) {
            let net_of = |pin: usize| of.pins.get(pin).and_then(|p| p.net);
            if let (Some(from), Some(to)) = (net_of(a), net_of(b)) {
                out.push(Step {
                    from,
                    to,
                    part,
                    cost,
                });
            }
        }
    }
    out
}

/// Pins between which a part lets the current of the supply pass, and at which cost.
fn passes(part: &Part) -> Vec<(usize, usize, u32)> {
    let both = |cost| vec![(0, 1, cost), (1, 0, cost)];
    match &part.device {
        Device::Fuse(_) | Device::Ptc(_) | Device::Fet(_) => both(2),
        Device::Inductor(_) => both(3),
        Device::Diode(_) => vec![(0, 1, 2)],
        Device::Resistor(_) => both(20),
        Device::Zener(_) => both(40),
        Device::Led(_) => vec![(0, 1, 40)],
        Device::Regulator(_) | Device::LoadSwitch(_) | Device::IdealDiode(_) => vec![(0, 1, 2)],
        Device::Switch(s) => {
            let mut out = Vec::new();
            for (at, position) in s.positions.iter().enumerate() {
                let cost = if at == s.usual { 2 } else { 12 };
                for &(a, b) in &position.closed {
                    out.extend([(a, b, cost), (b, a, cost)]);
                }
            }
            out
        }
        // Sources in series.
        Device::Cell(_) | Device::Supply(_) => both(2),
        Device::Capacitor(_) | Device::Detector(_) | Device::Load(_) | Device::TestPoint => {
            Vec::new()
        }
    }
}
