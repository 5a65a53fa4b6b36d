//! Fields of a form from what stands in a file, and from what may stand there.

use lastvolt_input::{Key, Shape};

use super::super::locate::{Node, Step, find};
use super::super::quote::unwritten;
use super::Field;
use toml_edit::Table;

/// A file as it is edited.
#[derive(Clone, Copy)]
pub(super) struct Source<'a> {
    /// Its text.
    pub(super) text: &'a str,
    /// Its tables.
    pub(super) root: &'a Table,
}

impl Source<'_> {
    /// The fields of what is written in the table at a path, in the order of the file.
    pub(super) fn written(&self, path: &[Step], keys: &[Key]) -> Vec<Field> {
        let mut fields = Vec::new();
        self.collect(path, "", keys, &mut fields);
        fields
    }

    fn collect(&self, path: &[Step], label: &str, keys: &[Key], out: &mut Vec<Field>) {
        let Some(node) = find(self.root, path) else {
            return;
        };
        for name in node.keys() {
            let mut path = path.to_vec();
            path.push(Step::Key(name.to_owned()));
            let label = joined(label, name);
            let key = keys.iter().find(|k| k.key == name);
            self.one(&path, label, key, out);
        }
    }

    /// The field of what stands at a path, or fields where it is a table of single values.
    pub(super) fn one(
        &self,
        path: &[Step],
        label: String,
        key: Option<&Key>,
        out: &mut Vec<Field>,
    ) {
        let Some(node) = find(self.root, path) else {
            return;
        };
        let inner = key.map_or(&[][..], |k| &k.inner);
        let apart = node.span().is_none() || !inner.is_empty() || self.is_names(node, path);
        if !node.keys().is_empty() && apart && key.is_none_or(|k| k.shape != Shape::Spread) {
            self.collect(path, &label, inner, out);
            return;
        }
        let now = node.span().and_then(|span| self.text.get(span));
        if let Some(now) = now {
            out.push(Field {
                path: path.to_vec(),
                label,
                now: Some(unwritten(now)),
                key: key.cloned(),
                instead: None,
            });
        }
    }

    /// Whether a table holds nothing but texts.
    fn is_names(&self, node: Node<'_>, path: &[Step]) -> bool {
        node.keys().iter().all(|name| {
            let mut path = path.to_vec();
            path.push(Step::Key((*name).to_owned()));
            find(self.root, &path).is_some_and(|n| n.text().is_some())
        })
    }
}

/// Keys that are not written, those of nested tables with dots.
pub(super) fn unwritten_fields(home: &[Step], keys: &[Key], written: &[Field]) -> Vec<Field> {
    let mut fields = Vec::new();
    missing(home, "", keys, written, &mut fields);
    fields
}

fn missing(home: &[Step], prefix: &str, keys: &[Key], written: &[Field], out: &mut Vec<Field>) {
    for key in keys {
        let label = joined(prefix, key.key);
        let mut path = home.to_vec();
        path.push(Step::Key(key.key.to_owned()));
        let below = format!("{label}.");
        let own = written.iter().any(|f| f.label == label);
        let inside = written.iter().any(|f| f.label.starts_with(&below));
        if own {
            continue;
        }
        if !key.inner.is_empty() {
            missing(&path, &label, &key.inner, written, out);
        } else if !inside {
            out.push(Field {
                path,
                label,
                now: None,
                key: Some(key.clone()),
                instead: None,
            });
        }
    }
}

fn joined(prefix: &str, key: &str) -> String {
    if prefix.is_empty() {
        key.to_owned()
    } else {
        format!("{prefix}.{key}")
    }
}
