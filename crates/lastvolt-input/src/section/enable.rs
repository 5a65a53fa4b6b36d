//! `enable` of a part that has such an input: a regulator or a load switch.

use lastvolt_core::device::Enable;
use lastvolt_core::model::Pin;
use lastvolt_core::quantity::{Unit, Voltage};

use crate::diagnostic::Problem;
use crate::document::{Bounds, Field, Fields};

const LOW: Field = Field::value("low", Unit::Volt, "at or below this it is surely off")
    .within(Bounds::FROM_ZERO)
    .required()
    .example("\"0.2 V\"");
const HIGH: Field = Field::value("high", Unit::Volt, "at or above this it is surely on")
    .within(Bounds::POSITIVE)
    .required()
    .example("\"0.7 V\"");
const LEAKAGE: Field = Field::spread("leakage", Unit::Ampere, "current into the pin, either way")
    .within(Bounds::FROM_ZERO)
    .default("0 A")
    .example("\"50 nA\"");

/// The field of a part that is always on without it.
pub(super) const fn field(doc: &'static str) -> Field {
    Field::table("enable", &[LOW, HIGH, LEAKAGE], doc)
        .example("{ low = \"0.2 V\", high = \"0.7 V\", leakage = \"50 nA\" }")
}

/// The enable input; the outer none is an error.
pub(super) fn read(f: &Fields<'_>, field: &Field) -> Option<Option<Enable>> {
    let Some(value) = f.get(field.key) else {
        return Some(None);
    };
    let t = f.table(field)?;
    let low: Option<Voltage> = t.value(&LOW);
    let high: Option<Voltage> = t.value(&HIGH);
    let leakage = t.spread_or(&LEAKAGE);
    let (low, high) = (low?, high?);
    if high < low {
        let says = "`low` of `enable` lies above its `high`";
        f.reader
            .report(Problem::new("min-above-max", value.spot.clone(), says).label("out of order"));
        return None;
    }
    Some(Some(Enable { low, high, leakage }))
}

/// What is wrong with the pin `enable` where there are thresholds or none.
pub(super) fn wrong_pin(pins: &[Pin], has_enable: bool) -> Option<(&'static str, &'static str)> {
    let has_pin = pins.iter().any(|p| p.name == "enable");
    match (has_enable, has_pin) {
        (true, false) => Some((
            "missing-pin",
            "has enable thresholds and needs the pin `enable`; list it under `open` if it is meant to be unconnected",
        )),
        (false, true) => Some((
            "unknown-pin",
            "has a pin `enable` but no `enable` thresholds in its model",
        )),
        _ => None,
    }
}
