//! What a board can give to anything plugged onto its connector: the largest added current against
//! depth and ambient, already up and starting from off, and what limits it.
//!
//! # Formula
//! ```text
//! running  = largest I such that every current from 0 to I is held   cells with R0 (1 + sum r_n)
//! burst    = the same with rested branches, R0 alone                 pulse rating of the cells
//! starting = the same from off, loads at the hungriest step of boot  R0 alone, at most running
//! ```
//! Held means: every load that runs with fresh cells stays in its working range, the rail stays in
//! the band that the connector promises, no part is worked beyond its rating. Where nothing needs
//! the rail, it is held within 5 % of its unloaded voltage. See docs/theory/deliver.md.

mod boot;
mod depths;
mod held;
mod limit;
mod promise;
mod rig;
mod search;

use std::collections::BTreeMap;

use rayon::prelude::*;

use crate::circuit::NoPoint;
use crate::model::{Board, Family};
use crate::progress::{Progress, Shared};
use crate::quantity::Temperature;

pub(crate) use boot::{BOOT, with_boot};
pub use depths::{LifeDepth, depths, life_depth};
pub use limit::{Bound, Limit};
pub use promise::{BrokenPromise, Kept, PromiseKept, Reach, broken_promises};

use rig::{Question, Rig};
use search::most;

/// What is asked.
#[derive(Debug, Clone)]
pub struct DeliverRequest<'a> {
    /// The family.
    pub family: &'a Family,
    /// Name of the board.
    pub board: &'a str,
    /// Name of the profile whose base states and tasks the board's own loads follow.
    pub profile: Option<&'a str>,
    /// The rail; none means all of the connector.
    pub rail: Option<&'a str>,
    /// Temperatures around the board.
    pub ambients: Vec<Temperature>,
    /// Depths of the cells, rising.
    pub depths: Vec<f64>,
    /// Positions of switches that differ from the usual.
    pub positions: BTreeMap<String, String>,
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Deliver {
    /// Positions that were used.
    pub positions: BTreeMap<String, String>,
    /// One a rail, the main rail first.
    pub rails: Vec<RailOutput>,
    /// What the reader should know.
    pub warnings: Vec<String>,
}

/// What one rail can give.
#[derive(Debug, Clone, PartialEq)]
pub struct RailOutput {
    /// Name of the connector pin.
    pub rail: String,
    /// What must hold while the current flows.
    pub need: Need,
    /// Ambient by ambient, depths rising.
    pub outputs: Vec<Output>,
    /// How far the connector's promised current is kept, where one is promised.
    pub promise: Option<PromiseKept>,
    /// The own loads' heaviest states of the profile, where it has tasks.
    pub heaviest: Vec<(String, String)>,
}

/// What must hold on a rail.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Need {
    /// Working ranges of loads, or the band of the connector's promise, or both.
    Stated,
    /// Nothing needs the rail: it stays within 5 % of its unloaded voltage.
    Unstated,
}

/// What a rail can give at one depth and ambient, beside the board's own loads in base states.
#[derive(Debug, Clone, PartialEq)]
pub struct Output {
    /// Temperature around the board.
    pub ambient: Temperature,
    /// Depth of the cells.
    pub depth: f64,
    /// Already up, continuous: polarisation settled.
    pub running_amps: f64,
    /// What binds there.
    pub limit: Bound,
    /// From off into this current.
    pub starting_amps: f64,
    /// What binds there, where it is less than running.
    pub starting_limit: Option<Bound>,
    /// Already up, for a moment: rested polarisation, and all of a film where a cell has one.
    pub burst_amps: f64,
    /// Continuous, while the own loads may come to their heaviest states; none without tasks.
    pub beside_task_amps: Option<f64>,
}

/// The rails of the connector that a board has: the main rail, then pins that something is promised
/// of or that feed a load.
#[must_use]
pub fn rails<'f>(family: &'f Family, board: &Board) -> Vec<&'f str> {
    let connector = &family.connector;
    let main = connector.rail();
    let feeds = |pin: &str| {
        let promised = connector.promises.iter().any(|p| p.pin == pin);
        promised || family.loads.iter().any(|l| l.plus == pin)
    };
    let ground = connector.ground_net();
    let pins = connector.pins.iter().map(String::as_str);
    pins.filter(|pin| *pin != ground && (Some(*pin) == main || feeds(pin)))
        .filter(|pin| board.nets.iter().any(|net| net == pin))
        .collect()
}

/// What the rails of a board can give.
///
/// # Accuracy
/// Currents to 0.1 %, below 1 uA as zero. Every voltage is settled: capacitors carry nothing, and a
/// start is judged by its operating point and not by its waveform.
///
/// # Errors
/// A board, profile or rail that is not there; no operating point with fresh cells and nothing added.
pub fn deliver(request: &DeliverRequest, progress: &dyn Progress) -> Result<Deliver, NoPoint> {
    let family = request.family;
    let unknown = |what: String| NoPoint::Unknown { what };
    let board = family.board(request.board);
    let board = board.ok_or_else(|| unknown(format!("board {}", request.board)))?;
    let mut pins = rails(family, board);
    if let Some(rail) = request.rail {
        pins.retain(|pin| *pin == rail);
    }
    if pins.is_empty() {
        let rail = request.rail.or(family.connector.rail());
        return Err(unknown(format!("rail {}", rail.unwrap_or_default())));
    }
    let mut deliver = Deliver {
        positions: BTreeMap::new(),
        rails: Vec::new(),
        warnings: Vec::new(),
    };
    for (at, pin) in pins.iter().enumerate() {
        let rig = Rig::new(request, pin)?;
        let whole = crate::progress::Piece::new(progress, at, pins.len());
        deliver.rails.push(of_rail(&rig, request, &whole)?);
        deliver.positions = rig.positions();
    }
    if progress.cancelled() {
        let says = "stopped before all depths and ambients were looked at";
        deliver.warnings.push(says.to_owned());
    }
    Ok(deliver)
}

fn of_rail(
    rig: &Rig,
    request: &DeliverRequest,
    progress: &dyn Progress,
) -> Result<RailOutput, NoPoint> {
    let shared = Shared::new(progress, request.ambients.len() * request.depths.len());
    let ambients = request.ambients.par_iter();
    let each: Vec<_> = ambients
        .map(|&ambient| at_ambient(rig.clone(), ambient, &request.depths, &shared))
        .collect();
    let (mut outputs, mut kept) = (Vec::new(), Vec::new());
    let mut need = rig.need();
    for at in each {
        let at = at?;
        outputs.extend(at.outputs);
        kept.extend(at.kept);
        need = at.need;
    }
    Ok(RailOutput {
        rail: rig.rail().to_owned(),
        need,
        promise: rig.promised_amps().map(|amps| PromiseKept { amps, kept }),
        heaviest: rig.heaviest(),
        outputs,
    })
}

/// What a rail gives at one ambient.
struct AtAmbient {
    outputs: Vec<Output>,
    kept: Option<Kept>,
    need: Need,
}

fn at_ambient(
    mut rig: Rig,
    ambient: Temperature,
    depths: &[f64],
    progress: &Shared,
) -> Result<AtAmbient, NoPoint> {
    rig.set_ambient(ambient)?;
    let mut outputs = Vec::new();
    for &depth in depths {
        if progress.cancelled() {
            break;
        }
        outputs.push(output(&mut rig, ambient, depth));
        progress.done();
    }
    let promised = rig.promised_amps();
    let kept = promised.map(|amps| promise::kept(&mut rig, ambient, &outputs, amps));
    Ok(AtAmbient {
        outputs,
        kept,
        need: rig.need(),
    })
}

fn output(rig: &mut Rig, ambient: Temperature, depth: f64) -> Output {
    rig.set_depth(depth);
    let running = most(rig, Question::Running, search::LAST_AMPS);
    let burst = most(rig, Question::Burst, search::LAST_AMPS);
    let has_tasks = !rig.heaviest().is_empty();
    let beside = has_tasks.then(|| most(rig, Question::BesideTask, running.amps).amps);
    let starting = most(rig, Question::Starting, running.amps);
    let is_short = starting.amps < running.amps * (1.0 - search::EXACT);
    Output {
        ambient,
        depth,
        running_amps: running.amps,
        limit: running.bound,
        starting_amps: starting.amps,
        starting_limit: is_short.then_some(starting.bound),
        // A film that has grown may leave less for the first moment than for long.
        burst_amps: if rig.has_film() {
            burst.amps
        } else {
            burst.amps.max(running.amps)
        },
        beside_task_amps: beside,
    }
}
