//! `ripple`: is the ripple of a converter's output, at full and at light load, below what its loads bear, and
//! is there a capacitor at all?
//!
//! # Formula
//! Full load as TI SLVA372 eq. 12 and 13, SLVA477B eq. 12 and 13; light load as one pulse of the ripple
//! current from empty: device/power_stage.rs. Capacitance is what is left under bias.
//!
//! # References
//! TI SLVA372, SLVA477B. Class-2 capacitors keep 60 % where no curve is given (TI SLVA535B: 37 %).

use crate::circuit::Mode;
use crate::device::{OutputCapacitor, PowerStage, Topology};
use crate::model::Device;
use crate::numerics::eseries::Series;
use crate::quantity::Unit;
use crate::review::evidence::power::{Working, inductor, together};
use crate::review::rules::Rule;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

/// Share of the output that full load may ripple by before the capacitor is worth a note (common
/// practice: data sheets size for 10 mV to 1 %).
const USUAL_SHARE: f64 = 0.01;

const UNSTABLE: &str = "most linear regulators are not stable without one";
const PULSES: &str =
    "the current of its inductor flows in pulses and has nowhere to go between them";

pub(super) struct Ripple;

impl Rule for Ripple {
    fn id(&self) -> RuleId {
        "ripple"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let (depth, _) = e.promised_depth();
        let low = e.lowest_supplies();
        let ambient = e.family.requirement.ambient.usual;
        let point = e.point_in(&low, &e.heaviest(depth, ambient));
        let fresh = e.point(&e.heaviest(0.0, ambient));
        let highest = e.highest_inputs();
        let points = fresh.as_deref().into_iter().chain(point.as_ref());
        let points = points.chain(highest.iter().map(|h| &h.1));
        let all: Vec<Working> = points.flat_map(|p| e.working(p)).collect();
        let mut found = bare(e, self.id());
        for part in &e.board.parts {
            let of_it = all.iter().filter(|w| w.part.name == part.name);
            let of_it: Vec<&Working> = of_it.collect();
            found.extend(look(e, self.id(), &of_it));
        }
        found
    }
}

/// Converters without a capacitor at their output.
fn bare(e: &Evidence, rule: RuleId) -> Vec<Finding> {
    let mut out = Vec::new();
    for part in &e.board.parts {
        let Device::Regulator(device) = &part.device else {
            continue;
        };
        let Some(net) = part.net("out") else {
            continue;
        };
        if !e.capacitors_on(&e.joined_to(net)).is_empty() {
            continue;
        }
        // A converter without an inductor of its own may be a module that has all of it inside.
        let is_whole = device.topology != Topology::Linear && inductor(e.board, part).is_some();
        let (severity, says) = match (device.topology, is_whole) {
            (Topology::Linear, _) => (Severity::Note, UNSTABLE),
            (_, false) => (Severity::Note, PULSES),
            (_, true) => (Severity::Fix, PULSES),
        };
        out.push(Finding {
            aspect: "no-capacitor",
            nets: vec![e.net_name(net)],
            says: format!("No capacitor stands at the output of {}: {says}.", part.name),
            remedy: "fit the output capacitor that the data sheet asks for, a ceramic of some 10 uF is usual".to_owned(),
            basis: "TI SLVA372, SLVA477B: output capacitor selection".to_owned(),
            ..e.finding(rule, severity, &[&part.name])
        });
    }
    out
}

/// One converter, fresh, tired and at its highest input.
fn look(e: &Evidence, rule: RuleId, each: &[&Working]) -> Option<Finding> {
    let fresh = each.first()?;
    if fresh.device.topology == Topology::Linear {
        return None;
    }
    let nets = e.joined_to(fresh.part.net("out")?);
    let capacitors = e.capacitors_on(&nets);
    if capacitors.is_empty() {
        return None;
    }
    let at = |w: &Working| Some((w.stage()?, w.out_amps, together(&capacitors, w.out_volts)));
    let running = each.iter().filter(|w| w.mode == Mode::Run);
    let all: Vec<(PowerStage, f64, OutputCapacitor)> = running.filter_map(|w| at(w)).collect();
    let rippled = all.iter().flat_map(|(stage, amps, capacitor)| {
        let full = stage.output_ripple_volts(*amps, *capacitor);
        let light = stage.pulse_ripple_volts(*capacitor);
        [
            (full, "full load", stage, capacitor.farads),
            (light, "light load", stage, capacitor.farads),
        ]
    });
    let (volts, when, stage, farads) = rippled.max_by(|a, b| a.0.total_cmp(&b.0))?;
    let names: Vec<&str> = capacitors.iter().map(|c| c.0.name.as_str()).collect();
    let nominal: f64 = capacitors.iter().map(|c| c.1.value.si()).sum();
    let strict = limit(e, &nets);
    if let Some((load, limit)) = strict.filter(|(_, limit)| *limit < volts) {
        let parts: Vec<&str> = [names[0], fresh.part.name.as_str()]
            .into_iter()
            .chain(names[1..].iter().copied())
            .collect();
        let wanted = Series::E6.at_least(nominal * volts / limit);
        return Some(Finding {
            measured: Some(Figure::new(volts, Unit::Volt)),
            limit: Some(Figure::new(limit, Unit::Volt)),
            says: format!(
                "The output of {} ripples by {} at {when} ({} in, {} out, {} left under bias); {load} bears {}.",
                fresh.part.name,
                words::volts(volts),
                words::volts(stage.in_volts),
                words::volts(stage.out_volts),
                words::farads(farads),
                words::volts(limit)
            ),
            remedy: format!(
                "fit {} of the same kind at the output where the converter allows it, or a filter before the load",
                words::farads(wanted)
            ),
            basis: "TI SLVA372 eq. 12 and 13, SLVA477B eq. 12 and 13; ripple limit of the load"
                .to_owned(),
            ..e.finding(rule, Severity::Fix, &parts)
        });
    }
    small(e, rule, fresh, &all, &names)
}

/// A capacitor below what keeps full load to 1 %.
fn small(
    e: &Evidence,
    rule: RuleId,
    fresh: &Working,
    all: &[(PowerStage, f64, OutputCapacitor)],
    names: &[&str],
) -> Option<Finding> {
    let short = all.iter().map(|(stage, amps, capacitor)| {
        let least = stage.least_farads(*amps, USUAL_SHARE * stage.out_volts);
        (least / capacitor.farads, least, capacitor.farads)
    });
    let (ratio, least, farads) = short.max_by(|a, b| a.0.total_cmp(&b.0))?;
    (1.0 < ratio).then(|| Finding {
        aspect: "small-capacitor",
        measured: Some(Figure::new(farads, Unit::Farad)),
        limit: Some(Figure::new(least, Unit::Farad)),
        says: format!(
            "{} left under bias at the output of {} are less than the {} that keep the ripple at full load to 1 %.",
            words::farads(farads),
            fresh.part.name,
            words::farads(least)
        ),
        remedy: format!("fit at least {} that are left under bias", words::farads(Series::E6.at_least(least))),
        basis: "TI SLVA372 eq. 12, SLVA477B eq. 12; 1 % is common practice".to_owned(),
        ..e.finding(rule, Severity::Note, names)
    })
}

/// The load on the output that bears the least ripple.
fn limit(e: &Evidence, nets: &[bool]) -> Option<(String, f64)> {
    let on = |name: &str| {
        let net = e.board.nets.iter().position(|n| n == name);
        net.is_some_and(|net| nets[net])
    };
    let loads = e.family.loads_of(e.board).into_iter();
    let stated = loads.filter(|l| on(&l.plus));
    let stated = stated.filter_map(|l| Some((l.name.clone(), l.ripple?.as_volts())));
    stated.min_by(|a, b| a.1.total_cmp(&b.1))
}
