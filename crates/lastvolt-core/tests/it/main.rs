//! Checks of the core against the outside: published figures, independent solutions, laws.

mod build;
