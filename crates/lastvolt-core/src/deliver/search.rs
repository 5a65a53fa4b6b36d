//! The largest current below which every smaller one holds: a coarse ladder, then halving.

use crate::circuit::Point;
use crate::deliver::limit::{Bound, Limit};
use crate::deliver::rig::{Question, Rig};

/// First rung of the ladder, in amperes.
const FIRST_AMPS: f64 = 1e-6;
/// Nobody asks a small board for more, in amperes.
pub(super) const LAST_AMPS: f64 = 100.0;
/// Factor from rung to rung.
const RUNG: f64 = 2.0;
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
pub(super) fn most(rig: &mut Rig, question: Question, cap_amps: f64) -> Most {
    let mut good: Option<(f64, Point)> = None;
    let mut bad: Option<(f64, Bound)> = None;
    for amps in rungs(cap_amps) {
        step(rig, question, amps, &mut good, &mut bad);
        if bad.is_some() {
            break;
        }
    }
    while let (Some((low, _)), Some((high, _))) = (&good, &bad) {
        if *high <= FIRST_AMPS || high - low <= EXACT * high {
            break;
        }
        let amps = low + SPLIT * (high - low);
        step(rig, question, amps, &mut good, &mut bad);
    }
    Most {
        amps: good.map_or(0.0, |g| g.0),
        bound: bad.map_or(Bound::bare(Limit::None), |b| b.1),
    }
}

/// Nothing, then doubling, then the cap.
fn rungs(cap_amps: f64) -> Vec<f64> {
    let mut rungs = vec![0.0];
    let mut amps = FIRST_AMPS;
    while amps < cap_amps {
        rungs.push(amps);
        amps *= RUNG;
    }
    if 0.0 < cap_amps {
        rungs.push(cap_amps);
    }
    rungs
}

fn step(
    rig: &mut Rig,
    question: Question,
    amps: f64,
    good: &mut Option<(f64, Point)>,
    bad: &mut Option<(f64, Bound)>,
) {
    match rig.look(question, amps, good.as_ref().map(|g| &g.1)) {
        Ok(point) => *good = Some((amps, point)),
        Err(bound) => *bad = Some((amps, bound)),
    }
}
