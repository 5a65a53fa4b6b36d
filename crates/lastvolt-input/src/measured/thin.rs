//! Logs of any length as some 1,500 points: stretches of one current and a straight voltage become one.
//!
//! A sweep keeps, from the last kept row, the cone of slopes that pass every row since within a
//! tolerance; a row outside the cone, or one at which another current begins, ends the stretch at the row
//! before. Each point carries the charge of its stretch over its time, so charge is conserved.

use lastvolt_core::fit::LogPoint;
use lastvolt_core::quantity::{Current, Time, Voltage};

use super::log::Row;
use super::sound::flow;
use super::train;

/// Most points of a log.
pub(super) const MOST: usize = 1500;
/// How far a row may lie from the straight line, at first and at most.
const VOLTS: f64 = 1e-3;
const MOST_VOLTS: f64 = 8e-3;
/// How far currents of a stretch may differ, as a share of the larger and of the largest of all.
const SHARE: f64 = 0.02;
const PEAK_SHARE: f64 = 0.002;

/// A thinned log.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Thinned {
    /// What stays.
    pub(super) points: Vec<LogPoint>,
    /// How far a row may lie from the line through the points, in volts.
    pub(super) within_volts: f64,
    /// Of how many periods of a pulse train one is kept whole; 1 where all are.
    pub(super) one_period_in: usize,
}

/// Thins a log; its first row is at time 0.
pub(super) fn thin(rows: &[Row]) -> Thinned {
    let peak = rows.iter().map(|r| r.amps.abs()).fold(0.0, f64::max);
    let mut scale = 1.0;
    let mut points = sweep(rows, peak, scale);
    while points.len() > MOST && scale * VOLTS < MOST_VOLTS {
        scale *= 2.0;
        points = sweep(rows, peak, scale);
    }
    let mut one_period_in = 1;
    if points.len() > MOST {
        (points, one_period_in) = train::reduced(points, MOST);
    }
    // What is left are steps without a period, or more noise than a cell has.
    while points.len() > MOST {
        scale *= 2.0;
        points = sweep(rows, peak, scale);
        one_period_in = 1;
    }
    Thinned {
        points,
        within_volts: scale * VOLTS,
        one_period_in,
    }
}

fn sweep(rows: &[Row], peak_amps: f64, scale: f64) -> Vec<LogPoint> {
    let (volts, share) = (scale * VOLTS, scale * SHARE);
    let floor = scale * PEAK_SHARE * peak_amps;
    let mut points = Vec::new();
    let Some(start) = rows.first().map(|r| r.secs) else {
        return points;
    };
    let mut anchor = 0;
    while anchor + 1 < rows.len() {
        let end = stretch(rows, anchor, volts, share, floor);
        let charge: f64 = rows[anchor..=end]
            .windows(2)
            .map(|w| flow(&w[0], &w[1]) * (w[1].secs - w[0].secs))
            .sum();
        let secs = rows[end].secs - rows[anchor].secs;
        points.push(point(&rows[anchor], start, charge / secs));
        anchor = end;
    }
    points.push(point(&rows[anchor], start, rows[anchor].amps));
    points
}

/// The last row that a stretch from `anchor` may reach.
fn stretch(rows: &[Row], anchor: usize, volts: f64, share: f64, floor: f64) -> usize {
    let from = &rows[anchor];
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
    let mut end = anchor + 1;
    for to in anchor + 1..rows.len() {
        let amps = flow(&rows[to - 1], &rows[to]);
        least = least.min(amps);
        most = most.max(amps);
        let allowed = floor.max(share * least.abs().max(most.abs()));
        let secs = rows[to].secs - from.secs;
        let slope = (rows[to].volts - from.volts) / secs;
        if most - least > allowed || !(low..=high).contains(&slope) {
            break;
        }
        end = to;
        low = low.max(slope - volts / secs);
        high = high.min(slope + volts / secs);
    }
    end
}

fn point(row: &Row, start_secs: f64, amps: f64) -> LogPoint {
    LogPoint {
        time: Time::from_secs(row.secs - start_secs),
        volts: Voltage::from_volts(row.volts),
        amps: Current::from_amps(amps),
    }
}

#[cfg(test)]
mod tests;
