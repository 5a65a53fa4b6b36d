//! `[loads.NAME]`: what the boards feed.

use lastvolt_core::model::{BootStep, Drive, Law, Level, Load, LoadState, Reset, WorkingRange};
use lastvolt_core::quantity::{Current, Time, Unit, Voltage};

use super::check_name;
use super::connector::range;
use crate::diagnostic::Problem;
use crate::document::{Bounds, Entry, Field, Fields, Value};
use crate::place::Spot;
use crate::quantity::unit_of;
use crate::suggest::quoted;

const PLUS: Field = Field::text("plus", "net of its positive pin")
    .required()
    .example("\"VDD\"");
const MINUS: Field = Field::text("minus", "net of its negative pin")
    .required()
    .example("\"GND\"");
const PINS: Field = Field::table(
    "pins",
    &[PLUS, MINUS],
    "nets that it sits on; absent where a part of the kind `load` attaches it",
)
.example("{ plus = \"VDD\", minus = \"GND\" }");
const WORKING: Field = Field::other(
    "working",
    "list of two voltages",
    "range in which it keeps its promise",
)
.example("[\"1.8 V\", \"3.6 V\"]");
const WORKING_VOLTS: Field = Field::value("working", Unit::Volt, "voltage")
    .within(Bounds::FROM_ZERO)
    .example("\"1.8 V\"");
const SURVIVES: Field = Field::value("survives", Unit::Volt, "absolute maximum of its supply")
    .within(Bounds::POSITIVE)
    .example("\"3.9 V\"");
const RIPPLE: Field = Field::value(
    "ripple",
    Unit::Volt,
    "most ripple of its supply that it bears, peak to peak",
)
.within(Bounds::POSITIVE)
.example("\"30 mV\"");
const BELOW: Field = Field::value("below", Unit::Volt, "below this it is off")
    .within(Bounds::POSITIVE)
    .required()
    .example("\"1.7 V\"");
const RELEASE: Field = Field::value("release", Unit::Volt, "at this it starts again")
    .otherwise("as `below`")
    .within(Bounds::POSITIVE)
    .example("\"1.85 V\"");
const BOOT: Field = Field::other(
    "boot",
    "list of { for, current }",
    "what it draws while it starts, one stretch after the other",
)
.example("[{ for = \"30 ms\", current = \"6 mA\" }]");
const RESET: Field = Field::table(
    "reset",
    &[BELOW, RELEASE, BOOT],
    "when it resets and how it starts again; without it it never resets",
)
.example("{ below = \"1.7 V\", release = \"1.85 V\" }");
const BOOT_FOR: Field = Field::value("for", Unit::Second, "how long")
    .within(Bounds::POSITIVE)
    .required()
    .example("\"30 ms\"");
const BOOT_CURRENT: Field = Field::value("current", Unit::Ampere, "how much")
    .within(Bounds::FROM_ZERO)
    .required()
    .example("\"6 mA\"");

/// The fields of a stretch of a boot sequence.
pub(crate) const BOOT_FIELDS: &[Field] = &[BOOT_FOR, BOOT_CURRENT];

const STATES: Field = Field::other(
    "states",
    "table of state = current, or { current | ohm | watt, working }",
    "its states, the first is the one it is in where nothing is said",
)
.required()
.example(
    "{ sleep = \"2 uA\", transmit = { current = \"11 mA\", working = [\"2.0 V\", \"3.6 V\"] } }",
);
const CURRENT: Field = Field::spread("current", Unit::Ampere, "constant current")
    .within(Bounds::FROM_ZERO)
    .example("\"0.9 mA\"");
const OHM: Field = Field::spread("ohm", Unit::Ohm, "a resistance")
    .within(Bounds::POSITIVE)
    .example("\"330 ohm\"");
const WATT: Field = Field::spread("watt", Unit::Watt, "constant power")
    .within(Bounds::FROM_ZERO)
    .example("\"20 mW\"");
const STATE_WORKING: Field = Field::other(
    "working",
    "list of two voltages",
    "a narrower range in this state",
)
.example("[\"2.0 V\", \"3.6 V\"]");

/// The fields of a state.
pub(crate) const STATE_FIELDS: &[Field] = &[CURRENT, OHM, WATT, STATE_WORKING];

const DRIVES: Field = Field::other(
    "drives",
    "table of net = { high, low, open }",
    "nets of control pins that its firmware drives: lists of states, `boot` is the boot sequence; in a state not listed the pin is open",
)
.example("{ EN = { high = [\"transmit\"], low = [\"sleep\"], open = [\"boot\"] } }");
const HIGH: Field = Field::names(
    "high",
    "states in which the pin is held at the positive pin",
)
.example("[\"transmit\"]");
const LOW: Field = Field::names("low", "states in which the pin is held at the negative pin")
    .example("[\"sleep\"]");
const OPEN: Field =
    Field::names("open", "states in which the pin is not driven").example("[\"boot\"]");

/// The fields of a driven net.
pub(crate) const DRIVE_FIELDS: &[Field] = &[HIGH, LOW, OPEN];

const ON: Field = Field::names(
    "on",
    "boards that it is limited to, by the stem of their files; of a load of the family only",
)
.example("[\"two-cell\"]");

/// The fields of a load.
pub(crate) const FIELDS: &[Field] = &[PINS, WORKING, SURVIVES, RIPPLE, RESET, STATES, DRIVES, ON];

/// A name and where it stands.
type Named<'t> = (&'t str, &'t Spot);

/// A load as written; its nets may be given by a part instead.
pub(crate) struct Written<'t> {
    /// The load; its nets are empty where it has no pins of its own.
    pub(crate) load: Load,
    /// Where its name stands.
    pub(crate) spot: &'t Spot,
    /// Whether it has pins of its own.
    pub(crate) pinned: bool,
    /// The nets it sits on.
    pub(crate) nets: Vec<Named<'t>>,
    /// The nets it drives.
    pub(crate) driven: Vec<Named<'t>>,
    /// The boards it is limited to.
    pub(crate) on: Vec<Named<'t>>,
}

/// Reads a load.
pub(crate) fn read<'t>(f: &Fields<'t>, entry: &'t Entry) -> Option<Written<'t>> {
    let before = f.reader.sink.len();
    let name = &entry.key;
    check_name(f.reader, &entry.key_spot, name, "load");
    let pins = f.table(&PINS);
    let nets = pins.as_ref().map(nets).unwrap_or_default();
    let working = working(f, &WORKING);
    let survives = survives(f, working);
    let reset = reset(f);
    let states = states(f);
    let drives = drives(f, &states);
    let on = f.names(&ON);
    let load = Load {
        name: name.clone(),
        plus: nets.first().map_or("", |n| n.0).to_owned(),
        minus: nets.get(1).map_or("", |n| n.0).to_owned(),
        working,
        survives,
        ripple: f.value(&RIPPLE),
        reset,
        states,
        drives,
        on: f
            .get(ON.key)
            .map(|_| on.iter().map(|n| n.0.to_owned()).collect()),
    };
    let driven = f.get(DRIVES.key).and_then(Value::as_table);
    let driven = driven.into_iter().flat_map(|t| &t.entries);
    (before == f.reader.sink.len()).then(|| Written {
        load,
        spot: &entry.key_spot,
        pinned: pins.is_some(),
        nets,
        driven: driven.map(|e| (e.key.as_str(), &e.key_spot)).collect(),
        on,
    })
}

/// The nets of the two pins.
fn nets<'t>(pins: &Fields<'t>) -> Vec<Named<'t>> {
    let net = |field: &Field| {
        let value = pins.find(field)?;
        let name = pins.reader.text(value, field.key)?;
        check_name(pins.reader, &value.spot, name, "net").then_some((name, &value.spot))
    };
    let nets: Vec<Named<'_>> = [net(&PLUS), net(&MINUS)].into_iter().flatten().collect();
    if let [plus, minus] = nets.as_slice()
        && plus.0 == minus.0
    {
        let says = format!("{}: both are the net `{}`", pins.what, plus.0);
        pins.reader
            .report(Problem::new("one-net", pins.home.clone(), says).label("one net"));
    }
    nets
}

fn survives(f: &Fields<'_>, working: Option<WorkingRange>) -> Option<Voltage> {
    let survives: Voltage = f.value(&SURVIVES)?;
    if working.is_some_and(|range| survives < range.to) {
        let at = f.get(SURVIVES.key).map_or(&f.home, |v| &v.spot);
        let says = format!(
            "`survives` of {} lies below the top of its working range",
            f.what
        );
        f.reader
            .report(Problem::new("min-above-max", at.clone(), says).label("too low"));
    }
    Some(survives)
}

fn working(f: &Fields<'_>, field: &Field) -> Option<WorkingRange> {
    let value = f.get(field.key)?;
    let (from, to) = range(f, value, field, &WORKING_VOLTS)?;
    Some(WorkingRange { from, to })
}

fn reset(f: &Fields<'_>) -> Option<Reset> {
    let t = f.table(&RESET)?;
    let below: Option<Voltage> = t.value(&BELOW);
    let release: Option<Voltage> = t.value(&RELEASE).or(below);
    let mut boot = Vec::new();
    if let Some(value) = t.get(BOOT.key) {
        for item in t
            .reader
            .list(value, BOOT.key, "a list of tables")
            .unwrap_or(&[])
        {
            let Some(table) = t.reader.table(item, BOOT.key) else {
                continue;
            };
            let step = Fields::of(
                f.reader,
                table,
                BOOT_FIELDS,
                &item.spot,
                "a stretch of `boot`",
            );
            let span: Option<Time> = step.value(&BOOT_FOR);
            let current: Option<Current> = step.value(&BOOT_CURRENT);
            if let (Some(span), Some(current)) = (span, current) {
                boot.push(BootStep { span, current });
            }
        }
    }
    let (below, release) = (below?, release?);
    if release < below {
        let at = t.get(RELEASE.key).map_or(&t.home, |v| &v.spot);
        let says = "`release` of `reset` lies below its `below`";
        f.reader
            .report(Problem::new("min-above-max", at.clone(), says).label("too low"));
        return None;
    }
    Some(Reset {
        below,
        release,
        boot,
    })
}

fn states(f: &Fields<'_>) -> Vec<LoadState> {
    let Some(value) = f.find(&STATES) else {
        return Vec::new();
    };
    let Some(table) = f.reader.table(value, STATES.key) else {
        return Vec::new();
    };
    if table.entries.is_empty() {
        let says = format!("{} has no state, one at least is needed", f.what);
        f.reader
            .report(Problem::new("wrong-length", value.spot.clone(), says).label("empty"));
    }
    table
        .entries
        .iter()
        .filter_map(|entry| state(f, entry))
        .collect()
}

fn state(f: &Fields<'_>, entry: &Entry) -> Option<LoadState> {
    check_name(f.reader, &entry.key_spot, &entry.key, "state");
    if entry.key == "boot" {
        let says = "the name `boot` stands for the boot sequence of `reset`";
        f.reader
            .report(Problem::new("bad-name", entry.key_spot.clone(), says).label("taken"));
    }
    let (law, working) = match entry.value.as_table() {
        Some(table)
            if !table
                .entries
                .iter()
                .any(|e| matches!(e.key.as_str(), "min" | "typ" | "max")) =>
        {
            let what = format!("state `{}`", entry.key);
            let t = Fields::of(f.reader, table, STATE_FIELDS, &entry.value.spot, &what);
            (law(&t), working(&t, &STATE_WORKING))
        }
        _ => (plain_law(f, &entry.value), None),
    };
    Some(LoadState {
        name: entry.key.clone(),
        law: law?,
        working,
    })
}

/// A plain value is a current; a plain resistance or power is shown how to be written.
fn plain_law(f: &Fields<'_>, value: &Value) -> Option<Law> {
    let found = value.as_text().and_then(unit_of).map(|u| u.1);
    let key = match found {
        Some(Unit::Ohm) => "ohm",
        Some(Unit::Watt) => "watt",
        _ => return f.reader.spread(value, &CURRENT).map(Law::Current),
    };
    let text = value.as_text().unwrap_or("");
    let fixed = format!("{{ {key} = \"{text}\" }}");
    let says = format!(
        "a plain value of a state is a current, {} is another law",
        quoted(text)
    );
    let problem = Problem::new("unit-mismatch", value.spot.clone(), says)
        .label("not a current")
        .proposal(format!("write `{fixed}`"))
        .patch(fixed);
    f.reader.report(problem);
    None
}

fn law(t: &Fields<'_>) -> Option<Law> {
    let given: Vec<&Field> = [&CURRENT, &OHM, &WATT]
        .into_iter()
        .filter(|l| t.get(l.key).is_some())
        .collect();
    match given.as_slice() {
        [only] if only.key == CURRENT.key => t.spread(&CURRENT).map(Law::Current),
        [only] if only.key == OHM.key => t.spread(&OHM).map(Law::Resistance),
        [_] => t.spread(&WATT).map(Law::Power),
        [] => {
            if ![&CURRENT, &OHM, &WATT]
                .into_iter()
                .any(|l| t.mentions(l.key))
            {
                t.report_missing(&CURRENT);
            }
            None
        }
        [first, second, ..] => {
            t.either(first, second);
            None
        }
    }
}

fn drives(f: &Fields<'_>, states: &[LoadState]) -> Vec<Drive> {
    let Some(table) = f
        .get(DRIVES.key)
        .and_then(|v| f.reader.table(v, DRIVES.key))
    else {
        return Vec::new();
    };
    table
        .entries
        .iter()
        .filter_map(|entry| drive(f, entry, states))
        .collect()
}

fn drive(f: &Fields<'_>, entry: &Entry, states: &[LoadState]) -> Option<Drive> {
    check_name(f.reader, &entry.key_spot, &entry.key, "net");
    let table = f.reader.table(&entry.value, &entry.key)?;
    let what = format!("the drive of `{}`", entry.key);
    let t = Fields::of(f.reader, table, DRIVE_FIELDS, &entry.key_spot, &what);
    let mut levels: Vec<Option<Level>> = vec![None; states.len()];
    let mut boot = None;
    for (field, level) in [(HIGH, Level::High), (LOW, Level::Low), (OPEN, Level::Open)] {
        for (name, spot) in t.names(&field) {
            let slot = if name == "boot" {
                &mut boot
            } else if let Some(at) = states.iter().position(|s| s.name == name) {
                &mut levels[at]
            } else {
                let known: Vec<&str> = states
                    .iter()
                    .map(|s| s.name.as_str())
                    .chain(["boot"])
                    .collect();
                f.reader.unknown_name(spot, "state", name, known);
                continue;
            };
            if slot.replace(level).is_some() {
                let says = format!("state `{name}` is listed twice for the net `{}`", entry.key);
                f.reader.report(
                    Problem::new("duplicate-name", spot.clone(), says).label("second time"),
                );
            }
        }
    }
    Some(Drive {
        net: entry.key.clone(),
        levels: levels
            .into_iter()
            .map(|l| l.unwrap_or(Level::Open))
            .collect(),
        boot: boot.unwrap_or(Level::Open),
    })
}
