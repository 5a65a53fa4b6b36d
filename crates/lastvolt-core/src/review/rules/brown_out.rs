//! `brown-out`: does a load fall below its working range in normal use, before the promised life,
//! while the cell still holds the charge for it?
//!
//! With fresh cells, or from mains, every joint load state of the profile is solved at the usual
//! ambient: a load that never works is a stop, unless the life that follows the bursts lasts. Along the
//! life the computed end tells: it counts as a brown-out where the charge would have lasted for the
//! required life and a burst strands it.

use crate::circuit::Situation;
use crate::model::{Device, Part};
use crate::quantity::Unit;
use crate::review::evidence::Shortfall;
use crate::review::rules::Rule;
use crate::review::rules::output_error::Output;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};
use crate::time::{Cause, Life};

pub(super) struct BrownOut;

impl Rule for BrownOut {
    fn id(&self) -> RuleId {
        "brown-out"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        if let Some((situation, short, count)) = fresh(e) {
            if set_wrong(e) {
                return Vec::new();
            }
            return vec![at_once(e, self.id(), situation, &short, count)];
        }
        match stranding(e) {
            Some((life, required)) => vec![stranded(e, self.id(), life, required)],
            None => Vec::new(),
        }
    }
}

/// Whether this rule says why the required life is not reached.
pub(super) fn explains(e: &Evidence) -> bool {
    fresh(e).is_some() || stranding(e).is_some()
}

/// The joint state in which a load lacks most with a fresh source, and how many there are.
///
/// A life that lasts has followed its bursts: what a source cannot carry for long, a capacitor may carry
/// for as long as the burst takes. A board without any source lives from others.
fn fresh(e: &Evidence) -> Option<(Situation, Shortfall, usize)> {
    if !e.has_source() {
        return None;
    }
    if e.life()
        .is_some_and(|l| l.life_secs.is_none_or(|secs| 0.0 < secs))
    {
        return None;
    }
    let usual = e.usual();
    let mut found: Vec<(Situation, Shortfall)> = Vec::new();
    for states in e.joint_states() {
        let situation = Situation {
            states,
            ..usual.clone()
        };
        let Some(point) = e.point(&situation) else {
            continue;
        };
        for short in e.shortfalls(&situation, &point) {
            if !short.awake || short.volts < short.range.from.as_volts() {
                found.push((situation.clone(), short));
            }
        }
    }
    let count = found.len();
    // A load in reset lacks everything.
    let lack = |s: &Shortfall| s.range.from.as_volts() - if s.awake { s.volts } else { 0.0 };
    let worst = found
        .into_iter()
        .max_by(|a, b| lack(&a.1).total_cmp(&lack(&b.1)))?;
    Some((worst.0, worst.1, count))
}

/// The life and the required one, where a burst strands charge that would reach it.
fn stranding<'e>(e: &'e Evidence) -> Option<(&'e Life, f64)> {
    let required = e.family.requirement.life?.as_secs();
    let life = e.life()?;
    let secs = life.life_secs?;
    let by_burst = life.end.cause == Cause::BrownOut && life.end.task.is_some();
    let whole = whole_secs(life);
    (by_burst && secs < required && required <= whole).then_some((life, required))
}

/// How long all the charge that is there at the start would last.
fn whole_secs(life: &Life) -> f64 {
    let start = life.shelf.map_or(0.0, |shelf| shelf.depth);
    let drawn = (life.end.depth - start).max(1e-9);
    life.life_secs.unwrap_or(0.0) * (1.0 - start) / drawn
}

/// Whether a regulator is set so that its load does not work; `output-error` says so.
fn set_wrong(e: &Evidence) -> bool {
    let outputs = e.board.parts.iter().filter_map(|p| Output::of(e, p));
    outputs.into_iter().any(|o| o.is_set_wrong(e))
}

/// The part that takes more than half of the drop in which the life ends, where it is none that gives
/// current itself: that one is to blame, and not the source.
fn culprit(e: &Evidence) -> Option<String> {
    let shares = &e.life()?.end.shares;
    let whole: f64 = shares.iter().map(|(_, volts)| volts.max(0.0)).sum();
    let (name, volts) = shares.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let passive = |part: &Part| {
        matches!(
            part.device,
            Device::Resistor(_)
                | Device::Inductor(_)
                | Device::Diode(_)
                | Device::Fet(_)
                | Device::Fuse(_)
                | Device::Ptc(_)
                | Device::Switch(_)
        )
    };
    let part = e.board.part(name).filter(|part| passive(part))?;
    (0.5 * whole < *volts).then(|| part.name.clone())
}

/// What to blame first, and the source.
fn blamed(e: &Evidence) -> Vec<String> {
    culprit(e).into_iter().chain(e.source_name()).collect()
}

fn at_once(
    e: &Evidence,
    rule: RuleId,
    situation: Situation,
    short: &Shortfall,
    count: usize,
) -> Finding {
    let blamed = blamed(e);
    let blamed: Vec<&str> = blamed.iter().map(String::as_str).collect();
    let from = short.range.from.as_volts();
    let fed = if e.board.has_cell() {
        "fresh cells"
    } else {
        "the supply at its usual voltage"
    };
    let (says, remedy) = if short.awake || short.volts < from {
        (
            format!(
                "With {fed} {} gets {} in state {}; it works from {}.",
                short.load,
                words::volts(short.volts),
                short.state,
                words::volts(from)
            ),
            format!(
                "raise the rail by at least {}, or lower what the path from the source drops",
                words::volts(from - short.volts)
            ),
        )
    } else {
        let amps = e.state_amps(&short.load, &short.state, from);
        (
            format!(
                "With {fed} {} falls into reset in state {}: the source does not carry its {} at {}.",
                short.load,
                short.state,
                words::amps(amps),
                words::volts(from)
            ),
            "lower the burst, or take a source and a path with less resistance".to_owned(),
        )
    };
    Finding {
        aspect: "at-once",
        situation: Some(situation),
        situations: count,
        measured: short.awake.then(|| Figure::new(short.volts, Unit::Volt)),
        limit: Some(Figure::new(from, Unit::Volt)),
        says,
        remedy,
        basis: "working range of the load".to_owned(),
        ..e.finding(rule, Severity::Stop, &blamed)
    }
}

fn stranded(e: &Evidence, rule: RuleId, life: &Life, required: f64) -> Finding {
    let blamed = blamed(e);
    let blamed: Vec<&str> = blamed.iter().map(String::as_str).collect();
    let end = &life.end;
    let load = end.load.clone().unwrap_or_default();
    let state = end.state.clone().unwrap_or_default();
    let task = end.task.clone().unwrap_or_default();
    let secs = life.life_secs.unwrap_or(0.0);
    let gets = end.net_volts.unwrap_or(0.0);
    let left = 1.0 - end.depth;
    let whole = whole_secs(life);
    let lost = end.shares.iter().max_by(|a, b| a.1.total_cmp(&b.1));
    let lost = lost.map_or(String::new(), |(name, v)| {
        format!(
            " Most of the drop, {}, is lost in {name}.",
            words::volts(*v)
        )
    });
    Finding {
        nets: end.net.iter().cloned().collect(),
        situation: e.tired(),
        measured: Some(Figure::new(secs, Unit::Second)),
        limit: Some(Figure::new(required, Unit::Second)),
        says: format!(
            "After {} task {task} takes {load} in state {state} down to {}, with {} of the charge left; \
             required are {}, the whole charge would last {}.{lost}",
            words::span(secs),
            words::volts(gets),
            words::percent(left),
            words::span(required),
            words::span(whole)
        ),
        remedy: "carry the burst with a larger capacitor behind the source's resistance, lower or \
                 shorten the burst, or take a cell with less resistance"
            .to_owned(),
        basis: "TI SWRA349 (bursts on coin cells); working range of the load".to_owned(),
        ..e.finding(rule, Severity::Fix, &blamed)
    }
}
