//! How far a reading may lie from what a model says: the 90 % interval of a prediction.
//!
//! Two things add: how well the data pin the parameters down, and what the form of the model misses.
//! The second is the residual variance of regression: squared differences over the number of tests
//! less the sum of their leverages (N. R. Draper and H. Smith, "Applied Regression Analysis"), with what
//! is expected of such a model before. Quantiles are Student's for that number.

use nalgebra::DMatrix;

use super::solve::Plan;
use super::{Drive, Prediction, Test, Value};
use crate::numerics::math;

/// What is judged alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Amount,
    Resistance,
    Volts,
}

impl Kind {
    fn of(value: Value) -> Self {
        match value {
            Value::Service { .. } => Self::Amount,
            Value::Resistance { .. } => Self::Resistance,
            Value::Volts { .. } | Value::Rest { .. } | Value::Pulse { .. } => Self::Volts,
        }
    }
}

/// One standard deviation of what the model misses, of amounts and resistances as a share and of
/// voltages in volts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Missed {
    /// Of times and charges, as a share.
    pub share: f64,
    /// Number of tests that say so, beyond those that the parameters took up.
    pub share_freedom: f64,
    /// Of voltages, in volts.
    pub volts: f64,
    /// Number of tests that say so, beyond those that the parameters took up.
    pub volts_freedom: f64,
    /// Of resistances, as a share.
    pub resistance_share: f64,
    /// Number of tests that say so, beyond those that the parameters took up.
    pub resistance_freedom: f64,
}

/// What a cell model of this form misses is known from other cells before a test is made: as if this
/// many tests had said so (a scaled inverse chi-square distribution; A. Gelman et al., "Bayesian Data
/// Analysis", chapter 2).
const EXPECTED_COUNTS_AS: f64 = 4.0;

/// A log goes through all of a discharge, with as much to say as this many curves that were read off.
const LOG_TESTS: f64 = 10.0;

impl Kind {
    /// What is expected to be missed: a share of amounts, volts of voltages.
    fn expected(self) -> f64 {
        match self {
            Self::Amount => 0.03,
            Self::Resistance => 0.1,
            Self::Volts => 0.02,
        }
    }
}

/// A reading beside what is said of it.
pub(super) struct Row {
    pub(super) test: usize,
    kind: Kind,
    fitted: bool,
    apart: f64,
    sigma: f64,
    /// Variance of the prediction by the parameters.
    pub(super) variance: f64,
    /// Share of its own reading in its prediction.
    leverage: f64,
}

/// Every reading of every test; the points of a log are readings of voltages.
pub(super) fn rows(
    plan: &Plan<'_>,
    said: &[Vec<Prediction>],
    slopes: &DMatrix<f64>,
    covariance: &DMatrix<f64>,
    scatter: f64,
) -> Vec<Row> {
    let mut rows = Vec::new();
    for (t, test) in plan.tests.iter().enumerate() {
        for (k, said) in said[t].iter().enumerate() {
            let slope = slopes.row(rows.len());
            let variance = (slope * covariance * slope.transpose())[(0, 0)].max(0.0);
            let (kind, fitted) = match (&test.drive, test.readings.get(k)) {
                (Drive::Log(_), _) | (_, None) => (Kind::Volts, true),
                (_, Some(reading)) => (Kind::of(reading.value), reading.fitted),
            };
            rows.push(Row {
                test: t,
                kind,
                fitted,
                apart: said.apart,
                sigma: said.sigma,
                variance,
                leverage: (variance / (scatter * said.sigma * said.sigma)).min(0.95),
            });
        }
    }
    rows
}

/// What the model misses, from its fitted readings.
pub(super) fn missed(rows: &[Row], tests: &[Test]) -> Missed {
    let (share, share_freedom) = of_kind(rows, Kind::Amount, tests);
    let (volts, volts_freedom) = of_kind(rows, Kind::Volts, tests);
    let (resistance_share, resistance_freedom) = of_kind(rows, Kind::Resistance, tests);
    Missed {
        share,
        share_freedom,
        volts,
        volts_freedom,
        resistance_share,
        resistance_freedom,
    }
}

/// One standard deviation of what the model misses in readings of a kind, and the number of tests
/// beyond what the parameters took up: the residual variance of regression, with a curve counted as
/// one test.
fn of_kind(rows: &[Row], kind: Kind, tests: &[Test]) -> (f64, f64) {
    let (squares, spare) = residual(rows, tests, |row| (row.kind == kind).then_some(row.apart));
    let spare = spare + EXPECTED_COUNTS_AS;
    let expected = kind.expected();
    let variance = (squares + EXPECTED_COUNTS_AS * expected * expected) / spare;
    (variance.sqrt(), spare)
}

/// Variance of the readings over what was taken for it: 1 is expected, as if four tests had said so.
pub(super) fn scatter(rows: &[Row], tests: &[Test]) -> f64 {
    let (squares, spare) = residual(rows, tests, |row| Some(row.apart / row.sigma));
    (squares + EXPECTED_COUNTS_AS) / (spare + EXPECTED_COUNTS_AS)
}

/// Sum over tests of their mean squares, and the number of tests less their mean leverages.
fn residual(rows: &[Row], tests: &[Test], of: impl Fn(&Row) -> Option<f64>) -> (f64, f64) {
    let mut per_test = vec![(0.0, 0.0, 0.0); tests.len()];
    for row in rows.iter().filter(|r| r.fitted) {
        let Some(apart) = of(row) else { continue };
        let sums = &mut per_test[row.test];
        sums.0 += apart * apart;
        sums.1 += row.leverage;
        sums.2 += 1.0;
    }
    let weight = |t: &Test| match t.drive {
        Drive::Log(_) => LOG_TESTS,
        Drive::Duty(_) | Drive::Rest => 1.0,
    };
    let weighed = || {
        let pairs = per_test.iter().zip(tests);
        pairs
            .filter(|(sums, _)| sums.2 > 0.0)
            .map(|(sums, test)| (sums, weight(test)))
    };
    let count: f64 = weighed().map(|(_, w)| w).sum();
    let squares: f64 = weighed().map(|(s, w)| w * s.0 / s.2).sum();
    let taken: f64 = weighed().map(|(s, w)| w * s.1 / s.2).sum();
    (squares, (count - taken).max(0.0))
}

impl Missed {
    /// Half the 90 % interval of a prediction with a variance by the parameters: a share where the
    /// value is judged by its ratio, volts otherwise.
    #[must_use]
    pub fn half_interval(&self, value: Value, per_share: f64, variance: f64) -> f64 {
        let (own, freedom) = match Kind::of(value) {
            Kind::Amount => (self.share, self.share_freedom),
            Kind::Resistance => (self.resistance_share, self.resistance_freedom),
            Kind::Volts => return self.half_volts(per_share, variance),
        };
        student_95(freedom) * (variance + own * own).sqrt()
    }

    /// Half the 90 % interval of a voltage.
    pub(super) fn half_volts(&self, per_share: f64, variance: f64) -> f64 {
        let own = math::hypot(self.volts, per_share * self.share);
        student_95(self.volts_freedom) * (variance + own * own).sqrt()
    }
}

/// The 95 % quantile of Student's distribution, by the expansion of M. Abramowitz and I. A. Stegun,
/// "Handbook of Mathematical Functions" (1964), 26.7.5, with three terms within 0.3 % from three degrees
/// on; there are never fewer than four.
fn student_95(freedom: f64) -> f64 {
    const NORMAL: f64 = 1.644_854;
    let (z, n) = (NORMAL, freedom);
    let first = (z.powi(3) + z) / (4.0 * n);
    let second = (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / (96.0 * n * n);
    let third =
        (3.0 * z.powi(7) + 19.0 * z.powi(5) + 17.0 * z.powi(3) - 15.0 * z) / (384.0 * n * n * n);
    z + first + second + third
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Abramowitz and Stegun, table 26.10, column A = 0.90.
    #[test]
    fn ref_handbook_quantiles_of_student() {
        for (freedom, quantile) in [
            (3.0, 2.353),
            (4.0, 2.132),
            (5.0, 2.015),
            (6.0, 1.943),
            (8.0, 1.860),
            (10.0, 1.812),
            (15.0, 1.753),
            (20.0, 1.725),
            (30.0, 1.697),
            (60.0, 1.671),
            (120.0, 1.658),
            (1e9, 1.645),
        ] {
            let off = student_95(freedom) / quantile - 1.0;
            assert!(off.abs() < 3e-3, "{freedom}: {off}");
        }
    }

    /// It falls everywhere.
    #[test]
    fn law_more_freedom_narrows_an_interval() {
        let all = (0..400).map(|n| student_95(3.0 + f64::from(n) * 0.025));
        let all: Vec<f64> = all.collect();
        assert!(all.windows(2).all(|p| p[1] <= p[0]), "{all:?}");
    }
}
