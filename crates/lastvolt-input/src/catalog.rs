//! The built-in catalog: models as TOML, read by the same reader as a family's own.

use std::sync::OnceLock;

use lastvolt_core::model::{Confidence, Device, Kind};

use crate::Text;
use crate::diagnostic::Sink;
use crate::document::{Entry, Reader, Table, Value, parse};
use crate::section::cell::{CellFacts, facts};
use crate::section::model::{Model, Models, take_models};
use crate::section::seen::SeenRange;
use crate::section::{Section, like};

/// Number that stands for the catalog where files are numbered.
pub(crate) const FILE: usize = usize::MAX;

/// The files of the catalog.
pub(crate) const FILES: [(&str, &str); 16] = [
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
    (
        "catalog/zeners.toml",
        include_str!("../catalog/zeners.toml"),
    ),
    ("catalog/ptcs.toml", include_str!("../catalog/ptcs.toml")),
    (
        "catalog/detectors.toml",
        include_str!("../catalog/detectors.toml"),
    ),
    (
        "catalog/load-switches.toml",
        include_str!("../catalog/load-switches.toml"),
    ),
    (
        "catalog/ideal-diodes.toml",
        include_str!("../catalog/ideal-diodes.toml"),
    ),
];

/// One model.
#[derive(Debug, Clone, PartialEq)]
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
    /// Documents that its figures come from, one by one.
    pub sources: Vec<String>,
    /// What published figures leave open.
    pub thin: Option<String>,
    /// What to beware of.
    pub cautions: Vec<String>,
    /// What a cell is beside its electrical figures.
    pub facts: CellFacts,
    /// The part that it makes; none where it leaves out what a part must bring.
    pub device: Option<Device>,
    /// Its text, ready to be put into a file of a family.
    pub toml: String,
}

/// The built-in models, by file and place.
#[must_use]
pub fn catalog() -> Vec<CatalogEntry> {
    let sink = Sink::default();
    let mut models = Models::new();
    take(Reader::new(&[], &sink), &mut models);
    let texts: Vec<&str> = FILES.iter().map(|f| f.1).collect();
    entries(&sink, &models, tables(), &texts)
}

/// The models of a family's own, by file and place; what is wrong with them is what [`crate::read()`]
/// reports.
#[must_use]
pub fn family_models(texts: &[Text]) -> Vec<CatalogEntry> {
    let sink = Sink::default();
    let reader = Reader::new(texts, &sink);
    let each = texts.iter().enumerate();
    let mut trees: Vec<Table> = each.map(|(n, t)| parse(n, &t.text, &sink)).collect();
    like::resolve(reader, &mut trees, tables());
    let mut models = Models::new();
    for table in trees.iter().filter_map(|t| t.get("models")?.as_table()) {
        take_models(reader, &mut models, table);
    }
    let texts: Vec<&str> = texts.iter().map(|t| t.text.as_str()).collect();
    entries(&sink, &models, &trees, &texts)
}

/// The entries of some trees, each with the text that it was parsed from.
fn entries<'t>(
    sink: &'t Sink,
    models: &Models<'t>,
    trees: &'t [Table],
    texts: &[&str],
) -> Vec<CatalogEntry> {
    let reader = Reader::new(&[], sink);
    let mut entries = Vec::new();
    for (table, text) in trees.iter().zip(texts) {
        let Some(inner) = table.get("models").and_then(Value::as_table) else {
            continue;
        };
        for entry in &inner.entries {
            let model = models.get(entry.key.as_str());
            if let Some((model, section)) = model.and_then(|m| Some((m, m.section?))) {
                entries.push(one(reader, entry, model, section, text));
            }
        }
    }
    entries
}

fn one<'t>(
    reader: Reader<'t>,
    entry: &Entry,
    model: &Model<'t>,
    section: &'static Section,
    text: &str,
) -> CatalogEntry {
    let head = model.head(reader);
    let fields = model.fields(reader, section);
    let owned = |words: Vec<&str>| words.into_iter().map(str::to_owned).collect();
    CatalogEntry {
        name: entry.key.clone(),
        kind: section.kind,
        class: head.class,
        summary: head.summary.unwrap_or_default().to_owned(),
        source: head.source.unwrap_or_default().to_owned(),
        confidence: head.confidence,
        sources: owned(head.sources),
        thin: head.thin.map(str::to_owned),
        seen: head.seen,
        cautions: owned(head.cautions),
        facts: match section.kind {
            Kind::Cell => facts(&fields),
            _ => CellFacts::default(),
        },
        device: (section.read)(&fields, &[]),
        toml: written(text, entry),
    }
}

/// The text of a model: its header and what stands below up to the next header of something else.
fn written(text: &str, entry: &Entry) -> String {
    let at = entry.key_spot.span.start;
    let line = text[..at].rfind('\n').map_or(0, |n| n + 1);
    if !text[line..].starts_with("[models.") {
        // Inside `[models]`, or with dots.
        let end = entry.value.spot.span.end.max(entry.key_spot.span.end);
        return format!("[models]\n{}\n", text[at..end].trim_end());
    }
    let name = &text[at..entry.key_spot.span.end];
    let below = format!("[models.{name}.");
    let end = text[line..]
        .match_indices("\n[")
        .map(|(n, _)| line + n + 1)
        .find(|&n| !text[n..].starts_with(&below));
    let own = &text[line..end.unwrap_or(text.len())];
    // Remarks before the next header belong to that.
    let mut lines: Vec<&str> = own.lines().collect();
    while lines
        .last()
        .is_some_and(|l| l.trim().is_empty() || l.trim_start().starts_with('#'))
    {
        lines.pop();
    }
    format!("{}\n", lines.join("\n"))
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
pub(crate) fn tables() -> &'static [Table] {
    static TABLES: OnceLock<Vec<Table>> = OnceLock::new();
    TABLES.get_or_init(|| {
        let sink = Sink::default();
        let files = FILES.iter();
        let mut trees: Vec<Table> = files.map(|(_, text)| parse(FILE, text, &sink)).collect();
        like::resolve(Reader::new(&[], &sink), &mut trees, &[]);
        trees
    })
}
