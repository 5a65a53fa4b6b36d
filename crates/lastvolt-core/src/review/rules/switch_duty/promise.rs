//! What a position does against what the file says of it, and against other positions.

use std::collections::BTreeMap;

use crate::circuit::{MatrixCase, Point};
use crate::device::{Position, Switch};
use crate::model::{Kind, Part};
use crate::quantity::Unit;
use crate::review::legend::is_up;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

/// Difference in a voltage from which two positions do different things: below what any circuit of
/// the trade takes notice of (common practice).
const SAME_VOLTS: f64 = 5e-3;
/// Difference in a current, as a share of the larger one.
const SAME_SHARE: f64 = 0.01;
/// Current below which no difference counts: a day's charge of it is below any cell's self-discharge.
const SAME_AMPS: f64 = 1e-9;

/// Solved cases with the switch in a position, by the positions of all others.
fn cases<'e>(
    e: &'e Evidence,
    part: &Part,
    position: &Position,
) -> BTreeMap<Vec<(String, String)>, (&'e MatrixCase, &'e Point)> {
    let mut out = BTreeMap::new();
    for (case, point) in e.forward() {
        if case.situation.positions.get(&part.name) != Some(&position.name) {
            continue;
        }
        let others = case.situation.positions.iter();
        let others = others.filter(|(name, _)| **name != part.name);
        let others: Vec<_> = others.map(|(k, v)| (k.clone(), v.clone())).collect();
        out.insert(others, (case, point));
    }
    out
}

/// Whether two positions do the same whatever the other switches do.
fn alike(e: &Evidence, part: &Part, a: &Position, b: &Position) -> bool {
    let (first, second) = (cases(e, part, a), cases(e, part, b));
    !first.is_empty()
        && first.len() == second.len()
        && first
            .iter()
            .all(|(others, (_, p))| second.get(others).is_some_and(|(_, q)| same_point(e, p, q)))
}

/// What happens past the contacts shows in the voltages, the sources and the lamps; how currents
/// share ways beside each other is of no account.
fn same_point(e: &Evidence, p: &Point, q: &Point) -> bool {
    let nets = p.nets.iter().zip(&q.nets);
    let volts = nets.fold(0.0_f64, |most, (a, b)| most.max((a.volts - b.volts).abs()));
    let parts = p.parts.iter().zip(&q.parts);
    let shows = |name: &str| {
        let part = e.board.part(name);
        part.is_some_and(|p| matches!(p.kind, Kind::Cell | Kind::Supply | Kind::Led))
    };
    let mut others = parts.filter(|(a, _)| shows(&a.name));
    volts < SAME_VOLTS
        && others.all(|(a, b)| {
            let most = a.amps.abs().max(b.amps.abs());
            (a.amps - b.amps).abs() < (SAME_SHARE * most).max(SAME_AMPS)
        })
        && p.floating == q.floating
}

/// Whether a position joins nothing, or only pins that are unconnected.
fn is_spare(part: &Part, position: &Position) -> bool {
    position.closed.iter().all(|&(a, b)| {
        let net = |at: usize| part.pins.get(at).and_then(|p| p.net);
        net(a).is_none() || net(b).is_none() || net(a) == net(b)
    })
}

/// A switch that does nothing, or a position that does what another one does.
pub(super) fn same(e: &Evidence, rule: RuleId, part: &Part, switch: &Switch) -> Option<Finding> {
    let positions = &switch.positions;
    let first = positions.first()?;
    if 1 < positions.len() && positions[1..].iter().all(|p| alike(e, part, first, p)) {
        // Jumpers and signal switches may serve what is not in the files.
        let severity = if leads_outside(e, part) {
            Severity::Note
        } else {
            Severity::Fix
        };
        return Some(Finding {
            aspect: "idle",
            says: format!(
                "{} does nothing: every voltage and current of the board is the same in each of its {}.",
                part.name,
                words::count(positions.len(), "position")
            ),
            remedy: format!(
                "look for what joins its contacts past {}, or leave it out",
                part.name
            ),
            basis: "solved positions".to_owned(),
            situations: e.forward().count(),
            ..e.finding(rule, severity, &[&part.name])
        });
    }
    for (at, a) in positions.iter().enumerate() {
        for b in &positions[at + 1..] {
            let spare = is_spare(part, a) && is_spare(part, b);
            if !spare && alike(e, part, a, b) {
                return Some(Finding {
                    aspect: "twice",
                    says: format!(
                        "{} does the same in position {} as in {}.",
                        part.name, a.name, b.name
                    ),
                    remedy: format!(
                        "check what {} and {} join; a spare position is one that joins nothing",
                        a.name, b.name
                    ),
                    basis: "solved positions".to_owned(),
                    ..e.finding(rule, Severity::Note, &[&part.name])
                });
            }
        }
    }
    None
}

/// Whether a pin is on a net that the connector or a load's firmware knows and that is no rail.
fn leads_outside(e: &Evidence, part: &Part) -> bool {
    let connector = &e.family.connector;
    let loads = e.family.loads_of(e.board);
    let signals = |net: &str| {
        let supply = net == connector.ground_net()
            || connector.promises.iter().any(|p| p.pin == net)
            || connector.rail() == Some(net)
            || loads.iter().any(|l| l.plus == net);
        let known = connector.pins.iter().any(|p| p == net)
            || loads.iter().any(|l| l.drives.iter().any(|d| d.net == net));
        known && !supply
    };
    part.pins
        .iter()
        .filter_map(|p| e.board.net_of(p))
        .any(signals)
}

/// Positions whose rails are not as `means` says.
pub(super) fn broken(e: &Evidence, rule: RuleId, part: &Part, switch: &Switch) -> Vec<Finding> {
    let mut promised: Vec<&String> = switch
        .positions
        .iter()
        .filter_map(|p| p.means.as_ref())
        .flatten()
        .collect();
    promised.sort();
    promised.dedup();
    if promised.is_empty() {
        promised.extend(
            e.family
                .connector
                .pins
                .iter()
                .filter(|p| e.family.connector.rail() == Some(p.as_str())),
        );
    }
    let mut found: Vec<(String, String, bool, f64, &MatrixCase)> = Vec::new();
    for position in &switch.positions {
        let Some(means) = &position.means else {
            continue;
        };
        let mut usual = e.usual().positions;
        usual.insert(part.name.clone(), position.name.clone());
        let case = e.forward().find(|(c, _)| c.situation.positions == usual);
        let Some((case, point)) = case else {
            continue;
        };
        for net in &promised {
            let Some(volts) = point.net(net) else {
                continue;
            };
            let wanted = means.contains(*net);
            let up = is_up(e, net, volts);
            // A rail that is off keeps less than half of what it needs; between the two it is
            // neither and no promise of either kind is kept.
            let off = !is_up(e, net, 2.0 * volts);
            if wanted && !up || !wanted && !off {
                found.push((position.name.clone(), (*net).clone(), wanted, volts, case));
            }
        }
    }
    let count = found.len();
    let Some((position, net, wanted, volts, case)) = found.into_iter().next() else {
        return Vec::new();
    };
    let (should, does) = if wanted {
        ("promises", "not up")
    } else {
        ("promises to switch off", "not off")
    };
    vec![Finding {
        aspect: "promise",
        at: Some("means".to_owned()),
        nets: vec![net.clone()],
        situation: Some(case.situation.clone()),
        situations: count,
        measured: Some(Figure::new(volts, Unit::Volt)),
        says: format!(
            "Position {position} of {} {should} {net}, but {net} is {does}: it lies at {}.",
            part.name,
            words::volts(volts)
        ),
        remedy: format!(
            "correct `means` of {} or what its position {position} joins",
            part.name
        ),
        basis: "solved positions against the file".to_owned(),
        ..e.finding(rule, Severity::Fix, &[&part.name])
    }]
}

/// A label that names a net which the switch does not touch.
pub(super) fn label(e: &Evidence, rule: RuleId, part: &Part, switch: &Switch) -> Option<Finding> {
    let label = switch.label.as_ref()?;
    let net = e.board.nets.iter().find(|n| *n == label)?;
    let mut volts = Vec::new();
    for position in &switch.positions {
        for (_, point) in cases(e, part, position).values() {
            volts.push(point.net(net)?);
        }
    }
    let most = volts.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let least = volts.iter().copied().fold(f64::INFINITY, f64::min);
    // A lamp's switch may carry the name of the lamp's own net, which no part needs to be up.
    if volts.is_empty() || part.kind == Kind::Jumper || SAME_VOLTS <= most - least {
        return None;
    }
    Some(Finding {
        aspect: "label",
        at: Some("label".to_owned()),
        nets: vec![net.clone()],
        measured: Some(Figure::new(most, Unit::Volt)),
        says: format!(
            "{} is marked {label}, but {net} lies at {} in every position.",
            part.name,
            words::volts(most)
        ),
        remedy: format!("mark {} with what it switches", part.name),
        basis: "solved positions against the file".to_owned(),
        ..e.finding(rule, Severity::Fix, &[&part.name])
    })
}
