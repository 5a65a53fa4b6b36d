//! How far down the connector's promised current is kept.

use crate::circuit::{Detail, NoPoint};
use crate::deliver::rig::{Question, Rig};
use crate::deliver::search::EXACT;
use crate::deliver::{Bound, DeliverRequest, Limit, Output, rails};
use crate::progress::Progress;
use crate::quantity::Temperature;

/// How exactly the depth is found.
const EXACT_DEPTH: f64 = 1e-3;
/// Share of a promised current that is asked for: a promise of just what a rating allows is kept to
/// what a search for the largest current is exact to, though the board sleeps on top of it.
const WITHIN: f64 = 1.0 - 2.0 * EXACT;

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

/// A promised current that a rail does not give at one ambient.
#[derive(Debug, Clone, PartialEq)]
pub struct BrokenPromise {
    /// Name of the connector pin.
    pub rail: String,
    /// The promised current.
    pub amps: f64,
    /// Temperature around the board.
    pub ambient: Temperature,
    /// Whether it is missing from off only: what runs already gives it.
    pub at_start: bool,
    /// Whether it is there for a moment, at every depth of the request.
    pub for_a_moment: bool,
    /// The depth from which it is missing.
    pub depth: f64,
    /// What binds there.
    pub bound: Bound,
}

/// Where the connector's promised currents are not kept, without a search for the largest ones: the
/// currents themselves are asked for at the depths of the request. A depth at which the board
/// does not serve its own loads with nothing added is left out.
///
/// # Errors
/// A board or profile that is not there; no operating point with fresh cells and nothing added.
pub fn broken_promises(
    request: &DeliverRequest,
    progress: &dyn Progress,
) -> Result<Vec<BrokenPromise>, NoPoint> {
    let family = request.family;
    let unknown = |what: String| NoPoint::Unknown { what };
    let board = family.board(request.board);
    let board = board.ok_or_else(|| unknown(format!("board {}", request.board)))?;
    let mut out = Vec::new();
    for rail in rails(family, board) {
        let mut rig = Rig::new(request, rail)?;
        let Some(amps) = rig.promised_amps() else {
            continue;
        };
        for &ambient in &request.ambients {
            if progress.cancelled() {
                return Ok(out);
            }
            rig.set_ambient(ambient)?;
            for (question, at_start) in [(Question::Running, false), (Question::Starting, true)] {
                if let Some((depth, bound)) = breaks(&mut rig, question, &request.depths, amps) {
                    let brief = breaks(&mut rig, Question::Burst, &request.depths, amps);
                    out.push(BrokenPromise {
                        rail: rail.to_owned(),
                        amps,
                        ambient,
                        at_start,
                        for_a_moment: !at_start && brief.is_none(),
                        depth,
                        bound,
                    });
                    break;
                }
            }
        }
    }
    Ok(out)
}

/// From which depth a current is not held, and what binds there.
fn breaks(rig: &mut Rig, question: Question, depths: &[f64], amps: f64) -> Option<(f64, Bound)> {
    let amps = amps * WITHIN;
    let mut fails = |depth: f64| {
        rig.set_depth(depth);
        match rig.look(question, Detail::Bare, 0.0, None) {
            Ok(_) => rig.look(question, Detail::Bare, amps, None).err(),
            // Outside the promised band with nothing drawn, though the own loads are served.
            Err(bound) if bound.limit == Limit::PromiseBand => Some(bound),
            Err(_) => None,
        }
    };
    let mut low = 0.0;
    for &depth in depths {
        let Some(mut bound) = fails(depth) else {
            low = depth;
            continue;
        };
        let mut high = depth;
        while EXACT_DEPTH < high - low {
            let middle = f64::midpoint(low, high);
            match fails(middle) {
                Some(found) => (high, bound) = (middle, found),
                None => low = middle,
            }
        }
        return Some((high, bound));
    }
    None
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
