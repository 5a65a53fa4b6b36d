//! `[models.NAME]`: what every model has in common, and each checked by itself.

use std::collections::BTreeMap;

use lastvolt_core::model::Confidence;

use super::heat::{HEAT_FIELDS, heat};
use super::part::KIND;
use super::seen::{SEEN, SeenRange, seen};
use super::{Section, check_name, kind};
use crate::diagnostic::Problem;
use crate::document::{Entry, Field, Fields, Layer, Reader, Table};
use crate::suggest::quoted;

pub(super) const LIKE: Field = Field::text(
    "like",
    "name of a model of the same kind from which it takes every key that it does not state",
)
.example("\"LR03\"");
pub(super) const SOURCE: Field =
    Field::text("source", "where the figures come from").example("\"data sheet, 2021\"");
/// Words for how sure figures are, surest first.
pub(super) const CONFIDENCES: &[&str] = &["data-sheet", "typical", "memory"];
pub(super) const CONFIDENCE: Field =
    Field::word("confidence", CONFIDENCES, "how sure the figures are")
        .default("data-sheet")
        .example("\"typical\"");
pub(super) const CLASS: Field = Field::flag(
    "class",
    "whether it is a class of parts and not one that can be bought",
)
.default("false")
.example("false");
pub(super) const SUMMARY: Field = Field::text("summary", "a line for lists of models")
    .example("\"low-threshold p-channel switch\"");

const SOURCES: Field = Field::names(
    "sources",
    "documents that the figures come from, one by one",
)
.example("[\"a maker's data sheet, 2021\"]");
const THIN: Field = Field::text(
    "thin",
    "where published figures are thin: what is missing or rests on little",
)
.example("\"no maker prints the resistance in the cold\"");
const CAUTIONS: Field = Field::names("cautions", "what to beware of with such a part")
    .example("[\"keep away from children\"]");

/// The fields of every model.
pub(crate) const MODEL_FIELDS: &[Field] = &[
    KIND, LIKE, SOURCE, CONFIDENCE, CLASS, SUMMARY, SOURCES, THIN, CAUTIONS, SEEN,
];

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
    /// Ranges of figures over real parts.
    pub(crate) seen: Vec<SeenRange>,
    /// Documents that its figures come from.
    pub(crate) sources: Vec<&'t str>,
    /// What published figures leave open.
    pub(crate) thin: Option<&'t str>,
    /// What to beware of.
    pub(crate) cautions: Vec<&'t str>,
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
        if word.is_none() && !model.is_cut_off() {
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
            // What the reading gives is of no use; what it reports is.
            let fields = self.fields(reader, section);
            let device = (section.read)(&fields, &[]);
            let _ = heat(&fields, device.as_ref());
            let _ = self.head(reader);
        }
    }

    /// Its fields by themselves, which need not be whole.
    pub(crate) fn fields(&self, reader: Reader<'t>, section: &Section) -> Fields<'t> {
        let what = format!("model {}", quoted(&self.entry.key));
        let layers = vec![self.layer(section)];
        Fields::layered(reader, layers, &self.entry.key_spot, &what).incomplete()
    }

    /// Whether it is like a model that is not there, which has been reported.
    pub(super) fn is_cut_off(&self) -> bool {
        self.table.get(LIKE.key).is_some()
    }

    pub(super) fn layer(&self, section: &Section) -> Layer<'t> {
        Layer {
            table: self.table,
            known: vec![MODEL_FIELDS, HEAT_FIELDS, section.model],
        }
    }

    /// Source and confidence.
    pub(crate) fn head(&self, reader: Reader<'t>) -> ModelHead<'t> {
        let text = |field: &Field| {
            self.table
                .get(field.key)
                .and_then(|v| reader.text(v, field.key))
        };
        let names = |field: &Field| -> Vec<&'t str> {
            let names = self
                .table
                .get(field.key)
                .map(|v| reader.names(v, field.key));
            names.into_iter().flatten().map(|n| n.0).collect()
        };
        let confidence = self
            .table
            .get(CONFIDENCE.key)
            .and_then(|v| reader.word(v, CONFIDENCE.key, CONFIDENCES));
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
            seen: seen(reader, self.table),
            sources: names(&SOURCES),
            thin: text(&THIN),
            cautions: names(&CAUTIONS),
        }
    }
}
