//! Solved values of a board: voltages of its nets and what its loads get, at rest and in the heaviest
//! step of a task.

use lastvolt_core::quantity::Unit;
use maud::{Markup, html};

use crate::report::board::{Section, floating};
use crate::report::table;
use crate::report::typeset::typeset;
use crate::text::number::{celsius, figure, solved};

/// The part of a board's section.
pub(super) fn part(s: &Section) -> Markup {
    html! {
        p.quiet { (typeset(&conditions(s))) }
        div.pair { (nets(s)) (loads(s)) }
        @if let Some(words) = floating(s) { p { strong { (words) } } }
    }
}

fn nets(s: &Section) -> Markup {
    let burst = s.burst.as_ref().map(|b| &b.point);
    let head = html! { tr { th { "net" } th.n { "at rest" } @if burst.is_some() { th.n { "in the burst" } } } };
    let rows = html! {
        @for net in &s.review.usual.nets {
            tr {
                th scope="row" { code { bdi { (net.name) } } }
                td.n { (typeset(&solved(net.volts, Unit::Volt))) }
                @if let Some(point) = burst {
                    td.n { (typeset(&point.net(&net.name).map_or_else(String::new, |v| solved(v, Unit::Volt)))) }
                }
            }
        }
    };
    table("Voltages of the nets", &head, &rows)
}

/// Under which conditions the values hold.
fn conditions(s: &Section) -> String {
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
    if s.review.usual.loads.is_empty() {
        return html! {};
    }
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
                th scope="row" { bdi { (solved_load.name) } }
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
    table("What the loads get", &head, &rows)
}
