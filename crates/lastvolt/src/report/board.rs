//! One board: findings, the walk through its blocks, solved values, life, budget, positions, parts.

use lastvolt_core::model::{Board, Kind};
use lastvolt_core::quantity::Unit;
use lastvolt_core::review::BoardReview;
use maud::{Markup, html};

use crate::report::burst::{Burst, heaviest};
use crate::report::typeset::{anchor, typeset};
use crate::report::verdict::verdict;
use crate::report::{Input, budget, finding, life, output, positions, table, walk};
use crate::text::number::{celsius, figure, solved};
use crate::view::{BoardView, ListedView};

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

/// The section of a board.
pub(super) fn section(input: &Input, review: &BoardReview) -> Markup {
    let views = &input.document.body.boards;
    let (Some(board), Some(view)) = (
        input.family.board(&review.board),
        views.iter().find(|v| v.name == review.board),
    ) else {
        return html! {};
    };
    let burst = heaviest(input.family, board, input.profile);
    let s = Section {
        input,
        board,
        review,
        view,
        burst,
    };
    let id = anchor(&board.name);
    html! {
        section aria-labelledby=(id) {
            h2 id=(id) { "Board " (board.name) }
            p.lead { (board.title) }
            p { (typeset(&verdict(&input.document.body, &board.name))) }
            (findings(&s))
            (walk::part(&s))
            (walk::legend(&s))
            (values(&s))
            @for (run, solved) in input.runs(&board.name).zip(&review.lives) { (life::part(&s, run, &solved.life)) }
            @if let Some(waves) = input.waves.iter().find(|w| w.board == board.name) { (waves.part()) }
            (output::part(&s))
            (budget::part(&s))
            (positions::part(&s))
            (parts(&s))
        }
    }
}

fn findings(s: &Section) -> Markup {
    let found: Vec<_> = s.input.findings(&s.board.name).collect();
    html! {
        h3 { "Findings" }
        @if found.is_empty() { p { "No rule has anything to say." } }
        @for one in found { (finding::block(one)) }
    }
}

/// Voltages of the nets and what the loads get, at rest and in the heaviest step.
fn values(s: &Section) -> Markup {
    let burst = s.burst.as_ref().map(|b| &b.point);
    let head = html! { tr { th { "net" } th.n { "at rest" } @if burst.is_some() { th.n { "in the burst" } } } };
    let rows = html! {
        @for net in &s.review.usual.nets {
            tr {
                th scope="row" { code { (net.name) } }
                td.n { (typeset(&solved(net.volts, Unit::Volt))) }
                @if let Some(point) = burst {
                    td.n { (typeset(&point.net(&net.name).map_or_else(String::new, |v| solved(v, Unit::Volt)))) }
                }
            }
        }
    };
    html! {
        h3 { "Solved values" }
        p.quiet { (typeset(&conditions(s))) }
        div.pair { (table(&head, &rows)) (loads(s)) }
        @if !s.review.usual.floating.is_empty() {
            p { strong { "Without a defined level: " } (s.review.usual.floating.join(", ")) "." }
        }
    }
}

/// Under which conditions the values hold.
pub(super) fn conditions(s: &Section) -> String {
    let ambient = s.input.family.requirement.ambient.usual.as_celsius();
    let rest = format!(
        "Usual positions, fresh rested cells, {}. At rest the loads are in their base states",
        celsius(ambient)
    );
    match &s.burst {
        Some(burst) => format!(
            "{rest}; the burst is the heaviest step of a task: {} in {}, for {}.",
            burst.states.join(", "),
            burst.task,
            figure(burst.step_secs, Unit::Second)
        ),
        None => format!("{rest}."),
    }
}

fn loads(s: &Section) -> Markup {
    let burst = s.burst.as_ref().map(|b| &b.point);
    let loads = s.input.family.loads_of(s.board);
    let head = html! {
        tr { th { "load" } th.n { "at rest" } @if burst.is_some() { th.n { "in the burst" } } th.n { "works from" } th.n { "to" } }
    };
    let rows = html! {
        @for solved_load in &s.review.usual.loads {
            @let load = loads.iter().find(|l| l.name == solved_load.name);
            @let state = s.burst.as_ref().and_then(|b| b.situation.states.get(&solved_load.name));
            @let state = state.and_then(|state| load?.state(state)).unwrap_or(0);
            @let range = load.and_then(|l| l.working_in(state));
            tr {
                th scope="row" { (solved_load.name) }
                td.n { (typeset(&figure(solved_load.amps, Unit::Ampere))) br; (typeset(&figure(solved_load.volts, Unit::Volt))) }
                @if let Some(point) = burst {
                    td.n {
                        @if let Some(l) = point.load(&solved_load.name) {
                            (typeset(&figure(l.amps, Unit::Ampere))) br; (typeset(&figure(l.volts, Unit::Volt)))
                        }
                    }
                }
                td.n { @if let Some(r) = range { (typeset(&figure(r.from.as_volts(), Unit::Volt))) } }
                td.n { @if let Some(r) = range { (typeset(&figure(r.to.as_volts(), Unit::Volt))) } }
            }
        }
    };
    table(&head, &rows)
}

/// Parts as they would be ordered: equal ones on one line.
fn parts(s: &Section) -> Markup {
    let mut lines: Vec<(Vec<&str>, &ListedView)> = Vec::new();
    for part in &s.view.parts {
        let same = |l: &&mut (Vec<&str>, &ListedView)| {
            l.1.kind == part.kind && l.1.value == part.value && l.1.model == part.model
        };
        match lines.iter_mut().find(same) {
            Some(line) => line.0.push(&part.part),
            None => lines.push((vec![&part.part], part)),
        }
    }
    let head = html! { tr { th.n { "count" } th { "parts" } th { "kind" } th { "value" } th { "model" } } };
    let rows = html! {
        @for (names, part) in &lines {
            tr {
                td.n { (names.len()) }
                td { span.ref { (names.join(", ")) } }
                td { (part.kind) }
                td.w { (typeset(&part.value)) }
                td {
                    @if let Some(model) = &part.model { code { (model) } }
                    @if part.class { " " span.quiet { "a class: choose a part" } }
                }
            }
        }
    };
    html! { h3 { "Parts list" } (table(&head, &rows)) }
}

/// Whether a part is one that feeds the board.
pub(super) fn is_source(kind: Kind) -> bool {
    matches!(kind, Kind::Cell | Kind::Supply)
}
