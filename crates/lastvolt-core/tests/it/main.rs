//! Checks of the core against the outside: published figures, independent solutions, laws.

mod build;
mod converters;
mod dividers;
mod junctions;
mod kit;
mod leakage;
mod operating_point;
mod transistors;
