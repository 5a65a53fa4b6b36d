//! How long work reports how far it has come, and how it is told to stop. No clock is involved.

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
