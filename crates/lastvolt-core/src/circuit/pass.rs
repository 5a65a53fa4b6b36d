//! The channel of load switches and ideal diodes: a resistance that may limit its current, hold a
//! small drop or block what flows back.

use crate::circuit::element::{Sink, TIE, Tap, through, volts};

/// What a channel does.
#[derive(Debug, Clone, Copy)]
pub(crate) struct PassLaw {
    /// Resistance when fully on.
    pub(crate) ohms: f64,
    /// Drop that is held at low current.
    pub(crate) held_volts: f64,
    /// Largest current.
    pub(crate) limit_amps: f64,
    /// Whether nothing flows back.
    pub(crate) blocks: bool,
}

/// Slope of a held drop, as a share of the resistance when fully on: the loop that holds it has a
/// finite gain (from memory), and two in parallel share their current.
const HELD_SLOPE: f64 = 0.1;

impl PassLaw {
    /// Voltage across it at a current, and its slope.
    fn drop_volts(&self, amps: f64) -> (f64, f64) {
        let held = self.held_volts + HELD_SLOPE * self.ohms * amps;
        let full = self.ohms * amps;
        if self.held_volts > 0.0 && held > full {
            (held, HELD_SLOPE * self.ohms)
        } else {
            (full, self.ohms)
        }
    }

    /// Whether the limit is what holds the current.
    pub(crate) fn is_limiting(&self, amps: f64) -> bool {
        amps >= self.limit_amps * (1.0 - TIE)
    }

    /// Blocking, giving and limiting in one complementarity:
    /// `min(i, max(drop(i) - v, i - limit)) = 0`, without the outer minimum where nothing blocks.
    pub(crate) fn eval(&self, x: &[f64], sink: &mut dyn Sink, (a, b): (Tap, Tap), i: usize) {
        through(sink, a, b, x[i], &[(i, 1.0)]);
        let (drop, ohms) = self.drop_volts(x[i]);
        let gives = drop - (volts(x, a.net) - volts(x, b.net));
        let limits = x[i] - self.limit_amps;
        let (value, by_volts, by_amps) = if self.blocks && x[i] < gives.max(limits) - TIE {
            (x[i], 0.0, 1.0)
        } else if gives >= limits {
            (gives, 1.0, ohms)
        } else {
            (limits, 0.0, 1.0)
        };
        let slopes = [(a.net, -by_volts), (b.net, by_volts), (i, by_amps)];
        sink.row(i, value, &slopes);
    }
}
