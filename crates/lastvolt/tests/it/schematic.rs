//! Drawings against the files that they are drawn from: everything is there, everything is joined as
//! the files say and not otherwise, nothing overlaps.
//!
//! The proof is apart from the code that draws: it reads the files that a user writes and the SVG that
//! the program writes, and nothing else.

mod joins;
mod netlist;
mod paths;
mod picture;
mod planted;
mod room;
mod shapes;
mod whole;

use netlist::Netlist;
use picture::Picture;

/// What is wrong with a drawing of a board.
fn judged(netlist: &Netlist, svg: &str) -> Vec<String> {
    let picture = Picture::read(svg);
    let mut out = whole::faults(netlist, &picture);
    out.extend(joins::faults(netlist, &picture));
    out.extend(room::faults(&picture));
    out
}
