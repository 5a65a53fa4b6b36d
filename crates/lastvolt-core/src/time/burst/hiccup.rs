//! Recognises a circuit that does the same over and over: resets, recovers and resets again.

use crate::circuit::{Transient, Trip};
use crate::numerics::stiff::Stages as _;
use crate::time::burst::wave::Hiccup;

/// Most trips in one round.
const LONGEST_ROUND: usize = 16;
/// Rounds that must look alike.
const ROUNDS: usize = 3;
/// How alike states must be, in errors that one step may make: about 1 mV. Cells run down and settle
/// meanwhile, so two rounds are never equal to the last digit.
const ALIKE: f64 = 50.0;

/// The last trips with the states at which they happened.
#[derive(Debug, Clone, Default)]
pub(super) struct Cycles {
    trips: Vec<(f64, Trip)>,
    states: Vec<Vec<f64>>,
    found: Option<Hiccup>,
}

impl Cycles {
    /// Notes a trip.
    pub(super) fn note(&mut self, secs: f64, trip: Trip, now: &Transient) {
        self.trips.push((secs, trip));
        self.states.push(now.y.clone());
        let keep = ROUNDS * LONGEST_ROUND;
        if self.trips.len() > keep {
            self.trips.remove(0);
            self.states.remove(0);
        }
        let shortest = (1..=LONGEST_ROUND).find(|&round| self.repeats(round, now));
        self.found = shortest.map(|round| {
            let last = self.trips.len() - 1;
            Hiccup {
                period_secs: self.trips[last].0 - self.trips[last - round].0,
                time_secs: secs,
            }
        });
    }

    /// Whether the last rounds of this many trips look alike.
    fn repeats(&self, round: usize, now: &Transient) -> bool {
        let n = self.trips.len();
        if n < ROUNDS * round {
            return false;
        }
        // Passing and switching in turn is usual, unless a converter never gets beyond that.
        let falls = |trip: &Trip| match trip {
            Trip::Reset(_) | Trip::Off(_) | Trip::Collapses(_) => true,
            Trip::Passes(part) => now.is_starting(*part),
            _ => false,
        };
        if !self.trips[n - round..].iter().any(|(_, trip)| falls(trip)) {
            return false;
        }
        (n - round..n).all(|at| {
            (1..ROUNDS).all(|back| {
                let before = at - back * round;
                self.trips[at].1 == self.trips[before].1 && self.is_alike(at, before, now)
            })
        })
    }

    fn is_alike(&self, a: usize, b: usize, now: &Transient) -> bool {
        let (a, b) = (&self.states[a], &self.states[b]);
        let apart: Vec<f64> = a.iter().zip(b).map(|(a, b)| a - b).collect();
        now.frame.error(&apart, a) <= ALIKE
    }

    /// Whether a round has closed.
    pub(super) fn is_closed(&self) -> bool {
        self.found.is_some()
    }

    /// The round that has closed.
    pub(super) fn found(&self) -> Option<Hiccup> {
        self.found.clone()
    }
}
