//! Schematics drawn from the netlist.

pub(crate) mod sheet;
pub(crate) mod symbol;
pub(crate) mod words;
