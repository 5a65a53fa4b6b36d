//! The end of the page: cautions, models with their sources, what was not checked.

use maud::{Markup, html};

use crate::report::finding::sure;
use crate::report::{Input, table};
use crate::text::check::cautions as grouped;
use crate::view::ListedView;

/// Cautions, each once with the boards that need it.
pub(super) fn cautions(input: &Input) -> Markup {
    html! {
        section aria-labelledby="cautions" {
            h2 #cautions { "Cautions" }
            ul.cautions {
                @for (caution, boards) in grouped(&input.document.body.findings) {
                    li {
                        p { strong { (caution.says) } " " span.quiet { "Boards: " (boards.join(", ")) "." } }
                        p { "To do: " (caution.remedy) ". " span.quiet { "(" (caution.basis) ")" } }
                        @if let Some(reason) = &caution.accepted { p { "Accepted because: " (reason) } }
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
                td { (one.users.join(", ")) }
                td { (sure(one.part.confidence)) @if one.part.class { "; a class, not a part one can buy" } }
                td.w { (one.part.source.as_deref().unwrap_or("written in the family's files")) }
            }
        }
    };
    html! {
        section aria-labelledby="models" {
            h2 #models { "Models and their sources" }
            p { "A class stands for many parts: put the figures of the part that you fit into its place." }
            (table(&head, &rows))
        }
    }
}

/// What was not looked at.
pub(super) fn not_checked(input: &Input) -> Markup {
    let requirement = &input.family.requirement;
    html! {
        section aria-labelledby="not-checked" {
            h2 #not-checked { "What was not checked" }
            ul {
                @if 1 < input.family.boards.len() {
                    li { "Three and more boards plugged together: every pair is." }
                }
                li { "Layout, loop areas, vias, thermal paths and mechanics." }
                li { "Electrostatic discharge, electromagnetic emission and immunity, the antenna." }
                li { "How the control of converters behaves beyond one time of response; their ripple is a formula." }
                @if requirement.ambient.monthly.is_none() {
                    li { "Months of different temperature: none are given, so lives run at one temperature, with one cold night on top." }
                }
                @if requirement.storage.is_some() {
                    li { "Storage in the board or at another temperature: cells are taken to lie on a shelf at 20 degC." }
                }
                @if requirement.confidence.is_some() {
                    li { "The spread of units beyond that of charge and resistance of their cells: parts, loads and ambient are typical in every unit, and the limits of a load are no spread." }
                }
                li { "Charging and solar sources, which are not covered." }
            }
        }
    }
}

/// Who made the page, from what.
pub(super) fn footer(input: &Input) -> Markup {
    html! {
        footer {
            @for warning in &input.document.warnings { p { (warning) } }
            p { "Made by " (input.document.tool) " from input " code { (input.document.digest) } "." }
        }
    }
}
