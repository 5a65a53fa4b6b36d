//! `kind = "capacitor"`.

use lastvolt_core::device::{Capacitor, Dielectric};
use lastvolt_core::model::{Device, Kind, Pin};
use lastvolt_core::numerics::table::Table;
use lastvolt_core::quantity::{Fraction, Unit, Voltage};

use super::{PinSet, Section};
use crate::document::{Bounds, Field, Fields};

const VALUE: Field = Field::spread("value", Unit::Farad, "capacitance without bias")
    .within(Bounds::POSITIVE)
    .required()
    .example("\"10 uF\"");
pub(super) const DIELECTRIC: Field = Field::word(
    "dielectric",
    &[
        "C0G",
        "NP0",
        "X5R",
        "X6S",
        "X7R",
        "X7S",
        "Y5V",
        "Z5U",
        "tantalum",
        "aluminium",
        "polymer",
        "film",
        "double-layer",
    ],
    "what is between its plates; leakage and loss under bias of the class follow from it where none is given",
)
.example("\"X5R\"");
const RATED: Field = Field::value("rated", Unit::Volt, "rated voltage")
    .within(Bounds::POSITIVE)
    .example("\"6.3 V\"");
const SERIES_RESISTANCE: Field = Field::spread("series_resistance", Unit::Ohm, "series resistance")
    .within(Bounds::FROM_ZERO.to(1e5))
    .default("0 ohm")
    .example("\"8 mohm\"");
const LEAKAGE: Field = Field::spread("leakage", Unit::Ampere, "leakage current at rated voltage")
    .within(Bounds::FROM_ZERO)
    .example("\"50 nA\"");
const BIAS: Field = Field::other(
    "bias",
    "list of [voltage, share]",
    "share of the capacitance that is left against the voltage across it, voltage rising",
)
.example("[[\"0 V\", 1], [\"3.3 V\", 0.55]]");
const BIAS_VOLTS: Field = Field::value("bias", Unit::Volt, "voltage")
    .within(Bounds::FROM_ZERO)
    .example("\"3.3 V\"");
const BIAS_SHARE: Field = Field::value("bias", Unit::Fraction, "share")
    .within(Bounds::POSITIVE_SHARE.to(1.5))
    .example("\"55 %\"");

pub(crate) static SECTION: Section = Section {
    kind: Kind::Capacitor,
    doc: "a capacitor; pins `plus` and `minus` where it is polar",
    pins: PinSet::Two(&[["1", "2"], ["plus", "minus"]]),
    part: &[],
    model: &[VALUE, DIELECTRIC, RATED, SERIES_RESISTANCE, LEAKAGE, BIAS],
    read,
};

fn read(f: &Fields<'_>, _pins: &[Pin]) -> Option<Device> {
    let value = f.spread(&VALUE);
    let dielectric = f.word(&DIELECTRIC).map(|word| match word {
        "C0G" | "NP0" => Dielectric::Class1,
        "Y5V" | "Z5U" => Dielectric::Class2Y,
        "tantalum" => Dielectric::Tantalum,
        "aluminium" => Dielectric::Aluminium,
        "polymer" => Dielectric::Polymer,
        "film" => Dielectric::Film,
        "double-layer" => Dielectric::DoubleLayer,
        _ => Dielectric::Class2X,
    });
    let rated = f.value(&RATED);
    let series_resistance = f.spread_or(&SERIES_RESISTANCE);
    let leakage = f.spread(&LEAKAGE);
    let bias = bias(f);
    Some(Device::Capacitor(Capacitor {
        value: value?,
        dielectric,
        rated,
        series_resistance,
        leakage,
        bias,
    }))
}

fn bias(f: &Fields<'_>) -> Option<Table> {
    let value = f.find(&BIAS)?;
    let rows = f.reader.rows(value, BIAS.key, 2)?;
    let mut points = Vec::new();
    let mut column = Vec::new();
    for row in rows {
        let volts: Option<Voltage> = f.reader.quantity(&row[0], &BIAS_VOLTS);
        let share: Option<Fraction> = f.reader.quantity(&row[1], &BIAS_SHARE);
        points.push((volts?.as_volts(), share?.as_share()));
        column.push((volts?.as_volts(), &row[0]));
    }
    if !f.reader.rising(BIAS.key, &column) {
        return None;
    }
    Table::new(&points).ok()
}
