//! What may be written where: the keys of parts, loads, states, profiles, tasks and steps, as plain data.
//!
//! It is made from the fields that the readers and the manual use, so that a form shows what the reader
//! takes. What a part has from its model is here too, as text.

use lastvolt_core::quantity::Unit;

use crate::Text;
use crate::catalog;
use crate::diagnostic::Sink;
use crate::document::{Data, Field, Need, Reader, Table, Takes, Value, parse};
use crate::manual::holds;
use crate::section::heat::HEAT_FIELDS;
use crate::section::model::{MODEL_FIELDS, Models, take_models};
use crate::section::part::PART_FIELDS;
use crate::section::{Section, connector, family, like, load, of_word, profile, requirement};

/// One key of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Key {
    /// The key.
    pub key: &'static str,
    /// What it holds, in words.
    pub holds: String,
    /// What it means, one sentence without full stop.
    pub doc: &'static str,
    /// A value as it may stand in a file; may be empty.
    pub example: &'static str,
    /// Whether it must be there.
    pub absent: Absent,
    /// How it is written.
    pub shape: Shape,
    /// Its unit, where it has one.
    pub unit: Option<Unit>,
    /// The keys of the table that it holds, where it holds one.
    pub inner: Vec<Self>,
}

/// What holds where a key is absent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Absent {
    /// It must be there.
    Refused,
    /// There is none of it.
    None,
    /// This is read in its place.
    Default(&'static str),
    /// Something else holds, in words.
    Otherwise(&'static str),
}

/// How a value is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// A figure with its unit, in quotes.
    Value,
    /// The same, or a table of min, typ and max.
    Spread,
    /// A bare number.
    Number,
    /// True or false.
    Flag,
    /// Any text, in quotes.
    Text,
    /// One of several words, in quotes.
    Word(&'static [&'static str]),
    /// A list of names.
    Names,
    /// A table.
    Table,
    /// Something of another shape.
    Other,
}

/// Whose keys are asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Owner<'a> {
    /// A part of the kind of this word.
    Part(&'a str),
    /// A load.
    Load,
    /// A state of a load that is written as a table.
    State,
    /// A profile.
    Profile,
    /// A task of a profile.
    Task,
    /// A step of a task.
    Step,
    /// `[requirement]`.
    Requirement,
    /// `[connector]`.
    Connector,
    /// `[family]`.
    Family,
}

/// The keys that something may have, in the order of the manual; none where the kind is not known.
#[must_use]
pub fn keys(owner: Owner<'_>) -> Vec<Key> {
    let fields: Vec<&Field> = match owner {
        Owner::Part(word) => of_word(word).map_or_else(Vec::new, part_fields),
        Owner::Load => load::FIELDS.iter().collect(),
        Owner::State => load::STATE_FIELDS.iter().collect(),
        Owner::Profile => profile::FIELDS.iter().collect(),
        Owner::Task => profile::TASK_FIELDS.iter().collect(),
        Owner::Step => profile::STEP_FIELDS.iter().collect(),
        Owner::Requirement => requirement::FIELDS.iter().collect(),
        Owner::Connector => connector::FIELDS.iter().collect(),
        Owner::Family => family::FIELDS.iter().collect(),
    };
    fields.into_iter().map(key).collect()
}

/// Fields of a part: those of every part, of its kind, and what it bears.
fn part_fields(section: &'static Section) -> Vec<&'static Field> {
    let [kind, model, rest @ ..] = PART_FIELDS else {
        return PART_FIELDS.iter().collect();
    };
    let own = [kind, model].into_iter().chain(section.part);
    own.chain(section.model)
        .chain(rest)
        .chain(HEAT_FIELDS)
        .collect()
}

fn key(field: &Field) -> Key {
    Key {
        key: field.key,
        holds: holds(field),
        doc: field.doc,
        example: field.example,
        absent: match field.need {
            Need::Required => Absent::Refused,
            Need::Optional => Absent::None,
            Need::Default(text) => Absent::Default(text),
            Need::Otherwise(words) => Absent::Otherwise(words),
        },
        shape: shape(field),
        unit: field.unit(),
        inner: match field.takes {
            Takes::Table(fields) => fields.iter().map(key).collect(),
            _ => Vec::new(),
        },
    }
}

fn shape(field: &Field) -> Shape {
    match field.takes {
        Takes::Value(_) => Shape::Value,
        Takes::Spread(_) => Shape::Spread,
        Takes::Number | Takes::Count => Shape::Number,
        Takes::Flag => Shape::Flag,
        Takes::Text => Shape::Text,
        Takes::Word(words) => Shape::Word(words),
        Takes::Names => Shape::Names,
        Takes::Table(_) => Shape::Table,
        Takes::Other(_) if field.example.starts_with('"') => Shape::Text,
        Takes::Other(_) => Shape::Other,
    }
}

/// What a model brings to the parts that are made after it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ModelKeys {
    /// The file of the family that it stands in; none for the built-in catalog.
    pub file: Option<String>,
    /// Its keys, those of nested tables with dots, and what they hold, as one would write it.
    pub values: Vec<(String, String)>,
}

/// The keys of a model, what it takes from another included; none if there is no such model.
#[must_use]
pub fn model_keys(texts: &[Text], name: &str) -> Option<ModelKeys> {
    let sink = Sink::default();
    let reader = Reader::new(texts, &sink);
    let each = texts.iter().enumerate();
    let mut trees: Vec<Table> = each.map(|(n, t)| parse(n, &t.text, &sink)).collect();
    like::resolve(reader, &mut trees, catalog::tables());
    let mut models = Models::new();
    catalog::take(reader, &mut models);
    for table in trees.iter().filter_map(|t| t.get("models")?.as_table()) {
        take_models(reader, &mut models, table);
    }
    let model = models.get(name)?;
    let mut values = Vec::new();
    for entry in &model.table.entries {
        let about = MODEL_FIELDS.iter().any(|f| f.key == entry.key);
        if !about {
            value_texts(&entry.key, &entry.value, &mut values);
        }
    }
    let file = texts.get(model.entry.key_spot.file);
    Some(ModelKeys {
        file: file.map(|text| text.name.clone()),
        values,
    })
}

fn value_texts(key: &str, value: &Value, out: &mut Vec<(String, String)>) {
    match &value.data {
        Data::Text(text) => out.push((key.to_owned(), text.clone())),
        _ => out.push((key.to_owned(), written(value))),
    }
    for entry in value.as_table().iter().flat_map(|t| &t.entries) {
        value_texts(&format!("{key}.{}", entry.key), &entry.value, out);
    }
}

/// A value as it may stand in a file, on one line.
fn written(value: &Value) -> String {
    match &value.data {
        Data::Text(text) => format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\"")),
        Data::Number(number) => number.to_string(),
        Data::Flag(flag) => flag.to_string(),
        Data::Date => String::new(),
        Data::List(items) => {
            let items: Vec<String> = items.iter().map(written).collect();
            format!("[{}]", items.join(", "))
        }
        Data::Table(table) => {
            let entries = table.entries.iter();
            let entries: Vec<String> = entries
                .map(|e| format!("{} = {}", e.key, written(&e.value)))
                .collect();
            format!("{{ {} }}", entries.join(", "))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_has_the_keys_of_its_kind_and_of_every_part() {
        let keys = keys(Owner::Part("resistor"));
        let names: Vec<&str> = keys.iter().map(|k| k.key).collect();
        assert_eq!(names[..4], ["kind", "model", "value", "rated"]);
        assert!(names.contains(&"pins") && names.contains(&"hottest"));
        let value = &keys[2];
        assert_eq!(value.absent, Absent::Refused);
        assert_eq!((value.shape, value.unit), (Shape::Spread, Some(Unit::Ohm)));
    }

    #[test]
    fn a_table_has_keys_of_its_own() {
        let keys = keys(Owner::Part("cell"));
        let holder = keys.iter().find(|k| k.key == "holder").expect("a holder");
        let inner: Vec<&str> = holder.inner.iter().map(|k| k.key).collect();
        assert_eq!(inner, ["contact", "reversed"]);
    }

    #[test]
    fn no_keys_are_known_of_a_kind_that_is_not() {
        assert!(keys(Owner::Part("flux")).is_empty());
    }

    #[test]
    fn a_model_brings_its_values_and_says_where_it_stands() {
        let text = Text {
            name: "family.toml".to_owned(),
            text: "[models.mine]\nkind = \"resistor\"\nvalue = { typ = \"1k\", max = \"2k\" }\n\
                   rated = \"0.1 W\"\nsource = \"here\"\n"
                .to_owned(),
        };
        let mine = model_keys(&[text], "mine").expect("the model");
        assert_eq!(mine.file.as_deref(), Some("family.toml"));
        let own = |key: &str, text: &str| (key.to_owned(), text.to_owned());
        assert_eq!(
            mine.values,
            [
                own("value", "{ typ = \"1k\", max = \"2k\" }"),
                own("value.typ", "1k"),
                own("value.max", "2k"),
                own("rated", "0.1 W"),
            ]
        );
        let built_in = model_keys(&[], "LR03").expect("a cell of the catalog");
        assert_eq!(built_in.file, None);
        assert!(built_in.values.iter().any(|v| v.0 == "open_circuit"));
        assert_eq!(model_keys(&[], "nothing"), None);
    }
}
