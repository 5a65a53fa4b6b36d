//! What boards put on each other's loads and parts when they are plugged together.

use crate::circuit::{Point, Stress};
use crate::model::{Device, Load};
use crate::quantity::Unit;
use crate::review::rules::floating_control::positions;
use crate::review::rules::over_voltage::{told, worst_stresses};
use crate::review::{Figure, Finding, HighPoint, RuleId, Severity, Stack, words};

/// Loads, then parts, above what they bear in a stack and not alone.
pub(super) fn over(s: &Stack, rule: RuleId) -> Vec<Finding> {
    let alone: Vec<(String, &[HighPoint])> = s
        .names()
        .into_iter()
        .map(|name| (name.clone(), s.high_alone(&name)))
        .collect();
    let mut out: Vec<Finding> = Vec::new();
    for (name, load) in s.circuit().loads() {
        out.extend(load_over(s, rule, &name, load, &alone));
    }
    out.extend(parts_over(s, rule, &alone));
    out
}

/// How far a load is above what it works at (1) or survives (2).
fn level(load: &Load, high: &HighPoint, name: &str, volts: f64) -> Option<(Severity, f64)> {
    let state = high.situation.states.get(name).and_then(|s| load.state(s));
    let works = load.working_in(state.unwrap_or(0)).map(|r| r.to.as_volts());
    match (load.survives.map(|v| v.as_volts()), works) {
        (Some(limit), _) if limit < volts => Some((Severity::Stop, limit)),
        (_, Some(limit)) if limit < volts => Some((Severity::Fix, limit)),
        _ => None,
    }
}

fn load_over(
    s: &Stack,
    rule: RuleId,
    name: &str,
    load: &Load,
    alone: &[(String, &[HighPoint])],
) -> Option<Finding> {
    let own = name.rsplit('/').next().unwrap_or(name);
    let mut before: Option<Severity> = None;
    for high in alone.iter().flat_map(|a| a.1) {
        let volts = high.point.load(own).map_or(0.0, |l| l.volts);
        before = before.max(level(load, high, own, volts).map(|l| l.0));
    }
    let mut worst: Option<(Severity, f64, f64, &HighPoint)> = None;
    let mut count = 0;
    for high in s.high() {
        let volts = high.point.load(name).map_or(0.0, |l| l.volts);
        let Some((severity, limit)) = level(load, high, name, volts) else {
            continue;
        };
        count += 1;
        if worst.is_none_or(|w| (w.0, w.1) < (severity, volts)) {
            worst = Some((severity, volts, limit, high));
        }
    }
    let (severity, volts, limit, high) = worst.filter(|w| before < Some(w.0))?;
    let source = giver(s, &high.point)?;
    let what = match severity {
        Severity::Stop => "survives",
        _ => "works up to",
    };
    Some(Finding {
        aspect: "load",
        nets: vec![load.plus.clone()],
        situation: Some(high.situation.clone()),
        situations: count,
        measured: Some(Figure::new(volts, Unit::Volt)),
        limit: Some(Figure::new(limit, Unit::Volt)),
        says: format!(
            "{own} gets up to {} with {} plugged together{}; it {what} {}.",
            words::volts(volts),
            words::join(&s.names()),
            place(high),
            words::volts(limit)
        ),
        remedy: format!(
            "lower what {source} gives by {} or more, or key the connector so that these boards do not fit together",
            words::volts(volts - limit)
        ),
        basis: "absolute maximum and working range of the load".to_owned(),
        ..s.finding(rule, unless_twice(s, severity), &[&source])
    })
}

/// A board may never meet a second one of its kind.
fn unless_twice(s: &Stack, severity: Severity) -> Severity {
    if s.twice { Severity::Note } else { severity }
}

fn place(high: &HighPoint) -> String {
    match positions(&high.situation) {
        place if place.is_empty() => String::new(),
        place => format!(" ({place})"),
    }
}

/// The source that gives most.
fn giver(s: &Stack, point: &Point) -> Option<String> {
    let parts = s.circuit().parts();
    let sources = parts
        .iter()
        .filter(|(_, part)| matches!(part.device, Device::Supply(_) | Device::Cell(_)));
    let given = sources.filter_map(|(name, _)| Some((name, point.part(name)?.watts)));
    let most = given.min_by(|a, b| a.1.total_cmp(&b.1));
    most.map(|m| m.0.clone())
}

/// Stresses by voltage above the rating that the board does not have alone.
fn parts_over(s: &Stack, rule: RuleId, alone: &[(String, &[HighPoint])]) -> Vec<Finding> {
    let loads: Vec<String> = s.circuit().loads().into_iter().map(|l| l.0).collect();
    let counts = |stress: &Stress| !loads.contains(&stress.part) && !is_alone(stress, alone);
    let found = worst_stresses(s.high(), counts).into_iter().map(|worst| {
        let with = format!(
            " with {} plugged together{}",
            words::join(&s.names()),
            place(worst.high)
        );
        let base = s.finding(rule, unless_twice(s, Severity::Stop), &[&worst.stress.part]);
        told(&worst, &with, "block what the other board gives", base)
    });
    found.collect()
}

/// Whether a board has a stress above its rating without any other.
fn is_alone(stress: &Stress, alone: &[(String, &[HighPoint])]) -> bool {
    alone.iter().any(|(board, points)| {
        let own = stress.part.strip_prefix(&format!("{board}/"));
        let same = |a: &Stress| {
            Some(a.part.as_str()) == own && a.quantity == stress.quantity && 1.0 < a.share
        };
        own.is_some() && points.iter().any(|high| high.stresses.iter().any(same))
    })
}
