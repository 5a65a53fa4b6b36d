//! `kind = "detector"`.

use lastvolt_core::device::{Detector, OutputStage};
use lastvolt_core::model::{Device, Kind, Pin};
use lastvolt_core::quantity::Unit;

use super::{PinSet, Section};
use crate::document::{Bounds, Field, Fields};

const THRESHOLD: Field = Field::spread(
    "threshold",
    Unit::Volt,
    "input voltage, falling, below which the output is low",
)
.within(Bounds::POSITIVE)
.required()
.example("{ min = \"1.76 V\", typ = \"1.80 V\", max = \"1.84 V\" }");
const HYSTERESIS: Field = Field::spread(
    "hysteresis",
    Unit::Volt,
    "how far above `threshold` the input must rise before the output is let go; 1 mV at least",
)
.within(Bounds::FROM_ZERO)
.default("0 V")
.example("\"90 mV\"");
const QUIESCENT: Field = Field::spread("quiescent", Unit::Ampere, "drawn from the input")
    .within(Bounds::FROM_ZERO)
    .default("0 A")
    .example("{ typ = \"0.9 uA\", max = \"2.5 uA\" }");
const OUTPUT: Field = Field::word(
    "output",
    &["open-drain", "push-pull"],
    "what makes the output high: a resistor on the board, or the input",
)
.default("open-drain")
.example("\"open-drain\"");
// Output sinks of micropower detectors are some tens to some hundred ohm at 2 V (typical of the class;
// from memory).
const OUTPUT_RESISTANCE: Field = Field::spread(
    "output_resistance",
    Unit::Ohm,
    "resistance of the output to ground when low, and to the input when driven high; the default is typical of the class",
)
.within(Bounds::POSITIVE.to(1e5))
.default("100 ohm")
.example("\"100 ohm\"");
const LEAKAGE: Field = Field::spread(
    "leakage",
    Unit::Ampere,
    "current into an open-drain output that is let go",
)
.within(Bounds::FROM_ZERO)
.default("0 A")
.example("{ typ = \"1 nA\", max = \"100 nA\" }");
const WORKS_FROM: Field = Field::value(
    "works_from",
    Unit::Volt,
    "input voltage from which the output is valid",
)
.within(Bounds::POSITIVE)
.example("\"0.8 V\"");
const SURVIVES: Field = Field::value("survives", Unit::Volt, "highest input voltage it survives")
    .within(Bounds::POSITIVE)
    .example("\"6 V\"");

pub(crate) static SECTION: Section = Section {
    kind: Kind::Detector,
    doc: "a voltage detector or supervisor: `out` is low while `in`, which feeds it too, is below its threshold",
    pins: PinSet::Named {
        required: &["in", "out", "gnd"],
        optional: &[],
    },
    part: &[],
    model: &[
        THRESHOLD,
        HYSTERESIS,
        QUIESCENT,
        OUTPUT,
        OUTPUT_RESISTANCE,
        LEAKAGE,
        WORKS_FROM,
        SURVIVES,
    ],
    read,
};

fn read(f: &Fields<'_>, _pins: &[Pin]) -> Option<Device> {
    let threshold = f.spread(&THRESHOLD);
    let hysteresis = f.spread_or(&HYSTERESIS);
    let quiescent = f.spread_or(&QUIESCENT);
    let output = match f.word(&OUTPUT) {
        Some("push-pull") => OutputStage::PushPull,
        _ => OutputStage::OpenDrain,
    };
    let output_resistance = f.spread_or(&OUTPUT_RESISTANCE);
    let leakage = f.spread_or(&LEAKAGE);
    let works_from = f.value(&WORKS_FROM);
    let survives = f.value(&SURVIVES);
    Some(Device::Detector(Box::new(Detector {
        threshold: threshold?,
        hysteresis,
        quiescent,
        output,
        output_resistance,
        leakage,
        works_from,
        survives,
    })))
}
