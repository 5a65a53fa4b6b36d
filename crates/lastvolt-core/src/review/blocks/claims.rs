//! Who belongs to which block: each part is claimed once, the surest claims first.

use std::collections::BTreeSet;

use crate::model::{Device, Kind, Part};
use crate::review::blocks::nets::{Nets, passes};
use crate::review::blocks::path::pair;
use crate::review::blocks::{Block, BlockKind, Blocks};

/// Blocks under way.
pub(super) struct Claims<'n, 'a> {
    pub(super) net: &'n Nets<'a>,
    pub(super) taken: BTreeSet<String>,
    blocks: Vec<Block>,
}

impl<'n, 'a> Claims<'n, 'a> {
    pub(super) fn new(net: &'n Nets<'a>) -> Self {
        Self {
            net,
            taken: BTreeSet::new(),
            blocks: Vec::new(),
        }
    }

    /// Parts that nobody has claimed, in file order.
    pub(super) fn free(&self) -> Vec<&'a Part> {
        let parts = self.net.board.parts.iter();
        parts.filter(|p| !self.taken.contains(&p.name)).collect()
    }

    pub(super) fn is_free(&self, part: &Part) -> bool {
        !self.taken.contains(&part.name)
    }

    /// Puts parts into a block of their own; parts that are claimed already stay where they are.
    pub(super) fn claim(
        &mut self,
        kind: BlockKind,
        title: String,
        parts: &[&Part],
        nets: &[usize],
    ) {
        let mut names = Vec::new();
        for part in parts {
            if self.taken.insert(part.name.clone()) {
                names.push(part.name.clone());
            }
        }
        if names.is_empty() {
            return;
        }
        self.put(kind, title, names, nets);
    }

    /// Adds a block, whether it has parts or not.
    pub(super) fn put(
        &mut self,
        kind: BlockKind,
        title: String,
        parts: Vec<String>,
        nets: &[usize],
    ) {
        self.blocks.push(Block {
            kind,
            title,
            purpose: String::new(),
            parts,
            nets: nets.iter().map(|n| self.net.name(*n)).collect(),
            figures: Vec::new(),
        });
    }

    pub(super) fn finish(self) -> Blocks {
        let parts = self.net.board.parts.iter().map(|p| &p.name);
        let unplaced = parts
            .filter(|n| !self.taken.contains(*n))
            .cloned()
            .collect();
        Blocks {
            blocks: self.blocks,
            unplaced,
        }
    }

    /// Each cell part and each supply, and holders that keep a reversed cell out.
    pub(super) fn sources(&mut self) {
        use crate::device::Reversal;
        for part in self.free() {
            let nets: Vec<usize> = part.net("plus").into_iter().collect();
            match &part.device {
                Device::Cell(cell) => {
                    self.claim(
                        BlockKind::Source,
                        format!("Source {}", part.name),
                        &[part],
                        &nets,
                    );
                    if matches!(
                        cell.holder.reversed,
                        Reversal::Blocked | Reversal::NoContact
                    ) {
                        let title = format!("Reverse protection: the holder of {}", part.name);
                        self.put(BlockKind::ReverseProtection, title, Vec::new(), &nets);
                    }
                }
                Device::Supply(_) => {
                    let title = format!("Source {}", part.name);
                    self.claim(BlockKind::Source, title, &[part], &nets);
                }
                _ => {}
            }
        }
    }

    /// Regulators with divider, inductor, diodes of the switching node and capacitors beside them.
    pub(super) fn converters(&mut self) {
        let regulators: Vec<&Part> = self
            .free()
            .into_iter()
            .filter(|p| matches!(p.device, Device::Regulator(_)))
            .collect();
        let mut groups: Vec<Vec<&Part>> = Vec::new();
        for regulator in &regulators {
            let mut group = vec![*regulator];
            group.extend(self.around(regulator));
            groups.push(group);
        }
        // A capacitor between two regulators is the output of the first.
        for pin in ["out", "in"] {
            for (regulator, group) in regulators.iter().zip(&mut groups) {
                let Some(net) = regulator.net(pin) else {
                    continue;
                };
                let beside = |p: &&Part| self.is_free(p) && self.is_beside(p, net, regulator);
                let found: Vec<&Part> = self.net.on(net).filter(beside).collect();
                // A reservoir stands for itself, unless the converter has nothing else there.
                let small = |p: &&Part| !is_store(p, true);
                let some = group.iter().any(|p| self.is_beside(p, net, regulator));
                let found = match found.iter().copied().filter(small).collect::<Vec<_>>() {
                    few if few.is_empty() && !some => found,
                    few => few,
                };
                for part in found {
                    self.taken.insert(part.name.clone());
                    group.push(part);
                }
            }
        }
        for (regulator, group) in regulators.iter().zip(groups) {
            for part in &group {
                self.taken.remove(&part.name);
            }
            let nets: Vec<usize> = ["in", "out"]
                .iter()
                .filter_map(|p| regulator.net(p))
                .collect();
            let title = format!("Converter {}", regulator.name);
            self.claim(BlockKind::Converter, title, &group, &nets);
        }
    }

    /// What hangs on the switching nodes and the feedback net of a regulator.
    fn around(&self, regulator: &Part) -> Vec<&'a Part> {
        let mut out: Vec<&Part> = Vec::new();
        for pin in ["sw", "sw1", "sw2", "fb"] {
            let Some(net) = regulator.net(pin) else {
                continue;
            };
            // A feedback pin that senses the output directly has nothing of its own on its net.
            if self.net.is_power(net) && pin == "fb" {
                continue;
            }
            let on = self.net.on(net).filter(|p| {
                let kind = matches!(
                    p.kind,
                    Kind::Inductor | Kind::Resistor | Kind::Capacitor | Kind::Diode
                );
                kind && self.is_free(p)
            });
            for part in on {
                if !out.iter().any(|p| p.name == part.name) {
                    out.push(part);
                }
            }
            if pin == "fb" {
                self.add_settings(&mut out, net);
            }
        }
        out
    }

    /// Switches and transistors behind a resistor of the feedback net, which choose the output.
    fn add_settings(&self, group: &mut Vec<&'a Part>, feedback: usize) {
        let behind: Vec<usize> = group
            .iter()
            .filter(|p| p.kind == Kind::Resistor)
            .flat_map(|p| pair(p))
            .filter(|n| *n != feedback && !self.net.is_power(*n))
            .collect();
        for net in behind {
            let chooses = |p: &&Part| {
                let joins = matches!(p.device, Device::Switch(_) | Device::Fet(_));
                let passes = passes(p).iter().any(|&(a, b)| a == net || b == net);
                joins && passes && self.is_free(p) && !self.net.in_series(p)
            };
            for part in self.net.on(net).filter(chooses) {
                if !group.iter().any(|p| p.name == part.name) {
                    group.push(part);
                }
            }
        }
    }

    fn is_beside(&self, part: &Part, net: usize, regulator: &Part) -> bool {
        part.kind == Kind::Capacitor
            && part.pins.iter().filter_map(|p| p.net).any(|other| {
                other != net && (self.net.is_ground(other) || regulator.net("gnd") == Some(other))
            })
    }
}

/// Value from which a capacitor stores more than edges: 100 uF at 3 V hold some 30 uC for a tenth of a
/// volt, what a small radio takes for a few milliseconds (common practice).
const STORE_FARADS: f64 = 100e-6;

/// Whether a capacitor is a reservoir. An electrolytic beside a converter belongs to it.
pub(super) fn is_store(part: &Part, beside_converter: bool) -> bool {
    use crate::device::Dielectric;
    let Device::Capacitor(c) = &part.device else {
        return false;
    };
    let large = STORE_FARADS <= c.value.si() || c.dielectric == Some(Dielectric::DoubleLayer);
    large || !beside_converter && c.dielectric == Some(Dielectric::Aluminium)
}
