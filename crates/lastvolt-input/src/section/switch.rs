//! `kind = "switch"` and `kind = "jumper"`.

use lastvolt_core::device::{Action, Position, Switch};
use lastvolt_core::model::{Device, Kind, Pin};
use lastvolt_core::quantity::Unit;

use super::{PinSet, Section, check_name};
use crate::diagnostic::Problem;
use crate::document::{Bounds, Entry, Field, Fields, Value};
use crate::suggest::quoted;

const LABEL: Field = Field::text("label", "what is printed beside it").example("\"POWER\"");
const POSITIONS: Field = Field::other(
    "positions",
    "table of position = list of joined pins",
    "which pins each position joins, for every position in order; a jumper with two pins may leave it out and then has `fitted` and `removed`",
)
.required()
.example("{ on = [[\"1\", \"2\"]], off = [[\"2\", \"3\"]] }");
const USUAL: Field = Field::text("usual", "the position assumed where none is said")
    .otherwise("the first")
    .example("\"on\"");
const RETURNS: Field = Field::text(
    "returns",
    "the position that a momentary switch springs back to when it is let go; its `usual` one",
)
.example("\"off\"");
const ACTION: Field = Field::word(
    "action",
    &["break-first", "make-first"],
    "whether the old contact opens before the new one closes",
)
.default("break-first")
.example("\"break-first\"");
const MEANS: Field = Field::other(
    "means",
    "table of position = list of nets",
    "rails that a position promises; the legend is checked against them",
)
.example("{ on = [\"VDD\"], off = [] }");
// Initial contact resistance of small slide switches and jumpers lies at 20 to 70 mohm (common
// practice): the default is typical of the class.
const CONTACT: Field = Field::spread(
    "contact",
    Unit::Ohm,
    "resistance of a closed contact; the default is typical of the class",
)
.within(Bounds::FROM_ZERO.to(1e5))
.default("50 mohm")
.example("\"50 mohm\"");
const RATED: Field = Field::value("rated", Unit::Ampere, "rated contact current")
    .within(Bounds::POSITIVE)
    .example("\"300 mA\"");
const LEAST: Field = Field::value(
    "least",
    Unit::Ampere,
    "least contact current that the data sheet states; below it contacts may not close surely",
)
.within(Bounds::POSITIVE)
.example("\"10 uA\"");

const PART: &[Field] = &[LABEL, POSITIONS, USUAL, RETURNS, MEANS];
const MODEL: &[Field] = &[ACTION, CONTACT, RATED, LEAST];

pub(crate) static SWITCH: Section = Section {
    kind: Kind::Switch,
    doc: "a switch of any number of poles; its pins have any names",
    pins: PinSet::Free,
    part: PART,
    model: MODEL,
    read: |f, pins| read(f, pins, Kind::Switch),
};

pub(crate) static JUMPER: Section = Section {
    kind: Kind::Jumper,
    doc: "a jumper or solder bridge, written as a switch",
    pins: PinSet::Free,
    part: &[LABEL, POSITIONS, USUAL, MEANS],
    model: MODEL,
    read: |f, pins| read(f, pins, Kind::Jumper),
};

fn read(f: &Fields<'_>, pins: &[Pin], kind: Kind) -> Option<Device> {
    let label = f.text(&LABEL).map(str::to_owned);
    let positions = positions(f, pins, kind);
    let action = match f.word(&ACTION) {
        Some("make-first") => Action::MakeFirst,
        _ => Action::BreakFirst,
    };
    let contact = f.spread_or(&CONTACT);
    let rated = f.value(&RATED);
    let least = f.value(&LEAST);
    let mut positions = positions?;
    let usual = usual(f, &positions);
    let returns = returns(f, &positions, usual)?;
    means(f, &mut positions);
    Some(Device::Switch(Switch {
        label,
        positions,
        usual: usual?,
        returns,
        action,
        contact,
        rated,
        least,
    }))
}

fn positions(f: &Fields<'_>, pins: &[Pin], kind: Kind) -> Option<Vec<Position>> {
    if f.get(POSITIONS.key).is_none() && kind == Kind::Jumper && pins.len() == 2 {
        let position = |name: &str, closed: Vec<(usize, usize)>| Position {
            name: name.to_owned(),
            closed,
            means: None,
        };
        return Some(vec![
            position("fitted", vec![(0, 1)]),
            position("removed", Vec::new()),
        ]);
    }
    let value = f.find(&POSITIONS)?;
    let table = f.reader.table(value, POSITIONS.key)?;
    if table.entries.is_empty() {
        let says = format!("{} has no position, one at least is needed", f.what);
        f.reader
            .report(Problem::new("wrong-length", value.spot.clone(), says).label("empty"));
        return None;
    }
    let before = f.reader.sink.len();
    let mut positions = Vec::new();
    for entry in &table.entries {
        check_name(f.reader, &entry.key_spot, &entry.key, "position");
        positions.push(Position {
            name: entry.key.clone(),
            closed: closed(f, entry, pins),
            means: None,
        });
    }
    (before == f.reader.sink.len()).then_some(positions)
}

/// Pairs of joined pins; a group of three or more pins is joined in a chain.
fn closed(f: &Fields<'_>, entry: &Entry, pins: &[Pin]) -> Vec<(usize, usize)> {
    let needed = "a list of lists of joined pins";
    let Some(groups) = f.reader.list(&entry.value, &entry.key, needed) else {
        return Vec::new();
    };
    let mut pairs = Vec::new();
    for group in groups {
        let names = f.reader.names(group, &entry.key);
        if names.len() < 2 {
            let says = format!(
                "a group of position {} joins fewer than two pins",
                quoted(&entry.key)
            );
            f.reader
                .report(Problem::new("wrong-length", group.spot.clone(), says).label("this group"));
        }
        let mut last = None;
        for (name, spot) in names {
            let at = pins.iter().position(|p| p.name == name);
            if at.is_none() {
                let known: Vec<&str> = pins.iter().map(|p| p.name.as_str()).collect();
                f.reader.unknown_name(spot, "pin", name, known);
            }
            if let (Some(last), Some(at)) = (last, at) {
                if last == at {
                    let says = format!(
                        "position {} joins pin {} to itself",
                        quoted(&entry.key),
                        quoted(name)
                    );
                    f.reader
                        .report(Problem::new("self-joined", spot.clone(), says).label("same pin"));
                } else {
                    pairs.push((last, at));
                }
            }
            last = at;
        }
    }
    pairs
}

fn usual(f: &Fields<'_>, positions: &[Position]) -> Option<usize> {
    match f.get(USUAL.key) {
        Some(value) => position(f, &USUAL, value, positions),
        None => Some(0),
    }
}

/// The position that it springs back to; the outer none is an error.
fn returns(f: &Fields<'_>, positions: &[Position], usual: Option<usize>) -> Option<Option<usize>> {
    let Some(value) = f.get(RETURNS.key) else {
        return Some(None);
    };
    let at = position(f, &RETURNS, value, positions)?;
    if usual.is_some_and(|usual| usual != at) {
        let says = "`returns` is not the `usual` position: a momentary switch rests where it springs back to";
        let problem = Problem::new("not-usual", value.spot.clone(), says)
            .label("not the usual position")
            .proposal(format!("add `usual = \"{}\"`", positions[at].name));
        f.reader.report(problem);
        return None;
    }
    Some(Some(at))
}

/// The place of a position that a key names.
fn position(f: &Fields<'_>, field: &Field, value: &Value, positions: &[Position]) -> Option<usize> {
    let name = f.reader.text(value, field.key)?;
    let at = positions.iter().position(|p| p.name == name);
    if at.is_none() {
        let known: Vec<&str> = positions.iter().map(|p| p.name.as_str()).collect();
        f.reader.unknown_name(&value.spot, "position", name, known);
    }
    at
}

/// What positions promise; whether the nets exist is checked when the board is whole.
fn means(f: &Fields<'_>, positions: &mut [Position]) {
    let Some(table) = f
        .get(MEANS.key)
        .and_then(|value| f.reader.table(value, MEANS.key))
    else {
        return;
    };
    for entry in &table.entries {
        if let Some(position) = positions.iter_mut().find(|p| p.name == entry.key) {
            let nets = f.reader.names(&entry.value, MEANS.key);
            position.means = Some(nets.into_iter().map(|n| n.0.to_owned()).collect());
        } else {
            let known: Vec<&str> = positions.iter().map(|p| p.name.as_str()).collect();
            f.reader
                .unknown_name(&entry.key_spot, "position", &entry.key, known);
        }
    }
}
