//! The end of the page: cautions, what was not checked, what the results rest on, models with their
//! sources, what made the page.

use maud::{Markup, html};

use crate::report::finding::sure;
use crate::report::typeset::{slug, typeset};
use crate::report::{Input, cards};
use crate::text::check::cautions as grouped;
use crate::view::{AssumptionView, BoardView, ListedView};

/// Cautions, each once with the boards that need it.
pub(super) fn cautions(input: &Input) -> Markup {
    html! {
        section aria-labelledby="cautions" {
            h2 #cautions { "Cautions for label and manual" }
            ul.cautions {
                @for (caution, boards) in grouped(&input.document.body.findings) {
                    li {
                        p { strong { (caution.says) } " " span.quiet { "Boards: " (boards.join(", ")) "." } }
                        p { "To do: " (caution.remedy) ". " span.quiet { "(" (caution.basis) ")" } }
                        @if let Some(reason) = &caution.accepted { p { "Accepted because: " bdi { (reason) } } }
                    }
                }
            }
            p {
                "This review is a computed estimate. It does not replace local codes, the data sheets of the "
                "makers, licensed practice or the requirements of the authority that has jurisdiction."
            }
        }
    }
}

/// What the results rest on without its being stated, board by board.
pub(super) fn assumptions(input: &Input) -> Markup {
    let boards = &input.document.body.boards;
    html! {
        section aria-labelledby="assumptions" {
            h2 #assumptions { "Assumptions" }
            p {
                "What the results rest on though no file states it for the part at hand, the least sure first. "
                "How much each of them moves the run time is not ranked yet."
            }
            @for board in boards.iter().filter(|b| !b.assumptions.is_empty()) {
                h3 id={ "assumptions-of-" (slug(&board.name)) } { "Assumptions on board " bdi { (board.name) } }
                (assumed(board))
            }
        }
    }
}

fn assumed(board: &BoardView) -> Markup {
    let head = html! {
        tr { th { "how sure" } th { "parts" } th { "figure" } th { "taken as" } th { "feeds" } }
    };
    let rows = html! {
        @for one in &board.assumptions {
            tr {
                td data-label="how sure" { (basis(one)) }
                td data-label="parts" { span.refs { (one.parts.join(", ")) } }
                td.w data-label="figure" { (typeset(&one.what)) }
                td data-label="taken as" { (typeset(&one.stands)) }
                td data-label="feeds" { (one.feeds) }
            }
        }
    };
    cards(&format!("What board {} rests on", board.name), &head, &rows)
}

/// How sure an assumption is, in words.
fn basis(one: &AssumptionView) -> &'static str {
    match one.basis {
        "memory" => "from memory",
        "default" => "not stated",
        "class" => "a class of parts",
        "typical" => "typical of a class",
        _ => "one figure, no limits",
    }
}

/// A model and who uses it.
struct Used<'a> {
    part: &'a ListedView,
    model: &'a str,
    users: Vec<String>,
}

/// Models used, with their sources and how sure they are.
pub(super) fn models(input: &Input) -> Markup {
    let mut used: Vec<Used> = Vec::new();
    for board in &input.document.body.boards {
        for part in &board.parts {
            let Some(model) = part.model.as_deref() else {
                continue;
            };
            let user = format!("{} {}", board.name, part.part);
            match used.iter_mut().find(|u| u.model == model) {
                Some(found) => found.users.push(user),
                None => used.push(Used {
                    part,
                    model,
                    users: vec![user],
                }),
            }
        }
    }
    let head = html! { tr { th { "model" } th { "used by" } th { "how sure" } th { "source" } } };
    let rows = html! {
        @for one in &used {
            tr {
                th scope="row" { code { (one.model) } }
                td data-label="used by" { (one.users.join(", ")) }
                td data-label="how sure" { (sure(one.part.confidence)) @if one.part.class { "; a class, not a part one can buy" } }
                td.w data-label="source" { (one.part.source.as_deref().unwrap_or("written in the family's files")) }
            }
        }
    };
    html! {
        @if !used.is_empty() {
            section aria-labelledby="models" {
                h2 #models { "Models and their sources" }
                p { "A class stands for many parts: put the figures of the part that you fit into its place." }
                (cards("Models that parts are made after", &head, &rows))
            }
        }
    }
}

/// Whether a part is made after a model.
pub(super) fn has_models(input: &Input) -> bool {
    let boards = &input.document.body.boards;
    boards
        .iter()
        .flat_map(|b| &b.parts)
        .any(|p| p.model.is_some())
}

/// What made the page, from which files.
pub(super) fn files(input: &Input) -> Markup {
    let body = &input.document.body;
    let head = html! { tr { th { "file" } th { "SHA-256 of its bytes" } } };
    let rows = html! {
        @for file in &body.files {
            tr { th scope="row" { code.name { bdi { (file.name) } } } td data-label="SHA-256" { code { (file.sha256) } } }
        }
    };
    html! {
        section aria-labelledby="files" {
            h2 #files { "Files and versions" }
            (cards("Files that were read", &head, &rows))
            p {
                "Made by " (input.document.tool) " from input " code { (input.document.digest) }
                @if let Some(date) = &body.date { ", dated " (date) }
                ". The digest of the input is that of the names and bytes of all files in this order."
            }
        }
    }
}

/// The last words.
pub(super) fn footer(input: &Input) -> Markup {
    html! {
        footer {
            p {
                "Circuit review of " bdi { (input.family.name) } ", a computed estimate; "
                a href="#cautions" { "cautions" } " and " a href="#not-checked" { "what was not checked" }
                " belong to it."
            }
        }
    }
}
