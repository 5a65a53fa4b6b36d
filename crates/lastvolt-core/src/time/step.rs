//! One step in time of a mix of tasks.
//!
//! Collocation with the mean drive quadratic through the start, the middle and the end of the step:
//! depth follows it by Simpson's rule, wells and branches exactly however fast they are (see
//! [`crate::numerics::relax`]), and the ledger's lines by Simpson's rule on the same three instants.

use crate::numerics::relax::Relax;
use crate::time::engine::{Engine, Mean};
use crate::time::port::Halt;
use crate::time::site::{BRANCH, DEPTH};

/// Rounds in which the drives of a step must settle.
const MOST_ROUNDS: usize = 12;
/// By how much less a round may contract than the one that was seen last.
const CONTRACTION_MARGIN: f64 = 4.0;
/// Largest error of depth in one step.
const DEPTH_ERROR: f64 = 1e-7;
/// Largest error of depth in one step of a window, as a share of what the window draws.
const SHARE_ERROR: f64 = 2e-5;
/// Largest error of a branch in volts in one step.
const BRANCH_ERROR: f64 = 2e-6;
/// Largest error of the share of a film in one step.
const FILM_ERROR: f64 = 1e-5;
/// Largest gap of the ledger in one step, as a share of the energy of a full cell.
const ENERGY_ERROR: f64 = 3e-9;
/// Largest energy that a step books to polarisation instead of to parts or the reverse, as a share of
/// the energy of full cells.
const SHIFT_ERROR: f64 = 1e-6;
/// Largest share of the charge drawn in one step.
const MOST_DEPTH: f64 = 0.03;

/// A step on its way; its buffers are kept from step to step.
#[derive(Debug, Clone, Default)]
pub(crate) struct Step {
    pub(crate) states: [Vec<f64>; 2],
    pub(crate) means: [Mean; 2],
    /// Estimated error over the largest that is allowed.
    pub(crate) error: f64,
    /// Estimated error of the depth.
    pub(crate) depth_error: f64,
    relax: Vec<Relax>,
    /// Rate of every state.
    rates: Vec<f64>,
    /// The step that the last good one suggests.
    next: f64,
    /// By mix: how much less a round moved the states than the one before it, and in which span.
    contractions: Vec<Option<(f64, f64)>>,
}

impl Step {
    /// The step to try after one of `last` seconds, if there was one.
    pub(crate) fn next_span(&self, last: f64) -> Option<f64> {
        (last > 0.0).then_some(self.next)
    }

    /// Notes what a good step suggests for the next; the error is of the fourth order.
    pub(crate) fn grow(&mut self, span: f64, error: f64) {
        let factor = if error > 0.0 {
            0.9 / error.sqrt().sqrt()
        } else {
            4.0
        };
        self.next = span * factor.clamp(0.3, 4.0);
    }
}

/// The drives of the last step, which foretell the next.
#[derive(Debug, Clone, Default)]
pub(crate) struct Past {
    span: f64,
    drives: [Vec<f64>; 3],
}

impl Past {
    pub(crate) fn forget(&mut self) {
        self.span = 0.0;
    }

    /// Length of the last step, 0 without one.
    pub(crate) fn span(&self) -> f64 {
        self.span
    }

    pub(crate) fn remember(&mut self, span: f64, first: &Mean, step: &Step) {
        self.span = span;
        let means = [first, &step.means[0], &step.means[1]];
        for (to, mean) in self.drives.iter_mut().zip(means) {
            to.clone_from(&mean.drive);
        }
    }

    /// Writes the drives of states for other rates, where a film has a share.
    pub(crate) fn shift(&mut self, changes: &[(usize, f64)], states: &[f64]) {
        for &(k, by) in changes {
            for drive in self.drives.iter_mut().filter(|d| !d.is_empty()) {
                drive[k] += by * states[k];
            }
        }
    }

    /// The drive of state `k` at `t` spans of the last step after its end.
    fn ahead(&self, k: usize, t: f64) -> f64 {
        let [a, b, c] = [self.drives[0][k], self.drives[1][k], self.drives[2][k]];
        let (t, slope, bend) = (1.0 + t, 4.0 * b - 3.0 * a - c, 2.0 * (a - 2.0 * b + c));
        a + t * (slope + t * bend)
    }
}

/// How exact a step must be.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Tolerance {
    depth: f64,
    joules: f64,
    /// Energy by which lines may be told apart wrongly though their sum is right.
    shifted_joules: f64,
}

impl Tolerance {
    /// For steps of a whole life.
    pub(crate) fn of_life(full_joules: f64) -> Self {
        Self {
            depth: DEPTH_ERROR,
            joules: ENERGY_ERROR * full_joules,
            shifted_joules: SHIFT_ERROR * full_joules,
        }
    }

    /// For steps within one cycle of windows that draws about `depth`.
    pub(crate) fn of_cycle(full_joules: f64, depth: f64) -> Self {
        Self {
            depth: (SHARE_ERROR * depth).max(1e-12),
            joules: (ENERGY_ERROR * depth).max(1e-13) * full_joules,
            shifted_joules: (10.0 * SHIFT_ERROR * depth).max(1e-12) * full_joules,
        }
    }
}

impl Engine<'_, '_, '_> {
    /// Takes one step from `start`, whose mean drive is `first`; false where the drives do not settle.
    pub(crate) fn step(
        &mut self,
        mix: usize,
        start: &[f64],
        first: &Mean,
        span: f64,
        past: &Past,
        step: &mut Step,
    ) -> Result<bool, Halt> {
        self.rates_in(mix, &mut step.rates);
        step.relax.clear();
        let rates = step.rates.iter();
        step.relax.extend(rates.map(|&rate| Relax::new(rate, span)));
        let has_past = past.span > 0.0;
        for (half, mean) in step.means.iter_mut().enumerate() {
            mean.drive.clear();
            let t = span / past.span * if half == 0 { 0.5 } else { 1.0 };
            let guess = |k: usize| {
                if has_past {
                    past.ahead(k, t)
                } else {
                    first.drive[k]
                }
            };
            mean.drive.extend((0..start.len()).map(guess));
        }
        let foretold = [step.means[0].drive.clone(), step.means[1].drive.clone()];
        // What a round moves is left to the next one a hundredfold smaller.
        let loose = if self.ports.is_tabulated() { 10.0 } else { 1e4 };
        let mut settled = false;
        let mut before = f64::INFINITY;
        if step.contractions.len() <= mix {
            step.contractions.resize(mix + 1, None);
        }
        for _ in 0..MOST_ROUNDS {
            self.follow(start, first, step);
            let mut moved: f64 = 0.0;
            for half in 0..2 {
                let before = std::mem::take(&mut step.means[half].drive);
                self.mean(mix, &step.states[half], &mut step.means[half])?;
                moved = moved.max(self.moved(&before, &step.means[half].drive, step, span));
            }
            if before.is_finite() {
                step.contractions[mix] = Some((moved / before, span));
            }
            // What the next round would move at most; a longer step contracts less.
            let next = step.contractions[mix].map_or(f64::INFINITY, |(share, of)| {
                CONTRACTION_MARGIN * moved * share * (span / of).max(1.0)
            });
            if moved <= loose || next <= loose {
                settled = true;
                break;
            }
            before = moved;
        }
        // The drives found last move the states by less than what is allowed: take them along.
        self.follow(start, first, step);
        let is_foretold = has_past.then_some(&foretold[1]);
        self.judge(first, span, is_foretold, step);
        Ok(settled)
    }

    /// States in the middle and at the end under the present drives.
    fn follow(&self, start: &[f64], first: &Mean, step: &mut Step) {
        let [mid, end] = &mut step.states;
        mid.clear();
        end.clear();
        for (k, relax) in step.relax.iter().enumerate() {
            let drive = [
                first.drive[k],
                step.means[0].drive[k],
                step.means[1].drive[k],
            ];
            let [m, e] = relax.advance(start[k], drive);
            mid.push(m);
            end.push(e);
        }
    }

    /// How far a change of drives moves the states, over what is allowed.
    fn moved(&self, before: &[f64], after: &[f64], step: &Step, span: f64) -> f64 {
        let mut worst: f64 = 0.0;
        for site in self.sites() {
            for n in 0..site.len() {
                let k = site.first + n;
                let by = (after[k] - before[k]).abs() * span.min(1.0 / step.rates[k]);
                worst = worst.max(by / if n < BRANCH { 1e-10 } else { 1e-8 });
            }
        }
        worst
    }

    /// Estimates the error: by the third difference of the drive against the past, or by the bend
    /// within the step, whichever is smaller.
    fn judge(&self, first: &Mean, span: f64, foretold: Option<&Vec<f64>>, step: &mut Step) {
        step.depth_error = 0.0;
        let (mut branch, mut film): (f64, f64) = (0.0, 0.0);
        for site in self.sites() {
            for n in 0..site.len() {
                let k = site.first + n;
                let (u0, u1, u2) = (
                    first.drive[k],
                    step.means[0].drive[k],
                    step.means[1].drive[k],
                );
                let bend = (u0 - 2.0 * u1 + u2).abs() / 6.0;
                let third = foretold.map_or(f64::INFINITY, |f| (f[k] - u2).abs() / 60.0);
                let by = bend.min(third) * span.min(1.0 / step.rates[k]);
                if n == DEPTH {
                    step.depth_error = step.depth_error.max(by);
                } else if site.film_place() == Some(k) {
                    film = film.max(by);
                } else if BRANCH <= n {
                    branch = branch.max(by);
                }
            }
        }
        step.error = (branch / BRANCH_ERROR).max(film / FILM_ERROR);
    }

    /// Energy by line in a step.
    pub(crate) fn add_joules(first: &Mean, step: &Step, span: f64, joules: &mut [f64]) {
        let [mid, end] = &step.means;
        for (line, sum) in joules.iter_mut().enumerate() {
            *sum += span / 6.0 * (first.watts[line] + 4.0 * mid.watts[line] + end.watts[line]);
        }
    }

    /// Energy of a step that the ledger's lines do not account for.
    pub(crate) fn gap_joules(&self, start: &[f64], first: &Mean, step: &Step, span: f64) -> f64 {
        let sum = |mean: &Mean| mean.watts.iter().sum::<f64>();
        let [mid, end] = &step.means;
        let booked = span / 6.0 * (sum(first) + 4.0 * sum(mid) + sum(end));
        self.stored_joules(start) - self.stored_joules(&step.states[1]) - booked
    }

    /// Error of a step over what is allowed.
    pub(crate) fn error(
        &self,
        start: &[f64],
        first: &Mean,
        step: &Step,
        span: f64,
        tolerance: Tolerance,
    ) -> f64 {
        let gap = self.gap_joules(start, first, step, span).abs();
        let depth = step.depth_error / tolerance.depth;
        let shifted = self.shifted_joules(start, step, span) / tolerance.shifted_joules;
        step.error
            .max(depth)
            .max(gap / tolerance.joules)
            .max(shifted)
    }

    /// Energy that Simpson's rule books to the wrong line while a branch or a film relaxes within the step.
    fn shifted_joules(&self, start: &[f64], step: &Step, span: f64) -> f64 {
        let [mid, end] = &step.states;
        let sites = self.sites().iter().enumerate();
        let each = sites.map(|(at, site)| {
            let branches = site.first + BRANCH..site.first + BRANCH + site.branches.len();
            let bend: f64 = branches
                .map(|k| (start[k] - 2.0 * mid[k] + end[k]).abs())
                .sum();
            let amps = step.means[1].amps[at].abs();
            let shares = [start, mid, end].map(|states| site.film_in(states));
            let film = (shares[0] - 2.0 * shares[1] + shares[2]).abs();
            let bend = bend + site.model.film_ohms(film) * amps;
            site.series as f64 * amps * bend / 6.0 * span
        });
        each.sum()
    }

    /// Longest step in which no cell passes a point of its tables or too much of its charge.
    pub(crate) fn longest_step(&self, states: &[f64], mean: &Mean) -> f64 {
        let mut longest = f64::INFINITY;
        let most = if self.ports.is_tabulated() {
            MOST_DEPTH
        } else {
            2.0 * MOST_DEPTH
        };
        for site in self.sites() {
            let rate = self.surface_rate(site.first, states, mean);
            if rate > 0.0 {
                let way = site.to_next_knot(states).min(most);
                longest = longest.min(way / rate);
            }
        }
        longest
    }

    /// Change of the surface depth of a site with time, or of the depth where that is faster.
    fn surface_rate(&self, first: usize, states: &[f64], mean: &Mean) -> f64 {
        let site = self.sites().iter().find(|s| s.first == first);
        site.map_or(0.0, |site| {
            let depth = mean.drive[first + DEPTH];
            let wells = mean.drive[first + 1] - site.rate * states[first + 1];
            (depth + (1.0 - site.available) * wells).max(depth)
        })
    }
}
