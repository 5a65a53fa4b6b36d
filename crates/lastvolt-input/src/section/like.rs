//! `like` of a model: what it does not state itself it has from another model.
//!
//! This is done on the trees of the files before anything is read from them, so that everything that
//! reads a model sees it whole. A key is taken as a whole, tables included: a limit of another cell
//! would be wrong beside limits that a data sheet states. What stands in the built-in catalog and is
//! taken over stands, for everyone who asks, where the model says `like`.

use std::collections::{BTreeMap, BTreeSet};

use super::model::{CLASS, CONFIDENCE, CONFIDENCES, LIKE, SOURCE, SUMMARY};
use super::part::KIND;
use super::{Section, of_word};
use crate::catalog;
use crate::diagnostic::Problem;
use crate::document::{Data, Entry, Reader, Table, Value};
use crate::place::Spot;
use crate::suggest::quoted;

/// Keys that say what a model itself is and are never taken over as they stand.
const OWN: [&str; 5] = [LIKE.key, CLASS.key, SOURCE.key, SUMMARY.key, CONFIDENCE.key];

/// Keys that stand in each other's place: who states one of them does not take the other over.
const INSTEAD: [[&str; 2]; 3] = [
    ["charge", "rated"],
    ["reference", "output"],
    ["loss", "efficiency"],
];

/// Longest source that is told on, in bytes.
const MOST_SOURCE: usize = 2000;

/// Where a model stands: the tree, and the place among its models.
type At = (usize, usize);

/// Gives every model of the trees what it has from those that it is like, and takes `like` away; it
/// stays where the other model is not there, which is reported.
pub(crate) fn resolve(reader: Reader<'_>, trees: &mut [Table], built_in: &[Table]) {
    let names = names(trees);
    let mut failed = BTreeSet::new();
    for &start in &names.like {
        let view = View {
            trees,
            last: &names.last,
            built_in,
        };
        let (chain, sound) = chain(reader, &view, start, &failed);
        if !sound {
            failed.extend(chain);
            continue;
        }
        // From the model at the far end of the chain to this one.
        for at in chain.into_iter().rev() {
            let view = View {
                trees,
                last: &names.last,
                built_in,
            };
            let whole = view.entry(at).and_then(|entry| whole(reader, &view, entry));
            match whole {
                Some(whole) => put(trees, at, whole),
                None => {
                    failed.insert(at);
                }
            }
        }
    }
}

/// Puts a table in the place of a model's.
fn put(trees: &mut [Table], at: At, whole: Table) {
    let models = trees
        .get_mut(at.0)
        .and_then(|t| t.entries.iter_mut().find(|e| e.key == "models"));
    if let Some(Data::Table(models)) = models.map(|e| &mut e.value.data)
        && let Some(entry) = models.entries.get_mut(at.1)
    {
        entry.value.data = Data::Table(whole);
    }
}

/// The models of some trees.
struct Names {
    /// Those that are like another, in the order of the files.
    like: Vec<At>,
    /// The last of each name, which is the one that counts.
    last: BTreeMap<String, At>,
}

fn names(trees: &[Table]) -> Names {
    let mut names = Names {
        like: Vec::new(),
        last: BTreeMap::new(),
    };
    for (tree, table) in trees.iter().enumerate() {
        let models = table.get("models").and_then(Value::as_table);
        for (place, entry) in models.iter().flat_map(|t| &t.entries).enumerate() {
            names.last.insert(entry.key.clone(), (tree, place));
            if like(entry).is_some() {
                names.like.push((tree, place));
            }
        }
    }
    names
}

/// What a model says it is like.
fn like(entry: &Entry) -> Option<&Value> {
    entry.value.as_table()?.get(LIKE.key)
}

/// Every model that there is.
struct View<'a> {
    trees: &'a [Table],
    last: &'a BTreeMap<String, At>,
    built_in: &'a [Table],
}

impl<'a> View<'a> {
    fn entry(&self, at: At) -> Option<&'a Entry> {
        self.trees
            .get(at.0)?
            .get("models")?
            .as_table()?
            .entries
            .get(at.1)
    }

    /// The place of the model that another one names; a model that is like its own name is like the
    /// built-in one that it stands in place of.
    fn own(&self, from: &str, name: &str) -> Option<At> {
        self.last.get(name).filter(|_| name != from).copied()
    }

    fn base(&self, from: &str, name: &str) -> Option<&'a Entry> {
        match self.own(from, name) {
            Some(at) => self.entry(at),
            None => self.built_in().find(|e| e.key == name),
        }
    }

    fn built_in(&self) -> impl Iterator<Item = &'a Entry> {
        let models = self
            .built_in
            .iter()
            .filter_map(|t| t.get("models")?.as_table());
        models.flat_map(|t| &t.entries)
    }

    fn unknown(&self, reader: Reader<'_>, value: &Value, name: &str, from: &str) {
        let own = self.last.keys().map(String::as_str);
        let built_in = self.built_in().map(|e| e.key.as_str());
        let known: Vec<&str> = own.filter(|n| *n != from).chain(built_in).collect();
        reader.unknown_name(&value.spot, "model", name, known);
    }
}

/// The models from one on that are still to be made whole, and whether they can be: not where they go
/// round in a circle or lead to a name that is not known, which is reported.
fn chain(reader: Reader<'_>, view: &View<'_>, start: At, failed: &BTreeSet<At>) -> (Vec<At>, bool) {
    let mut chain: Vec<At> = Vec::new();
    let mut seen = BTreeSet::new();
    let mut at = start;
    while let Some(entry) = view.entry(at) {
        let Some(value) = like(entry) else {
            break;
        };
        if failed.contains(&at) {
            return (chain, false);
        }
        let Some(name) = value.as_text() else {
            reader.wrong_type(value, LIKE.key, "the name of a model in quotes");
            return (chain, false);
        };
        if !seen.insert(at) {
            let says = format!("model {} is like itself in the end", quoted(&entry.key));
            let spot = reader.inner(&value.spot, name, 0..name.len());
            let problem = Problem::new("like-circle", spot, says)
                .label("leads back here")
                .proposal("let one of these models state its figures itself");
            reader.report(problem);
            return (chain, false);
        }
        chain.push(at);
        if view.base(&entry.key, name).is_none() {
            view.unknown(reader, value, name, &entry.key);
            return (chain, false);
        }
        match view.own(&entry.key, name) {
            Some(next) => at = next,
            None => break,
        }
    }
    (chain, true)
}

/// The table of a model with what it takes over; none, with a report, if the other is of another kind.
fn whole(reader: Reader<'_>, view: &View<'_>, entry: &Entry) -> Option<Table> {
    let spot = &like(entry)?.spot;
    let base = view.base(&entry.key, like(entry)?.as_text()?)?;
    let (own, other) = (entry.value.as_table()?, base.value.as_table()?);
    if like(base).is_some() {
        // What is wrong with it has been reported.
        return None;
    }
    let section = same_kind(reader, entry, base)?;
    let known = |key: &str| {
        let head = super::model::MODEL_FIELDS.iter();
        let mut all = head.chain(super::heat::HEAT_FIELDS).chain(section.model);
        all.any(|f| f.key == key)
    };
    let instead = |key: &str| {
        let pairs = INSTEAD.iter().filter(|pair| pair.contains(&key));
        pairs.flatten().any(|other| own.get(other).is_some())
    };
    let taken = other.entries.iter().filter(|e| {
        let key = e.key.as_str();
        !OWN.contains(&key) && known(key) && own.get(key).is_none() && !instead(key)
    });
    let taken: Vec<Entry> = taken.map(|e| moved(e, spot)).collect();
    let mut entries: Vec<Entry> = own
        .entries
        .iter()
        .filter(|e| e.key != LIKE.key)
        .cloned()
        .collect();
    entries.extend(taken);
    head(&mut entries, own, other, &base.key, spot);
    Some(Table { entries })
}

/// The kind of the other model, with a report if this one is of another. None too where the kind is not
/// known, which is reported where it is read.
fn same_kind(reader: Reader<'_>, entry: &Entry, base: &Entry) -> Option<&'static Section> {
    let word = |entry: &Entry| Some(entry.value.as_table()?.get(KIND.key)?.as_text()?.to_owned());
    let section = word(base).as_deref().and_then(of_word)?;
    let own = word(entry).as_deref().and_then(of_word);
    let Some(own) = own.filter(|own| own.kind != section.kind) else {
        return Some(section);
    };
    let says = format!(
        "model {} is of the kind `{}`, {} which is to be like it is of the kind `{}`",
        quoted(&base.key),
        section.kind.word(),
        quoted(&entry.key),
        own.kind.word()
    );
    let at = &like(entry)?.spot;
    let at = reader.inner(at, &base.key, 0..base.key.len());
    reader.report(Problem::new("model-of-another-kind", at, says).label("another kind"));
    None
}

/// Source and confidence: what the model says of itself, and what it has from the other.
fn head(entries: &mut Vec<Entry>, own: &Table, other: &Table, base: &str, like: &Spot) {
    let text =
        |table: &Table, key: &str| table.get(key).and_then(Value::as_text).map(str::to_owned);
    let mut put = |key: &str, words: String| {
        let value = Value {
            spot: like.clone(),
            data: Data::Text(words),
        };
        match entries.iter_mut().find(|e| e.key == key) {
            Some(entry) => entry.value.data = value.data,
            None => entries.push(Entry {
                key: key.to_owned(),
                key_spot: like.clone(),
                value,
            }),
        }
    };
    let taken = match text(other, SOURCE.key) {
        // A long chain is not told link by link.
        Some(source) if MOST_SOURCE < source.len() => format!("like {base}"),
        Some(source) => format!("like {base}: {source}"),
        None => format!("like {base}"),
    };
    match (text(own, SOURCE.key), own.get(SOURCE.key)) {
        (Some(source), _) => put(SOURCE.key, format!("{source}; {taken}")),
        (None, None) => put(SOURCE.key, taken),
        // What is wrong with it is reported where it is read.
        (None, Some(_)) => {}
    }
    if own.get(SUMMARY.key).is_none() {
        put(SUMMARY.key, format!("like {base}"));
    }
    let rank = |table: &Table| match text(table, CONFIDENCE.key) {
        Some(word) => CONFIDENCES.iter().position(|w| *w == word),
        None => Some(0),
    };
    if let (Some(own), Some(other)) = (rank(own), rank(other))
        && own < other
    {
        put(CONFIDENCE.key, CONFIDENCES[other].to_owned());
    }
}

/// An entry of the catalog as it stands in a model of the family: all of it where that says `like`.
fn moved(entry: &Entry, like: &Spot) -> Entry {
    if entry.key_spot.file != catalog::FILE || like.file == catalog::FILE {
        return entry.clone();
    }
    Entry {
        key: entry.key.clone(),
        key_spot: like.clone(),
        value: moved_value(&entry.value, like),
    }
}

fn moved_value(value: &Value, like: &Spot) -> Value {
    let data = match &value.data {
        Data::List(items) => Data::List(items.iter().map(|v| moved_value(v, like)).collect()),
        Data::Table(table) => Data::Table(Table {
            entries: table.entries.iter().map(|e| moved(e, like)).collect(),
        }),
        other => other.clone(),
    };
    Value {
        spot: like.clone(),
        data,
    }
}
