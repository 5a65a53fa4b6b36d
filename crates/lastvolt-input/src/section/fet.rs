//! `kind = "p-fet"` and `kind = "n-fet"`.
//!
//! Data sheets of p-channel parts print gate and drain voltages with a minus sign; the model holds
//! magnitudes, and a sign that does not fit the channel is an error.

use lastvolt_core::device::{Channel, Fet};
use lastvolt_core::model::{Device, Kind, Pin};
use lastvolt_core::quantity::{Current, Quantity, Resistance, Spread, Unit, Voltage};

use super::{PinSet, Section};
use crate::diagnostic::Problem;
use crate::document::{Bounds, Field, Fields, Value};

const THRESHOLD: Field = Field::spread(
    "threshold",
    Unit::Volt,
    "gate threshold, negative for a p-channel part",
)
.otherwise("`at` is its drain current, 250 uA")
.required()
.example("{ min = \"-0.45 V\", typ = \"-0.7 V\", max = \"-1.0 V\", at = \"250 uA\" }");
const THRESHOLD_AT: Field = Field::value("at", Unit::Ampere, "drain current of the threshold")
    .within(Bounds::POSITIVE)
    .example("\"250 uA\"");
const ON_RESISTANCE: Field = Field::other(
    "on_resistance",
    "list of [gate-source voltage, resistance]",
    "on-resistance against gate-source voltage, away from zero, negative for a p-channel part",
)
.required()
.example("[[\"-1.8 V\", \"108 mohm\"], [\"-4.5 V\", \"52 mohm\"]]");
const ON_VOLTS: Field =
    Field::value("on_resistance", Unit::Volt, "gate-source voltage").example("\"-4.5 V\"");
const ON_OHMS: Field = Field::spread("on_resistance", Unit::Ohm, "resistance")
    .within(Bounds::POSITIVE.to(1e5))
    .example("\"52 mohm\"");
const OFF_LEAKAGE: Field = Field::spread(
    "off_leakage",
    Unit::Ampere,
    "drain current when off, at 25 degC",
)
.within(Bounds::FROM_ZERO)
.example("{ typ = \"5 nA\", max = \"1 uA\" }");
const GATE_LEAKAGE: Field = Field::spread("gate_leakage", Unit::Ampere, "gate current, at 25 degC")
    .within(Bounds::FROM_ZERO)
    .example("{ typ = \"0.1 nA\", max = \"100 nA\" }");
const RATED_DRAIN: Field =
    Field::value("drain_source", Unit::Volt, "drain-source voltage").example("\"-12 V\"");
const RATED_GATE: Field =
    Field::value("gate_source", Unit::Volt, "gate-source voltage, either way").example("\"8 V\"");
const RATED: Field = Field::table(
    "rated",
    &[RATED_DRAIN, RATED_GATE],
    "what it may be asked for; signs do not matter here",
)
.example("{ drain_source = \"-12 V\", gate_source = \"8 V\" }");

const MODEL: &[Field] = &[THRESHOLD, ON_RESISTANCE, OFF_LEAKAGE, GATE_LEAKAGE, RATED];
const PINS: PinSet = PinSet::Named {
    required: &["drain", "source", "gate"],
    optional: &[],
};

pub(crate) static P_FET: Section = Section {
    kind: Kind::PFet,
    doc: "a p-channel field-effect transistor with its body diode",
    pins: PINS,
    part: &[],
    model: MODEL,
    read: |f, _: &[Pin]| read(f, Channel::P),
};

pub(crate) static N_FET: Section = Section {
    kind: Kind::NFet,
    doc: "an n-channel field-effect transistor with its body diode",
    pins: PINS,
    part: &[],
    model: MODEL,
    read: |f, _: &[Pin]| read(f, Channel::N),
};

fn read(f: &Fields<'_>, channel: Channel) -> Option<Device> {
    let threshold = threshold(f, channel);
    let on_resistance = on_resistance(f, channel);
    let off_leakage = f.spread(&OFF_LEAKAGE);
    let gate_leakage = f.spread(&GATE_LEAKAGE);
    let rated = f.table(&RATED);
    let rating = |field: &Field| -> Option<Voltage> {
        let volts: Voltage = rated.as_ref()?.value(field)?;
        Some(Voltage::from_volts(volts.as_volts().abs()))
    };
    let (rated_drain_source, rated_gate_source) = (rating(&RATED_DRAIN), rating(&RATED_GATE));
    let (threshold, threshold_at) = threshold?;
    Some(Device::Fet(Fet {
        channel,
        threshold,
        threshold_at,
        on_resistance: on_resistance?,
        off_leakage,
        gate_leakage,
        rated_drain_source,
        rated_gate_source,
    }))
}

/// The magnitude of a gate voltage; none, with a report, if its sign does not fit the channel.
fn magnitude(
    f: &Fields<'_>,
    value: &Value,
    key: &str,
    volts: f64,
    channel: Channel,
) -> Option<f64> {
    let (fits, is, other) = match channel {
        Channel::P => (volts < 0.0, "p", "negative"),
        Channel::N => (volts > 0.0, "n", "positive"),
    };
    if !fits {
        let says = format!("`{key}` is {volts} V, it is {other} in a part with {is} channel");
        let mut problem = Problem::new("wrong-sign", value.spot.clone(), says).label("wrong sign");
        if volts != 0.0 {
            problem = problem.proposal(format!("write `{} V`", -volts));
        }
        f.reader.report(problem);
    }
    fits.then_some(volts.abs())
}

fn threshold(f: &Fields<'_>, channel: Channel) -> Option<(Spread<Voltage>, Current)> {
    let value = f.find(&THRESHOLD)?;
    let raw = f.reader.raw_spread(value, &THRESHOLD, Unit::Volt)?;
    let at = match raw.at {
        Some(at) => f.reader.quantity(at, &THRESHOLD_AT)?,
        None => Current::from_amps(250e-6),
    };
    let sized = |volts: Option<f64>| match volts {
        Some(volts) => magnitude(f, value, THRESHOLD.key, volts, channel).map(Some),
        None => Some(None),
    };
    let (mut min, typ, mut max) = (sized(raw.min)?, sized(Some(raw.typ))??, sized(raw.max)?);
    // Sheets print the limits of a p-channel part by number or by magnitude.
    if let (Some(low), Some(high)) = (min, max)
        && high < low
    {
        (min, max) = (max, min);
    }
    if min.is_some_and(|low| typ < low) || max.is_some_and(|high| high < typ) {
        let says = "`typ` of `threshold` lies outside its `min` and `max`";
        let problem = Problem::new("min-above-max", value.spot.clone(), says);
        f.reader.report(problem.label("out of order"));
        return None;
    }
    let spread = Spread {
        min: min.map(Voltage::from_si),
        typ: Voltage::from_si(typ),
        max: max.map(Voltage::from_si),
    };
    Some((spread, at))
}

fn on_resistance(f: &Fields<'_>, channel: Channel) -> Option<Vec<(Voltage, Spread<Resistance>)>> {
    let value = f.find(&ON_RESISTANCE)?;
    let rows = f.reader.rows(value, ON_RESISTANCE.key, 2)?;
    let mut points = Vec::new();
    let mut column = Vec::new();
    for row in rows {
        let volts: Option<Voltage> = f.reader.quantity(&row[0], &ON_VOLTS);
        let ohms: Option<Spread<Resistance>> = f.reader.spread(&row[1], &ON_OHMS);
        let volts = magnitude(f, &row[0], ON_RESISTANCE.key, volts?.as_volts(), channel)?;
        column.push((volts, &row[0]));
        points.push((Voltage::from_volts(volts), ohms?));
    }
    f.reader
        .rising(ON_RESISTANCE.key, &column)
        .then_some(points)
}
