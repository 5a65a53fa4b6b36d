//! `weak-cell`: is the weakest cell of a string driven into reversal while the others still feed the
//! board?
//!
//! All cells of a string carry one current. One of them holds two standard deviations less: where the
//! others stand at depth d, it stands at d / (1 - 2 sigma). Where that is past empty its voltage has
//! fallen to that of reversal, and the board is solved with these cells, rested, to see whether it still
//! draws on.
//!
//! # References
//! The weakest of several cells is driven to a very low or negative voltage by the others and leaks
//! (Energizer, questions and answers).

use crate::circuit::{CellDrive, History, Situation};
use crate::device::Cell;
use crate::model::Part;
use crate::quantity::Unit;
use crate::review::evidence::cells::{CellString, slow_amps};
use crate::review::rules::{Rule, deep_discharge};
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};
use crate::time::rested;

/// How weak: one cell in 44 is weaker, if charges are spread as a bell curve.
const DEVIATIONS: f64 = 2.0;
/// Depths beyond empty to look at: within 0.02 a cell falls to its reversal voltage.
const STEP: f64 = 0.0025;
const STEPS: u32 = 8;

pub(super) struct WeakCell;

impl Rule for WeakCell {
    fn id(&self) -> RuleId {
        "weak-cell"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let cells = e.cells().enumerate();
        let found = cells.filter_map(|(at, (part, cell))| {
            let string = e.string(part).filter(|s| s.is_told_at(part, cell))?;
            let reversed = reversed(e, at, (part, cell), &string)?;
            Some(finding(e, self.id(), (part, cell), (&string, &reversed)))
        });
        found.collect()
    }
}

/// A string with its weakest cell in reversal.
struct Reversed {
    situation: Situation,
    /// What the weak cell has at its terminals.
    weak_volts: f64,
    amps: f64,
    /// Whether the loads still work.
    serves: bool,
}

/// The furthest that the weak cell is driven while the loads work; else while the board draws on.
fn reversed(
    e: &Evidence,
    at: usize,
    (part, cell): (&Part, &Cell),
    string: &CellString,
) -> Option<Reversed> {
    let weak = 1.0 - DEVIATIONS * cell.model.spread.charge.as_share();
    if string.count() < 2 || 1.0 <= weak {
        return None;
    }
    let mut found: Option<Reversed> = None;
    for step in 1..=STEPS {
        let weak_depth = 1.0 + STEP * f64::from(step);
        let Some(next) = solved(e, (at, part, cell), weak * weak_depth, weak_depth) else {
            break;
        };
        let draws = next.serves || slow_amps(&cell.model) < next.amps;
        let worse = found.as_ref().is_none_or(|f| next.serves || !f.serves);
        if draws && worse && next.weak_volts < 0.0 {
            found = Some(next);
        }
    }
    found
}

/// The board with one cell deeper than the others; none where the others are empty as well.
fn solved(
    e: &Evidence,
    (at, part, cell): (usize, &Part, &Cell),
    depth: f64,
    weak_depth: f64,
) -> Option<Reversed> {
    if 1.0 <= depth {
        return None;
    }
    // With a supply plugged in the cells carry nothing.
    let supplies = e.circuit().supply_names();
    let situation = Situation {
        depth,
        history: History::Running,
        absent: supplies.into_iter().collect(),
        ..e.usual()
    };
    let weak = cell.model.rested(weak_depth);
    let mut states = rested(e.circuit(), depth);
    *states.get_mut(at)?.first_mut()? = weak.clone();
    let drive = CellDrive::States(states);
    let point = e.circuit().solve(&situation, &drive, None).ok()?;
    let amps = point.part(&part.name)?.amps;
    let celsius = situation.ambient.as_celsius();
    Some(Reversed {
        weak_volts: cell.model.terminal_volts(&weak, amps, celsius).0,
        serves: !e.circuit().loads().is_empty() && e.shortfalls(&situation, &point).is_empty(),
        situation,
        amps,
    })
}

/// Whether the reversal comes before the required life, or well before the end where none is required.
fn early(e: &Evidence, cell: &Cell, depth: f64) -> bool {
    let begins = e.secs_at(depth);
    let life = e.life().and_then(|l| l.life_secs);
    let required = e.family.requirement.life.map(|t| t.as_secs());
    let storage = e.family.requirement.storage.map_or(0.0, |t| t.as_secs());
    // What comes after the cell has kept is not looked for where no life is asked for.
    let keeps = cell
        .model
        .shelf_life
        .map_or(f64::INFINITY, |t| t.as_secs() - storage);
    let well_before = |secs: f64| ((1.0 - e.sensitivity.win_share) * secs).min(keeps);
    let until = required.or_else(|| life.map(well_before));
    begins
        .zip(until)
        .is_some_and(|(begins, until)| begins < until)
}

fn finding(
    e: &Evidence,
    rule: RuleId,
    (part, cell): (&Part, &Cell),
    (string, reversed): (&CellString, &Reversed),
) -> Finding {
    let name = string.named();
    // Where the whole string is run too deep, the same lockout cures both, and that rule asks for it.
    let deep = deep_discharge::speaks(e, part, cell);
    let severity = if reversed.serves && early(e, cell, reversed.situation.depth) && !deep {
        Severity::Fix
    } else {
        Severity::Note
    };
    let sigma = cell.model.spread.charge.as_share();
    let depth = reversed.situation.depth;
    let end = e.life().map_or(1.0, |l| l.end.depth);
    let when = match e.secs_at(depth).filter(|_| depth <= end) {
        Some(secs) => format!("after {}", words::span(secs)),
        None => "after the end of the life".to_owned(),
    };
    let goes_on = if reversed.serves {
        "the board works on"
    } else {
        "the board still draws on them"
    };
    let others = cell.model.open_circuit_volts(depth).0;
    #[expect(clippy::cast_precision_loss, reason = "a handful of cells")]
    let lockout = (string.count() as f64 - 1.0) * others;
    Finding {
        measured: Some(Figure::new(reversed.weak_volts, Unit::Volt)),
        limit: Some(Figure::new(0.0, Unit::Volt)),
        says: format!(
            "A cell of {name} that holds {} less than the others (two standard deviations) is empty {when}; \
             {goes_on} with {} and drives it to {} while the others stand at {}.",
            words::percent(DEVIATIONS * sigma),
            words::amps(reversed.amps),
            words::volts(reversed.weak_volts),
            words::volts(others)
        ),
        situation: Some(reversed.situation.clone()),
        remedy: format!(
            "switch the supply off by a voltage detector above {} at {name}, take cells of one lot, or one larger cell with a converter",
            words::volts(lockout)
        ),
        basis: "spread stated for the cell; Energizer on flat and mixed cells".to_owned(),
        ..e.finding(rule, severity, &string.names())
    }
}
