//! Parts that are drawn on a rectangle with two ends: resistor, fuse, resettable fuse, load; and the
//! inductor.

use super::pen::{Growth, Pen};
use crate::draw::schematic::sheet::{Symbol, TextRole};

/// Half the length and half the height of the rectangle: three to one, as IEC 60617 draws it (from memory).
const HALF: (f64, f64) = (15.0, 5.0);

fn rectangle(pen: &mut Pen) {
    let (x, y) = HALF;
    pen.leads(x);
    pen.frame([-x, -y, x, y]);
}

pub(super) fn resistor() -> Symbol {
    let mut pen = Pen::two_ends();
    rectangle(&mut pen);
    pen.done()
}

/// The wire goes through.
pub(super) fn fuse() -> Symbol {
    let mut pen = Pen::two_ends();
    rectangle(&mut pen);
    pen.line(&[(-HALF.0, 0.0), (HALF.0, 0.0)]);
    pen.done()
}

/// Its resistance depends on its temperature: a line that begins level and climbs across.
pub(super) fn ptc() -> Symbol {
    let mut pen = Pen::two_ends();
    rectangle(&mut pen);
    pen.line(&[(-17.0, 11.0), (-10.0, 11.0), (11.0, -11.0)]);
    pen.text("+θ", TextRole::Value, Growth::About, (22.5, 10.0));
    pen.done()
}

pub(super) fn inductor() -> Symbol {
    let mut pen = Pen::two_ends();
    pen.leads(20.0);
    pen.bows((-20.0, 0.0), (20.0, 0.0), 4);
    pen.done()
}

pub(super) fn load() -> Symbol {
    let mut pen = Pen::two_ends();
    pen.leads(20.0);
    pen.frame([-20.0, -14.0, 20.0, 14.0]);
    pen.text("load", TextRole::Pin, Growth::About, (0.0, 0.0));
    pen.done()
}
