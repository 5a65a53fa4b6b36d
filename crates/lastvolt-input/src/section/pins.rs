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

/// A name, and where it stands.
type Named<'t> = (&'t str, &'t Spot);

/// A pin and the net that is written for it.
struct Written<'t> {
    pin: &'t str,
    net: &'t str,
}

/// Most pins of one part.
const MOST_PINS: usize = 200;

/// Notes the nets that a part names, even if there is something wrong with the part: they would look
/// unknown elsewhere.
pub(super) fn mention(table: &Table, nets: &mut Nets) {
    let Some(value) = table.get(PINS.key) else {
        return;
    };
    let named = value.as_table().into_iter().flat_map(|t| &t.entries);
    let listed = value.items().iter();
    let names = named
        .map(|e| &e.value)
        .chain(listed)
        .filter_map(Value::as_text);
    for net in names.take(MOST_PINS) {
        nets.place(net);
    }
}

/// The pins of a part in the order of its kind.
pub(super) fn pins<'t>(
    reader: Reader<'t>,
    entry: &'t Entry,
    table: &'t Table,
    section: &Section,
    nets: &mut Nets,
) -> Option<Vec<Pin>> {
    let before = reader.sink.len();
    let open = table.get(OPEN.key).map(|v| reader.names(v, OPEN.key));
    let open = open.unwrap_or_default();
    let written = match table.get(PINS.key) {
        Some(value) => written(reader, value, section)?,
        None if open.is_empty() => {
            report_no_pins(reader, entry, table, section);
            return None;
        }
        None => Vec::new(),
    };
    check_open(reader, entry, &written, &open)?;
    let names = order(reader, entry, section, &written, &open);
    if reader.sink.len() != before {
        return None;
    }
    let net = |name: &str| written.iter().find(|w| w.pin == name).map(|w| w.net);
    let pins = names
        .into_iter()
        .map(|name| Pin {
            net: net(name).map(|n| nets.place(n)),
            declared_open: open.iter().any(|o| o.0 == name),
            name: name.to_owned(),
        })
        .collect();
    Some(pins)
}

fn report_no_pins(reader: Reader<'_>, entry: &Entry, table: &Table, section: &Section) {
    if misspelt(table, &PINS).is_none() {
        let kind = section.kind.word();
        let says = format!("`pins` is missing in {kind} `{}`", entry.key);
        let problem = Problem::new("missing-key", entry.key_spot.clone(), says)
            .label("no `pins`")
            .proposal(format!("add `pins`: {}", pin_words(section.pins)));
        reader.report(problem);
    }
}

/// Open pins are on no net, and there are not too many pins.
fn check_open(
    reader: Reader<'_>,
    entry: &Entry,
    written: &[Written<'_>],
    open: &[Named<'_>],
) -> Option<()> {
    let n_pins = written.len() + open.len();
    if MOST_PINS < n_pins {
        let says = format!(
            "`{}` has {n_pins} pins, {MOST_PINS} are read at most",
            entry.key
        );
        let problem = Problem::new("wrong-length", entry.key_spot.clone(), says);
        reader.report(problem.label("too many pins"));
        return None;
    }
    for (name, spot) in open {
        if written.iter().any(|w| w.pin == *name) {
            let says = format!("pin {} is listed as open and is on a net", quoted(name));
            let problem = Problem::new("open-and-connected", (*spot).clone(), says);
            reader.report(problem.label("on a net"));
        }
    }
    Some(())
}

/// Pins and nets as written.
fn written<'t>(
    reader: Reader<'t>,
    value: &'t Value,
    section: &Section,
) -> Option<Vec<Written<'t>>> {
    let Some(table) = value.as_table() else {
        return listed_nets(reader, value, section);
    };
    let mut written = Vec::new();
    for entry in &table.entries {
        let Some(net) = reader.text(&entry.value, &entry.key) else {
            continue;
        };
        check_name(reader, &entry.key_spot, &entry.key, "pin");
        check_name(reader, &entry.value.spot, net, "net");
        let pin = entry.key.as_str();
        written.push(Written { pin, net });
    }
    Some(written)
}

/// Nets listed in the order of the pins.
fn listed_nets<'t>(
    reader: Reader<'t>,
    value: &'t Value,
    section: &Section,
) -> Option<Vec<Written<'t>>> {
    let names: &[&'static str] = match section.pins {
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
    let pairs = names.iter().zip(given);
    Some(pairs.map(|(pin, (net, _))| Written { pin, net }).collect())
}

/// The names of the pins in the order of the kind; reports pins that are unknown or missing.
fn order<'t>(
    reader: Reader<'_>,
    entry: &'t Entry,
    section: &Section,
    written: &[Written<'t>],
    open: &[Named<'t>],
) -> Vec<&'t str> {
    let mut given: Vec<&str> = written.iter().map(|w| w.pin).collect();
    for (name, _) in open {
        if !given.contains(name) {
            given.push(name);
        }
    }
    let (required, optional): (&[&'static str], &[&'static str]) = match section.pins {
        PinSet::Free => {
            given.extend(spare_throws(entry.value.as_table(), &given));
            return given;
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
    let known: Vec<&str> = required.iter().chain(optional).copied().collect();
    let meant = report_unknown(reader, entry, section, &given, &known, open);
    let absent = |name: &&&str| !given.contains(*name) && !meant.contains(*name);
    let missing: Vec<&str> = required.iter().filter(absent).copied().collect();
    if !missing.is_empty() {
        let pins = entry.value.as_table().and_then(|t| t.get(PINS.key));
        let at = pins.map_or(&entry.key_spot, |v| &v.spot);
        let kind = section.kind.word();
        let says = format!("{kind} `{}` lacks the pin {}", entry.key, listed(missing));
        let problem = Problem::new("missing-pin", at.clone(), says)
            .label("pin missing")
            .proposal("give it a net, or list it under `open`");
        reader.report(problem);
    }
    known.into_iter().filter(|k| given.contains(k)).collect()
}

/// Reports pins that the kind does not have; gives the pins that they are near to.
fn report_unknown<'k>(
    reader: Reader<'_>,
    entry: &Entry,
    section: &Section,
    given: &[&str],
    known: &[&'k str],
    open: &[Named<'_>],
) -> Vec<&'k str> {
    let pins = entry.value.as_table().and_then(|t| t.get(PINS.key));
    let pins = pins.and_then(Value::as_table);
    let mut meant = Vec::new();
    for name in given.iter().filter(|name| !known.contains(name)) {
        let written = pins.and_then(|p| p.entry(name)).map(|e| &e.key_spot);
        let listed = || open.iter().find(|o| o.0 == *name).map(|o| o.1);
        let at = written.or_else(listed).unwrap_or(&entry.key_spot);
        let says = format!("a {} has no pin {}", section.kind.word(), quoted(name));
        let problem = Problem::new("unknown-pin", at.clone(), says).label("no such pin");
        let free = known.iter().copied().filter(|k| !given.contains(k));
        reader.report(match crate::suggest::nearest(name, free) {
            Some(near) => {
                meant.push(near);
                let says = format!("did you mean `{near}`?");
                problem.proposal(says).patch(near)
            }
            None => problem.proposal(format!("its pins: {}", pin_words(section.pins))),
        });
    }
    meant
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
