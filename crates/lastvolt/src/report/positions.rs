//! What every switch position and every reversed cell does.

use lastvolt_core::circuit::MatrixCase;
use lastvolt_core::model::{Board, Device};
use lastvolt_core::quantity::Unit;
use maud::{Markup, html};

use crate::report::board::Section;
use crate::report::table;
use crate::report::typeset::typeset;
use crate::text::number::{figure, listed, percent};

/// The part of a board's section.
pub(super) fn part(s: &Section) -> Markup {
    let cases = &s.review.matrix.cases;
    let turned = cases.iter().any(|c| !c.situation.reversed.is_empty());
    let cells = cells(s.board, cases);
    let switches: Vec<&str> = cases.first().map_or_else(Vec::new, |c| {
        c.situation.positions.keys().map(String::as_str).collect()
    });
    let head = html! {
        tr {
            @for switch in &switches { th { (label(s, switch)) } }
            @if turned { th { "cells" } }
            th.n { "rail" } th { "loads" }
            @for cell in &cells { th.n { (cell) " gives" } }
        }
    };
    let columns = switches.len() + usize::from(turned) + 2 + cells.len();
    let body = html! { @for case in cases { (row(case, turned, columns)) } };
    html! {
        @for warning in &s.review.matrix.warnings { p.quiet { (warning) } }
        div.situations { (table("What every position of the switches does", &head, &body)) }
        p.quiet {
            "\u{2713} every load in its working range, \u{2013} off, \u{d7} a load outside its range; \u{21c4} a cell put in "
            "backwards; ! something to look at: a cell that is charged, a net without a level, a stress from half of a "
            "rating on. Loads in base states, fresh cells, usual ambient."
        }
    }
}

/// The cell parts in the order in which solved cases list them.
fn cells<'s>(board: &'s Board, cases: &'s [MatrixCase]) -> Vec<&'s str> {
    let solved = cases.iter().find(|c| c.point.is_ok());
    solved.map_or_else(
        || {
            let parts = board.parts.iter();
            let cells = parts.filter(|p| matches!(p.device, Device::Cell(_)));
            cells.map(|p| p.name.as_str()).collect()
        },
        |c| c.cells.iter().map(|(n, _)| n.as_str()).collect(),
    )
}

/// A switch by its name and what is printed beside it.
fn label(s: &Section, name: &str) -> String {
    let printed = s.board.part(name).and_then(|p| match &p.device {
        Device::Switch(switch) => switch.label.as_deref(),
        _ => None,
    });
    printed.map_or_else(|| name.to_owned(), |l| format!("{name} {l}"))
}

fn row(case: &MatrixCase, turned: bool, columns: usize) -> Markup {
    let reversed: Vec<&str> = case.situation.reversed.iter().map(String::as_str).collect();
    let remarks = remarks(case);
    let class = if case.powered { "runs" } else { "rests" };
    html! {
        tr class=(class) {
            @for position in case.situation.positions.values() { td { bdi { (position) } } }
            @if turned {
                td {
                    @if reversed.is_empty() { "right way" }
                    @else { strong { "\u{21c4} " (listed(&reversed)) " backwards" } }
                }
            }
            @if let Err(why) = &case.point {
                td colspan=(columns - case.situation.positions.len() - usize::from(turned)) { "no operating point: " (why) }
            } @else {
                td.n { (typeset(&figure(case.rail_volts, Unit::Volt))) }
                td { (loads(case)) }
                @for (name, amps) in &case.cells {
                    td.n {
                        @if case.charged.contains(name) { strong { "charged " } }
                        (typeset(&figure(*amps, Unit::Ampere)))
                    }
                }
            }
        }
        @if !remarks.is_empty() {
            tr.remark { td colspan=(columns) { strong { "! " } (typeset(&remarks)) } }
        }
    }
}

/// A rail below this is off: no load works from so little (common practice).
pub(crate) const OFF_VOLTS: f64 = 0.3;

/// Whether the loads of a case run, in a sign and a word.
pub(crate) fn loads(case: &MatrixCase) -> &'static str {
    if case.powered {
        "\u{2713}\u{a0}powered"
    } else if case.rail_volts.abs() < OFF_VOLTS {
        "\u{2013}\u{a0}off"
    } else {
        "\u{d7}\u{a0}not powered"
    }
}

/// What to look at in a case, in words.
pub(crate) fn remarks(case: &MatrixCase) -> String {
    let mut words = Vec::new();
    if !case.charged.is_empty() {
        words.push(format!("charges {}", listed(&case.charged)));
    }
    if !case.floating.is_empty() {
        words.push(format!("{} without a level", listed(&case.floating)));
    }
    words.extend(
        case.stressed
            .iter()
            .map(|s| format!("{} {} at {}", s.part, s.quantity, percent(s.share))),
    );
    words.join("; ")
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::cli::load::load;

    #[test]
    fn cells_have_their_columns_where_no_case_has_a_point() {
        let dir = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/frost-beacon");
        let family = load(Path::new(dir)).expect("the example").model;
        let board = family.boards.first().expect("a board");
        assert!(!cells(board, &[]).is_empty());
    }
}
