//! Capacitors: two plates; where plus is to be minded, the plate of plus is hollow and has its sign.

use lastvolt_core::model::Part;

use super::pen::Pen;
use crate::draw::schematic::sheet::Symbol;

pub(super) fn capacitor(part: &Part) -> Symbol {
    let polarised = part.pin("plus").is_some();
    let mut pen = Pen::two_ends();
    if polarised {
        pen.line(&[(-30.0, 0.0), (-6.0, 0.0)]);
        pen.frame([-6.0, -11.0, -2.0, 11.0]);
        pen.line(&[(3.0, -11.0), (3.0, 11.0)]);
        pen.line(&[(3.0, 0.0), (30.0, 0.0)]);
        pen.plus((-13.0, -8.0));
    } else {
        pen.leads(3.0);
        pen.line(&[(-3.0, -11.0), (-3.0, 11.0)]);
        pen.line(&[(3.0, -11.0), (3.0, 11.0)]);
    }
    pen.done()
}
