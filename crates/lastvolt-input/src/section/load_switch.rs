//! `kind = "load-switch"`.

use lastvolt_core::device::{Blocking, LoadSwitch};
use lastvolt_core::model::{Device, Kind, Pin};
use lastvolt_core::quantity::Unit;

use super::{PinSet, Section, enable};
use crate::diagnostic::Problem;
use crate::document::{Bounds, Field, Fields};

const ON_RESISTANCE: Field = Field::spread(
    "on_resistance",
    Unit::Ohm,
    "resistance from input to output when on",
)
.within(Bounds::POSITIVE.to(1e5))
.required()
.example("{ typ = \"55 mohm\", max = \"90 mohm\" }");
const QUIESCENT: Field = Field::spread("quiescent", Unit::Ampere, "drawn from the input when on")
    .within(Bounds::FROM_ZERO)
    .default("0 A")
    .example("\"1 uA\"");
const SHUTDOWN: Field = Field::spread(
    "shutdown",
    Unit::Ampere,
    "drawn from the input into ground when off",
)
.within(Bounds::FROM_ZERO)
.default("0 A")
.example("\"10 nA\"");
const LEAKAGE: Field = Field::spread(
    "leakage",
    Unit::Ampere,
    "from input to output when off, at 25 degC",
)
.within(Bounds::FROM_ZERO)
.default("0 A")
.example("{ typ = \"10 nA\", max = \"500 nA\" }");
const LEAKAGE_AT: Field = Field::value(
    "leakage_at",
    Unit::Volt,
    "voltage from input to output at which the leakage is stated",
)
.otherwise("`survives`, or 5 V")
.within(Bounds::POSITIVE)
.example("\"5 V\"");
const LIMIT: Field = Field::spread("limit", Unit::Ampere, "limit of the output current")
    .within(Bounds::POSITIVE)
    .example("\"600 mA\"");
const REVERSE_BLOCKING: Field = Field::word(
    "reverse_blocking",
    &["never", "when-off", "always"],
    "when no current flows from output to input; `never` means a body diode leads back",
)
.default("never")
.example("\"when-off\"");
const RUNS_DOWN_TO: Field = Field::value(
    "runs_down_to",
    Unit::Volt,
    "input voltage below which it is off",
)
.within(Bounds::FROM_ZERO)
.default("0 V")
.example("\"1.1 V\"");
const SURVIVES: Field = Field::value("survives", Unit::Volt, "highest input voltage it survives")
    .within(Bounds::POSITIVE)
    .example("\"6 V\"");
const RATED: Field = Field::value("rated", Unit::Ampere, "largest continuous current")
    .within(Bounds::POSITIVE)
    .example("\"2 A\"");
const ENABLE: Field =
    enable::field("the enable input, high for on; without it the switch is always on");

pub(crate) static SECTION: Section = Section {
    kind: Kind::LoadSwitch,
    doc: "a load switch: a transistor with its driver in one part",
    pins: PinSet::Named {
        required: &["in", "out", "gnd"],
        optional: &["enable"],
    },
    part: &[],
    model: &[
        ON_RESISTANCE,
        QUIESCENT,
        SHUTDOWN,
        LEAKAGE,
        LEAKAGE_AT,
        LIMIT,
        REVERSE_BLOCKING,
        RUNS_DOWN_TO,
        SURVIVES,
        RATED,
        ENABLE,
    ],
    read,
};

fn read(f: &Fields<'_>, pins: &[Pin]) -> Option<Device> {
    let on_resistance = f.spread(&ON_RESISTANCE);
    let quiescent = f.spread_or(&QUIESCENT);
    let shutdown = f.spread_or(&SHUTDOWN);
    let leakage = f.spread_or(&LEAKAGE);
    let leakage_at = f.value(&LEAKAGE_AT);
    let limit = f.spread(&LIMIT);
    let reverse_blocking = match f.word(&REVERSE_BLOCKING) {
        Some("when-off") => Blocking::WhenOff,
        Some("always") => Blocking::Always,
        _ => Blocking::Never,
    };
    let runs_down_to = f.value_or(&RUNS_DOWN_TO);
    let survives = f.value(&SURVIVES);
    let rated = f.value(&RATED);
    let enable = enable::read(f, &ENABLE)?;
    if f.complete()
        && let Some((code, text)) = enable::wrong_pin(pins, enable.is_some())
    {
        let at = f.get("pins").map_or(&f.home, |v| &v.spot);
        let problem = Problem::new(code, at.clone(), format!("{} {text}", f.what));
        f.reader.report(problem.label("these pins"));
        return None;
    }
    Some(Device::LoadSwitch(Box::new(LoadSwitch {
        on_resistance: on_resistance?,
        quiescent,
        shutdown,
        leakage,
        leakage_at,
        limit,
        reverse_blocking,
        runs_down_to,
        survives,
        rated,
        enable,
    })))
}
