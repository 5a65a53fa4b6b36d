//! Monotone cubic tables, held constant outside their ends, with exact integrals.
//!
//! # References
//! F. N. Fritsch and J. Butland, "A method for constructing local monotone piecewise cubic
//! interpolants", SIAM J. Sci. Stat. Comput. 5 (1984): the weighted harmonic mean of neighbouring
//! slopes. End slopes by the three-point formula with the shape-preserving limits of Moler,
//! "Numerical Computing with MATLAB" (2004), chapter 3.

use thiserror::Error;

/// A smooth function through given points that overshoots none of them.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    x: Vec<f64>,
    y: Vec<f64>,
    slope: Vec<f64>,
    /// Coefficients of each piece, from t = 0 to 1: its width, and those of t^2 and t^3 over it.
    pieces: Vec<[f64; 3]>,
    /// Integral from the first point to each point.
    area: Vec<f64>,
}

/// Why points do not make a table.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum TableError {
    /// There is no point.
    #[error("a table needs at least one point")]
    Empty,
    /// A coordinate is not a finite number.
    #[error("point {index} is not finite")]
    NotFinite {
        /// Position of the point, from 0.
        index: usize,
    },
    /// The first column does not rise.
    #[error("point {index} does not lie after the one before it")]
    NotRising {
        /// Position of the point, from 0.
        index: usize,
    },
}

impl Table {
    /// A table through points whose first coordinates rise strictly.
    ///
    /// # Errors
    /// No points, a coordinate that is not finite, or a first column that does not rise.
    pub fn new(points: &[(f64, f64)]) -> Result<Self, TableError> {
        if points.is_empty() {
            return Err(TableError::Empty);
        }
        for (index, point) in points.iter().enumerate() {
            if !point.0.is_finite() || !point.1.is_finite() {
                return Err(TableError::NotFinite { index });
            }
            if index > 0 && points[index - 1].0 >= point.0 {
                return Err(TableError::NotRising { index });
            }
        }
        let x: Vec<f64> = points.iter().map(|p| p.0).collect();
        let y: Vec<f64> = points.iter().map(|p| p.1).collect();
        let slope = slopes(&x, &y);
        let mut table = Self {
            area: vec![0.0; x.len()],
            pieces: pieces(&x, &y, &slope),
            x,
            y,
            slope,
        };
        for k in 1..table.x.len() {
            table.area[k] = table.area[k - 1] + table.piece_area(k - 1, table.x[k]);
        }
        Ok(table)
    }

    /// A table that is the same everywhere.
    #[must_use]
    pub fn constant(y: f64) -> Self {
        Self {
            x: vec![0.0],
            y: vec![y],
            slope: vec![0.0],
            pieces: Vec::new(),
            area: vec![0.0],
        }
    }

    /// The points of the table.
    pub fn points(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.x.iter().copied().zip(self.y.iter().copied())
    }

    /// A table whose every value is `f(x, y)`.
    #[must_use]
    pub fn map(&self, f: impl Fn(f64, f64) -> f64) -> Self {
        let points: Vec<_> = self.points().map(|(x, y)| (x, f(x, y))).collect();
        Self::new(&points).unwrap_or_else(|_| self.clone())
    }

    /// The value at `x`.
    #[must_use]
    pub fn at(&self, x: f64) -> f64 {
        self.value_and_slope(x).0
    }

    /// The value and its derivative at `x`; the derivative is 0 outside the ends.
    #[must_use]
    pub fn value_and_slope(&self, x: f64) -> (f64, f64) {
        let last = self.x.len() - 1;
        if x <= self.x[0] || last == 0 {
            return (self.y[0], 0.0);
        }
        if x >= self.x[last] {
            return (self.y[last], 0.0);
        }
        let k = self.piece(x);
        let [h, c2, c3] = self.pieces[k];
        let t = (x - self.x[k]) / h;
        let value = self.y[k] + h * t * (self.slope[k] + t * (c2 + t * c3));
        (value, self.slope[k] + t * (2.0 * c2 + 3.0 * t * c3))
    }

    /// The integral from the first point to `x`, the ends carried on as constants.
    #[must_use]
    pub fn integral(&self, x: f64) -> f64 {
        let last = self.x.len() - 1;
        if x <= self.x[0] {
            return self.y[0] * (x - self.x[0]);
        }
        if x >= self.x[last] {
            return self.area[last] + self.y[last] * (x - self.x[last]);
        }
        let k = self.piece(x);
        self.area[k] + self.piece_area(k, x)
    }

    fn piece(&self, x: f64) -> usize {
        self.x
            .partition_point(|&knot| knot <= x)
            .clamp(1, self.x.len() - 1)
            - 1
    }

    fn piece_area(&self, k: usize, x: f64) -> f64 {
        let [h, c2, c3] = self.pieces[k];
        let t = (x - self.x[k]) / h;
        h * t * (self.y[k] + h * t * (self.slope[k] / 2.0 + t * (c2 / 3.0 + t * c3 / 4.0)))
    }
}

fn pieces(x: &[f64], y: &[f64], slope: &[f64]) -> Vec<[f64; 3]> {
    let each = (1..x.len()).map(|k| {
        let h = x[k] - x[k - 1];
        let secant = (y[k] - y[k - 1]) / h;
        let (m0, m1) = (slope[k - 1], slope[k]);
        [h, 3.0 * secant - 2.0 * m0 - m1, m0 + m1 - 2.0 * secant]
    });
    each.collect()
}

fn slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let n = x.len();
    if n == 1 {
        return vec![0.0];
    }
    let h: Vec<f64> = x.windows(2).map(|w| w[1] - w[0]).collect();
    let d: Vec<f64> = y
        .windows(2)
        .zip(&h)
        .map(|(w, h)| (w[1] - w[0]) / h)
        .collect();
    if n == 2 {
        return vec![d[0]; 2];
    }
    let mut slope = vec![0.0; n];
    for k in 1..n - 1 {
        if d[k - 1] * d[k] > 0.0 {
            let w1 = 2.0 * h[k] + h[k - 1];
            let w2 = h[k] + 2.0 * h[k - 1];
            slope[k] = (w1 + w2) / (w1 / d[k - 1] + w2 / d[k]);
        }
    }
    slope[0] = end_slope(h[0], h[1], d[0], d[1]);
    slope[n - 1] = end_slope(h[n - 2], h[n - 3], d[n - 2], d[n - 3]);
    slope
}

fn end_slope(h0: f64, h1: f64, d0: f64, d1: f64) -> f64 {
    let slope = ((2.0 * h0 + h1) * d0 - h0 * d1) / (h0 + h1);
    if slope * d0 <= 0.0 {
        0.0
    } else if d0 * d1 <= 0.0 && slope.abs() > 3.0 * d0.abs() {
        3.0 * d0
    } else {
        slope
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// scipy 1.17 `PchipInterpolator` on the same points: values and `antiderivative`.
    #[test]
    fn ref_scipy_pchip() {
        let table = Table::new(&[
            (0.0, 1.60),
            (0.05, 1.52),
            (0.5, 1.27),
            (0.95, 1.0),
            (1.0, 0.6),
        ])
        .expect("points rise");
        for (x, y) in [
            (0.0, 1.6),
            (0.02, 1.564_114_172_059_984_3),
            (0.2, 1.411_274_675_805_062_5),
            (0.7, 1.193_335_225_025_365_7),
            (0.97, 0.890_721_416_498_993_8),
            (0.999, 0.608_839_101_633_802_8),
        ] {
            assert!(
                (table.at(x) - y).abs() < 1e-12,
                "at {x}: {} against {y}",
                table.at(x)
            );
        }
        assert!((table.integral(1.0) - 1.266_325_290_303_309_8).abs() < 1e-12);
        assert!((table.integral(0.7) - 0.944_931_640_798_449_9).abs() < 1e-12);
    }

    #[test]
    fn integral_is_the_sum_of_fine_trapezoids() {
        let table = Table::new(&[(0.0, 3.2), (0.1, 3.0), (0.8, 2.9), (1.0, 2.0)]).expect("rise");
        let n = 200_000;
        let mut sum = 0.0;
        for k in 0..n {
            let (a, b) = (f64::from(k) / f64::from(n), f64::from(k + 1) / f64::from(n));
            sum += (table.at(a) + table.at(b)) / 2.0 * (b - a);
        }
        assert!((table.integral(1.0) - sum).abs() < 1e-9);
        assert!((table.integral(1.5) - table.integral(1.0) - 1.0).abs() < 1e-12);
    }
}
