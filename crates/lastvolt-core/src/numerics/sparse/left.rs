//! What is left of a matrix while its pivots are chosen.

use super::{CHOSEN, NONE};

/// Rows and columns that still have no pivot, with the places of their entries as bits, once by row and
/// once by column.
#[derive(Debug, Clone, Default)]
pub(super) struct Left {
    n: usize,
    rows: Vec<usize>,
    /// Words for the bits of one row or column.
    words: usize,
    by_row: Vec<u64>,
    by_column: Vec<u64>,
    /// By row: how many entries are left in it.
    widths: Vec<usize>,
    /// By column: how many rows have an entry in it.
    counts: Vec<usize>,
    /// Columns with one entry, as bits.
    lone: Vec<u64>,
    /// By column: the largest entry after scaling, below zero until asked for since the last pivot.
    largest: Vec<f64>,
    /// Columns behind the pivot taken last, and rows below it.
    behind: Vec<u32>,
    below: Vec<u32>,
}

/// A pivot that could be taken.
#[derive(Clone, Copy)]
struct Candidate {
    cost: usize,
    size: f64,
    column: usize,
    row: usize,
}

impl Left {
    /// Begins with everything left.
    pub(super) fn begin(&mut self, n: usize, entries: &[u32]) {
        self.n = n;
        self.words = n.div_ceil(64);
        self.rows.clear();
        self.rows.extend(0..n);
        for bits in [&mut self.by_row, &mut self.by_column] {
            bits.clear();
            bits.resize(n * self.words, 0);
        }
        for counts in [&mut self.widths, &mut self.counts] {
            counts.clear();
            counts.resize(n, 0);
        }
        self.largest.clear();
        self.largest.resize(n, -1.0);
        for &at in entries {
            let (row, column) = (at as usize / n, at as usize % n);
            self.by_row[row * self.words + column / 64] |= bit(column);
            self.by_column[column * self.words + row / 64] |= bit(row);
            self.widths[row] += 1;
            self.counts[column] += 1;
        }
        self.lone.clear();
        self.lone.resize(self.words, 0);
        for column in (0..n).filter(|&c| self.counts[c] == 1) {
            self.lone[column / 64] |= bit(column);
        }
    }

    /// Whether every row has a pivot.
    pub(super) fn is_done(&self) -> bool {
        self.rows.is_empty()
    }

    /// Columns behind the pivot taken last.
    pub(super) fn behind(&self) -> &[u32] {
        &self.behind
    }

    /// Rows below the pivot taken last.
    pub(super) fn below(&self) -> &[u32] {
        &self.below
    }

    /// The pivot that makes fewest new entries among those large enough for their columns; the
    /// largest of several, and the first of equal ones.
    ///
    /// Those that make none, alone in their row or column, are looked at first; the others row by row,
    /// short ones first, for as long as one could make fewer than the best so far.
    pub(super) fn best(&mut self, entries: &[f64], scale: &[f64]) -> Option<(usize, usize)> {
        self.largest.fill(-1.0);
        let mut best: Option<Candidate> = None;
        for at in 0..self.rows.len() {
            let row = self.rows[at];
            let is_lone = self.widths[row] == 1;
            for word in 0..self.words {
                let own = self.by_row[row * self.words + word];
                let free = if is_lone { own } else { own & self.lone[word] };
                for column in places(free, word) {
                    self.weigh(0, row, column, entries, scale, &mut best);
                }
            }
        }
        let widest = self.rows.iter().map(|&row| self.widths[row]).max()?;
        for width in 2..=widest {
            if best.is_some_and(|b| b.cost < width - 1) {
                break;
            }
            for at in 0..self.rows.len() {
                let row = self.rows[at];
                if self.widths[row] != width {
                    continue;
                }
                for word in 0..self.words {
                    let own = self.by_row[row * self.words + word] & !self.lone[word];
                    for column in places(own, word) {
                        let cost = (width - 1) * (self.counts[column] - 1);
                        self.weigh(cost, row, column, entries, scale, &mut best);
                    }
                }
            }
        }
        best.map(|b| (b.row, b.column))
    }

    /// Takes a pivot for the best if it is better and large enough for its column.
    fn weigh(
        &mut self,
        cost: usize,
        row: usize,
        column: usize,
        entries: &[f64],
        scale: &[f64],
        best: &mut Option<Candidate>,
    ) {
        // Most are out by their cost alone, so that nothing else of them is looked at.
        if best.is_some_and(|b| b.cost < cost) {
            return;
        }
        let size = entries[row * self.n + column].abs() / scale[row];
        let found = Candidate {
            cost,
            size,
            column,
            row,
        };
        if !(size > NONE && best.is_none_or(|b| found.is_before(&b))) {
            return;
        }
        if self.largest[column] < 0.0 {
            self.largest[column] = self.largest_of(column, entries, scale);
        }
        if size >= CHOSEN * self.largest[column] {
            *best = Some(found);
        }
    }

    /// The largest entry of a column after scaling.
    fn largest_of(&self, column: usize, entries: &[f64], scale: &[f64]) -> f64 {
        let mut largest: f64 = 0.0;
        for word in 0..self.words {
            for row in places(self.by_column[column * self.words + word], word) {
                largest = largest.max(entries[row * self.n + column].abs() / scale[row]);
            }
        }
        largest
    }

    /// Takes a pivot out and lists the columns behind it and the rows below it.
    pub(super) fn take(&mut self, row: usize, column: usize) {
        let words = self.words;
        self.rows.retain(|&r| r != row);
        self.by_row[row * words + column / 64] &= !bit(column);
        self.by_column[column * words + row / 64] &= !bit(row);
        self.behind.clear();
        self.below.clear();
        for word in 0..words {
            let own = places(self.by_row[row * words + word], word);
            self.behind.extend(own.map(|c| c as u32));
            let own = places(self.by_column[column * words + word], word);
            self.below.extend(own.map(|r| r as u32));
        }
        for at in 0..self.behind.len() {
            let column = self.behind[at] as usize;
            self.by_column[column * words + row / 64] &= !bit(row);
            self.count(column, self.counts[column] - 1);
        }
    }

    /// Gives a row below the pivot what is behind that, in place of its entry in the pivot's column; notes
    /// the places that are new.
    pub(super) fn join(&mut self, pivot_row: usize, below: u32, column: usize, new: &mut Vec<u32>) {
        let (words, below) = (self.words, below as usize);
        self.by_row[below * words + column / 64] &= !bit(column);
        self.widths[below] -= 1;
        for word in 0..words {
            let added = self.by_row[pivot_row * words + word] & !self.by_row[below * words + word];
            self.by_row[below * words + word] |= added;
            self.widths[below] += added.count_ones() as usize;
            for column in places(added, word) {
                self.by_column[column * words + below / 64] |= bit(below);
                self.count(column, self.counts[column] + 1);
                new.push((below * self.n + column) as u32);
            }
        }
    }

    /// Notes how many entries a column has.
    fn count(&mut self, column: usize, count: usize) {
        self.counts[column] = count;
        if count == 1 {
            self.lone[column / 64] |= bit(column);
        } else {
            self.lone[column / 64] &= !bit(column);
        }
    }
}

impl Candidate {
    fn is_before(&self, other: &Self) -> bool {
        let first = (self.column, self.row) < (other.column, other.row);
        let larger = self.size > other.size || (self.size >= other.size && first);
        self.cost < other.cost || (self.cost == other.cost && larger)
    }
}

fn bit(place: usize) -> u64 {
    1 << (place % 64)
}

/// Places of the bits that are set in a word.
fn places(bits: u64, word: usize) -> impl Iterator<Item = usize> {
    let mut rest = bits;
    std::iter::from_fn(move || {
        let place = (rest != 0).then(|| word * 64 + rest.trailing_zeros() as usize)?;
        rest &= rest - 1;
        Some(place)
    })
}
