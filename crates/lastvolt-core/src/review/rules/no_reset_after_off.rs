//! `no-reset-after-off`: switched off and on again after a moment, does the load restart cleanly?
//!
//! The board is switched off and its rail followed. While the rail lies between the reset threshold and
//! the lowest working voltage, the load runs outside its range without being reset: a person who
//! switches on again meets firmware that goes on wrong. That is a fault where it lasts some seconds.
//! A rail that has not fallen that far after two seconds lets firmware run through: worth knowing.
//!
//! # Formula
//! ```text
//! R = t / (C ln(V_0 / V_reset))      brings the rail to the reset threshold within t
//! ```

use crate::circuit::Situation;
use crate::model::{Device, Load};
use crate::numerics::eseries::Series;
use crate::numerics::math;
use crate::quantity::Unit;
use crate::review::rules::Rule;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};
use crate::time::{Occasion, Question, Waveform};

/// How long a switch is off at most when somebody flicks it (common practice).
const FLICK_SECS: f64 = 2.0;
/// A rail that lies between for as long is met there sooner or later by a switch that comes on again; a
/// plain bypass of some ten microfarads passes it faster (common practice).
const BETWEEN_SECS: f64 = 3.0;
/// How long the rail is followed.
const FOLLOWED_NS: u64 = 600_000_000_000;
const FOLLOWED_SECS: f64 = 600.0;
/// A rail that would fall within this share of a flick needs no waveform.
const FAST_SHARE: f64 = 0.1;

pub(super) struct NoResetAfterOff;

impl Rule for NoResetAfterOff {
    fn id(&self) -> RuleId {
        "no-reset-after-off"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let loads = e.circuit().loads();
        let mut out: Vec<Finding> = Vec::new();
        for (name, load) in loads.iter().filter(|(_, l)| l.reset.is_some()) {
            // One finding a load: its worst switch.
            let held = switches(e)
                .into_iter()
                .filter_map(|switch| held(e, name, load, switch));
            let worst = held.reduce(|a, b| {
                if a.between_secs < b.between_secs {
                    b
                } else {
                    a
                }
            });
            out.extend(worst.and_then(|held| finding(e, self.id(), &held)));
        }
        out
    }
}

/// A switch and one of its positions.
type Thrown = (String, String);

/// A rail that stays up while the board is off.
struct Held {
    load: String,
    net: String,
    switch: Thrown,
    situation: Situation,
    start_volts: f64,
    reset_volts: f64,
    /// After a flick.
    flick_volts: f64,
    /// How long it lies between reset and working range, as far as it was followed.
    between_secs: f64,
}

/// Switches that alone take the board off, with that position.
fn switches(e: &Evidence) -> Vec<Thrown> {
    let usual = e.usual().positions;
    let mut out: Vec<Thrown> = Vec::new();
    for (case, _) in e.off() {
        let other = case.situation.positions.iter();
        let mut other = other.filter(|(name, at)| usual.get(*name) != Some(*at));
        if let (Some((name, at)), None) = (other.next(), other.next())
            && !out.iter().any(|(known, _)| known == name)
        {
            out.push((name.clone(), at.clone()));
        }
    }
    out
}

fn held(e: &Evidence, name: &str, load: &Load, switch: Thrown) -> Option<Held> {
    let reset_volts = load.reset.as_ref()?.below.as_volts();
    let situation = e.usual();
    let point = e.point(&situation)?;
    let solved = point.load(name)?;
    let state = situation.states.get(name).and_then(|s| load.state(s));
    let range = load.working_in(state.unwrap_or(0));
    let from = range
        .map_or(load.reset.as_ref()?.release, |r| r.from)
        .as_volts();
    let farads: f64 = e.board.parts.iter().map(farads).sum();
    let fall_secs = farads * (solved.volts - reset_volts) / solved.amps.max(f64::MIN_POSITIVE);
    if !solved.awake || fall_secs < FAST_SHARE * FLICK_SECS {
        return None;
    }
    let question = Question {
        circuit: e.circuit(),
        situation: &situation,
        cells: None,
        occasion: Occasion::Off {
            switch: switch.clone(),
            span_ns: FOLLOWED_NS,
        },
        tail_ns: Some(0),
    };
    let wave = e.follow("no-reset-after-off", &question)?;
    let below = |volts: f64| first_below(&wave, &load.plus, volts);
    let between_secs = below(reset_volts)? - below(from)?;
    Some(Held {
        load: name.to_owned(),
        net: load.plus.clone(),
        switch,
        start_volts: solved.volts,
        reset_volts,
        flick_volts: at(&wave, &load.plus, FLICK_SECS)?,
        between_secs,
        situation,
    })
}

/// What a part holds.
fn farads(part: &crate::model::Part) -> f64 {
    match &part.device {
        Device::Capacitor(c) => c.farads_at(0.0),
        _ => 0.0,
    }
}

/// When a net is first below a voltage, as far as it was followed; between instants that are kept it goes
/// in straight lines.
fn first_below(wave: &Waveform, net: &str, volts: f64) -> Option<f64> {
    let (_, curve) = wave.nets.iter().find(|(n, _)| n == net)?;
    let Some(next) = curve.iter().position(|v| *v < volts) else {
        return Some(FOLLOWED_SECS);
    };
    let Some(before) = next.checked_sub(1) else {
        return Some(0.0);
    };
    let share = (curve[before] - volts) / (curve[before] - curve[next]);
    let (from, to) = (*wave.time_secs.get(before)?, *wave.time_secs.get(next)?);
    Some(from + share * (to - from))
}

/// Voltage of a net at an instant.
fn at(wave: &Waveform, net: &str, secs: f64) -> Option<f64> {
    let (_, curve) = wave.nets.iter().find(|(n, _)| n == net)?;
    let next = wave.time_secs.partition_point(|t| *t < secs);
    let (Some(before), Some(&to)) = (next.checked_sub(1), wave.time_secs.get(next)) else {
        return curve.last().copied();
    };
    let from = wave.time_secs[before];
    let share = (secs - from) / (to - from);
    Some(curve[before] + share * (curve.get(next)? - curve[before]))
}

/// The largest capacitor across the rail of the load.
fn bulk<'e>(e: &Evidence<'e>, net: &str) -> Option<(&'e str, f64)> {
    let ground = e.family.connector.ground_net();
    let on = |part: &crate::model::Part, name: &str| {
        let mut nets = part.pins.iter().filter_map(|p| e.board.net_of(p));
        nets.any(|n| n == name)
    };
    let parts = e.board.parts.iter();
    let across = parts.filter(|p| on(p, net) && on(p, ground));
    let held = across.map(|p| (p.name.as_str(), farads(p)));
    let held: Vec<(&str, f64)> = held.filter(|(_, f)| 0.0 < *f).collect();
    let all: f64 = held.iter().map(|h| h.1).sum();
    let largest = held
        .into_iter()
        .reduce(|a, b| if a.1 < b.1 { b } else { a })?;
    Some((largest.0, all))
}

fn finding(e: &Evidence, rule: RuleId, held: &Held) -> Option<Finding> {
    let between = BETWEEN_SECS <= held.between_secs;
    if !between && held.flick_volts < held.reset_volts {
        return None;
    }
    let severity = if between {
        Severity::Fix
    } else {
        Severity::Note
    };
    let (switch, _) = &held.switch;
    let part = bulk(e, &held.net);
    let (load, net) = (&held.load, &held.net);
    let lies = if between {
        let secs = held.between_secs;
        let most = if secs < FOLLOWED_SECS {
            ""
        } else {
            "more than "
        };
        format!(
            " It lies below what {load} works from and above its reset for {most}{}: switched on again then, \
             {load} goes on wrong without a reset.",
            words::span(secs)
        )
    } else {
        format!(" {load} runs through without a restart.")
    };
    let bleeder = part.and_then(|(_, farads)| {
        let ratio = math::ln(held.start_volts / held.reset_volts);
        let most = FLICK_SECS / (farads * ratio);
        (most.is_finite() && 0.0 < most).then(|| Series::E12.at_most(most))
    });
    let remedy = match bleeder {
        Some(ohms) => format!(
            "discharge {net} through {} or less while {switch} is off, best by a spare throw; left on the rail \
             it takes {} all the time",
            words::ohms(ohms),
            words::amps(held.start_volts / ohms)
        ),
        None => format!("discharge {net} while {switch} is off"),
    };
    let first = part.map_or(switch.as_str(), |(name, _)| name);
    let parts = if first == switch {
        vec![first]
    } else {
        vec![first, switch]
    };
    Some(Finding {
        nets: vec![net.clone()],
        situation: Some(held.situation.clone()),
        measured: Some(Figure::new(held.flick_volts, Unit::Volt)),
        limit: Some(Figure::new(held.reset_volts, Unit::Volt)),
        says: format!(
            "{} after {switch} is off {net} still has {}; {load} resets below {}.{lies}",
            words::span(FLICK_SECS),
            words::volts(held.flick_volts),
            words::volts(held.reset_volts)
        ),
        remedy,
        basis: "reset threshold of the load; off for two seconds when flicked: common practice"
            .to_owned(),
        ..e.finding(rule, severity, &parts)
    })
}
