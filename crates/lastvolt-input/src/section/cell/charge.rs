//! The charge of a cell, as written or as a maker rates it.

use lastvolt_core::device::{CellModel, Rating, RatingLoad};
use lastvolt_core::quantity::{Charge, Spread, Unit};

use crate::diagnostic::Problem;
use crate::document::{Bounds, Either, Field, Fields, Value};

pub(super) const CHARGE: Field = Field::spread(
    "charge",
    Unit::Coulomb,
    "all charge of a fresh cell, whatever the rate; or `rated`",
)
.within(Bounds::POSITIVE)
.required()
.example("\"1200 mAh\"");
const RATED_CAPACITY: Field = Field::value("capacity", Unit::Coulomb, "charge delivered")
    .within(Bounds::POSITIVE)
    .required()
    .example("\"225 mAh\"");
const RATED_LOAD: Field = Field::other(
    "load",
    "a resistance, a current or a power",
    "what the cell was discharged with",
)
.required()
.example("\"15 kohm\"");
const RATED_LOAD_OHMS: Field = Field::value("load", Unit::Ohm, "resistance")
    .within(Bounds::POSITIVE)
    .example("\"15 kohm\"");
const RATED_LOAD_AMPS: Field = Field::value("load", Unit::Ampere, "current")
    .within(Bounds::POSITIVE)
    .example("\"0.2 mA\"");
const RATED_LOAD_WATTS: Field = Field::value("load", Unit::Watt, "power")
    .within(Bounds::POSITIVE)
    .example("\"50 mW\"");
const RATED_END: Field = Field::value("end", Unit::Volt, "voltage under load down to which")
    .within(Bounds::POSITIVE)
    .required()
    .example("\"2.0 V\"");
const RATED_AMBIENT: Field = Field::value("ambient", Unit::Celsius, "temperature of the test")
    .default("20 degC")
    .example("\"20 degC\"");
pub(super) const RATED: Field = Field::table(
    "rated",
    &[RATED_CAPACITY, RATED_LOAD, RATED_END, RATED_AMBIENT],
    "a capacity as data sheets rate it, in place of `charge`; the charge is solved from it",
)
.example("{ capacity = \"225 mAh\", load = \"15 kohm\", end = \"2.0 V\", ambient = \"20 degC\" }");
/// The charge as written, or as a maker rates it.
pub(super) enum Stated {
    Charge(Spread<Charge>),
    Rated(Rating),
}

pub(super) fn charge(f: &Fields<'_>) -> Option<Stated> {
    match f.either(&CHARGE, &RATED) {
        Either::Both => None,
        Either::Second => {
            let t = f.table(&RATED)?;
            let capacity = t.value(&RATED_CAPACITY);
            let load = t.find(&RATED_LOAD).and_then(|value| rated_load(f, value));
            let end = t.value(&RATED_END);
            let ambient = t.value_or(&RATED_AMBIENT);
            Some(Stated::Rated(Rating {
                capacity: capacity?,
                load: load?,
                end: end?,
                ambient,
            }))
        }
        Either::First | Either::Neither => f.spread(&CHARGE).map(Stated::Charge),
    }
}

/// The model with the charge that gives its rating.
pub(super) fn charged(f: &Fields<'_>, mut model: CellModel, stated: Stated) -> Option<CellModel> {
    let charge = match stated {
        Stated::Charge(charge) => Some(charge),
        Stated::Rated(rating) => model.charge_for_rating(&rating).map(Spread::exactly),
    };
    let Some(charge) = charge else {
        let says = "no charge gives this rating: the voltage lies below its `end` from the start";
        let at = f.get(RATED.key).map_or(&f.home, |v| &v.spot);
        let problem = Problem::new("impossible-rating", at.clone(), says);
        f.reader.report(problem.label("cannot be reached"));
        return None;
    };
    model.charge = charge;
    Some(model)
}

/// A resistance, a current or a power.
fn rated_load(f: &Fields<'_>, value: &Value) -> Option<RatingLoad> {
    let text = value.as_text().unwrap_or("");
    let reader = f.reader;
    match crate::quantity::unit_of(text).map(|u| u.1) {
        Some(Unit::Ampere) => reader
            .quantity(value, &RATED_LOAD_AMPS)
            .map(RatingLoad::Current),
        Some(Unit::Watt) => reader
            .quantity(value, &RATED_LOAD_WATTS)
            .map(RatingLoad::Power),
        _ => reader
            .quantity(value, &RATED_LOAD_OHMS)
            .map(RatingLoad::Resistance),
    }
}
