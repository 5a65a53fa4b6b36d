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

/// A load above what it works at or survives, in one situation.
struct Risen<'h> {
    severity: Severity,
    volts: f64,
    limit: f64,
    high: &'h HighPoint,
}

/// The load in every position in which no board puts it as far above its limits alone.
fn risen<'h>(
    s: &'h Stack,
    name: &str,
    load: &Load,
    alone: &[(String, &[HighPoint])],
) -> Vec<Risen<'h>> {
    let own = name.rsplit('/').next().unwrap_or(name);
    let volts_at = |high: &HighPoint, name: &str| high.point.load(name).map_or(0.0, |l| l.volts);
    let mut out = Vec::new();
    for high in s.high() {
        let volts = volts_at(high, name);
        let Some((severity, limit)) = level(load, high, name, volts) else {
            continue;
        };
        let mut before = in_these_positions(high, alone);
        let is_said = before.any(|(_, before)| {
            let known = level(load, before, own, volts_at(before, own));
            known.is_some_and(|known| severity <= known.0)
        });
        if !is_said {
            out.push(Risen {
                severity,
                volts,
                limit,
                high,
            });
        }
    }
    out
}

fn heaviest<'r, 'h>(all: impl Iterator<Item = &'r Risen<'h>>) -> Option<&'r Risen<'h>> {
    all.max_by(|a, b| {
        let volts = a.volts.total_cmp(&b.volts);
        a.severity.cmp(&b.severity).then(volts)
    })
}

fn load_over(
    s: &Stack,
    rule: RuleId,
    name: &str,
    load: &Load,
    alone: &[(String, &[HighPoint])],
) -> Option<Finding> {
    let own = name.rsplit('/').next().unwrap_or(name);
    let found = risen(s, name, load, alone);
    let worst = heaviest(found.iter())?;
    let usual = heaviest(found.iter().filter(|r| is_usual(s, r.high)));
    let source = giver(s, &worst.high.point)?;
    let what = match worst.severity {
        Severity::Stop => "survives",
        _ => "works up to",
    };
    Some(Finding {
        aspect: aspect(usual.is_some()),
        nets: vec![load.plus.clone()],
        situation: Some(worst.high.situation.clone()),
        situations: found.len(),
        measured: Some(Figure::new(worst.volts, Unit::Volt)),
        limit: Some(Figure::new(worst.limit, Unit::Volt)),
        says: format!(
            "{own} gets up to {} with {} plugged together{}; it {what} {}.",
            words::volts(worst.volts),
            words::join(&s.names()),
            said_place(s, worst.high, usual.map(|u| u.volts)),
            words::volts(worst.limit)
        ),
        remedy: format!(
            "lower what {source} gives by {} or more, or key the connector so that these boards do not fit together",
            words::volts(worst.volts - worst.limit)
        ),
        basis: "absolute maximum and working range of the load".to_owned(),
        ..s.finding(rule, unless_twice(s, worst.severity), &[&source, name])
    })
}

/// What comes about as the boards are meant to be used is never put together with what takes another
/// position.
fn aspect(is_usual: bool) -> &'static str {
    if is_usual { "load-usual" } else { "load" }
}

fn is_usual(s: &Stack, high: &HighPoint) -> bool {
    high.situation.positions == s.usual().positions
}

fn has_positions(high: &HighPoint, board: &str, before: &HighPoint) -> bool {
    let mut switches = before.situation.positions.iter();
    switches.all(|(switch, at)| {
        let there = format!("{board}/{switch}");
        high.situation.positions.get(&there) == Some(at)
    })
}

/// The points of the boards alone whose switches are as they are in a point of the stack.
fn in_these_positions<'p>(
    high: &'p HighPoint,
    alone: &'p [(String, &'p [HighPoint])],
) -> impl Iterator<Item = (&'p str, &'p HighPoint)> {
    alone.iter().flat_map(move |(board, points)| {
        let points = points.iter().filter(move |p| has_positions(high, board, p));
        points.map(move |p| (board.as_str(), p))
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

/// The positions of a point in brackets, and what there is in the usual ones where that is too much too.
fn said_place(s: &Stack, high: &HighPoint, usual_volts: Option<f64>) -> String {
    match usual_volts.filter(|_| !is_usual(s, high)) {
        None => place(high),
        Some(volts) => format!(
            "{}, and {} in the usual positions",
            place(high),
            words::volts(volts)
        ),
    }
}

/// Stresses by voltage above the rating that the board does not have alone in the same positions.
fn parts_over(s: &Stack, rule: RuleId, alone: &[(String, &[HighPoint])]) -> Vec<Finding> {
    let loads: Vec<String> = s.circuit().loads().into_iter().map(|l| l.0).collect();
    let counts = |high: &HighPoint, stress: &Stress| {
        !loads.contains(&stress.part) && !is_alone(high, stress, alone)
    };
    let found = worst_stresses(s.high(), counts).into_iter().map(|worst| {
        let mut all = s.high().iter().filter(|high| is_usual(s, high));
        let usual = all.find_map(|high| {
            let same = |a: &&Stress| {
                a.part == worst.stress.part && a.quantity == worst.stress.quantity && 1.0 < a.share
            };
            let found = high.stresses.iter().find(same);
            found.filter(|stress| counts(high, stress))
        });
        let with = format!(
            " with {} plugged together{}",
            words::join(&s.names()),
            said_place(s, worst.high, usual.map(|u| u.value))
        );
        let base = s.finding(rule, unless_twice(s, Severity::Stop), &[&worst.stress.part]);
        told(&worst, &with, "block what the other board gives", base)
    });
    found.collect()
}

/// Whether a board has a stress above its rating in these positions without any other board.
fn is_alone(high: &HighPoint, stress: &Stress, alone: &[(String, &[HighPoint])]) -> bool {
    in_these_positions(high, alone).any(|(board, before)| {
        let own = stress.part.strip_prefix(&format!("{board}/"));
        let same = |a: &Stress| {
            Some(a.part.as_str()) == own && a.quantity == stress.quantity && 1.0 < a.share
        };
        own.is_some() && before.stresses.iter().any(same)
    })
}
