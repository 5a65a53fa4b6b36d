//! What lies in the way of the supply: protection, isolation, switches, fuses.

use crate::device::{Channel, Reversal};
use crate::model::{Device, Kind, Part};
use crate::review::blocks::BlockKind;
use crate::review::blocks::claims::Claims;
use crate::review::blocks::nets::passes;

/// What holds the gate of a transistor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Gate {
    /// Ground, by a wire or a resistor.
    Ground,
    /// A net of the supply.
    Supply,
    /// Something that can change.
    Driven,
}

impl<'a> Claims<'_, 'a> {
    /// Transistors in the way of the supply.
    pub(super) fn transistors(&mut self) {
        self.back_to_back();
        for part in self.free() {
            let Device::Fet(fet) = &part.device else {
                continue;
            };
            if !self.net.in_series(part) {
                continue;
            }
            let gate = self.gate(part);
            let low_side = passes(part)
                .iter()
                .any(|&(a, b)| self.net.is_ground(a) || self.net.is_ground(b));
            let protects = match fet.channel {
                Channel::P => gate == Gate::Ground,
                Channel::N => low_side && gate == Gate::Supply,
            };
            let nets = pair(part);
            if protects {
                let title = format!("Reverse protection {}", part.name);
                let parts = self.with_gate(part);
                self.claim(BlockKind::ReverseProtection, title, &parts, &nets);
            } else if gate == Gate::Supply && fet.channel == Channel::P {
                let title = format!("Isolation {}", part.name);
                let parts = self.with_gate(part);
                self.claim(BlockKind::Isolation, title, &parts, &nets);
            } else {
                let title = format!("Power switch {}", part.name);
                self.claim(BlockKind::PowerSwitch, title, &[part], &nets);
            }
        }
    }

    /// Two transistors in series that face each other and share a gate.
    fn back_to_back(&mut self) {
        let fets: Vec<&Part> = self.free();
        let fets = fets
            .into_iter()
            .filter(|p| matches!(p.device, Device::Fet(_)));
        let fets: Vec<&Part> = fets.filter(|p| self.faces_power(p)).collect();
        for (at, first) in fets.iter().enumerate() {
            for second in &fets[at + 1..] {
                let same =
                    |pin: &str| first.net(pin).is_some() && first.net(pin) == second.net(pin);
                let facing = same("source") != same("drain");
                if first.kind == second.kind && same("gate") && facing {
                    let parts = [*first, *second];
                    let outer = if same("source") { "drain" } else { "source" };
                    let nets = parts.iter().filter_map(|p| p.net(outer));
                    let nets: Vec<usize> = nets.collect();
                    let title = format!("Isolation {} and {}", first.name, second.name);
                    self.claim(BlockKind::Isolation, title, &parts, &nets);
                }
            }
        }
    }

    /// Whether one end of a channel is on the way of the supply.
    fn faces_power(&self, part: &Part) -> bool {
        passes(part)
            .iter()
            .any(|&(a, b)| self.net.trunk.contains(&a) || self.net.trunk.contains(&b))
    }

    fn gate(&self, part: &Part) -> Gate {
        let Some(gate) = part.net("gate") else {
            return Gate::Driven;
        };
        if self.net.is_ground(gate) {
            return Gate::Ground;
        }
        if self.net.trunk.contains(&gate) {
            return Gate::Supply;
        }
        if self.net.driven.contains(&gate) {
            return Gate::Driven;
        }
        let mut held = Gate::Driven;
        for other in self.net.on(gate).filter(|p| p.name != part.name) {
            let drives = match &other.device {
                Device::Switch(_)
                | Device::Regulator(_)
                | Device::Detector(_)
                | Device::LoadSwitch(_) => true,
                Device::Fet(_) => other.net("gate") != Some(gate),
                _ => false,
            };
            if drives {
                return Gate::Driven;
            }
            if other.kind != Kind::Resistor {
                continue;
            }
            let far = pair(other).into_iter().find(|n| *n != gate);
            match far {
                Some(net) if self.net.is_ground(net) => held = Gate::Ground,
                Some(net) if self.net.trunk.contains(&net) && held == Gate::Driven => {
                    held = Gate::Supply;
                }
                _ => {}
            }
        }
        held
    }

    /// A transistor with what hangs on its gate alone.
    fn with_gate(&self, part: &'a Part) -> Vec<&'a Part> {
        let mut out = vec![part];
        let gate = part.net("gate").filter(|g| !self.net.is_power(*g));
        for other in gate.into_iter().flat_map(|g| self.net.on(g)) {
            let passive = matches!(
                other.kind,
                Kind::Resistor | Kind::Capacitor | Kind::Diode | Kind::Zener
            );
            if passive && self.is_free(other) {
                out.push(other);
            }
        }
        out
    }

    /// Diodes across and in the way of the supply.
    pub(super) fn diodes(&mut self) {
        for part in self.free().into_iter().filter(|p| p.kind == Kind::Diode) {
            let (Some(anode), Some(cathode)) = (part.net("anode"), part.net("cathode")) else {
                continue;
            };
            if self.net.is_ground(anode) && self.net.trunk.contains(&cathode) {
                self.shunt(part, cathode);
            }
        }
        for part in self.free() {
            let Some((from, to)) = one_way(part) else {
                continue;
            };
            if self.is_free(part) && self.net.in_series(part) {
                self.series_diode(part, from, to);
            }
        }
    }

    /// Diodes that break through between a net and ground.
    pub(super) fn clamps(&mut self) {
        for part in self.free().into_iter().filter(|p| p.kind == Kind::Zener) {
            let (Some(anode), Some(cathode)) = (part.net("anode"), part.net("cathode")) else {
                continue;
            };
            let held = |net: &usize| {
                self.net.trunk.contains(net)
                    || self.net.driven.contains(net)
                    || self.net.outside.contains(net)
            };
            let net = match (self.net.is_ground(anode), self.net.is_ground(cathode)) {
                (true, false) => Some(cathode),
                (false, true) => Some(anode),
                _ => None,
            };
            if let Some(net) = net.filter(held) {
                let title = format!("Clamp {}", part.name);
                self.claim(BlockKind::Clamp, title, &[part], &[net]);
            }
        }
    }

    /// A diode across the supply, with the fuse that it blows.
    fn shunt(&mut self, part: &'a Part, cathode: usize) {
        let fuses = self
            .net
            .on(cathode)
            .filter(|p| matches!(p.kind, Kind::Fuse | Kind::Ptc));
        let fuse = fuses.into_iter().find(|p| self.is_free(p));
        let mut parts = vec![part];
        parts.extend(fuse);
        let names: Vec<String> = parts.iter().map(|p| p.name.clone()).collect();
        let title = format!("Reverse protection {}", crate::review::words::join(&names));
        self.claim(BlockKind::ReverseProtection, title, &parts, &[cathode]);
    }

    fn series_diode(&mut self, part: &'a Part, anode: usize, cathode: usize) {
        let board = self.net.board;
        let sources: Vec<&Part> = board
            .parts
            .iter()
            .filter(|p| matches!(p.kind, Kind::Cell | Kind::Supply))
            .collect();
        let feeds = |s: &&Part, net: usize, regulators: bool| {
            self.net.reach(s, &part.name, regulators).contains(&net)
        };
        let others = sources.iter().any(|s| feeds(s, cathode, true));
        // Where the holder keeps a reversed cell out, what is left to do is to keep other sources out.
        let turnable = sources
            .iter()
            .any(|s| may_be_turned(s) && feeds(s, anode, false));
        if turnable && !others {
            let title = format!("Reverse protection {}", part.name);
            self.claim(
                BlockKind::ReverseProtection,
                title,
                &[part],
                &[anode, cathode],
            );
            return;
        }
        // Diodes that meet are one block.
        let meet = |p: &&Part| {
            one_way(p).is_some_and(|(_, to)| to == cathode)
                && self.is_free(p)
                && self.net.in_series(p)
        };
        let parts: Vec<&Part> = self.net.on(cathode).filter(meet).collect();
        let names: Vec<String> = parts.iter().map(|p| p.name.clone()).collect();
        let mut nets: Vec<usize> = parts.iter().filter_map(|p| Some(one_way(p)?.0)).collect();
        nets.push(cathode);
        let title = format!("Isolation {}", crate::review::words::join(&names));
        self.claim(BlockKind::Isolation, title, &parts, &nets);
    }

    /// Load switches in the way of the supply, or from it to what the board switches.
    pub(super) fn load_switches(&mut self) {
        for part in self.free() {
            if part.kind == Kind::LoadSwitch {
                let title = format!("Power switch {}", part.name);
                self.claim(BlockKind::PowerSwitch, title, &[part], &pair(part));
            }
        }
    }

    /// Switches and jumpers in the way of the supply, with the resistors that empty what they cut off.
    pub(super) fn switches(&mut self) {
        for part in self.free() {
            if !matches!(part.device, Device::Switch(_)) || !self.net.in_series(part) {
                continue;
            }
            let mut parts = vec![part];
            let mut nets = Vec::new();
            for net in part.pins.iter().filter_map(|p| p.net) {
                if self.net.is_power(net) {
                    if !nets.contains(&net) {
                        nets.push(net);
                    }
                    continue;
                }
                if self.net.control.contains(&net) || self.net.driven.contains(&net) {
                    continue;
                }
                let bleeds = |p: &&Part| {
                    p.kind == Kind::Resistor
                        && self.is_free(p)
                        && pair(p).iter().all(|n| *n == net || self.net.is_ground(*n))
                };
                parts.extend(self.net.on(net).filter(bleeds));
            }
            let title = format!("Power switch {}", part.name);
            self.claim(BlockKind::PowerSwitch, title, &parts, &nets);
        }
    }

    /// Fuses, resistors and inductors that are left in the way of the supply.
    pub(super) fn series(&mut self) {
        for part in self.free() {
            if !self.net.in_series(part) {
                continue;
            }
            let (kind, word) = match part.kind {
                Kind::Resistor if self.smooths(part) => (BlockKind::Filter, "Filter"),
                Kind::Fuse | Kind::Ptc | Kind::Resistor => (BlockKind::Limiter, "Limiter"),
                Kind::Inductor => (BlockKind::Filter, "Filter"),
                _ => continue,
            };
            let title = format!("{word} {}", part.name);
            self.claim(kind, title, &[part], &pair(part));
        }
    }
}

impl Claims<'_, '_> {
    /// Whether a resistor stands between the rail and a load of the board with a capacitor of its own, and
    /// feeds nothing else.
    fn smooths(&self, resistor: &Part) -> bool {
        let nets = pair(resistor);
        let rails = nets.iter().filter(|n| self.net.connector.contains(n));
        let inner = nets.iter().find(|n| !self.net.connector.contains(n));
        let (1, Some(inner)) = (rails.count(), inner) else {
            return false;
        };
        let others = self.net.on(*inner).filter(|p| p.name != resistor.name);
        let kinds: Vec<Kind> = others.map(|p| p.kind).collect();
        let quiet = |k: &Kind| matches!(k, Kind::Capacitor | Kind::Load | Kind::TestPoint);
        [Kind::Capacitor, Kind::Load]
            .iter()
            .all(|k| kinds.contains(k))
            && kinds.iter().all(quiet)
    }
}

/// The nets that a part lies between.
pub(super) fn pair(part: &Part) -> Vec<usize> {
    let first = passes(part).into_iter().next();
    let ends = first.or_else(|| crate::review::anatomy::ends(part));
    ends.map_or_else(Vec::new, |(a, b)| vec![a, b])
}

/// From where to where a diode lets current pass, one made of a transistor too.
fn one_way(part: &Part) -> Option<(usize, usize)> {
    match part.kind {
        Kind::Diode => part.net("anode").zip(part.net("cathode")),
        Kind::IdealDiode => part.net("in").zip(part.net("out")),
        _ => None,
    }
}

/// Whether a part is a cell that its holder takes the wrong way round.
fn may_be_turned(part: &Part) -> bool {
    match &part.device {
        Device::Cell(cell) => matches!(cell.holder.reversed, Reversal::Possible | Reversal::Short),
        _ => false,
    }
}
