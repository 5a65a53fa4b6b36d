//! The periodic part of a relaxing state under the steps of tasks, in closed form.
//!
//! Between its steps a task leaves the load at its base; its steps drive a branch (or the wells)
//! beyond the base. For a drive of one unit in one step the periodic response is
//!
//! # Formula
//! ```text
//! before the step   v(t) = v0 e^(-r t)          v0 = (1 - e^(-r h)) e^(-r (T - o - h)) / (1 - e^(-r T))
//! during it         v(t) = 1 + (v(o) - 1) e^(-r (t - o))
//! after it          v(t) = v(o + h) e^(-r (t - o - h))      mean over the period  h / T
//! ```
//! The state is linear in the drives, so its ripple at any instant is a sum of fixed weights times
//! the drives of the steps. The weights are found once for a life.

use std::collections::BTreeMap;

use crate::numerics::math;
use crate::time::schedule::{Mix, Schedule, Timed};

/// Weights of the drives of steps: place of the step in [`Schedule::steps`], weight.
pub(crate) type Weights = Vec<(usize, f64)>;

/// The ripple of one relaxing state in one mix of tasks.
#[derive(Debug, Clone, Default)]
pub(crate) struct Ripple {
    /// Mean over each joint state, in the order of the mix's shares.
    pub(crate) mean: Vec<Weights>,
    /// At the end of each joint state that is looked at, in the order of the mix's worst.
    pub(crate) end: Vec<Weights>,
}

/// Ripples of one mix at rates that change along a life, such as those of a capacitor beside a cell
/// whose resistance grows.
///
/// They are found at few rates, a fixed ratio apart, and between these by the cubic through four
/// of them over the logarithm of the rate: their mean over all stays zero, and nothing hangs on
/// which rates were asked for before.
#[derive(Debug, Default)]
pub(crate) struct Ripples {
    /// By the place of the rate.
    found: BTreeMap<i64, Ripple>,
}

/// Logarithm of the ratio of neighbouring rates. The fourth derivative of `exp(-r t)` by `ln r` is
/// below 0.4, so the cubic is off by some 1e-9 of the drive.
const RATIO: f64 = 1.0 / 64.0;

impl Ripples {
    /// Puts the ripple at a rate into `out`.
    pub(crate) fn at(&mut self, schedule: &Schedule, mix: &Mix, rate: f64, out: &mut Ripple) {
        let place = math::ln(rate) / RATIO;
        let first = place.floor();
        let t = place - first;
        let first = first as i64 - 1;
        for at in first..first + 4 {
            let known = self.found.entry(at);
            known.or_insert_with(|| Ripple::new(schedule, mix, math::exp(at as f64 * RATIO)));
        }
        let weights = [
            -t * (t - 1.0) * (t - 2.0) / 6.0,
            (t + 1.0) * (t - 1.0) * (t - 2.0) / 2.0,
            -(t + 1.0) * t * (t - 2.0) / 2.0,
            (t + 1.0) * t * (t - 1.0) / 6.0,
        ];
        let four = self.found.range(first..first + 4).map(|(_, ripple)| ripple);
        for (at, (ripple, weight)) in four.zip(weights).enumerate() {
            if at == 0 {
                out.mean.clone_from(&ripple.mean);
                out.end.clone_from(&ripple.end);
                out.change(ripple, |sum, own| *sum = weight * own);
            } else {
                out.change(ripple, |sum, own| *sum += weight * own);
            }
        }
    }
}

/// Response to a unit drive in one step.
struct Unit {
    rate: f64,
    period: f64,
    start: f64,
    span: f64,
    initial: f64,
}

impl Ripple {
    /// Changes every weight by that of another ripple of the same mix.
    fn change(&mut self, by: &Self, change: impl Fn(&mut f64, f64)) {
        let pairs = self.mean.iter_mut().zip(&by.mean);
        let pairs = pairs.chain(self.end.iter_mut().zip(&by.end));
        for (own, by) in pairs.flat_map(|(own, by)| own.iter_mut().zip(by)) {
            change(&mut own.1, by.1);
        }
    }

    pub(crate) fn new(schedule: &Schedule, mix: &Mix, rate: f64) -> Self {
        let mut mean: Vec<Weights> = mix
            .shares
            .iter()
            .map(|&(joint, _)| mean_weights(schedule, mix, joint, rate))
            .collect();
        // The base has what is left, so that the mean over all is zero.
        let base_share = mix.shares[0].1;
        if base_share > 0.0 {
            for at in 1..mean.len() {
                let share = mix.shares[at].1 / base_share;
                let own: Weights = mean[at].iter().map(|&(g, w)| (g, -w * share)).collect();
                mean[0].extend(own);
            }
        }
        let end = mix.worst.iter();
        let end = end.map(|&joint| end_weights(schedule, mix, joint, rate));
        Self {
            mean: mean.into_iter().map(gather).collect(),
            end: end.map(gather).collect(),
        }
    }
}

/// Adds weights of the same step.
fn gather(mut weights: Weights) -> Weights {
    weights.sort_by_key(|w| w.0);
    let mut out: Weights = Vec::with_capacity(weights.len());
    for (step, weight) in weights {
        match out.last_mut() {
            Some(last) if last.0 == step => last.1 += weight,
            _ => out.push((step, weight)),
        }
    }
    out
}

/// Each own task's ripple, averaged over its step.
fn mean_weights(schedule: &Schedule, mix: &Mix, joint: usize, rate: f64) -> Weights {
    let mut weights = Vec::new();
    let steps = schedule.joints[joint].steps.iter();
    for &(task, step) in steps.filter(|s| mix.active.contains(&s.0)) {
        let timed = &schedule.tasks[task];
        let (from, to) = timed.interval(step);
        for (at, unit) in units(timed, rate).enumerate() {
            weights.push((timed.first_step + at, unit.mean(from, to) - unit.level()));
        }
    }
    weights
}

/// Each own task's ripple at the end of its step, and what the other tasks may just have left.
fn end_weights(schedule: &Schedule, mix: &Mix, joint: usize, rate: f64) -> Weights {
    let mut weights = Vec::new();
    let own = &schedule.joints[joint].steps;
    for &task in &mix.active {
        let timed = &schedule.tasks[task];
        let step = own.iter().find(|s| s.0 == task).map(|s| s.1);
        let (instant, wait) = match step {
            Some(step) => (timed.interval(step).1, 0.0),
            None => (timed.busy_secs(), wait_secs(schedule, own, task)),
        };
        let left = math::exp(-rate * wait);
        for (at, unit) in units(timed, rate).enumerate() {
            weights.push((
                timed.first_step + at,
                unit.at(instant) * left - unit.level(),
            ));
        }
    }
    weights
}

/// What the tasks have left of one unit in each step at the instant at which an occurrence begins:
/// its own tasks one interval ago, the others as late as they can have been.
pub(crate) fn start_weights(
    schedule: &Schedule,
    mix: &Mix,
    occurrence: &[(usize, f64)],
    rate: f64,
) -> Weights {
    let mut weights = Vec::new();
    for &task in &mix.active {
        let timed = &schedule.tasks[task];
        let (instant, left) = match occurrence.iter().find(|o| o.0 == task) {
            // A task that starts later was last over by so much longer ago.
            Some(&(_, start)) => (timed.every_secs - start, 1.0),
            None => (
                timed.busy_secs(),
                math::exp(-rate * gap_secs(schedule, occurrence, task)),
            ),
        };
        for (at, unit) in units(timed, rate).enumerate() {
            let weight = unit.at(instant) * left - unit.level();
            weights.push((timed.first_step + at, weight));
        }
    }
    gather(weights)
}

/// The shortest time for which `task` can have been over when an occurrence of others begins.
fn gap_secs(schedule: &Schedule, occurrence: &[(usize, f64)], task: usize) -> f64 {
    let other = &schedule.tasks[task];
    let gaps = occurrence
        .iter()
        .map(|&(t, _)| schedule.tasks[t].shortest_gap(other));
    gaps.fold(0.0, f64::max)
}

/// The shortest time for which `task` can have been over at the end of the steps of a joint state.
fn wait_secs(schedule: &Schedule, own: &[(usize, usize)], task: usize) -> f64 {
    let other = &schedule.tasks[task];
    let waits = own.iter().filter_map(|&(t, step)| {
        let timed = &schedule.tasks[t];
        let until = timed.interval(step).1;
        let gap = timed.shortest_gap(other);
        let apart = timed.claims.iter().any(|load| other.claims.contains(load));
        (apart || gap > 0.0).then_some(until + gap)
    });
    waits.fold(0.0, f64::max)
}

fn units(timed: &Timed, rate: f64) -> impl Iterator<Item = Unit> + '_ {
    (0..timed.steps.len()).map(move |step| Unit::new(timed, step, rate))
}

impl Unit {
    fn new(timed: &Timed, step: usize, rate: f64) -> Self {
        let (period, (start, end)) = (timed.every_secs, timed.interval(step));
        let span = end - start;
        let rest = math::exp(-rate * (period - end).max(0.0));
        let initial = math::exp_m1(-rate * span) * rest / math::exp_m1(-rate * period);
        Self {
            rate,
            period,
            start,
            span,
            initial,
        }
    }

    /// Mean over the period.
    fn level(&self) -> f64 {
        self.span / self.period
    }

    fn at(&self, t: f64) -> f64 {
        let decay = |secs: f64| math::exp(-self.rate * secs);
        if t <= self.start {
            return self.initial * decay(t);
        }
        let since = (t - self.start).min(self.span);
        let before = self.initial * decay(self.start);
        let inside = before + (before - 1.0) * math::exp_m1(-self.rate * since);
        inside * decay((t - self.start - self.span).max(0.0))
    }

    /// Mean over a stretch that the step covers wholly or not at all.
    fn mean(&self, from: f64, to: f64) -> f64 {
        let z = self.rate * (to - from);
        let share = if z > 0.0 { -math::exp_m1(-z) / z } else { 1.0 };
        let first = self.at(from);
        if from < self.start + self.span && self.start < to {
            1.0 + (first - 1.0) * share
        } else {
            first * share
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    /// Against many small steps over many periods.
    #[test]
    fn closed_form_is_what_stepping_settles_to() {
        let timed = Timed {
            name: "t".to_owned(),
            every_secs: 5.0,
            offset_ns: None,
            within: None,
            every_ns: 5_000_000_000,
            steps: vec![(0.2, 1), (0.1, 2)],
            first_step: 0,
            claims: BTreeSet::new(),
        };
        let drive = [1.0, 7.0];
        for tau in [0.05, 0.5, 8.0, 700.0] {
            let n = 50_000;
            let h = 5.0 / f64::from(n);
            let level = (0.2 + 0.7) / 5.0;
            let (mut v, mut sum, mut ends, mut means) = (level, 0.0, [0.0; 2], [0.0; 2]);
            for _ in 0..(12.0_f64 * tau / 5.0).ceil().max(3.0) as usize {
                (sum, means) = (0.0, [0.0; 2]);
                for k in 0..n {
                    let t = (f64::from(k) + 0.5) * h;
                    let step = usize::from(t >= 0.2);
                    let u = if t < 0.3 { drive[step] } else { 0.0 };
                    let next = u + (v - u) * libm::exp(-h / tau);
                    let area = (v + next) / 2.0 * h;
                    sum += area;
                    if t < 0.3 {
                        means[step] += area / timed.steps[step].0;
                        ends[step] = next;
                    }
                    v = next;
                }
            }
            for step in 0..2 {
                let (from, to) = timed.interval(step);
                let all = || units(&timed, 1.0 / tau).zip(drive);
                let end: f64 = all().map(|(u, d)| d * (u.at(to) - u.level())).sum();
                let mean: f64 = all().map(|(u, d)| d * (u.mean(from, to) - u.level())).sum();
                let level = sum / 5.0;
                assert!((end - (ends[step] - level)).abs() < 2e-5, "tau {tau}");
                assert!((mean - (means[step] - level)).abs() < 2e-5, "tau {tau}");
            }
        }
    }
}
