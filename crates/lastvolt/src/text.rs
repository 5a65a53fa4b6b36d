//! How results look as plain text: figures, tables, and one file for each command.

pub(crate) mod diagnostic;
pub(crate) mod number;
pub(crate) mod paint;
pub(crate) mod table;

pub(crate) mod check;
pub(crate) mod life;
pub(crate) mod matrix;
pub(crate) mod point;
