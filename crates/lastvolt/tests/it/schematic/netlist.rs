//! What a drawing must show, read from the files that a user writes, apart from the program.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use toml::{Table, Value};

/// A pin as its file says it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Pin {
    pub(super) part: String,
    pub(super) name: String,
    /// Its net; none where the file leaves it open.
    pub(super) net: Option<String>,
}

/// A board as its files say it.
#[derive(Debug, Clone)]
pub(super) struct Netlist {
    pub(super) board: String,
    pub(super) parts: Vec<String>,
    pub(super) pins: Vec<Pin>,
    pub(super) connector: Vec<String>,
    pub(super) ground: String,
}

/// Every board of a family.
pub(super) fn boards(folder: &Path) -> Vec<Netlist> {
    let family = table(&folder.join("family.toml"));
    let files = &family["family"]["boards"];
    let files = texts(files);
    let connector = texts(&family["connector"]["pins"]);
    let ground = ground(&family, &connector);
    let board = |file: &String| {
        let stem = file.strip_suffix(".toml").unwrap_or(file);
        netlist(stem, &table(&folder.join(file)), &connector, &ground)
    };
    files.iter().map(board).collect()
}

fn table(path: &Path) -> Table {
    let text = fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    toml::from_str(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

fn texts(value: &Value) -> Vec<String> {
    let items = value.as_array().expect("a list");
    let text = |v: &Value| v.as_str().expect("a text").to_owned();
    items.iter().map(text).collect()
}

/// The pin that everything is measured against, by the rule of the guide.
fn ground(family: &Table, connector: &[String]) -> String {
    let stated = family["connector"].get("ground").and_then(Value::as_str);
    let usual = connector.iter().map(String::as_str).find(|p| *p == "GND");
    let loads = family.get("loads").and_then(Value::as_table);
    let first = loads.and_then(|l| l.values().next());
    let minus = first
        .and_then(|l| l.get("pins"))
        .and_then(|p| p.get("minus"));
    let found = stated.or(usual).or(minus.and_then(Value::as_str));
    let last = connector.last().map(String::as_str);
    found.or(last).expect("a ground").to_owned()
}

fn netlist(name: &str, board: &Table, connector: &[String], ground: &str) -> Netlist {
    let parts = board["parts"].as_table().expect("parts");
    let mut pins = Vec::new();
    for (part, written) in parts {
        pins.extend(pins_of(part, written));
    }
    let mut names: Vec<String> = parts.keys().cloned().collect();
    // A load of the board that names its nets itself stands in the drawing under its own name.
    let loads = board.get("loads").and_then(Value::as_table);
    for (load, written) in loads.into_iter().flatten() {
        let Some(of) = written.get("pins").and_then(Value::as_table) else {
            continue;
        };
        names.push(load.clone());
        pins.extend(of.iter().map(|(pin, net)| Pin {
            part: load.clone(),
            name: pin.clone(),
            net: net.as_str().map(str::to_owned),
        }));
    }
    Netlist {
        board: name.to_owned(),
        parts: names,
        pins,
        connector: connector.to_owned(),
        ground: ground.to_owned(),
    }
}

fn pins_of(part: &str, written: &Value) -> Vec<Pin> {
    let kind = written["kind"].as_str().expect("a kind");
    let pin = |name: &str, net: Option<&str>| Pin {
        part: part.to_owned(),
        name: name.to_owned(),
        net: net.map(str::to_owned),
    };
    let mut out = Vec::new();
    match written.get("pins") {
        Some(Value::Table(table)) => {
            out.extend(table.iter().map(|(name, net)| pin(name, net.as_str())));
        }
        Some(list @ Value::Array(_)) => {
            let nets = texts(list);
            let names = listed(kind);
            out.extend(
                names
                    .iter()
                    .zip(&nets)
                    .map(|(name, net)| pin(name, Some(net))),
            );
        }
        _ => {}
    }
    let open = written.get("open").map(texts).unwrap_or_default();
    // Throws of a switch that only its positions name are pins all the same.
    let thrown = written.get("positions").and_then(Value::as_table);
    let thrown = thrown.into_iter().flat_map(|t| t.values());
    let thrown = thrown.flat_map(|v| v.as_array().expect("pairs"));
    let spare: BTreeSet<String> = open.into_iter().chain(thrown.flat_map(texts)).collect();
    for name in spare {
        if out.iter().all(|p| p.name != name) {
            out.push(pin(&name, None));
        }
    }
    out
}

/// Names of the pins of a kind whose nets are listed without them.
fn listed(kind: &str) -> &'static [&'static str] {
    match kind {
        "cell" | "supply" | "load" => &["plus", "minus"],
        "diode" | "zener" | "led" => &["anode", "cathode"],
        "test-point" => &["1"],
        _ => &["1", "2"],
    }
}
