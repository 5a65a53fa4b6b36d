//! `pins` and `open` of a part: nets of its pins, in the order of its kind.

use std::collections::BTreeSet;

use lastvolt_core::model::Pin;

use super::board::Nets;
use super::part::{OPEN, PINS, misspelt};
use super::{PinSet, Section, check_name};
use crate::diagnostic::Problem;
use crate::document::{Entry, Reader, Table, Value};
use crate::place::Spot;
use crate::suggest::{listed, quoted};

/// A pin as written: its net and where that stands.
struct WrittenPin<'t> {
    net: &'t str,
}

/// Most pins of one part.
const MOST_PINS: usize = 200;

/// The pins of a part in the order of its kind.
pub(super) fn pins<'t>(
    reader: Reader<'t>,
    entry: &'t Entry,
    table: &'t Table,
    section: &Section,
    nets: &mut Nets,
) -> Option<Vec<Pin>> {
    let before = reader.sink.len();
    let open: Vec<(&str, &Spot)> = table
        .get(OPEN.key)
        .map(|v| reader.names(v, OPEN.key))
        .unwrap_or_default();
    let written = match table.get(PINS.key) {
        Some(value) => written_pins(reader, value, section)?,
        None if open.is_empty() => {
            if misspelt(table, &PINS).is_none() {
                let says = format!(
                    "`pins` is missing in {} `{}`",
                    section.kind.word(),
                    entry.key
                );
                let problem = Problem::new("missing-key", entry.key_spot.clone(), says)
                    .label("no `pins`")
                    .proposal(format!("add `pins`: {}", pin_words(section.pins)));
                reader.report(problem);
            }
            return None;
        }
        None => Vec::new(),
    };
    if written.len() + open.len() > MOST_PINS {
        let says = format!(
            "{} `{}` has {} pins, {MOST_PINS} are read at most",
            section.kind.word(),
            entry.key,
            written.len() + open.len()
        );
        reader.report(
            Problem::new("wrong-length", entry.key_spot.clone(), says).label("too many pins"),
        );
        return None;
    }
    for (name, spot) in &open {
        if written.iter().any(|w| w.0 == *name) {
            let says = format!("pin {} is listed as open and is on a net", quoted(name));
            reader.report(
                Problem::new("open-and-connected", (*spot).clone(), says).label("on a net"),
            );
        }
    }
    let names = order(reader, entry, section, &written, &open);
    if reader.sink.len() != before {
        return None;
    }
    let pins = names
        .into_iter()
        .map(|name| Pin {
            net: written
                .iter()
                .find(|w| w.0 == name)
                .map(|w| nets.place(w.1.net)),
            declared_open: open.iter().any(|o| o.0 == name),
            name,
        })
        .collect();
    Some(pins)
}

fn written_pins<'t>(
    reader: Reader<'t>,
    value: &'t Value,
    section: &Section,
) -> Option<Vec<(String, WrittenPin<'t>)>> {
    if let Some(table) = value.as_table() {
        let mut written = Vec::new();
        for entry in &table.entries {
            let Some(net) = reader.text(&entry.value, &entry.key) else {
                continue;
            };
            check_name(reader, &entry.key_spot, &entry.key, "pin");
            check_name(reader, &entry.value.spot, net, "net");
            written.push((entry.key.clone(), WrittenPin { net }));
        }
        return Some(written);
    }
    let names: &[&str] = match section.pins {
        PinSet::Two(names) => names.first().map_or(&[], |n| n.as_slice()),
        PinSet::One => &["1"],
        PinSet::Named { .. } | PinSet::Free => {
            let needed = format!("a table of pin = net ({})", pin_words(section.pins));
            reader.wrong_type(value, PINS.key, &needed);
            return None;
        }
    };
    let given = reader.names(value, PINS.key);
    if given.len() != names.len() {
        let says = format!(
            "`pins` lists {} nets, a {} has {}",
            given.len(),
            section.kind.word(),
            pin_words(section.pins)
        );
        reader.report(Problem::new("wrong-length", value.spot.clone(), says).label("these pins"));
        return None;
    }
    for (net, spot) in &given {
        check_name(reader, spot, net, "net");
    }
    Some(
        names
            .iter()
            .zip(given)
            .map(|(name, (net, _))| ((*name).to_owned(), WrittenPin { net }))
            .collect(),
    )
}

/// The names of the pins in the order of the kind; reports pins that are unknown or missing.
fn order(
    reader: Reader<'_>,
    entry: &Entry,
    section: &Section,
    written: &[(String, WrittenPin<'_>)],
    open: &[(&str, &Spot)],
) -> Vec<String> {
    let table = entry.value.as_table();
    let spot_of = |name: &str| {
        let pins = table
            .and_then(|t| t.get(PINS.key))
            .and_then(Value::as_table);
        pins.and_then(|p| p.entry(name))
            .map(|e| &e.key_spot)
            .or_else(|| open.iter().find(|o| o.0 == name).map(|o| o.1))
    };
    let mut given: Vec<&str> = written.iter().map(|w| w.0.as_str()).collect();
    for (name, _) in open {
        if !given.contains(name) {
            given.push(name);
        }
    }
    let (required, optional): (&[&str], &[&str]) = match section.pins {
        PinSet::Free => {
            given.extend(spare_throws(table, &given));
            return given.into_iter().map(str::to_owned).collect();
        }
        PinSet::One => (&["1"], &[]),
        PinSet::Two(pairs) => {
            // The pair of names that shares most with what is written.
            let hits = |pair: &[&str; 2]| pair.iter().filter(|n| given.contains(n)).count();
            let best = pairs.iter().rev().max_by_key(|pair| hits(pair));
            (best.map_or(&[], |pair| pair.as_slice()), &[])
        }
        PinSet::Named { required, optional } => (required, optional),
    };
    let known = || required.iter().chain(optional).copied();
    let mut hidden = Vec::new();
    for name in &given {
        if known().any(|k| k == *name) {
            continue;
        }
        let at = spot_of(name).unwrap_or(&entry.key_spot);
        let says = format!("a {} has no pin {}", section.kind.word(), quoted(name));
        let mut problem = Problem::new("unknown-pin", at.clone(), says).label("no such pin");
        let free = known().filter(|k| !given.contains(k));
        if let Some(near) = crate::suggest::nearest(name, free) {
            hidden.push(near);
            problem = problem
                .proposal(format!("did you mean `{near}`?"))
                .patch(near);
        } else {
            problem = problem.proposal(format!("its pins: {}", pin_words(section.pins)));
        }
        reader.report(problem);
    }
    let missing: Vec<&str> = required
        .iter()
        .filter(|r| !given.contains(*r) && !hidden.contains(*r))
        .copied()
        .collect();
    if !missing.is_empty() {
        let at = table
            .and_then(|t| t.get(PINS.key))
            .map_or(&entry.key_spot, |v| &v.spot);
        let says = format!(
            "{} `{}` lacks the pin {}",
            section.kind.word(),
            entry.key,
            listed(missing.iter().map(|m| &**m))
        );
        let problem = Problem::new("missing-pin", at.clone(), says)
            .label("pin missing")
            .proposal("give it a net, or list it under `open`");
        reader.report(problem);
    }
    known()
        .filter(|k| given.contains(k))
        .map(str::to_owned)
        .collect()
}

/// Pins that only the positions of a switch name: throws that nobody connected nor declared open.
///
/// They are pins all the same, and the review asks what they are for. A name that looks like a
/// misspelt pin is left out, so that it is reported as unknown.
fn spare_throws<'t>(table: Option<&'t Table>, given: &[&str]) -> Vec<&'t str> {
    let positions = table.and_then(|t| t.get("positions"));
    let positions = positions.and_then(Value::as_table);
    let mut seen = BTreeSet::new();
    let mut spare = Vec::new();
    for entry in positions.into_iter().flat_map(|p| &p.entries) {
        for name in entry.value.items().iter().flat_map(Value::items) {
            let Some(name) = name.as_text() else { continue };
            if MOST_PINS < seen.len() {
                return spare;
            }
            if !seen.insert(name) || given.contains(&name) {
                continue;
            }
            // Throws are numbered more often than not, and every figure is near to every other.
            if name.len() <= 2 || crate::suggest::nearest(name, given.iter().copied()).is_none() {
                spare.push(name);
            }
        }
    }
    spare
}

/// The pins of a kind in words.
pub(crate) fn pin_words(pins: PinSet) -> String {
    match pins {
        PinSet::One => "one pin".to_owned(),
        PinSet::Free => "pins of any names".to_owned(),
        PinSet::Two(pairs) => {
            let pairs: Vec<String> = pairs
                .iter()
                .map(|p| format!("`{}` and `{}`", p[0], p[1]))
                .collect();
            pairs.join(" or ")
        }
        PinSet::Named { required, optional } => {
            let all: Vec<String> = required
                .iter()
                .map(|n| format!("`{n}`"))
                .chain(optional.iter().map(|n| format!("`{n}` (optional)")))
                .collect();
            all.join(", ")
        }
    }
}
