//! Which nets a path for direct current joins: what it does not join to ground is an island.

use crate::circuit::build::System;
use crate::circuit::element::Element;
use crate::circuit::netlist::{GROUND, Net};
use crate::circuit::regulation::RegulatorTerms;

impl System<'_, '_> {
    /// Groups nets joined by a path for direct current; gives each net the root of its group.
    pub(crate) fn islands(&self) -> Vec<usize> {
        self.islands_joined(&[])
    }

    /// The same with more pairs of nets joined.
    pub(crate) fn islands_joined(&self, more: &[(Net, Net)]) -> Vec<usize> {
        let mut groups = Groups::new(self.nets + 1);
        for &(a, b) in more {
            groups.join(self.key(a), self.key(b));
        }
        for (_, element) in &self.elements {
            match element {
                Element::Conductance { siemens, .. } if *siemens == 0.0 => {}
                Element::Conductance { a, b, .. }
                | Element::Branch { a, b, .. }
                | Element::Pass { a, b, .. }
                | Element::Drain { a, b, .. } => groups.join(self.key(a.net), self.key(b.net)),
                Element::Cells { plus, minus, .. }
                | Element::Source { plus, minus, .. }
                | Element::Supply { plus, minus, .. }
                | Element::Load { plus, minus, .. } => {
                    groups.join(self.key(plus.net), self.key(minus.net));
                }
                Element::Diode { anode, cathode, .. } => {
                    groups.join(self.key(anode.net), self.key(cathode.net));
                }
                Element::Channel { drain, source, .. } => {
                    groups.join(self.key(drain.net), self.key(source.net));
                }
                Element::Open { .. } => {}
                Element::Regulator(terms) => self.join_regulator(terms, &mut groups),
            }
        }
        (0..=self.nets).map(|net| groups.root(net)).collect()
    }

    fn join_regulator(&self, terms: &RegulatorTerms, groups: &mut Groups) {
        let gnd = self.key(terms.gnd.net);
        if terms.on {
            groups.join(self.key(terms.power_in.net), gnd);
            groups.join(self.key(terms.power_out.net), gnd);
        }
        let quiescent = if terms.on {
            terms.device.quiescent_in.si()
        } else {
            terms.device.shutdown.si()
        };
        if quiescent > 0.0 {
            groups.join(self.key(terms.supply.net), gnd);
        }
        if let Some((_, second)) = terms.switch_nodes {
            groups.join(self.key(second.net), gnd);
        }
    }

    /// Ground is the last key.
    fn key(&self, net: Net) -> usize {
        if net == GROUND { self.nets } else { net }
    }
}

struct Groups(Vec<usize>);

impl Groups {
    fn new(n: usize) -> Self {
        Self((0..n).collect())
    }

    fn root(&mut self, mut at: usize) -> usize {
        while self.0[at] != at {
            self.0[at] = self.0[self.0[at]];
            at = self.0[at];
        }
        at
    }

    fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.root(a), self.root(b));
        self.0[a.min(b)] = a.max(b);
    }
}
