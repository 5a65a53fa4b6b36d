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

use crate::device::{Plug, PlugBranch, Supply};
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

fn look(e: &Evidence, rule: RuleId, part: &Part, supply: &Supply) -> Option<Finding> {
    let stated = supply.cable.map(|l| l.as_henries());
    let henries = stated.unwrap_or(USUAL_CABLE_HENRIES);
    let nets = e.fed_from(part.net("plus")?);
    let volts = supply.open_circuit.high();
    let capacitors = e.capacitors_on(&nets);
    let branches = capacitors.iter().map(|(_, c)| PlugBranch {
        farads: c.farads_at(volts),
        ohms: c.series_ohms(),
    });
    let plug = Plug {
        volts,
        henries,
        ohms: supply.resistance.si(),
        branches: branches.collect(),
    };
    if plug.branches.is_empty() {
        return None;
    }
    let weakest = weakest(e, &nets, volts)?;
    let peak = plug.peak_volts();
    if peak <= weakest.bears_volts {
        return None;
    }
    let (severity, whose) = match stated {
        Some(_) => (Severity::Fix, "its cable"),
        None => (Severity::Note, "a cable of 1 m (from memory)"),
    };
    // The capacitor that rings is to blame, and can be damped.
    let largest = capacitors
        .iter()
        .max_by(|a, b| a.1.value.si().total_cmp(&b.1.value.si()));
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
             {} bears {}.",
            part.name,
            words::volts(volts),
            words::figure(henries, Unit::Henry),
            words::farads(plug.farads()),
            plug.damping(),
            words::volts(peak),
            weakest.name,
            words::volts(weakest.bears_volts)
        ),
        remedy: remedy(&plug, &weakest),
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
        let fed = part.net("in").is_some_and(|net| nets[net]);
        if let (Device::Regulator(u), true) = (&part.device, fed)
            && let Some(survives) = u.survives
        {
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
