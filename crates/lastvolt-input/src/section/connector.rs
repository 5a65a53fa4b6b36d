//! `[connector]`: the pins that every board shares.

use lastvolt_core::model::{Connector, RailPromise};
use lastvolt_core::quantity::{Unit, Voltage};

use super::check_name;
use crate::diagnostic::Problem;
use crate::document::{Bounds, Field, Fields, Value};

const PINS: Field = Field::names("pins", "names of the pins, which are also names of nets on every board; the first that is not ground is the main rail")
    .required()
    .example("[\"VDD\", \"GND\"]");
const GROUND: Field = Field::text("ground", "the pin that everything is measured against; `GND` if there is one, else the minus net of the first load, else the last pin")
    .example("\"GND\"");
const PROMISE: Field = Field::other(
    "promise",
    "table of pin = { band, current }",
    "what a rail promises to anything plugged on",
)
.example("{ VDD = { band = [\"2.9 V\", \"3.1 V\"], current = \"50 mA\" } }");

/// The fields of the table.
pub(crate) const FIELDS: &[Field] = &[PINS, GROUND, PROMISE];

const BAND: Field = Field::other(
    "band",
    "list of two voltages",
    "lowest and highest voltage of the rail",
)
.example("[\"2.9 V\", \"3.1 V\"]");
const BAND_VOLTS: Field = Field::value("band", Unit::Volt, "voltage")
    .within(Bounds::FROM_ZERO)
    .example("\"3 V\"");
const CURRENT: Field = Field::value(
    "current",
    Unit::Ampere,
    "current that may be drawn from the rail",
)
.within(Bounds::POSITIVE)
.example("\"50 mA\"");

/// The fields of one promise.
pub(crate) const PROMISE_FIELDS: &[Field] = &[BAND, CURRENT];

/// Reads the table; `first_minus` is the minus net of the first load.
pub(crate) fn read(f: &Fields<'_>, first_minus: Option<&str>) -> Option<Connector> {
    let value = f.find(&PINS)?;
    let mut pins: Vec<String> = Vec::new();
    for (name, spot) in f.reader.names(value, PINS.key) {
        check_name(f.reader, spot, name, "pin");
        if pins.iter().any(|p| p == name) {
            let says = format!("the pin `{name}` is listed twice");
            f.reader
                .report(Problem::new("duplicate-name", spot.clone(), says).label("second time"));
        }
        pins.push(name.to_owned());
    }
    if pins.len() < 2 {
        let says = "the connector needs two pins at least, a rail and ground";
        f.reader
            .report(Problem::new("wrong-length", value.spot.clone(), says).label("too few"));
        return None;
    }
    let ground = ground(f, &pins, first_minus);
    let promises = promises(f, &pins);
    Some(Connector {
        ground: ground?,
        pins,
        promises,
    })
}

fn ground(f: &Fields<'_>, pins: &[String], first_minus: Option<&str>) -> Option<usize> {
    let place = |name: &str| pins.iter().position(|p| p == name);
    if let Some(value) = f.get(GROUND.key) {
        let name = f.reader.text(value, GROUND.key)?;
        let at = place(name);
        if at.is_none() {
            let known: Vec<&str> = pins.iter().map(String::as_str).collect();
            f.reader
                .unknown_name(&value.spot, "connector pin", name, known);
        }
        return at;
    }
    place("GND")
        .or_else(|| first_minus.and_then(place))
        .or(Some(pins.len() - 1))
}

fn promises(f: &Fields<'_>, pins: &[String]) -> Vec<RailPromise> {
    let Some(table) = f
        .get(PROMISE.key)
        .and_then(|v| f.reader.table(v, PROMISE.key))
    else {
        return Vec::new();
    };
    let mut promises = Vec::new();
    for entry in &table.entries {
        if !pins.contains(&entry.key) {
            let known: Vec<&str> = pins.iter().map(String::as_str).collect();
            f.reader
                .unknown_name(&entry.key_spot, "connector pin", &entry.key, known);
        }
        let Some(table) = f.reader.table(&entry.value, &entry.key) else {
            continue;
        };
        let what = format!("the promise of `{}`", entry.key);
        let t = Fields::of(f.reader, table, PROMISE_FIELDS, &entry.key_spot, &what);
        let band = t
            .get(BAND.key)
            .and_then(|v| range(&t, v, &BAND, &BAND_VOLTS));
        promises.push(RailPromise {
            pin: entry.key.clone(),
            band,
            current: t.value(&CURRENT),
        });
    }
    promises
}

/// Two voltages, the second above the first.
pub(crate) fn range(
    f: &Fields<'_>,
    value: &Value,
    field: &Field,
    cell: &Field,
) -> Option<(Voltage, Voltage)> {
    let items = f.reader.list(value, field.key, "a list of two voltages")?;
    let [low, high] = items else {
        let says = format!(
            "`{}` has {} values, two are needed: lowest and highest",
            field.key,
            items.len()
        );
        f.reader
            .report(Problem::new("wrong-length", value.spot.clone(), says).label("two values"));
        return None;
    };
    let (from, to): (Option<Voltage>, Option<Voltage>) =
        (f.reader.quantity(low, cell), f.reader.quantity(high, cell));
    let (from, to) = (from?, to?);
    if to <= from {
        let says = format!(
            "the first value of `{}` must lie below the second",
            field.key
        );
        f.reader
            .report(Problem::new("min-above-max", value.spot.clone(), says).label("out of order"));
        return None;
    }
    Some((from, to))
}
