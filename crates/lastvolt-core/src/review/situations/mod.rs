//! Which situations there are, and the worst of them.
//!
//! A situation is one choice on every axis: position of each switch, what is in each holder and port,
//! states of the loads, ambient, depth of the cells board by board, history. Their product is what a
//! survey covers; `docs/theory/situations.md` says which of them are solved and why that is enough.

mod apart;
mod axes;
mod merge;
mod mirror;
mod pairs;
mod product;
mod read;
mod search;

pub use axes::{Axes, Choice, Grid};
pub use pairs::{Plugged, plugged};
pub use read::{Quantity, Reading};
pub use search::{How, Survey, Worst, survey};

pub(super) use merge::merge_stacks;
pub(super) use pairs::original;

/// How many situations a review covers, and how many it solved for that.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Coverage {
    /// Boards, each alone.
    pub boards: usize,
    /// Ways of plugging boards together.
    pub stacks: usize,
    /// Situations that the axes span.
    pub covered: u64,
    /// Situations that were solved.
    pub solved: u64,
    /// What was left out, where there were too many.
    pub left_out: Vec<String>,
}

impl Coverage {
    /// Adds what a survey of these boards did.
    pub(super) fn add(&mut self, boards: &[String], survey: &Survey) {
        if boards.len() == 1 {
            self.boards += 1;
        } else {
            self.stacks += 1;
        }
        self.covered = self.covered.saturating_add(survey.covered);
        self.solved += survey.solved;
        let told = survey.left_out.iter();
        let told = told.map(|what| format!("{}: {what}", boards.join(" + ")));
        self.left_out.extend(told);
    }
}
