//! Leaps over many cycles of windows.
//!
//! One cycle, followed through all its stretches, takes the states z to D(z). Every state forgets
//! itself at its own rate, so D is written as `z' = a z + b(z)` with `a = e^(-rate P)` known and b slow.
//! Over N cycles b is the parabola through its values at the start, the middle and the end of the leap
//! and
//!
//! # Formula
//! ```text
//! z_N = a^N z_0 + sum over j < N of a^(N-1-j) b(j/N)
//! ```
//! is summed in closed form. That is the step of `step` in whole cycles: it holds for branches that
//! are far faster or slower than the leap, and no step is too long for it to be stable. The lines of
//! the ledger are summed by the same rule with a = 1.

use crate::circuit::NoPoint;
use crate::numerics::math;
use crate::time::after::Met;
use crate::time::run::{Gear, Now, Passage, Run, Stretch};
use crate::time::site::{BRANCH, DEPTH};
use crate::time::step::Tolerance;
use crate::time::sums::Sums;

/// Rounds in which the cycles of a leap must settle.
const MOST_ROUNDS: usize = 6;
/// By how much less a round may contract than one of the last leaps did.
const CONTRACTION_MARGIN: f64 = 4.0;
/// Largest error of depth in one leap.
const DEPTH_ERROR: f64 = 1e-6;
/// Largest error of a branch in volts in one leap.
const BRANCH_ERROR: f64 = 1e-5;
/// Largest error of the share of a film in one leap.
const FILM_ERROR: f64 = 5e-5;
/// Largest gap of the ledger in one leap, as a share of the energy of full cells.
const ENERGY_ERROR: f64 = 1e-8;
/// Largest share of the charge drawn in one leap.
const MOST_DEPTH: f64 = 0.1;

/// One cycle from a state.
#[derive(Debug, Clone)]
struct Cycle {
    /// What the cycle adds beyond what the states keep: states, then lines, then charges, then the
    /// time below need.
    adds: Vec<f64>,
    end: Now,
    /// After the first failure: how long after its start all needs were met for the last time.
    good_secs: Option<f64>,
}

/// A leap over a number of cycles.
struct Leap {
    end: Vec<f64>,
    sums: Vec<f64>,
    last: Cycle,
    middle: Vec<f64>,
    error: f64,
    depth_error: f64,
    contraction: Contraction,
    /// Whether the last cycle starts so near the end that it is the first of the next leap.
    is_near: bool,
}

/// What the last leap foretells.
struct Foretold {
    cycles: f64,
    /// Cycles taken since its end.
    since: f64,
    adds: [Vec<f64>; 3],
    contraction: Contraction,
}

/// By how much a round of a leap moves the states less than the one before it.
#[derive(Debug, Clone, Copy)]
struct Contraction {
    share: f64,
    /// Cycles of the leap in which it was seen; it grows with them.
    cycles: f64,
}

impl Contraction {
    /// Nothing is known.
    const UNKNOWN: Self = Self {
        share: f64::INFINITY,
        cycles: 1.0,
    };

    /// What the next round of a leap would move at most, where the last has moved so much.
    fn next(self, moved: f64, cycles: f64) -> f64 {
        CONTRACTION_MARGIN * moved * self.share * (cycles / self.cycles).max(1.0)
    }
}

/// Whether cycles could be followed on trial.
enum Tried<T> {
    Done(T),
    /// A need fails, now or in a cold night.
    Event,
    Cancelled,
}

impl Run<'_, '_, '_, '_> {
    /// Follows cycle after cycle, in leaps where nothing happens.
    pub(crate) fn cycles(&mut self) -> Result<Passage, NoPoint> {
        let cycle_secs = self.engine.schedule.cycle_secs();
        let mut length = 1.0;
        let mut bound = f64::INFINITY;
        let mut known: Option<Cycle> = None;
        let mut foretold: Option<Foretold> = None;
        while self.goes_on() {
            self.progress
                .at(self.engine.depth(&self.now.states).clamp(0.0, 1.0));
            self.renew_cycles(&mut known, &mut foretold);
            let ahead = self.cycles_ahead();
            if ahead < 1.0 {
                match self.live_cycle()? {
                    Passage::Through => {}
                    end => return Ok(end),
                }
                (known, foretold, bound) = (None, None, f64::INFINITY);
                continue;
            }
            let start = self.now.states.clone();
            let first = match known.take() {
                Some(cycle) => cycle,
                None => match self.try_cycle(&start)? {
                    Tried::Done(cycle) => cycle,
                    Tried::Cancelled => return Ok(Passage::Cancelled),
                    Tried::Event => {
                        match self.live_cycle()? {
                            Passage::Through => {}
                            end => return Ok(end),
                        }
                        (length, foretold) = (1.0, None);
                        continue;
                    }
                },
            };
            if bound < 1.0 {
                bound = f64::INFINITY;
            }
            let before_event = (bound / 2.0).max(1.0);
            let cycles = self
                .longest_leap(&first, length)
                .min(ahead)
                .min(before_event)
                .floor();
            let cycles = cycles - cycles % 2.0;
            if cycles < 2.0 {
                self.take_cycle(&first)?;
                length = (length * 2.0).max(2.0);
                bound -= 1.0;
                if let Some(past) = &mut foretold {
                    past.since += 1.0;
                }
                continue;
            }
            match self.leap(&start, &first, cycles, foretold.as_ref())? {
                Tried::Cancelled => return Ok(Passage::Cancelled),
                Tried::Event => {
                    bound = bound.min(cycles);
                    known = Some(first);
                }
                Tried::Done(leap) if leap.error > 1.0 && cycles > 2.0 => {
                    length = cycles * (0.85 / leap.error.sqrt().sqrt()).clamp(0.1, 0.8);
                    known = Some(first);
                }
                Tried::Done(leap) => {
                    let factor = 0.9 / leap.error.max(1e-12).sqrt().sqrt();
                    length = cycles * factor.clamp(0.3, 4.0);
                    bound -= cycles;
                    foretold = Some(Foretold {
                        cycles,
                        since: 0.0,
                        adds: [first.adds, leap.middle.clone(), leap.last.adds.clone()],
                        contraction: leap.contraction,
                    });
                    let is_near = leap.is_near;
                    let last = self.take_leap(leap, cycles * cycle_secs)?;
                    known = is_near.then_some(last);
                }
            }
        }
        Ok(Passage::Through)
    }

    /// Forgets what is known of cycles where the rates of films have to be taken anew.
    fn renew_cycles(&mut self, known: &mut Option<Cycle>, foretold: &mut Option<Foretold>) {
        if self.engine.renew_all_rates() {
            (*known, *foretold) = (None, None);
        }
    }

    /// Follows one cycle with its events.
    fn live_cycle(&mut self) -> Result<Passage, NoPoint> {
        let tolerance = self.tolerance();
        self.finish_cycle(tolerance)
    }

    /// How exact the steps of a cycle must be.
    pub(crate) fn tolerance(&self) -> Tolerance {
        Tolerance::of_cycle(self.full_joules, self.cycle_depth.max(1e-9))
    }

    /// Follows one cycle within the present month on trial.
    fn through_cycle(&mut self) -> Result<Passage, NoPoint> {
        let cycle_secs = self.engine.schedule.cycle_secs();
        let tolerance = self.tolerance();
        for at in 0..self.engine.schedule.regimes.len() {
            let regime = self.engine.schedule.regimes[at];
            self.turn_to(at);
            let passage = self.pass(Stretch {
                regime: at,
                mix: regime.mix,
                secs: regime.secs.min(cycle_secs),
                tolerance,
                gear: Gear::Trial,
            })?;
            if !matches!(passage, Passage::Through) {
                return Ok(passage);
            }
        }
        Ok(Passage::Through)
    }

    /// Follows one cycle from a state without noting anything.
    fn try_cycle(&mut self, from: &[f64]) -> Result<Tried<Cycle>, NoPoint> {
        let empty = Now {
            secs: self.now.secs,
            states: from.to_vec(),
            joules: vec![0.0; self.now.joules.len()],
            coulombs: vec![0.0; self.now.coulombs.len()],
            below_secs: 0.0,
            good_secs: None,
        };
        let kept = std::mem::replace(&mut self.now, empty);
        let error = self.depth_error;
        let passage = self.through_cycle();
        self.depth_error = error;
        let end = std::mem::replace(&mut self.now, kept);
        match passage? {
            Passage::Over(..) | Passage::Night => return Ok(Tried::Event),
            Passage::Cancelled => return Ok(Tried::Cancelled),
            Passage::Through => {}
        }
        let kept = self.kept_shares(1.0);
        let states = end.states.iter().zip(from).zip(&kept);
        let mut adds: Vec<f64> = states.map(|((end, from), a)| end - a * from).collect();
        adds.extend(&end.joules);
        adds.extend(&end.coulombs);
        adds.push(end.below_secs);
        self.cycle_depth = self.engine.depth(&end.states) - self.engine.depth(from);
        let good_secs = end.good_secs.map(|good| good - self.now.secs);
        Ok(Tried::Done(Cycle {
            adds,
            end,
            good_secs,
        }))
    }

    /// Share of itself that each state keeps over a number of cycles.
    fn kept_shares(&self, cycles: f64) -> Vec<f64> {
        let each = self.fadings().into_iter();
        each.map(|f| math::exp(-cycles * f)).collect()
    }

    /// How often each state forgets itself in a cycle: its rate times the time, over the temperatures.
    fn fadings(&self) -> Vec<f64> {
        let mut fadings = vec![0.0; self.now.states.len()];
        for regime in &self.engine.schedule.regimes {
            let place = self.course.place(self.month, regime.half);
            let mut rates = self.engine.rates_at(place).to_vec();
            self.engine.add_burns(regime.mix, &mut rates);
            for (sum, rate) in fadings.iter_mut().zip(rates) {
                *sum += rate * regime.secs;
            }
        }
        fadings
    }

    /// Longest leap in which no cell passes a point of its tables or too much of its charge.
    fn longest_leap(&self, first: &Cycle, length: f64) -> f64 {
        let mut longest = length;
        for site in self.engine.sites() {
            let (from, to) = (
                site.surface(&self.now.states),
                site.surface(&first.end.states),
            );
            let depth = first.end.states[site.first + DEPTH] - self.now.states[site.first + DEPTH];
            let by = (to - from).max(depth);
            if by > 0.0 {
                let way = site.to_next_knot(&self.now.states);
                longest = longest.min((way / by).ceil().max(1.0)).min(MOST_DEPTH / by);
            }
        }
        longest
    }

    /// Tries a leap of an even number of cycles.
    fn leap(
        &mut self,
        start: &[f64],
        first: &Cycle,
        cycles: f64,
        foretold: Option<&Foretold>,
    ) -> Result<Tried<Leap>, NoPoint> {
        let guess = |t: f64| match foretold {
            Some(past) => past.ahead(t * cycles),
            None => first.adds.clone(),
        };
        let (mut middle, mut last) = (guess(0.5), guess(1.0));
        let foretold_last = foretold.map(|_| last.clone());
        let sums: Vec<[Sums; 2]> = self
            .kept_shares(1.0)
            .iter()
            .map(|&a| {
                [
                    Sums::new(a, cycles / 2.0, cycles),
                    Sums::new(a, cycles, cycles),
                ]
            })
            .collect();
        let mut end_cycle = None;
        let mut contraction = foretold.map_or(Contraction::UNKNOWN, |past| past.contraction);
        let mut before = f64::INFINITY;
        let mut is_near = false;
        for _ in 0..MOST_ROUNDS {
            let states = |half: usize| -> Vec<f64> {
                let each = sums.iter().enumerate();
                each.map(|(k, s)| s[half].state(start[k], [first.adds[k], middle[k], last[k]]))
                    .collect()
            };
            let (at_middle, at_end) = (states(0), states(1));
            let Tried::Done(mid_cycle) = self.try_cycle(&at_middle)? else {
                return Ok(self.event());
            };
            let Tried::Done(found) = self.try_cycle(&at_end)? else {
                return Ok(self.event());
            };
            let moved = self.moved(&middle, &mid_cycle.adds, &last, &found.adds, cycles);
            (middle, last) = (mid_cycle.adds, found.adds.clone());
            end_cycle = Some(found);
            if before.is_finite() {
                let share = moved / before;
                contraction = Contraction { share, cycles };
            }
            is_near = moved <= 1.0;
            if moved <= 1.0 || contraction.next(moved, cycles) <= 1.0 {
                break;
            }
            before = moved;
        }
        let Some(end_cycle) = end_cycle else {
            return Ok(Tried::Event);
        };
        let adds = |k: usize| [first.adds[k], middle[k], last[k]];
        if self.is_draining() {
            // What changes from cycle to cycle is found cycle by cycle.
            let cycle_secs = self.engine.schedule.cycle_secs();
            let met = adds(first.adds.len() - 1).map(|below| Met::of(below, cycle_secs));
            if met[0] != met[1] || met[1] != met[2] {
                return Ok(Tried::Event);
            }
        }
        let states = sums.iter().enumerate();
        let end: Vec<f64> = states.map(|(k, s)| s[1].state(start[k], adds(k))).collect();
        let plain = Sums::new(1.0, cycles, cycles);
        let booked = (start.len()..first.adds.len()).map(|k| plain.state(0.0, adds(k)));
        let booked: Vec<f64> = booked.collect();
        let (error, depth_error) =
            self.judge(start, &end, &booked, adds, foretold_last.as_deref(), cycles);
        Ok(Tried::Done(Leap {
            end,
            sums: booked,
            last: end_cycle,
            middle,
            error,
            depth_error,
            contraction,
            is_near,
        }))
    }

    fn event(&self) -> Tried<Leap> {
        if self.progress.cancelled() {
            Tried::Cancelled
        } else {
            Tried::Event
        }
    }

    /// How far a round has moved the states, over what is left to later rounds.
    fn moved(&self, m0: &[f64], m1: &[f64], e0: &[f64], e1: &[f64], cycles: f64) -> f64 {
        let mut worst: f64 = 0.0;
        let fadings = self.fadings();
        for site in self.engine.sites() {
            for n in 0..site.len() {
                let k = site.first + n;
                let times = cycles.min(1.0 / fadings[k]).max(1.0);
                let by = (m1[k] - m0[k]).abs().max((e1[k] - e0[k]).abs()) * times;
                worst = worst.max(by / if n < BRANCH { 3e-7 } else { 1e-5 });
            }
        }
        worst
    }

    /// Estimates the error of a leap over what is allowed, and that of the depth.
    fn judge(
        &self,
        start: &[f64],
        end: &[f64],
        booked: &[f64],
        adds: impl Fn(usize) -> [f64; 3],
        foretold: Option<&[f64]>,
        cycles: f64,
    ) -> (f64, f64) {
        let mut worst: f64 = 0.0;
        let mut depth_error: f64 = 0.0;
        let fadings = self.fadings();
        for site in self.engine.sites() {
            for n in 0..site.len() {
                let k = site.first + n;
                let [a, b, c] = adds(k);
                let bend = (a - 2.0 * b + c).abs() / 6.0;
                let third = foretold.map_or(f64::INFINITY, |f| (f[k] - c).abs() / 60.0);
                let times = cycles.min(1.0 / fadings[k]).max(1.0);
                let by = bend.min(third) * times;
                if n == DEPTH {
                    depth_error = depth_error.max(by);
                    worst = worst.max(by / DEPTH_ERROR);
                } else if site.film_place() == Some(k) {
                    worst = worst.max(by / FILM_ERROR);
                } else if BRANCH <= n {
                    worst = worst.max(by / BRANCH_ERROR);
                }
            }
        }
        let lines = &booked[..self.now.joules.len()];
        let stored = self.engine.stored_joules(start) - self.engine.stored_joules(end);
        let gap = (stored - lines.iter().sum::<f64>()).abs();
        (
            worst.max(gap / (ENERGY_ERROR * self.full_joules)),
            depth_error,
        )
    }

    /// Takes a cycle that was followed on trial.
    fn take_cycle(&mut self, cycle: &Cycle) -> Result<(), NoPoint> {
        self.note_good(self.now.secs, cycle);
        self.now.secs += self.engine.schedule.cycle_secs();
        let kept = self.kept_shares(1.0);
        let (states, flows) = cycle.adds.split_at(kept.len());
        let (lines, charges) = flows.split_at(self.now.joules.len());
        self.now.below_secs += charges[self.now.coulombs.len()];
        for ((state, a), by) in self.now.states.iter_mut().zip(kept).zip(states) {
            *state = a * *state + by;
        }
        for (to, by) in self.now.joules.iter_mut().zip(lines) {
            *to += by;
        }
        for (to, by) in self.now.coulombs.iter_mut().zip(charges) {
            *to += by;
        }
        self.sample()
    }

    /// Notes when all needs were last met in a cycle that starts at a time.
    fn note_good(&mut self, start_secs: f64, cycle: &Cycle) {
        if let Some(after) = cycle.good_secs {
            self.now.good_secs = Some(start_secs + after);
        }
    }

    /// Takes a leap; gives the cycle that follows it, which is known already.
    fn take_leap(&mut self, leap: Leap, secs: f64) -> Result<Cycle, NoPoint> {
        self.now.secs += secs;
        self.now.states = leap.end;
        let cycle_secs = self.engine.schedule.cycle_secs();
        self.note_good(self.now.secs - cycle_secs, &leap.last);
        let lines = self.now.joules.len();
        for (to, by) in self.now.joules.iter_mut().zip(&leap.sums[..lines]) {
            *to += by;
        }
        for (to, by) in self.now.coulombs.iter_mut().zip(&leap.sums[lines..]) {
            *to += by;
        }
        self.now.below_secs += leap.sums[lines + self.now.coulombs.len()];
        self.depth_error += leap.depth_error;
        self.sample()?;
        Ok(leap.last)
    }
}

impl Foretold {
    /// What a cycle adds a number of cycles after the end of the last leap.
    fn ahead(&self, cycles: f64) -> Vec<f64> {
        let t = 1.0 + (self.since + cycles) / self.cycles;
        let [a, b, c] = &self.adds;
        let each = a.iter().zip(b).zip(c);
        each.map(|((a, b), c)| a + t * (4.0 * b - 3.0 * a - c + t * 2.0 * (a - 2.0 * b + c)))
            .collect()
    }
}
