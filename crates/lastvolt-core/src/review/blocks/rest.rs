//! Capacitors beside nets, places to measure, what the board itself takes, and the connector.

use crate::model::{Kind, Part};
use crate::review::blocks::BlockKind;
use crate::review::blocks::claims::{Claims, is_store};
use crate::review::blocks::path::pair;
use crate::review::words;

impl<'a> Claims<'_, 'a> {
    /// Capacitors between a net and ground, one block a net.
    pub(super) fn capacitors(&mut self) {
        for (kind, word) in [
            (BlockKind::Bulk, "Reservoir"),
            (BlockKind::Bypass, "Bypass"),
        ] {
            let mut groups: Vec<(usize, Vec<&Part>)> = Vec::new();
            for part in self.free() {
                let wanted = part.kind == Kind::Capacitor
                    && is_store(part, false) == (kind == BlockKind::Bulk);
                let Some(net) = self.beside(part).filter(|_| wanted) else {
                    continue;
                };
                match groups.iter_mut().find(|g| g.0 == net) {
                    Some(group) => group.1.push(part),
                    None => groups.push((net, vec![part])),
                }
            }
            for (net, parts) in groups {
                let title = format!("{word} of {}", self.net.name(net));
                self.claim(kind, title, &parts, &[net]);
            }
        }
    }

    /// The net that a part hangs on, where its other end is the return of the supply.
    fn beside(&self, part: &Part) -> Option<usize> {
        let nets = pair(part);
        let [a, b] = nets.as_slice() else {
            return None;
        };
        let returns = |n: usize| self.net.is_ground(n) || self.net.minus.contains(&n);
        let net = match (returns(*a), returns(*b)) {
            (false, true) => *a,
            (true, false) => *b,
            _ => return None,
        };
        self.net.leads_somewhere(net).then_some(net)
    }

    /// Dividers of the supply whose middle controls nothing, and test points.
    pub(super) fn measurements(&mut self) {
        for part in self.free().into_iter().filter(|p| p.kind == Kind::Resistor) {
            let nets = pair(part);
            let middle = nets.iter().copied().find(|n| !self.net.is_power(*n));
            let top = nets.iter().copied().find(|n| self.net.trunk.contains(n));
            let (Some(middle), Some(top)) = (middle, top) else {
                continue;
            };
            if self.net.control.contains(&middle) || !self.is_free(part) {
                continue;
            }
            let on = |p: &&Part| {
                matches!(p.kind, Kind::Resistor | Kind::Capacitor | Kind::TestPoint)
                    && self.is_free(p)
            };
            let parts: Vec<&Part> = self.net.on(middle).filter(on).collect();
            let lower = parts.iter().any(|p| {
                p.kind == Kind::Resistor && pair(p).iter().any(|n| self.net.is_ground(*n))
            });
            if lower {
                let title = format!("Divider of {}", self.net.name(top));
                self.claim(BlockKind::Measurement, title, &parts, &[middle, top]);
            }
        }
        for part in self
            .free()
            .into_iter()
            .filter(|p| p.kind == Kind::TestPoint)
        {
            let nets: Vec<usize> = part.pins.iter().filter_map(|p| p.net).collect();
            let title = format!("Measurement point {}", part.name);
            self.claim(BlockKind::Measurement, title, &[part], &nets);
        }
    }

    /// Loads on nets of the board, and resistors across the supply.
    pub(super) fn loads(&mut self) {
        for part in self.free() {
            let across = part.kind == Kind::Resistor
                && self
                    .beside(part)
                    .is_some_and(|n| self.net.trunk.contains(&n));
            if across || part.kind == Kind::Load {
                let nets: Vec<usize> = pair(part)
                    .into_iter()
                    .filter(|n| !self.net.is_ground(*n))
                    .collect();
                let title = format!("Own load {}", part.name);
                self.claim(BlockKind::OwnLoad, title, &[part], &nets);
            }
        }
    }

    /// The connector, which every board has.
    pub(super) fn interface(&mut self) {
        let nets: Vec<usize> = self
            .net
            .connector
            .iter()
            .copied()
            .filter(|n| !self.net.is_ground(*n))
            .collect();
        let names: Vec<String> = nets.iter().map(|n| self.net.name(*n)).collect();
        let title = format!("Interface {}", words::join(&names));
        self.put(
            BlockKind::Interface,
            title.trim().to_owned(),
            Vec::new(),
            &nets,
        );
    }
}
