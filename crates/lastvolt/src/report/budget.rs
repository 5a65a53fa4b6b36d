//! The leakage budget: what takes the cells' current while nothing happens, typically and at most.

use lastvolt_core::quantity::Unit;
use maud::{Markup, html};

use crate::report::board::Section;
use crate::report::table;
use crate::report::typeset::typeset;
use crate::text::number::{celsius, figure, listed, percent};
use crate::view::LeakView;

/// The part of a board's section.
pub(super) fn part(s: &Section) -> Markup {
    let of =
        |on: bool| -> Vec<&LeakView> { s.view.leakage.iter().filter(|l| l.on == on).collect() };
    let (on, off) = (of(true), of(false));
    html! {
        @if !on.is_empty() {
            p.quiet {
                "Share of the cells' current that each part and load accounts for while nothing happens, "
                "with typical and with the largest figures."
            }
            h4 { "Switched on, loads in base states" }
            (grid(&on))
            @if !off.is_empty() {
                h4 { "Switched off: " (positions(off[0])) }
                (grid(&off))
            }
        }
    }
}

fn positions(column: &LeakView) -> String {
    let pairs = column.situation.positions.iter();
    let pairs: Vec<String> = pairs.map(|(name, at)| format!("{name} {at}")).collect();
    pairs.join(", ")
}

/// Share of a column's largest total below which a part is named and not listed.
const SMALL: f64 = 1e-4;

fn grid(columns: &[&LeakView]) -> Markup {
    let mut names: Vec<&str> = Vec::new();
    let mut small: Vec<&str> = Vec::new();
    for row in columns.iter().flat_map(|c| &c.rows) {
        let name = row.part.as_str();
        if !names.contains(&name) && !small.contains(&name) {
            let counts = columns.iter().any(|c| {
                let own = c.rows.iter().find(|r| r.part == name);
                own.is_some_and(|r| SMALL * c.most_a.0 < r.most_a.0.max(r.typical_a.0))
            });
            if counts {
                names.push(name)
            } else {
                small.push(name)
            }
        }
    }
    let head = html! {
        tr {
            th rowspan="2" { "part or load" }
            @for column in columns {
                th.mid colspan="2" { (column.ambient) ", " (typeset(&celsius(column.situation.ambient_c.0))) }
            }
        }
        tr { @for _ in columns { th.n { "typical" } th.n { "most" } } }
    };
    let amps = |value: f64| typeset(&figure(value, Unit::Ampere));
    let body = html! {
        @for name in &names {
            tr {
                td { span.ref { (name) } }
                @for column in columns {
                    @let row = column.rows.iter().find(|r| r.part == *name);
                    td.n { (row.map_or_else(String::new, |r| amps(r.typical_a.0))) }
                    td.n { (row.map_or_else(String::new, |r| amps(r.most_a.0))) }
                }
            }
        }
        tr.sum {
            td { "all" }
            @for column in columns {
                td.n { (amps(column.typical_a.0)) }
                td.n { (amps(column.most_a.0)) }
            }
        }
    };
    html! {
        (table(&head, &body))
        @if !small.is_empty() {
            p.quiet { (typeset(&format!("Below {} of the sum: {}.", percent(SMALL), listed(&small)))) }
        }
    }
}
