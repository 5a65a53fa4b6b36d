//! `hot-plug`: when a live supply is plugged in, does the cable ring with the input capacitors above what
//! something on the input bears?
//!
//! Where the supply does not say how much inductance its cable has, a cable of 1 m is taken (about 1 uH), and
//! what is found is worth a note only.
//!
//! # Formula
//! device/plug.rs: the step of the cable with the capacitors, followed through time.
//!
//! # References
//! Linear Technology application note 88, ceramic input capacitors can cause overvoltage transients (from
//! memory); the step of a series resonant circuit is textbook.

use crate::device::{Capacitor, Plug, PlugBranch, Supply};
use crate::model::{Device, Part};
use crate::numerics::eseries::Series;
use crate::quantity::Unit;
use crate::review::rules::Rule;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

/// Inductance of both conductors of a cable of 1 m (from memory: 0.6 to 1 uH a metre).
const USUAL_CABLE_HENRIES: f64 = 1e-6;
/// Damping ratio that is aimed at: 5 % of overshoot.
const GOOD_DAMPING: f64 = 0.7;
/// A lossy capacitor damps well from this many times the ceramics (common practice).
const DAMPER_FACTOR: f64 = 4.0;

pub(super) struct HotPlug;

impl Rule for HotPlug {
    fn id(&self) -> RuleId {
        "hot-plug"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let parts = e.board.parts.iter();
        let found = parts.filter_map(|part| match &part.device {
            Device::Supply(supply) => look(e, self.id(), part, supply),
            _ => None,
        });
        found.collect()
    }
}

/// What bears least, its name and whether it is a capacitor.
struct Weakest {
    name: String,
    is_part: bool,
    bears_volts: f64,
}

/// What rings above what something bears.
struct Ring<'a> {
    plug: Plug,
    capacitors: Vec<(&'a Part, &'a Capacitor)>,
    weakest: Weakest,
    /// Name and voltage of a clamp that keeps it below.
    clamp: Option<(String, f64)>,
    peak_volts: f64,
}

fn ring<'a>(
    e: &Evidence<'a>,
    (plus, supply, henries): (usize, &Supply, f64),
    nets: &[bool],
) -> Option<Ring<'a>> {
    let volts = supply.open_circuit.high();
    let ways = e.ways_from(plus, nets);
    let to = |part: &Part| {
        let mut pins = part.pins.iter().filter_map(|p| p.net);
        let net = pins.find(|net| nets[*net])?;
        ways[net]
    };
    let mut capacitors = e.capacitors_on(nets);
    let reached = capacitors.iter().filter_map(|(part, _)| to(part));
    let near = reached.min_by(|a, b| a.ohms.total_cmp(&b.ohms))?;
    let henries = henries + near.henries;
    // What an inductance larger than that of the cable keeps apart does not ring with it.
    capacitors.retain(|(part, _)| to(part).is_some_and(|w| w.henries - near.henries < henries));
    let branches = capacitors.iter().map(|(part, c)| PlugBranch {
        farads: c.farads_at(volts),
        ohms: c.series_ohms() + to(part).map_or(0.0, |w| w.ohms - near.ohms),
    });
    let plug = Plug {
        volts,
        henries,
        ohms: supply.resistance.si() + near.ohms,
        branches: branches.collect(),
    };
    let weakest = weakest(e, nets, volts)?;
    let peak_volts = plug.peak_volts();
    let clamp = clamp(e, nets, &plug, weakest.bears_volts);
    (weakest.bears_volts < peak_volts).then_some(Ring {
        plug,
        capacitors,
        weakest,
        clamp,
        peak_volts,
    })
}

/// A Zener diode on the nets that keeps the current of the ringing below a voltage.
fn clamp(e: &Evidence, nets: &[bool], plug: &Plug, below_volts: f64) -> Option<(String, f64)> {
    let ground = e.grounds();
    let amps = plug.volts / plug.impedance_ohms();
    let parts = e.board.parts.iter();
    let clamps = parts.filter_map(|part| match &part.device {
        Device::Zener(zener) if nets[part.net("cathode")?] && ground[part.net("anode")?] => {
            let spread = zener.breakdown.high() - zener.breakdown.si();
            Some((part.name.clone(), zener.reverse().volts(amps) + spread))
        }
        _ => None,
    });
    let mut clamps = clamps.filter(|c| c.1 < below_volts);
    clamps.next()
}

fn look(e: &Evidence, rule: RuleId, part: &Part, supply: &Supply) -> Option<Finding> {
    let stated = supply.cable.map(|l| l.as_henries());
    let henries = stated.unwrap_or(USUAL_CABLE_HENRIES);
    let plus = part.net("plus")?;
    // A load switch may come on after the ringing: with and without what is behind it.
    let at_once = |p: &Part| !matches!(p.device, Device::LoadSwitch(_));
    let each = [e.fed_through(plus, &at_once), e.fed_from(plus)];
    let rings = each
        .iter()
        .filter_map(|nets| ring(e, (plus, supply, henries), nets));
    let over = |r: &Ring| r.peak_volts / r.weakest.bears_volts;
    let Ring {
        plug,
        capacitors,
        weakest,
        clamp,
        peak_volts: peak,
    } = rings.max_by(|a, b| over(a).total_cmp(&over(b)))?;
    let (severity, whose) = match (stated, &clamp) {
        (Some(_), None) => (Severity::Fix, "its cable"),
        (Some(_), Some(_)) => (Severity::Note, "its cable"),
        (None, _) => (Severity::Note, "a cable of 1 m (from memory)"),
    };
    let (volts, ringing) = (plug.volts, plug.ringing());
    let clamped = clamp.map_or(String::new(), |(name, at)| {
        format!(
            "; {name} clamps at about {}, which is less",
            words::volts(at)
        )
    });
    // The capacitor that rings is to blame, and can be damped: much of it, with little resistance.
    let rings = |c: &Capacitor| c.value.si() / c.series_ohms();
    let largest = capacitors
        .iter()
        .max_by(|a, b| rings(a.1).total_cmp(&rings(b.1)));
    let largest = largest.map(|(part, _)| part.name.as_str());
    let mut parts: Vec<&str> = largest.into_iter().chain([part.name.as_str()]).collect();
    if weakest.is_part && !parts.contains(&weakest.name.as_str()) {
        parts.push(&weakest.name);
    }
    Some(Finding {
        measured: Some(Figure::new(peak, Unit::Volt)),
        limit: Some(Figure::new(weakest.bears_volts, Unit::Volt)),
        says: format!(
            "Plugged in while {} is live at {}, {} of {whose} ring with the {} behind it (damping ratio {:.2}) up to {}; \
             {} bears {}{clamped}.",
            part.name,
            words::volts(volts),
            words::figure(henries, Unit::Henry),
            words::farads(ringing.farads()),
            ringing.damping(),
            words::volts(peak),
            weakest.name,
            words::volts(weakest.bears_volts)
        ),
        remedy: remedy(&ringing, &weakest),
        basis:
            "Linear Technology application note 88 (from memory); step of a series resonant circuit"
                .to_owned(),
        ..e.finding(rule, severity, &parts)
    })
}

fn remedy(plug: &Plug, weakest: &Weakest) -> String {
    let damper = Series::E6.at_least(DAMPER_FACTOR * plug.farads());
    format!(
        "beside the ceramics fit an electrolytic of at least {} with about {} of series resistance, or {} in series with \
         the input, or a clamping diode that keeps it below {}",
        words::farads(damper),
        words::ohms(plug.impedance_ohms()),
        words::ohms(plug.ohms_for(GOOD_DAMPING)),
        words::volts(weakest.bears_volts)
    )
}

/// What on the fed nets bears the least voltage above that of the supply itself.
fn weakest(e: &Evidence, nets: &[bool], volts: f64) -> Option<Weakest> {
    let mut found: Vec<Weakest> = Vec::new();
    let capacitors = e.capacitors_on(nets).into_iter();
    for (part, capacitor) in capacitors {
        if let Some(rated) = capacitor.rated {
            found.push(weak(&part.name, true, rated.as_volts()));
        }
    }
    for part in &e.board.parts {
        let on = |pin: &str| part.net(pin).is_some_and(|net| nets[net]);
        let survives = match &part.device {
            Device::Regulator(u) if on("in") => u.survives,
            Device::LoadSwitch(s) if on("in") => s.survives,
            Device::Detector(d) if on("in") => d.survives,
            Device::IdealDiode(d) if on("in") || on("out") => d.survives,
            _ => None,
        };
        if let Some(survives) = survives {
            found.push(weak(&part.name, true, survives.as_volts()));
        }
    }
    for load in e.family.loads_of(e.board) {
        let net = e.board.nets.iter().position(|n| *n == load.plus);
        let fed = net.is_some_and(|net| nets[net]);
        if let (Some(survives), true) = (load.survives, fed) {
            found.push(weak(&load.name, false, survives.as_volts()));
        }
    }
    // What does not even bear the supply at rest is said by `over-voltage` and `capacitor-rating`.
    found.retain(|w| volts <= w.bears_volts);
    found
        .into_iter()
        .min_by(|a, b| a.bears_volts.total_cmp(&b.bears_volts))
}

fn weak(name: &str, is_part: bool, bears_volts: f64) -> Weakest {
    Weakest {
        name: name.to_owned(),
        is_part,
        bears_volts,
    }
}
