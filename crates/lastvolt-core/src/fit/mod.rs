//! A cell model from measurements: tests as makers print them and as logs record them, a cell followed
//! through each, and the parameters that make both agree.
//!
//! The form of the model is that of [`CellModel`]; nothing is fitted that a life would not use. A fit
//! starts from a cell of the same chemistry, and what the data do not say stays as it is there.

mod bed;
mod follow;
mod knob;
mod predict;
mod property;
mod solve;
mod spread;
mod start;
mod test;

use thiserror::Error;

pub use predict::{Prediction, predict};
pub use property::{Pinned, Property};
pub use spread::Missed;
pub use start::scaled;
pub use test::{Amount, At, Demand, Drive, Duty, LogPoint, Reading, Step, Test, Value, Window};

use crate::device::{CellModel, CellSpread};
use crate::numerics::math;
use crate::progress::{Piece, Progress};
use crate::quantity::Fraction;
use knob::knobs;
use solve::{Landed, Plan, covariance, descend};

/// What is fitted to what.
#[derive(Debug, Clone, Copy)]
pub struct FitRequest<'a> {
    /// A cell of the same chemistry, of any size, to start from.
    pub start: &'a CellModel,
    /// What was measured.
    pub tests: &'a [Test],
    /// Number of units: makers' cells or samples, which may differ in charge, resistance and rates.
    pub units: usize,
    /// How many descents are tried, at least 1.
    pub descents: usize,
}

/// A fitted cell.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    /// The cell that lies between all units.
    pub model: CellModel,
    /// The cell of each unit.
    pub units: Vec<CellModel>,
    /// One standard deviation between the units that were fitted, of charge and of resistance; the
    /// model's own where there is one. It is drawn in by what is expected of makers, so that a unit
    /// with few readings counts as less apart than it may be.
    pub between: CellSpread,
    /// Units of which there is a reading that was fitted.
    pub fitted_units: Vec<usize>,
    /// The parameters of `model` with what the data say of them.
    pub pinned: Vec<Pinned>,
    /// Every reading beside what the model of its unit says; the points of logs included.
    pub comparisons: Vec<Comparison>,
    /// What the model misses in tests that it has not seen.
    pub missed: Missed,
    /// Cost at the end of each descent, the best first.
    pub costs: Vec<f64>,
    /// Whether the best descent came to rest by itself.
    pub settled: bool,
    /// How often slopes were taken in it.
    pub slopes_taken: usize,
}

/// A reading beside what a model says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Comparison {
    /// Position of the test.
    pub test: usize,
    /// Position of the reading in its test, or of the point in its log.
    pub reading: usize,
    /// What was read: seconds, coulombs, a count, volts or ohms.
    pub measured: f64,
    /// What the model says.
    pub said: f64,
    /// Where a reading is expected with 90 % confidence.
    pub limits: (f64, f64),
    /// Whether the fit looked at it.
    pub fitted: bool,
}

/// Why there is no fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum NoFit {
    /// There is nothing to fit to.
    #[error("there is no reading to fit to")]
    NothingRead,
    /// The starting cell has more branches than a fit can turn.
    #[error("a cell can be fitted with at most {most} branches")]
    TooManyBranches {
        /// The most.
        most: usize,
    },
    /// The caller asked to stop.
    #[error("the fit was stopped")]
    Cancelled,
}

/// Fits a cell to tests.
///
/// # Errors
/// Nothing to fit to, too many branches, or a caller that asked to stop.
pub fn fit(request: &FitRequest<'_>, progress: &dyn Progress) -> Result<Fitted, NoFit> {
    if !request.tests.iter().any(Test::is_fitted) {
        return Err(NoFit::NothingRead);
    }
    if request.start.polarisation.len() > bed::MOST_BRANCHES {
        return Err(NoFit::TooManyBranches {
            most: bed::MOST_BRANCHES,
        });
    }
    let start = start::scaled(request.start, request.tests);
    let plan = Plan {
        start: &start,
        knobs: knobs(
            &start,
            start::told_apart(request.tests, request.units),
            start::shows_shelf(request.tests),
        ),
        tests: request.tests,
        units: request.units,
    };
    let mut landed = Vec::new();
    for n in 0..request.descents.max(1) {
        let begin = start::begin(plan.knobs.len(), n);
        let piece = Piece::new(progress, n, request.descents.max(1));
        landed.push(descend(&plan, &begin, &piece));
        if progress.cancelled() {
            return Err(NoFit::Cancelled);
        }
    }
    landed.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    let costs = landed.iter().map(|l| l.cost).collect();
    let best = landed.swap_remove(0);
    Ok(report(&plan, &best, costs))
}

fn report(plan: &Plan<'_>, best: &Landed, costs: Vec<f64>) -> Fitted {
    let turns = &best.turns;
    let units = plan.models(turns);
    let model = plan.model(turns, None);
    let said: Vec<Vec<Prediction>> = plan
        .tests
        .iter()
        .map(|t| predict(&units[t.unit], t))
        .collect();
    let (weighed, slopes) = (plan.slopes(turns), plan.apart_slopes(turns));
    let knobs = turns.len();
    let first = covariance(&weighed, knobs, 1.0);
    let scatter = spread::scatter(&spread::rows(plan, &said, &slopes, &first, 1.0), plan.tests);
    let covariance = covariance(&weighed, knobs, scatter);
    let rows = spread::rows(plan, &said, &slopes, &covariance, scatter);
    let missed = spread::missed(&rows, plan.tests);
    Fitted {
        comparisons: comparisons(plan, &said, &rows, &missed),
        pinned: property::pinned(plan, turns, &covariance),
        between: between(&model, &units, &start::fitted_units(plan.tests)),
        fitted_units: start::fitted_units(plan.tests),
        model,
        units,
        missed,
        costs,
        settled: best.settled,
        slopes_taken: best.slopes_taken,
    }
}

/// How far the units that were fitted lie apart.
fn between(model: &CellModel, units: &[CellModel], fitted: &[usize]) -> CellSpread {
    if fitted.len() < 2 {
        return model.spread;
    }
    let deviation = |of: fn(&CellModel) -> f64| {
        let all: Vec<f64> = fitted.iter().map(|&u| math::ln(of(&units[u]))).collect();
        #[expect(clippy::cast_precision_loss, reason = "a small count")]
        let n = all.len() as f64;
        let mean = all.iter().sum::<f64>() / n;
        let squares: f64 = all.iter().map(|x| (x - mean) * (x - mean)).sum();
        Fraction::from_share((squares / (n - 1.0)).sqrt())
    };
    CellSpread {
        charge: deviation(|m| m.charge.si()),
        resistance: deviation(|m| m.resistance.at(0.5)),
    }
}

fn comparisons(
    plan: &Plan<'_>,
    said: &[Vec<Prediction>],
    rows: &[spread::Row],
    missed: &Missed,
) -> Vec<Comparison> {
    let mut rows = rows.iter();
    let mut out = Vec::new();
    for (t, test) in plan.tests.iter().enumerate() {
        if let Drive::Log(log) = &test.drive {
            let own = rows.by_ref().take(log.len());
            let half = |row: &spread::Row| missed.half_volts(0.0, row.variance);
            let pairs = log.iter().zip(&said[t]).zip(own).enumerate();
            out.extend(pairs.map(|(k, ((point, said), row))| Comparison {
                test: t,
                reading: k,
                measured: point.volts.as_volts(),
                said: said.value,
                limits: (said.value - half(row), said.value + half(row)),
                fitted: true,
            }));
            continue;
        }
        for (k, (reading, said)) in test.readings.iter().zip(&said[t]).enumerate() {
            let variance = rows.next().map_or(0.0, |r| r.variance);
            let half = missed.half_interval(reading.value, said.per_share, variance);
            let limits = if predict::judged_by_ratio(reading.value) {
                (said.value * math::exp(-half), said.value * math::exp(half))
            } else {
                (said.value - half, said.value + half)
            };
            out.push(Comparison {
                test: t,
                reading: k,
                measured: reading.value.figure(),
                said: said.value,
                limits,
                fitted: reading.fitted,
            });
        }
    }
    out
}
