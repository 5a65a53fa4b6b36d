//! What every switch position and every reversed cell does.

use lastvolt_core::circuit::MatrixCase;
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
    let cells: Vec<&str> = cases.first().map_or_else(Vec::new, |c| {
        c.cells.iter().map(|(n, _)| n.as_str()).collect()
    });
    let switches: Vec<&str> = cases.first().map_or_else(Vec::new, |c| {
        c.situation.positions.keys().map(String::as_str).collect()
    });
    let head = html! {
        tr {
            @for switch in &switches { th { (label(s, switch)) } }
            @if turned { th { "cells" } }
            th.n { "rail" } th { "loads" }
            @for cell in &cells { th.n { (cell) " gives" } }
            th { "remarks" }
        }
    };
    let columns = 3 + cells.len();
    let body = html! { @for case in cases { (row(case, turned, columns)) } };
    html! {
        @for warning in &s.review.matrix.warnings { p.quiet { (warning) } }
        (table(&head, &body))
        p.quiet { "Loads in base states, fresh cells, usual ambient. Stress from half of a rating on is listed." }
    }
}

/// A switch by its name and what is printed beside it.
fn label(s: &Section, name: &str) -> String {
    let printed = s.board.part(name).and_then(|p| match &p.device {
        lastvolt_core::model::Device::Switch(switch) => switch.label.as_deref(),
        _ => None,
    });
    printed.map_or_else(|| name.to_owned(), |l| format!("{name} {l}"))
}

fn row(case: &MatrixCase, turned: bool, columns: usize) -> Markup {
    let reversed: Vec<&str> = case.situation.reversed.iter().map(String::as_str).collect();
    html! {
        tr {
            @for position in case.situation.positions.values() { td { (position) } }
            @if turned { td { @if reversed.is_empty() { "right way" } @else { strong { (listed(&reversed)) " backwards" } } } }
            @if let Err(why) = &case.point {
                td colspan=(columns) { "no operating point: " (why) }
            } @else {
                td.n { (typeset(&figure(case.rail_volts, Unit::Volt))) }
                td { @if case.powered { "powered" } @else { "off" } }
                @for (_, amps) in &case.cells { td.n { (typeset(&figure(*amps, Unit::Ampere))) } }
                td.w { (typeset(&remarks(case))) }
            }
        }
    }
}

fn remarks(case: &MatrixCase) -> String {
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
