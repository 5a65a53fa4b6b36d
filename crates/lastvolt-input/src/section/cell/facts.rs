//! What a cell is beside its electrical figures: how heavy, how large, how long it may lie.

use lastvolt_core::quantity::{Length, Mass, Temperature, Unit};

use crate::document::{Bounds, Field, Fields};
use crate::section::heat::operating;

pub(super) const MASS: Field = Field::value("mass", Unit::Kilogram, "mass of one cell")
    .within(Bounds::POSITIVE)
    .example("\"3.0 g\"");
const fn side(key: &'static str, doc: &'static str) -> Field {
    Field::value(key, Unit::Metre, doc)
        .within(Bounds::POSITIVE)
        .example("\"20 mm\"")
}
const DIAMETER: Field = side("diameter", "largest diameter of a round cell");
const HEIGHT: Field = side("height", "largest height");
const LENGTH: Field = side("length", "largest length of a cell that is not round");
const WIDTH: Field = side("width", "largest width of a cell that is not round");
const THICKNESS: Field = side("thickness", "largest thickness of a flat cell");
pub(super) const SIZE: Field = Field::table(
    "size",
    &[DIAMETER, HEIGHT, LENGTH, WIDTH, THICKNESS],
    "outer dimensions",
)
.example("{ diameter = \"20 mm\", height = \"3.2 mm\" }");
pub(super) const SHELF_LIFE: Field = Field::value(
    "shelf_life",
    Unit::Second,
    "how long its maker lets it lie before use",
)
.within(Bounds::POSITIVE)
.example("\"10 years\"");

/// What a cell is beside its electrical figures, as far as it is stated.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct CellFacts {
    /// Mass of one cell.
    pub mass: Option<Mass>,
    /// Diameter of a round cell.
    pub diameter: Option<Length>,
    /// Height.
    pub height: Option<Length>,
    /// Length of a cell that is not round.
    pub length: Option<Length>,
    /// Width of a cell that is not round.
    pub width: Option<Length>,
    /// Thickness of a flat cell.
    pub thickness: Option<Length>,
    /// Lowest temperature of use.
    pub lowest: Option<Temperature>,
    /// Highest temperature of use.
    pub highest: Option<Temperature>,
}

/// Reads the facts of a cell.
pub(crate) fn facts(f: &Fields<'_>) -> CellFacts {
    let table = f.table(&SIZE);
    let (lowest, highest) = operating(f);
    let side = |field: &Field| table.as_ref().and_then(|t| t.value(field));
    CellFacts {
        mass: f.value(&MASS),
        diameter: side(&DIAMETER),
        height: side(&HEIGHT),
        length: side(&LENGTH),
        width: side(&WIDTH),
        thickness: side(&THICKNESS),
        lowest,
        highest,
    }
}
