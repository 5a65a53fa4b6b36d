//! What hangs beside the way of the supply: lamps, and what gives gates and enable pins their level.

use crate::model::{Device, Kind, Part};
use crate::review::blocks::BlockKind;
use crate::review::blocks::claims::Claims;
use crate::review::blocks::nets::passes;
use crate::review::words;

/// What a walk through side nets has gathered.
struct Side<'a> {
    parts: Vec<&'a Part>,
    nets: Vec<usize>,
}

impl<'a> Claims<'_, 'a> {
    /// Each light-emitting diode with what carries its current only.
    pub(super) fn indicators(&mut self) {
        for led in self.free().into_iter().filter(|p| p.kind == Kind::Led) {
            if !self.is_free(led) {
                continue;
            }
            let mut side = Side {
                parts: vec![led],
                nets: Vec::new(),
            };
            let from = [led.net("anode"), led.net("cathode")];
            self.walk(&mut side, from.into_iter().flatten().collect());
            let lamps: Vec<String> = side
                .parts
                .iter()
                .filter(|p| p.kind == Kind::Led)
                .map(|p| p.name.clone())
                .collect();
            let title = format!("Indicator {}", words::join(&lamps));
            let nets = self.supplied_by(&side.parts);
            self.claim(BlockKind::Indicator, title, &side.parts, &nets);
        }
    }

    /// What gives each gate and enable pin its level.
    pub(super) fn controls(&mut self) {
        let nets: Vec<usize> = self.net.control.iter().copied().collect();
        for net in nets {
            let mut side = Side {
                parts: Vec::new(),
                nets: Vec::new(),
            };
            self.walk(&mut side, vec![net]);
            let mut pins = Vec::new();
            for net in &side.nets {
                for part in self.net.on(*net) {
                    for pin in part.pins.iter().filter(|p| p.net == Some(*net)) {
                        if matches!(pin.name.as_str(), "gate" | "enable")
                            && !side.parts.iter().any(|p| p.name == part.name)
                        {
                            pins.push(format!("{}.{}", part.name, pin.name));
                        }
                    }
                }
            }
            if pins.is_empty() {
                continue;
            }
            let title = format!("Control of {}", words::join(&pins));
            self.claim(BlockKind::EnableControl, title, &side.parts, &[net]);
        }
    }

    /// Gathers free parts from net to net until the supply or ground is met.
    fn walk(&self, side: &mut Side<'a>, mut open: Vec<usize>) {
        while let Some(net) = open.pop() {
            if side.nets.contains(&net) || self.net.is_power(net) {
                continue;
            }
            side.nets.push(net);
            for part in self.net.on(net) {
                let known = side.parts.iter().any(|p| p.name == part.name);
                if known || !self.is_free(part) || !self.joins(part, net) {
                    continue;
                }
                side.parts.push(part);
                open.extend(
                    passes(part)
                        .into_iter()
                        .flat_map(|(a, b)| [a, b])
                        .filter(|n| !self.net.driven.contains(n)),
                );
                if part.kind == Kind::Led {
                    open.extend(
                        [part.net("anode"), part.net("cathode")]
                            .into_iter()
                            .flatten(),
                    );
                }
                open.extend(part.net("gate"));
            }
        }
    }

    /// Whether a part on a side net belongs to what the net is for.
    fn joins(&self, part: &Part, net: usize) -> bool {
        match &part.device {
            Device::Resistor(_)
            | Device::Capacitor(_)
            | Device::Diode(_)
            | Device::Zener(_)
            | Device::Led(_) => true,
            // A switch of the supply with one more pole stays a switch of the supply.
            Device::Switch(_) => !self.net.in_series(part),
            Device::Fet(_) => part.net("gate") != Some(net) && !self.net.in_series(part),
            _ => false,
        }
    }

    /// Nets of the supply that parts hang on, ground left out.
    fn supplied_by(&self, parts: &[&Part]) -> Vec<usize> {
        let mut out = Vec::new();
        for net in parts.iter().flat_map(|p| &p.pins).filter_map(|p| p.net) {
            if self.net.trunk.contains(&net) && !out.contains(&net) {
                out.push(net);
            }
        }
        out
    }
}
