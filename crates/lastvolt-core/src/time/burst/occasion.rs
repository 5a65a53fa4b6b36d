//! What people ask to see, and for how long that is worth following.
//!
//! A task is followed until the rail has recovered or its interval is over; switching on until all is
//! good and nothing happens any more, or until it is plain that it never will be.

use crate::circuit::{Circuit, Situation};
use crate::device::CellState;
use crate::model::Task;
use crate::progress::Progress;
use crate::time::burst::follow::secs;
use crate::time::burst::plan::plan_of_tasks;
use crate::time::burst::{Begin, BurstRequest, Closely, NoWave, Stretch, Waveform, burst_closely};

/// Least time that is followed after a task.
const LEAST_TAIL_NS: u64 = 10_000_000;
/// The same as a multiple of the task.
const TAIL_PER_TASK: u64 = 4;
/// By how much a task is followed longer where the rail has not recovered.
const LENGTHEN_TASK: u64 = 8;
/// How long switching on is followed at first and at most, and by how much longer each time.
const FIRST_START_NS: u64 = 100_000_000;
const LAST_START_NS: u64 = 3_600_000_000_000;
const LENGTHEN_START: u64 = 4;
/// Share of what can be kept that is followed where the rest cannot be.
const REACHED_SHARE: f64 = 0.9;
/// Share at the end of a start in which nothing may happen.
const QUIET_SHARE: f64 = 1.0 / 3.0;

/// What is looked at.
#[derive(Debug, Clone, PartialEq)]
pub enum Occasion<'a> {
    /// One occurrence of each of these tasks from the same instant on.
    Tasks(Vec<&'a Task>),
    /// Switching on: from a position of a switch, or from everything discharged.
    Start(Option<(String, String)>),
    /// Running, switched off for a time and on again.
    Off {
        /// The switch and the position that takes the voltage off the rail.
        switch: (String, String),
        /// For how long, in nanoseconds.
        span_ns: u64,
    },
}

/// An occasion on a circuit.
#[derive(Debug)]
pub struct Question<'a, 'f> {
    /// The circuit.
    pub circuit: &'a Circuit<'f>,
    /// The situation around which everything happens.
    pub situation: &'a Situation,
    /// States of the cells; none for rested cells at the depth of the situation.
    pub cells: Option<Vec<Vec<CellState>>>,
    /// What is looked at.
    pub occasion: Occasion<'a>,
    /// How long to follow after the last edge, in nanoseconds; none for as long as it is worth.
    pub tail_ns: Option<u64>,
}

/// A waveform with what led to it.
#[derive(Debug, Clone, PartialEq)]
pub struct Followed {
    /// The waveform.
    pub wave: Waveform,
    /// What schedule and switches do.
    pub edges: Vec<Edge>,
    /// It would have been followed for longer if that were not more than is kept.
    pub is_cut: bool,
}

/// An instant at which schedule or switches change something.
#[derive(Debug, Clone, PartialEq)]
pub struct Edge {
    /// When.
    pub time_secs: f64,
    /// What.
    pub changes: Vec<Change>,
}

/// One thing that changes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Change {
    /// Cells or plugs go in.
    PluggedIn,
    /// A load goes into a state.
    State(String, String),
    /// A switch goes into a position.
    Position(String, String),
}

impl Question<'_, '_> {
    /// Follows it for as long as is asked or worth it.
    ///
    /// # Errors
    /// See [`NoWave`].
    pub fn follow(&self, progress: &dyn Progress) -> Result<Followed, NoWave> {
        self.follow_closely(None, progress)
    }

    /// As [`Question::follow`], with short steps in one stretch of time.
    ///
    /// # Errors
    /// See [`NoWave`].
    pub fn follow_closely(
        &self,
        closely: Option<Closely>,
        progress: &dyn Progress,
    ) -> Result<Followed, NoWave> {
        let (mut tail, last, factor) = match (self.tail_ns, &self.occasion) {
            (Some(tail), _) => (tail, tail, 1),
            (None, Occasion::Tasks(tasks)) => {
                let last = self.rest_of_interval(tasks);
                let length = self.length_ns();
                let first = length.saturating_mul(TAIL_PER_TASK).max(LEAST_TAIL_NS);
                (first.min(last), last, LENGTHEN_TASK)
            }
            (None, _) => (FIRST_START_NS, LAST_START_NS, LENGTHEN_START),
        };
        let mut shorter: Option<Waveform> = None;
        loop {
            let request = self.request(tail);
            match burst_closely(self.circuit, &request, closely, progress) {
                Ok(wave) if tail >= last || self.is_settled(&wave) => {
                    return Ok(self.followed(wave, &request, false));
                }
                Ok(wave) => shorter = Some(wave),
                Err(NoWave::TooLong {
                    time_secs,
                    instants,
                }) => {
                    return match shorter {
                        Some(wave) => Ok(self.followed(wave, &request, true)),
                        None => self.follow_as_far((time_secs, instants), closely, progress),
                    };
                }
                Err(why) => return Err(why),
            }
            tail = tail.saturating_mul(factor).min(last);
        }
    }

    /// Follows it nearly as far as the instants that are kept have reached, unless a time was asked for.
    fn follow_as_far(
        &self,
        (time_secs, instants): (f64, usize),
        closely: Option<Closely>,
        progress: &dyn Progress,
    ) -> Result<Followed, NoWave> {
        let rest = REACHED_SHARE * time_secs - secs(self.length_ns());
        if self.tail_ns.is_some() || rest < secs(1) {
            return Err(NoWave::TooLong {
                time_secs,
                instants,
            });
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "positive, and less than what was asked for"
        )]
        let request = self.request((rest / secs(1)) as u64);
        let wave = burst_closely(self.circuit, &request, closely, progress)?;
        Ok(self.followed(wave, &request, true))
    }

    /// Whether nothing more is to be expected.
    fn is_settled(&self, wave: &Waveform) -> bool {
        if wave.hiccup.is_some() {
            return true;
        }
        if let Occasion::Tasks(_) = self.occasion {
            return wave.recovery_secs.is_some() && (wave.happenings.is_empty() || wave.is_good);
        }
        let edge = wave.edges_secs.last().copied().unwrap_or(0.0);
        let end = wave.time_secs.last().copied().unwrap_or(0.0);
        let quiet = end - QUIET_SHARE * (end - edge);
        wave.is_good && wave.happenings.iter().all(|h| h.time_secs < quiet)
    }

    /// How long after its steps the soonest of the tasks comes again.
    fn rest_of_interval(&self, tasks: &[&Task]) -> u64 {
        let soonest = tasks.iter().map(|t| t.every_ns).min().unwrap_or(0);
        soonest.saturating_sub(self.length_ns())
    }

    /// What schedule and switches do.
    #[must_use]
    pub fn edges(&self) -> Vec<Edge> {
        edges(&self.request(0))
    }

    /// From the first to the last edge, in nanoseconds.
    fn length_ns(&self) -> u64 {
        let plan = self.request(0).stretches;
        plan.iter().map(|s| s.span_ns).sum()
    }

    fn request(&self, tail_ns: u64) -> BurstRequest {
        let (begin, stretches) = match &self.occasion {
            Occasion::Tasks(tasks) => {
                let plan = plan_of_tasks(self.circuit, tasks, tail_ns);
                (Begin::Settled, plan)
            }
            Occasion::Start(None) => (Begin::Discharged, vec![Stretch::quiet(tail_ns)]),
            Occasion::Start(Some(off)) => (
                Begin::From(vec![off.clone()]),
                vec![Stretch::quiet(tail_ns)],
            ),
            Occasion::Off { switch, span_ns } => {
                let off = Stretch {
                    positions: vec![switch.clone()],
                    ..Stretch::quiet(*span_ns)
                };
                (Begin::Settled, vec![off, Stretch::quiet(tail_ns)])
            }
        };
        BurstRequest {
            situation: self.situation.clone(),
            cells: self.cells.clone(),
            begin,
            capacitors: Vec::new(),
            enough_volts: None,
            stretches,
        }
    }

    fn followed(&self, wave: Waveform, request: &BurstRequest, is_cut: bool) -> Followed {
        let end = wave.time_secs.last().copied().unwrap_or(0.0);
        let mut edges = edges(request);
        edges.retain(|e| e.time_secs <= end);
        Followed {
            wave,
            edges,
            is_cut,
        }
    }
}

/// What changes from stretch to stretch.
fn edges(request: &BurstRequest) -> Vec<Edge> {
    let base = &request.situation;
    let (mut states, mut positions) = (base.states.clone(), base.positions.clone());
    let mut edges = Vec::new();
    let mut at_ns: u64 = 0;
    let mut plugged = Vec::new();
    match &request.begin {
        Begin::Settled => {}
        Begin::Discharged => plugged.push(Change::PluggedIn),
        Begin::From(off) => positions.extend(off.iter().cloned()),
    }
    for stretch in &request.stretches {
        let (mut next_states, mut next_positions) = (base.states.clone(), base.positions.clone());
        next_states.extend(stretch.states.iter().cloned());
        next_positions.extend(stretch.positions.iter().cloned());
        let mut changes = std::mem::take(&mut plugged);
        for (name, position) in &next_positions {
            if positions.get(name) != Some(position) {
                changes.push(Change::Position(name.clone(), position.clone()));
            }
        }
        for (name, state) in &next_states {
            if states.get(name) != Some(state) {
                changes.push(Change::State(name.clone(), state.clone()));
            }
        }
        if !changes.is_empty() {
            let time_secs = secs(at_ns);
            edges.push(Edge { time_secs, changes });
        }
        (states, positions) = (next_states, next_positions);
        at_ns = at_ns.saturating_add(stretch.span_ns);
    }
    edges
}
