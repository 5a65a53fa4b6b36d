//! Notes where parts, pins, keys, loads, states, profiles, tasks and requirements stand.

use crate::assumed::assumed;
use crate::document::{Data, Table, Value};
use crate::place::SpanNotes;
use crate::section::model::Models;

/// Notes what `family.toml` says.
pub(crate) fn family(tree: &Table, notes: &mut SpanNotes) {
    for key in ["family", "requirement", "connector"] {
        if let Some(entry) = tree.entry(key) {
            notes.add(None, key, None, entry.key_spot.clone());
            keys(None, key, "", &entry.value, notes);
        }
    }
    loads(None, tree, notes);
    let profiles = tree.get("profiles").and_then(Value::as_table);
    for entry in profiles.iter().flat_map(|t| &t.entries) {
        for name in [entry.key.clone(), format!("profiles.{}", entry.key)] {
            notes.add(None, &name, None, entry.key_spot.clone());
            keys(None, &name, "", &entry.value, notes);
            let tasks = entry.value.as_table().and_then(|t| t.get("tasks"));
            let Some(Data::List(items)) = tasks.map(|t| &t.data) else {
                continue;
            };
            for task in items.iter().filter_map(Value::as_table) {
                if let Some(called) = task.get("name")
                    && let Some(text) = called.as_text()
                {
                    notes.add(None, &name, Some(text), called.spot.clone());
                    for entry in &task.entries {
                        let key = format!("{text}.{}", entry.key);
                        notes.add(None, &name, Some(&key), entry.value.spot.clone());
                    }
                }
            }
        }
    }
}

/// Notes what a board file says.
pub(crate) fn board(tree: &Table, board: &str, models: &Models<'_>, notes: &mut SpanNotes) {
    if let Some(title) = tree.get("title") {
        notes.add(Some(board), "", Some("title"), title.spot.clone());
    }
    let parts = tree.get("parts").and_then(Value::as_table);
    for entry in parts.iter().flat_map(|t| &t.entries) {
        notes.add(Some(board), &entry.key, None, entry.key_spot.clone());
        let Some(table) = entry.value.as_table() else {
            continue;
        };
        pins(board, &entry.key, table, notes);
        keys(Some(board), &entry.key, "", &entry.value, notes);
        let model = table.get("model").and_then(Value::as_text);
        if let Some(model) = model.and_then(|m| models.get(m)) {
            // Keys of the built-in catalog stand in no file of the family and are left out at the end.
            keys(Some(board), &entry.key, "", &model.entry.value, notes);
        }
    }
    loads(Some(board), tree, notes);
    notes.assumed(board, assumed(tree, models));
}

fn loads(board: Option<&str>, tree: &Table, notes: &mut SpanNotes) {
    let loads = tree.get("loads").and_then(Value::as_table);
    for entry in loads.iter().flat_map(|t| &t.entries) {
        for name in [entry.key.clone(), format!("loads.{}", entry.key)] {
            notes.add(board, &name, None, entry.key_spot.clone());
            keys(board, &name, "", &entry.value, notes);
            let states = entry.value.as_table().and_then(|t| t.get("states"));
            for state in states
                .and_then(Value::as_table)
                .iter()
                .flat_map(|t| &t.entries)
            {
                notes.add(board, &name, Some(&state.key), state.key_spot.clone());
            }
        }
    }
}

/// Pins by name: `gate`, and the listed nets of a two-pin part as `1`, `2`.
fn pins(board: &str, part: &str, table: &Table, notes: &mut SpanNotes) {
    match table.get("pins").map(|v| &v.data) {
        Some(Data::Table(pins)) => {
            for pin in &pins.entries {
                notes.add(Some(board), part, Some(&pin.key), pin.value.spot.clone());
            }
        }
        Some(Data::List(items)) => {
            for (at, item) in items.iter().enumerate() {
                let names: [&[&str]; 2] = [&["1", "plus", "anode"], &["2", "minus", "cathode"]];
                for name in names.get(at).copied().unwrap_or(&[]) {
                    notes.add(Some(board), part, Some(name), item.spot.clone());
                }
            }
        }
        _ => {}
    }
}

/// Keys of a table, those of nested tables with dots.
fn keys(board: Option<&str>, part: &str, path: &str, value: &Value, notes: &mut SpanNotes) {
    for entry in value.as_table().iter().flat_map(|t| &t.entries) {
        let key = if path.is_empty() {
            entry.key.clone()
        } else {
            format!("{path}.{}", entry.key)
        };
        notes.add(board, part, Some(&key), entry.value.spot.clone());
        keys(board, part, &key, &entry.value, notes);
    }
}
