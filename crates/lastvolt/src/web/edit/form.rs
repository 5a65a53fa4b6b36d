//! Forms for the values of a part, a load or a task: what is written, what comes from a model, what may be
//! added. Each field has its key for a label, and says its unit and meaning.

mod fields;
mod owners;

use lastvolt_input::{Absent, Key, Shape};
use maud::{Markup, html};

pub(crate) use owners::{load_form, part_form, task_form};

use super::history::{Edits, Way};
use super::locate::Step;
use super::nearby::{neighbours, series};

/// One field of a form.
#[derive(Debug, Clone)]
pub(super) struct Field {
    /// Where its value stands.
    pub(super) path: Vec<Step>,
    /// Its key, those of nested tables with dots.
    pub(super) label: String,
    /// The value as typed; none where the key is not written.
    pub(super) now: Option<String>,
    /// What is known of the key.
    pub(super) key: Option<Key>,
    /// What holds as long as it is not written.
    pub(super) instead: Option<String>,
}

/// A form.
pub(super) struct Form<'a> {
    /// The file that its values stand in.
    pub(super) file: &'a str,
    /// Digest of the file.
    pub(super) base: String,
    /// The boards of the page.
    pub(super) boards: &'a [String],
    /// The profile of the page.
    pub(super) profile: Option<&'a str>,
    /// The kind of part, where it is one.
    pub(super) kind: Option<&'a str>,
    /// What is written.
    pub(super) written: Vec<Field>,
    /// What comes from a model, and which one.
    pub(super) model: Option<(String, Vec<Field>)>,
    /// What may be added.
    pub(super) more: Vec<Field>,
}

impl Form<'_> {
    /// The form.
    pub(super) fn markup(&self) -> Markup {
        let boards = serde_json::json!(self.boards).to_string();
        let mut at = 0;
        let mut group = |fields: &[Field]| {
            let first = at;
            at += fields.len();
            let each = fields.iter().enumerate();
            let each: Vec<Markup> = each.map(|(n, f)| self.field(first + n, f)).collect();
            html! { @for field in &each { (field) } }
        };
        html! {
            section.edit #edit aria-labelledby="edit-head" data-edit data-file=(self.file) data-base=(self.base)
                data-boards=(boards) data-profile=[self.profile] {
                h3 #edit-head { "Values in " code { (self.file) } }
                form novalidate autocomplete="off" {
                    (group(&self.written))
                    @if let Some((name, fields)) = &self.model { @if !fields.is_empty() {
                        details.edit-more {
                            summary { "From the model " (name) ": " (fields.len()) }
                            p.quiet { "What is written here wins over the model, for this part alone." }
                            (group(fields))
                        }
                    } }
                    @if !self.more.is_empty() {
                        details.edit-more {
                            summary { "Add a value: " (self.more.len()) " may be added" }
                            (group(&self.more))
                        }
                    }
                    div #edit-elsewhere {}
                    div.edit-foot {
                        div #edit-preview.edit-preview role="status" aria-live="polite" {}
                        p.edit-actions {
                            button.main type="submit" data-edit-save disabled { "Save" }
                            button type="button" data-edit-drop disabled { "Give up" }
                        }
                    }
                }
            }
        }
    }

    fn field(&self, at: usize, field: &Field) -> Markup {
        let id = format!("edit-{at}");
        let path = path_text(&field.path);
        let now = field.now.clone().unwrap_or_default();
        let described = format!("{id}-doc {id}-says");
        let optional = field.now.is_some()
            && field
                .key
                .as_ref()
                .is_some_and(|k| k.absent != Absent::Refused);
        html! {
            div.edit-field {
                label for=(id) { code { (field.label) } }
                div.edit-control {
                    (control(&id, &path, field, &now, &described))
                    @if optional {
                        button type="button" data-edit-out=(id) aria-label={ "Leave " (field.label) " out" } aria-pressed="false" { "leave out" }
                    }
                }
                p.edit-doc id={ (id) "-doc" } { (about(field)) }
                (self.nearby(&id, field))
                div.edit-says id={ (id) "-says" } {}
            }
        }
    }

    /// Neighbours of a value in its series.
    fn nearby(&self, id: &str, field: &Field) -> Markup {
        let known = self
            .kind
            .and_then(series)
            .filter(|_| field.label == "value");
        let (Some((series, name, unit)), Some(now)) = (known, &field.now) else {
            return html! {};
        };
        let values = neighbours(now, series, unit);
        html! {
            @if !values.is_empty() {
                div.edit-nearby {
                    span { "nearby in " (name) ":" }
                    @for value in &values { button type="button" data-fill=(value) data-for=(id) { (value) } }
                    button type="button" data-edit-nearby=(id) { "What each does to the life" }
                    div id={ (id) "-near" } role="status" {}
                }
            }
        }
    }
}

/// What can be undone and redone.
pub(crate) fn history_bar(edits: &Edits) -> Markup {
    let (undo, redo) = {
        let history = edits.history();
        (history.words(Way::Undo), history.words(Way::Redo))
    };
    html! {
        @if undo.is_some() || redo.is_some() {
            p.edit-actions.edit-history {
                @if let Some(words) = &undo { button type="button" data-edit-step="undo" { "Undo " (words) } }
                @if let Some(words) = &redo { button type="button" data-edit-step="redo" { "Redo " (words) } }
            }
        }
    }
}

/// A path for the page, which sends it back as it is.
fn path_text(path: &[Step]) -> String {
    let steps = path.iter().map(|step| match step {
        Step::At(at) => serde_json::json!(at),
        Step::Key(key) => serde_json::json!(key),
    });
    serde_json::Value::Array(steps.collect()).to_string()
}

/// Longest value that is edited on one line.
const LINE: usize = 60;

fn control(id: &str, path: &str, field: &Field, now: &str, described: &str) -> Markup {
    let shape = field.key.as_ref().map_or(Shape::Other, |k| k.shape);
    let written = field.now.is_some();
    let words: &[&str] = match shape {
        Shape::Word(words) => words,
        Shape::Flag => &["true", "false"],
        _ => &[],
    };
    if !words.is_empty() {
        let foreign = written && !words.contains(&now);
        return html! {
            select id=(id) data-path=(path) data-now=(now) data-absent[!written] aria-describedby=(described) {
                @if !written { option value="" selected { "not written" } }
                @if foreign { option value=(now) selected { (now) } }
                @for word in words { option value=(word) selected[written && *word == now] { (word) } }
            }
        };
    }
    if now.contains('\n') || LINE < now.chars().count() {
        let rows = now.lines().count().clamp(2, 12);
        return html! {
            textarea id=(id) data-path=(path) data-now=(now) rows=(rows) spellcheck="false"
                aria-describedby=(described) { "\n" (now) }
        };
    }
    html! {
        input type="text" id=(id) data-path=(path) data-now=(now) value=(now) data-absent[!written]
            spellcheck="false" autocapitalize="off" autocomplete="off" aria-describedby=(described);
    }
}

/// What a field holds and means, and what holds without it.
fn about(field: &Field) -> Markup {
    let Some(key) = &field.key else {
        return html! {};
    };
    let example = key.example.trim_matches('"');
    let told = matches!(key.shape, Shape::Word(_) | Shape::Text | Shape::Flag);
    html! {
        (marked(&sentence(key.doc)))
        @if !told { " Takes " (marked(&key.holds)) "." }
        @if let Some(instead) = &field.instead { " Now " (marked(instead)) "." }
        @else if field.now.is_none() {
            @match key.absent {
                Absent::Default(text) if !text.is_empty() => { " Now " code { (text) } "." }
                Absent::Otherwise(words) => { " Now " (marked(words)) "." }
                _ => {}
            }
            @if !example.is_empty() && example.len() < LINE { " For example " code { (example) } "." }
        }
    }
}

/// A meaning as a sentence.
fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    let first = chars.next().into_iter().flat_map(char::to_uppercase);
    first.chain(chars).chain(['.']).collect()
}

/// A text in which back quotes set what is as in a file.
fn marked(text: &str) -> Markup {
    html! {
        @for (at, piece) in text.split('`').enumerate() {
            @if at % 2 == 1 { code { (piece) } } @else { (piece) }
        }
    }
}
