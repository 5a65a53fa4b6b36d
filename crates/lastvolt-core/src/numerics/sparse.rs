//! Linear solving for matrices of mostly zeros that are factored again and again.
//!
//! The first factoring chooses pivots that make few new entries (Markowitz' count) among those that
//! are large enough, and writes down what there is to do; later ones follow that list as long as
//! every pivot stays large enough, and choose anew where one does not. Rows are compared after
//! scaling by their largest entry, as in [`crate::numerics::linear`].
//!
//! # References
//! H. M. Markowitz, "The elimination form of the inverse and its application to linear programming",
//! Management Science 3 (1957); I. S. Duff, A. M. Erisman and J. K. Reid, "Direct Methods for Sparse
//! Matrices" (1986), on threshold pivoting.

mod left;

use crate::numerics::linear::Matrix;
use left::Left;

/// Share of the largest entry of its column that a pivot must have when it is chosen.
const CHOSEN: f64 = 0.1;
/// Share of it that a pivot must keep.
const KEPT: f64 = 1e-3;
/// Share of the largest entry of its row below which a pivot is none.
const NONE: f64 = 1e-18;

/// A square matrix, its factors once [`Sparse::factor`] has run, and how it was factored last.
#[derive(Debug, Clone, Default)]
pub struct Sparse {
    n: usize,
    /// The entries, in row order.
    a: Vec<f64>,
    /// The factors, at the places of the entries they come from.
    lu: Vec<f64>,
    /// Largest entry of each row.
    scale: Vec<f64>,
    order: Order,
    /// The order to return to.
    first: Order,
    /// Whether the order is not the first any more.
    moved: bool,
    /// Whether entries may lie where the order knows of none.
    is_littered: bool,
    /// Whether factors may lie where this order makes none.
    has_old_factors: bool,
    left: Left,
    /// Room for a pivot's row.
    behind: Vec<f64>,
}

/// Which entries there are and in which order they are eliminated.
#[derive(Debug, Clone, Default)]
struct Order {
    /// By place: whether there is an entry.
    known: Vec<bool>,
    /// Places of the entries, row after row.
    entries: Vec<u32>,
    /// Where the entries of each row begin.
    rows: Vec<u32>,
    /// Whether these two fit the entries.
    is_listed: bool,
    /// Whether the list below fits the entries.
    is_whole: bool,
    pivots: Vec<Pivot>,
    /// Rows below each pivot.
    lower: Vec<u32>,
    /// Columns behind each pivot.
    upper: Vec<u32>,
    /// Places that only the elimination fills.
    fills: Vec<u32>,
}

#[derive(Debug, Clone, Copy)]
struct Pivot {
    row: u32,
    column: u32,
    /// Where its rows below and its columns behind end in their lists.
    lower: u32,
    upper: u32,
}

impl Sparse {
    /// A matrix of zeros.
    #[must_use]
    pub fn zeros(n: usize) -> Self {
        let order = Order {
            known: vec![false; n * n],
            ..Order::default()
        };
        Self {
            n,
            a: vec![0.0; n * n],
            lu: vec![0.0; n * n],
            scale: vec![0.0; n],
            first: order.clone(),
            order,
            moved: false,
            is_littered: false,
            has_old_factors: false,
            left: Left::default(),
            behind: Vec::new(),
        }
    }

    /// Sets every entry to zero.
    pub fn clear(&mut self) {
        if self.is_littered || !self.order.is_listed {
            self.a.fill(0.0);
            self.is_littered = false;
        } else {
            for &at in &self.order.entries {
                self.a[at as usize] = 0.0;
            }
        }
    }

    /// Adds to an entry.
    pub fn add(&mut self, row: usize, column: usize, value: f64) {
        let at = row * self.n + column;
        self.a[at] += value;
        if !self.order.known[at] {
            self.order.known[at] = true;
            self.order.is_listed = false;
            self.order.is_whole = false;
        }
    }

    /// Multiplies a row.
    pub fn scale_row(&mut self, row: usize, factor: f64) {
        for entry in &mut self.a[row * self.n..(row + 1) * self.n] {
            *entry *= factor;
        }
    }

    /// The matrix as one of all entries, not factored.
    #[must_use]
    pub fn to_dense(&self) -> Matrix {
        let mut dense = Matrix::zeros(self.n);
        for (at, &value) in self.a.iter().enumerate() {
            if value != 0.0 {
                dense.add(at / self.n, at % self.n, value);
            }
        }
        dense
    }

    /// Takes the present order as the one to return to.
    pub fn keep_order(&mut self) {
        self.first.clone_from(&self.order);
        self.moved = false;
    }

    /// Returns to the order that was kept, so that what follows does not hang on what came before.
    pub fn return_to_order(&mut self) {
        if self.moved || !self.order.is_whole {
            self.order.clone_from(&self.first);
            self.moved = false;
            self.is_littered = true;
            self.has_old_factors = true;
        }
    }

    /// Finds the factors.
    ///
    /// # Errors
    /// The column without a usable pivot, as [`Matrix::factor`] finds it.
    pub fn factor(&mut self) -> Result<(), usize> {
        if self.order.is_whole && self.follow() {
            return Ok(());
        }
        self.moved = true;
        let Err(column) = self.choose() else {
            return Ok(());
        };
        // Which column is named must not hang on the order.
        self.to_dense().factor()?;
        Err(column)
    }

    /// Solves with the factors; `b` becomes the solution, `spare` is room for it.
    pub fn solve(&self, b: &mut [f64], spare: &mut Vec<f64>) {
        let n = self.n;
        let order = &self.order;
        let mut from = 0;
        for pivot in &order.pivots {
            let value = b[pivot.row as usize];
            let to = pivot.lower as usize;
            if value != 0.0 {
                for &row in &order.lower[from..to] {
                    let row = row as usize;
                    b[row] -= self.lu[row * n + pivot.column as usize] * value;
                }
            }
            from = to;
        }
        spare.clear();
        spare.resize(n, 0.0);
        for (at, pivot) in order.pivots.iter().enumerate().rev() {
            let from = at.checked_sub(1).map_or(0, |k| order.pivots[k].upper);
            let row = &self.lu[pivot.row as usize * n..(pivot.row as usize + 1) * n];
            let mut value = b[pivot.row as usize];
            for &column in &order.upper[from as usize..pivot.upper as usize] {
                value -= row[column as usize] * spare[column as usize];
            }
            spare[pivot.column as usize] = value / row[pivot.column as usize];
        }
        b.copy_from_slice(spare);
    }

    /// Copies the entries for factoring and finds the largest of each row.
    fn start(&mut self) {
        if self.has_old_factors {
            self.lu.copy_from_slice(&self.a);
            self.has_old_factors = false;
        } else {
            for &at in &self.order.fills {
                self.lu[at as usize] = 0.0;
            }
        }
        for (row, scale) in self.scale.iter_mut().enumerate() {
            let (from, to) = (self.order.rows[row], self.order.rows[row + 1]);
            let mut largest: f64 = 0.0;
            for &at in &self.order.entries[from as usize..to as usize] {
                let value = self.a[at as usize];
                self.lu[at as usize] = value;
                largest = largest.max(value.abs());
            }
            *scale = largest;
        }
    }

    /// Factors in the known order; false where a pivot has become too small.
    fn follow(&mut self) -> bool {
        self.start();
        let n = self.n;
        let (mut lower_from, mut upper_from) = (0, 0);
        for pivot in &self.order.pivots {
            let (row, column) = (pivot.row as usize, pivot.column as usize);
            let own = &self.lu[row * n..(row + 1) * n];
            let (value, scale) = (own[column], self.scale[row]);
            if value.is_nan() || value.abs() <= scale * NONE {
                return false;
            }
            let lower = &self.order.lower[lower_from..pivot.lower as usize];
            let upper = &self.order.upper[upper_from..pivot.upper as usize];
            self.behind.clear();
            self.behind.extend(upper.iter().map(|&c| own[c as usize]));
            let most = value.abs() / (KEPT * scale);
            for &below in lower {
                let below = below as usize;
                let theirs = &mut self.lu[below * n..(below + 1) * n];
                let entry = theirs[column];
                if entry == 0.0 {
                    continue;
                }
                if entry.is_nan() || entry.abs() > most * self.scale[below] {
                    return false;
                }
                let factor = entry / value;
                theirs[column] = factor;
                for (&column, &behind) in upper.iter().zip(&self.behind) {
                    theirs[column as usize] -= factor * behind;
                }
            }
            (lower_from, upper_from) = (pivot.lower as usize, pivot.upper as usize);
        }
        true
    }

    /// Factors in an order of its own and writes it down; a column that is left where no pivot is.
    fn choose(&mut self) -> Result<(), usize> {
        self.order.is_whole = false;
        self.order.list_entries(self.n);
        self.order.forget_pivots();
        self.has_old_factors = true;
        self.start();
        let n = self.n;
        self.left.begin(n, &self.order.entries);
        while !self.left.is_done() {
            let Some((row, column)) = self.left.best(&self.lu, &self.scale) else {
                let has_pivot =
                    |c: &usize| self.order.pivots.iter().any(|p| p.column as usize == *c);
                self.has_old_factors = true;
                return Err((0..n).find(|c| !has_pivot(c)).unwrap_or(0));
            };
            self.eliminate(row, column);
        }
        self.order.is_whole = true;
        Ok(())
    }

    /// Eliminates a column with the pivot of a row and writes that down.
    fn eliminate(&mut self, row: usize, column: usize) {
        let (n, order, left) = (self.n, &mut self.order, &mut self.left);
        left.take(row, column);
        let own = &self.lu[row * n..(row + 1) * n];
        let value = own[column];
        self.behind.clear();
        self.behind
            .extend(left.behind().iter().map(|&c| own[c as usize]));
        for at in 0..left.below().len() {
            let below = left.below()[at];
            left.join(row, below, column, &mut order.fills);
            let theirs = &mut self.lu[below as usize * n..(below as usize + 1) * n];
            let factor = theirs[column] / value;
            theirs[column] = factor;
            order.lower.push(below);
            for (&column, &behind) in left.behind().iter().zip(&self.behind) {
                theirs[column as usize] -= factor * behind;
            }
        }
        order.upper.extend(left.behind());
        order.pivots.push(Pivot {
            row: row as u32,
            column: column as u32,
            lower: order.lower.len() as u32,
            upper: order.upper.len() as u32,
        });
    }
}

impl Order {
    fn list_entries(&mut self, n: usize) {
        if self.is_listed {
            return;
        }
        self.is_listed = true;
        self.entries.clear();
        self.rows.clear();
        self.rows.push(0);
        for row in 0..n {
            let known = (row * n..(row + 1) * n).filter(|&at| self.known[at]);
            self.entries.extend(known.map(|at| at as u32));
            self.rows.push(self.entries.len() as u32);
        }
    }

    fn forget_pivots(&mut self) {
        self.pivots.clear();
        self.lower.clear();
        self.upper.clear();
        self.fills.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A matrix whose entries change from round to round by many orders of magnitude, against the
    /// dense factors of the same entries.
    #[test]
    fn solves_as_the_dense_matrix_does() {
        let n = 14;
        let mut sparse = Sparse::zeros(n);
        let mut seed = 1_u64;
        let mut random = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            (seed >> 33) as f64 / (1_u64 << 31) as f64
        };
        for round in 0..60 {
            sparse.clear();
            let want: Vec<f64> = (0..n).map(|_| random() - 0.5).collect();
            for row in 0..n {
                for column in [row, (row * 5 + 3) % n, (row + round / 20 + 1) % n] {
                    let size = [1.0, 1e-6, 1e3][(random() * 3.0) as usize];
                    sparse.add(row, column, size * (random() - 0.5));
                }
            }
            let product = |a: &Sparse| -> Vec<f64> {
                let row = |r: usize| (0..n).map(|c| a.a[r * n + c] * want[c]).sum();
                (0..n).map(row).collect()
            };
            let (mut b, mut dense) = (product(&sparse), sparse.to_dense());
            let mut reference = b.clone();
            dense.factor().expect("regular");
            dense.solve(&mut reference);
            sparse.factor().expect("regular");
            sparse.solve(&mut b, &mut Vec::new());
            for k in 0..n {
                let off = (b[k] - want[k]).abs();
                let allowed = 1e3 * (reference[k] - want[k]).abs() + 1e-9;
                assert!(off <= allowed, "round {round}: {off:e} of {allowed:e}");
            }
        }
    }

    #[test]
    fn names_the_column_without_pivot() {
        let mut m = Sparse::zeros(2);
        m.add(0, 0, 1.0);
        m.add(1, 0, 2.0);
        assert_eq!(m.factor(), Err(1));
        m.add(1, 1, 3.0);
        assert_eq!(m.factor(), Ok(()));
        let mut b = [1.0, 5.0];
        m.solve(&mut b, &mut Vec::new());
        assert_eq!(b, [1.0, 1.0]);
    }

    #[test]
    fn an_order_that_was_kept_comes_back() {
        let fill = |m: &mut Sparse, small: f64| {
            m.clear();
            for (row, column, value) in [(0, 0, small), (0, 1, 1.0), (1, 0, 1.0), (1, 1, 0.3)] {
                m.add(row, column, value);
            }
            m.factor().expect("regular");
            let mut b = [0.7, 0.1];
            m.solve(&mut b, &mut Vec::new());
            b
        };
        let mut m = Sparse::zeros(2);
        fill(&mut m, 1.0);
        m.keep_order();
        let before = fill(&mut m, 0.9);
        fill(&mut m, 1e-9);
        m.return_to_order();
        assert_eq!(fill(&mut m, 0.9), before);
    }
}
