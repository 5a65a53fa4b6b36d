//! Boards plugged together: which pairs something was found about.

use lastvolt_core::review::situations::plugged;
use maud::{Markup, PreEscaped, html};

use crate::draw::schematic::stack::stack;
use crate::report::{Input, captioned, finding};
use crate::text::number::{count, listed};
use crate::view::FindingView;

/// Boards that a finding is about, where there are several on one connector.
fn together(finding: &FindingView) -> Option<&[String]> {
    let boards = &finding.situation.as_ref()?.boards;
    (1 < boards.len()).then_some(boards)
}

/// The section; nothing for a family of one board.
pub(super) fn section(input: &Input) -> Markup {
    if !has(input) {
        return html! {};
    }
    let pairs = plugged(input.family, 2).1;
    let found = |boards: &[String]| -> Vec<(usize, &FindingView)> {
        let all = input.document.body.findings.iter().enumerate();
        all.filter(|(_, f)| !f.is_caution() && together(f) == Some(boards))
            .collect()
    };
    let named: Vec<_> = pairs
        .iter()
        .map(|p| (&p.boards, found(&p.boards)))
        .filter(|(_, findings)| !findings.is_empty())
        .collect();
    html! {
        section aria-labelledby="together" {
            h2 #together { "Boards plugged together" }
            p {
                (looked(input, pairs.len())) " "
                @if named.is_empty() {
                    "No rule has anything to say about any of them."
                } @else {
                    (told(named.len(), pairs.len()))
                }
            }
            @if !named.is_empty() { (table(&named)) }
            @let drawn = named.iter().filter(|(_, found)| found.iter().any(|(_, f)| f.severity != "note"));
            @for (at, (boards, _)) in drawn.take(MOST_DRAWN).enumerate() { (drawing(input, at, boards)) }
        }
    }
}

/// Most pairs that are drawn.
const MOST_DRAWN: usize = 6;

/// A pair as a drawing; nothing for a board with another of its kind.
fn drawing(input: &Input, at: usize, names: &[String]) -> Markup {
    let boards = names.iter().map(|name| input.family.board(name));
    let Some(boards) = boards.collect::<Option<Vec<_>>>() else {
        return html! {};
    };
    let drawn = stack(input.family, &boards, None).inside();
    // The same parts stand in the drawings of the boards alone, and an id is there once.
    let drawn = drawn.replace(" id=\"", &format!(" id=\"pair-{}-", at + 1));
    let title = listed(names);
    html! {
        figure.circuit {
            div.scroll tabindex="0" role="group" aria-label={ "Circuit of " (title) " plugged together" } {
                (PreEscaped(drawn))
            }
            figcaption { "The boards " (title) " plugged together: pins of one name are joined." }
        }
    }
}

/// Whether there is something to plug together.
pub(super) fn has(input: &Input) -> bool {
    1 < input.family.boards.len() && 0 < input.document.body.coverage.stacks
}

fn looked(input: &Input, pairs: usize) -> String {
    let connector = input.family.connector.pins.join(", ");
    format!(
        "All boards share the connector {connector}, so that two of them can meet. Every pair was looked \
         at, a board with another of its kind too: {}.",
        count(pairs, "pair")
    )
}

fn told(named: usize, pairs: usize) -> String {
    let rest = match pairs - named {
        0 => String::new(),
        rest => format!(" None names the other {}.", count(rest, "pair")),
    };
    format!("What holds for several pairs is told once, with the worst of them.{rest}")
}

fn table(named: &[(&Vec<String>, Vec<(usize, &FindingView)>)]) -> Markup {
    let head = html! { tr { th { "pair" } th { "findings" } } };
    let rows = html! {
        @for (boards, findings) in named {
            tr {
                th scope="row" { @for (at, board) in boards.iter().enumerate() { @if 0 < at { " + " } bdi { (board) } } }
                td.w {
                    @for (at, one) in findings {
                        div { (finding::mark(one)) a href={ "#" (finding::anchor(*at)) } { (one.rule) } " of " (one.parts.join(", ")) }
                    }
                }
            }
        }
    };
    captioned("Findings about pairs of boards", &head, &rows)
}
