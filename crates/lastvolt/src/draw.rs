//! Pictures as SVG: every one is drawn from plain numbers and carries its message as text too.

pub(crate) mod axis;
pub(crate) mod bars;
#[cfg(test)]
mod check;
pub(crate) mod curves;
pub(crate) mod discharge;
pub(crate) mod dots;
pub(crate) mod fit;
pub(crate) mod flow;
pub(crate) mod leaks;
pub(crate) mod legend;
pub(crate) mod lettering;
pub(crate) mod marks;
pub(crate) mod output;
pub(crate) mod plot;
pub(crate) mod room;
pub(crate) mod schematic;
pub(crate) mod size;
pub(crate) mod svg;
pub(crate) mod traces;
#[cfg(test)]
mod trials;
pub(crate) mod waves;
pub(crate) mod words;

/// The looks of every picture: colours for light, dark and paper, and a class a meaning.
pub(crate) const STYLE: &str = include_str!("draw/picture.css");
