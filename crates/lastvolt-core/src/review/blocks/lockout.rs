//! Voltage detectors: what they watch, what they switch, and what sets their thresholds.

use crate::device::{Channel, Detector, OutputStage};
use crate::model::{Device, Kind, Part};
use crate::quantity::Unit;
use crate::review::blocks::claims::Claims;
use crate::review::blocks::figures::{Moments, REST, figure};
use crate::review::blocks::path::pair;
use crate::review::blocks::{Block, BlockFigure, BlockKind};
use crate::review::{anatomy, words};

/// What a low output of a detector brings about.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum Effect {
    SwitchesOff(String),
    SwitchesOn(String),
    Lights(String),
}

impl Claims<'_, '_> {
    /// Each detector with its divider, and with the pull-up and the capacitor of its output.
    pub(super) fn detectors(&mut self) {
        for part in self.free() {
            if part.kind != Kind::Detector {
                continue;
            }
            let mut parts = vec![part];
            let nets: Vec<usize> = ["in", "out"].iter().filter_map(|p| part.net(p)).collect();
            for net in nets.iter().filter(|n| !self.net.is_power(**n)) {
                let beside = |p: &&Part| {
                    let passive = matches!(p.kind, Kind::Resistor | Kind::Capacitor);
                    let far = pair(p).into_iter().find(|n| n != net);
                    passive && self.is_free(p) && far.is_some_and(|n| self.net.is_power(n))
                };
                parts.extend(self.net.on(*net).filter(beside));
            }
            let effects = effects(self.net.board.parts.iter(), part);
            let switches = effects.iter().any(|e| !matches!(e, Effect::Lights(_)));
            let (kind, word) = if switches {
                (BlockKind::Lockout, "Lockout")
            } else {
                (BlockKind::Measurement, "Voltage signal")
            };
            let title = format!("{word} {}", part.name);
            self.claim(kind, title, &parts, &nets);
        }
    }
}

/// What happens while the output of a detector is low: on its net, and one resistor further.
fn effects<'a>(parts: impl Iterator<Item = &'a Part> + Clone, detector: &Part) -> Vec<Effect> {
    let Some(out) = detector.net("out") else {
        return Vec::new();
    };
    let mut nets = vec![out];
    let resistors = parts.clone().filter(|p| p.kind == Kind::Resistor);
    for nets_of in resistors.map(pair).filter(|n| n.contains(&out)) {
        nets.extend(nets_of.into_iter().filter(|n| *n != out));
    }
    let on = |part: &Part, pin: &str| part.net(pin).is_some_and(|n| nets.contains(&n));
    let mut found: Vec<Effect> = parts
        .filter_map(|p| match &p.device {
            Device::Fet(fet) if on(p, "gate") => Some(match fet.channel {
                Channel::P => Effect::SwitchesOn(p.name.clone()),
                Channel::N => Effect::SwitchesOff(p.name.clone()),
            }),
            Device::Regulator(_) | Device::LoadSwitch(_)
                if on(p, "enable") && anatomy::enable_of(p).is_some() =>
            {
                // An enable pin on the supply itself follows nothing.
                (p.net("enable") != p.net("in")).then(|| Effect::SwitchesOff(p.name.clone()))
            }
            Device::Led(_) if on(p, "cathode") => Some(Effect::Lights(p.name.clone())),
            _ => None,
        })
        .collect();
    found.sort();
    found
}

fn effect_words(effects: &[Effect]) -> Vec<String> {
    let each = effects.iter().map(|e| match e {
        Effect::SwitchesOff(name) => format!("switches {name} off"),
        Effect::SwitchesOn(name) => format!("switches {name} on"),
        Effect::Lights(name) => format!("lights {name}"),
    });
    each.collect()
}

impl<'a> Moments<'_, 'a> {
    fn detector(&self, block: &Block) -> Option<(&'a Part, &'a Detector)> {
        let part = self.first(block, &[Kind::Detector])?;
        match &part.device {
            Device::Detector(d) => Some((part, d)),
            _ => None,
        }
    }

    /// What the voltage above the divider of a detector is for each volt at its input, and the net there.
    fn watched(&self, block: &Block, part: &Part) -> Option<(f64, String)> {
        let input = part.net("in")?;
        let ground = self.e.family.connector.ground_net();
        let mut ohms = [None, None];
        let mut top = None;
        for resistor in self.parts(block) {
            let nets = pair(resistor);
            let (Some(value), true) = (anatomy::resistance(resistor), nets.contains(&input)) else {
                continue;
            };
            let far = nets.into_iter().find(|n| *n != input)?;
            // A pull-up of the output from the watched net itself divides nothing.
            if part.net("out") == Some(far) {
                continue;
            }
            let far = self.e.net_name(far);
            if far == ground {
                ohms[1] = Some(value);
            } else {
                ohms[0] = Some(value);
                top = Some(far);
            }
        }
        match (ohms, top) {
            ([Some(upper), Some(lower)], Some(top)) => Some((1.0 + upper / lower, top)),
            ([Some(_), None], Some(top)) => Some((1.0, top)),
            _ => Some((1.0, self.e.net_name(input))),
        }
    }

    /// The pull-up of an open-drain output.
    fn pull_up(&self, block: &Block, part: &Part) -> Option<&'a Part> {
        let out = part.net("out")?;
        let ground = self.e.family.connector.ground_net();
        self.parts(block).find(|p| {
            let nets = pair(p);
            p.kind == Kind::Resistor
                && nets.contains(&out)
                && nets.iter().all(|n| self.e.net_name(*n) != ground)
        })
    }

    /// Thresholds as they are seen where the board is watched, and what watching costs.
    pub(super) fn lockout(&self, block: &Block) -> Vec<BlockFigure> {
        let Some((part, d)) = self.detector(block) else {
            return Vec::new();
        };
        let Some((scale, net)) = self.watched(block, part) else {
            return Vec::new();
        };
        let typical = "typical values";
        let (low, high) = (scale * d.threshold.si(), scale * d.release_volts());
        let falling = format!("{net} at which it pulls low, falling");
        let rising = format!("{net} at which it lets go, rising");
        let mut out = vec![
            figure(&falling, low, Unit::Volt, typical),
            figure(&rising, high, Unit::Volt, typical),
            figure("hysteresis", high - low, Unit::Volt, typical),
        ];
        for (moment, when) in self.each() {
            let volts = moment.point.net(&net);
            out.extend(volts.map(|v| figure(&format!("voltage of {net}"), v, Unit::Volt, when)));
        }
        let label = format!("own current of {}", part.name);
        out.push(figure(&label, d.quiescent.si(), Unit::Ampere, typical));
        for resistor in self.parts(block).filter(|p| p.kind == Kind::Resistor) {
            let rest = self.rest.as_ref();
            if let Some(p) = rest.and_then(|m| m.point.part(&resistor.name)) {
                let label = format!("current of {}", resistor.name);
                out.push(figure(&label, p.amps.abs(), Unit::Ampere, REST));
            }
        }
        if let Some(resistor) = self.pull_up(block, part)
            && let Some(ohms) = anatomy::resistance(resistor)
        {
            let label = format!("current of {}", resistor.name);
            let when = "just below the threshold";
            out.push(figure(&label, low / ohms, Unit::Ampere, when));
        }
        out
    }
}

/// What a detector watches and what it does about it.
pub(super) fn purpose(m: &Moments, block: &Block) -> Option<String> {
    let (part, d) = m.detector(block)?;
    let (scale, net) = m.watched(block, part)?;
    let output = m.e.net_name(part.net("out")?);
    let does = effect_words(&effects(m.e.board.parts.iter(), part));
    let does = if does.is_empty() {
        String::new()
    } else {
        format!(", which {}", words::join(&does))
    };
    let pull = m.pull_up(block, part);
    let back = match (d.output, pull) {
        (OutputStage::PushPull, _) => format!("it drives {output} high"),
        (OutputStage::OpenDrain, Some(pull)) => format!("{} lifts {output} again", pull.name),
        (OutputStage::OpenDrain, None) => format!("it lets {output} go"),
    };
    Some(format!(
        "{} watches {net}. Below {} it pulls {output} low{does}; from {} up {back}.",
        part.name,
        words::volts(scale * d.threshold.si()),
        words::volts(scale * d.release_volts()),
    ))
}
