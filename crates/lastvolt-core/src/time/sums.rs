//! What is left of a state after many cycles that each add a little: the sums of a leap in closed form.

/// Sums over j < n of a^(n-1-j) (j/N)^m for m = 0, 1, 2, and a^n.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sums {
    kept: f64,
    sums: [f64; 3],
}

impl Sums {
    /// Sums for n of N cycles, both whole numbers, by halving n.
    pub(crate) fn new(a: f64, n: f64, whole: f64) -> Self {
        if n < 1.0 {
            return Self {
                kept: 1.0,
                sums: [0.0; 3],
            };
        }
        let half = Self::new(a, (n / 2.0).floor(), whole);
        let [g0, g1, g2] = half.sums;
        let x = (n / 2.0).floor() / whole;
        let mut both = Self {
            kept: half.kept * half.kept,
            sums: [
                half.kept * g0 + g0,
                half.kept * g1 + g1 + x * g0,
                half.kept * g2 + g2 + 2.0 * x * g1 + x * x * g0,
            ],
        };
        if n % 2.0 >= 1.0 {
            let x = (n - 1.0) / whole;
            both.kept *= a;
            for (sum, power) in both.sums.iter_mut().zip([1.0, x, x * x]) {
                *sum = a * *sum + power;
            }
        }
        both
    }

    /// The state after n cycles that add the parabola through three values.
    pub(crate) fn state(&self, start: f64, [b0, b1, b2]: [f64; 3]) -> f64 {
        let [g0, g1, g2] = self.sums;
        self.kept * start
            + b0 * (g0 - 3.0 * g1 + 2.0 * g2)
            + b1 * 4.0 * (g1 - g2)
            + b2 * (2.0 * g2 - g1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_are_those_of_one_cycle_after_the_other() {
        for a in [0.0, 0.3, 0.999, 1.0] {
            for (n, whole) in [(1, 2), (7, 14), (64, 64), (501, 1002)] {
                let b = |x: f64| 1.0 + 2.0 * x - 0.7 * x * x;
                let mut z = 0.4;
                for j in 0..n {
                    z = a * z + b(f64::from(j) / f64::from(whole));
                }
                let sums = Sums::new(a, f64::from(n), f64::from(whole));
                let got = sums.state(0.4, [b(0.0), b(0.5), b(1.0)]);
                assert!((got / z - 1.0).abs() < 1e-12, "{a} {n}: {got} {z}");
            }
        }
    }
}
