//! Which capacitors stand beside a cell: they carry the edges of what the board draws.

use crate::circuit::netlist::{GROUND, Net, PlacedPart};
use crate::circuit::{Circuit, Situation};
use crate::model::Device;

/// Resistance up to which a resistor joins a capacitor to a cell.
const NEAR_OHMS: f64 = 10.0;

impl Circuit<'_> {
    /// Capacitance across each cell part at a voltage, through contacts, fuses, channels and diodes
    /// that lie between, in circuit order.
    pub(crate) fn bypass_farads(&self, situation: &Situation, volts: f64) -> Vec<f64> {
        let parts = self.netlist.parts.iter();
        let cells = parts.filter(|p| matches!(p.part.device, Device::Cell(_)));
        cells
            .map(|cell| self.farads_across(cell, situation, volts))
            .collect()
    }

    fn farads_across(&self, cell: &PlacedPart, situation: &Situation, volts: f64) -> f64 {
        let net = |slot: usize| cell.nets.get(slot).copied().flatten();
        let (Some(plus), Some(minus)) = (net(0), net(1)) else {
            return 0.0;
        };
        let plus_side = self.reached(plus, minus, situation);
        let minus_side = self.reached(minus, plus, situation);
        if plus_side.iter().any(|net| minus_side.contains(net)) {
            return 0.0;
        }
        let farads = self.netlist.parts.iter().map(|placed| {
            let (Device::Capacitor(c), [Some(a), Some(b)]) =
                (&placed.part.device, placed.nets.as_slice())
            else {
                return 0.0;
            };
            let across = |a, b| plus_side.contains(a) && minus_side.contains(b);
            if across(a, b) || across(b, a) {
                c.farads_at(volts)
            } else {
                0.0
            }
        });
        farads.sum()
    }

    /// Nets that low resistances and junctions join to a net, without going through another.
    fn reached(&self, from: Net, without: Net, situation: &Situation) -> Vec<Net> {
        let mut reached = vec![from];
        let mut at = 0;
        while let Some(&net) = reached.get(at) {
            at += 1;
            for placed in &self.netlist.parts {
                for (a, b) in joins(placed, situation) {
                    for (a, b) in [(a, b), (b, a)] {
                        let is_new = a == net && b != without && !reached.contains(&b);
                        // Ground is where everything meets: it is an end and no way through.
                        if is_new && (net != GROUND || from == GROUND) {
                            reached.push(b);
                        }
                    }
                }
            }
        }
        reached
    }
}

/// Pairs of nets that a part joins closely.
fn joins(placed: &PlacedPart, situation: &Situation) -> Vec<(Net, Net)> {
    let pairs = match &placed.part.device {
        Device::Resistor(r) if r.value.si() < NEAR_OHMS => vec![(0, 1)],
        Device::Inductor(_)
        | Device::Diode(_)
        | Device::Fuse(_)
        | Device::Ptc(_)
        | Device::LoadSwitch(_)
        | Device::IdealDiode(_)
        | Device::Fet(_) => vec![(0, 1)],
        Device::Switch(switch) => {
            let named = situation.positions.get(&placed.name);
            let closed = named.and_then(|name| switch.closed_in(name));
            let usual = || switch.positions.get(switch.usual).map(|p| p.closed.clone());
            closed.or_else(usual).unwrap_or_default()
        }
        _ => Vec::new(),
    };
    let net = |slot: usize| placed.nets.get(slot).copied().flatten();
    let each = pairs.into_iter();
    each.filter_map(|(a, b)| Some((net(a)?, net(b)?))).collect()
}
