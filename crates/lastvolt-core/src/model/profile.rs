//! What the loads do over time.
//!
//! Times are whole nanoseconds, so that alignments of tasks are exact.

/// A set of tasks over base states.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// Its name.
    pub name: String,
    /// State of each named load between tasks; a load not named is in its first state.
    pub base: Vec<(String, String)>,
    /// The tasks in file order.
    pub tasks: Vec<Task>,
}

/// Puts loads into states for given times at a given interval.
#[derive(Debug, Clone, PartialEq)]
pub struct Task {
    /// Its name.
    pub name: String,
    /// Interval in nanoseconds.
    pub every_ns: u64,
    /// Start of the first occurrence, where it is fixed; otherwise the phase is free.
    pub offset_ns: Option<u64>,
    /// When it is active, where that is not always.
    pub within: Option<Window>,
    /// What happens, one after the other.
    pub steps: Vec<Step>,
}

/// A stretch of time that comes again and again, opening first at t = 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Window {
    /// Interval in nanoseconds.
    pub every_ns: u64,
    /// How long it is open, in nanoseconds.
    pub open_ns: u64,
}

/// One stretch of a task.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// How long, in nanoseconds.
    pub span_ns: u64,
    /// Load and state, one entry a load that changes.
    pub set: Vec<(String, String)>,
}

impl Task {
    /// How long one occurrence lasts, in nanoseconds.
    #[must_use]
    pub fn span_ns(&self) -> u64 {
        self.steps.iter().map(|s| s.span_ns).sum()
    }
}
