//! The report in pieces, for pages that show some of them.

use std::collections::BTreeMap;

use lastvolt_core::model::{Board, Part};
use maud::Markup;

use crate::report::{Input, board, closing, comparison, finding, purpose, together, verdict};
use crate::view::FindingView;

/// Parts of the report.
pub(crate) struct Pieces {
    /// The boards side by side.
    pub(crate) comparison: Markup,
    /// Boards plugged together.
    pub(crate) together: Markup,
    /// Cautions for label and manual.
    pub(crate) cautions: Markup,
    /// What was assumed.
    pub(crate) assumptions: Markup,
    /// Sentence of each board.
    pub(crate) verdicts: BTreeMap<String, String>,
    /// Parts of each board's section.
    pub(crate) boards: BTreeMap<String, Vec<BoardPiece>>,
}

impl Pieces {
    /// Gives each piece to a function that may change it.
    pub(crate) fn each(&mut self, change: impl Fn(&mut Markup)) {
        let whole = [
            &mut self.comparison,
            &mut self.together,
            &mut self.cautions,
            &mut self.assumptions,
        ];
        let boards = self
            .boards
            .values_mut()
            .flatten()
            .map(|piece| &mut piece.body);
        whole.into_iter().chain(boards).for_each(change);
    }
}

/// A part of a board's section.
pub(crate) struct BoardPiece {
    /// What it is: `life-1`, `leakage`.
    pub(crate) what: String,
    /// Its anchor.
    pub(crate) id: String,
    /// What it is about.
    pub(crate) title: String,
    /// All of it.
    pub(crate) body: Markup,
}

/// Takes the report apart.
pub(crate) fn pieces(input: &Input) -> Pieces {
    let body = &input.document.body;
    let boards = board::pages(input).into_iter().map(|page| {
        let pieces = page.pieces.into_iter().map(board::Piece::apart).collect();
        (page.board.name.clone(), pieces)
    });
    let boards = boards.collect();
    let verdicts = body.boards.iter();
    Pieces {
        comparison: comparison::section(input),
        together: together::section(input),
        cautions: closing::cautions(input),
        assumptions: closing::assumptions(input),
        verdicts: verdicts
            .map(|b| (b.name.clone(), verdict::verdict(body, &b.name)))
            .collect(),
        boards,
    }
}

/// The block of the finding at this place of the document.
pub(crate) fn finding_block(at: usize, found: &FindingView) -> Markup {
    finding::block(at, found)
}

/// Severity in a word, and whether the files accept it.
pub(crate) fn finding_mark(found: &FindingView) -> Markup {
    finding::mark(found)
}

/// What a part is and what it is for, in sentences.
pub(crate) fn part_words(board: &Board, part: &Part, ground: &str) -> String {
    let value = purpose::value(part);
    let purpose = purpose::purpose(board, part, ground);
    if value.is_empty() {
        purpose
    } else {
        format!("{value}. {purpose}")
    }
}
