//! `kind = "supply"`: a USB port, a wall adapter, a bench supply.

use lastvolt_core::device::{Port, Supply};
use lastvolt_core::model::{Device, Kind, Pin};
use lastvolt_core::quantity::Unit;

use super::{PinSet, Section};
use crate::document::{Bounds, Field, Fields};

const VOLTAGE: Field = Field::spread("voltage", Unit::Volt, "voltage without load")
    .within(Bounds::POSITIVE)
    .required()
    .example("{ min = \"4.40 V\", typ = \"5 V\", max = \"5.25 V\" }");
const RESISTANCE: Field = Field::spread(
    "resistance",
    Unit::Ohm,
    "inner resistance, cable and plug included",
)
.within(Bounds::FROM_ZERO.to(1e5))
.default("0 ohm")
.example("\"250 mohm\"");
const LIMIT: Field = Field::spread("limit", Unit::Ampere, "largest current it gives")
    .within(Bounds::POSITIVE)
    .example("\"500 mA\"");
const SINKS: Field = Field::flag(
    "sinks",
    "whether it takes current when something holds its output above its own voltage",
)
.default("false")
.example("false");
const PORT: Field = Field::word(
    "port",
    &["usb", "adapter", "bench"],
    "what it is: a USB port is held to the limits of USB 2.0",
)
.example("\"usb\"");
const CABLE: Field = Field::value(
    "cable",
    Unit::Henry,
    "inductance of its cable, both conductors; about 1 uH a metre",
)
.otherwise("1 uH for `port = \"usb\"`, else nothing is said of plugging in")
.within(Bounds::POSITIVE.to(1e-3))
.example("\"0.6 uH\"");

pub(crate) static SECTION: Section = Section {
    kind: Kind::Supply,
    doc: "a source from outside the family's cells: USB port, wall adapter, bench supply",
    pins: PinSet::Two(&[["plus", "minus"]]),
    part: &[],
    model: &[VOLTAGE, RESISTANCE, LIMIT, SINKS, PORT, CABLE],
    read,
};

fn read(f: &Fields<'_>, _pins: &[Pin]) -> Option<Device> {
    let open_circuit = f.spread(&VOLTAGE);
    let resistance = f.spread_or(&RESISTANCE);
    let limit = f.spread(&LIMIT);
    let sinks = f.flag(&SINKS);
    let port = f.word(&PORT).map(|word| match word {
        "usb" => Port::Usb,
        "adapter" => Port::Adapter,
        _ => Port::Bench,
    });
    let cable = f.value(&CABLE);
    Some(Device::Supply(Supply {
        open_circuit: open_circuit?,
        resistance,
        limit,
        sinks,
        port,
        cable,
    }))
}
