//! `kind = "fuse"`.

use lastvolt_core::device::Fuse;
use lastvolt_core::model::{Device, Kind, Pin};
use lastvolt_core::quantity::Unit;

use super::{PinSet, Section};
use crate::document::{Bounds, Field, Fields};

const RESISTANCE: Field = Field::spread("resistance", Unit::Ohm, "cold resistance")
    .within(Bounds::FROM_ZERO.to(1e5))
    .required()
    .example("\"90 mohm\"");
const RATED: Field = Field::value("rated", Unit::Ampere, "rated current")
    .within(Bounds::POSITIVE)
    .example("\"500 mA\"");

pub(crate) static SECTION: Section = Section {
    kind: Kind::Fuse,
    doc: "a fuse that has not blown, seen as its cold resistance",
    pins: PinSet::Two(&[["1", "2"]]),
    part: &[],
    model: &[RESISTANCE, RATED],
    read,
};

fn read(f: &Fields<'_>, _pins: &[Pin]) -> Option<Device> {
    let resistance = f.spread(&RESISTANCE);
    let rated = f.value(&RATED);
    Some(Device::Fuse(Fuse {
        resistance: resistance?,
        rated,
    }))
}
