//! `kind = "ideal-diode"`.

use lastvolt_core::device::IdealDiode;
use lastvolt_core::model::{Device, Kind, Pin};
use lastvolt_core::quantity::Unit;

use super::{PinSet, Section};
use crate::document::{Bounds, Field, Fields};

const FORWARD: Field = Field::spread(
    "forward",
    Unit::Volt,
    "forward voltage that is held at low current; 0 V for one that is simply on",
)
.within(Bounds::FROM_ZERO)
.default("0 V")
.example("\"28 mV\"");
const ON_RESISTANCE: Field = Field::spread("on_resistance", Unit::Ohm, "resistance when fully on")
    .within(Bounds::POSITIVE.to(1e5))
    .required()
    .example("{ typ = \"100 mohm\", max = \"140 mohm\" }");
const LEAKAGE: Field = Field::spread(
    "leakage",
    Unit::Ampere,
    "from output to input when blocking, at 25 degC",
)
.within(Bounds::FROM_ZERO)
.default("0 A")
.example("{ typ = \"0.1 uA\", max = \"1 uA\" }");
const LEAKAGE_AT: Field = Field::value(
    "leakage_at",
    Unit::Volt,
    "voltage from output to input at which the leakage is stated",
)
.otherwise("`survives`, or 5 V")
.within(Bounds::POSITIVE)
.example("\"5 V\"");
const QUIESCENT: Field = Field::spread("quiescent", Unit::Ampere, "drawn from the input")
    .within(Bounds::FROM_ZERO)
    .default("0 A")
    .example("\"0.15 uA\"");
const WORKS_FROM: Field = Field::value(
    "works_from",
    Unit::Volt,
    "lowest voltage, of the higher of input and output, from which it works; below it the body diode is left",
)
.within(Bounds::FROM_ZERO)
.default("0 V")
.example("\"1.5 V\"");
const SURVIVES: Field = Field::value(
    "survives",
    Unit::Volt,
    "highest voltage at input and output it survives",
)
.within(Bounds::POSITIVE)
.example("\"6 V\"");
const RATED: Field = Field::value("rated", Unit::Ampere, "largest continuous current")
    .within(Bounds::POSITIVE)
    .example("\"1.5 A\"");

pub(crate) static SECTION: Section = Section {
    kind: Kind::IdealDiode,
    doc: "an ideal diode: a transistor that passes current from `in` to `out` and none back",
    pins: PinSet::Named {
        required: &["in", "out", "gnd"],
        optional: &[],
    },
    part: &[],
    model: &[
        FORWARD,
        ON_RESISTANCE,
        LEAKAGE,
        LEAKAGE_AT,
        QUIESCENT,
        WORKS_FROM,
        SURVIVES,
        RATED,
    ],
    read,
};

fn read(f: &Fields<'_>, _pins: &[Pin]) -> Option<Device> {
    let forward = f.spread_or(&FORWARD);
    let on_resistance = f.spread(&ON_RESISTANCE);
    let leakage = f.spread_or(&LEAKAGE);
    let leakage_at = f.value(&LEAKAGE_AT);
    let quiescent = f.spread_or(&QUIESCENT);
    let works_from = f.value_or(&WORKS_FROM);
    let survives = f.value(&SURVIVES);
    let rated = f.value(&RATED);
    Some(Device::IdealDiode(Box::new(IdealDiode {
        forward,
        on_resistance: on_resistance?,
        leakage,
        leakage_at,
        quiescent,
        works_from,
        survives,
        rated,
    })))
}
