//! Steady currents of contacts against what they are made for.

use std::rc::Rc;

use crate::circuit::{Point, Situation};
use crate::device::Switch;
use crate::model::Part;
use crate::quantity::Unit;
use crate::review::rules::floating_control::positions;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

/// Forward positions with loads at rest and in their hungriest states.
pub(super) fn situations(e: &Evidence) -> Vec<(Situation, Rc<Point>)> {
    let worst = e.worst_states();
    let mut out = Vec::new();
    for (case, _) in e.forward() {
        let busy = Situation {
            states: worst.clone(),
            ..case.situation.clone()
        };
        for situation in [case.situation.clone(), busy] {
            if let Some(point) = e.point(&situation) {
                out.push((situation, point));
            }
        }
    }
    out
}

/// A contact that carries more than it is rated for.
pub(super) fn overloaded(
    e: &Evidence,
    rule: RuleId,
    part: &Part,
    switch: &Switch,
) -> Option<Finding> {
    let rated = switch.rated?.as_amps();
    let mut over: Vec<(Situation, f64)> = Vec::new();
    for (situation, point) in situations(e) {
        let amps = point.part(&part.name)?.pin_amps.iter();
        let most = amps.fold(0.0_f64, |most, a| most.max(a.abs()));
        if rated < most {
            over.push((situation, most));
        }
    }
    let count = over.len();
    let (situation, amps) = over.into_iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    Some(Finding {
        aspect: "current",
        at: Some("rated".to_owned()),
        situations: count,
        measured: Some(Figure::new(amps, Unit::Ampere)),
        limit: Some(Figure::new(rated, Unit::Ampere)),
        says: format!(
            "A contact of {} carries {} ({}); it is rated for {}.",
            part.name,
            words::amps(amps),
            positions(&situation),
            words::amps(rated)
        ),
        remedy: format!(
            "choose a switch for {} or more, or let it drive a transistor that carries the current",
            words::amps(1.25 * amps)
        ),
        basis: "rating stated in the file".to_owned(),
        situation: Some(situation),
        ..e.finding(rule, Severity::Fix, &[&part.name])
    })
}

/// A contact that never carries the least current that it is made for.
pub(super) fn dry(e: &Evidence, rule: RuleId, part: &Part, switch: &Switch) -> Option<Finding> {
    let least = switch.least?.as_amps();
    let solved = situations(e);
    let mut driest: Option<(f64, (usize, usize))> = None;
    let mut pairs: Vec<(usize, usize)> = switch
        .positions
        .iter()
        .flat_map(|p| p.closed.iter().copied())
        .collect();
    pairs.sort_unstable();
    pairs.dedup();
    for pair in pairs {
        if !matters(part, pair) {
            continue;
        }
        let closed = solved.iter().filter(|(s, _)| {
            let position = s.positions.get(&part.name);
            let closed = position.and_then(|p| switch.closed_in(p));
            closed.is_some_and(|c| c.contains(&pair))
        });
        // The lesser of the currents into both pins: a pin that two contacts share carries both.
        let amps = closed.filter_map(|(_, point)| {
            let pins = &point.part(&part.name)?.pin_amps;
            Some(pins.get(pair.0)?.abs().min(pins.get(pair.1)?.abs()))
        });
        let most = amps.fold(0.0, f64::max);
        if most < least && driest.is_none_or(|d| most < d.0) {
            driest = Some((most, pair));
        }
    }
    let (amps, (a, b)) = driest?;
    Some(Finding {
        aspect: "dry",
        at: Some("least".to_owned()),
        situations: solved.len(),
        measured: Some(Figure::new(amps, Unit::Ampere)),
        limit: Some(Figure::new(least, Unit::Ampere)),
        says: format!(
            "The contact of {} between {} and {} carries {} at most; its data sheet asks for {} or more, \
             below which the film on the contacts may stay.",
            part.name,
            part.pins[a].name,
            part.pins[b].name,
            words::amps(amps),
            words::amps(least)
        ),
        remedy: format!(
            "choose a switch with gold contacts for lower currents, or let {} or more flow through it",
            words::amps(least)
        ),
        basis: "least current stated in the file".to_owned(),
        ..e.finding(rule, Severity::Fix, &[&part.name])
    })
}

/// Whether a contact joins two different nets.
fn matters(part: &Part, (a, b): (usize, usize)) -> bool {
    let net = |at: usize| part.pins.get(at).and_then(|p| p.net);
    net(a).is_some() && net(b).is_some() && net(a) != net(b)
}
