//! The review: rules over solved situations and lives, each saying one thing with its figures.

mod accept;
pub mod anatomy;
mod budget;
mod evidence;
mod finding;
mod merge;
pub mod rules;
mod run;
pub mod situations;
mod stack;
mod whole;
pub mod words;

pub use accept::idle_accepts;
pub use budget::{Budget, BudgetColumn, BudgetRow, Power};
pub use evidence::{Evidence, HighPoint, Sensitivity, Shortfall};
pub use finding::{Figure, Finding, RuleId, Severity};
pub use merge::merge;
pub use run::{BoardReview, Checked, ProfileLife, Review, check, checked, review};
pub use stack::Stack;
pub use whole::Whole;
