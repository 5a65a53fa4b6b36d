//! What a form asks: the values as typed, and the files that it was made from.

use lastvolt_input::{Loaded, Text, read};
use serde::Deserialize;

use super::locate::Step;
use super::owner::shape_at;
use super::quote;
use super::splice::{Refusal, To, apply, parse, source};
use crate::cli::load::sha256;

/// Values of one form.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Ask {
    /// The file that all of them stand in.
    pub(crate) file: String,
    /// Digest of the file when the form was made.
    pub(crate) base: String,
    /// The boards of the page.
    #[serde(default)]
    pub(crate) boards: Vec<String>,
    /// The profile of the page; none for the first.
    #[serde(default)]
    pub(crate) profile: Option<String>,
    /// The values.
    pub(crate) changes: Vec<Typed>,
    /// What a preview should work out.
    #[serde(default)]
    pub(crate) what: What,
}

/// One value as typed.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Typed {
    /// The field of the form.
    pub(crate) id: String,
    /// Where it stands.
    pub(crate) path: Vec<Step>,
    /// What was typed; none where the key is to be left out.
    pub(crate) to: Option<String>,
}

/// What a preview should work out.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum What {
    /// How long the boards last, which is quick.
    #[default]
    Life,
    /// What rules find, which takes a moment.
    Findings,
}

/// Most values of one form, and most steps to one of them.
const MOST: usize = 200;

/// What the changes make of the files.
pub(crate) struct Outcome {
    /// The texts with the changes made that can be made.
    pub(crate) texts: Vec<Text>,
    /// Values that cannot stand where they are to: fields and why.
    pub(crate) refused: Vec<(String, String)>,
    /// The texts as they are read then.
    pub(crate) loaded: Loaded,
}

impl Outcome {
    /// The file that was changed.
    pub(crate) fn text(&self, file: &str) -> Option<&str> {
        let found = self.texts.iter().find(|t| t.name == file);
        found.map(|t| t.text.as_str())
    }

    /// Whether the files can be read as a family with the changes made.
    pub(crate) fn is_sound(&self) -> bool {
        self.refused.is_empty() && self.loaded.family.is_some()
    }
}

impl Ask {
    /// Whether the file still is what the form was made from.
    pub(crate) fn is_current(&self, texts: &[Text]) -> bool {
        let text = texts.iter().find(|t| t.name == self.file);
        text.is_some_and(|t| sha256(&t.text) == self.base)
    }

    /// Makes the changes to these texts.
    pub(crate) fn outcome(&self, texts: &[Text]) -> Outcome {
        let mut texts = texts.to_vec();
        let mut refused = Vec::new();
        let place = texts.iter().position(|t| t.name == self.file);
        if MOST < self.changes.len() || self.changes.iter().any(|c| MOST < c.path.len()) {
            refused.push((
                String::new(),
                "these are too many values at once".to_owned(),
            ));
        } else if let Some(place) = place {
            for typed in &self.changes {
                match changed(&texts[place].text, place == 0, typed) {
                    Ok(text) => texts[place].text = text,
                    Err(why) => refused.push((typed.id.clone(), why.to_string())),
                }
            }
        } else {
            let says = format!("`{}` is no file of this family", self.file);
            refused.push((String::new(), says));
        }
        let loaded = read(&texts);
        Outcome {
            texts,
            refused,
            loaded,
        }
    }

    /// The values by field, for messages: `R1.value`.
    pub(crate) fn words(&self) -> String {
        let mut words: Vec<String> = Vec::new();
        for typed in &self.changes {
            let skipped = match typed.path.first().and_then(Step::key) {
                Some("parts" | "loads" | "profiles") => 1,
                _ => 0,
            };
            words.push(super::locate::shown(&typed.path[skipped..]));
        }
        let more = words.len().saturating_sub(2);
        words.truncate(2);
        let head = words.join(", ");
        match more {
            0 => head,
            more => format!("{head} and {more} more"),
        }
    }
}

fn changed(text: &str, is_family: bool, typed: &Typed) -> Result<String, Refusal> {
    let to = match &typed.to {
        None => To::Nothing,
        Some(words) => {
            let document = parse(text)?;
            let shape = shape_at(document.as_table(), is_family, &typed.path);
            let now = source(text, document.as_table(), &typed.path);
            let toml = quote::written(words, shape, now);
            To::Toml(toml.map_err(Refusal::NotValue)?)
        }
    };
    apply(text, &typed.path, &to)
}
