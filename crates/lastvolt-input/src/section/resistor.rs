//! `kind = "resistor"`.

use lastvolt_core::device::Resistor;
use lastvolt_core::model::{Device, Kind, Pin};
use lastvolt_core::quantity::Unit;

use super::{PinSet, Section};
use crate::document::{Bounds, Field, Fields};

const VALUE: Field = Field::spread("value", Unit::Ohm, "resistance; `0 ohm` is a wire")
    .within(Bounds::FROM_ZERO)
    .required()
    .example("\"4k7\"");
const RATED: Field = Field::value("rated", Unit::Watt, "rated power")
    .within(Bounds::POSITIVE)
    .example("\"0.1 W\"");

pub(crate) static SECTION: Section = Section {
    kind: Kind::Resistor,
    doc: "a resistor",
    pins: PinSet::Two(&[["1", "2"]]),
    part: &[],
    model: &[VALUE, RATED],
    read,
};

fn read(f: &Fields<'_>, _pins: &[Pin]) -> Option<Device> {
    let value = f.spread(&VALUE);
    let rated = f.value(&RATED);
    Some(Device::Resistor(Resistor {
        value: value?,
        rated,
    }))
}
