//! Saving, undoing and redoing: a file is written only if it still is what the change rests on and can be
//! read with the change made.

use std::path::Path;

use lastvolt_input::{Text, read};

use super::ask::Ask;
use super::check::digest;
use super::disk::{NotWritten, put};
use super::history::{Edits, Saved, Way};
use crate::cli::load::load;

/// Why nothing was saved.
#[derive(Debug)]
pub(super) enum NotSaved {
    /// The file holds something else by now; these are the texts as they are.
    Changed(Vec<Text>),
    /// The files cannot be read, or could not be read with the change made.
    Unsound,
    /// There is nothing to undo or redo.
    Nothing,
    /// It was refused, in words.
    Refused(String),
}

/// The texts as they are on disk now, as long as they can be read as a family.
fn texts(folder: &Path) -> Result<Vec<Text>, NotSaved> {
    let family = load(folder).map_err(|_| NotSaved::Unsound)?;
    Ok(family.texts)
}

/// Saves the values of a form.
pub(super) fn save(folder: &Path, edits: &Edits, ask: &Ask) -> Result<String, NotSaved> {
    // One after the other: whoever holds the history writes.
    let mut history = edits.history();
    let texts = texts(folder)?;
    if digest(&texts, &ask.file).is_none() {
        let says = format!("`{}` is no file of this family", ask.file);
        return Err(NotSaved::Refused(says));
    }
    if !ask.is_current(&texts) {
        return Err(NotSaved::Changed(texts));
    }
    let outcome = ask.outcome(&texts);
    let before = texts.iter().find(|t| t.name == ask.file);
    let (Some(before), Some(after)) = (before, outcome.text(&ask.file)) else {
        return Err(NotSaved::Unsound);
    };
    if !outcome.is_sound() {
        return Err(NotSaved::Unsound);
    }
    if before.text == after {
        return Ok(ask.words());
    }
    write(folder, &ask.file, &before.text, after)?;
    history.save(Saved {
        file: ask.file.clone(),
        before: before.text.clone(),
        after: after.to_owned(),
        words: ask.words(),
    });
    Ok(ask.words())
}

/// Undoes what was saved last, or redoes what was undone last, as long as the file is what that left.
pub(super) fn step(folder: &Path, edits: &Edits, way: Way) -> Result<String, NotSaved> {
    let mut history = edits.history();
    let (saved, from, to) = history.next(way).ok_or(NotSaved::Nothing)?;
    let mut texts = texts(folder)?;
    let Some(text) = texts.iter_mut().find(|t| t.name == saved.file) else {
        let says = format!("`{}` is no file of this family any more", saved.file);
        return Err(NotSaved::Refused(says));
    };
    if text.text != from {
        return Err(NotSaved::Changed(texts));
    }
    to.clone_into(&mut text.text);
    if read(&texts).family.is_none() {
        return Err(NotSaved::Unsound);
    }
    write(folder, &saved.file, from, to)?;
    let words = format!("{} in {}", saved.words, saved.file);
    history.step(way);
    Ok(words)
}

fn write(folder: &Path, file: &str, before: &str, after: &str) -> Result<(), NotSaved> {
    match put(folder, file, before, after) {
        Ok(()) => Ok(()),
        Err(NotWritten::Changed) => Err(NotSaved::Changed(texts(folder)?)),
        Err(NotWritten::Refused(says)) => Err(NotSaved::Refused(says)),
    }
}
