//! One stretch of a table of a board, and where a cell meets it.
//!
//! # Formula
//! ```text
//! excess(V) = V + R0 i + n b asinh(i / (2 i0)) - (E - sum v_n)   i = P(V)/V   P a parabola
//! ```
//! The cell and the board agree where the excess is zero; above that voltage it is positive.

use crate::device::CellModel;
use crate::time::table::Stopped;

/// A stretch of voltage with one rule.
#[derive(Debug, Clone)]
pub(crate) struct Panel {
    pub(crate) low: f64,
    pub(crate) high: f64,
    /// Places of its points, low to high; two of them for a straight line.
    pub(crate) nodes: [usize; 3],
    pub(crate) watts: [f64; 3],
    pub(crate) straight: bool,
    pub(crate) stopped: Option<Stopped>,
}

/// The cell that meets the table.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Source<'a> {
    /// Voltage without current, all cells in series.
    pub(crate) volts: f64,
    pub(crate) ohms: f64,
    pub(crate) series: f64,
    pub(crate) model: &'a CellModel,
}

impl Panel {
    /// Weights of the three points.
    pub(crate) fn weights(&self, volts: f64) -> [f64; 3] {
        let t = (volts - self.low) / (self.high - self.low);
        if self.straight {
            return [0.0, 1.0 - t, t];
        }
        [
            (1.0 - t) * (1.0 - 2.0 * t),
            4.0 * t * (1.0 - t),
            t * (2.0 * t - 1.0),
        ]
    }

    /// Power out of the terminals and its derivative.
    pub(crate) fn source_watts(&self, volts: f64) -> (f64, f64) {
        let width = self.high - self.low;
        let t = (volts - self.low) / width;
        let [a, b, c] = self.watts;
        if self.straight {
            return (b + t * (c - b), (c - b) / width);
        }
        let (slope, bend) = (4.0 * b - 3.0 * a - c, 2.0 * (a - 2.0 * b + c));
        (a + t * (slope + t * bend), (slope + 2.0 * t * bend) / width)
    }

    /// By how much a terminal voltage lies above what the cell gives at the board's current, and its
    /// derivative.
    pub(crate) fn excess(&self, source: &Source, volts: f64) -> (f64, f64) {
        let (watts, slope) = self.source_watts(volts);
        let amps = watts / volts;
        let amps_slope = (slope - amps) / volts;
        let (act, act_slope) = source.model.activation_volts(amps);
        let drop = amps * source.ohms + source.series * act;
        let drop_slope = source.ohms + source.series * act_slope;
        (volts + drop - source.volts, 1.0 + drop_slope * amps_slope)
    }

    /// The highest root below `top`, where the excess is positive; `short` follows its lowest value.
    pub(crate) fn cross_down(&self, source: &Source, top: f64, short: &mut f64) -> Option<f64> {
        let bottom = self.low;
        let middle = f64::midpoint(bottom, top);
        let [low, mid, high] = [bottom, middle, top].map(|v| self.excess(source, v).0);
        if high <= 0.0 {
            return Some(top);
        }
        // The parabola through the three finds a dip between them, as near a fold.
        let bend = low - 2.0 * mid + high;
        let dip = middle - 0.25 * (top - bottom) * (high - low) / bend;
        let mut points = vec![(top, high), (middle, mid), (bottom, low)];
        if bend > 0.0 && bottom < dip && dip < top {
            points.push((dip, self.excess(source, dip).0));
            points.sort_by(|a, b| b.0.total_cmp(&a.0));
        }
        let mut above = top;
        for (volts, value) in points {
            *short = short.min(value);
            if value <= 0.0 {
                return Some(self.root(source, volts, above));
            }
            above = volts;
        }
        None
    }

    /// The root between a voltage with a negative and one with a positive excess.
    pub(crate) fn root(&self, source: &Source, low: f64, high: f64) -> f64 {
        let (mut low, mut high) = (low, high);
        let mut volts = f64::midpoint(low, high);
        for _ in 0..80 {
            let (excess, slope) = self.excess(source, volts);
            if excess <= 0.0 {
                low = volts;
            } else {
                high = volts;
            }
            // Newton inside the bracket, halving where it leads out.
            let step = excess / slope;
            if step.abs() <= 1e-14 * high {
                return volts - step;
            }
            let next = volts - step;
            let inside = low < next && next < high;
            let next = if inside {
                next
            } else {
                f64::midpoint(low, high)
            };
            volts = next;
        }
        volts
    }
}
