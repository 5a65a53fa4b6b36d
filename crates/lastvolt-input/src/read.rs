//! Puts a family together: files, models, loads, boards and what must fit between them.

use std::collections::BTreeMap;

use lastvolt_core::model::{Connector, Family, Load};

use crate::diagnostic::{Diagnostic, Problem, Sink};
use crate::document::{Fields, Reader, Table, Value, parse};
use crate::place::{SpanMap, SpanNotes, Spot};
use crate::section::board::{self, Read};
use crate::section::family::Head;
use crate::section::load::Written;
use crate::section::model::{Models, take_models};
use crate::section::{connector, family, load, profile, requirement};
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
    let trees: Vec<Table> = texts
        .iter()
        .enumerate()
        .map(|(file, text)| tree(file, text, &sink))
        .collect();
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
    let root = Fields::of(
        reader,
        trees.first()?,
        family::TABLES,
        &Spot::new(0, 0..0),
        "`family.toml`",
    );
    spans::family(&trees[0], notes);
    let head = table(&root, "family", family::FIELDS).map(|f| family::read(&f));
    let head = head.unwrap_or(Head {
        name: "",
        boards: Vec::new(),
    });
    let files = board_trees(reader, trees, &head, notes);

    let mut models = Models::new();
    catalog::take(reader, &mut models);
    for tree in std::iter::once(&trees[0]).chain(files.iter().map(|f| f.tree)) {
        if let Some(table) = tree.get("models").and_then(|v| reader.table(v, "models")) {
            take_models(reader, &mut models, table);
        }
    }

    let requirement = match table(&root, "requirement", requirement::FIELDS) {
        Some(f) => requirement::read(&f),
        None => requirement::absent(),
    };
    let loads = family_loads(&root);
    let first_minus = loads
        .iter()
        .find(|l| l.0.pinned)
        .map(|l| l.0.load.minus.clone());
    let connector = table(&root, "connector", connector::FIELDS)
        .and_then(|f| connector::read(&f, first_minus.as_deref()));

    let boards: Vec<Read<'_>> = files
        .iter()
        .map(|f| {
            spans::board(f.tree, f.stem, &models, notes);
            board::read(reader, f.file, f.tree, f.stem, &models, connector.as_ref())
        })
        .collect();
    let profiles = profiles(&root, &loads, &boards);
    let mut join = Join {
        reader,
        loads,
        boards,
        connector: connector.as_ref(),
    };
    join.check_on();
    join.attach();
    join.check_nets();
    let (loads, boards) = join.finish();
    Some(Family {
        name: head.name.to_owned(),
        requirement,
        connector: connector?,
        loads,
        profiles: profiles?,
        boards,
    })
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

fn family_loads<'t>(root: &Fields<'t>) -> Vec<(Written, &'t Spot)> {
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
        if let Some(written) = load::read(&f, &entry.key) {
            loads.push((written, &entry.key_spot));
        }
    }
    loads
}

fn profiles(
    root: &Fields<'_>,
    loads: &[(Written, &Spot)],
    boards: &[Read<'_>],
) -> Option<Vec<lastvolt_core::model::Profile>> {
    let Some(table) = root
        .get("profiles")
        .and_then(|v| root.reader.table(v, "profiles"))
    else {
        return Some(Vec::new());
    };
    let names: profile::LoadNames<'_> = loads
        .iter()
        .chain(boards.iter().flat_map(|b| &b.loads))
        .map(|(w, _)| {
            let states = w.load.states.iter().map(|s| s.name.as_str()).collect();
            (w.load.name.as_str(), states)
        })
        .collect();
    let mut profiles = Vec::new();
    for entry in &table.entries {
        let Some(table) = root.reader.table(&entry.value, &entry.key) else {
            continue;
        };
        let what = format!("profile `{}`", entry.key);
        let f = Fields::of(root.reader, table, profile::FIELDS, &entry.key_spot, &what);
        profiles.extend(profile::read(&f, &entry.key, &names));
    }
    Some(profiles)
}

/// What must fit between the loads of the family and the boards.
struct Join<'a, 't> {
    reader: Reader<'t>,
    loads: Vec<(Written, &'t Spot)>,
    boards: Vec<Read<'t>>,
    connector: Option<&'a Connector>,
}

impl Join<'_, '_> {
    /// Boards that loads are limited to must exist.
    fn check_on(&self) {
        let known: Vec<&str> = self.boards.iter().map(|b| b.board.name.as_str()).collect();
        for (written, spot) in &self.loads {
            for name in written.load.on.iter().flatten() {
                if !known.contains(&name.as_str()) {
                    let says = format!(
                        "load `{}` is limited to the board {}",
                        written.load.name,
                        quoted(name)
                    );
                    let mut problem = Problem::new(
                        "unknown-name",
                        (*spot).clone(),
                        format!("{says}, which is not in the family"),
                    )
                    .label("`on` names no board");
                    if let Some(near) = crate::suggest::nearest(name, known.iter().copied()) {
                        problem = problem.proposal(format!("did you mean `{near}`?"));
                    }
                    self.reader.report(problem);
                }
            }
        }
    }

    /// Loads without pins of their own go onto the nets of the parts that attach them.
    fn attach(&mut self) {
        let mut used: BTreeMap<String, usize> = BTreeMap::new();
        for board in &mut self.boards {
            for (name, spot, plus, minus) in &board.attached {
                let own = board.loads.iter().find(|l| l.0.load.name == *name);
                let written = own.or_else(|| self.loads.iter().find(|l| l.0.load.name == *name));
                let Some((written, place)) = written else {
                    let known: Vec<&str> = board
                        .loads
                        .iter()
                        .chain(&self.loads)
                        .map(|l| l.0.load.name.as_str())
                        .collect();
                    self.reader.unknown_name(spot, "load", name, known);
                    continue;
                };
                *used.entry(name.clone()).or_default() += 1;
                if written.pinned || board.board.loads.iter().any(|l| l.name == *name) {
                    let says = if written.pinned {
                        format!("load `{name}` has `pins` of its own and is attached here as well")
                    } else {
                        format!("load `{name}` is attached a second time")
                    };
                    let problem = Problem::new("attached-twice", spot.clone(), says)
                        .label("attached here")
                        .related((*place).clone(), "the load")
                        .proposal("delete `pins` of the load, or the part");
                    self.reader.report(problem);
                    continue;
                }
                board.board.loads.push(Load {
                    plus: plus.clone(),
                    minus: minus.clone(),
                    on: None,
                    ..written.load.clone()
                });
            }
            for (written, spot) in &board.loads {
                if self
                    .loads
                    .iter()
                    .any(|l| l.0.load.name == written.load.name)
                {
                    let says = format!(
                        "load `{}` is one of the family and one of the board",
                        written.load.name
                    );
                    self.reader.report(
                        Problem::new("duplicate-name", (*spot).clone(), says).label("second one"),
                    );
                }
                if written.pinned {
                    board.board.loads.push(written.load.clone());
                }
            }
        }
        let all = self
            .loads
            .iter()
            .chain(self.boards.iter().flat_map(|b| &b.loads));
        for (written, spot) in all {
            if !written.pinned && !used.contains_key(&written.load.name) {
                let says = format!(
                    "load `{}` has no `pins` and no part attaches it",
                    written.load.name
                );
                let problem = Problem::new("missing-key", (*spot).clone(), says)
                    .label("on no net")
                    .proposal("add `pins = { plus = \"VDD\", minus = \"GND\" }`");
                self.reader.report(problem);
            }
        }
        self.loads.retain(|l| l.0.pinned);
    }

    /// Loads and the nets they drive must be on the connector or on their boards.
    fn check_nets(&self) {
        let pins: Vec<&str> = self
            .connector
            .iter()
            .flat_map(|c| &c.pins)
            .map(String::as_str)
            .collect();
        if pins.is_empty() {
            return;
        }
        for (written, spot) in &self.loads {
            let load = &written.load;
            let on = |name: &String| load.on.as_ref().is_none_or(|on| on.contains(name));
            let boards: Vec<&Read<'_>> = self.boards.iter().filter(|b| on(&b.board.name)).collect();
            for net in [&load.plus, &load.minus] {
                let on_boards =
                    load.on.is_some() && boards.iter().all(|b| b.board.nets.contains(net));
                if !pins.contains(&net.as_str()) && !on_boards {
                    self.unknown_net(load, net, spot, pins.clone());
                }
            }
            for drive in &load.drives {
                let known: Vec<&str> = pins
                    .iter()
                    .copied()
                    .chain(
                        boards
                            .iter()
                            .flat_map(|b| b.board.nets.iter().map(String::as_str)),
                    )
                    .collect();
                if !known.contains(&drive.net.as_str()) {
                    self.unknown_net(load, &drive.net, spot, known);
                }
            }
        }
        for board in &self.boards {
            for (written, spot) in &board.loads {
                let load = &written.load;
                let known: Vec<&str> = board
                    .board
                    .nets
                    .iter()
                    .map(String::as_str)
                    .chain(pins.iter().copied())
                    .collect();
                let own = [&load.plus, &load.minus]
                    .into_iter()
                    .filter(|_| written.pinned);
                for net in own.chain(load.drives.iter().map(|d| &d.net)) {
                    if !known.contains(&net.as_str()) {
                        self.unknown_net(load, net, spot, known.clone());
                    }
                }
            }
        }
    }

    fn unknown_net(&self, load: &Load, net: &str, spot: &Spot, mut known: Vec<&str>) {
        known.sort_unstable();
        known.dedup();
        let says = format!(
            "load `{}` names the net {}, which is not on its boards",
            load.name,
            quoted(net)
        );
        let mut problem =
            Problem::new("unknown-name", spot.clone(), says).label("names an unknown net");
        problem = match crate::suggest::nearest(net, known.iter().copied()) {
            Some(near) => problem.proposal(format!("did you mean `{near}`?")),
            None => problem.proposal(format!("known nets: {}", crate::suggest::listed(known))),
        };
        self.reader.report(problem);
    }

    fn finish(self) -> (Vec<Load>, Vec<lastvolt_core::model::Board>) {
        let loads: Vec<Load> = self.loads.into_iter().map(|l| l.0.load).collect();
        let mut boards = Vec::new();
        for read in self.boards {
            let mut board = read.board;
            for load in &loads {
                if load.on.as_ref().is_none_or(|on| on.contains(&board.name)) {
                    board::add_nets(&mut board, load);
                }
            }
            for load in board.loads.clone() {
                board::add_nets(&mut board, &load);
            }
            boards.push(board);
        }
        (loads, boards)
    }
}
