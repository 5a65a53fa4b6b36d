//! `cell-rate`: does the board ask more of a cell than its maker allows?
//!
//! Base states and long steps are held against the continuous current, every joint state of the
//! profile against the pulse current, at the depths and ambients where a converter takes most. Settled
//! points come first; only where they are beyond the limit is the burst followed, for a capacitor
//! beside the cell may carry it.
//!
//! # Formula
//! ```text
//! C = (I - I_limit) t / (I_limit R)      holds the cell at I_limit or below for a burst of length t
//! ```

use std::collections::BTreeMap;

use crate::circuit::Situation;
use crate::device::Cell;
use crate::model::{Part, Task};
use crate::numerics::eseries::Series;
use crate::quantity::Unit;
use crate::review::rules::Rule;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};
use crate::time::{Occasion, Question};

/// A step this long is continuous to the cell: makers of coin cells print pulses of up to some 15 s
/// (common practice).
const PULSE_SECS: f64 = 15.0;
/// Depths to look at, as shares of the way from the start to the end of the life: fresh, and where a
/// converter takes most.
const SHARES: [f64; 3] = [0.0, 0.5, 0.97];
/// What is over the limit by less is within the figures of parts.
const MARGIN: f64 = 1.02;

pub(super) struct CellRate;

impl Rule for CellRate {
    fn id(&self) -> RuleId {
        "cell-rate"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let cells = e.cells();
        let found = cells.filter_map(|(part, cell)| {
            let steady = steady(e, part, cell).map(|worst| (Kind::Steady, worst));
            // A cell that is overtaxed all the time is overtaxed in a burst as well.
            let (kind, worst) = steady.or_else(|| pulse(e, part, cell))?;
            Some(finding(e, self.id(), (part, cell), kind, worst))
        });
        found.collect()
    }
}

/// What is asked too much.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// Beyond the continuous current, for long.
    Steady,
    /// Beyond the pulse current.
    Pulse,
    /// Beyond the continuous current in a burst, where no pulse current is stated.
    Unrated,
}

/// The worst of several situations.
struct Worst {
    situation: Situation,
    amps: f64,
    limit_amps: f64,
    count: usize,
    /// For how long, where it is a step.
    secs: Option<f64>,
}

/// Situations in these states at every depth, at the usual and at the lowest ambient.
fn situations(e: &Evidence, states: &BTreeMap<String, String>) -> Vec<Situation> {
    let (from, to) = (e.start_depth(), e.life().map_or(0.0, |l| l.end.depth));
    let ambient = &e.family.requirement.ambient;
    let mut out = Vec::new();
    for share in SHARES {
        for at in [ambient.usual, ambient.low] {
            let situation = Situation {
                states: states.clone(),
                depth: from + share * (to - from).max(0.0),
                ambient: at,
                ..e.usual()
            };
            if !out.contains(&situation) {
                out.push(situation);
            }
        }
    }
    out
}

/// The worst of situations, of those beyond a limit.
fn worst(e: &Evidence, part: &str, limit_amps: f64, all: &[Situation]) -> Option<Worst> {
    let mut found: Option<Worst> = None;
    let mut count = 0;
    for situation in all {
        let Some(point) = e.point(situation) else {
            continue;
        };
        let amps = point.part(part).map_or(0.0, |p| p.amps);
        if amps <= MARGIN * limit_amps {
            continue;
        }
        // Fresh and at the usual ambient it counts in any case; elsewhere where the board still works, for
        // what it does after that is no use of it.
        let first = situation.depth <= e.start_depth() && situation.ambient == e.usual().ambient;
        if !first && !e.shortfalls(situation, &point).is_empty() {
            continue;
        }
        count += 1;
        if found.as_ref().is_none_or(|f| f.amps < amps) {
            found = Some(Worst {
                situation: situation.clone(),
                amps,
                limit_amps,
                count: 0,
                secs: None,
            });
        }
    }
    found.map(|f| Worst { count, ..f })
}

/// Beyond the continuous current in base states, in a long step, in some position that lasts, or
/// as a mean over the life.
fn steady(e: &Evidence, part: &Part, cell: &Cell) -> Option<Worst> {
    let limit = cell.model.limits.continuous?.as_amps();
    let base = e.usual().states;
    let mut all = situations(e, &base);
    let steps = e
        .profile
        .iter()
        .flat_map(|p| &p.tasks)
        .flat_map(|t| &t.steps);
    for step in steps.filter(|s| PULSE_SECS <= secs(s.span_ns)) {
        let mut states = base.clone();
        states.extend(
            step.set
                .iter()
                .filter(|(l, _)| base.contains_key(l))
                .cloned(),
        );
        all.extend(situations(e, &states));
    }
    all.extend(e.lasting().map(|(case, _)| case.situation.clone()));
    if let Some(found) = worst(e, &part.name, limit, &all) {
        return Some(found);
    }
    let mean = e.lasting_life().map_or(0.0, |l| l.mean_cell_amps);
    (MARGIN * limit < mean).then(|| Worst {
        situation: e.usual(),
        amps: mean,
        limit_amps: limit,
        count: 1,
        secs: None,
    })
}

/// Beyond the pulse current in a burst.
fn pulse(e: &Evidence, part: &Part, cell: &Cell) -> Option<(Kind, Worst)> {
    let limits = &cell.model.limits;
    let (kind, limit) = match (limits.pulse, limits.continuous) {
        (Some(pulse), _) => (Kind::Pulse, pulse.as_amps()),
        (None, Some(continuous)) => (Kind::Unrated, continuous.as_amps()),
        (None, None) => return None,
    };
    let joint = e.joint_states();
    let all: Vec<Situation> = joint.iter().flat_map(|s| situations(e, s)).collect();
    let found = worst(e, &part.name, limit, &all)?;
    let tasks = tasks(e, &found.situation);
    let longest = tasks.iter().map(|t| secs(t.span_ns())).fold(0.0, f64::max);
    let followed = followed_amps(e, &part.name, &found.situation, tasks);
    let amps = followed.unwrap_or(found.amps);
    (MARGIN * limit < amps).then_some((
        kind,
        Worst {
            amps,
            secs: (0.0 < longest).then_some(longest),
            ..found
        },
    ))
}

/// One task for each load that is not in its base state: the one that puts it where it is.
fn tasks<'e>(e: &Evidence<'e>, situation: &Situation) -> Vec<&'e Task> {
    let base = e.usual().states;
    let changed = situation.states.iter();
    let changed = changed.filter(|(load, state)| base.get(*load) != Some(*state));
    let mut out: Vec<&Task> = Vec::new();
    for (load, state) in changed {
        let sets = |t: &&Task| {
            let mut set = t.steps.iter().flat_map(|s| &s.set);
            set.any(|(l, s)| l == load && s == state)
        };
        let found = e.profile.and_then(|p| p.tasks.iter().find(sets));
        if let Some(task) = found.filter(|t| !out.iter().any(|o| o.name == t.name)) {
            out.push(task);
        }
    }
    out
}

/// The largest current of a cell part while tasks are followed.
fn followed_amps(e: &Evidence, part: &str, at: &Situation, tasks: Vec<&Task>) -> Option<f64> {
    if tasks.is_empty() {
        return None;
    }
    let situation = Situation {
        states: e.usual().states,
        ..at.clone()
    };
    let question = Question {
        circuit: e.circuit(),
        situation: &situation,
        cells: None,
        occasion: Occasion::Tasks(tasks),
        tail_ns: Some(0),
    };
    let wave = e.follow("cell-rate", &question)?;
    let (_, amps) = wave.cells.iter().find(|(name, _)| name == part)?;
    amps.iter().copied().reduce(f64::max)
}

fn finding(
    e: &Evidence,
    rule: RuleId,
    (part, cell): (&Part, &Cell),
    kind: Kind,
    worst: Worst,
) -> Finding {
    let name = &part.name;
    let limit = words::amps(worst.limit_amps);
    let (severity, rating) = match kind {
        Kind::Steady => (Severity::Fix, format!("{limit} continuously")),
        Kind::Pulse => (Severity::Fix, format!("{limit} in a pulse")),
        Kind::Unrated => (
            Severity::Note,
            format!("{limit} continuously and states no pulse current"),
        ),
    };
    let rated = words::amps(worst.amps);
    let remedy = match worst.secs.zip(helping_farads(cell, &worst)) {
        Some((secs, farads)) => format!(
            "take a cell that is rated for {rated}, lower the burst, or carry it by {} or more across {name} \
             (that much for {}; look at its leakage)",
            words::farads(farads),
            words::span(secs)
        ),
        None => format!("take a cell that is rated for {rated}, or lower what the board takes"),
    };
    Finding {
        situations: worst.count,
        measured: Some(Figure::new(worst.amps, Unit::Ampere)),
        limit: Some(Figure::new(worst.limit_amps, Unit::Ampere)),
        says: format!(
            "{name} has to give {} at depth {} and {}; its maker allows {rating}.",
            words::amps(worst.amps),
            words::percent(worst.situation.depth),
            words::figure(worst.situation.ambient.as_celsius(), Unit::Celsius),
        ),
        situation: Some(worst.situation),
        remedy,
        basis: "limits of current stated for the cell".to_owned(),
        ..e.finding(rule, severity, &[name])
    }
}

/// The capacitor across the cells with which they stay at the limit for the length of the burst.
fn helping_farads(cell: &Cell, worst: &Worst) -> Option<f64> {
    let situation = &worst.situation;
    let celsius = situation.ambient.as_celsius();
    #[expect(clippy::cast_precision_loss, reason = "a handful of cells")]
    let series = cell.series as f64;
    let ohms = series * cell.model.resistance_ohms(situation.depth, celsius, 0.0);
    let sag = worst.limit_amps * ohms;
    let farads = (worst.amps - worst.limit_amps) * worst.secs? / sag;
    (0.0 < sag && farads.is_finite()).then(|| Series::E6.at_least(farads))
}

#[expect(clippy::cast_precision_loss, reason = "nanoseconds to seconds")]
fn secs(ns: u64) -> f64 {
    ns as f64 * 1e-9
}
