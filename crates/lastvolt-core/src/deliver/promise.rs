//! How far down the connector's promised current is kept.

use crate::circuit::Detail;
use crate::deliver::Output;
use crate::deliver::rig::{Question, Rig};
use crate::deliver::search::EXACT;
use crate::quantity::Temperature;

/// How exactly the depth is found.
const EXACT_DEPTH: f64 = 1e-3;

/// A promised current against what the rail gives.
#[derive(Debug, Clone, PartialEq)]
pub struct PromiseKept {
    /// The promised current.
    pub amps: f64,
    /// One an ambient.
    pub kept: Vec<Kept>,
}

/// How far a promise is kept at one ambient.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kept {
    /// Temperature around the board.
    pub ambient: Temperature,
    /// Already up.
    pub running: Reach,
    /// Starting from off.
    pub starting: Reach,
}

/// Down to which depth something holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reach {
    /// Not even with fresh cells.
    Nowhere,
    /// From fresh down to this depth.
    DownTo(f64),
    /// At every depth that was looked at; this is the last.
    Throughout(f64),
}

/// How far a current is kept, given what was found at the rig's ambient.
pub(super) fn kept(rig: &mut Rig, ambient: Temperature, outputs: &[Output], amps: f64) -> Kept {
    let running = |o: &Output| amps <= o.running_amps;
    let starting = |o: &Output| amps <= o.starting_amps;
    Kept {
        ambient,
        running: reach(rig, &[Question::Running], outputs, amps, running),
        starting: reach(
            rig,
            &[Question::Running, Question::Starting],
            outputs,
            amps,
            starting,
        ),
    }
}

fn reach(
    rig: &mut Rig,
    questions: &[Question],
    outputs: &[Output],
    amps: f64,
    holds: impl Fn(&Output) -> bool,
) -> Reach {
    // A promise of just what there is lies within what the search is exact to: it is asked for itself.
    let mut is_held = |o: &Output| {
        if holds(o) {
            return true;
        }
        rig.set_depth(o.depth);
        let mut all = questions.iter();
        is_near(o, amps) && all.all(|&q| rig.look(q, Detail::Bare, amps, None).is_ok())
    };
    let Some(fails) = outputs.iter().position(|o| !is_held(o)) else {
        return Reach::Throughout(outputs.last().map_or(0.0, |o| o.depth));
    };
    let Some(before) = fails.checked_sub(1) else {
        return Reach::Nowhere;
    };
    let (mut low, mut high) = (outputs[before].depth, outputs[fails].depth);
    while EXACT_DEPTH < high - low {
        let middle = f64::midpoint(low, high);
        rig.set_depth(middle);
        if questions
            .iter()
            .all(|&q| rig.look(q, Detail::Bare, amps, None).is_ok())
        {
            low = middle;
        } else {
            high = middle;
        }
    }
    Reach::DownTo(low)
}

/// Whether a current is what was found, as far as that is known.
fn is_near(found: &Output, amps: f64) -> bool {
    let most = found.running_amps.max(found.starting_amps);
    amps <= most * (1.0 + 2.0 * EXACT)
}
