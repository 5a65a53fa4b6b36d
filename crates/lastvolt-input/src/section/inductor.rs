//! `kind = "inductor"`.

use lastvolt_core::device::Inductor;
use lastvolt_core::model::{Device, Kind, Pin};
use lastvolt_core::quantity::Unit;

use super::{PinSet, Section};
use crate::document::{Bounds, Field, Fields};

const VALUE: Field = Field::spread("value", Unit::Henry, "inductance")
    .within(Bounds::POSITIVE)
    .required()
    .example("\"4u7\"");
const WINDING: Field = Field::spread("winding", Unit::Ohm, "resistance of the winding")
    .within(Bounds::FROM_ZERO.to(1e5))
    .default("0 ohm")
    .example("\"120 mohm\"");
const SATURATION: Field = Field::value(
    "saturation",
    Unit::Ampere,
    "current at which the inductance has fallen by the maker's share",
)
.within(Bounds::POSITIVE)
.example("\"1.2 A\"");
const RATED: Field = Field::value(
    "rated",
    Unit::Ampere,
    "current for the maker's rise of temperature",
)
.within(Bounds::POSITIVE)
.example("\"900 mA\"");

pub(crate) static SECTION: Section = Section {
    kind: Kind::Inductor,
    doc: "an inductor",
    pins: PinSet::Two(&[["1", "2"]]),
    part: &[],
    model: &[VALUE, WINDING, SATURATION, RATED],
    read,
};

fn read(f: &Fields<'_>, _pins: &[Pin]) -> Option<Device> {
    let value = f.spread(&VALUE);
    let winding = f.spread_or(&WINDING);
    let saturation = f.value(&SATURATION);
    let rated = f.value(&RATED);
    Some(Device::Inductor(Inductor {
        value: value?,
        winding,
        saturation,
        rated,
    }))
}
