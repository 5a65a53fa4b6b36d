//! Whose values a form shows: a part of a board, a load with its states, a task with its steps.

use lastvolt_input::{Key, Owner, Shape, Text, keys, model_keys};
use maud::{Markup, html};

use super::super::locate::{Node, Step, find};
use super::super::owner::kind;
use super::super::splice::parse;
use super::fields::{Source, unwritten_fields};
use super::{Field, Form};
use crate::cli::load::{FAMILY_FILE, Family, sha256};

fn key(name: &str) -> Step {
    Step::Key(name.to_owned())
}

/// The text of the file of a board.
fn board_text<'f>(family: &'f Family, board: &str) -> Option<&'f Text> {
    let place = family.spans.find(Some(board), "", None)?;
    family.texts.iter().find(|t| t.name == place.file)
}

/// The form of a part of a board.
pub(crate) fn part_form(
    family: &Family,
    boards: &[String],
    profile: Option<&str>,
    (board, part): (&str, &str),
) -> Markup {
    let Some(text) = board_text(family, board) else {
        return html! {};
    };
    let Ok(document) = parse(&text.text) else {
        return html! {};
    };
    let home = [key("parts"), key(part)];
    let source = Source {
        text: &text.text,
        root: document.as_table(),
    };
    let word = kind(source.root, &home).unwrap_or_default();
    let known = keys(Owner::Part(&word));
    let written = source.written(&home, &known);
    let mut more = unwritten_fields(&home, &known, &written);
    let model = written.iter().find(|f| f.label == "model");
    let model = model.and_then(|f| f.now.as_deref());
    let model = model.and_then(|name| from_model(family, name, &mut more));
    Form {
        file: &text.name,
        base: sha256(&text.text),
        boards,
        profile,
        kind: Some(&word),
        written,
        model,
        more,
    }
    .markup()
}

/// Takes what a model brings out of what may be added.
fn from_model(family: &Family, name: &str, more: &mut Vec<Field>) -> Option<(String, Vec<Field>)> {
    let model = model_keys(&family.texts, name)?;
    let mut brought = Vec::new();
    more.retain_mut(|field| {
        let Some((_, value)) = model.values.iter().find(|v| v.0 == field.label) else {
            return true;
        };
        field.instead = Some(format!("`{}` from the model", value.replace('`', "'")));
        brought.push(field.clone());
        false
    });
    let place = model.file.unwrap_or_else(|| "built in".to_owned());
    Some((format!("{name} ({place})"), brought))
}

/// The form of a load, of a board or of the family.
pub(crate) fn load_form(
    family: &Family,
    boards: &[String],
    profile: Option<&str>,
    (board, load): (&str, &str),
) -> Markup {
    let own = board_text(family, board);
    let home = [key("loads"), key(load)];
    let texts = own.into_iter().chain(family.texts.first());
    for text in texts {
        let Ok(document) = parse(&text.text) else {
            continue;
        };
        let source = Source {
            text: &text.text,
            root: document.as_table(),
        };
        if find(source.root, &home).is_some() {
            let form = load_fields(source, text, &home);
            return Form {
                boards,
                profile,
                ..form
            }
            .markup();
        }
    }
    html! {}
}

fn load_fields<'a>(source: Source<'a>, text: &'a Text, home: &[Step]) -> Form<'a> {
    let known: Vec<Key> = keys(Owner::Load);
    let mut written = Vec::new();
    let names = find(source.root, home).map(Node::keys).unwrap_or_default();
    for name in names {
        let mut path = home.to_vec();
        path.push(key(name));
        if name == "states" {
            states(source, &path, &mut written);
        } else {
            let known = known.iter().find(|k| k.key == name);
            source.one(&path, name.to_owned(), known, &mut written);
        }
    }
    let more = unwritten_fields(home, &known, &written);
    Form {
        file: &text.name,
        base: sha256(&text.text),
        boards: &[],
        profile: None,
        kind: None,
        written,
        model: None,
        more,
    }
}

/// A field a state, or one for each key of a state that is a table of its own keys.
fn states(source: Source<'_>, path: &[Step], out: &mut Vec<Field>) {
    let inner = keys(Owner::State);
    let names = find(source.root, path).map(Node::keys).unwrap_or_default();
    for name in names {
        let mut path = path.to_vec();
        path.push(key(name));
        let node = find(source.root, &path);
        let whole = |n: Node<'_>| n.keys().iter().all(|k| !inner.iter().any(|i| i.key == *k));
        let mut state = Key {
            key: "states",
            holds: "a current".to_owned(),
            doc: "what it draws in this state",
            example: "",
            absent: lastvolt_input::Absent::Refused,
            shape: Shape::Spread,
            unit: None,
            inner: Vec::new(),
        };
        if !node.is_none_or(whole) {
            state.shape = Shape::Table;
            state.inner.clone_from(&inner);
        }
        source.one(&path, format!("states.{name}"), Some(&state), out);
    }
}

/// The form of a task of a profile.
pub(crate) fn task_form(family: &Family, boards: &[String], profile: &str, task: &str) -> Markup {
    let Some(text) = family.texts.iter().find(|t| t.name == FAMILY_FILE) else {
        return html! {};
    };
    let Ok(document) = parse(&text.text) else {
        return html! {};
    };
    let source = Source {
        text: &text.text,
        root: document.as_table(),
    };
    let tasks = [key("profiles"), key(profile), key("tasks")];
    let Some(home) = named(source, &tasks, task) else {
        return html! {};
    };
    let known = keys(Owner::Task);
    let mut written = Vec::new();
    let names = find(source.root, &home).map(Node::keys).unwrap_or_default();
    for name in names {
        let mut path = home.clone();
        path.push(key(name));
        if name == "steps" {
            steps(source, &path, &mut written);
        } else {
            let known = known.iter().find(|k| k.key == name);
            source.one(&path, name.to_owned(), known, &mut written);
        }
    }
    let more = unwritten_fields(&home, &known, &written);
    Form {
        file: &text.name,
        base: sha256(&text.text),
        boards,
        profile: Some(profile),
        kind: None,
        written,
        model: None,
        more,
    }
    .markup()
}

/// The item of a list of tables that has a name.
fn named(source: Source<'_>, list: &[Step], name: &str) -> Option<Vec<Step>> {
    let count = find(source.root, list)?.count();
    let items = (0..count).map(|at| {
        let mut path = list.to_vec();
        path.push(Step::At(at));
        path
    });
    items.into_iter().find(|item| {
        let mut path = item.clone();
        path.push(key("name"));
        find(source.root, &path).and_then(Node::text) == Some(name)
    })
}

/// The fields of the steps of a task, one after the other.
fn steps(source: Source<'_>, path: &[Step], out: &mut Vec<Field>) {
    let known = keys(Owner::Step);
    let count = find(source.root, path).map_or(0, Node::count);
    for at in 0..count {
        let mut path = path.to_vec();
        path.push(Step::At(at));
        for field in source.written(&path, &known) {
            let own = field.label.strip_prefix("set.").unwrap_or(&field.label);
            let label = format!("step {}: {own}", at + 1);
            out.push(Field { label, ..field });
        }
    }
}
