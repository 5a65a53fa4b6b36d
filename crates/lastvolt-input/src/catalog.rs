//! The built-in catalog: models as TOML, read by the same reader as a family's own.

use std::sync::OnceLock;

use lastvolt_core::model::{Confidence, Kind};

use crate::diagnostic::Sink;
use crate::document::{Reader, Table, Value, parse};
use crate::section::model::{Models, take_models};
use crate::section::seen::SeenRange;

/// Number that stands for the catalog where files are numbered.
pub(crate) const FILE: usize = usize::MAX;

/// The files of the catalog.
pub(crate) const FILES: [(&str, &str); 11] = [
    ("catalog/cells.toml", include_str!("../catalog/cells.toml")),
    (
        "catalog/diodes.toml",
        include_str!("../catalog/diodes.toml"),
    ),
    ("catalog/leds.toml", include_str!("../catalog/leds.toml")),
    ("catalog/fets.toml", include_str!("../catalog/fets.toml")),
    (
        "catalog/capacitors.toml",
        include_str!("../catalog/capacitors.toml"),
    ),
    (
        "catalog/inductors.toml",
        include_str!("../catalog/inductors.toml"),
    ),
    ("catalog/fuses.toml", include_str!("../catalog/fuses.toml")),
    ("catalog/ldos.toml", include_str!("../catalog/ldos.toml")),
    (
        "catalog/boosts.toml",
        include_str!("../catalog/boosts.toml"),
    ),
    (
        "catalog/buck-boosts.toml",
        include_str!("../catalog/buck-boosts.toml"),
    ),
    ("catalog/bucks.toml", include_str!("../catalog/bucks.toml")),
];

/// One built-in model.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CatalogEntry {
    /// Its name.
    pub name: String,
    /// The kind of part it is a model of.
    pub kind: Kind,
    /// Whether it is a class of parts and not one that can be bought.
    pub class: bool,
    /// What it is, in a line.
    pub summary: String,
    /// Where its figures come from.
    pub source: String,
    /// How sure they are.
    pub confidence: Confidence,
    /// Ranges of its figures over real parts.
    pub seen: Vec<SeenRange>,
}

/// The built-in models, by file and place.
#[must_use]
pub fn catalog() -> Vec<CatalogEntry> {
    let sink = Sink::default();
    let reader = Reader::new(&[], &sink);
    let mut models = Models::new();
    take(reader, &mut models);
    let mut entries = Vec::new();
    for table in tables() {
        let Some(inner) = table.get("models").and_then(Value::as_table) else {
            continue;
        };
        for entry in &inner.entries {
            let Some(model) = models.get(entry.key.as_str()) else {
                continue;
            };
            let Some(section) = model.section else {
                continue;
            };
            let head = model.head(reader);
            entries.push(CatalogEntry {
                name: entry.key.clone(),
                kind: section.kind,
                class: head.class,
                summary: head.summary.unwrap_or_default().to_owned(),
                source: head.source.unwrap_or_default().to_owned(),
                confidence: head.confidence,
                seen: head.seen,
            });
        }
    }
    entries
}

/// Takes the models of the catalog in.
pub(crate) fn take<'t>(reader: Reader<'t>, models: &mut Models<'t>) {
    for table in tables() {
        if let Some(table) = table.get("models").and_then(Value::as_table) {
            take_models(reader, models, table);
        }
    }
}

/// The trees of the files, parsed once.
fn tables() -> &'static [Table] {
    static TABLES: OnceLock<Vec<Table>> = OnceLock::new();
    TABLES.get_or_init(|| {
        let sink = Sink::default();
        FILES
            .iter()
            .map(|(_, text)| parse(FILE, text, &sink))
            .collect()
    })
}
