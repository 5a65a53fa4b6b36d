//! The passivation film on the lithium of a cell.

use lastvolt_core::device::Film;
use lastvolt_core::quantity::Unit;

use crate::document::{Bounds, Field, Fields};

const RESISTANCE: Field = Field::value(
    "resistance",
    Unit::Ohm,
    "resistance in series of a film that has grown",
)
.within(Bounds::FROM_ZERO.to(1e5))
.required()
.example("\"40 ohm\"");
const GROWTH: Field = Field::value(
    "growth",
    Unit::Second,
    "time at rest at 20 degC in which it grows back to 63 %, half of that per 10 K warmer",
)
.within(Bounds::POSITIVE)
.required()
.example("\"30 days\"");
const BURN_OFF: Field = Field::value(
    "burn_off",
    Unit::Coulomb,
    "charge that burns it down to 37 %",
)
.within(Bounds::POSITIVE)
.required()
.example("\"5 mAh\"");
pub(super) const FILM: Field = Field::table(
    "film",
    &[RESISTANCE, GROWTH, BURN_OFF],
    "passivation film on the lithium: it grows at rest and burns off under load; fresh cells begin with all of it",
)
.example("{ resistance = \"40 ohm\", growth = \"30 days\", burn_off = \"5 mAh\" }");

pub(super) fn film(f: &Fields<'_>) -> Option<Film> {
    let t = f.table(&FILM)?;
    let (resistance, growth, burn_off) =
        (t.value(&RESISTANCE), t.value(&GROWTH), t.value(&BURN_OFF));
    Some(Film {
        resistance: resistance?,
        growth: growth?,
        burn_off: burn_off?,
    })
}
