//! Symbols of parts after IEC 60617: a piece a part, a piece a pole for switches of several poles, in the
//! position in which they are designed and turned or mirrored from it.
//!
//! Two ends lie level, the first to the left; a box has its input left and its output right. Which pin
//! stands where follows from the kind, and nothing from a name that a user chose. What is said of the
//! standard is from memory.

mod boxes;
mod capacitor;
mod cell;
mod clear;
mod diode;
mod lines;
mod pen;
mod poles;
mod resistor;
mod switch;
mod transistor;
mod turn;

#[cfg(test)]
mod tests;

pub(crate) use lines::{tolerance, values};
pub(crate) use pen::room;

use lastvolt_core::model::{Board, Device, Part};

use super::names;
use super::set::Set;
use super::sheet::{Piece, Symbol, TextRole};

/// The pieces of a board's parts, in file order.
#[cfg(test)]
pub(crate) fn pieces(board: &Board) -> Vec<Piece> {
    pieces_in(board, None)
}

/// The same, with a setting as it is set and with room for readings.
pub(crate) fn pieces_in(board: &Board, set: Option<&Set>) -> Vec<Piece> {
    let mut out: Vec<Piece> = Vec::new();
    let mut designators: Vec<(&str, String)> = Vec::new();
    for (at, part) in board.parts.iter().enumerate() {
        let symbols = symbols_of(part, set);
        let alone = symbols.len() == 1;
        for (piece, symbol) in symbols.into_iter().enumerate() {
            let behind = if alone {
                String::new()
            } else {
                format!(".{}", lines::letter(piece))
            };
            designators.push((&part.name, behind));
            let mut lines = lines::values_in_lines(part);
            // Of several pieces the first has the readings of all.
            if let Some(set) = set.filter(|_| piece == 0) {
                lines.extend(set.rooms(part));
            }
            out.push(Piece {
                part: at,
                piece,
                symbol,
                lines,
            });
        }
    }
    let shown = names::apart_before(&designators, lines::MOST);
    for (piece, shown) in out.iter_mut().zip(shown) {
        piece.lines.insert(0, (TextRole::Designator, shown));
    }
    out
}

/// The symbols of one part: every pin is in exactly one of them.
fn symbols_of(part: &Part, set: Option<&Set>) -> Vec<Symbol> {
    let symbols = drawn(part, set);
    if shows_each_pin_once(part, &symbols) {
        symbols
    } else {
        vec![boxes::plain(part, part.kind.word())]
    }
}

fn drawn(part: &Part, set: Option<&Set>) -> Vec<Symbol> {
    let symbol = match &part.device {
        Device::Switch(s) => {
            return switch::symbols(part, s, set.map(|set| set.position(&part.name, s)));
        }
        Device::Cell(c) => cell::cell(c, set.map(|set| set.turned(&part.name, c)).as_ref()),
        Device::Supply(_) => cell::supply(),
        Device::Resistor(_) => resistor::resistor(),
        Device::Fuse(_) => resistor::fuse(),
        Device::Ptc(_) => resistor::ptc(),
        Device::Inductor(_) => resistor::inductor(),
        Device::Load(_) => resistor::load(),
        Device::Capacitor(_) => capacitor::capacitor(part),
        Device::Diode(d) => diode::diode(d),
        Device::Zener(_) => diode::zener(),
        Device::Led(_) => diode::led(),
        Device::Fet(f) => transistor::transistor(f.channel),
        Device::Regulator(u) => boxes::regulator(part, u.topology),
        Device::Detector(_) => boxes::plain(part, "detector"),
        Device::LoadSwitch(_) => boxes::plain(part, "load switch"),
        Device::IdealDiode(_) => boxes::plain(part, "ideal diode"),
        Device::TestPoint => boxes::test_point(),
    };
    vec![symbol]
}

fn shows_each_pin_once(part: &Part, symbols: &[Symbol]) -> bool {
    let terminals = symbols.iter().flat_map(|s| &s.terminals);
    let mut shown: Vec<usize> = terminals.map(|t| t.pin).collect();
    shown.sort_unstable();
    shown.into_iter().eq(0..part.pins.len())
}
