//! What every position of the switches does, each row a link that sets it.

use lastvolt_core::circuit::{MatrixCase, Situation, matrix};
use lastvolt_core::progress::Silent;
use lastvolt_core::quantity::Unit;
use maud::{Markup, html};

use crate::report::positions::{loads, remarks};
use crate::report::typeset;
use crate::text::number::{figure, listed};
use crate::web::server::Asked;

/// Rows at most; the rest is said to be there.
const MOST_ROWS: usize = 80;

/// The name under which a row is known.
pub(super) fn row_key(situation: &Situation) -> String {
    let positions = situation
        .positions
        .iter()
        .map(|(name, position)| format!("{name}={position}"));
    let reversed = situation.reversed.iter().map(|name| format!("-{name}"));
    let all: Vec<String> = positions.chain(reversed).collect();
    format!("row:{}", all.join(","))
}

/// The table.
pub(super) fn positions(asked: &Asked) -> Markup {
    let setting = &asked.setting;
    let family = asked.circuit.family();
    let solved = matrix(family, &setting.boards, setting.profile(family), &Silent);
    let Ok(solved) = solved else {
        return html! { p { "The positions have no operating point to show." } };
    };
    let cases = &solved.cases;
    let Some(first) = cases.first() else {
        return html! {};
    };
    let turned = cases.iter().any(|c| !c.situation.reversed.is_empty());
    let names: Vec<&String> = first.situation.positions.keys().collect();
    let more = cases.len().saturating_sub(MOST_ROWS);
    html! {
        @for warning in &solved.warnings { p.quiet { (warning) } }
        div.table.situations tabindex="0" role="group" aria-label="What every position of the switches does" {
            table {
                caption { span.hidden { "What every position of the switches does" } }
                thead { tr {
                    th { "set" }
                    @for name in &names { th { (name) } }
                    @if turned { th { "cells" } }
                    th.n { "rail" } th { "loads" } th { "look at" }
                } }
                tbody { @for case in cases.iter().take(MOST_ROWS) { (row(asked, case, turned)) } }
            }
        }
        @if 0 < more { p.quiet { (more) " more situations are not shown here; " code { "lastvolt matrix" } " lists all." } }
        p.quiet { "Loads in base states, fresh cells, usual ambient. The row that is set is marked; each row can be set from here." }
    }
}

fn row(asked: &Asked, case: &MatrixCase, turned: bool) -> Markup {
    let setting = &asked.setting;
    let situation = &case.situation;
    let key = row_key(situation);
    let is_set = key == row_key(&setting.situation);
    let link = setting.with(|s| {
        s.situation.positions.clone_from(&situation.positions);
        s.situation.reversed.clone_from(&situation.reversed);
    });
    let reversed: Vec<&String> = situation.reversed.iter().collect();
    html! {
        tr class=(if case.powered { "runs" } else { "rests" }) data-live=(key) aria-current=[is_set.then_some("true")] {
            td { a.set data-set href=(link.link()) aria-label={ "set " (words(situation)) } { span.here { "\u{25b8} set now" } span.there { "set" } } }
            @for position in situation.positions.values() { td { bdi { (position) } } }
            @if turned {
                td { @if reversed.is_empty() { "right way" } @else { strong { "\u{21c4} " (listed(&reversed)) " backwards" } } }
            }
            @match &case.point {
                Err(why) => { td colspan="3" { "no operating point: " (why) } }
                Ok(_) => {
                    td.n { (typeset(&figure(case.rail_volts, Unit::Volt))) }
                    td { (loads(case)) }
                    td.w { (typeset(&remarks(case))) }
                }
            }
        }
    }
}

/// A row in words, for those who do not see its cells.
fn words(situation: &Situation) -> String {
    let positions = situation.positions.iter();
    let mut words: Vec<String> = positions
        .map(|(name, position)| format!("{name} {position}"))
        .collect();
    words.extend(
        situation
            .reversed
            .iter()
            .map(|name| format!("{name} backwards")),
    );
    words.join(", ")
}
