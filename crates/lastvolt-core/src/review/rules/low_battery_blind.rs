//! `low-battery-blind`: can firmware tell in time that the cells come to their end?
//!
//! Where a notice is wanted, the thresholds that give it are computed for every voltage that could be
//! watched (see `time::notice`). Firmware sees its own supply and the other pins of the connector. A
//! converter holds the supply to the end, so that it says nothing: then the cells themselves may.

use crate::circuit::Situation;
use crate::quantity::Unit;
use crate::review::rules::Rule;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};
use crate::time::{Node, Notice, RESOLVED_VOLTS, Signal, When};

/// Share of the wanted notice that is enough: the rest is within the error of a life.
const ENOUGH: f64 = 0.9;
/// A threshold is of no use where one that is higher by what firmware can tell apart warns earlier by this
/// share of the life.
const FALSE_SHARE: f64 = 0.5;

pub(super) struct LowBatteryBlind;

impl Rule for LowBatteryBlind {
    fn id(&self) -> RuleId {
        "low-battery-blind"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        look(e, self.id()).into_iter().collect()
    }
}

fn look(e: &Evidence, rule: RuleId) -> Option<Finding> {
    if e.family.requirement.notice.is_none() {
        return None;
    }
    let notice = e.usual_notice()?;
    if notice.signals.is_empty() {
        // The life is shorter than the notice, or nothing could be watched at all.
        return None;
    }
    let seen = nets_seen(e);
    let life = notice.life_secs[1].unwrap_or(f64::INFINITY);
    let serves = |s: &&Signal| {
        let had = s.notice_secs[1].unwrap_or(0.0);
        s.tells && s.step_secs < FALSE_SHARE * life && ENOUGH * notice.wanted_secs <= had
    };
    let watched = |s: &&Signal| seen.contains(&s.net);
    if notice.signals.iter().filter(watched).any(|s| serves(&s))
        || another_pin_tells(e, &notice, &seen)
    {
        return None;
    }
    let elsewhere = notice.signals.iter().find(|s| !watched(s) && serves(s));
    Some(finding(e, rule, &notice, elsewhere))
}

/// Nets that firmware can look at: the supplies of its loads and the pins of the connector.
fn nets_seen(e: &Evidence) -> Vec<String> {
    let connector = &e.family.connector;
    let ground = connector.ground_net();
    let mut seen: Vec<String> = connector
        .pins
        .iter()
        .filter(|p| *p != ground)
        .cloned()
        .collect();
    for (_, load) in e.circuit().loads() {
        if !seen.contains(&load.plus) {
            seen.push(load.plus.clone());
        }
    }
    seen
}

/// Whether a net that firmware sees, other than the rail, moves between the wanted warning and the end.
fn another_pin_tells(e: &Evidence, notice: &Notice, seen: &[String]) -> bool {
    let Some(life) = e.lasting_life() else {
        return false;
    };
    let (Some(end), rail) = (life.life_secs, e.family.connector.rail()) else {
        return false;
    };
    let warns = end - notice.wanted_secs;
    let at = life.trace.time_secs.partition_point(|t| *t < warns);
    let Some(depth) = at.checked_sub(1).and_then(|k| life.trace.depth.get(k)) else {
        return false;
    };
    let solve = |depth: f64| e.point(&Situation { depth, ..e.usual() });
    let (Some(before), Some(after)) = (solve(*depth), solve(life.end.depth)) else {
        return false;
    };
    let others = seen.iter().filter(|n| Some(n.as_str()) != rail);
    others.into_iter().any(|net| {
        let fall = before.net(net).zip(after.net(net));
        fall.is_some_and(|(a, b)| RESOLVED_VOLTS <= (a - b).abs())
    })
}

fn finding(e: &Evidence, rule: RuleId, notice: &Notice, elsewhere: Option<&Signal>) -> Finding {
    let source = e.source_name().unwrap_or_default();
    let rail = notice
        .signals
        .iter()
        .find(|s| s.node == Node::Rail && s.when == When::Rest);
    let fall = rail.map_or(0.0, |s| s.fall_volts);
    let net = rail.map_or("The supply", |s| s.net.as_str());
    let why = match rail {
        // It falls, but stood nearly as low for most of the life.
        Some(rail) if rail.tells => format!(
            "a threshold on {net} that is 10 mV too high warns {} too early",
            words::span(rail.step_secs)
        ),
        _ => format!("{net} falls by {} in that time", words::volts(fall)),
    };
    let remedy = match elsewhere {
        Some(signal) => {
            let when = match signal.when {
                When::Rest => "at rest",
                When::Burst => "in the burst",
            };
            format!(
                "let firmware measure {} {when} and warn below {}: lead it to a pin, through a divider that \
                 is connected for the measurement only, or use a voltage detector for that voltage",
                signal.net,
                words::volts(signal.threshold_volts)
            )
        }
        None => {
            "no voltage tells: count the charge that tasks take, or warn by the calendar".to_owned()
        }
    };
    Finding {
        nets: rail.map(|s| s.net.clone()).into_iter().collect(),
        situation: Some(e.usual()),
        measured: Some(Figure::new(fall, Unit::Volt)),
        limit: Some(Figure::new(RESOLVED_VOLTS, Unit::Volt)),
        says: format!(
            "Firmware cannot warn {} before the end: {why}, and nothing else that it sees tells either.",
            words::span(notice.wanted_secs),
        ),
        remedy,
        basis: "notice wanted by the family; 10 mV are some three counts of 10 bits at 3 V (common practice)"
            .to_owned(),
        ..e.finding(rule, Severity::Fix, &[&source])
    }
}
