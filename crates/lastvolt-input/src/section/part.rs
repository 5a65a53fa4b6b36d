//! `[parts.NAME]` of a board: what every part has in common.

use lastvolt_core::model::{Confidence, Origin, Part};

use super::board::Nets;
use super::heat::{HEAT_FIELDS, heat};
use super::model::{Model, Models};
use super::pins::{mention, pins};
use super::{Section, check_name, kind};
use crate::diagnostic::Problem;
use crate::document::{Entry, Field, Fields, Layer, Reader, Table, Value};
use crate::suggest::quoted;

pub(super) const KIND: Field = Field::other("kind", "a kind of part", "what kind of part it is")
    .required()
    .example("\"resistor\"");
const MODEL: Field = Field::text(
    "model",
    "name of the model it is made after; keys written in the part win over those of the model",
)
.example("\"LR03\"");
pub(super) const PINS: Field = Field::other(
    "pins",
    "table of pin = net, or list of nets",
    "nets of its pins; two-pin parts may list their nets in the order of their pins",
)
.required()
.example("{ plus = \"BAT\", minus = \"GND\" }");
pub(super) const OPEN: Field =
    Field::names("open", "pins that are meant to be unconnected").example("[\"3\"]");
const NOTE: Field = Field::text("note", "a remark for the parts list").example("\"bottom side\"");

/// The fields of every part.
pub(crate) const PART_FIELDS: &[Field] = &[KIND, MODEL, PINS, OPEN, NOTE];

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
    mention(table, nets);
    let section = part_kind(reader, entry, table)?;
    let named = table
        .get(MODEL.key)
        .and_then(|v| Some((v, reader.text(v, MODEL.key)?)));
    let model = named.and_then(|(value, name)| find_model(reader, value, name, section, models));
    let mut layers = vec![Layer {
        table,
        known: vec![PART_FIELDS, HEAT_FIELDS, section.part, section.model],
    }];
    layers.extend(model.map(|m| m.layer(section)));
    let what = format!("{} `{}`", section.kind.word(), entry.key);
    let mut fields = Fields::layered(reader, layers, &entry.key_spot, &what);
    let unknown_model = named.is_some() && model.is_none_or(|m| m.is_cut_off());
    if unknown_model {
        // What the model would have brought is not missing.
        fields = fields.incomplete();
    }
    let pins = pins(reader, entry, table, section, nets);
    fields.text(&NOTE);
    let before = reader.sink.len();
    let device = (section.read)(&fields, pins.as_deref().unwrap_or(&[]));
    let heat = heat(&fields, device.as_ref());
    if reader.sink.len() != before || unknown_model {
        return None;
    }
    let head = model.map(|m| m.head(reader));
    Some(Part {
        name: entry.key.clone(),
        kind: section.kind,
        pins: pins?,
        device: device?,
        heat,
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
pub(super) fn misspelt<'t>(table: &'t Table, field: &Field) -> Option<&'t Entry> {
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
