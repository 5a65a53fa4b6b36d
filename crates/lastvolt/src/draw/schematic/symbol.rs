//! Symbols of parts after IEC 60617: a piece a part, a piece a pole for switches of several poles, in the
//! position in which they are designed and turned or mirrored from it.
//!
//! Two ends lie level, the first to the left; a box has its input left and its output right. Which pin
//! stands where follows from the kind, and nothing from a name that a user chose.

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

use super::sheet::{Piece, Symbol};

/// The pieces of a board's parts, in file order.
pub(crate) fn pieces(board: &Board) -> Vec<Piece> {
    let parts = board.parts.iter().enumerate();
    parts.flat_map(|(at, part)| pieces_of(at, part)).collect()
}

/// The pieces of one part: every pin is in exactly one of them.
fn pieces_of(at: usize, part: &Part) -> Vec<Piece> {
    let mut symbols = drawn(part);
    if !shows_each_pin_once(part, &symbols) {
        symbols = vec![boxes::plain(part, part.kind.word())];
    }
    let alone = symbols.len() == 1;
    let piece = |(piece, symbol): (usize, Symbol)| Piece {
        part: at,
        piece,
        symbol,
        lines: lines::lines(part, if alone { None } else { Some(piece) }),
    };
    symbols.into_iter().enumerate().map(piece).collect()
}

fn drawn(part: &Part) -> Vec<Symbol> {
    let symbol = match &part.device {
        Device::Switch(s) => return switch::symbols(part, s),
        Device::Cell(c) => cell::cell(c),
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
