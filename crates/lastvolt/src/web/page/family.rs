//! The family: its boards side by side, what was found, and which boards can be plugged together.

use lastvolt_core::model::Board;
use maud::{Markup, html};

use crate::report::{finding_mark, typeset};
use crate::view::FindingView;
use crate::web::desk::Sound;
use crate::web::jobs;
use crate::web::page::frame::frame;
use crate::web::reviewed::{Reviewed, finding_link};
use crate::web::server::Service;
use crate::web::setting::path;

/// Most boards for which every pair has a cell in the grid.
const MOST_IN_GRID: usize = 16;

/// The page.
pub(crate) fn family(service: &Service) -> String {
    let now = service.desk.now();
    let content = match &now.sound {
        Some(sound) => content(service, sound),
        None => html! { h1 { "Lastvolt" } },
    };
    let title = now
        .sound
        .as_ref()
        .map_or("Lastvolt", |s| s.family.model.name.as_str());
    frame(service, &now, title, &[], &content)
}

fn content(service: &Service, sound: &Sound) -> Markup {
    let model = &sound.family.model;
    let reviewed = sound.reviewed.get().and_then(|r| r.as_ref().ok());
    html! {
        h1 dir="auto" { (model.name) }
        (review_state(sound))
        section #boards data-swap aria-labelledby="boards-head" {
            h2 #boards-head { "Boards" }
            ul.verdicts { @for board in &model.boards { li { (line(board, reviewed)) } } }
        }
        (piece(sound, "compared", |r| r.pieces.comparison.clone()))
        section #stacks data-swap aria-labelledby="stacks-head" { (grid(&model.boards, reviewed)) }
        section #jobs data-swap aria-labelledby="jobs-head" { (jobs::family_inside(service, sound)) }
        (piece(sound, "found", found))
        (piece(sound, "plugged", |r| r.pieces.together.clone()))
        (piece(sound, "warnings", |r| r.pieces.cautions.clone()))
        (piece(sound, "assumed", |r| r.pieces.assumptions.clone()))
        (piece(sound, "limits", limits))
    }
}

/// A piece of the review; until the review is there, the piece of the one before stays, greyed.
pub(super) fn piece(sound: &Sound, id: &str, of: impl FnOnce(&Reviewed) -> Markup) -> Markup {
    match sound.reviewed.get() {
        Some(Ok(reviewed)) => html! { div id=(id) data-swap { (of(reviewed)) } },
        Some(Err(_)) => html! { div id=(id) data-swap {} },
        None => html! { div id=(id) data-swap data-pending {} },
    }
}

/// How far the review is.
pub(super) fn review_state(sound: &Sound) -> Markup {
    html! {
        div #review-state data-swap {
            @match sound.reviewed.get() {
                Some(Ok(_)) => {}
                Some(Err(why)) => { p { span.mark.stop { "no review" } (typeset(why)) } }
                None => {
                    p.working { span.word { "The rules are looking at this edition" } " "
                        progress #review-progress max="1" aria-label="Review" {} }
                }
            }
        }
    }
}

/// What this review did not look at.
fn limits(reviewed: &Reviewed) -> Markup {
    html! {
        @if !reviewed.warnings.is_empty() {
            h2 { "What this review leaves out" }
            ul { @for warning in &reviewed.warnings { li { (typeset(warning)) } } }
        }
        p.quiet { "Layout, electrostatic discharge, electromagnetic compatibility, antennas and mechanics are not checked at all." }
    }
}

/// A board in a line.
fn line(board: &Board, reviewed: Option<&Reviewed>) -> Markup {
    let own = [board.name.clone()];
    html! {
        @if let Some(reviewed) = reviewed {
            (mark(reviewed.weights(&board.name)))
        }
        a href=(path(&own)) { bdi { (board.name) } }
        " "
        @match reviewed.and_then(|r| r.pieces.verdicts.get(&board.name)) {
            Some(verdict) => (typeset(verdict)),
            None => span dir="auto" { (board.title) },
        }
    }
}

/// A word for the state of a board, which colour only repeats.
pub(super) fn mark([stop, fix, _]: [usize; 3]) -> Markup {
    let (class, word) = match (stop, fix) {
        (0, 0) => ("sound", "no fault"),
        (0, _) => ("fix", "fix"),
        _ => ("stop", "stop"),
    };
    html! { span class={ "mark " (class) } { (word) } }
}

/// Every pair of boards as a link, with the weightiest finding about the two.
fn grid(boards: &[Board], reviewed: Option<&Reviewed>) -> Markup {
    if boards.len() < 2 {
        return html! {};
    }
    html! {
        h2 #stacks-head { "Plugged together" }
        @if MOST_IN_GRID < boards.len() {
            p { "Open a board and plug others on from there." }
        } @else {
            p { "Two boards on one connector: each field opens the two as one circuit, and says the weightiest finding that has its worst case there. A finding may hold for other pairs too: its words name them." }
            div.table.grid tabindex="0" role="group" aria-label="Pairs of boards" {
                table {
                    caption { span.hidden { "Pairs of boards" } }
                    thead { tr { th {} @for board in boards.iter().skip(1) { th scope="col" { bdi { (board.name) } } } } }
                    tbody {
                        @for (at, first) in boards.iter().enumerate().take(boards.len() - 1) {
                            tr {
                                th scope="row" { bdi { (first.name) } }
                                @for (to, second) in boards.iter().enumerate().skip(1) {
                                    td { @if at < to { (pair(first, second, reviewed)) } }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn pair(first: &Board, second: &Board, reviewed: Option<&Reviewed>) -> Markup {
    let names = [first.name.clone(), second.name.clone()];
    let worst = reviewed.map(|r| worst(r, &names));
    html! {
        a href=(path(&names)) aria-label={ (first.name) " with " (second.name) } {
            @match worst {
                Some(Some(view)) => { (finding_mark(view)) (view.rule) },
                Some(None) => "nothing weightier here",
                None => "open",
            }
        }
    }
}

/// The weightiest finding about two boards.
fn worst<'r>(reviewed: &'r Reviewed, names: &[String; 2]) -> Option<&'r FindingView> {
    let about = |view: &&FindingView| {
        let boards = view.situation.as_ref().map(|s| &s.boards);
        boards.is_some_and(|b| b.len() == 2 && names.iter().all(|n| b.contains(n)))
    };
    let weight = |view: &&FindingView| {
        let severity = match view.severity {
            "stop" => 0,
            "fix" => 1,
            _ => 2,
        };
        (!view.counts(), severity)
    };
    let found = reviewed
        .views
        .iter()
        .filter(|v| !v.is_caution())
        .filter(about);
    found.min_by_key(weight)
}

/// All findings, each a link to where it can be looked at.
fn found(reviewed: &Reviewed) -> Markup {
    let views: Vec<&FindingView> = reviewed.views.iter().filter(|v| !v.is_caution()).collect();
    html! {
        h2 { "Findings" }
        @if views.is_empty() { p { "No rule has anything to say." } }
        ul.lines {
            @for view in views {
                li {
                    (finding_mark(view))
                    a href=(finding_link(view)) { bdi { (view.board) } ": " (view.rule) }
                    " " (typeset(&view.says))
                }
            }
        }
    }
}
