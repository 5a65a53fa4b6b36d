//! `kind = "ldo"`, `"buck"`, `"boost"` and `"buck-boost"`.

use lastvolt_core::device::{Loss, Regulator, Setpoint, Topology, WhenOff};
use lastvolt_core::model::{Device, Kind, Pin};
use lastvolt_core::quantity::{Current, Fraction, Resistance, Spread, Unit, Voltage};

use super::{PinSet, Section, enable};
use crate::diagnostic::Problem;
use crate::document::{Bounds, Either, Field, Fields};

const REFERENCE: Field = Field::spread(
    "reference",
    Unit::Volt,
    "voltage of the feedback pin; or `output`",
)
.within(Bounds::POSITIVE)
.example("{ min = \"0.49 V\", typ = \"0.50 V\", max = \"0.51 V\" }");
const OUTPUT: Field = Field::spread(
    "output",
    Unit::Volt,
    "output voltage of a fixed version, in place of `reference`",
)
.within(Bounds::POSITIVE)
.example("\"3.0 V\"");
const BIAS: Field = Field::spread(
    "bias",
    Unit::Ampere,
    "current into the feedback pin; negative flows out of it",
)
.default("0 A")
.example("\"10 nA\"");
const QUIESCENT_IN: Field = Field::spread("in", Unit::Ampere, "drawn from the input when on")
    .within(Bounds::FROM_ZERO)
    .default("0 A")
    .example("\"0.5 uA\"");
const QUIESCENT_OUT: Field = Field::spread("out", Unit::Ampere, "drawn from the output when on")
    .within(Bounds::FROM_ZERO)
    .default("0 A")
    .example("\"19 uA\"");
const QUIESCENT_MEANING_IN: Field =
    Field::spread("quiescent", Unit::Ampere, "drawn from the input when on")
        .within(Bounds::FROM_ZERO)
        .default("0 A")
        .example("\"1 uA\"");
const QUIESCENT: Field = Field::table(
    "quiescent",
    &[QUIESCENT_IN, QUIESCENT_OUT],
    "quiescent current when on; a plain value is drawn from the input",
)
.example("{ in = \"0.5 uA\", out = \"19 uA\" }");
const SHUTDOWN: Field = Field::spread("shutdown", Unit::Ampere, "drawn from the input when off")
    .within(Bounds::FROM_ZERO)
    .default("0 A")
    .example("\"0.1 uA\"");
const SHARE: Field = Field::spread("share", Unit::Fraction, "share of the output power")
    .within(Bounds::SHARE)
    .default("0 %")
    .example("\"5 %\"");
const PATH: Field = Field::spread(
    "path",
    Unit::Ohm,
    "resistance in the path of the inductor current, without the winding",
)
.within(Bounds::FROM_ZERO.to(1e5))
.default("0 ohm")
.example("\"0.35 ohm\"");
const LOSS: Field = Field::table(
    "loss",
    &[SHARE, PATH],
    "where energy is lost; or `efficiency`",
)
.example("{ share = \"5 %\", path = \"0.35 ohm\" }");
const EFFICIENCY: Field = Field::other(
    "efficiency",
    "list of [input voltage, output current, share]",
    "measured efficiency, quiescent current included, in place of `loss` and `quiescent`",
)
.example("[[\"2.4 V\", \"10 mA\", \"90 %\"]]");
const EFFICIENCY_VOLTS: Field = Field::value("efficiency", Unit::Volt, "input voltage")
    .within(Bounds::POSITIVE)
    .example("\"2.4 V\"");
const EFFICIENCY_AMPS: Field = Field::value("efficiency", Unit::Ampere, "output current")
    .within(Bounds::POSITIVE)
    .example("\"10 mA\"");
const EFFICIENCY_SHARE: Field = Field::value("efficiency", Unit::Fraction, "efficiency")
    .within(Bounds::POSITIVE_SHARE)
    .example("\"90 %\"");
const DROPOUT: Field = Field::spread(
    "dropout",
    Unit::Ohm,
    "resistance from input to output in dropout or pass-through",
)
.within(Bounds::FROM_ZERO.to(1e5))
.default("0 ohm")
.example("\"1.2 ohm\"");
const PASS_DIODE: Field = Field::value(
    "pass_diode",
    Unit::Volt,
    "forward voltage of the path from input to output in pass-through or when off",
)
.otherwise("0 V, or 0.6 V with `when_off = \"body-diode\"`")
.within(Bounds::FROM_ZERO)
.example("\"0.6 V\"");
const DROPOUT_GROUND: Field = Field::value(
    "ground_current_in_dropout",
    Unit::Fraction,
    "additional ground current in dropout as a share of the output current",
)
.within(Bounds::SHARE)
.default("0 %")
.example("\"1 %\"");
const FREQUENCY: Field = Field::spread("frequency", Unit::Hertz, "switching frequency")
    .within(Bounds::POSITIVE)
    .example("\"500 kHz\"");
const SWITCH_LIMIT: Field = Field::spread(
    "switch_limit",
    Unit::Ampere,
    "limit of the inductor current",
)
.within(Bounds::POSITIVE)
.example("{ min = \"600 mA\", typ = \"800 mA\" }");
const LIMIT: Field = Field::spread("limit", Unit::Ampere, "limit of the output current")
    .within(Bounds::POSITIVE)
    .example("\"200 mA\"");
const START: Field = Field::other(
    "start",
    "list of [current, voltage], or a voltage",
    "lowest input voltage that starts into a load of a current, current rising",
)
.example("[[\"1 mA\", \"0.65 V\"], [\"20 mA\", \"0.9 V\"]]");
const START_AMPS: Field = Field::value("start", Unit::Ampere, "load current")
    .within(Bounds::FROM_ZERO)
    .example("\"1 mA\"");
const START_VOLTS: Field = Field::value("start", Unit::Volt, "input voltage")
    .within(Bounds::FROM_ZERO)
    .example("\"0.9 V\"");
const RUNS_DOWN_TO: Field = Field::value(
    "runs_down_to",
    Unit::Volt,
    "input voltage below which it stops",
)
.within(Bounds::FROM_ZERO)
.default("0 V")
.example("\"0.35 V\"");
const SURVIVES: Field = Field::value("survives", Unit::Volt, "highest input voltage it survives")
    .within(Bounds::POSITIVE)
    .example("\"5.5 V\"");
const ENABLE: Field = enable::field("the enable input; without it the regulator is always on");
const WHEN_OFF: Field = Field::word(
    "when_off",
    &["disconnects", "body-diode", "passes"],
    "the path from input to output when it is off",
)
.default("disconnects")
.example("\"disconnects\"");
const REVERSE: Field = Field::word(
    "reverse",
    &["disconnects", "body-diode", "passes"],
    "the path from output back to input when the output is held above the input",
)
.otherwise("`body-diode` for `ldo` and `buck`, `disconnects` for `boost` and `buck-boost`")
.example("\"body-diode\"");
const RESPONSE: Field = Field::value(
    "response",
    Unit::Second,
    "how fast it answers a step of load",
)
.otherwise("10 us for `ldo`, 50 us for the others")
.within(Bounds::POSITIVE)
.example("\"30 us\"");

const CONVERTER: &[Field] = &[
    REFERENCE,
    OUTPUT,
    BIAS,
    QUIESCENT,
    SHUTDOWN,
    LOSS,
    EFFICIENCY,
    DROPOUT,
    PASS_DIODE,
    FREQUENCY,
    SWITCH_LIMIT,
    START,
    RUNS_DOWN_TO,
    SURVIVES,
    ENABLE,
    WHEN_OFF,
    REVERSE,
    RESPONSE,
];
const LINEAR: &[Field] = &[
    REFERENCE,
    OUTPUT,
    BIAS,
    QUIESCENT,
    SHUTDOWN,
    DROPOUT,
    DROPOUT_GROUND,
    PASS_DIODE,
    LIMIT,
    START,
    RUNS_DOWN_TO,
    SURVIVES,
    ENABLE,
    WHEN_OFF,
    REVERSE,
    RESPONSE,
];

pub(crate) static LDO: Section = Section {
    kind: Kind::Ldo,
    doc: "a linear regulator",
    pins: PinSet::Named {
        required: &["in", "out", "gnd"],
        optional: &["enable", "fb"],
    },
    part: &[],
    model: LINEAR,
    read: |f, pins| read(f, pins, Topology::Linear),
};

pub(crate) static BUCK: Section = Section {
    kind: Kind::Buck,
    doc: "a step-down converter; an inductor goes from `sw` to the output, or is part of it where `sw` is absent",
    pins: PinSet::Named {
        required: &["in", "out", "gnd"],
        optional: &["enable", "fb", "sw"],
    },
    part: &[],
    model: CONVERTER,
    read: |f, pins| read(f, pins, Topology::Buck),
};

pub(crate) static BOOST: Section = Section {
    kind: Kind::Boost,
    doc: "a step-up converter; an inductor goes from the input to `sw`, or is part of it where `sw` is absent",
    pins: PinSet::Named {
        required: &["in", "out", "gnd"],
        optional: &["enable", "fb", "sw"],
    },
    part: &[],
    model: CONVERTER,
    read: |f, pins| read(f, pins, Topology::Boost),
};

pub(crate) static BUCK_BOOST: Section = Section {
    kind: Kind::BuckBoost,
    doc: "a step-up/down converter; an inductor goes from `sw1` to `sw2`, or is part of it where both are absent",
    pins: PinSet::Named {
        required: &["in", "out", "gnd"],
        optional: &["enable", "fb", "sw1", "sw2"],
    },
    part: &[],
    model: CONVERTER,
    read: |f, pins| read(f, pins, Topology::BuckBoost),
};

fn read(f: &Fields<'_>, pins: &[Pin], topology: Topology) -> Option<Device> {
    let setpoint = setpoint(f);
    let bias = f.spread_or(&BIAS);
    let (quiescent_in, quiescent_out) = quiescent(f);
    let shutdown = f.spread_or(&SHUTDOWN);
    let loss = loss(f, topology);
    let dropout = f.spread_or(&DROPOUT);
    let linear = topology == Topology::Linear;
    let dropout_ground = if linear {
        f.value_or::<Fraction>(&DROPOUT_GROUND).as_share()
    } else {
        0.0
    };
    let frequency = if linear { None } else { f.spread(&FREQUENCY) };
    let limit = f.spread(if linear { &LIMIT } else { &SWITCH_LIMIT });
    let start = start(f);
    let runs_down_to = f.value_or(&RUNS_DOWN_TO);
    let survives = f.value(&SURVIVES);
    let enable = enable::read(f, &ENABLE);
    let path = |word: Option<&str>| match word? {
        "body-diode" => Some(WhenOff::BodyDiode),
        "passes" => Some(WhenOff::Passes),
        _ => Some(WhenOff::Disconnects),
    };
    let when_off = path(f.word(&WHEN_OFF)).unwrap_or(WhenOff::Disconnects);
    // The switch of a step-down stage is a transistor whose body diode points back to the input.
    let usual_reverse = match topology {
        Topology::Linear | Topology::Buck => WhenOff::BodyDiode,
        Topology::Boost | Topology::BuckBoost => WhenOff::Disconnects,
    };
    let reverse = path(f.word(&REVERSE)).unwrap_or(usual_reverse);
    // A silicon body diode (common practice).
    let usual_drop = if when_off == WhenOff::BodyDiode {
        0.6
    } else {
        0.0
    };
    let pass_diode = f
        .value(&PASS_DIODE)
        .unwrap_or(Voltage::from_volts(usual_drop));
    let response = f.value(&RESPONSE);
    let setpoint = setpoint?;
    let enable = enable?;
    check_pins(f, pins, &setpoint, enable.is_some())?;
    Some(Device::Regulator(Box::new(Regulator {
        topology,
        setpoint,
        bias,
        quiescent_in,
        quiescent_out,
        shutdown,
        loss: loss?,
        dropout,
        pass_diode,
        dropout_ground,
        frequency,
        limit,
        start: start?,
        runs_down_to,
        survives,
        enable,
        when_off,
        reverse,
        response,
    })))
}

fn setpoint(f: &Fields<'_>) -> Option<Setpoint> {
    match f.either(&REFERENCE, &OUTPUT) {
        Either::Both => None,
        Either::First => f.spread(&REFERENCE).map(Setpoint::Reference),
        Either::Second => f.spread(&OUTPUT).map(Setpoint::Output),
        Either::Neither => {
            if f.complete() && !f.mentions(REFERENCE.key) && !f.mentions(OUTPUT.key) {
                let says = format!("{} has neither `reference` nor `output`", f.what);
                let problem = Problem::new("no-setpoint", f.home.clone(), says)
                    .label("regulates to nothing")
                    .proposal(format!("add `output = {}`", OUTPUT.example));
                f.reader.report(problem);
            }
            None
        }
    }
}

fn quiescent(f: &Fields<'_>) -> (Spread<Current>, Spread<Current>) {
    let none = Spread::exactly(Current::from_amps(0.0));
    let Some(value) = f.get(QUIESCENT.key) else {
        return (none, none);
    };
    let named = value.as_table().is_some_and(|t| {
        // `{ typ = ..., max = ... }` is a plain value.
        !t.entries
            .iter()
            .any(|e| matches!(e.key.as_str(), "min" | "typ" | "max"))
    });
    if named {
        f.table(&QUIESCENT).map_or((none, none), |t| {
            (t.spread_or(&QUIESCENT_IN), t.spread_or(&QUIESCENT_OUT))
        })
    } else {
        let plain = f.reader.spread(value, &QUIESCENT_MEANING_IN);
        (plain.unwrap_or(none), none)
    }
}

fn loss(f: &Fields<'_>, topology: Topology) -> Option<Loss> {
    if topology == Topology::Linear {
        return Some(Loss::Share {
            share: Spread::exactly(Fraction::from_share(0.0)),
            path: Spread::exactly(Resistance::from_ohms(0.0)),
        });
    }
    match f.either(&LOSS, &EFFICIENCY) {
        Either::Both => return None,
        Either::Second => return efficiency(f),
        Either::First | Either::Neither => {}
    }
    let table = f.table(&LOSS);
    let t = table.as_ref();
    Some(Loss::Share {
        share: t.map_or(Spread::exactly(Fraction::from_share(0.0)), |t| {
            t.spread_or(&SHARE)
        }),
        path: t.map_or(Spread::exactly(Resistance::from_ohms(0.0)), |t| {
            t.spread_or(&PATH)
        }),
    })
}

fn efficiency(f: &Fields<'_>) -> Option<Loss> {
    let value = f.get(EFFICIENCY.key)?;
    let rows = f.reader.rows(value, EFFICIENCY.key, 3)?;
    let mut points = Vec::new();
    for row in rows {
        let volts = f.reader.quantity(&row[0], &EFFICIENCY_VOLTS);
        let amps = f.reader.quantity(&row[1], &EFFICIENCY_AMPS);
        let share = f.reader.quantity(&row[2], &EFFICIENCY_SHARE);
        points.push((volts?, amps?, share?));
    }
    Some(Loss::Efficiency(points))
}

fn start(f: &Fields<'_>) -> Option<Vec<(Current, Voltage)>> {
    let Some(value) = f.get(START.key) else {
        return Some(Vec::new());
    };
    if value.as_text().is_some() {
        let volts = f.reader.quantity(value, &START_VOLTS)?;
        return Some(vec![(Current::from_amps(0.0), volts)]);
    }
    let rows = f.reader.rows(value, START.key, 2)?;
    let mut points = Vec::new();
    let mut column = Vec::new();
    for row in rows {
        let amps: Option<Current> = f.reader.quantity(&row[0], &START_AMPS);
        let volts = f.reader.quantity(&row[1], &START_VOLTS);
        column.push((amps?.as_amps(), &row[0]));
        points.push((amps?, volts?));
    }
    f.reader.rising(START.key, &column).then_some(points)
}

/// Pins that follow from the model: a reference needs `fb`, thresholds need `enable`, and so on.
fn check_pins(f: &Fields<'_>, pins: &[Pin], setpoint: &Setpoint, has_enable: bool) -> Option<()> {
    if !f.complete() {
        return Some(());
    }
    let has = |name: &str| pins.iter().any(|p| p.name == name);
    let adjustable = matches!(setpoint, Setpoint::Reference(_));
    let mut says = Vec::new();
    if adjustable && !has("fb") {
        says.push((
            "missing-pin",
            "regulates to `reference` and needs the pin `fb`",
        ));
    }
    if !adjustable && has("fb") {
        says.push(("unknown-pin", "has a fixed `output` and no pin `fb`"));
    }
    says.extend(enable::wrong_pin(pins, has_enable));
    if has("sw1") != has("sw2") {
        says.push((
            "missing-pin",
            "has one of the pins `sw1` and `sw2`, both or neither are needed",
        ));
    }
    for (code, text) in &says {
        let at = f.get("pins").map_or(&f.home, |v| &v.spot);
        let says = format!("{} {text}", f.what);
        f.reader
            .report(Problem::new(code, at.clone(), says).label("these pins"));
    }
    says.is_empty().then_some(())
}
