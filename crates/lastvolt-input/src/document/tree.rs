//! The tree of a TOML file with the place of every key and value, entries in file order.

use toml::de::{DeTable, DeValue};

use crate::diagnostic::{Problem, Sink};
use crate::place::Spot;
use crate::suggest::quoted;

/// A value and where it stands.
#[derive(Debug, Clone)]
pub(crate) struct Value {
    /// Where it stands; of a table with a header, the header.
    pub(crate) spot: Spot,
    /// What it is.
    pub(crate) data: Data,
}

/// What a value is.
#[derive(Debug, Clone)]
pub(crate) enum Data {
    /// A string.
    Text(String),
    /// An integer or float.
    Number(f64),
    /// A boolean.
    Flag(bool),
    /// A date or time, which no key of a family takes.
    Date,
    /// An array.
    List(Vec<Value>),
    /// A table.
    Table(Table),
}

/// A table, its entries in file order.
#[derive(Debug, Clone, Default)]
pub(crate) struct Table {
    /// The entries.
    pub(crate) entries: Vec<Entry>,
}

/// One entry of a table.
#[derive(Debug, Clone)]
pub(crate) struct Entry {
    /// Its key.
    pub(crate) key: String,
    /// Where the key stands.
    pub(crate) key_spot: Spot,
    /// Its value.
    pub(crate) value: Value,
}

impl Table {
    /// The entry of a key.
    pub(crate) fn entry(&self, key: &str) -> Option<&Entry> {
        self.entries.iter().find(|e| e.key == key)
    }

    /// The value of a key.
    pub(crate) fn get(&self, key: &str) -> Option<&Value> {
        self.entry(key).map(|e| &e.value)
    }
}

impl Value {
    /// The table, if it is one.
    pub(crate) fn as_table(&self) -> Option<&Table> {
        match &self.data {
            Data::Table(table) => Some(table),
            _ => None,
        }
    }

    /// The items, if it is an array.
    pub(crate) fn items(&self) -> &[Self] {
        match &self.data {
            Data::List(items) => items,
            _ => &[],
        }
    }

    /// The string, if it is one.
    pub(crate) fn as_text(&self) -> Option<&str> {
        match &self.data {
            Data::Text(text) => Some(text),
            _ => None,
        }
    }

    /// What it is, as a noun for messages.
    pub(crate) fn noun(&self) -> &'static str {
        match &self.data {
            Data::Text(_) => "text",
            Data::Number(_) => "a number",
            Data::Flag(_) => "a true or false",
            Data::Date => "a date",
            Data::List(_) => "a list",
            Data::Table(_) => "a table",
        }
    }
}

/// Most syntax errors of one file that are listed.
const MOST_ERRORS: usize = 200;

/// Parses a file; goes on after errors.
pub(crate) fn parse(file: usize, text: &str, sink: &Sink) -> Table {
    let (root, errors) = DeTable::parse_recoverable(text);
    let tree = table(file, root.get_ref());
    let mut repeated = 0..0;
    for error in errors.iter().take(MOST_ERRORS) {
        let span = error.span().unwrap_or(0..0);
        let duplicate = error.message().starts_with(DUPLICATE);
        if duplicate && repeated.contains(&span.start) {
            // The keys below a repeated header are no news.
            continue;
        }
        if duplicate {
            repeated = below_header(text, span.start);
        }
        sink.add(syntax(file, text, &tree, error.message(), span));
    }
    if errors.len() > MOST_ERRORS {
        let says = format!(
            "{} more syntax errors are not listed",
            errors.len() - MOST_ERRORS
        );
        sink.add(Problem::new("toml-syntax", Spot::new(file, 0..0), says).label("this file"));
    }
    tree
}

/// How the parser words a repeated key.
const DUPLICATE: &str = "duplicate key";

/// Start of the line of a place, if the line is a header.
fn header_start(text: &str, at: usize) -> Option<usize> {
    let before = text.get(..at)?;
    let line = before.rfind('\n').map_or(0, |n| n + 1);
    text[line..].trim_start().starts_with('[').then_some(line)
}

/// The bytes from a place in a header to the next header; none if the place is in no header.
fn below_header(text: &str, at: usize) -> std::ops::Range<usize> {
    match header_start(text, at) {
        Some(_) => at..text[at..].find("\n[").map_or(text.len(), |n| at + n),
        None => 0..0,
    }
}

/// The place in an earlier header of the same words that answers to a place in a header.
fn first_header(text: &str, at: usize) -> Option<usize> {
    let line = header_start(text, at)?;
    let header = &text[line..line + text[line..].find(']')? + 1];
    let before = &text[..line];
    let first = if before.starts_with(header) {
        0
    } else {
        before.find(&format!("\n{header}"))? + 1
    };
    Some(first + at - line)
}

fn syntax(
    file: usize,
    text: &str,
    tree: &Table,
    message: &str,
    span: std::ops::Range<usize>,
) -> Problem {
    let at = Spot::new(file, span.clone());
    let written = text.get(span.clone()).unwrap_or("");
    if message.starts_with(DUPLICATE) {
        let says = format!("the name {} is used a second time", quoted(written));
        let problem = Problem::new("duplicate-key", at, says)
            .label("second use")
            .proposal("give it another name, or delete one of the two");
        if let Some(first) = first_header(text, span.start) {
            let at = first..first + written.len();
            return problem.related(Spot::new(file, at), "first use");
        }
        let mut first = Vec::new();
        same_keys(tree, written, span.start, &mut first);
        return match first.as_slice() {
            [only] => problem.related((*only).clone(), "first use"),
            _ => problem,
        };
    }
    Problem::new("toml-syntax", at, format!("this is not TOML: {message}")).label("here")
}

/// Places of keys of this name that stand before a place.
fn same_keys<'t>(table: &'t Table, key: &str, before: usize, found: &mut Vec<&'t Spot>) {
    for entry in &table.entries {
        if entry.key == key && entry.key_spot.span.start < before {
            found.push(&entry.key_spot);
        }
        match &entry.value.data {
            Data::Table(inner) => same_keys(inner, key, before, found),
            Data::List(items) => {
                for inner in items.iter().filter_map(Value::as_table) {
                    same_keys(inner, key, before, found);
                }
            }
            _ => {}
        }
    }
}

fn table(file: usize, table: &DeTable<'_>) -> Table {
    let mut entries: Vec<Entry> = table
        .iter()
        .map(|(key, item)| Entry {
            key: key.get_ref().to_string(),
            key_spot: Spot::new(file, key.span()),
            value: Value {
                spot: Spot::new(file, item.span()),
                data: data(file, item.get_ref()),
            },
        })
        .collect();
    entries.sort_by_key(|e| e.key_spot.span.start);
    Table { entries }
}

fn data(file: usize, value: &DeValue<'_>) -> Data {
    match value {
        DeValue::String(text) => Data::Text(text.to_string()),
        DeValue::Integer(number) => {
            let digits = i128::from_str_radix(number.as_str(), number.radix());
            #[expect(clippy::cast_precision_loss, reason = "figures of a board are small")]
            Data::Number(digits.map_or(f64::INFINITY, |n| n as f64))
        }
        DeValue::Float(number) => Data::Number(number.as_str().parse().unwrap_or(f64::NAN)),
        DeValue::Boolean(flag) => Data::Flag(*flag),
        DeValue::Datetime(_) => Data::Date,
        DeValue::Array(items) => Data::List(
            items
                .iter()
                .map(|item| Value {
                    spot: Spot::new(file, item.span()),
                    data: data(file, item.get_ref()),
                })
                .collect(),
        ),
        DeValue::Table(inner) => Data::Table(table(file, inner)),
    }
}
