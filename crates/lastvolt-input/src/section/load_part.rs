//! `kind = "load"`: attaches a load to nets of a board.

use lastvolt_core::model::{Device, Kind, Pin};

use super::{PinSet, Section};
use crate::document::{Field, Fields};

const LOAD: Field = Field::text(
    "load",
    "name of the load that sits on these nets; its `[loads.NAME]` table then has no `pins`",
)
.required()
.example("\"siren\"");

pub(crate) static SECTION: Section = Section {
    kind: Kind::Load,
    doc: "a named load on nets of a board that are not on the connector",
    pins: PinSet::Two(&[["plus", "minus"]]),
    part: &[LOAD],
    model: &[],
    read,
};

fn read(f: &Fields<'_>, _pins: &[Pin]) -> Option<Device> {
    f.text(&LOAD).map(|name| Device::Load(name.to_owned()))
}
