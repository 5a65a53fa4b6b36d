//! One step of a stiff system whose algebraic part is solved along with it.
//!
//! A singly diagonally implicit Runge-Kutta method of order 3 with an explicit first stage, L-stable and
//! stiffly accurate: what holds at the last stage holds at the end of the step, so algebraic
//! equations are met there exactly, and the rates found there open the next step.
//!
//! # Formula
//! ```text
//! y_i = y + h sum over j < i of a_ij f_j + h g f_i     f_i the rates at stage i
//! ```
//!
//! # References
//! C. A. Kennedy and M. H. Carpenter, "Additive Runge-Kutta schemes for convection-diffusion-reaction
//! equations", Appl. Numer. Math. 44 (2003): ARK3(2)4L\[2\]SA, its implicit part.

/// Diagonal of the method.
pub const DIAGONAL: f64 = 1_767_732_205_903.0 / 4_055_673_282_236.0;
/// Where the stages lie in the step.
pub const INSTANTS: [f64; 4] = [0.0, 2.0 * DIAGONAL, 0.6, 1.0];
const THIRD: [f64; 2] = [
    2_746_238_789_719.0 / 10_658_868_560_708.0,
    -640_167_445_237.0 / 6_845_629_431_997.0,
];
const WEIGHTS: [f64; 4] = [
    1_471_266_399_579.0 / 7_840_856_788_654.0,
    -4_482_444_167_858.0 / 7_529_755_066_697.0,
    11_266_239_266_428.0 / 11_593_286_722_821.0,
    DIAGONAL,
];
/// Weights of the method of order 2 on the same stages.
const COARSE: [f64; 4] = [
    2_756_255_671_327.0 / 12_835_298_489_170.0,
    -10_771_552_573_575.0 / 22_201_958_757_719.0,
    9_247_589_265_047.0 / 10_645_013_368_117.0,
    2_193_209_047_091.0 / 5_459_859_503_100.0,
];

/// What is integrated.
pub trait Stages {
    /// Solves `y = known + theta f(y)` together with all that hangs on it, at a share of the step;
    /// fills in `y` and `f`. False where that has no solution near by.
    fn stage(
        &mut self,
        share: f64,
        known: &[f64],
        theta: f64,
        y: &mut [f64],
        f: &mut [f64],
    ) -> bool;

    /// An error of `y` over what is allowed, 1 at the limit.
    fn error(&self, error: &[f64], y: &[f64]) -> f64;
}

/// A step with its buffers.
#[derive(Debug, Clone, Default)]
pub struct StiffStep {
    /// Rates at the four stages; the first is given by the last step.
    rates: [Vec<f64>; 4],
    known: Vec<f64>,
    error: Vec<f64>,
    /// The states at the end of the step.
    pub end: Vec<f64>,
}

impl StiffStep {
    /// A step for a start whose rates are known.
    #[must_use]
    pub fn new(rates: Vec<f64>) -> Self {
        let n = rates.len();
        let zeros = || vec![0.0; n];
        Self {
            rates: [rates, zeros(), zeros(), zeros()],
            known: zeros(),
            error: zeros(),
            end: zeros(),
        }
    }

    /// Takes a step of length `h` from `y`; gives its error over what is allowed. None where a stage
    /// has no solution: a shorter step may have one.
    pub fn take<S: Stages>(&mut self, stages: &mut S, y: &[f64], h: f64) -> Option<f64> {
        let rows: [&[f64]; 3] = [&[DIAGONAL], &THIRD, &WEIGHTS[..3]];
        for (stage, row) in rows.iter().enumerate() {
            for (k, known) in self.known.iter_mut().enumerate() {
                let sum: f64 = row.iter().zip(&self.rates).map(|(a, f)| a * f[k]).sum();
                *known = y[k] + h * sum;
            }
            let rates = &mut self.rates[stage + 1];
            let share = INSTANTS[stage + 1];
            if !stages.stage(share, &self.known, h * DIAGONAL, &mut self.end, rates) {
                return None;
            }
        }
        for (k, error) in self.error.iter_mut().enumerate() {
            let each = (0..4).map(|s| (WEIGHTS[s] - COARSE[s]) * self.rates[s][k]);
            *error = h * each.sum::<f64>();
        }
        let error = stages.error(&self.error, &self.end);
        error.is_finite().then_some(error)
    }

    /// Rates at the end of the step taken last.
    #[must_use]
    pub fn end_rates(&self) -> &[f64] {
        &self.rates[3]
    }

    /// Goes on from the end of the step taken last.
    pub fn accept(&mut self) {
        self.rates.swap(0, 3);
    }

    /// Goes on from a start with other rates, perhaps of another number.
    pub fn restart(&mut self, rates: &[f64]) {
        if rates.len() == self.end.len() {
            self.rates[0].copy_from_slice(rates);
        } else {
            *self = Self::new(rates.to_vec());
        }
    }
}

/// Factor on the step after an error over what is allowed; the error is of the third order.
#[must_use]
pub fn next_step_factor(error: f64) -> f64 {
    if error > 0.0 {
        (0.85 / libm::cbrt(error)).clamp(0.2, 4.0)
    } else {
        4.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// y' = -rate (y - target).
    struct Relaxing {
        rate: f64,
        target: f64,
    }

    impl Stages for Relaxing {
        fn stage(
            &mut self,
            _share: f64,
            known: &[f64],
            theta: f64,
            y: &mut [f64],
            f: &mut [f64],
        ) -> bool {
            y[0] = (known[0] + theta * self.rate * self.target) / (1.0 + theta * self.rate);
            f[0] = -self.rate * (y[0] - self.target);
            true
        }

        fn error(&self, error: &[f64], _y: &[f64]) -> f64 {
            error[0].abs()
        }
    }

    fn after(h: f64, steps: usize, rate: f64) -> f64 {
        let mut system = Relaxing { rate, target: 0.0 };
        let mut y = vec![1.0];
        let mut step = StiffStep::new(vec![-rate]);
        for _ in 0..steps {
            step.take(&mut system, &y, h).expect("linear");
            y.copy_from_slice(&step.end);
            step.accept();
        }
        y[0]
    }

    #[test]
    fn halving_the_step_divides_the_error_by_eight() {
        let exact = libm::exp(-1.0);
        let coarse = (after(0.1, 10, 1.0) - exact).abs();
        let fine = (after(0.05, 20, 1.0) - exact).abs();
        let ratio = coarse / fine;
        assert!((7.0..9.0).contains(&ratio), "{ratio}");
    }

    #[test]
    fn a_step_far_longer_than_a_time_constant_settles() {
        assert!(after(1.0, 1, 1e9).abs() < 1e-6);
    }

    /// The conditions of order 3 of the weights and of order 2 of the coarse ones.
    #[test]
    fn the_weights_meet_their_conditions_of_order() {
        let sum = |w: &[f64; 4], power: i32| -> f64 {
            let each = w.iter().zip(INSTANTS);
            each.map(|(w, c)| w * c.powi(power)).sum()
        };
        for (power, want) in [(0, 1.0), (1, 0.5), (2, 1.0 / 3.0)] {
            assert!((sum(&WEIGHTS, power) - want).abs() < 1e-14, "{power}");
        }
        for (power, want) in [(0, 1.0), (1, 0.5)] {
            assert!((sum(&COARSE, power) - want).abs() < 1e-14, "{power}");
        }
    }
}
