//! The netlist as the recogniser walks it: ground, the nets that current passes on its way from a
//! source to a rail, and who is on which net.

use std::collections::BTreeSet;

use crate::device::Blocking;
use crate::model::{Board, Device, Kind, Part};
use crate::review::Evidence;
use crate::review::anatomy::{Role, control_pins, ends};

/// What is known of the nets of a board.
pub(super) struct Nets<'a> {
    /// The board.
    pub(super) board: &'a Board,
    /// Place of the ground net.
    pub(super) ground: Option<usize>,
    /// Nets of the way from a source to a rail, ground left out.
    pub(super) trunk: BTreeSet<usize>,
    /// Nets on the minus side of a source that is not on ground.
    pub(super) minus: BTreeSet<usize>,
    /// Nets of gates and enable pins that are not on the way themselves.
    pub(super) control: BTreeSet<usize>,
    /// Nets that a load drives, or that are pins of the connector without being a rail.
    pub(super) driven: BTreeSet<usize>,
    /// Nets on the connector.
    pub(super) connector: BTreeSet<usize>,
    /// Nets on the connector or at a load.
    pub(super) outside: BTreeSet<usize>,
}

/// Pairs of nets between which a part can let a current pass.
pub(super) fn passes(part: &Part) -> Vec<(usize, usize)> {
    let named = |a: &str, b: &str| part.net(a).zip(part.net(b)).into_iter().collect();
    match &part.device {
        Device::Resistor(_) | Device::Inductor(_) | Device::Fuse(_) | Device::Ptc(_) => {
            ends(part).into_iter().collect()
        }
        Device::Diode(_) | Device::Zener(_) => named("anode", "cathode"),
        Device::LoadSwitch(_) | Device::IdealDiode(_) => named("in", "out"),
        Device::Fet(_) => named("drain", "source"),
        Device::Switch(switch) => {
            let closed = switch.positions.iter().flat_map(|p| &p.closed);
            let nets =
                closed.filter_map(|&(a, b)| Some((part.pins.get(a)?.net?, part.pins.get(b)?.net?)));
            let mut nets: Vec<_> = nets.collect();
            nets.sort_unstable();
            nets.dedup();
            nets
        }
        _ => Vec::new(),
    }
}

/// Whether a part lets current pass in the order of its pair only.
fn one_way(part: &Part) -> bool {
    match &part.device {
        Device::LoadSwitch(s) => s.reverse_blocking == Blocking::Always,
        _ => matches!(part.kind, Kind::Diode | Kind::Zener | Kind::IdealDiode),
    }
}

impl<'a> Nets<'a> {
    pub(super) fn new(e: &Evidence<'a>) -> Self {
        let board = e.board;
        let place = |name: &str| board.nets.iter().position(|n| n == name);
        let connector = &e.family.connector;
        let loads = e.family.loads_of(board);
        let rails: BTreeSet<usize> = connector
            .promises
            .iter()
            .map(|p| p.pin.as_str())
            .chain(connector.rail())
            .chain(loads.iter().map(|l| l.plus.as_str()))
            .filter_map(place)
            .collect();
        let ground = place(connector.ground_net());
        let signals = loads.iter().flat_map(|l| &l.drives);
        let signals = signals.map(|d| d.net.as_str());
        let pins = connector.pins.iter().map(String::as_str);
        let driven = signals.chain(pins).filter_map(place);
        let mut out = Self {
            board,
            ground,
            trunk: BTreeSet::new(),
            minus: BTreeSet::new(),
            control: BTreeSet::new(),
            driven: driven
                .filter(|n| !rails.contains(n) && Some(*n) != ground)
                .collect(),
            connector: connector.pins.iter().filter_map(|p| place(p)).collect(),
            outside: connector
                .pins
                .iter()
                .map(String::as_str)
                .chain(loads.iter().flat_map(|l| [l.plus.as_str(), &l.minus]))
                .filter_map(place)
                .collect(),
        };
        let mut ends = out.power_pins();
        ends.extend(rails);
        out.control = control_pins(board)
            .iter()
            .filter(|c| c.role != Role::Feedback)
            .filter_map(|c| c.pin.net)
            .filter(|n| !ends.contains(n) && Some(*n) != ground)
            .collect();
        out.trunk = out.between(&ends);
        out
    }

    /// Nets of sources and of the inputs and outputs of regulators and of the switches and diodes made of
    /// transistors, ground left out.
    fn power_pins(&mut self) -> BTreeSet<usize> {
        let mut out = BTreeSet::new();
        for part in &self.board.parts {
            let pins: &[&str] = match part.device {
                Device::Cell(_) | Device::Supply(_) => &["plus", "minus"],
                Device::Regulator(_) | Device::LoadSwitch(_) | Device::IdealDiode(_) => {
                    &["in", "out"]
                }
                Device::Load(_) => &["plus"],
                _ => continue,
            };
            for pin in pins {
                let Some(net) = part.net(pin).filter(|n| Some(*n) != self.ground) else {
                    continue;
                };
                out.insert(net);
                if *pin == "minus" {
                    self.minus.insert(net);
                }
            }
        }
        out
    }

    /// The nets that lie between two of these, these included: whatever ends nowhere is left out.
    fn between(&self, ends: &BTreeSet<usize>) -> BTreeSet<usize> {
        let inside = self.inside_regulators();
        let stays = |n: &usize| {
            Some(*n) != self.ground
                && !self.control.contains(n)
                && (ends.contains(n) || !inside.contains(n))
        };
        let mut kept: BTreeSet<usize> = (0..self.board.nets.len()).filter(stays).collect();
        let pairs: Vec<(usize, usize)> = self.board.parts.iter().flat_map(passes).collect();
        loop {
            let neighbours = |net: usize| {
                let other = pairs.iter().filter_map(move |&(a, b)| match net {
                    n if n == a => Some(b),
                    n if n == b => Some(a),
                    _ => None,
                });
                other
                    .filter(|o| *o != net && kept.contains(o))
                    .collect::<BTreeSet<usize>>()
            };
            let leaves: Vec<usize> = kept
                .iter()
                .copied()
                .filter(|n| !ends.contains(n) && neighbours(*n).len() < 2)
                .collect();
            if leaves.is_empty() {
                return kept;
            }
            for leaf in leaves {
                kept.remove(&leaf);
            }
        }
    }

    /// Switching nodes and feedback nets.
    fn inside_regulators(&self) -> BTreeSet<usize> {
        let regulators = self.board.parts.iter();
        let regulators = regulators.filter(|p| matches!(p.device, Device::Regulator(_)));
        regulators
            .flat_map(|p| ["sw", "sw1", "sw2", "fb"].map(|pin| p.net(pin)))
            .flatten()
            .collect()
    }

    pub(super) fn is_ground(&self, net: usize) -> bool {
        self.ground == Some(net)
    }

    /// Whether a net carries the supply: on the way, or ground.
    pub(super) fn is_power(&self, net: usize) -> bool {
        self.is_ground(net) || self.trunk.contains(&net)
    }

    /// Whether a part lies in the way of the supply.
    pub(super) fn in_series(&self, part: &Part) -> bool {
        passes(part).iter().any(|&(a, b)| self.is_way(a, b))
    }

    /// Whether a current between two nets is the supply's: both on the way, or ground and the minus of
    /// a source.
    pub(super) fn is_way(&self, a: usize, b: usize) -> bool {
        let returns = |x: usize, y: usize| self.is_ground(x) && self.minus.contains(&y);
        a != b
            && (self.trunk.contains(&a) && self.trunk.contains(&b)
                || returns(a, b)
                || returns(b, a))
    }

    /// The parts on a net.
    pub(super) fn on(&self, net: usize) -> impl Iterator<Item = &'a Part> {
        let parts = self.board.parts.iter();
        parts.filter(move |p| p.pins.iter().any(|pin| pin.net == Some(net)))
    }

    /// Whether more than one pin is on a net, or the connector or a load is.
    pub(super) fn leads_somewhere(&self, net: usize) -> bool {
        let pins = self.board.parts.iter().flat_map(|p| &p.pins);
        1 < pins.filter(|p| p.net == Some(net)).count() || self.outside.contains(&net)
    }

    pub(super) fn name(&self, net: usize) -> String {
        self.board.nets.get(net).cloned().unwrap_or_default()
    }

    /// Names of the nets that a source reaches: through whatever lets current pass its way, regulators
    /// included, without one part, and without regulators where asked.
    pub(super) fn reach(&self, from: &Part, without: &str, regulators: bool) -> BTreeSet<usize> {
        let mut out: BTreeSet<usize> = from.net("plus").into_iter().collect();
        loop {
            let before = out.len();
            for part in self.board.parts.iter().filter(|p| p.name != without) {
                let mut pairs = passes(part);
                if !one_way(part) {
                    pairs.extend(passes(part).into_iter().map(|(a, b)| (b, a)));
                }
                if regulators && matches!(part.device, Device::Regulator(_)) {
                    pairs.extend(part.net("in").zip(part.net("out")));
                }
                for (a, b) in pairs {
                    if out.contains(&a) && self.trunk.contains(&b) {
                        out.insert(b);
                    }
                }
            }
            if out.len() == before {
                return out;
            }
        }
    }
}
