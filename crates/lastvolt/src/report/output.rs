//! What the rails can give to anything plugged on: the promise, curves, a table, the caution.

use lastvolt_core::quantity::Unit;
use maud::{Markup, PreEscaped, html};

use crate::draw::output::{OutputPicture, shows_starting};
use crate::report::board::Section;
use crate::report::table;
use crate::report::typeset::typeset;
use crate::text::deliver::{
    CAUTION, beside_head, depth_words, legend, limits_words, promise_sentences,
};
use crate::text::number::{celsius, figure};
use crate::view::{OutputRowView, OutputView};

/// The part of a board's section on its output; nothing where it has no rail.
pub(super) fn part(s: &Section) -> Markup {
    let Some(output) = &s.view.output else {
        return html! {};
    };
    html! {
        @for rail in output.all() { (of_rail(s, rail)) }
        @for line in legend(output) { p.quiet { (typeset(&line)) } }
        @if s.board.has_cell() { p { strong { "Caution: " } (typeset(CAUTION)) } }
    }
}

fn of_rail(s: &Section, rail: &OutputView) -> Markup {
    let family = s.input.family;
    let caption = if shows_starting(rail) {
        "Largest current that something plugged on may draw, against the depth of the cells."
    } else {
        "Largest current that something plugged on may draw, against the depth of the cells; starting \
         from off gives as much as running."
    };
    html! {
        p {
            "What " code { (rail.rail) } " has left beside the board's own loads. "
            @for sentence in promise_sentences(rail, family) { (typeset(&sentence)) }
        }
        @if s.board.has_cell() {
            figure {
                (PreEscaped(OutputPicture::new(rail, family).draw()))
                figcaption { (caption) }
            }
        }
        (figures(rail))
    }
}

/// Fresh, at the depth of the required life and at the last one.
fn figures(rail: &OutputView) -> Markup {
    let life = rail.life_depth.map(|d| d.0);
    let last = rail.rows.last().map(|r| r.depth.0);
    let is_shown = |row: &&OutputRowView| {
        let depth = row.depth.0;
        depth == 0.0 || Some(depth) == last || life.is_some_and(|d| (d - depth).abs() < 1e-3)
    };
    let beside = beside_head(rail);
    let head = html! {
        tr {
            th.n { "ambient" } th { "depth" } th.n { "running" }
            @if let Some(beside) = &beside { th.n { (beside) } }
            th.n { "moment" } th.n { "starting" } th { "limit" }
        }
    };
    let amps = |amps: f64| typeset(&figure(amps, Unit::Ampere));
    let body = html! {
        @for row in rail.rows.iter().filter(is_shown) {
            tr {
                td.n { (typeset(&celsius(row.ambient_c.0))) }
                td { (depth_words(rail, row)) }
                td.n { (amps(row.running_a.0)) }
                @if beside.is_some() { td.n { (row.beside_task_a.map_or_else(String::new, |a| amps(a.0))) } }
                td.n { (amps(row.burst_a.0)) }
                td.n { (amps(row.starting_a.0)) }
                td.w { (limits_words(row)) }
            }
        }
    };
    table("What the rail can give", &head, &body)
}
