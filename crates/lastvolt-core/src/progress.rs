//! How long work reports how far it has come, and how it is told to stop. No clock is involved.

use std::sync::atomic::{AtomicUsize, Ordering};

/// Receives progress of long work and may ask it to stop.
pub trait Progress: Sync {
    /// Called now and then with the share of the work that is done, from 0 to 1.
    fn at(&self, done: f64);
    /// Whether the work should stop as soon as it can.
    fn cancelled(&self) -> bool;
}

/// Shows nothing and never cancels.
#[derive(Debug, Clone, Copy)]
pub struct Silent;

impl Progress for Silent {
    fn at(&self, _done: f64) {}

    fn cancelled(&self) -> bool {
        false
    }
}

/// One of several equal pieces of work, reported as its share of the whole.
pub struct Piece<'a> {
    whole: &'a dyn Progress,
    at: f64,
    of: f64,
}

impl<'a> Piece<'a> {
    /// Piece number `at`, from 0, of `of`.
    #[must_use]
    pub fn new(whole: &'a dyn Progress, at: usize, of: usize) -> Self {
        #[expect(clippy::cast_precision_loss, reason = "counts are far below 2^52")]
        let (at, of) = (at as f64, of.max(1) as f64);
        Self { whole, at, of }
    }
}

impl Progress for Piece<'_> {
    fn at(&self, done: f64) {
        self.whole.at((self.at + done) / self.of);
    }

    fn cancelled(&self) -> bool {
        self.whole.cancelled()
    }
}

/// Equal pieces of work that are done side by side in any order: the whole is told how many are done.
pub struct Shared<'a> {
    whole: &'a dyn Progress,
    done: AtomicUsize,
    of: usize,
}

impl<'a> Shared<'a> {
    /// So many pieces.
    #[must_use]
    pub fn new(whole: &'a dyn Progress, of: usize) -> Self {
        Self {
            whole,
            done: AtomicUsize::new(0),
            of: of.max(1),
        }
    }

    /// One more piece is done.
    pub fn done(&self) {
        let done = self.done.fetch_add(1, Ordering::Relaxed) + 1;
        #[expect(clippy::cast_precision_loss, reason = "counts are far below 2^52")]
        self.whole.at(done as f64 / self.of as f64);
    }
}

impl Progress for Shared<'_> {
    fn at(&self, _done: f64) {}

    fn cancelled(&self) -> bool {
        self.whole.cancelled()
    }
}
