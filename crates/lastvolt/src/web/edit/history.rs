//! What was saved from pages, so that it can be undone and redone while the desk runs.

use std::sync::{Mutex, MutexGuard};

use super::preview::Known;

/// Most saved changes that can be undone.
const MOST: usize = 100;

/// One saved change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Saved {
    /// The file.
    pub(crate) file: String,
    /// What it held before.
    pub(crate) before: String,
    /// What it held after.
    pub(crate) after: String,
    /// What was changed, for people.
    pub(crate) words: String,
}

/// What was saved and what was undone.
#[derive(Debug, Default)]
pub(crate) struct History {
    done: Vec<Saved>,
    undone: Vec<Saved>,
}

/// Which way a step leads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Way {
    /// Back to what was.
    Undo,
    /// Forth to what was undone.
    Redo,
}

impl History {
    /// Takes what was saved; what was undone before cannot be redone any more.
    pub(crate) fn save(&mut self, saved: Saved) {
        self.undone.clear();
        self.done.push(saved);
        if MOST < self.done.len() {
            self.done.remove(0);
        }
    }

    /// The change that a step would take, the file's text before the step and after it.
    pub(crate) fn next(&self, way: Way) -> Option<(&Saved, &str, &str)> {
        match way {
            Way::Undo => self
                .done
                .last()
                .map(|s| (s, s.after.as_str(), s.before.as_str())),
            Way::Redo => self
                .undone
                .last()
                .map(|s| (s, s.before.as_str(), s.after.as_str())),
        }
    }

    /// The step has been made.
    pub(crate) fn step(&mut self, way: Way) {
        let (from, to) = match way {
            Way::Undo => (&mut self.done, &mut self.undone),
            Way::Redo => (&mut self.undone, &mut self.done),
        };
        to.extend(from.pop());
    }

    /// What a step would change, for people.
    pub(crate) fn words(&self, way: Way) -> Option<String> {
        self.next(way)
            .map(|(saved, ..)| format!("{} in {}", saved.words, saved.file))
    }
}

/// Everything that editing keeps while the desk runs; nothing of it is lost that is not in the files.
#[derive(Default)]
pub(crate) struct Edits {
    history: Mutex<History>,
    /// Findings before a change, as long as the files stay.
    pub(super) known: Mutex<Option<Known>>,
}

impl Edits {
    /// The history; whoever has it is the only one who writes.
    pub(crate) fn history(&self) -> MutexGuard<'_, History> {
        match self.history.lock() {
            Ok(history) => history,
            Err(poisoned) => poisoned.into_inner(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn saved(before: &str, after: &str) -> Saved {
        Saved {
            file: "a.toml".to_owned(),
            before: before.to_owned(),
            after: after.to_owned(),
            words: "R1.value".to_owned(),
        }
    }

    #[test]
    fn steps_lead_back_and_forth_until_something_else_is_saved() {
        let mut history = History::default();
        assert_eq!(history.words(Way::Undo), None);
        history.save(saved("1", "2"));
        history.save(saved("2", "3"));
        let next =
            |history: &History, way| history.next(way).map(|n| (n.1.to_owned(), n.2.to_owned()));
        let pair = |from: &str, to: &str| Some((from.to_owned(), to.to_owned()));
        assert_eq!(next(&history, Way::Undo), pair("3", "2"));
        history.step(Way::Undo);
        assert_eq!(next(&history, Way::Undo), pair("2", "1"));
        assert_eq!(next(&history, Way::Redo), pair("2", "3"));
        history.step(Way::Redo);
        assert_eq!(next(&history, Way::Redo), None);
        history.step(Way::Undo);
        history.save(saved("2", "4"));
        assert_eq!(next(&history, Way::Redo), None);
        assert_eq!(
            history.words(Way::Undo).as_deref(),
            Some("R1.value in a.toml")
        );
    }

    #[test]
    fn the_oldest_is_forgotten_in_the_end() {
        let mut history = History::default();
        for n in 0..MOST + 5 {
            history.save(saved(&n.to_string(), &(n + 1).to_string()));
        }
        assert_eq!(history.done.len(), MOST);
        assert_eq!(history.done[0].before, "5");
    }
}
