//! What feeds a board: cells and supplies, plus to the left.

use lastvolt_core::device::Cell;

use super::pen::{Growth, Pen};
use crate::draw::schematic::sheet::{Symbol, TextRole};

/// A long plate for plus and a short one for minus; several cells as the first and the last, with a
/// broken line between.
pub(super) fn cell(cell: &Cell) -> Symbol {
    let mut pen = Pen::two_ends();
    if cell.series <= 1 {
        pen.leads(3.0);
        plates(&mut pen, 0.0);
        pen.plus((-11.0, -9.0));
    } else {
        pen.leads(14.0);
        plates(&mut pen, -11.0);
        pen.dashes(&[(-8.0, 0.0), (8.0, 0.0)]);
        plates(&mut pen, 11.0);
        pen.plus((-22.0, -9.0));
    }
    pen.done()
}

fn plates(pen: &mut Pen, x: f64) {
    pen.line(&[(x - 3.0, -13.0), (x - 3.0, 13.0)]);
    pen.line(&[(x + 3.0, -6.0), (x + 3.0, 6.0)]);
}

pub(super) fn supply() -> Symbol {
    let mut pen = Pen::two_ends();
    pen.leads(14.0);
    pen.ring((0.0, 0.0), 14.0);
    pen.text("+", TextRole::Value, Growth::About, (-6.0, 0.0));
    pen.text("\u{2212}", TextRole::Value, Growth::About, (6.0, 0.0));
    pen.done()
}
