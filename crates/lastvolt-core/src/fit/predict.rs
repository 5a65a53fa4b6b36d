//! What a cell model says that a test would have read.

use super::bed::Bed;
use super::follow::{Mark, Until, follow, follow_log};
use super::{Amount, At, Drive, Reading, Test, Value};
use crate::device::CellModel;
use crate::numerics::math;

/// What a model says for one reading, and how far apart both are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prediction {
    /// The figure in the unit of the reading: seconds, coulombs, a count, volts or ohms.
    pub value: f64,
    /// Change of the figure with the logarithm of time or charge, where it is read at one.
    pub per_share: f64,
    /// How far what the model says lies above what was read: the logarithm of their ratio for amounts
    /// and resistances, volts otherwise. A voltage of a curve is compared with the nearest point of
    /// the curve, for where it falls steeply an error of time is not one of voltage.
    pub apart: f64,
    /// One standard deviation of `apart`, what the form of the model misses included.
    pub sigma: f64,
}

/// What a model says for every reading of a test, in their order; for a log, its voltages.
///
/// Self-discharge and age before the test count; the cell is at rest when it begins.
#[must_use]
pub fn predict(model: &CellModel, test: &Test) -> Vec<Prediction> {
    let age = test.age.as_secs();
    let bed = Bed::new(model, test.ambient.as_celsius(), age, test.loses);
    let shelf = bed.lost_on_shelf(age);
    let start = bed.rested(shelf);
    let marks = match &test.drive {
        Drive::Log(log) => {
            let said = follow_log(&bed, start, log);
            let pairs = said.into_iter().zip(log);
            return pairs
                .map(|(v, p)| volts(v, 0.0, p.volts.as_volts(), 0.003))
                .collect();
        }
        Drive::Duty(duty) => follow(&bed, start, duty, until(test)),
        Drive::Rest => Vec::new(),
    };
    let readings = test.readings.iter();
    readings.map(|r| read(&bed, &marks, shelf, r)).collect()
}

/// What a model of this form misses even with the best parameters: of amounts and resistances as a
/// share, of voltages in volts.
const MODEL_SHARE: f64 = 0.02;
const MODEL_RESISTANCE_SHARE: f64 = 0.1;
const MODEL_VOLTS: f64 = 0.012;
/// Error of the time or charge at which a voltage was read, as a share.
const AXIS_SHARE: f64 = 0.015;

/// Error of the same as a share of the whole axis.
const AXIS_WHOLE_SHARE: f64 = 0.004;

/// A voltage beside another.
fn volts(value: f64, per_share: f64, read: f64, sigma: f64) -> Prediction {
    Prediction {
        value,
        per_share,
        apart: value - read,
        sigma: math::hypot(math::hypot(sigma, MODEL_VOLTS), per_share * AXIS_SHARE),
    }
}

/// An amount or a resistance beside another.
fn ratio(value: f64, read: f64, sigma: f64) -> Prediction {
    Prediction {
        value,
        per_share: 0.0,
        apart: math::ln(value.max(read * 1e-3) / read),
        sigma,
    }
}

/// How far the readings of a test look.
fn until(test: &Test) -> Until {
    let mut until = Until {
        volts: f64::INFINITY,
        on_secs: 0.0,
        coulombs: 0.0,
    };
    for reading in &test.readings {
        match reading.value {
            Value::Service { end, .. }
            | Value::Volts {
                at: At::Share { end, .. },
                ..
            } => until.volts = until.volts.min(end.as_volts()),
            Value::Volts { at, volts } => {
                // A cell that is spent long before is not followed further than this.
                until.volts = until.volts.min(volts.as_volts() * 0.75);
                match at {
                    At::Time(time) => until.on_secs = until.on_secs.max(time.as_secs()),
                    At::Charge(charge) => {
                        until.coulombs = until.coulombs.max(charge.as_coulombs());
                    }
                    At::Share { .. } | At::Depth(_) => {}
                }
            }
            Value::Rest { .. } | Value::Pulse { .. } | Value::Resistance { .. } => {}
        }
    }
    until
}

fn read(bed: &Bed<'_>, marks: &[Mark], shelf: f64, reading: &Reading) -> Prediction {
    let read = reading.value.figure();
    match reading.value {
        Value::Service { end, amount } => {
            let axis = match amount {
                Amount::Time(_) => on_secs,
                Amount::Charge(_) => coulombs,
                Amount::Count(_) => count,
            };
            let said = crossing(marks, end.as_volts(), axis);
            ratio(said, read, math::hypot(reading.sigma, MODEL_SHARE))
        }
        Value::Volts { at, .. } => {
            let (axis, at): (fn(&Mark) -> f64, f64) = match at {
                At::Time(time) => (on_secs, time.as_secs()),
                At::Charge(charge) => (coulombs, charge.as_coulombs()),
                At::Share { share, end } => {
                    (coulombs, share * crossing(marks, end.as_volts(), coulombs))
                }
                At::Depth(depth) => (coulombs, depth * bed.charge),
            };
            on_curve(
                marks,
                axis,
                at,
                read,
                math::hypot(reading.sigma, MODEL_VOLTS),
            )
        }
        Value::Rest { at, .. } => {
            let depth = depth_of(bed, at) + shelf;
            let (step, here) = (0.01, bed.rest_volts(depth));
            let slope = (bed.rest_volts(depth + step) - here) / step;
            volts(here, depth * slope, read, reading.sigma)
        }
        Value::Pulse { at, pulse, .. } => {
            let state = bed.rested(depth_of(bed, at) + shelf);
            volts(after(bed, &state, &pulse).0, 0.0, read, reading.sigma)
        }
        Value::Resistance { at, pulse, .. } => {
            let depth = depth_of(bed, at) + shelf;
            let (volts, amps) = after(bed, &bed.rested(depth), &pulse);
            let ohms = (bed.rest_volts(depth) - volts) / amps.max(1e-15);
            ratio(
                ohms,
                read,
                math::hypot(reading.sigma, MODEL_RESISTANCE_SHARE),
            )
        }
    }
}

fn on_secs(mark: &Mark) -> f64 {
    mark.on_secs
}

fn coulombs(mark: &Mark) -> f64 {
    mark.coulombs
}

fn count(mark: &Mark) -> f64 {
    mark.count
}

fn depth_of(bed: &Bed<'_>, at: At) -> f64 {
    match at {
        At::Charge(charge) => charge.as_coulombs() / bed.charge,
        At::Depth(depth) => depth,
        At::Share { share, .. } => share,
        // A time says nothing about a cell at rest.
        At::Time(_) => 0.0,
    }
}

/// Voltage and current at the end of a pulse.
fn after(bed: &Bed<'_>, start: &super::bed::Inner, pulse: &super::Step) -> (f64, f64) {
    const PIECES: u32 = 12;
    let secs = pulse.span.map_or(0.0, |t| t.as_secs());
    let (mut state, mut flow) = (*start, bed.flow(start, pulse.demand));
    if secs > 0.0 {
        for _ in 0..PIECES {
            let piece = secs / f64::from(PIECES);
            (state, _, flow) = bed.step(&state, &flow, pulse.demand, piece);
        }
    }
    (if flow.holds { flow.volts } else { 0.0 }, flow.amps)
}

/// Where the loaded voltage first falls below `end`, or the last mark if it never does.
fn crossing(marks: &[Mark], end: f64, axis: fn(&Mark) -> f64) -> f64 {
    if marks.first().is_none_or(|m| m.volts < end) {
        return 0.0;
    }
    for pair in marks.windows(2) {
        let (a, b) = (&pair[0], &pair[1]);
        if a.volts >= end && b.volts < end {
            let share = (a.volts - end) / (a.volts - b.volts);
            return axis(a) + share * (axis(b) - axis(a));
        }
    }
    marks.last().map_or(0.0, axis)
}

/// Loaded voltage where an axis has a value, held beyond the last mark, and how far a reading lies
/// from the curve when volts and shares of the axis are measured by their deviations.
fn on_curve(marks: &[Mark], axis: fn(&Mark) -> f64, at: f64, read: f64, sigma: f64) -> Prediction {
    let k = marks.partition_point(|m| axis(m) < at);
    let (value, slope) = match (k.checked_sub(1).map(|k| &marks[k]), marks.get(k)) {
        (Some(a), Some(b)) => {
            let slope = (b.volts - a.volts) / (axis(b) - axis(a)).max(1e-300);
            (a.volts + slope * (at - axis(a)), slope)
        }
        (Some(edge), None) | (None, Some(edge)) => (edge.volts, 0.0),
        (None, None) => (0.0, 0.0),
    };
    let whole = marks.last().map_or(1.0, axis);
    let along_sigma = math::hypot(AXIS_SHARE * at, AXIS_WHOLE_SHARE * whole).max(1e-300);
    let place = |m: &Mark| {
        let along = (axis(m) - at) / along_sigma;
        (along, (m.volts - read) / sigma)
    };
    let pairs = marks
        .windows(2)
        .map(|p| nearest(place(&p[0]), place(&p[1])));
    let distance = pairs.fold(f64::INFINITY, f64::min);
    let straight = (value - read).abs() / sigma;
    Prediction {
        value,
        per_share: slope * at,
        apart: distance.min(straight).copysign(value - read) * sigma,
        sigma,
    }
}

/// Distance of the origin from a stretch between two points.
fn nearest(a: (f64, f64), b: (f64, f64)) -> f64 {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let length = dx * dx + dy * dy;
    let t = if length > 0.0 {
        (-(a.0 * dx + a.1 * dy) / length).clamp(0.0, 1.0)
    } else {
        0.0
    };
    math::hypot(a.0 + t * dx, a.1 + t * dy)
}

/// Whether a figure is judged by its ratio to the measured one, and not by their difference.
#[must_use]
pub(super) fn judged_by_ratio(value: Value) -> bool {
    matches!(value, Value::Service { .. } | Value::Resistance { .. })
}
