//! Waveforms: the whole circuit through a burst, a boot or switching on, to the microsecond.
//!
//! Capacitors, inductors, cells and the answers of regulators are states; loads reset, come out of
//! reset and boot; regulators start, hang and fall off. Edges of the schedule are landed on, trips
//! are found to the nanosecond, and both sides of a jump are kept.
//! Equations and sources: docs/theory/burst.md.

mod follow;
mod hiccup;
mod occasion;
mod plan;
mod wave;

pub use occasion::{Change, Edge, Followed, Occasion, Question};
pub use plan::{concerns, deepest_task, off_position, plan_of_tasks};
pub use wave::{Happening, HappeningKind, Hiccup, Inrush, Lowest, NeedSeen, Waveform};

use thiserror::Error;

use crate::circuit::{Circuit, NoPoint, Situation, Transient};
use crate::device::CellState;
use crate::model::Device;
use crate::progress::Progress;
use crate::time::burst::follow::Follow;

/// What is asked.
#[derive(Debug, Clone)]
pub struct BurstRequest {
    /// The situation around which everything happens.
    pub situation: Situation,
    /// States of the cells, one entry a cell part; none for rested cells at the depth of the situation.
    pub cells: Option<Vec<Vec<CellState>>>,
    /// How it begins.
    pub begin: Begin,
    /// Voltages of capacitors that begin otherwise than that: names of parts, first to second pin.
    pub capacitors: Vec<(String, f64)>,
    /// What happens, one after the other.
    pub stretches: Vec<Stretch>,
    /// Ends as soon as a load lies this far below its working range or a converter loses its input,
    /// where that is all one asks.
    pub enough_volts: Option<f64>,
}

/// How a waveform begins.
#[derive(Debug, Clone, PartialEq)]
pub enum Begin {
    /// Settled in the situation.
    Settled,
    /// Nothing charged, everything off: cells or plugs go in at this instant.
    Discharged,
    /// Settled with switches in other positions.
    From(Vec<(String, String)>),
}

/// A stretch of time in which schedule and switches stand still.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// How long, in nanoseconds.
    pub span_ns: u64,
    /// States of loads that differ from the situation.
    pub states: Vec<(String, String)>,
    /// Positions of switches that differ from the situation.
    pub positions: Vec<(String, String)>,
}

impl Stretch {
    /// A stretch in the situation as it is.
    #[must_use]
    pub fn quiet(span_ns: u64) -> Self {
        Self {
            span_ns,
            states: Vec::new(),
            positions: Vec::new(),
        }
    }
}

/// A stretch of time that is looked at closely: steps within it are short.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Closely {
    /// Where it begins.
    pub from_secs: f64,
    /// Where it ends.
    pub to_secs: f64,
    /// Into how many steps it is taken apart at least.
    pub steps: u32,
}

impl Closely {
    /// The longest step from an instant on.
    fn longest(&self, secs: f64) -> f64 {
        let step = (self.to_secs - self.from_secs) / f64::from(self.steps.max(1));
        if self.to_secs <= secs {
            f64::INFINITY
        } else if secs < self.from_secs {
            // No step leads over the beginning.
            step.max(self.from_secs - secs)
        } else {
            step
        }
    }
}

/// Why there is no waveform.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum NoWave {
    /// No point to begin from or to go on from.
    #[error("{0}")]
    Point(#[from] NoPoint),
    /// The equations have no solution from here on.
    #[error("the circuit has no solution beyond {time_secs:.3e} s")]
    Stuck {
        /// How far it went.
        time_secs: f64,
    },
    /// Things switch without end within no time.
    #[error("the circuit oscillates without end from {time_secs:.3e} s on: {what} goes on and off")]
    Oscillates {
        /// How far it went.
        time_secs: f64,
        /// Load or part that switches.
        what: String,
    },
    /// More instants than are kept.
    #[error("a waveform of {instants} instants reaches {time_secs:.3e} s; ask for less")]
    TooLong {
        /// How far it went.
        time_secs: f64,
        /// How many instants are kept at most.
        instants: usize,
    },
    /// The work was told to stop.
    #[error("stopped at {time_secs:.3e} s")]
    Cancelled {
        /// How far it went.
        time_secs: f64,
    },
}

/// Follows a circuit through what is asked.
///
/// # Accuracy
/// The error of one step is held to 20 uV and 5 parts per million; instants of trips are found to 0.1 ns.
///
/// # Errors
/// See [`NoWave`].
pub fn burst(
    circuit: &Circuit,
    request: &BurstRequest,
    progress: &dyn Progress,
) -> Result<Waveform, NoWave> {
    burst_closely(circuit, request, None, progress)
}

/// As [`burst`], with short steps in one stretch of time.
///
/// # Errors
/// See [`NoWave`].
pub fn burst_closely(
    circuit: &Circuit,
    request: &BurstRequest,
    closely: Option<Closely>,
    progress: &dyn Progress,
) -> Result<Waveform, NoWave> {
    let cells = match &request.cells {
        Some(states) => states.clone(),
        None => rested(circuit, request.situation.depth),
    };
    let mut transient = match &request.begin {
        Begin::Settled => Transient::settled(circuit, &request.situation, &cells)?,
        Begin::Discharged => Transient::discharged(circuit, &request.situation, &cells)?,
        Begin::From(positions) => {
            let mut before = request.situation.clone();
            before.positions.extend(positions.iter().cloned());
            Transient::settled(circuit, &before, &cells)?
        }
    };
    if !request.capacitors.is_empty() {
        let parts = circuit.parts();
        let place = |name: &String| parts.iter().position(|(n, _)| n == name);
        let known = request.capacitors.iter();
        let volts: Vec<(usize, f64)> = known.filter_map(|(n, v)| Some((place(n)?, *v))).collect();
        transient.charge(&volts)?;
    }
    let follow = Follow::new(circuit, request, transient, progress);
    follow.closely(closely).run()
}

/// Rested cells at a depth, one entry a cell part.
#[must_use]
pub fn rested(circuit: &Circuit, depth: f64) -> Vec<Vec<CellState>> {
    let parts = circuit.parts();
    let cells = parts.iter().filter_map(|(_, part)| match &part.device {
        Device::Cell(cell) => Some(vec![cell.model.rested(depth); cell.series]),
        _ => None,
    });
    cells.collect()
}
