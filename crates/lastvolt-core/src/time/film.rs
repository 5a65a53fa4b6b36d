//! How the film of a cell goes up and down under the steps of tasks, in closed form.
//!
//! A film burns off in proportion to itself, so its rate changes with the current, `r = 1/tau_g + I/q_b`,
//! and with it goes the map of a period: `phi(T) = e^(-R T) phi(0) + B`, R the mean rate. All solutions
//! are
//!
//! # Formula
//! ```text
//! phi(t) = phi*(t) + (m(t) - m*) h(t)      dm/dt = -R (m - m*)
//! ```
//! with the periodic solution phi* of mean m*, and h the periodic part of exp(-integral of r), of mean 1
//! (Floquet's theorem). m is the state of the life. One task is exact so, however much a burst burns;
//! of several each sees the others by their mean current, and their shapes are multiplied.

use crate::device::Film;
use crate::numerics::math;
use crate::time::schedule::{Mix, Schedule, Timed};

/// A film at an instant as a share of m* and of m - m*.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Pair {
    periodic: f64,
    free: f64,
}

/// The shape of the film under one task.
#[derive(Debug, Clone, PartialEq)]
struct Wave {
    task: usize,
    /// By step: in its mean and at its start.
    steps: Vec<(Pair, Pair)>,
    /// m* over what the mean current leaves.
    lift: f64,
}

/// The film of one cell part in a mix of tasks.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Shape {
    /// Mean rate R.
    rate: f64,
    /// Mean m* of the periodic film.
    level: f64,
    waves: Vec<Wave>,
    /// In its mean between all tasks.
    base: Pair,
}

/// What a film is driven by.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Burning<'a> {
    pub(crate) film: Film,
    /// Rate at which it grows.
    pub(crate) growth: f64,
    /// Mean rate at which it burns.
    pub(crate) burn: f64,
    /// By step of the schedule: current beyond the base.
    pub(crate) excess: &'a [f64],
}

impl Pair {
    const FLAT: Self = Self {
        periodic: 1.0,
        free: 1.0,
    };

    fn times(self, other: Self) -> Self {
        Self {
            periodic: self.periodic * other.periodic,
            free: self.free * other.free,
        }
    }
}

impl Shape {
    pub(crate) fn new(schedule: &Schedule, mix: &Mix, by: Burning) -> Self {
        let rate = by.growth + by.burn;
        let waves = mix.active.iter();
        let waves: Vec<Wave> = waves
            .map(|&task| Wave::new(task, &schedule.tasks[task], by))
            .collect();
        let lift: f64 = waves.iter().map(|w| w.lift).product();
        let mut shape = Self {
            rate,
            level: (by.growth / rate * lift).min(1.0),
            waves,
            base: Pair::FLAT,
        };
        // The base has what is left, so that the mean over all is 1.
        let base_share = mix.shares[0].1;
        if base_share > 0.0 {
            let mut left = Pair::FLAT;
            for &(joint, share) in &mix.shares[1..] {
                let own = shape.within(&schedule.joints[joint].steps, |step| step.0);
                left.periodic -= share * own.periodic;
                left.free -= share * own.free;
            }
            shape.base = Pair {
                periodic: left.periodic / base_share,
                free: left.free / base_share,
            };
        }
        shape
    }

    fn within(&self, steps: &[(usize, usize)], of: impl Fn(&(Pair, Pair)) -> Pair) -> Pair {
        let own = |wave: &Wave| {
            let step = steps.iter().find(|s| s.0 == wave.task)?.1;
            wave.steps.get(step).map(&of)
        };
        let each = self.waves.iter().filter_map(own);
        each.fold(Pair::FLAT, Pair::times)
    }

    fn at(&self, mean: f64, pair: Pair) -> f64 {
        let share = self.level * pair.periodic + (mean - self.level) * pair.free;
        share.clamp(0.0, 1.0)
    }

    /// In the mean over a joint state, given by its place among the shares of the mix and its steps.
    pub(crate) fn mean(&self, mean: f64, place: usize, steps: &[(usize, usize)]) -> f64 {
        let pair = if place == 0 {
            self.base
        } else {
            self.within(steps, |step| step.0)
        };
        self.at(mean, pair)
    }

    /// When the steps of a joint state begin: a load feels the film most then. Other tasks have not
    /// burnt it since their last interval.
    pub(crate) fn opening(&self, mean: f64, steps: &[(usize, usize)]) -> f64 {
        let each = self.waves.iter().map(|wave| {
            let own = steps.iter().find(|s| s.0 == wave.task);
            let step = own.map_or(0, |s| s.1);
            wave.steps.get(step).map_or(Pair::FLAT, |s| s.1)
        });
        self.at(mean, each.fold(Pair::FLAT, Pair::times))
    }

    /// Mean rate R.
    pub(crate) fn rate(&self) -> f64 {
        self.rate
    }

    /// The drive `u` of `m' = u - rate m`, written for another rate.
    pub(crate) fn drive(&self, mean: f64, rate: f64) -> f64 {
        self.rate * self.level + (rate - self.rate) * mean
    }
}

/// (1 - e^-z)/z.
fn settling(z: f64) -> f64 {
    if z.abs() < 1e-12 {
        1.0
    } else {
        -math::exp_m1(-z) / z
    }
}

/// Mean of what falls exponentially from one value to another, the logarithm of their ratio given.
fn between(from: f64, to: f64, log_ratio: f64) -> f64 {
    if log_ratio.abs() < 1e-6 {
        0.5 * (from + to)
    } else {
        (from - to) / log_ratio
    }
}

impl Wave {
    fn new(task: usize, timed: &Timed, by: Burning) -> Self {
        let period = timed.every_secs;
        let mean_rate = by.growth + by.burn;
        let excess =
            |step: usize| by.excess[timed.first_step + step] / by.film.burn_off.as_coulombs();
        let steps = timed.steps.iter().enumerate();
        let own: f64 = steps.map(|(k, s)| s.0 * excess(k)).sum();
        let rest_rate = (mean_rate - own / period).max(by.growth);
        let steps = timed.steps.iter().enumerate();
        let mut spans: Vec<(f64, f64)> = steps
            .map(|(k, s)| (s.0, (rest_rate + excess(k)).max(by.growth)))
            .collect();
        spans.push(((period - timed.busy_secs()).max(0.0), rest_rate));
        // The map of one period, then the film that it leaves as it is.
        let (mut gone, mut grown) = (0.0, 0.0);
        for &(span, rate) in &spans {
            let z = rate * span;
            gone += z;
            grown = grown * math::exp(-z) + by.growth * span * settling(z);
        }
        // By limits above it may not be the mean rate to the last digit.
        let turn_rate = gone / period;
        let mut film = grown / -math::exp_m1(-gone);
        // The free part as a logarithm from the largest that it takes, or a hard burst would make it
        // nothing times infinity.
        let mut logs = vec![0.0_f64];
        for &(span, rate) in &spans {
            let last = logs.last().copied().unwrap_or(0.0);
            logs.push(last - (rate - turn_rate) * span);
        }
        let top = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let mut pieces = Vec::with_capacity(spans.len());
        let (mut film_mean, mut free_mean) = (0.0, 0.0);
        for (&(span, rate), ends) in spans.iter().zip(logs.windows(2)) {
            let rest = by.growth / rate;
            let (free, later) = (math::exp(ends[0] - top), math::exp(ends[1] - top));
            let mean = Pair {
                periodic: rest + (film - rest) * settling(rate * span),
                free: between(free, later, ends[0] - ends[1]),
            };
            let start = Pair {
                periodic: film,
                free,
            };
            pieces.push((mean, start));
            film_mean += mean.periodic * span / period;
            free_mean += mean.free * span / period;
            film = rest + (film - rest) * math::exp(-rate * span);
        }
        pieces.pop();
        let scaled = |pair: Pair| Pair {
            periodic: pair.periodic / film_mean,
            free: pair.free / free_mean,
        };
        let steps = pieces.into_iter().map(|(m, s)| (scaled(m), scaled(s)));
        Self {
            task,
            steps: steps.collect(),
            lift: film_mean * turn_rate / by.growth,
        }
    }
}

#[cfg(test)]
#[path = "film_tests.rs"]
mod tests;
