//! Field-effect transistors with insulated gate, enhancement type: a channel of three pieces, the arrow of
//! the substrate, and the body diode, which matters on every supply board.

use lastvolt_core::device::Channel;

use super::pen::Pen;
use crate::draw::schematic::sheet::{Side, Symbol};

/// Depth of the channel and of the gate below the line from drain to source.
const CHANNEL: f64 = 13.0;
const GATE: f64 = 18.0;
/// Height of the body diode above it, and half its size.
const DIODE: f64 = -14.0;
const HALF: f64 = 5.0;

pub(super) fn transistor(channel: Channel) -> Symbol {
    let mut pen = Pen::two_ends();
    pen.pin(2, (0, 3), Side::Down);
    // Drain and source reach the outer pieces of the channel, the substrate the inner one.
    pen.line(&[(-30.0, 0.0), (-11.0, 0.0), (-11.0, CHANNEL)]);
    pen.line(&[(30.0, 0.0), (11.0, 0.0), (11.0, CHANNEL)]);
    pen.line(&[(0.0, CHANNEL), (0.0, 0.0), (11.0, 0.0)]);
    for x in [-11.0, 0.0, 11.0] {
        pen.line(&[(x - 4.0, CHANNEL), (x + 4.0, CHANNEL)]);
    }
    pen.line(&[(-15.0, GATE), (15.0, GATE)]);
    pen.line(&[(0.0, GATE), (0.0, 30.0)]);
    let (tip, from) = match channel {
        Channel::N => ((0.0, CHANNEL - 1.0), (0.0, 0.0)),
        Channel::P => ((0.0, 2.0), (0.0, CHANNEL)),
    };
    pen.arrow_head(tip, from, 7.0);
    body_diode(&mut pen, channel);
    pen.done()
}

/// It conducts from the source to the drain of an n-channel transistor, the other way round in a
/// p-channel one.
fn body_diode(pen: &mut Pen, channel: Channel) {
    pen.line(&[(-20.0, 0.0), (-20.0, DIODE), (-HALF, DIODE)]);
    pen.line(&[(HALF, DIODE), (20.0, DIODE), (20.0, 0.0)]);
    let cathode = match channel {
        Channel::N => -HALF,
        Channel::P => HALF,
    };
    pen.outline(&[
        (-cathode, DIODE - HALF),
        (cathode, DIODE),
        (-cathode, DIODE + HALF),
    ]);
    pen.line(&[(cathode, DIODE - HALF), (cathode, DIODE + HALF)]);
}
