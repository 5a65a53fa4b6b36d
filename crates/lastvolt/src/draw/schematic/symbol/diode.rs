//! Diodes: a triangle from the anode to the bar of the cathode. The bar says what kind it is.

use lastvolt_core::device::Diode;

use super::pen::Pen;
use crate::draw::schematic::sheet::Symbol;

/// Half the length and half the height of the triangle.
const HALF: f64 = 8.0;
/// Temperature at which forward voltages are stated.
const STATED_CELSIUS: f64 = 25.0;
const ONE_MILLIAMPERE: f64 = 1e-3;
/// A junction that carries a milliampere below this voltage is one of metal and silicon: those of
/// silicon need half a volt and more (common practice).
const METAL_BELOW_VOLTS: f64 = 0.45;

fn triangle() -> Pen {
    let mut pen = Pen::two_ends();
    pen.leads(HALF);
    pen.outline(&[(-HALF, -HALF), (HALF, 0.0), (-HALF, HALF)]);
    pen
}

fn bar(pen: &mut Pen) {
    pen.line(&[(HALF, -HALF), (HALF, HALF)]);
}

/// Whether it is a Schottky diode, from its forward voltage.
fn is_schottky(diode: &Diode) -> bool {
    diode.junction(STATED_CELSIUS).volts(ONE_MILLIAMPERE) < METAL_BELOW_VOLTS
}

pub(super) fn diode(diode: &Diode) -> Symbol {
    let mut pen = triangle();
    if is_schottky(diode) {
        let (x, y) = (HALF, HALF);
        pen.line(&[
            (x - 4.0, -y + 4.0),
            (x - 4.0, -y),
            (x, -y),
            (x, y),
            (x + 4.0, y),
            (x + 4.0, y - 4.0),
        ]);
    } else {
        bar(&mut pen);
    }
    pen.done()
}

/// The bar is bent at one end.
pub(super) fn zener() -> Symbol {
    let mut pen = triangle();
    pen.line(&[(HALF - 5.0, -HALF), (HALF, -HALF), (HALF, HALF)]);
    pen.done()
}

/// Light leaves it.
pub(super) fn led() -> Symbol {
    let mut pen = triangle();
    bar(&mut pen);
    for x in [-2.0, 5.0] {
        let (from, tip) = ((x, -9.0), (x + 6.0, -17.0));
        pen.line(&[from, tip]);
        pen.arrow_head(tip, from, 5.0);
    }
    pen.done()
}
