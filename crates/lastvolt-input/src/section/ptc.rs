//! `kind = "ptc"`.

use lastvolt_core::device::Ptc;
use lastvolt_core::model::{Device, Kind, Pin};
use lastvolt_core::quantity::{Current, Unit};

use super::{PinSet, Section};
use crate::diagnostic::Problem;
use crate::document::{Bounds, Field, Fields};

const RESISTANCE: Field = Field::spread(
    "resistance",
    Unit::Ohm,
    "resistance before it trips: `min` as delivered, `max` an hour after it has tripped once",
)
.within(Bounds::FROM_ZERO.to(1e5))
.required()
.example("{ min = \"150 mohm\", typ = \"300 mohm\", max = \"750 mohm\" }");
const HOLD: Field = Field::value(
    "hold",
    Unit::Ampere,
    "current that it carries without tripping, at 23 degC",
)
.within(Bounds::POSITIVE)
.example("\"500 mA\"");
const TRIP: Field = Field::value("trip", Unit::Ampere, "current that surely trips it")
    .within(Bounds::POSITIVE)
    .example("\"1 A\"");
const RATED: Field = Field::value(
    "rated",
    Unit::Volt,
    "highest voltage that it holds off when tripped",
)
.within(Bounds::POSITIVE)
.example("\"13.2 V\"");
const TRIPPED_POWER: Field = Field::value(
    "tripped_power",
    Unit::Watt,
    "power that it takes to stay tripped",
)
.within(Bounds::POSITIVE)
.example("\"0.8 W\"");

pub(crate) static SECTION: Section = Section {
    kind: Kind::Ptc,
    doc: "a resettable fuse that has not tripped, seen as its resistance",
    pins: PinSet::Two(&[["1", "2"]]),
    part: &[],
    model: &[RESISTANCE, HOLD, TRIP, RATED, TRIPPED_POWER],
    read,
};

fn read(f: &Fields<'_>, _pins: &[Pin]) -> Option<Device> {
    let resistance = f.spread(&RESISTANCE);
    let hold: Option<Current> = f.value(&HOLD);
    let trip: Option<Current> = f.value(&TRIP);
    let rated = f.value(&RATED);
    let tripped_power = f.value(&TRIPPED_POWER);
    if let (Some(hold), Some(trip)) = (hold, trip)
        && trip <= hold
    {
        let at = f.get(TRIP.key).map_or(&f.home, |v| &v.spot);
        let says = "`trip` is not above `hold`";
        let problem = Problem::new("min-above-max", at.clone(), says);
        f.reader.report(problem.label("out of order"));
        return None;
    }
    Some(Device::Ptc(Ptc {
        resistance: resistance?,
        hold,
        trip,
        rated,
        tripped_power,
    }))
}
