//! One step of a linear relaxation under a smooth drive, exact for a quadratic drive.
//!
//! # Formula
//! ```text
//! y' = u(t) - rate y   u quadratic through its values at 0, h/2 and h
//! y(th) = e^-z y0 + h [t p1 u0 + t^2 p2 (-3 u0 + 4 u1 - u2) + 4 t^3 p3 (u0 - 2 u1 + u2)]
//! z = rate t h   p1 = (1 - e^-z)/z   p2 = (1 - p1)/z   p3 = (1/2 - p2)/z
//! ```
//! With rate 0 the end value is Simpson's rule. The step may be far longer than 1/rate.
//!
//! # References
//! M. Hochbruck and A. Ostermann, "Exponential integrators", Acta Numerica 19 (2010): exponential
//! collocation and the functions p (their phi).

use crate::numerics::math;

/// The weights of a step for one rate and one span.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Relax {
    decay: [f64; 2],
    weight: [[f64; 3]; 2],
}

impl Relax {
    /// Weights for a rate of at least 0 and a span, in units that cancel.
    #[must_use]
    pub fn new(rate: f64, span: f64) -> Self {
        let (mid_decay, mid) = weights(rate, span, 0.5);
        let (end_decay, end) = weights(rate, span, 1.0);
        Self {
            decay: [mid_decay, end_decay],
            weight: [mid, end],
        }
    }

    /// The values in the middle and at the end of the step.
    #[must_use]
    pub fn advance(&self, start: f64, drive: [f64; 3]) -> [f64; 2] {
        [0, 1].map(|at| {
            let w = &self.weight[at];
            self.decay[at] * start + w[0] * drive[0] + w[1] * drive[1] + w[2] * drive[2]
        })
    }
}

fn weights(rate: f64, span: f64, t: f64) -> (f64, [f64; 3]) {
    let (decay, p) = phi(rate * span * t);
    let (a, b, c) = (t * p[0], t * t * p[1], 4.0 * t * t * t * p[2]);
    let w = [a - 3.0 * b + c, 4.0 * b - 2.0 * c, c - b];
    (decay, w.map(|w| w * span))
}

/// e^-z and the first three phi functions of -z, for z of at least 0.
fn phi(z: f64) -> (f64, [f64; 3]) {
    if z < 1.0 {
        // The last one by its series, the others from it without cancellation.
        let (mut term, mut p3) = (1.0 / 6.0, 0.0);
        for n in 0..20 {
            p3 += term;
            term *= -z / f64::from(n + 4);
        }
        let p2 = 0.5 - z * p3;
        let p1 = 1.0 - z * p2;
        (1.0 - z * p1, [p1, p2, p3])
    } else {
        let p1 = -math::exp_m1(-z) / z;
        let p2 = (1.0 - p1) / z;
        (math::exp(-z), [p1, p2, (0.5 - p2) / z])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// y' = 1 + 2 t + 3 t^2 - r y has a closed solution for any rate.
    #[test]
    fn a_quadratic_drive_is_followed_exactly() {
        for rate in [1e-9, 1e-3, 0.3, 0.999, 1.001, 7.0, 400.0] {
            let (h, y0) = (1.5, 0.7);
            let drive = |t: f64| 1.0 + 2.0 * t + 3.0 * t * t;
            let exact = |t: f64| {
                // Particular solution a + b t + c t^2 plus a decaying part.
                let c = 3.0 / rate;
                let b = (2.0 - 2.0 * c) / rate;
                let a = (1.0 - b) / rate;
                a + b * t + c * t * t + (y0 - a) * libm::exp(-rate * t)
            };
            let got = Relax::new(rate, h).advance(y0, [drive(0.0), drive(h / 2.0), drive(h)]);
            if rate > 1e-2 {
                assert!((got[0] - exact(h / 2.0)).abs() < 1e-9, "rate {rate}");
                assert!((got[1] - exact(h)).abs() < 1e-9, "rate {rate}");
            } else {
                let integral = y0 + h + h * h + h * h * h;
                assert!((got[1] - integral).abs() < 10.0 * rate, "rate {rate}");
            }
        }
    }

    #[test]
    fn without_decay_it_is_simpsons_rule() {
        let got = Relax::new(0.0, 6.0).advance(1.0, [1.0, 2.0, 4.0]);
        assert!((got[1] - (1.0 + 13.0)).abs() < 1e-14);
        assert!((got[0] - (1.0 + 6.0 * (5.0 + 16.0 - 4.0) / 24.0)).abs() < 1e-14);
    }
}
