//! How far a reading may lie from what a model says: the 90 % interval of a prediction.
//!
//! Two things add: how well the data pin the parameters down, and what the form of the model misses.
//! The second is found by leaving out each test in turn (in the linear approximation of PRESS, D. M.
//! Allen, Technometrics 16, 1974) and widening until nine in ten of those left out lie inside. Quantiles are Student's for the number of tests.

use nalgebra::DMatrix;

use super::predict::judged_by_ratio;
use super::solve::Plan;
use super::{Drive, Prediction, Test};

/// What is judged alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Amount,
    Volts,
}

/// One standard deviation of what the model misses, of amounts as a share and of voltages in volts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Missed {
    /// Of times, charges and resistances, as a share.
    pub share: f64,
    /// Number of tests that say so.
    pub share_tests: usize,
    /// Of voltages, in volts.
    pub volts: f64,
    /// Number of tests that say so.
    pub volts_tests: usize,
}

/// A reading beside what is said of it.
pub(super) struct Row {
    pub(super) test: usize,
    kind: Kind,
    fitted: bool,
    apart: f64,
    /// Variance of the prediction by the parameters.
    pub(super) variance: f64,
    /// Share of its own reading in its prediction.
    leverage: f64,
}

/// Least that a model of this form is taken to miss, where the tests at hand happen to agree better.
const LEAST_SHARE: f64 = 0.01;
const LEAST_VOLTS: f64 = 0.004;

/// Every reading of every test that is not a log.
pub(super) fn rows(
    plan: &Plan<'_>,
    said: &[Vec<Prediction>],
    slopes: &DMatrix<f64>,
    covariance: &DMatrix<f64>,
) -> Vec<Row> {
    let mut rows = Vec::new();
    let mut at = 0;
    for (t, test) in plan.tests.iter().enumerate() {
        if matches!(test.drive, Drive::Log(_)) {
            at += said[t].len();
            continue;
        }
        for (reading, said) in test.readings.iter().zip(&said[t]) {
            let slope = slopes.row(at);
            let variance = (slope * covariance * slope.transpose())[(0, 0)].max(0.0);
            let kind = if judged_by_ratio(reading.value) {
                Kind::Amount
            } else {
                Kind::Volts
            };
            rows.push(Row {
                test: t,
                kind,
                fitted: reading.fitted,
                apart: said.apart,
                variance,
                leverage: (variance / (said.sigma * said.sigma)).min(0.95),
            });
            at += 1;
        }
    }
    rows
}

/// What the model misses, from its fitted readings with each left out in turn.
pub(super) fn missed(rows: &[Row], tests: &[Test]) -> Missed {
    let (share, share_tests) = of_kind(rows, Kind::Amount, tests.len());
    let (volts, volts_tests) = of_kind(rows, Kind::Volts, tests.len());
    Missed {
        share: share.max(LEAST_SHARE),
        share_tests,
        volts: volts.max(LEAST_VOLTS),
        volts_tests,
    }
}

/// The extra deviation with which nine in ten readings of a kind, each left out in turn, lie inside
/// their 90 % interval.
#[expect(clippy::cast_precision_loss, reason = "counts are far below 2^52")]
fn of_kind(rows: &[Row], kind: Kind, tests: usize) -> (f64, usize) {
    let mut per_test = vec![Vec::new(); tests];
    for row in rows.iter().filter(|r| r.fitted && r.kind == kind) {
        let out = 1.0 - row.leverage;
        per_test[row.test].push((row.apart / out, row.variance / out));
    }
    per_test.retain(|list| !list.is_empty());
    if per_test.is_empty() {
        return (0.0, 0);
    }
    // A curve counts as one test, however many its points: its readings share one count.
    let inside = |extra: f64| {
        let of = |list: &Vec<(f64, f64)>| {
            let within = list.iter().filter(|(e, v)| e.abs() <= 1.645 * (v + extra * extra).sqrt());
            within.count() as f64 / list.len() as f64
        };
        per_test.iter().map(of).sum::<f64>() / per_test.len() as f64
    };
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if inside(middle) < 0.9 {
            low = middle;
        } else {
            high = middle;
        }
    }
    (high, per_test.len())
}

impl Missed {
    /// Half the 90 % interval of a prediction with a variance by the parameters: a share where the
    /// value is judged by its ratio, volts otherwise.
    #[must_use]
    pub fn half_interval(&self, value: super::Value, per_share: f64, variance: f64) -> f64 {
        let (own, tests) = if judged_by_ratio(value) {
            (self.share, self.share_tests)
        } else {
            (self.volts.hypot(per_share * self.share), self.volts_tests)
        };
        student_95(tests) * (variance + own * own).sqrt()
    }
}

/// The 95 % quantile of Student's distribution (tables of any handbook of statistics).
fn student_95(degrees: usize) -> f64 {
    const TABLE: [f64; 10] = [
        6.314, 2.920, 2.353, 2.132, 2.015, 1.943, 1.895, 1.860, 1.833, 1.812,
    ];
    match degrees {
        0 => TABLE[0],
        1..=10 => TABLE[degrees - 1],
        11..=20 => 1.753,
        21..=40 => 1.697,
        _ => 1.645,
    }
}
