//! The review: rules over solved situations and lives, each saying one thing with its figures.

mod accept;
mod ambients;
pub mod anatomy;
pub mod blocks;
mod budget;
mod evidence;
mod finding;
pub mod legend;
mod merge;
pub mod rules;
mod run;
pub mod situations;
mod stack;
mod whole;
pub mod words;

pub use accept::idle_accepts;
pub use ambients::{AmbientLife, Ending};
pub use blocks::{Block, BlockFigure, BlockKind, Blocks};
pub use budget::{Budget, BudgetColumn, BudgetRow, Power};
pub use evidence::{Evidence, HighPoint, Sensitivity, Shortfall};
pub use finding::{Figure, Finding, RuleId, Severity};
pub use legend::{LegendRow, Rail, SwitchLegend};
pub use merge::merge;
pub use run::{
    BoardReview, BoardWalk, Checked, ProfileLife, Review, Walk, check, checked, review, walk,
};
pub use stack::Stack;
pub use whole::Whole;
