//! The head of the page: what was reviewed, the verdict on every board, what stops a build, contents.

use maud::{Markup, html};

use crate::report::typeset::{anchor, typeset};
use crate::report::verdict::{verdict, weights};
use crate::report::{Input, finding};
use crate::text::number::{celsius, count, duration, listed, percent};
use crate::view::FindingView;

/// The head of the page.
pub(super) fn header(input: &Input) -> Markup {
    let body = &input.document.body;
    let stops: Vec<&FindingView> = body
        .findings
        .iter()
        .filter(|f| f.severity == "stop" && f.counts())
        .collect();
    html! {
        header {
            p.kicker { "Circuit review of battery supply boards" }
            h1 { (input.family.name) }
            p.lead { (typeset(&asked(input))) }
            ul.verdicts {
                @for board in &body.boards {
                    li {
                        (mark(weights(body, &board.name)))
                        a href={ "#" (anchor(&board.name)) } { (board.name) }
                        " " (typeset(&verdict(body, &board.name)))
                    }
                }
            }
            p.quiet { "By the rules of this version. What was " a href="#not-checked" { "not checked" } " stands at the end." }
        }
        @if !stops.is_empty() {
            section aria-labelledby="stops" {
                h2 #stops { "What stops a build" }
                @for found in stops { (finding::block(found)) }
            }
        }
        (contents(input))
    }
}

/// A word for the state of a board, which colour only repeats.
fn mark((stop, fix, _): (usize, usize, usize)) -> Markup {
    let (class, word) = match (stop, fix) {
        (0, 0) => ("sound", "no fault"),
        (0, _) => ("fix", "fix"),
        _ => ("stop", "stop"),
    };
    html! { span class={ "mark " (class) } { (word) } }
}

/// What was asked for, in a sentence or two.
fn asked(input: &Input) -> String {
    let requirement = &input.family.requirement;
    let ambient = &requirement.ambient;
    let boards = count(input.review.boards.len(), "board");
    let mut text = format!(
        "{boards} for ambients from {} over {} to {}",
        celsius(ambient.low.as_celsius()),
        celsius(ambient.usual.as_celsius()),
        celsius(ambient.high.as_celsius())
    );
    if let Some(life) = requirement.life {
        text.push_str(&format!(", to run {}", duration(life.as_secs())));
        if let Some(share) = requirement.confidence {
            text.push_str(&format!(" in {} of units", percent(share.as_share())));
        }
    }
    text.push('.');
    let profiles: Vec<&str> = input
        .family
        .profiles
        .iter()
        .map(|p| p.name.as_str())
        .collect();
    if let Some(judged) = input.profile {
        text.push_str(&format!(" Findings judge profile {}", judged.name));
        if 1 < profiles.len() {
            text.push_str(&format!("; profiles {}", listed(&profiles)));
        }
        text.push('.');
    }
    text
}

fn contents(input: &Input) -> Markup {
    html! {
        nav #contents aria-label="Contents" {
            h2 { "Contents" }
            ol {
                li { a href="#comparison" { "The boards side by side" } }
                @for board in &input.review.boards {
                    li { a href={ "#" (anchor(&board.board)) } { "Board " (board.board) } }
                }
                li { a href="#cautions" { "Cautions" } }
                li { a href="#models" { "Models and their sources" } }
                li { a href="#not-checked" { "What was not checked" } }
            }
        }
    }
}
