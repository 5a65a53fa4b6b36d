//! Pulse trains of thousands of periods: some periods stay whole, the rest become their mean.
//!
//! A period begins where the current rises through its mean. A run of periods that goes becomes one
//! point with the charge of the run over its time, and the mean voltage of its first period: with a
//! linear resistance that is the voltage at the mean current.

use lastvolt_core::fit::LogPoint;
use lastvolt_core::quantity::{Current, Voltage};

/// Fewest periods of a train.
const FEWEST: usize = 50;
/// Most periods of a train differ from the middle one by less than this share; noise does not.
const REGULAR: f64 = 0.25;
/// Periods at either end that always stay.
const ENDS: usize = 2;

/// The points of a train, at most `most` where it is one, and of how many periods one stays whole.
pub(super) fn reduced(points: Vec<LogPoint>, most: usize) -> (Vec<LogPoint>, usize) {
    let starts = starts(&points);
    if starts.len() < FEWEST || !regular(&points, &starts) {
        return (points, 1);
    }
    let mut one_in = 2;
    while one_in < starts.len() {
        let kept = keep(&points, &starts, one_in);
        if kept.len() <= most {
            return (kept, one_in);
        }
        // Steps of an eighth: close to the fewest that must go, in few tries.
        one_in += 1 + one_in / 8;
    }
    (points, 1)
}

/// Indices of the points at which a period begins.
fn starts(points: &[LogPoint]) -> Vec<usize> {
    let secs = |k: usize| points[k].time.as_secs();
    let last = points.len() - 1;
    let total = secs(last) - secs(0);
    let mean = charge(points, 0, last) / total;
    let amps = |k: usize| points[k].amps.as_amps();
    (1..points.len())
        .filter(|&k| amps(k - 1) <= mean && mean < amps(k))
        .collect()
}

/// Whether at least seven in ten periods are about as long as the middle one.
fn regular(points: &[LogPoint], starts: &[usize]) -> bool {
    let secs = |k: usize| points[k].time.as_secs();
    let mut spans: Vec<f64> = starts.windows(2).map(|w| secs(w[1]) - secs(w[0])).collect();
    let half = spans.len() / 2;
    let middle = *spans.select_nth_unstable_by(half, f64::total_cmp).1;
    let like = |span: &&f64| (*span - middle).abs() < REGULAR * middle;
    10 * spans.iter().filter(like).count() >= 7 * spans.len()
}

fn charge(points: &[LogPoint], from: usize, to: usize) -> f64 {
    let pairs = points[from..=to].windows(2);
    pairs
        .map(|w| w[0].amps.as_amps() * (w[1].time.as_secs() - w[0].time.as_secs()))
        .sum()
}

fn mean_volts(points: &[LogPoint], from: usize, to: usize) -> f64 {
    let pairs = points[from..=to].windows(2);
    let area: f64 = pairs
        .map(|w| {
            let secs = w[1].time.as_secs() - w[0].time.as_secs();
            f64::midpoint(w[0].volts.as_volts(), w[1].volts.as_volts()) * secs
        })
        .sum();
    area / (points[to].time.as_secs() - points[from].time.as_secs())
}

fn keep(points: &[LogPoint], starts: &[usize], one_in: usize) -> Vec<LogPoint> {
    let n_periods = starts.len() - 1;
    let stays = |period: usize| {
        period < ENDS || n_periods <= period + ENDS || period.is_multiple_of(one_in)
    };
    let mut kept: Vec<LogPoint> = points[..starts[0]].to_vec();
    let mut period = 0;
    while period < n_periods {
        let first = period;
        if stays(period) {
            kept.extend_from_slice(&points[starts[period]..starts[period + 1]]);
            period += 1;
            continue;
        }
        while period < n_periods && !stays(period) {
            period += 1;
        }
        let (from, to) = (starts[first], starts[period]);
        let secs = points[to].time.as_secs() - points[from].time.as_secs();
        kept.push(LogPoint {
            time: points[from].time,
            volts: Voltage::from_volts(mean_volts(points, from, starts[first + 1])),
            amps: Current::from_amps(charge(points, from, to) / secs),
        });
    }
    kept.extend_from_slice(&points[starts[n_periods]..]);
    kept
}
