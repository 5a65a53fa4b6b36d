//! The periodic part of a relaxing state under steps of constant drive, in closed form.
//!
//! # Formula
//! ```text
//! over a step of length h with drive u:  v+ = v e^(-h/tau) + u (1 - e^(-h/tau))
//! start of the period:  v0 = v(T from 0) / (1 - e^(-T/tau))
//! ```

use crate::numerics::math;

/// What one step of a task does to a state beyond the mean of the period.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Ripple {
    /// Mean over the step.
    pub(crate) mean: f64,
    /// At the end of the step.
    pub(crate) end: f64,
}

/// Ripple of each step (span, drive), the drive being zero for the rest of the period.
pub(crate) fn ripples(tau: f64, period: f64, steps: &[(f64, f64)]) -> Vec<Ripple> {
    let busy: f64 = steps.iter().map(|s| s.0).sum();
    let level: f64 = steps.iter().map(|(h, u)| h * u).sum::<f64>() / period;
    let from_zero = steps.iter().fold(0.0, |v, &(h, u)| relax(v, h, u, tau));
    let at_end = relax(from_zero, (period - busy).max(0.0), 0.0, tau);
    let mut v = -at_end / math::exp_m1(-period / tau);
    let mut found = Vec::with_capacity(steps.len());
    for &(h, u) in steps {
        let share = if h > 0.0 {
            -math::exp_m1(-h / tau) * tau / h
        } else {
            1.0
        };
        let mean = u + (v - u) * share;
        v = relax(v, h, u, tau);
        found.push(Ripple {
            mean: mean - level,
            end: v - level,
        });
    }
    found
}

fn relax(v: f64, h: f64, u: f64, tau: f64) -> f64 {
    v + (v - u) * math::exp_m1(-h / tau)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against many small steps over many periods.
    #[test]
    fn closed_form_is_what_stepping_settles_to() {
        for (tau, period) in [(0.5, 5.0), (8.0, 5.0), (700.0, 5.0)] {
            let steps = [(0.2, 1.0), (0.1, 7.0)];
            let got = ripples(tau, period, &steps);
            let n = 20_000;
            let h = period / f64::from(n);
            let (mut v, mut sum, mut ends) = (got[0].end * 0.0, 0.0, [0.0; 2]);
            // Start at the level so that slow states settle in few periods.
            v += (0.2 + 0.7) / period;
            let periods = (12.0 * tau / period).ceil().max(3.0) as usize;
            for _ in 0..periods {
                sum = 0.0;
                for k in 0..n {
                    let t = (f64::from(k) + 0.5) * h;
                    let u = if t < 0.2 {
                        1.0
                    } else if t < 0.3 {
                        7.0
                    } else {
                        0.0
                    };
                    let next = relax(v, h, u, tau);
                    sum += (v + next) / 2.0 * h;
                    v = next;
                    if (t + 0.5 * h - 0.2).abs() < h / 4.0 {
                        ends[0] = v;
                    }
                    if (t + 0.5 * h - 0.3).abs() < h / 4.0 {
                        ends[1] = v;
                    }
                }
            }
            let level = sum / period;
            for (got, end) in got.iter().zip(ends) {
                let want = end - level;
                assert!(
                    (got.end - want).abs() < 2e-4,
                    "tau {tau}: {} against {want}",
                    got.end
                );
            }
        }
    }
}
