//! `kind = "zener"`.

use lastvolt_core::device::{Diode, Zener};
use lastvolt_core::model::{Device, Kind, Pin};
use lastvolt_core::quantity::{Current, Spread, Unit, Voltage};

use super::diode::{FORWARD, LEAKAGE, LEAKAGE_AT, RATED_CURRENT, forward};
use super::{PinSet, Section};
use crate::diagnostic::Problem;
use crate::document::{Bounds, Field, Fields};

const BREAKDOWN: Field = Field::spread(
    "breakdown",
    Unit::Volt,
    "breakdown voltage at `test_current`, at 25 degC",
)
.within(Bounds::POSITIVE)
.required()
.example("{ min = \"5.2 V\", typ = \"5.6 V\", max = \"6.0 V\" }");
const TEST_CURRENT: Field = Field::value(
    "test_current",
    Unit::Ampere,
    "current at which breakdown voltage and dynamic resistance are stated",
)
.within(Bounds::POSITIVE)
.required()
.example("\"5 mA\"");
const DYNAMIC_RESISTANCE: Field = Field::spread(
    "dynamic_resistance",
    Unit::Ohm,
    "change of the breakdown voltage with the current, at `test_current`",
)
.within(Bounds::FROM_ZERO.to(1e5))
.required()
.example("{ typ = \"15 ohm\", max = \"40 ohm\" }");
const FORWARD_POINTS: Field = FORWARD.otherwise("0.75 V at 10 mA, typical of small silicon diodes");
const RATED_POWER: Field = Field::value("power", Unit::Watt, "power")
    .within(Bounds::POSITIVE)
    .example("\"250 mW\"");
const RATED: Field = Field::table(
    "rated",
    &[RATED_POWER, RATED_CURRENT],
    "what it may be asked for",
)
.example("{ power = \"250 mW\", current = \"200 mA\" }");

/// Forward point of one that states none.
const SILICON_AMPS: f64 = 10e-3;
const SILICON_VOLTS: f64 = 0.75;

pub(crate) static SECTION: Section = Section {
    kind: Kind::Zener,
    doc: "a Zener diode",
    pins: PinSet::Two(&[["anode", "cathode"]]),
    part: &[],
    model: &[
        BREAKDOWN,
        TEST_CURRENT,
        DYNAMIC_RESISTANCE,
        FORWARD_POINTS,
        LEAKAGE,
        LEAKAGE_AT,
        RATED,
    ],
    read,
};

fn read(f: &Fields<'_>, _pins: &[Pin]) -> Option<Device> {
    let breakdown: Option<Spread<Voltage>> = f.spread(&BREAKDOWN);
    let test_current = f.value(&TEST_CURRENT);
    let dynamic_resistance = f.spread(&DYNAMIC_RESISTANCE);
    let points = match f.get(FORWARD.key) {
        Some(_) => forward(f),
        None => Some(vec![(
            Current::from_amps(SILICON_AMPS),
            Spread::exactly(Voltage::from_volts(SILICON_VOLTS)),
        )]),
    };
    let leakage = f.spread(&LEAKAGE);
    let leakage_at: Option<Voltage> = f.value(&LEAKAGE_AT);
    let rated = f.table(&RATED);
    let rated_power = rated.as_ref().and_then(|r| r.value(&RATED_POWER));
    let rated_current = rated.as_ref().and_then(|r| r.value(&RATED_CURRENT));
    let breakdown = breakdown?;
    if leakage_at.is_some_and(|at| at >= breakdown.typ) {
        let at = f.get(LEAKAGE_AT.key).map_or(&f.home, |v| &v.spot);
        let says = "`leakage_at` is not below the `breakdown` voltage";
        let problem = Problem::new("out-of-range", at.clone(), says);
        f.reader.report(problem.label("breaks down here"));
        return None;
    }
    Some(Device::Zener(Box::new(Zener {
        breakdown,
        test_current: test_current?,
        dynamic_resistance: dynamic_resistance?,
        junction: Diode {
            forward: points?,
            leakage,
            leakage_at,
            rated_current,
            rated_reverse: None,
        },
        rated_power,
    })))
}
