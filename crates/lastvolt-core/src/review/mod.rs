//! The review: rules over solved situations and lives, each saying one thing with its figures.

mod finding;

pub use finding::{Figure, Finding, RuleId, Severity};
