//! The review: rules over solved situations and lives, each saying one thing with its figures.

pub mod anatomy;
mod budget;
mod evidence;
mod finding;
pub mod rules;
mod run;
pub mod words;

pub use budget::{Budget, BudgetColumn, BudgetRow, Power};
pub use evidence::{Evidence, HighPoint, Sensitivity, Shortfall};
pub use finding::{Figure, Finding, RuleId, Severity};
pub use run::{BoardReview, ProfileLife, Review, check, review};
