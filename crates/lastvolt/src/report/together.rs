//! Boards plugged together: which pairs something was found about.

use lastvolt_core::model::Family;
use lastvolt_core::review::situations::plugged;
use maud::{Markup, PreEscaped, html};

use crate::draw::schematic::stack::stack;
use crate::report::{Input, finding, table};
use crate::text::number::{count, listed};
use crate::view::FindingView;

/// Boards plugged together, and what was found about them with its place.
type Named<'a> = (&'a Vec<String>, Vec<(usize, &'a FindingView)>);

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
    let (whole, pairs) = plugged(input.family, 2);
    let pairs: Vec<_> = pairs
        .into_iter()
        .filter(|p| reviewed(input, &p.boards))
        .collect();
    let found = |boards: &[String]| -> Vec<(usize, &FindingView)> {
        let all = input.document.body.findings.iter().enumerate();
        all.filter(|(_, f)| !f.is_caution() && together(f) == Some(boards))
            .collect()
    };
    let named: Vec<Named> = pairs
        .iter()
        .map(|p| (&p.boards, found(&p.boards)))
        .filter(|(_, findings)| !findings.is_empty())
        .collect();
    let weighty = named
        .iter()
        .filter(|(_, found)| found.iter().any(|(_, f)| f.severity != "note"));
    let drawings: Vec<Markup> = weighty
        .enumerate()
        .filter_map(|(at, (boards, _))| drawing(&whole, at, boards))
        .collect();
    html! {
        section aria-labelledby="together" {
            h2 #together { "Boards plugged together" }
            p { (looked(input, pairs.len())) " " (told(named.len(), pairs.len())) (partly(input)) }
            @if !named.is_empty() { (listing(&named)) }
            @for drawn in drawings.iter().take(MOST_DRAWN) { (drawn) }
            @if MOST_DRAWN < drawings.len() {
                p.quiet { (count(drawings.len() - MOST_DRAWN, "more pair")) " with something to stop at or to fix: not drawn." }
            }
        }
    }
}

/// Most pairs that are drawn.
const MOST_DRAWN: usize = 6;

/// Whether one of these boards was asked for.
fn reviewed(input: &Input, boards: &[String]) -> bool {
    let of = |name: &String| input.review.boards.iter().any(|b| b.board == *name);
    boards.iter().any(of)
}

/// A pair as a drawing.
fn drawing(whole: &Family, at: usize, names: &[String]) -> Option<Markup> {
    let boards = names.iter().map(|name| whole.board(name));
    let boards = boards.collect::<Option<Vec<_>>>()?;
    let drawn = stack(whole, &boards, None).inside();
    // The same parts stand in the drawings of the boards alone, and an id is there once.
    let drawn = drawn.replace(" id=\"", &format!(" id=\"pair-{}-", at + 1));
    let title = listed(names);
    Some(html! {
        figure.circuit {
            div.scroll tabindex="0" role="group" aria-label={ "Circuit of " (title) " plugged together" } {
                (PreEscaped(drawn))
            }
            figcaption { "The boards " (title) " plugged together: pins of one name are joined." }
        }
    })
}

/// Whether there is something to plug together.
pub(super) fn has(input: &Input) -> bool {
    1 < input.family.boards.len() && 0 < input.document.body.coverage.stacks
}

fn looked(input: &Input, pairs: usize) -> String {
    let connector = input.family.connector.pins.join(", ");
    let left = match input.document.body.coverage.left_out.is_empty() {
        true => "",
        false => "; what was left out is named under what was not checked",
    };
    format!(
        "All boards share the connector {connector}, so that two of them can meet. Pairs looked at, a board \
         with another of its kind too: {pairs}{left}."
    )
}

/// Of how many pairs something is said; what a board alone says already is not said again of its pairs.
fn told(named: usize, pairs: usize) -> String {
    match (named, pairs - named) {
        (0, _) => {
            "Nothing was found about them beyond what is said of each board alone.".to_owned()
        }
        (_, 0) => "What holds for several pairs is told once, with the worst of them.".to_owned(),
        (_, rest) => format!(
            "What holds for several pairs is told once, with the worst of them. Of the other {} nothing is \
             said beyond that and what is said of each board alone.",
            count(rest, "pair")
        ),
    }
}

/// Findings are told with one of the boards of a pair, which a review of some boards may leave out.
fn partly(input: &Input) -> Markup {
    html! {
        @if input.review.boards.len() < input.family.boards.len() {
            " Pairs without a reviewed board are not counted here, and what was found with the other board of a \
             pair stands in the review of that board."
        }
    }
}

fn listing(named: &[Named]) -> Markup {
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
    table("Findings about pairs of boards", &head, &rows)
}
