//! Puts a family together: files, models, loads, boards and what must fit between them.

use lastvolt_core::model::{Accept, Family, Profile};

use crate::diagnostic::{Diagnostic, Problem, Sink};
use crate::document::{Fields, Reader, Table, Value, parse};
use crate::join::join;
use crate::place::{SpanMap, SpanNotes, Spot};
use crate::section::family::Head;
use crate::section::load::Written;
use crate::section::model::{Models, take_models};
use crate::section::profile::LoadNames;
use crate::section::{accept, board, connector, family, like, load, profile, requirement};
use crate::suggest::quoted;
use crate::{Severity, Text, catalog, spans};

/// Largest text that is read, in bytes: some hundred times a large board.
pub(crate) const LARGEST_TEXT: usize = 1 << 20;

/// What reading a family gives.
#[derive(Debug, Clone)]
pub struct Loaded {
    /// The family; none if any problem is an error.
    pub family: Option<Family>,
    /// Where things stand in the texts.
    pub spans: SpanMap,
    /// What is wrong, in the order of files and places.
    pub problems: Vec<Diagnostic>,
}

/// Reads a family; `texts[0]` is `family.toml`, the others are the boards that it lists.
#[must_use]
pub fn read(texts: &[Text]) -> Loaded {
    if texts.is_empty() {
        let says = "there is no `family.toml`".to_owned();
        return Loaded {
            family: None,
            spans: SpanMap::default(),
            problems: vec![Diagnostic::of_file("no-family", "family.toml", says)],
        };
    }
    let sink = Sink::default();
    let mut trees: Vec<Table> = texts
        .iter()
        .enumerate()
        .map(|(file, text)| tree(file, text, &sink))
        .collect();
    like::resolve(Reader::new(texts, &sink), &mut trees, catalog::tables());
    let mut notes = SpanNotes::default();
    let family = lower(Reader::new(texts, &sink), &trees, &mut notes);
    let problems = sink.finish(texts);
    let failed = problems.iter().any(|p| p.severity == Severity::Error);
    Loaded {
        family: family.filter(|_| !failed),
        spans: notes.finish(texts),
        problems,
    }
}

/// File names listed in `[family] boards`, as far as they can be read and may be loaded.
#[must_use]
pub fn board_files(family_toml: &str) -> Vec<String> {
    if family_toml.len() > LARGEST_TEXT {
        return Vec::new();
    }
    let tree = parse(0, family_toml, &Sink::default());
    let boards = tree
        .get("family")
        .and_then(Value::as_table)
        .and_then(|t| t.get("boards"));
    let Some(crate::document::Data::List(items)) = boards.map(|b| &b.data) else {
        return Vec::new();
    };
    let mut files: Vec<String> = Vec::new();
    for file in items.iter().filter_map(Value::as_text) {
        if family::stem(file).is_some() && !files.iter().any(|f| f == file) {
            files.push(file.to_owned());
        }
    }
    files
}

fn tree(file: usize, text: &Text, sink: &Sink) -> Table {
    if text.text.len() <= LARGEST_TEXT {
        return parse(file, &text.text, sink);
    }
    let says = format!(
        "{} has {} bytes, at most {LARGEST_TEXT} are read",
        quoted(&text.name),
        text.text.len()
    );
    sink.add(Problem::new("file-too-large", Spot::new(file, 0..0), says).label("too large"));
    Table::default()
}

fn lower(reader: Reader<'_>, trees: &[Table], notes: &mut SpanNotes) -> Option<Family> {
    let tree = trees.first()?;
    let home = Spot::new(0, 0..0);
    let root = Fields::of(reader, tree, family::TABLES, &home, "`family.toml`");
    spans::family(tree, notes);
    let head = table(&root, "family", family::FIELDS).map(|f| family::read(&f));
    let head = head.unwrap_or_default();
    let files = board_trees(reader, trees, &head, notes);
    let all = || std::iter::once(tree).chain(files.iter().map(|f| f.tree));
    let models = models(reader, all());
    let names = load_names(all());

    let requirement = match table(&root, "requirement", requirement::FIELDS) {
        Some(f) => requirement::read(&f),
        None => requirement::absent(),
    };
    let loads = family_loads(&root);
    let first_minus = loads
        .iter()
        .find(|l| l.pinned)
        .map(|l| l.load.minus.as_str());
    let connector =
        table(&root, "connector", connector::FIELDS).and_then(|f| connector::read(&f, first_minus));
    let boards = files
        .iter()
        .map(|f| {
            spans::board(f.tree, f.stem, &models, notes);
            board::read(reader, f.file, f.tree, f.stem, &models, connector.as_ref())
        })
        .collect();
    let profiles = profiles(&root, &names);
    let accepts = accepts(reader, tree, &files, notes);
    let (loads, boards) = join(reader, loads, boards, &names, connector.as_ref());
    Some(Family {
        name: head.name.to_owned(),
        requirement,
        connector: connector?,
        loads,
        profiles: profiles?,
        boards,
        accepts,
    })
}

/// What the family and its boards accept.
fn accepts(
    reader: Reader<'_>,
    tree: &Table,
    files: &[BoardFile<'_>],
    notes: &mut SpanNotes,
) -> Vec<Accept> {
    let family = accept::Source { board: None, tree };
    let boards = files.iter().map(|f| accept::Source {
        board: Some(f.stem),
        tree: f.tree,
    });
    let sources: Vec<accept::Source> = std::iter::once(family).chain(boards).collect();
    let mut accepts = Vec::new();
    for (accept, spot) in accept::read(reader, &sources) {
        notes.accept(spot);
        accepts.push(accept);
    }
    accepts
}

/// The models of the catalog and of the family.
fn models<'t>(reader: Reader<'t>, trees: impl Iterator<Item = &'t Table>) -> Models<'t> {
    let mut models = Models::new();
    catalog::take(reader, &mut models);
    for tree in trees {
        if let Some(table) = tree.get("models").and_then(|v| reader.table(v, "models")) {
            take_models(reader, &mut models, table);
        }
    }
    models
}

/// The fields of a table of the root.
fn table<'t>(
    root: &Fields<'t>,
    key: &str,
    known: &'static [crate::document::Field],
) -> Option<Fields<'t>> {
    let field = family::TABLES.iter().find(|f| f.key == key)?;
    let value = root.find(field)?;
    let table = root.reader.table(value, key)?;
    Some(Fields::of(
        root.reader,
        table,
        known,
        &value.spot,
        &format!("`[{key}]`"),
    ))
}

/// A board that is listed and whose text is there.
struct BoardFile<'a> {
    file: usize,
    tree: &'a Table,
    stem: &'a str,
}

fn board_trees<'a>(
    reader: Reader<'_>,
    trees: &'a [Table],
    head: &'a Head<'_>,
    notes: &mut SpanNotes,
) -> Vec<BoardFile<'a>> {
    let mut files = Vec::new();
    for (name, stem, spot) in &head.boards {
        notes.board(stem, name);
        let file = reader.texts.iter().skip(1).position(|t| t.name == *name);
        match file
            .map(|at| at + 1)
            .and_then(|at| Some((at, trees.get(at)?)))
        {
            Some((file, tree)) => files.push(BoardFile { file, tree, stem }),
            None => {
                let says = format!("the board file {} could not be read", quoted(name));
                let problem = Problem::new("missing-board", spot.clone(), says).label("this file");
                reader.report(problem);
            }
        }
    }
    files
}

fn family_loads<'t>(root: &Fields<'t>) -> Vec<Written<'t>> {
    let Some(table) = root
        .get("loads")
        .and_then(|v| root.reader.table(v, "loads"))
    else {
        return Vec::new();
    };
    let mut loads = Vec::new();
    for entry in &table.entries {
        let Some(table) = root.reader.table(&entry.value, &entry.key) else {
            continue;
        };
        let what = format!("load `{}`", entry.key);
        let f = Fields::of(root.reader, table, load::FIELDS, &entry.key_spot, &what);
        loads.extend(load::read(&f, entry));
    }
    loads
}

fn profiles(root: &Fields<'_>, names: &LoadNames<'_>) -> Option<Vec<Profile>> {
    let Some(table) = root
        .get("profiles")
        .and_then(|v| root.reader.table(v, "profiles"))
    else {
        return Some(Vec::new());
    };
    let mut profiles = Vec::new();
    for entry in &table.entries {
        let Some(table) = root.reader.table(&entry.value, &entry.key) else {
            continue;
        };
        let what = format!("profile `{}`", entry.key);
        let f = Fields::of(root.reader, table, profile::FIELDS, &entry.key_spot, &what);
        profiles.extend(profile::read(&f, &entry.key, names));
    }
    Some(profiles)
}

/// Names of loads and of their states as they stand in the tables, so that a load with a mistake in it
/// is no unknown load elsewhere.
fn load_names<'t>(trees: impl IntoIterator<Item = &'t Table>) -> LoadNames<'t> {
    let mut names = LoadNames::new();
    for tree in trees {
        let loads = tree.get("loads").and_then(Value::as_table);
        for entry in loads.into_iter().flat_map(|t| &t.entries) {
            let states = entry.value.as_table().and_then(|t| t.get("states"));
            let states = states.and_then(Value::as_table);
            let states = states.into_iter().flat_map(|t| &t.entries);
            names.push((&entry.key, states.map(|s| s.key.as_str()).collect()));
        }
    }
    names
}
