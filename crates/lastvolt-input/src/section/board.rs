//! A board file: its parts, its nets and its own loads.

use std::collections::BTreeMap;

use lastvolt_core::model::{Board, Connector, Device, Load, Part};

use super::load::{self, Written};
use super::model::Models;
use super::part;
use crate::diagnostic::Problem;
use crate::document::{Entry, Field, Fields, Reader, Table, Value};
use crate::place::Spot;
use crate::suggest::quoted;

const TITLE: Field = Field::text("title", "title of the board, for people")
    .otherwise("its name")
    .example("\"Two AAA cells, step-up/down\"");
const PARTS: Field = Field::other(
    "parts",
    "tables `[parts.NAME]`",
    "the parts, by reference designator",
)
.required()
.example("{}");

/// The tables and keys that a board file may have.
pub(crate) const FIELDS: &[Field] = &[
    TITLE,
    PARTS,
    Field::other(
        "loads",
        "tables `[loads.NAME]`",
        "loads of this board alone",
    ),
    Field::other("models", "tables `[models.NAME]`", "models of parts"),
    Field::other(
        super::accept::KEY,
        "tables `[[accept]]`",
        "findings of this board that are known and meant to be so",
    ),
];

/// Nets of a board in order of first mention.
#[derive(Default)]
pub(crate) struct Nets {
    names: Vec<String>,
    places: BTreeMap<String, usize>,
}

impl Nets {
    /// The place of a net, which is added if it is new.
    pub(crate) fn place(&mut self, name: &str) -> usize {
        if let Some(&at) = self.places.get(name) {
            return at;
        }
        self.names.push(name.to_owned());
        self.places.insert(name.to_owned(), self.names.len() - 1);
        self.names.len() - 1
    }

    fn has(&self, name: &str) -> bool {
        self.places.contains_key(name)
    }
}

/// A board as read, with what is checked when the family is whole.
pub(crate) struct Read<'t> {
    /// The board; its loads are not in yet.
    pub(crate) board: Board,
    /// Its own loads.
    pub(crate) loads: Vec<Written<'t>>,
    /// Loads that parts attach.
    pub(crate) attached: Vec<Attached>,
}

/// A load that a part attaches.
pub(crate) struct Attached {
    /// Name of the load.
    pub(crate) load: String,
    /// Where the name stands.
    pub(crate) spot: Spot,
    /// Net of its positive pin.
    pub(crate) plus: String,
    /// Net of its negative pin.
    pub(crate) minus: String,
}

/// Reads a board file.
pub(crate) fn read<'t>(
    reader: Reader<'t>,
    file: usize,
    table: &'t Table,
    name: &str,
    models: &Models<'t>,
    connector: Option<&Connector>,
) -> Read<'t> {
    let home = Spot::new(file, 0..0);
    let f = Fields::of(reader, table, FIELDS, &home, &format!("board `{name}`"));
    let title = f.text(&TITLE).unwrap_or(name).to_owned();
    let mut nets = Nets::default();
    let mut parts = Vec::new();
    let mut attached = Vec::new();
    if let Some(table) = f.find(&PARTS).and_then(|v| reader.table(v, PARTS.key)) {
        if table.entries.is_empty() {
            let says = format!("board `{name}` has no parts");
            reader.report(Problem::new("empty-board", home.clone(), says).label("no parts"));
        }
        for entry in &table.entries {
            let Some(part) = part::read(reader, entry, models, &mut nets) else {
                continue;
            };
            if let Device::Load(load) = &part.device {
                attached.extend(attach(&part, load, entry, &nets));
            }
            parts.push((part, &entry.key_spot));
        }
    }
    let loads = loads(&f, &parts);
    if let Some(connector) = connector.filter(|_| !parts.is_empty()) {
        if !connector.pins.iter().any(|pin| nets.has(pin)) {
            let says = format!(
                "no part of board `{name}` is on a pin of the connector ({})",
                connector.pins.join(", ")
            );
            reader.report(Problem::new("not-on-connector", home.clone(), says).label("this board"));
        }
        check_means(reader, &parts, table, &nets, connector);
    }
    let board = Board {
        name: name.to_owned(),
        title,
        nets: nets.names,
        parts: parts.into_iter().map(|p| p.0).collect(),
        loads: Vec::new(),
    };
    Read {
        board,
        loads,
        attached,
    }
}

fn attach(part: &Part, load: &str, entry: &Entry, nets: &Nets) -> Option<Attached> {
    let value = entry.value.as_table().and_then(|t| t.get("load"));
    let spot = value.map_or(&entry.key_spot, |v| &v.spot);
    let net = |pin: &str| part.net(pin).and_then(|at| nets.names.get(at)).cloned();
    Some(Attached {
        load: load.to_owned(),
        spot: spot.clone(),
        plus: net("plus")?,
        minus: net("minus")?,
    })
}

fn loads<'t>(f: &Fields<'t>, parts: &[(Part, &Spot)]) -> Vec<Written<'t>> {
    let Some(table) = f.get("loads").and_then(|v| f.reader.table(v, "loads")) else {
        return Vec::new();
    };
    let mut loads = Vec::new();
    for entry in &table.entries {
        if let Some(part) = parts.iter().find(|p| p.0.name == entry.key) {
            let says = format!("the load {} has the name of a part", quoted(&entry.key));
            let problem = Problem::new("duplicate-name", entry.key_spot.clone(), says)
                .label("the load")
                .related(part.1.clone(), "the part");
            f.reader.report(problem);
        }
        let Some(table) = f.reader.table(&entry.value, &entry.key) else {
            continue;
        };
        let what = format!("load `{}`", entry.key);
        let t = Fields::of(f.reader, table, load::FIELDS, &entry.key_spot, &what);
        if let Some(on) = table.entry("on") {
            let says = "`on` belongs to loads of the family, this one is of one board";
            let problem = Problem::new("unknown-key", on.key_spot.clone(), says);
            f.reader.report(problem.label("not here"));
        }
        loads.extend(load::read(&t, entry));
    }
    loads
}

/// Nets that positions promise must be nets of the board or pins of the connector.
fn check_means(
    reader: Reader<'_>,
    parts: &[(Part, &Spot)],
    table: &Table,
    nets: &Nets,
    connector: &Connector,
) {
    let written = table.get(PARTS.key).and_then(Value::as_table);
    for (part, _) in parts {
        let Device::Switch(switch) = &part.device else {
            continue;
        };
        let means = written
            .and_then(|p| p.get(&part.name))
            .and_then(Value::as_table)
            .and_then(|t| t.get("means"))
            .and_then(Value::as_table);
        for position in &switch.positions {
            let Some(value) = means.and_then(|m| m.get(&position.name)) else {
                continue;
            };
            for (net, spot) in reader.names(value, "means") {
                if !nets.has(net) && !connector.pins.iter().any(|p| p == net) {
                    let known: Vec<&str> = nets
                        .names
                        .iter()
                        .chain(&connector.pins)
                        .map(String::as_str)
                        .collect();
                    reader.unknown_name(spot, "net", net, known);
                }
            }
        }
    }
}

/// Adds the nets of a load to a board that does not mention them, so that each load sits on nets.
pub(crate) fn add_nets(board: &mut Board, load: &Load) {
    for net in [&load.plus, &load.minus] {
        if !board.nets.contains(net) {
            board.nets.push(net.clone());
        }
    }
}
