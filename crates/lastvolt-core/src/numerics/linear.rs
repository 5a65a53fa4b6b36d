//! Dense linear solving with partial pivoting, which names the column that has no pivot.

/// A square matrix in row order together with its factors once [`Matrix::factor`] has run.
#[derive(Debug, Clone, Default)]
pub struct Matrix {
    n: usize,
    a: Vec<f64>,
    row: Vec<usize>,
}

impl Matrix {
    /// A matrix of zeros.
    #[must_use]
    pub fn zeros(n: usize) -> Self {
        Self {
            n,
            a: vec![0.0; n * n],
            row: (0..n).collect(),
        }
    }

    /// Number of rows.
    #[must_use]
    pub fn len(&self) -> usize {
        self.n
    }

    /// Whether there is nothing to solve.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.n == 0
    }

    /// Sets every entry to zero.
    pub fn clear(&mut self) {
        self.a.fill(0.0);
    }

    /// Adds to an entry.
    pub fn add(&mut self, row: usize, column: usize, value: f64) {
        self.a[row * self.n + column] += value;
    }

    /// An entry.
    #[must_use]
    pub fn entry(&self, row: usize, column: usize) -> f64 {
        self.a[row * self.n + column]
    }

    /// Multiplies a row.
    pub fn scale_row(&mut self, row: usize, factor: f64) {
        for entry in &mut self.a[row * self.n..(row + 1) * self.n] {
            *entry *= factor;
        }
    }

    /// Replaces the matrix by its factors.
    ///
    /// Rows are compared after scaling by their largest entry, so that a row in amperes and a row
    /// in volts are judged alike.
    ///
    /// # Errors
    /// The column without a usable pivot.
    pub fn factor(&mut self) -> Result<(), usize> {
        let n = self.n;
        self.row = (0..n).collect();
        let scale: Vec<f64> = (0..n)
            .map(|r| {
                self.a[r * n..(r + 1) * n]
                    .iter()
                    .fold(0.0_f64, |m, v| m.max(v.abs()))
            })
            .collect();
        let mut scale = scale;
        for k in 0..n {
            let best = (k..n)
                .max_by(|&p, &q| {
                    let vp = self.a[p * n + k].abs() / scale[p].max(f64::MIN_POSITIVE);
                    let vq = self.a[q * n + k].abs() / scale[q].max(f64::MIN_POSITIVE);
                    vp.total_cmp(&vq).then(q.cmp(&p))
                })
                .unwrap_or(k);
            let pivot = self.a[best * n + k];
            if pivot.is_nan() || pivot.abs() <= scale[best] * 1e-18 || scale[best] == 0.0 {
                return Err(k);
            }
            if best != k {
                for c in 0..n {
                    self.a.swap(best * n + c, k * n + c);
                }
                self.row.swap(best, k);
                scale.swap(best, k);
            }
            for r in k + 1..n {
                let factor = self.a[r * n + k] / pivot;
                if factor != 0.0 {
                    self.a[r * n + k] = factor;
                    for c in k + 1..n {
                        self.a[r * n + c] -= factor * self.a[k * n + c];
                    }
                }
            }
        }
        Ok(())
    }

    /// Solves with the factors; `b` becomes the solution.
    pub fn solve(&self, b: &mut [f64]) {
        let n = self.n;
        let mut x: Vec<f64> = self.row.iter().map(|&r| b[r]).collect();
        for r in 0..n {
            for c in 0..r {
                x[r] -= self.a[r * n + c] * x[c];
            }
        }
        for r in (0..n).rev() {
            for c in r + 1..n {
                x[r] -= self.a[r * n + c] * x[c];
            }
            x[r] /= self.a[r * n + r];
        }
        b.copy_from_slice(&x);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn solves_a_system_that_needs_pivoting() {
        let mut m = Matrix::zeros(3);
        let rows = [[0.0, 2.0, 1.0], [1e6, -1e6, 3e6], [4.0, 1.0, 0.0]];
        for (r, row) in rows.iter().enumerate() {
            for (c, v) in row.iter().enumerate() {
                m.add(r, c, *v);
            }
        }
        let mut b = [7.0, 8e6, 6.0];
        m.factor().expect("regular");
        m.solve(&mut b);
        for (got, want) in b.iter().zip([1.0, 2.0, 3.0]) {
            assert!((got - want).abs() < 1e-12);
        }
    }

    #[test]
    fn names_the_column_without_pivot() {
        let mut m = Matrix::zeros(2);
        m.add(0, 0, 1.0);
        m.add(1, 0, 2.0);
        assert_eq!(m.factor(), Err(1));
    }
}
