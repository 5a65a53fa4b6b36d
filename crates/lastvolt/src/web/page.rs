//! Pages of the desk, made anew from files and link at every request.

mod bench;
mod broken;
mod controls;
mod family;
mod frame;
mod panel;
mod positions;
mod table;

pub(crate) use bench::{attributes, bench, drawing};
pub(crate) use broken::problems;
pub(crate) use family::family;
pub(crate) use frame::missing;
pub(crate) use panel::{chosen, panel};

/// Boards of a stack at most.
pub(crate) const MOST_BOARDS: usize = 3;
