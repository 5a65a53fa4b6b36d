//! `kind = "diode"` and `kind = "led"`.

use lastvolt_core::device::{Diode, Led};
use lastvolt_core::model::{Device, Kind, Pin};
use lastvolt_core::quantity::{Current, Spread, Unit, Voltage};

use super::{PinSet, Section};
use crate::diagnostic::Problem;
use crate::document::{Bounds, Field, Fields};

pub(super) const FORWARD: Field = Field::other(
    "forward",
    "list of [current, voltage]",
    "points of the forward characteristic at 25 degC, current rising",
)
.required()
.example("[[\"1 mA\", \"0.29 V\"], [\"10 mA\", \"0.35 V\"]]");
const FORWARD_AMPS: Field = Field::value("forward", Unit::Ampere, "current")
    .within(Bounds::POSITIVE)
    .example("\"1 mA\"");
const FORWARD_VOLTS: Field = Field::spread("forward", Unit::Volt, "voltage")
    .within(Bounds::POSITIVE)
    .example("\"0.3 V\"");
pub(super) const LEAKAGE: Field =
    Field::spread("leakage", Unit::Ampere, "reverse current at 25 degC")
        .within(Bounds::FROM_ZERO)
        .example("{ typ = \"0.5 uA\", max = \"2 uA\" }");
pub(super) const LEAKAGE_AT: Field = Field::value(
    "leakage_at",
    Unit::Volt,
    "reverse voltage at which the leakage is stated",
)
.within(Bounds::POSITIVE)
.example("\"25 V\"");
pub(super) const RATED_CURRENT: Field = Field::value("current", Unit::Ampere, "forward current")
    .within(Bounds::POSITIVE)
    .example("\"200 mA\"");
const RATED_REVERSE: Field = Field::value("reverse", Unit::Volt, "reverse voltage")
    .within(Bounds::POSITIVE)
    .example("\"30 V\"");
const RATED: Field = Field::table(
    "rated",
    &[RATED_CURRENT, RATED_REVERSE],
    "what it may be asked for",
)
.example("{ current = \"200 mA\", reverse = \"30 V\" }");
const VISIBLE_FROM: Field = Field::value(
    "visible_from",
    Unit::Ampere,
    "current from which the light is seen",
)
.within(Bounds::POSITIVE)
.example("\"0.3 mA\"");

pub(crate) static DIODE: Section = Section {
    kind: Kind::Diode,
    doc: "a diode, silicon or Schottky",
    pins: PinSet::Two(&[["anode", "cathode"]]),
    part: &[],
    model: &[FORWARD, LEAKAGE, LEAKAGE_AT, RATED],
    read: |f, _| junction(f).map(Device::Diode),
};

pub(crate) static LED: Section = Section {
    kind: Kind::Led,
    doc: "a light-emitting diode; its light is proportional to its current",
    pins: PinSet::Two(&[["anode", "cathode"]]),
    part: &[],
    model: &[FORWARD, LEAKAGE, LEAKAGE_AT, RATED, VISIBLE_FROM],
    read: led,
};

fn led(f: &Fields<'_>, _pins: &[Pin]) -> Option<Device> {
    let visible_from = f.value(&VISIBLE_FROM);
    Some(Device::Led(Led {
        junction: junction(f)?,
        visible_from,
    }))
}

fn junction(f: &Fields<'_>) -> Option<Diode> {
    let forward = forward(f);
    let leakage = f.spread(&LEAKAGE);
    let leakage_at = f.value(&LEAKAGE_AT);
    let rated = f.table(&RATED);
    let rated_current = rated.as_ref().and_then(|r| r.value(&RATED_CURRENT));
    let rated_reverse = rated.as_ref().and_then(|r| r.value(&RATED_REVERSE));
    Some(Diode {
        forward: forward?,
        leakage,
        leakage_at,
        rated_current,
        rated_reverse,
    })
}

pub(super) fn forward(f: &Fields<'_>) -> Option<Vec<(Current, Spread<Voltage>)>> {
    let value = f.find(&FORWARD)?;
    let rows = f.reader.rows(value, FORWARD.key, 2)?;
    let mut points: Vec<(Current, Spread<Voltage>)> = Vec::new();
    let mut column = Vec::new();
    for row in rows {
        let amps: Option<Current> = f.reader.quantity(&row[0], &FORWARD_AMPS);
        let volts: Option<Spread<Voltage>> = f.reader.spread(&row[1], &FORWARD_VOLTS);
        let (amps, volts) = (amps?, volts?);
        if points.last().is_some_and(|p| volts.typ <= p.1.typ) {
            let says = "the voltage of `forward` does not rise with the current here";
            let problem = Problem::new("unsorted-table", row[1].spot.clone(), says);
            f.reader.report(problem.label("not above the one before"));
            return None;
        }
        column.push((amps.as_amps(), &row[0]));
        points.push((amps, volts));
    }
    f.reader.rising(FORWARD.key, &column).then_some(points)
}
