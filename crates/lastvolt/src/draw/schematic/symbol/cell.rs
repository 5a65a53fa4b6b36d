//! What feeds a board: cells and supplies, plus to the left.

use lastvolt_core::device::Cell;

use super::pen::{Growth, Pen};
use crate::draw::schematic::set::Turned;
use crate::draw::schematic::sheet::{Symbol, TextRole};

/// A long plate for plus and a short one for minus; several cells as the first and the last, with a
/// broken line between. With a setting cells stand as they are put in, with room for the other way.
pub(super) fn cell(cell: &Cell, set: Option<&Turned>) -> Symbol {
    let mut pen = Pen::two_ends();
    let first = set.is_some_and(|t| t.is_turned(0));
    if cell.series <= 1 {
        pen.leads(3.0);
        plates(&mut pen, 0.0, first);
        pen.plus((if first { 11.0 } else { -11.0 }, -9.0));
        if set.is_some() {
            pen.plus_where(false, (if first { -11.0 } else { 11.0 }, -9.0));
        }
    } else {
        let last = set.is_some_and(|t| t.is_turned(cell.series - 1));
        pen.leads(14.0);
        plates(&mut pen, -11.0, first);
        pen.dashes(&[(-8.0, 0.0), (8.0, 0.0)]);
        plates(&mut pen, 11.0, last);
        pen.plus((if first { 0.0 } else { -22.0 }, -9.0));
        if set.is_some() {
            pen.plus_where(false, (if first { -22.0 } else { 0.0 }, -9.0));
            pen.plus_where(last, (22.0, -9.0));
        }
    }
    pen.done()
}

fn plates(pen: &mut Pen, x: f64, turned: bool) {
    let way = if turned { -3.0 } else { 3.0 };
    pen.line(&[(x - way, -13.0), (x - way, 13.0)]);
    pen.line(&[(x + way, -6.0), (x + way, 6.0)]);
}

pub(super) fn supply() -> Symbol {
    let mut pen = Pen::two_ends();
    pen.leads(14.0);
    pen.ring((0.0, 0.0), 14.0);
    pen.text("+", TextRole::Value, Growth::About, (-6.0, 0.0));
    pen.text("\u{2212}", TextRole::Value, Growth::About, (6.0, 0.0));
    pen.done()
}
