//! One change of one file: the value's bytes replaced, an entry added or dropped, all else left alone.

use std::fmt;
use std::ops::Range;

use toml_edit::{Document, Table};

use super::locate::{Entry, Hop, Node, Step, entries, find, shown, statement, walk};
use super::quote;
use super::sequence::{
    Cut, MARK, append, cut, line_rest, line_start, newline, newline_length, remove,
};

/// What is to stand at a path.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum To {
    /// This TOML.
    Toml(String),
    /// Nothing.
    Nothing,
}

/// Why a change cannot be made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Refusal {
    /// The file is not TOML.
    NotToml(String),
    /// What is to stand there is not a value.
    NotValue(String),
    /// It is written as a table of its own, whose keys can be changed.
    OwnTable(String),
    /// There is no table that it could be put into.
    NoPlace(String),
    /// There is nothing to leave out.
    NotThere(String),
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotToml(why) => write!(f, "the file cannot be read: {why}"),
            Self::NotValue(why) => f.write_str(why),
            Self::OwnTable(path) => write!(
                f,
                "`{path}` is written as a table of its own: change its keys one by one"
            ),
            Self::NoPlace(path) => {
                write!(f, "there is no table in the file that `{path}` fits into")
            }
            Self::NotThere(path) => write!(f, "`{path}` is not in the file"),
        }
    }
}

/// The text with one change made.
pub(crate) fn apply(text: &str, path: &[Step], to: &To) -> Result<String, Refusal> {
    let document = parse(text)?;
    let hops = walk(document.as_table(), path);
    let whole = hops.len() == path.len() + 1;
    let cuts = match to {
        To::Nothing if !whole => return Err(Refusal::NotThere(shown(path))),
        To::Nothing => drop_entry(text, &hops, path)?,
        To::Toml(toml) => {
            let toml = quote::raw(toml).map_err(Refusal::NotValue)?;
            let toml = with_newlines(&toml, text);
            match hops.last().filter(|_| whole) {
                Some(hop) => vec![(value_span(hop, path)?, toml)],
                None => add_entry(text, &hops, path, &toml)?,
            }
        }
    };
    let changed = cut(text, cuts);
    // What was cut must read as what was asked for; a file is never left to chance.
    let after = parse(&changed)?;
    let found = find(after.as_table(), path);
    let fits = match to {
        To::Nothing => found.is_none() || matches!(path.last(), Some(Step::At(_))),
        To::Toml(_) => found.is_some(),
    };
    if fits {
        Ok(changed)
    } else {
        Err(Refusal::NoPlace(shown(path)))
    }
}

/// The value at a path as it is written.
pub(crate) fn source<'t>(text: &'t str, root: &Table, path: &[Step]) -> Option<&'t str> {
    text.get(span(root, path)?)
}

/// The bytes of the value at a path.
pub(crate) fn span(root: &Table, path: &[Step]) -> Option<Range<usize>> {
    find(root, path)?.span()
}

/// The document of a file.
pub(crate) fn parse(text: &str) -> Result<Document<&str>, Refusal> {
    Document::parse(text).map_err(|error| {
        let why = error.message().lines().next().unwrap_or_default();
        Refusal::NotToml(why.to_owned())
    })
}

fn value_span(hop: &Hop<'_>, path: &[Step]) -> Result<Range<usize>, Refusal> {
    let span = hop.node.span();
    span.ok_or_else(|| Refusal::OwnTable(shown(path)))
}

/// Line breaks as the file has them.
fn with_newlines(toml: &str, text: &str) -> String {
    let plain = toml.replace("\r\n", "\n");
    match newline(text, text.len()) {
        "\n" => plain,
        other => plain.replace('\n', other),
    }
}

/// Adds what is missing of a path: its first missing key, the others as tables in braces.
fn add_entry(text: &str, hops: &[Hop<'_>], path: &[Step], toml: &str) -> Result<Vec<Cut>, Refusal> {
    let refused = || Refusal::NoPlace(shown(path));
    let (Some(hop), Some((first, rest))) = (hops.last(), path[hops.len() - 1..].split_first())
    else {
        return Err(refused());
    };
    let mut value = toml.to_owned();
    for step in rest.iter().rev() {
        let name = step.key().ok_or_else(refused)?;
        value = format!("{{ {} = {value} }}", quote::key(name));
    }
    match (hop.node, first) {
        (Node::List(list), Step::At(at)) if *at == list.len() => {
            let whole = list.span().ok_or_else(refused)?;
            let items = list.iter().filter_map(toml_edit::Value::span);
            let items: Vec<Range<usize>> = items.collect();
            Ok(append(text, &whole, &items, &value))
        }
        (Node::Table(table), Step::Key(name)) if table.is_dotted() => {
            let prefix = prefix(text, hop.node).ok_or_else(refused)?;
            let name = format!("{prefix}{}", quote::key(name));
            add_line(text, None, hop.node, &name, &value).ok_or_else(refused)
        }
        (Node::Table(table), Step::Key(name)) => {
            let root = hops.len() == 1;
            if table.is_implicit() && !root {
                return Err(refused());
            }
            let header = table.span().filter(|_| !root);
            add_line(text, header, hop.node, &quote::key(name), &value).ok_or_else(refused)
        }
        (Node::Inline(table), Step::Key(name)) if table.is_dotted() => {
            let prefix = prefix(text, hop.node).ok_or_else(refused)?;
            let last = entries(hop.node).pop().ok_or_else(refused)?;
            let put = format!(", {prefix}{} = {value}", quote::key(name));
            Ok(vec![(last.value.end..last.value.end, put)])
        }
        (Node::Inline(table), Step::Key(name)) => {
            let whole = table.span().ok_or_else(refused)?;
            let items: Vec<_> = entries(hop.node).iter().map(|e| e.whole(text)).collect();
            let put = format!("{} = {value}", quote::key(name));
            Ok(append(text, &whole, &items, &put))
        }
        _ => Err(refused()),
    }
}

/// What stands before the own keys of a dotted table, up to its last dot.
fn prefix(text: &str, node: Node<'_>) -> Option<String> {
    let first = node.keys().first().map(|k| Step::Key((*k).to_owned()))?;
    let table = match node {
        Node::Table(table) => table.key(first.key()?),
        Node::Inline(table) => table.key(first.key()?),
        _ => None,
    };
    let key = table?.span()?.start;
    text.get(statement(text, key)..key).map(str::to_owned)
}

/// Adds a line behind the last entry of a table, or behind its header.
fn add_line(
    text: &str,
    header: Option<Range<usize>>,
    node: Node<'_>,
    name: &str,
    value: &str,
) -> Option<Vec<Cut>> {
    let entries = entries(node);
    let Some(last) = entries.last() else {
        return match header {
            Some(header) => Some(behind(text, header.end, &format!("{name} = {value}"))),
            None => Some(at_top(text, &format!("{name} = {value}"))),
        };
    };
    let start = last.whole(text).start;
    let indent = &text[line_start(text, start)..start];
    let pad = pad(text, &entries, name);
    Some(behind(
        text,
        last.value.end,
        &format!("{indent}{name}{pad}{value}"),
    ))
}

/// What stands between the name and its value: as beside the neighbours where these are aligned.
fn pad(text: &str, entries: &[Entry], name: &str) -> String {
    let usual = " = ".to_owned();
    let mut column = None;
    let mut around = ("", "");
    for entry in entries {
        let start = entry.whole(text).start;
        let between = &text[entry.key.end..entry.value.start];
        let Some((before, after)) = between.split_once('=') else {
            return usual;
        };
        let width = text[start..entry.key.end + before.len()].chars().count();
        if column.is_some_and(|c| c != width) {
            return usual;
        }
        column = Some(width);
        around = (before, after);
    }
    let blanks = column.and_then(|c| c.checked_sub(name.chars().count()));
    match blanks {
        Some(blanks) if 1 < entries.len() && (around.0.is_empty() || 0 < blanks) => {
            format!("{}={}", " ".repeat(blanks), around.1)
        }
        _ => usual,
    }
}

/// A line behind the one of a place.
fn behind(text: &str, at: usize, line: &str) -> Vec<Cut> {
    let end = text[at..].find('\n').map_or(text.len(), |n| at + n);
    let newline = newline(text, (end + 1).min(text.len()));
    if end == text.len() {
        return vec![(end..end, format!("{newline}{line}"))];
    }
    vec![(end + 1..end + 1, format!("{line}{newline}"))]
}

/// A line at the top of a file, behind the remarks that it opens with.
fn at_top(text: &str, line: &str) -> Vec<Cut> {
    let newline = newline(text, 0);
    let mut at = if text.starts_with(MARK) {
        MARK.len_utf8()
    } else {
        0
    };
    let top = at;
    while text[at..].starts_with('#') {
        at = text[at..].find('\n').map_or(text.len(), |n| at + n + 1);
    }
    let blank = newline_length(&text[at..]);
    if blank == 0 && at < text.len() {
        // The remarks belong to what stands right below them.
        return vec![(top..top, format!("{line}{newline}{newline}"))];
    }
    let open = !text[..at].is_empty() && !text[..at].ends_with('\n') && top < at;
    let before = if open { newline } else { "" };
    vec![(at..at, format!("{before}{line}{newline}"))]
}

/// Drops the entry at the end of a path.
fn drop_entry(text: &str, hops: &[Hop<'_>], path: &[Step]) -> Result<Vec<Cut>, Refusal> {
    let refused = || Refusal::OwnTable(shown(path));
    let [.., home, hop] = hops else {
        return Err(refused());
    };
    match (home.node, path.last()) {
        (Node::List(list), Some(Step::At(at))) => {
            let whole = list.span().ok_or_else(refused)?;
            let items: Vec<_> = list.iter().filter_map(toml_edit::Value::span).collect();
            Ok(remove(text, &whole, &items, *at))
        }
        (Node::Table(_), Some(Step::Key(_))) => {
            let own = own_entries(hop);
            if own.is_empty() {
                return Err(refused());
            }
            Ok(own.iter().map(|entry| line_cut(text, entry)).collect())
        }
        (Node::Inline(_), Some(Step::Key(_))) => {
            let braces = hops.iter().rev().skip(1).find_map(|hop| match hop.node {
                Node::Inline(table) if !table.is_dotted() => Some((hop.node, table.span())),
                _ => None,
            });
            let Some((node, Some(whole))) = braces else {
                return Err(refused());
            };
            let own = own_entries(hop);
            let all = entries(node);
            let at = all.iter().position(|e| own.contains(e));
            let (Some(at), [_]) = (at, own.as_slice()) else {
                return Err(refused());
            };
            let items: Vec<_> = all.iter().map(|e| e.whole(text)).collect();
            Ok(remove(text, &whole, &items, at))
        }
        _ => Err(refused()),
    }
}

/// The entries that make up what a key leads to: one, or those of a dotted table.
fn own_entries(hop: &Hop<'_>) -> Vec<Entry> {
    match (hop.node.span(), hop.key.and_then(toml_edit::Key::span)) {
        (Some(value), Some(key)) => vec![Entry { key, value }],
        _ => match hop.node {
            Node::Table(table) if table.is_dotted() => entries(hop.node),
            Node::Inline(table) if table.is_dotted() => entries(hop.node),
            _ => Vec::new(),
        },
    }
}

/// The lines of an entry, with the remark behind it.
fn line_cut(text: &str, entry: &Entry) -> Cut {
    let start = line_start(text, entry.whole(text).start);
    let end = line_rest(text, entry.value.end, text.len()).unwrap_or(entry.value.end);
    let end = end + newline_length(&text[end..]);
    (start..end, String::new())
}

#[cfg(test)]
mod tests;
