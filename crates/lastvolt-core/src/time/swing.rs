//! What a burst comes to beyond its static end: capacitors that carry part of it, regulators that
//! answer late.
//!
//! Bursts are followed through the whole circuit at few instants of a life; between them the
//! difference from the static end is carried on along how far margin and cell voltage have moved, and
//! a burst is followed again before what that may be wrong by matters: always near an end.

use crate::circuit::Circuit;
use crate::device::CellState;
use crate::model::Device;
use crate::numerics::math;
use crate::quantity::Temperature;
use crate::time::burst::{NeedSeen, Waveform};
use crate::time::engine::{Engine, behind_lag};
use crate::time::occurrence::{Occurrence, worst};
use crate::time::ports::Which;
use crate::time::ripple::start_weights;
use crate::time::schedule::Schedule;
use crate::time::site::{BRANCH, IMBALANCE, Seen};

/// What a difference may be wrong by anywhere, and at the end of a life.
const UNSURE_VOLTS: f64 = 2e-3;
const UNSURE_AT_END_VOLTS: f64 = 3e-5;
/// The same for the answer to one cold night.
const UNSURE_AT_NIGHT_VOLTS: f64 = 3e-4;
/// How far a settled board must fail where its capacitors hold.
const CARRIED_VOLTS: f64 = 0.05;
/// How many times what it may be wrong by a margin must be.
const SAFE: f64 = 3.0;
/// Change of a difference with margin and cell voltage: before two are known, and at least.
const FIRST_RATE: f64 = 0.1;
const LEAST_RATE: f64 = 0.01;
/// Cell voltages nearer than this are the same where a board does not run.
const SAME_CELL_VOLTS: f64 = 3e-5;
/// What a difference found at another temperature or among other tasks may be wrong by besides.
const ELSEWHERE_VOLTS: f64 = 1e-3;

/// All bursts of a schedule, and those that have been followed.
pub(crate) struct Swings {
    occurrences: Vec<Occurrence>,
    /// By joint state.
    of_joint: Vec<Option<usize>>,
    /// By temperature of the course.
    celsius: Vec<f64>,
    night: Option<f64>,
    samples: Vec<Sample>,
    /// Bursts followed so far.
    pub(crate) followed: usize,
    /// Whether a burst could not be followed, so that its static end stands.
    pub(crate) is_static: bool,
    /// Whether a cell has a film.
    pub(crate) has_films: bool,
    /// Mean current that bursts ask of the cells at most which capacitors carry and the settled board
    /// could not: the mean current of the life is found from settled bursts and misses it.
    pub(crate) missed_amps: f64,
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

/// One instant of a waveform.
#[derive(Debug, Clone)]
pub(crate) struct Moment {
    /// Place of the load that fares worst.
    pub(crate) load: usize,
    /// The state it is in.
    pub(crate) state: String,
    /// Voltage across it.
    pub(crate) volts: f64,
    nets: Vec<(String, f64)>,
    cells: Vec<(String, f64)>,
    /// By cell part with a film: the sum of its branch voltages and the share of its film.
    films: Vec<(String, (f64, f64))>,
}

impl Moment {
    /// Branch voltages and film of a cell part, where what burns off in the burst sets them apart from
    /// its settled end.
    pub(crate) fn film(&self, name: &str) -> Option<(f64, f64)> {
        let found = self.films.iter().find(|(n, _)| n == name);
        found.map(|(_, state)| *state)
    }

    /// Voltage of a net.
    pub(crate) fn net(&self, name: &str) -> Option<f64> {
        let found = self.nets.iter().find(|(n, _)| n == name);
        found.map(|(_, volts)| *volts)
    }

    /// Current that a cell part gives.
    pub(crate) fn cell_amps(&self, name: &str) -> Option<f64> {
        let found = self.cells.iter().find(|(n, _)| n == name);
        found.map(|(_, amps)| *amps)
    }

    /// Voltage between the pins of a part.
    pub(crate) fn across(&self, circuit: &Circuit, name: &str) -> Option<f64> {
        let [board] = circuit.boards() else {
            return None;
        };
        let part = board.part(name)?;
        let volts = |pin: &str| {
            let net = part.net(pin).and_then(|n| board.nets.get(n))?;
            Some(self.net(net).unwrap_or(0.0))
        };
        Some(volts("plus")? - volts("minus")?)
    }
}

impl At {
    fn distance(&self, other: &Self) -> f64 {
        (self.margin_volts - other.margin_volts).abs() + (self.cell_volts - other.cell_volts).abs()
    }
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
            followed: 0,
            is_static: false,
            has_films: false,
            missed_amps: 0.0,
        }
    }

    /// The burst that a joint state belongs to.
    pub(crate) fn of_joint(&self, joint: usize) -> Option<usize> {
        self.of_joint[joint]
    }

    /// The difference at an instant as far as it is known, and what it may be wrong by.
    fn known(&self, place: Place, at: &At) -> Option<(f64, f64)> {
        let alike = |s: &&Sample| s.place.occurrence == place.occurrence && s.at.stops == at.stops;
        // Other tasks beside it move the cell, and that is in margin and cell voltage.
        // Which end of a step they see it at is another matter, and counts where a film burns off in it.
        let is_near = |s: &&Sample| s.place.mix == place.mix || !self.has_films;
        let own = |s: &&Sample| alike(s) && s.place.which == place.which && is_near(s);
        let near = |a: &&Sample, b: &&Sample| a.at.distance(at).total_cmp(&b.at.distance(at));
        let Some(nearest) = self.samples.iter().filter(own).min_by(near) else {
            let other = self.samples.iter().filter(alike).min_by(near)?;
            let unsure =
                ELSEWHERE_VOLTS + 0.5 * other.difference.abs() + FIRST_RATE * other.at.distance(at);
            return Some((other.difference, unsure));
        };
        let others = self.samples.iter().filter(own);
        let next = others
            .filter(|s| s.at.distance(&nearest.at) > 1e-9)
            .min_by(near);
        let rate = next.map_or(FIRST_RATE, |next| {
            let by = (next.difference - nearest.difference).abs();
            (2.0 * by / next.at.distance(&nearest.at)).max(LEAST_RATE)
        });
        Some((nearest.difference, rate * nearest.at.distance(at)))
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
    /// What a burst's margin is beyond that of its static end; a burst that surely keeps above a floor is
    /// not the worst and need not be known better.
    pub(crate) fn swing(
        &mut self,
        mix: usize,
        occurrence: usize,
        at: At,
        states: &[f64],
        (cold, floor_volts): (bool, f64),
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
        if let Some((difference, unsure)) = known {
            let margin = at.margin_volts + difference;
            let is_safe = unsure <= UNSURE_VOLTS && margin.abs() > SAFE * unsure + 1e-4;
            let is_known = unsure
                <= if cold {
                    UNSURE_AT_NIGHT_VOLTS
                } else {
                    UNSURE_AT_END_VOLTS
                };
            let is_other = margin - SAFE * unsure > floor_volts;
            if is_safe || is_known || is_other {
                return difference;
            }
        }
        if at.stops
            && let Some(margin) = self.swings.bracketed(place, &at)
        {
            return margin - at.margin_volts;
        }
        let followed = self.follow_burst(place, at.margin_volts, states, cold);
        // What cannot be followed once will not be the next time.
        self.swings.is_static |= followed.is_none();
        let margin = followed.unwrap_or(at.margin_volts);
        // With a film the settled end is too low by what burns off in the burst: only a board that
        // stops there misses a current.
        let is_missed = at.stops || !self.swings.has_films;
        if !cold && margin >= 0.0 && at.margin_volts < -CARRIED_VOLTS && is_missed {
            let watts = self.swings.occurrences[occurrence].asked_watts(&self.loads);
            let amps = watts / at.cell_volts.max(0.1);
            self.swings.missed_amps = self.swings.missed_amps.max(amps);
        }
        let difference = margin - at.margin_volts;
        self.swings.samples.push(Sample {
            place,
            at,
            difference,
        });
        difference
    }

    /// Margin of a burst that is followed; none where it cannot be.
    fn follow_burst(
        &mut self,
        place: Place,
        static_volts: f64,
        states: &[f64],
        cold: bool,
    ) -> Option<f64> {
        let wave = self.wave(place, states, cold)?;
        let names: Vec<String> = self.loads.iter().map(|l| l.0.clone()).collect();
        // Without a working range nothing but the board's running is asked.
        Some(worst(&wave, &names).map_or(static_volts, |fared| fared.spare_volts))
    }

    /// A burst followed through the whole circuit.
    fn wave(&mut self, place: Place, states: &[f64], cold: bool) -> Option<Waveform> {
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
        let wave = occurrence.follow(self.circuit, &situation, &cells, drift);
        wave.ok()
    }

    /// The instant at which a load fares worst in the burst of a joint state.
    pub(crate) fn fatal_moment(
        &mut self,
        mix: usize,
        joint: usize,
        states: &[f64],
    ) -> Option<Moment> {
        if !self.has_swings {
            return None;
        }
        let place = Place {
            occurrence: self.swings.of_joint(joint)?,
            mix,
            which: self.which(),
        };
        let wave = self.wave(place, states, false)?;
        let spare = |need: &&NeedSeen| need.lowest_volts - need.from_volts;
        let needs = wave.needs.iter();
        let need = needs.min_by(|a, b| spare(a).total_cmp(&spare(b)))?;
        let load = self.loads.iter().position(|l| l.0 == need.load)?;
        let instants = wave.time_secs.iter();
        // Of two sides of a jump the one at which the load is lowest.
        let plus = wave
            .nets
            .iter()
            .find(|(net, _)| *net == self.loads[load].1.plus)?;
        let then = instants
            .enumerate()
            .filter(|(_, secs)| **secs == need.time_secs);
        let lowest = then
            .map(|t| t.0)
            .min_by(|a, b| plus.1[*a].total_cmp(&plus.1[*b]))?;
        // Where a converter falls off the last instant before that tells.
        let at = match wave.time_secs.len().checked_sub(2) {
            Some(before) if wave.lost_input => before,
            _ => lowest,
        };
        let value = |(name, list): &(String, Vec<f64>)| (name.clone(), list[at]);
        Some(Moment {
            load,
            state: need.state.clone(),
            volts: if wave.lost_input {
                plus.1[at]
            } else {
                need.lowest_volts
            },
            nets: wave.nets.iter().map(value).collect(),
            cells: wave.cells.iter().map(value).collect(),
            films: self.films_at(place, states, (&wave, at)),
        })
    }

    /// Branch voltages and films at an instant of a waveform, from the currents up to it.
    fn films_at(
        &self,
        place: Place,
        states: &[f64],
        (wave, at): (&Waveform, usize),
    ) -> Vec<(String, (f64, f64))> {
        let before = self.cells_before(place, states, false);
        let sites = self.sites().iter().zip(&before);
        let each = sites.filter_map(|(site, cells)| {
            let (film, _) = site.film?;
            let mut state = cells.first()?.clone();
            let amps = &wave.cells.iter().find(|(name, _)| *name == site.name)?.1;
            let x = site.model.surface(state.depth, state.imbalance);
            let ohms = site.ohms(x, state.aged);
            let celsius = match place.which {
                Which::Course(at) => self.swings.celsius[at],
                Which::Night => return None,
            };
            for later in 1..=at {
                let span = wave.time_secs[later] - wave.time_secs[later - 1];
                let mean_amps = f64::midpoint(amps[later - 1], amps[later]);
                state.film = film.after(state.film, mean_amps, celsius, span);
                for (volts, (ratio, tau)) in state.branch_volts.iter_mut().zip(&site.branches) {
                    *volts -= (ratio * ohms * mean_amps - *volts) * math::exp_m1(-span / tau);
                }
            }
            let branches = state.branch_volts.iter().sum();
            Some((site.name.clone(), (branches, state.film)))
        });
        each.collect()
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
            if let Some(shape) = &self.films.shapes[k] {
                site.set_film(shape.opening(seen.film, &[]), &mut seen);
            }
            vec![seen.state(); site.series]
        });
        each.collect()
    }

    /// Whether bursts differ from their static end at all: without any capacitor or film they do not.
    pub(crate) fn may_swing(&self) -> bool {
        let parts = self.circuit.parts();
        let mut kinds = parts.iter().map(|(_, part)| &part.device);
        kinds.any(|device| match device {
            Device::Capacitor(c) => c.value.si() > 0.0,
            Device::Cell(cell) => cell.model.film.is_some(),
            _ => false,
        })
    }
}
