//! The page of a board, or of two or three plugged together: the circuit in the middle, the discharge
//! curve under it, what is selected beside it, and all that the review says below.

use std::collections::BTreeMap;

use lastvolt_core::circuit::{NoPoint, Point};
use maud::{Markup, PreEscaped, html};

use crate::draw::schematic::live::Live;
use crate::draw::schematic::stack;
use crate::report::{BoardPiece, finding_block, typeset};
use crate::view::FindingView;
use crate::web::burst;
use crate::web::curve;
use crate::web::desk::Edition;
use crate::web::held::Held;
use crate::web::jobs;
use crate::web::live::solved;
use crate::web::page::family::{mark, piece, review_state};
use crate::web::page::frame::frame;
use crate::web::page::positions::{positions, row_key};
use crate::web::page::{controls, panel, table};
use crate::web::readings::{Readings, readings};
use crate::web::reviewed::Reviewed;
use crate::web::server::{Asked, Service};
use crate::web::setting::{Chosen, dropped_words};

/// A drawing up to this wide is shown smaller where a page has less room; letters stay readable.
const SHRINKS_TO: f64 = 1040.0;

/// Pieces of the report that the page has in another form.
const OWN: [&str; 5] = ["circuit", "values", "positions", "findings", "waves"];

/// The page.
pub(crate) fn bench(service: &Service, now: &Edition, asked: &Asked) -> String {
    let boards = &asked.setting.boards;
    let name = boards.join(" + ");
    let title = format!("{name}: {}", asked.circuit.family().name);
    let point = solved(asked);
    let content = html! {
        (heading(asked))
        (controls::strip(asked))
        div.bench {
            div.middle {
                section #drawing data-swap data-drawn=(asked.setting.drawn()) aria-label="Circuit" { (drawing_of(asked, &point)) }
                section #curve data-swap data-curve=(asked.setting.curve()) aria-label="Discharge" { (curve::curve_figure(asked, curve::BRIEFLY)) }
            }
            aside.side aria-label="What is selected" {
                section #held data-swap aria-label="In this setting" {
                    h2 { "In this setting" }
                    div data-fragment="held" { (Held::new(&asked.circuit, &asked.setting.situation, &point).fragment(asked)) }
                }
                section #panel data-swap aria-label="Selected" { (panel::panel(service, asked)) }
            }
        }
        (below(service, asked, &point))
    };
    frame(service, now, &title, boards, &content)
}

fn heading(asked: &Asked) -> Markup {
    let boards = asked.circuit.boards();
    html! {
        div.heading {
            h1 {
                @if boards.len() == 1 { "Board " } @else { "Boards " }
                @for (at, board) in boards.iter().enumerate() { @if 0 < at { " + " } bdi { (board.name) } }
            }
            @for board in boards { p.lead dir="auto" { (board.title) } }
            (controls::stack(asked))
            div.verdict #verdict data-swap { @for board in boards { (verdict(asked, &board.name)) } }
            @if let Some(words) = dropped_words(&asked.dropped) { p.dropped #dropped data-swap role="status" { span.mark.note { "link" } (words) } }
        }
    }
}

/// What the review says of a board in a sentence.
fn verdict(asked: &Asked, board: &str) -> Markup {
    let Some(Ok(reviewed)) = asked.sound.reviewed.get() else {
        return html! {};
    };
    let several = 1 < asked.setting.boards.len();
    html! {
        p {
            (mark(reviewed.weights(board)))
            @if several { bdi { (board) } " alone: " }
            @if let Some(words) = reviewed.pieces.verdicts.get(board) { (typeset(words)) }
        }
    }
}

/// The circuit with its figures.
pub(crate) fn drawing(asked: &Asked) -> Markup {
    drawing_of(asked, &solved(asked))
}

fn drawing_of(asked: &Asked, point: &Result<Point, NoPoint>) -> Markup {
    let setting = &asked.setting;
    let texts = figures(asked, point);
    let href = |key: &str| setting.with(|s| s.chosen = Chosen::read(key)).link();
    let chosen = setting.chosen.as_ref().map(Chosen::word);
    let live = Live {
        situation: &setting.situation,
        texts: &texts,
        href: &href,
        chosen: chosen.as_deref(),
    };
    let drawn = stack::live(asked.circuit.family(), asked.circuit.boards(), &live);
    html! {
        div.scroll.shrinks[drawn.width() <= SHRINKS_TO] tabindex="0" role="group" aria-label="Circuit" { (PreEscaped(drawn.inside())) }
    }
}

/// The figures of a solved setting; none where it has no operating point.
fn figures(asked: &Asked, point: &Result<Point, NoPoint>) -> Readings {
    let solved = point
        .as_ref()
        .map(|p| readings(&asked.circuit, &asked.setting.situation, p));
    solved.unwrap_or_default()
}

fn below(service: &Service, asked: &Asked, point: &Result<Point, NoPoint>) -> Markup {
    let figures = figures(asked, point);
    html! {
        section.below #bursts data-swap aria-labelledby="bursts-head" {
            (burst::inside(asked))
        }
        section.below #positions data-swap aria-labelledby="positions-head" {
            h2 #positions-head { "Positions" }
            (positions(asked))
        }
        section.below #readings data-swap aria-labelledby="readings-head" {
            h2 #readings-head { "Readings" }
            (table::tables(&asked.circuit, &figures))
        }
        div.below #jobs data-swap { (jobs::inside(service, asked)) }
        (review_state(asked.sound))
        @for board in &asked.setting.boards {
            @let id = format!("findings-{}", crate::report::slug(board));
            (piece(asked.sound, &id, |r| findings(r, board)))
        }
        @if let [board] = asked.setting.boards.as_slice() {
            (piece(asked.sound, "report", |r| pieces(r, board)))
        }
    }
}

/// The findings about a board.
fn findings(reviewed: &Reviewed, board: &str) -> Markup {
    let found: Vec<(usize, &FindingView)> = reviewed.about(board).collect();
    html! {
        section.below {
            h2 { "Findings about board " bdi { (board) } }
            @if found.is_empty() { p { "No rule has anything to say." } }
            @for (at, one) in found {
                (finding_block(at, one))
            }
        }
    }
}

/// The pieces of the report about a board.
fn pieces(reviewed: &Reviewed, board: &str) -> Markup {
    let pieces = reviewed.pieces.boards.get(board);
    let shown = |p: &&BoardPiece| !OWN.contains(&p.what.as_str());
    html! {
        @for piece in pieces.into_iter().flatten().filter(shown) {
            section.below aria-labelledby=(piece.id) {
                h2 id=(piece.id) { (capital(&piece.title)) }
                (piece.body)
            }
        }
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// Attributes that a setting gives to what is on the page.
pub(crate) fn attributes(
    asked: &Asked,
) -> BTreeMap<String, BTreeMap<&'static str, Option<String>>> {
    let row = row_key(&asked.setting.situation);
    BTreeMap::from([(
        row,
        BTreeMap::from([("aria-current", Some("true".to_owned()))]),
    )])
}
