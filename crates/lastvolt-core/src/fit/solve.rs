//! The least-squares problem: knobs turned until a model says what was read.
//!
//! # References
//! J. J. Moré, "The Levenberg-Marquardt algorithm: implementation and theory" (1978), as the crate
//! `levenberg-marquardt` computes it. Readings count by the pseudo-Huber loss (P. Charbonnier et al.,
//! IEEE Trans. Image Process. 6, 1997), so that one wrong figure does not bend a model.

use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::storage::Owned;
use nalgebra::{DMatrix, DVector, Dyn};
use rayon::prelude::*;

use super::knob::{Knob, turned};
use super::predict::predict;
use super::{Drive, Reading, Test, Value};
use crate::device::CellModel;
use crate::progress::Progress;

/// Readings of one curve count as at most so many that do not depend on each other.
const CURVE_COUNTS_AS: f64 = 8.0;
const LOG_COUNTS_AS: f64 = 40.0;
/// Turn of a knob for the slopes.
const NUDGE: f64 = 0.02;
/// Most times that slopes are taken in one descent.
const MOST_SLOPES: usize = 60;

/// Everything that stays the same during a fit.
pub(super) struct Plan<'a> {
    pub(super) start: &'a CellModel,
    pub(super) knobs: Vec<Knob>,
    pub(super) tests: &'a [Test],
    pub(super) units: usize,
}

impl Plan<'_> {
    /// The model of a unit, or of none in particular.
    pub(super) fn model(&self, turns: &[f64], unit: Option<usize>) -> CellModel {
        turned(self.start, &self.knobs, turns, unit)
    }

    /// The models of all units.
    pub(super) fn models(&self, turns: &[f64]) -> Vec<CellModel> {
        (0..self.units)
            .map(|unit| self.model(turns, Some(unit)))
            .collect()
    }

    /// Weighted differences of all fitted readings of a test.
    fn test_residuals(&self, test: &Test, models: &[CellModel]) -> Vec<f64> {
        let said = predict(&models[test.unit], test);
        let weight = crowding(test);
        let log = matches!(test.drive, Drive::Log(_));
        let places = said.iter().enumerate();
        places
            .filter(|(k, _)| log || test.readings[*k].fitted)
            .map(|(k, said)| {
                let crowded = log || matches!(test.readings[k].value, Value::Volts { .. });
                let sigma = said.sigma * if crowded { weight } else { 1.0 };
                soft(said.apart / sigma)
            })
            .collect()
    }

    /// Weighted differences of all fitted readings, then the turns themselves: what is expected of a
    /// cell of this chemistry counts as one reading for each knob.
    fn residuals(&self, turns: &[f64]) -> DVector<f64> {
        let models = self.models(turns);
        let parts: Vec<Vec<f64>> = self
            .tests
            .par_iter()
            .map(|test| self.test_residuals(test, &models))
            .collect();
        let all = parts.into_iter().flatten().chain(turns.iter().copied());
        DVector::from_vec(all.collect())
    }

    /// Slopes of the residuals, column by column.
    pub(super) fn slopes(&self, turns: &[f64]) -> DMatrix<f64> {
        let here = self.residuals(turns);
        let columns: Vec<Vec<f64>> = self
            .knobs
            .par_iter()
            .enumerate()
            .map(|(k, knob)| self.column(turns, &here, k, knob))
            .collect();
        DMatrix::from_vec(here.len(), self.knobs.len(), columns.concat())
    }

    fn column(&self, turns: &[f64], here: &DVector<f64>, k: usize, knob: &Knob) -> Vec<f64> {
        let mut moved = turns.to_vec();
        moved[k] += NUDGE;
        let models = self.models(&moved);
        let mut column = Vec::with_capacity(here.len());
        for test in self.tests {
            let n = count(test);
            if !knob.touches(self.start, test) {
                column.extend(std::iter::repeat_n(0.0, n));
                continue;
            }
            let begin = column.len();
            let there = self.test_residuals(test, &models);
            column.extend(
                there
                    .iter()
                    .zip(here.iter().skip(begin))
                    .map(|(a, b)| (a - b) / NUDGE),
            );
        }
        let expected = (0..self.knobs.len()).map(|j| if j == k { 1.0 } else { 0.0 });
        column.extend(expected);
        column
    }

    /// Slopes with the turns of how far the model lies above each reading of all tests, one row a
    /// reading.
    pub(super) fn apart_slopes(&self, turns: &[f64]) -> DMatrix<f64> {
        let apart = |turns: &[f64]| {
            let models = self.models(turns);
            let tests = self.tests.par_iter();
            let apart: Vec<Vec<f64>> = tests
                .map(|test| {
                    let said = predict(&models[test.unit], test);
                    said.into_iter().map(|s| s.apart).collect()
                })
                .collect();
            apart.concat()
        };
        let here = apart(turns);
        let mut slopes = DMatrix::zeros(here.len(), self.knobs.len());
        for k in 0..self.knobs.len() {
            let mut moved = turns.to_vec();
            moved[k] += NUDGE;
            for (row, there) in apart(&moved).into_iter().enumerate() {
                slopes[(row, k)] = (there - here[row]) / NUDGE;
            }
        }
        slopes
    }
}

/// Number of residuals of a test.
fn count(test: &Test) -> usize {
    match &test.drive {
        Drive::Log(log) => log.len(),
        Drive::Duty(_) | Drive::Rest => test.readings.iter().filter(|r| r.fitted).count(),
    }
}

/// How much less each reading of a crowded curve counts.
#[expect(clippy::cast_precision_loss, reason = "counts are far below 2^52")]
fn crowding(test: &Test) -> f64 {
    let (n, counts_as) = match &test.drive {
        Drive::Log(log) => (log.len(), LOG_COUNTS_AS),
        Drive::Duty(_) | Drive::Rest => {
            let of = |r: &&Reading| r.fitted && matches!(r.value, Value::Volts { .. });
            (test.readings.iter().filter(of).count(), CURVE_COUNTS_AS)
        }
    };
    (n as f64 / counts_as).max(1.0).sqrt()
}

/// The pseudo-Huber loss as a residual: like `r` where it is small, like its root where it is large.
fn soft(r: f64) -> f64 {
    const WIDTH: f64 = 2.0;
    let u = r / WIDTH;
    let half = (1.0 + u * u).sqrt() - 1.0;
    WIDTH * (2.0 * half).sqrt().copysign(r)
}

/// One descent.
struct Descent<'p, 'a> {
    plan: &'p Plan<'a>,
    turns: DVector<f64>,
    progress: &'p dyn Progress,
    slopes_taken: std::sync::atomic::AtomicUsize,
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Descent<'_, '_> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, turns: &DVector<f64>) {
        self.turns.copy_from(turns);
    }

    fn params(&self) -> DVector<f64> {
        self.turns.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        (!self.progress.cancelled()).then(|| self.plan.residuals(self.turns.as_slice()))
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        let taken = self
            .slopes_taken
            .fetch_add(1, std::sync::atomic::Ordering::Relaxed);
        if self.progress.cancelled() || taken >= MOST_SLOPES {
            return None;
        }
        #[expect(clippy::cast_precision_loss, reason = "a small count")]
        self.progress.at(taken as f64 / MOST_SLOPES as f64);
        Some(self.plan.slopes(self.turns.as_slice()))
    }
}

/// Where a descent ended.
pub(super) struct Landed {
    pub(super) turns: Vec<f64>,
    /// Half the sum of the squared residuals.
    pub(super) cost: f64,
    /// Whether the descent came to rest by itself.
    pub(super) settled: bool,
    pub(super) slopes_taken: usize,
}

/// Descends from a start.
pub(super) fn descend(plan: &Plan<'_>, start: &[f64], progress: &dyn Progress) -> Landed {
    let problem = Descent {
        plan,
        turns: DVector::from_column_slice(start),
        progress,
        slopes_taken: std::sync::atomic::AtomicUsize::new(0),
    };
    let method = LevenbergMarquardt::new()
        .with_ftol(1e-6)
        .with_xtol(1e-6)
        .with_stepbound(1.0);
    let (problem, report) = method.minimize(problem);
    let turns = problem.turns.as_slice().to_vec();
    let residuals = plan.residuals(&turns);
    Landed {
        cost: residuals.norm_squared() / 2.0,
        settled: report.termination.was_successful(),
        slopes_taken: problem
            .slopes_taken
            .load(std::sync::atomic::Ordering::Relaxed),
        turns,
    }
}

/// Covariance of the turns where a descent ended: the inverse of `J^T J / scatter + 1`, with the slopes
/// of the readings in `J` and 1 for what is expected.
///
/// `scatter` is the variance of the readings over what was taken for it. What is expected of a
/// chemistry is not scaled by it.
pub(super) fn covariance(slopes: &DMatrix<f64>, knobs: usize, scatter: f64) -> DMatrix<f64> {
    let readings = slopes.rows(0, slopes.nrows() - knobs);
    let normal = readings.tr_mul(&readings) / scatter + DMatrix::identity(knobs, knobs);
    // The expectations make it positive definite.
    normal
        .cholesky()
        .map_or_else(|| DMatrix::identity(knobs, knobs), |c| c.inverse())
}
