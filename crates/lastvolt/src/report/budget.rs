//! The leakage budget: what takes the cells' current while nothing happens, typically and at most.

use lastvolt_core::quantity::Unit;
use maud::{Markup, PreEscaped, html};

use crate::draw::leaks::{LeakPicture, LeakRow, Takes};
use crate::draw::size::both;
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
            (picture(s))
            h4 { "Switched on, loads in base states" }
            (grid(&on))
            @if !off.is_empty() {
                h4 { "Switched off: " (positions(off[0])) }
                (grid(&off))
            }
        }
    }
}

/// Typical figures at the usual ambient, the largest at any, on and off.
fn picture(s: &Section) -> Markup {
    let all = &s.view.leakage;
    let mut names: Vec<&str> = Vec::new();
    for row in all.iter().flat_map(|c| &c.rows) {
        if !names.contains(&row.part.as_str()) {
            names.push(&row.part);
        }
    }
    let sum = LeakRow {
        name: "all".to_owned(),
        on: takes(all, true, |c| Some((c.typical_a.0, c.most_a.0))),
        off: takes(all, false, |c| Some((c.typical_a.0, c.most_a.0))),
    };
    let mut rows: Vec<LeakRow> = names
        .into_iter()
        .map(|name| {
            let of = |on| {
                takes(all, on, |c| {
                    let own = c.rows.iter().find(|r| r.part == name)?;
                    Some((own.typical_a.0, own.most_a.0))
                })
            };
            LeakRow {
                name: name.to_owned(),
                on: of(true),
                off: of(false),
            }
        })
        .collect();
    let most = |r: &LeakRow| {
        [r.on, r.off]
            .iter()
            .flatten()
            .fold(0.0, |m: f64, t| m.max(t.most))
    };
    let least = SMALL * most(&sum);
    rows.retain(|r| least < most(r));
    rows.sort_by(|a, b| most(b).total_cmp(&most(a)));
    let picture = LeakPicture {
        title: format!("Leakage budget of board {}", s.board.name),
        description: typeset(&message(&sum, rows.first())),
        rows: [sum].into_iter().chain(rows).collect(),
    };
    html! {
        figure {
            (PreEscaped(both(|size| picture.canvas(size))))
            figcaption {
                "From the typical figure at the usual ambient (mark) to the largest at any (end of the line), "
                "by decades: each line across is ten times the one before. Filled marks while the board is on, "
                "open ones while it is off."
            }
        }
    }
}

/// Typical at the usual ambient, the largest of all ambients; none where nothing flows.
fn takes(
    columns: &[LeakView],
    on: bool,
    of: impl Fn(&LeakView) -> Option<(f64, f64)>,
) -> Option<Takes> {
    let own = || columns.iter().filter(move |c| c.on == on);
    let usual = own().find(|c| c.ambient == "usual").and_then(&of);
    let most = own()
        .filter_map(&of)
        .map(|t| t.0.max(t.1))
        .fold(0.0, f64::max);
    (0.0 < most).then(|| Takes {
        typical: usual.map_or(0.0, |t| t.0.max(0.0)),
        most,
    })
}

/// The sums, and who takes most.
fn message(sum: &LeakRow, first: Option<&LeakRow>) -> String {
    let amps = |a: f64| figure(a, Unit::Ampere);
    let said = |state: &str, takes: Option<Takes>| {
        takes.map(|t| {
            let (typical, most) = (amps(t.typical), amps(t.most));
            format!("{state} the cells give {typical} typically and {most} at most.")
        })
    };
    let most = first.map(|r| format!("{} takes most.", r.name));
    let all = [said("On,", sum.on), said("Off,", sum.off), most];
    let all: Vec<String> = all.into_iter().flatten().collect();
    all.join(" ")
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
        (table("What each part takes at rest", &head, &body))
        @if !small.is_empty() {
            p.quiet { (typeset(&format!("Below {} of the sum: {}.", percent(SMALL), listed(&small)))) }
        }
    }
}
