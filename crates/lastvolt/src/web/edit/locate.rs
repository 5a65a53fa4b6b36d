//! Where a value stands in a file: paths of keys and indexes, and the bytes that belong to them.

use std::ops::Range;

use toml_edit::{Array, ArrayOfTables, InlineTable, Item, Key, Table, TableLike, Value};

/// One step of a path.
#[derive(Debug, Clone, PartialEq, Eq, serde::Deserialize)]
#[serde(untagged)]
pub(crate) enum Step {
    /// An item of a list, from 0.
    At(usize),
    /// A key of a table.
    Key(String),
}

impl Step {
    /// The key, if it is one.
    pub(crate) fn key(&self) -> Option<&str> {
        match self {
            Self::Key(key) => Some(key),
            Self::At(_) => None,
        }
    }
}

/// A path as a person reads it: `profiles.watch.tasks[1].every`.
pub(crate) fn shown(path: &[Step]) -> String {
    let mut out = String::new();
    for step in path {
        match step {
            Step::At(at) => out.push_str(&format!("[{at}]")),
            Step::Key(key) if out.is_empty() => out.push_str(key),
            Step::Key(key) => out.push_str(&format!(".{key}")),
        }
    }
    out
}

/// Something at a path.
#[derive(Clone, Copy)]
pub(super) enum Node<'d> {
    /// A table with a header, one that only headers below it imply, or one written with dots.
    Table(&'d Table),
    /// A table in braces, or one written with dots in there.
    Inline(&'d InlineTable),
    /// A list.
    List(&'d Array),
    /// Tables with headers in double brackets.
    Tables(&'d ArrayOfTables),
    /// Anything else.
    Plain(&'d Value),
}

/// A node on the way along a path, and the key that led to it.
#[derive(Clone, Copy)]
pub(super) struct Hop<'d> {
    /// The key, where it is not an item of a list.
    pub(super) key: Option<&'d Key>,
    /// The node.
    pub(super) node: Node<'d>,
}

/// The nodes from the root along a path as far as they are there; the root is the first.
pub(super) fn walk<'d>(root: &'d Table, path: &[Step]) -> Vec<Hop<'d>> {
    let mut node = Node::Table(root);
    let mut hops = vec![Hop { key: None, node }];
    for step in path {
        let Some(next) = node.child(step) else { break };
        node = next.node;
        hops.push(next);
    }
    hops
}

/// The node at a path.
pub(super) fn find<'d>(root: &'d Table, path: &[Step]) -> Option<Node<'d>> {
    let hops = walk(root, path);
    let last = hops.last().filter(|_| hops.len() == path.len() + 1)?;
    Some(last.node)
}

impl<'d> Node<'d> {
    fn of_item(item: &'d Item) -> Option<Self> {
        match item {
            Item::None => None,
            Item::Value(value) => Some(Self::of_value(value)),
            Item::Table(table) => Some(Self::Table(table)),
            Item::ArrayOfTables(tables) => Some(Self::Tables(tables)),
        }
    }

    fn of_value(value: &'d Value) -> Self {
        match value {
            Value::InlineTable(table) => Self::Inline(table),
            Value::Array(list) => Self::List(list),
            other => Self::Plain(other),
        }
    }

    fn child(self, step: &Step) -> Option<Hop<'d>> {
        let bare = |node| Hop { key: None, node };
        match (self, step) {
            (Self::Table(table), Step::Key(key)) => {
                let (key, item) = table.get_key_value(key)?;
                let node = Self::of_item(item)?;
                Some(Hop {
                    key: Some(key),
                    node,
                })
            }
            (Self::Inline(table), Step::Key(key)) => {
                let (key, item) = table.get_key_value(key)?;
                let node = Self::of_item(item)?;
                Some(Hop {
                    key: Some(key),
                    node,
                })
            }
            (Self::List(list), Step::At(at)) => list.get(*at).map(Self::of_value).map(bare),
            (Self::Tables(tables), Step::At(at)) => tables.get(*at).map(Self::Table).map(bare),
            _ => None,
        }
    }

    /// The bytes of the value; none of a table that has its own header or is written with dots.
    pub(super) fn span(self) -> Option<Range<usize>> {
        match self {
            Self::Plain(value) => value.span(),
            Self::List(list) => list.span(),
            Self::Inline(table) if !table.is_dotted() => table.span(),
            _ => None,
        }
    }

    /// The keys of a table, in their order.
    pub(super) fn keys(self) -> Vec<&'d str> {
        match self {
            Self::Table(table) => table.iter().map(|e| e.0).collect(),
            Self::Inline(table) => table.iter().map(|e| e.0).collect(),
            _ => Vec::new(),
        }
    }

    /// How many items a list has.
    pub(super) fn count(self) -> usize {
        match self {
            Self::List(list) => list.len(),
            Self::Tables(tables) => tables.len(),
            _ => 0,
        }
    }

    /// The text, if it is one.
    pub(super) fn text(self) -> Option<&'d str> {
        match self {
            Self::Plain(value) => value.as_str(),
            _ => None,
        }
    }
}

/// An entry as it is written: `a.b.key = value`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Entry {
    /// Where the last key of the entry starts.
    pub(super) key: Range<usize>,
    /// Its value.
    pub(super) value: Range<usize>,
}

impl Entry {
    /// The entry from its first key to the end of its value.
    pub(super) fn whole(&self, text: &str) -> Range<usize> {
        statement(text, self.key.start)..self.value.end
    }
}

/// The entries that stand in a table itself, those of dotted tables in it included, by place.
pub(super) fn entries(node: Node<'_>) -> Vec<Entry> {
    let mut found = Vec::new();
    match node {
        Node::Table(table) => collect(table, &mut found),
        Node::Inline(table) => collect(table, &mut found),
        _ => {}
    }
    found.sort_by_key(|e| e.key.start);
    found
}

fn collect(table: &dyn TableLike, found: &mut Vec<Entry>) {
    for (name, item) in table.iter() {
        match item {
            Item::Table(inner) if inner.is_dotted() => collect(inner, found),
            Item::Value(Value::InlineTable(inner)) if inner.is_dotted() => collect(inner, found),
            Item::Value(value) => {
                let key = table.key(name).and_then(Key::span);
                if let (Some(key), Some(value)) = (key, value.span()) {
                    found.push(Entry { key, value });
                }
            }
            _ => {}
        }
    }
}

/// Where the entry starts whose key at this place may follow others and dots.
pub(super) fn statement(text: &str, key: usize) -> usize {
    let mut start = key;
    loop {
        let before = text[..start].trim_end_matches([' ', '\t']);
        let Some(before) = before.strip_suffix('.') else {
            return start;
        };
        let before = before.trim_end_matches([' ', '\t']);
        start = segment_start(before);
    }
}

/// Where the key starts that a text ends with.
fn segment_start(text: &str) -> usize {
    let bytes = text.as_bytes();
    let Some(&quote) = bytes.last().filter(|b| matches!(b, b'"' | b'\'')) else {
        let bare = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
        return text.trim_end_matches(bare).len();
    };
    let mut at = bytes.len() - 1;
    while 0 < at {
        at -= 1;
        let escapes = bytes[..at].iter().rev().take_while(|b| **b == b'\\');
        if bytes[at] == quote && (quote == b'\'' || escapes.count() % 2 == 0) {
            break;
        }
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_entry_starts_at_its_first_key() {
        for (text, start) in [
            ("a = 1", 0),
            ("x.a = 1", 0),
            ("  x . \"y.\\\" z\" . 'q' .a = 1", 2),
            ("{ b = 1, x.a = 2 }", 9),
        ] {
            let key = text.rfind("a =").expect("a key");
            assert_eq!(statement(text, key), start, "{text}");
        }
    }

    #[test]
    fn a_path_reads_as_one_writes_it() {
        let path = [
            Step::Key("tasks".to_owned()),
            Step::At(1),
            Step::Key("every".to_owned()),
        ];
        assert_eq!(shown(&path), "tasks[1].every");
    }
}
