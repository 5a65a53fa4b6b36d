//! What a burst comes to beyond its static end: capacitors that carry part of it, regulators that
//! answer late.
//!
//! Bursts are followed through the whole circuit at few instants of a life; between them the
//! difference from the static end is carried on along how far margin and cell voltage have moved, and
//! a burst is followed again before what that may be wrong by matters: always near an end.

use std::cmp::Ordering;

use crate::device::CellState;
use crate::model::Device;
use crate::quantity::Temperature;
use crate::time::burst::NoWave;
use crate::time::engine::{Engine, behind_lag};
use crate::time::occurrence::{Occurrence, worst};
use crate::time::ports::Which;
use crate::time::ripple::start_weights;
use crate::time::schedule::Schedule;
use crate::time::site::{BRANCH, IMBALANCE, Seen};

/// What a difference may be wrong by anywhere, and at the end of a life.
const UNSURE_VOLTS: f64 = 2e-3;
const UNSURE_AT_END_VOLTS: f64 = 3e-5;
/// How many times what it may be wrong by a margin must be.
const SAFE: f64 = 3.0;
/// Change of a difference with margin and cell voltage: before two are known, and at least.
const FIRST_RATE: f64 = 0.1;
const LEAST_RATE: f64 = 0.01;
/// Cell voltages nearer than this are the same where a board does not run.
const SAME_CELL_VOLTS: f64 = 3e-5;
/// What a difference found at another temperature or among other tasks may be wrong by besides.
const ELSEWHERE_VOLTS: f64 = 1e-3;
/// Share of what a burst is apart among other tasks by which that may change on the way.
const APART_SHARE: f64 = 0.5;

/// All bursts of a schedule, and those that have been followed.
pub(crate) struct Swings {
    occurrences: Vec<Occurrence>,
    /// By joint state.
    of_joint: Vec<Option<usize>>,
    /// By temperature of the course.
    celsius: Vec<f64>,
    night: Option<f64>,
    samples: Vec<Sample>,
    /// Where these are.
    places: Vec<Place>,
    /// Bursts followed so far.
    pub(crate) followed: usize,
    /// Whether a burst could not be followed, so that its static end stands.
    pub(crate) is_static: bool,
}

/// A burst that has been followed.
#[derive(Debug, Clone, Copy)]
struct Sample {
    place: Place,
    at: At,
    /// Margin followed less margin of the static end.
    difference: f64,
}

/// Which burst, where.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Place {
    pub(crate) occurrence: usize,
    pub(crate) mix: usize,
    pub(crate) which: Which,
}

/// The static end of a burst.
#[derive(Debug, Clone, Copy)]
pub(crate) struct At {
    pub(crate) margin_volts: f64,
    pub(crate) cell_volts: f64,
    /// Whether the board does not run there.
    pub(crate) stops: bool,
}

impl At {
    fn distance(&self, other: &Self) -> f64 {
        (self.margin_volts - other.margin_volts).abs() + (self.cell_volts - other.cell_volts).abs()
    }
}

fn by_distance(a: &Sample, b: &Sample, at: &At) -> Ordering {
    a.at.distance(at).total_cmp(&b.at.distance(at))
}

impl Swings {
    pub(crate) fn new(schedule: &Schedule, celsius: &[f64], night: Option<f64>) -> Self {
        let mut occurrences: Vec<Occurrence> = Vec::new();
        let of_joint = (0..schedule.joints.len()).map(|joint| {
            let new = Occurrence::new(schedule, joint)?;
            let known = occurrences.iter().position(|o| o.tasks == new.tasks);
            Some(known.unwrap_or_else(|| {
                occurrences.push(new);
                occurrences.len() - 1
            }))
        });
        Self {
            of_joint: of_joint.collect(),
            occurrences,
            celsius: celsius.to_vec(),
            night,
            samples: Vec::new(),
            places: Vec::new(),
            followed: 0,
            is_static: false,
        }
    }

    /// The burst that a joint state belongs to.
    pub(crate) fn of_joint(&self, joint: usize) -> Option<usize> {
        self.of_joint[joint]
    }

    /// The difference at an instant as far as it is known, and what it may be wrong by.
    fn known(&self, place: Place, at: &At) -> Option<(f64, f64)> {
        let Some((nearest, rate)) = self.nearest(place, at) else {
            let alike = self
                .samples
                .iter()
                .filter(|s| s.place.occurrence == place.occurrence && s.at.stops == at.stops);
            let other = alike.min_by(|a, b| by_distance(a, b, at))?;
            let unsure =
                ELSEWHERE_VOLTS + 0.5 * other.difference.abs() + FIRST_RATE * other.at.distance(at);
            return Some((other.difference, unsure));
        };
        Some((nearest.difference, rate * nearest.at.distance(at)))
    }

    /// The same by what was followed among other tasks.
    fn known_beside(&self, place: Place, at: &At) -> Option<(f64, f64)> {
        let nearest = self.nearest(place, at)?;
        let beside = self
            .places
            .iter()
            .filter(|p| **p != place && (p.occurrence, p.which) == (place.occurrence, place.which));
        let carried = beside.filter_map(|&other| self.carried(other, nearest, at));
        carried.min_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// The difference as the same burst among other tasks had it, moved by what both were apart where
    /// this one was followed.
    fn carried(
        &self,
        other: Place,
        (nearest, rate): (&Sample, f64),
        at: &At,
    ) -> Option<(f64, f64)> {
        let (there, there_rate) = self.nearest(other, at)?;
        let (then, _) = self.nearest(other, &nearest.at)?;
        let apart = nearest.difference - then.difference;
        let unsure = there_rate * there.at.distance(at)
            + rate.max(there_rate) * then.at.distance(&nearest.at)
            + APART_SHARE * apart.abs();
        Some((there.difference + apart, unsure))
    }

    /// The burst of a place that was followed nearest to an instant, and how fast differences change
    /// there.
    fn nearest(&self, place: Place, at: &At) -> Option<(&Sample, f64)> {
        let own = |s: &&Sample| s.place == place && s.at.stops == at.stops;
        let near = |a: &&Sample, b: &&Sample| by_distance(a, b, at);
        let nearest = self.samples.iter().filter(own).min_by(near)?;
        let others = self.samples.iter().filter(own);
        let next = others
            .filter(|s| s.at.distance(&nearest.at) > 1e-9)
            .min_by(near);
        let rate = next.map_or(FIRST_RATE, |next| {
            let by = (next.difference - nearest.difference).abs();
            (2.0 * by / next.at.distance(&nearest.at)).max(LEAST_RATE)
        });
        Some((nearest, rate))
    }

    /// The margin where the board does not run at the static end, so that only what it has stored may
    /// carry it: a weaker cell than one that failed fails, a stronger one than one that held holds.
    fn bracketed(&self, place: Place, at: &At) -> Option<f64> {
        let alike = |s: &&Sample| s.place == place && s.at.stops;
        let samples = self.samples.iter().filter(alike);
        let margin = |s: &Sample| s.at.margin_volts + s.difference;
        let holds = |s: &&Sample| margin(s) >= 0.0;
        let (held, failed): (Vec<&Sample>, Vec<&Sample>) = samples.partition(holds);
        let weakest = held
            .into_iter()
            .min_by(|a, b| a.at.cell_volts.total_cmp(&b.at.cell_volts));
        let strongest = failed
            .into_iter()
            .max_by(|a, b| a.at.cell_volts.total_cmp(&b.at.cell_volts));
        let same = |s: &Sample| (s.at.cell_volts - at.cell_volts).abs() < SAME_CELL_VOLTS;
        match (weakest, strongest) {
            (Some(s), _) if s.at.cell_volts <= at.cell_volts || same(s) => Some(margin(s)),
            (_, Some(s)) if at.cell_volts <= s.at.cell_volts || same(s) => Some(margin(s)),
            _ => None,
        }
    }
}

impl Engine<'_, '_, '_> {
    /// What a burst's margin is beyond that of its static end.
    pub(crate) fn swing(
        &mut self,
        mix: usize,
        occurrence: usize,
        at: At,
        states: &[f64],
        cold: bool,
    ) -> f64 {
        let which = if cold { Which::Night } else { self.which() };
        let place = Place {
            occurrence,
            mix,
            which,
        };
        let known = self.swings.known(place, &at);
        // What a shift of all voltages moves is asked of the static end.
        if self.lowered_volts > 0.0 {
            return known.map_or(0.0, |k| k.0);
        }
        let enough = |&(difference, unsure): &(f64, f64)| {
            let spare = (at.margin_volts + difference).abs();
            let is_safe = unsure <= UNSURE_VOLTS && spare > SAFE * unsure + 1e-4;
            is_safe || unsure <= UNSURE_AT_END_VOLTS
        };
        let beside = || self.swings.known_beside(place, &at).filter(enough);
        if let Some((difference, _)) = known.filter(enough).or_else(beside) {
            return difference;
        }
        if at.stops
            && let Some(margin) = self.swings.bracketed(place, &at)
        {
            return margin - at.margin_volts;
        }
        let Some(margin) = self.follow_burst(place, states, cold) else {
            self.swings.is_static = true;
            return 0.0;
        };
        let difference = margin - at.margin_volts;
        if !self.swings.places.contains(&place) {
            self.swings.places.push(place);
        }
        self.swings.samples.push(Sample {
            place,
            at,
            difference,
        });
        difference
    }

    /// Margin of a burst that is followed; none where it cannot be.
    fn follow_burst(&mut self, place: Place, states: &[f64], cold: bool) -> Option<f64> {
        self.swings.followed += 1;
        let cells = self.cells_before(place, states, cold);
        let mut situation = self.situation.clone();
        let celsius = match place.which {
            Which::Night => self.swings.night?,
            Which::Course(at) => self.swings.celsius[at],
        };
        situation.ambient = Temperature::from_celsius(celsius);
        let occurrence = &self.swings.occurrences[place.occurrence];
        let drift = self.capacitor_drift();
        let wave: Result<_, NoWave> = occurrence.follow(self.circuit, &situation, &cells, drift);
        let names: Vec<String> = self.loads.iter().map(|l| l.0.clone()).collect();
        worst(&wave.ok()?, &names).map(|fared| fared.spare_volts)
    }

    /// The cells at the instant at which a burst begins.
    fn cells_before(&self, place: Place, states: &[f64], cold: bool) -> Vec<Vec<CellState>> {
        let schedule = &self.schedule;
        let (mix, tasks) = (
            &schedule.mixes[place.mix],
            &self.swings.occurrences[place.occurrence].tasks,
        );
        let sites = self.sites_at(cold).iter().enumerate();
        let each = sites.map(|(k, site)| {
            let mut seen = Seen::default();
            site.see(states, &mut seen);
            if cold {
                for (volts, factor) in seen.branch_volts.iter_mut().zip(&site.night) {
                    *volts *= factor;
                }
            }
            let ripple = |rate: f64| -> f64 {
                let weights = start_weights(schedule, mix, tasks, rate);
                weights.iter().map(|&(g, w)| w * self.excess(k, g)).sum()
            };
            let lag = site.lag_rate(states).map(|rate| (rate, ripple(rate)));
            let beyond = |rate: f64| {
                let own = (rate, ripple(rate));
                lag.map_or(own.1, |lag| behind_lag(own, lag))
            };
            let rates: Vec<f64> = site.rates().collect();
            if site.rate > 0.0 {
                let by = beyond(rates[IMBALANCE]);
                seen.imbalance += by / (site.available * site.charge * site.rate);
            }
            let ohms = site.ohms(site.model.surface(seen.depth, seen.imbalance), seen.aged);
            for (n, branch) in site.branches.iter().enumerate() {
                seen.branch_volts[n] += branch.0 * ohms * beyond(rates[BRANCH + n]);
            }
            vec![seen.state(); site.series]
        });
        each.collect()
    }

    /// Whether bursts differ from their static end at all: without any capacitor they do not.
    pub(crate) fn may_swing(&self) -> bool {
        let parts = self.circuit.parts();
        let mut kinds = parts.iter().map(|(_, part)| &part.device);
        kinds.any(|device| matches!(device, Device::Capacitor(c) if c.value.si() > 0.0))
    }
}
