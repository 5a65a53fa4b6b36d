//! The largest current below which every smaller one holds: a coarse ladder, then halving.

use crate::circuit::{Detail, Point};
use crate::deliver::limit::{Bound, Limit};
use crate::deliver::rig::{Question, Rig};

/// First rung of the ladder, in amperes.
const FIRST_AMPS: f64 = 1e-6;
/// Nobody asks a small board for more, in amperes.
pub(super) const LAST_AMPS: f64 = 100.0;
/// Factor from rung to rung.
const RUNG: f64 = 2.0;
/// The same for starts.
const START_RUNG: f64 = 4.0;
/// How exact the answer is, as a share.
pub(super) const EXACT: f64 = 1e-3;

/// A largest current and what binds there.
#[derive(Debug, Clone)]
pub(super) struct Most {
    pub(super) amps: f64,
    pub(super) bound: Bound,
}

/// Where a bracket is split, as a share of it from below: points that do not hold cost far more than
/// those that do, so most guesses stay on the safe side.
const SPLIT: f64 = 0.2;

/// The largest current up to `cap_amps` that holds at the rig's depth and ambient.
///
/// What does not hold with nothing added holds with no current, even where a load would bring a rail
/// that is too high into its band: nobody may be obliged to draw.
///
/// The search asks for points that plain steps find from the last one that holds; where it ends, the
/// first current that does not hold is looked at by every method, and if it does hold after all, the
/// search goes on so.
pub(super) fn most(rig: &mut Rig, question: Question, cap_amps: f64) -> Most {
    let mut good: Option<(f64, Point)> = None;
    // A first point may only be found by other methods; from there plain steps mostly lead on.
    for detail in [Detail::Near, Detail::Near, Detail::Bare] {
        let mut bad = climb(rig, question, detail, cap_amps, &mut good);
        while let (Some((low, _)), Some((high, _))) = (&good, &bad) {
            if *high <= FIRST_AMPS || high - low <= EXACT * high {
                break;
            }
            let amps = low + SPLIT * (high - low);
            step(rig, question, detail, amps, &mut good, &mut bad);
        }
        let Some((high, bound)) = bad else {
            break;
        };
        let found = match detail {
            Detail::Near => rig.look(question, Detail::Bare, high, good.as_ref().map(|g| &g.1)),
            _ => Err(bound),
        };
        match found {
            Ok(point) => good = Some((high, point)),
            Err(bound) => {
                let amps = good.map_or(0.0, |g| g.0);
                return Most { amps, bound };
            }
        }
    }
    Most {
        amps: good.map_or(0.0, |g| g.0),
        bound: Bound::bare(Limit::None),
    }
}

/// Goes up from what holds by nothing, then doubling, then the cap; gives the first that does not hold.
fn climb(
    rig: &mut Rig,
    question: Question,
    detail: Detail,
    cap_amps: f64,
    good: &mut Option<(f64, Point)>,
) -> Option<(f64, Bound)> {
    let mut bad = None;
    let rungs = rungs(question, cap_amps);
    let above = |amps: f64| (amps * rungs.1).max(rungs.0);
    let mut next = good.as_ref().map_or(0.0, |g| above(g.0));
    while bad.is_none() {
        let amps = next.min(cap_amps);
        if good.as_ref().is_some_and(|g| amps <= g.0) {
            break;
        }
        step(rig, question, detail, amps, good, &mut bad);
        next = above(amps);
    }
    bad
}

/// First rung of the ladder and factor from rung to rung. Starts are judged from scratch each time, so
/// their ladder is coarser.
fn rungs(question: Question, cap_amps: f64) -> (f64, f64) {
    match question {
        Question::Starting => ((cap_amps / START_RUNG.powi(3)).max(FIRST_AMPS), START_RUNG),
        _ => (FIRST_AMPS, RUNG),
    }
}

fn step(
    rig: &mut Rig,
    question: Question,
    detail: Detail,
    amps: f64,
    good: &mut Option<(f64, Point)>,
    bad: &mut Option<(f64, Bound)>,
) {
    match rig.look(question, detail, amps, good.as_ref().map(|g| &g.1)) {
        Ok(point) => *good = Some((amps, point)),
        Err(bound) => *bad = Some((amps, bound)),
    }
}
