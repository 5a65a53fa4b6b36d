//! Where things stand in the texts: findings need file, line and column, and the engine knows neither.

use std::collections::BTreeMap;
use std::ops::Range;

use crate::Text;
use crate::assumed::Assumed;

/// A place in a text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// Name of the file, relative to the family's folder.
    pub file: String,
    /// Line of the first byte, from 1.
    pub line: usize,
    /// Column of the first byte, from 1, in characters.
    pub column: usize,
    /// The bytes.
    pub span: Range<usize>,
}

/// A place before line and column are known: number of the text and bytes.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct Spot {
    /// Number of the text.
    pub(crate) file: usize,
    /// The bytes.
    pub(crate) span: Range<usize>,
}

impl Spot {
    /// A place in a text.
    pub(crate) fn new(file: usize, span: Range<usize>) -> Self {
        Self { file, span }
    }

    /// What places are sorted by.
    pub(crate) fn order(&self) -> (usize, usize, usize) {
        (self.file, self.span.start, self.span.end)
    }
}

/// Line and column of every spot, in the order given; spots of no text are at its start.
pub(crate) fn places(texts: &[Text], spots: &[Spot]) -> Vec<Place> {
    let mut order: Vec<usize> = (0..spots.len()).collect();
    order.sort_by_key(|&k| spots[k].order());
    let mut found: Vec<Place> = vec![
        Place {
            file: String::new(),
            line: 1,
            column: 1,
            span: 0..0,
        };
        spots.len()
    ];
    let mut cursor = Cursor::default();
    for k in order {
        let spot = &spots[k];
        let Some(text) = texts.get(spot.file) else {
            continue;
        };
        cursor.walk(spot.file, &text.text, spot.span.start);
        let end = spot.span.end.min(text.text.len());
        found[k] = Place {
            file: text.name.clone(),
            line: cursor.line,
            column: cursor.column,
            span: spot.span.start.min(end)..end,
        };
    }
    found
}

/// Walks forward through a text and counts lines and columns.
#[derive(Default)]
struct Cursor {
    file: Option<usize>,
    at: usize,
    line: usize,
    column: usize,
}

impl Cursor {
    fn walk(&mut self, file: usize, text: &str, to: usize) {
        if self.file != Some(file) {
            *self = Self {
                file: Some(file),
                at: 0,
                line: 1,
                column: 1,
            };
        }
        let mut to = to.min(text.len());
        while !text.is_char_boundary(to) {
            to -= 1;
        }
        if to <= self.at {
            return;
        }
        for c in text[self.at..to].chars() {
            if c == '\n' {
                self.line += 1;
                self.column = 1;
            } else {
                self.column += 1;
            }
        }
        self.at = to;
    }
}

/// Board, part, and key or pin.
type Id = (Option<String>, String, Option<String>);

/// Where each part, pin, key, load, state, task, profile and requirement stands.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SpanMap {
    entries: BTreeMap<Id, Place>,
    files: BTreeMap<String, String>,
    family: String,
    accepts: Vec<Place>,
    assumed: BTreeMap<String, Vec<Assumed>>,
}

impl SpanMap {
    /// Where something stands.
    ///
    /// With a board: a part or load of that board, and one of its pins or keys (`value`,
    /// `quiescent.in`, `states.sleep`); an empty part name means the board itself. Without a board:
    /// `requirement`, `connector`, `family`, a load or a profile of the family with one of their
    /// keys, states or tasks. What is not found falls back from `a.b` to `a`, then to the part,
    /// then to the start of the file.
    #[must_use]
    pub fn find(&self, board: Option<&str>, part: &str, key_or_pin: Option<&str>) -> Option<Place> {
        // A cell of a string and a part of a stack are placed where the part is.
        let part = part.rsplit('/').next().unwrap_or(part);
        let base = part.split('.').next().unwrap_or(part);
        for name in [part, base] {
            let mut key = key_or_pin;
            while let Some(wanted) = key {
                if let Some(place) = self.entry(board, name, Some(wanted)) {
                    return Some(place);
                }
                key = wanted.rsplit_once('.').map(|(head, _)| head);
            }
            if let Some(place) = self.entry(board, name, None) {
                return Some(place);
            }
        }
        // A load of the family that a board feeds.
        if board.is_some() && self.entry(None, base, None).is_some() {
            return self.find(None, part, key_or_pin);
        }
        let file = match board {
            Some(board) => self.files.get(board)?.clone(),
            None => self.family.clone(),
        };
        Some(Place {
            file,
            line: 1,
            column: 1,
            span: 0..0,
        })
    }

    /// Where the accept of this place in `Family::accepts` says its rule.
    #[must_use]
    pub fn accept(&self, at: usize) -> Option<&Place> {
        self.accepts.get(at)
    }

    /// Figures that no part of a board states, and what holds in their place.
    #[must_use]
    pub fn assumed(&self, board: &str) -> &[Assumed] {
        self.assumed.get(board).map_or(&[], Vec::as_slice)
    }

    fn entry(&self, board: Option<&str>, part: &str, key: Option<&str>) -> Option<Place> {
        let id = (
            board.map(str::to_owned),
            part.to_owned(),
            key.map(str::to_owned),
        );
        self.entries.get(&id).cloned()
    }
}

/// Collects spots and turns them into a [`SpanMap`].
#[derive(Debug, Default)]
pub(crate) struct SpanNotes {
    notes: Vec<(Id, Spot)>,
    files: BTreeMap<String, String>,
    accepts: Vec<Spot>,
    assumed: BTreeMap<String, Vec<Assumed>>,
}

impl SpanNotes {
    /// Notes where something stands; the first note of a name wins.
    pub(crate) fn add(&mut self, board: Option<&str>, part: &str, key: Option<&str>, spot: Spot) {
        let id = (
            board.map(str::to_owned),
            part.to_owned(),
            key.map(str::to_owned),
        );
        self.notes.push((id, spot));
    }

    /// Notes where the next accept stands.
    pub(crate) fn accept(&mut self, spot: Spot) {
        self.accepts.push(spot);
    }

    /// Notes what the parts of a board leave out.
    pub(crate) fn assumed(&mut self, board: &str, found: Vec<Assumed>) {
        self.assumed.insert(board.to_owned(), found);
    }

    /// Notes the file of a board.
    pub(crate) fn board(&mut self, board: &str, file: &str) {
        self.files.insert(board.to_owned(), file.to_owned());
    }

    /// The map, with lines and columns.
    pub(crate) fn finish(self, texts: &[Text]) -> SpanMap {
        let spots: Vec<Spot> = self.notes.iter().map(|n| n.1.clone()).collect();
        let mut entries = BTreeMap::new();
        for ((id, _), place) in self.notes.into_iter().zip(places(texts, &spots)) {
            if !place.file.is_empty() {
                entries.entry(id).or_insert(place);
            }
        }
        SpanMap {
            entries,
            files: self.files,
            accepts: places(texts, &self.accepts),
            assumed: self.assumed,
            family: texts.first().map(|t| t.name.clone()).unwrap_or_default(),
        }
    }
}
