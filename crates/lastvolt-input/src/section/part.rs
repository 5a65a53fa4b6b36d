//! `[parts.NAME]` of a board and `[models.NAME]`: what every kind has in common.

use std::collections::{BTreeMap, BTreeSet};

use lastvolt_core::model::{Confidence, Origin, Part, Pin};

use super::{PinSet, Section, check_name, kind};
use crate::diagnostic::Problem;
use crate::document::{Entry, Field, Fields, Layer, Reader, Table, Value};
use crate::place::Spot;
use crate::suggest::{listed, quoted};

const KIND: Field = Field::other("kind", "a kind of part", "what kind of part it is")
    .required()
    .example("\"resistor\"");
const MODEL: Field = Field::text(
    "model",
    "name of the model it is made after; keys written in the part win over those of the model",
)
.example("\"LR03\"");
const PINS: Field = Field::other(
    "pins",
    "table of pin = net, or list of nets",
    "nets of its pins; two-pin parts may list their nets in the order of their pins",
)
.required()
.example("{ plus = \"BAT\", minus = \"GND\" }");
const OPEN: Field =
    Field::names("open", "pins that are meant to be unconnected").example("[\"3\"]");
const NOTE: Field = Field::text("note", "a remark for the parts list").example("\"bottom side\"");

/// The fields of every part.
pub(crate) const PART_FIELDS: &[Field] = &[KIND, MODEL, PINS, OPEN, NOTE];

const SOURCE: Field =
    Field::text("source", "where the figures come from").example("\"data sheet, 2021\"");
const CONFIDENCE: Field = Field::word(
    "confidence",
    &["data-sheet", "typical", "memory"],
    "how sure the figures are",
)
.default("data-sheet")
.example("\"typical\"");
const CLASS: Field = Field::flag(
    "class",
    "whether it is a class of parts and not one that can be bought",
)
.default("false")
.example("false");
const SUMMARY: Field = Field::text("summary", "a line for lists of models")
    .example("\"low-threshold p-channel switch\"");

/// The fields of every model.
pub(crate) const MODEL_FIELDS: &[Field] = &[KIND, SOURCE, CONFIDENCE, CLASS, SUMMARY];

/// A model that parts may be made after.
#[derive(Clone, Copy)]
pub(crate) struct Model<'t> {
    /// Its table.
    pub(crate) entry: &'t Entry,
    /// Its table.
    pub(crate) table: &'t Table,
    /// Its kind, where the kind is known.
    pub(crate) section: Option<&'static Section>,
}

/// Models by name; those of the family stand in place of those of the catalog.
pub(crate) type Models<'t> = BTreeMap<&'t str, Model<'t>>;

/// What is known of a model without reading its figures.
pub(crate) struct ModelHead<'t> {
    /// Where its figures come from.
    pub(crate) source: Option<&'t str>,
    /// How sure they are.
    pub(crate) confidence: Confidence,
    /// Whether it is a class.
    pub(crate) class: bool,
    /// A line for lists.
    pub(crate) summary: Option<&'t str>,
}

/// Takes the tables of `[models]` in and checks each by itself.
pub(crate) fn take_models<'t>(reader: Reader<'t>, models: &mut Models<'t>, table: &'t Table) {
    for entry in &table.entries {
        check_name(reader, &entry.key_spot, &entry.key, "model");
        let Some(table) = reader.table(&entry.value, &entry.key) else {
            continue;
        };
        let word = table.get(KIND.key);
        let section = word
            .and_then(|value| Some((value, reader.text(value, KIND.key)?)))
            .and_then(|(value, word)| kind(reader, &value.spot, word));
        let model = Model {
            entry,
            table,
            section,
        };
        if word.is_none() {
            let says = format!("`kind` is missing in model {}", quoted(&entry.key));
            let problem = Problem::new("missing-key", entry.key_spot.clone(), says)
                .label("no `kind`")
                .proposal("add the kind of part that it is a model of");
            reader.report(problem);
        }
        model.check(reader);
        if let Some(first) = models.insert(&entry.key, model)
            && first.entry.key_spot.file != crate::catalog::FILE
        {
            let says = format!("the model {} is defined twice", quoted(&entry.key));
            let problem = Problem::new("duplicate-name", entry.key_spot.clone(), says)
                .label("second one")
                .related(first.entry.key_spot.clone(), "first one");
            reader.report(problem);
        }
    }
}

impl<'t> Model<'t> {
    /// Reads the figures of a model by themselves; it need not be whole.
    fn check(&self, reader: Reader<'t>) {
        if let Some(section) = self.section {
            let what = format!("model {}", quoted(&self.entry.key));
            let fields = Fields::layered(
                reader,
                vec![self.layer(section)],
                &self.entry.key_spot,
                &what,
            );
            // What the reading gives is of no use; what it reports is.
            let _ = (section.read)(&fields.incomplete(), &[]);
            let _ = self.head(reader);
        }
    }

    fn layer(&self, section: &Section) -> Layer<'t> {
        Layer {
            table: self.table,
            known: vec![MODEL_FIELDS, section.model],
        }
    }

    /// Source and confidence.
    pub(crate) fn head(&self, reader: Reader<'t>) -> ModelHead<'t> {
        let text = |field: &Field| {
            self.table
                .get(field.key)
                .and_then(|v| reader.text(v, field.key))
        };
        let words = &["data-sheet", "typical", "memory"];
        let confidence = self
            .table
            .get(CONFIDENCE.key)
            .and_then(|v| reader.word(v, CONFIDENCE.key, words));
        ModelHead {
            source: text(&SOURCE),
            confidence: match confidence {
                Some("typical") => Confidence::Typical,
                Some("memory") => Confidence::Memory,
                _ => Confidence::DataSheet,
            },
            class: self
                .table
                .get(CLASS.key)
                .and_then(|v| reader.flag(v, CLASS.key))
                .unwrap_or(false),
            summary: text(&SUMMARY),
        }
    }
}

/// Gives nets their places in a board's list.
pub(crate) type Nets = crate::section::board::Nets;

/// Reads a part.
pub(crate) fn read<'t>(
    reader: Reader<'t>,
    entry: &'t Entry,
    models: &Models<'t>,
    nets: &mut Nets,
) -> Option<Part> {
    let reader = Reader {
        home: Some(&entry.key_spot),
        ..reader
    };
    check_name(reader, &entry.key_spot, &entry.key, "part");
    let table = reader.table(&entry.value, &entry.key)?;
    let section = part_kind(reader, entry, table)?;
    let named = table
        .get(MODEL.key)
        .and_then(|v| Some((v, reader.text(v, MODEL.key)?)));
    let model = named.and_then(|(value, name)| find_model(reader, value, name, section, models));
    if named.is_some() && model.is_none() {
        // The pins still count, or their nets would look unknown elsewhere.
        pins(reader, entry, table, section, nets);
        return None;
    }
    let mut layers = vec![Layer {
        table,
        known: vec![PART_FIELDS, section.part, section.model],
    }];
    layers.extend(model.map(|m| m.layer(section)));
    let what = format!("{} `{}`", section.kind.word(), entry.key);
    let fields = Fields::layered(reader, layers, &entry.key_spot, &what);
    let pins = pins(reader, entry, table, section, nets);
    fields.text(&NOTE);
    let before = reader.sink.len();
    let device = (section.read)(&fields, pins.as_deref().unwrap_or(&[]));
    if reader.sink.len() != before {
        return None;
    }
    let head = model.map(|m| m.head(reader));
    Some(Part {
        name: entry.key.clone(),
        kind: section.kind,
        pins: pins?,
        device: device?,
        origin: Origin {
            model: named.map(|n| n.1.to_owned()),
            source: head.as_ref().and_then(|h| h.source).map(str::to_owned),
            confidence: head
                .as_ref()
                .map_or(Confidence::DataSheet, |h| h.confidence),
            class: head.is_some_and(|h| h.class),
        },
    })
}

fn part_kind(reader: Reader<'_>, entry: &Entry, table: &Table) -> Option<&'static Section> {
    let Some(value) = table.get(KIND.key) else {
        let near = misspelt(table, &KIND);
        if let Some(near) = near {
            reader.unknown_key(near, &format!("part `{}`", entry.key), [KIND.key]);
        } else {
            let says = format!("`kind` is missing in part {}", quoted(&entry.key));
            let kinds: Vec<&str> = super::SECTIONS.iter().map(|s| s.kind.word()).collect();
            let problem = Problem::new("missing-key", entry.key_spot.clone(), says)
                .label("no `kind`")
                .proposal(format!("add `kind`, one of {}", kinds.join(", ")));
            reader.report(problem);
        }
        return None;
    };
    let word = reader.text(value, KIND.key)?;
    kind(reader, &value.spot, word)
}

/// The entry whose unknown key is near to a field's.
fn misspelt<'t>(table: &'t Table, field: &Field) -> Option<&'t Entry> {
    table.entries.iter().find(|entry| {
        let known = PART_FIELDS.iter().any(|f| f.key == entry.key);
        !known && crate::suggest::nearest(&entry.key, [field.key]).is_some()
    })
}

fn find_model<'t>(
    reader: Reader<'t>,
    value: &Value,
    name: &str,
    section: &Section,
    models: &Models<'t>,
) -> Option<Model<'t>> {
    let Some(model) = models.get(name) else {
        let same_kind: Vec<&str> = models
            .iter()
            .filter(|m| m.1.section.is_some_and(|s| s.kind == section.kind))
            .map(|m| *m.0)
            .collect();
        reader.unknown_name(&value.spot, "model", name, same_kind);
        return None;
    };
    // A model whose own kind is wrong has been reported.
    let found = model.section?;
    if found.kind != section.kind {
        let says = format!(
            "model {} is of the kind `{}`, the part is of the kind `{}`",
            quoted(name),
            found.kind.word(),
            section.kind.word()
        );
        let at = reader.inner(&value.spot, name, 0..name.len());
        reader.report(Problem::new("model-of-another-kind", at, says).label("another kind"));
        return None;
    }
    Some(*model)
}

/// A pin as written: its net and where that stands.
struct WrittenPin<'t> {
    net: &'t str,
}

/// Most pins of one part.
const MOST_PINS: usize = 200;

/// The pins of a part in the order of its kind.
fn pins<'t>(
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
