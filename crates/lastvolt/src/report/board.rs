//! One board: its circuit with its solved values, what it comes to, the walk through its blocks, life, burst, positions,
//! findings, leakage, output, parts and legend, in this order; and the same as a list for the contents.

use lastvolt_core::model::{Board, Kind};
use lastvolt_core::review::BoardReview;
use maud::{Markup, html};

use crate::report::burst::{Burst, heaviest};
use crate::report::typeset::{anchor, slug};
use crate::report::{
    BoardPiece, Input, budget, circuit, finding, life, order, output, positions, summary, values,
    walk,
};
use crate::text::number::listed;
use crate::view::BoardView;

/// What the parts of a board's section share.
pub(super) struct Section<'a> {
    /// The page.
    pub(super) input: &'a Input<'a>,
    /// The board.
    pub(super) board: &'a Board,
    /// What was worked out about it.
    pub(super) review: &'a BoardReview,
    /// The same as a document.
    pub(super) view: &'a BoardView,
    /// The heaviest step of the judged profile.
    pub(super) burst: Option<Burst>,
}

/// The section of a board, part by part.
pub(super) struct BoardPage<'a> {
    /// The board.
    pub(super) board: &'a Board,
    /// Its anchor.
    pub(super) id: String,
    /// Its parts in order.
    pub(super) pieces: Vec<Piece>,
}

/// A part of a board's section with a heading of its own.
pub(super) struct Piece {
    /// Its anchor.
    pub(super) id: String,
    /// What it is about, as it stands behind the name of the board.
    pub(super) title: String,
    what: String,
    body: Markup,
}

impl Piece {
    /// On its own, for a page that shows some of them.
    pub(super) fn apart(self) -> BoardPiece {
        BoardPiece {
            what: self.what,
            id: self.id,
            title: self.title,
            body: self.body,
        }
    }
}

/// The sections of all boards that were reviewed.
pub(super) fn pages<'a>(input: &'a Input<'a>) -> Vec<BoardPage<'a>> {
    let boards = input.review.boards.iter();
    boards.filter_map(|review| page(input, review)).collect()
}

fn page<'a>(input: &'a Input<'a>, review: &'a BoardReview) -> Option<BoardPage<'a>> {
    let board = input.family.board(&review.board)?;
    let views = &input.document.body.boards;
    let s = Section {
        input,
        board,
        review,
        view: views.iter().find(|v| v.name == review.board)?,
        burst: heaviest(input.family, board, input.profile),
    };
    Some(BoardPage {
        board,
        id: anchor(&board.name),
        pieces: pieces(&s),
    })
}

/// Every part that has something to say.
fn pieces(s: &Section) -> Vec<Piece> {
    let mut all = Pieces {
        board: slug(&s.board.name),
        found: Vec::new(),
    };
    all.add("circuit", "the circuit", circuit::part(s));
    all.add("values", "solved values", values::part(s));
    all.add("summary", "in short", summary::part(s));
    all.add("walk", "block by block", walk::part(s));
    let runs = s.input.runs(&s.board.name).zip(&s.review.lives);
    for (at, (run, solved)) in runs.enumerate() {
        let title = match &run.profile {
            Some(profile) => format!("life in profile {profile}"),
            None => "life in base states".to_owned(),
        };
        let body = life::part(s, run, &solved.life);
        all.add(&format!("life-{}", at + 1), &title, body);
    }
    let mut waves = s.input.waves.iter();
    if let Some(own) = waves.find(|w| w.board == s.board.name) {
        all.add("waves", "a burst and switching on", own.part());
    }
    all.add("positions", "what every position does", positions::part(s));
    all.add("findings", "findings", findings(s));
    all.add("leakage", "leakage budget", budget::part(s));
    all.add("output", "output capability", output::part(s));
    all.add("parts", "parts list", order::part(s));
    all.add("legend", "switch legend", walk::legend(s));
    all.found
}

struct Pieces {
    board: String,
    found: Vec<Piece>,
}

impl Pieces {
    fn add(&mut self, at: &str, title: &str, body: Markup) {
        if !body.0.trim().is_empty() {
            self.found.push(Piece {
                // The board comes last: no board's name makes the anchor of another's part.
                id: format!("{at}-of-{}", self.board),
                title: title.to_owned(),
                what: at.to_owned(),
                body,
            });
        }
    }
}

impl BoardPage<'_> {
    /// The section.
    pub(super) fn section(&self) -> Markup {
        html! {
            section.board aria-labelledby=(self.id) {
                h2 id=(self.id) { "Board " bdi { (self.board.name) } }
                p.lead dir="auto" { (self.board.title) }
                @for piece in &self.pieces {
                    h3 id=(piece.id) { "Board " bdi { (self.board.name) } ": " (piece.title) }
                    (piece.body)
                }
            }
        }
    }
}

fn findings(s: &Section) -> Markup {
    let found: Vec<_> = s.input.findings(&s.board.name).collect();
    html! {
        @if found.is_empty() { p { "No rule has anything to say." } }
        @for (at, one) in found { (finding::block(at, one)) }
    }
}

/// Whether a part is one that feeds the board.
pub(super) fn is_source(kind: Kind) -> bool {
    matches!(kind, Kind::Cell | Kind::Supply)
}

/// Nets without a level, in a sentence.
pub(super) fn floating(s: &Section) -> Option<String> {
    let nets = &s.review.usual.floating;
    (!nets.is_empty()).then(|| format!("Without a defined level: {}.", listed(nets)))
}
