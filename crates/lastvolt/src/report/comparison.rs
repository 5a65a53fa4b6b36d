//! The boards side by side: a picture of their lives and a table of their figures.

use lastvolt_core::quantity::Unit;
use maud::{Markup, PreEscaped, html};

use crate::draw::bars::{Bar, BarPicture, Group, Look};
use crate::draw::size::both;
use crate::report::Input;
use crate::report::typeset::{anchor, typeset};
use crate::report::verdict::weights;
use crate::text::ending::{cause_word, cause_words};
use crate::text::life::{life_words, verdict};
use crate::text::number::{celsius, duration, figure};
use crate::view::{AmbientView, BoardView, RunView};

/// The section.
pub(super) fn section(input: &Input) -> Markup {
    let body = &input.document.body;
    let required = body.required_life_s.map(|l| l.0);
    let picture = BarPicture {
        title: "Run time of each board".to_owned(),
        groups: body.runs.iter().map(|run| group(input, run)).collect(),
        required_secs: required,
        required_words: required
            .map_or_else(String::new, |secs| format!("asked for: {}", duration(secs))),
        counted: "run time",
    };
    let ambient = &input.family.requirement.ambient;
    let when = match ambient.monthly {
        Some(_) => "through the months of the calendar".to_owned(),
        None => format!("at {}", celsius(ambient.usual.as_celsius())),
    };
    html! {
        section aria-labelledby="comparison" {
            h2 #comparison { "The boards side by side" }
            figure {
                (PreEscaped(both(|size| picture.canvas(size))))
                figcaption {
                    (typeset(&caption(input, &when)))
                }
            }
            (figures(input, required))
        }
    }
}

/// What to read off the picture.
fn caption(input: &Input, when: &str) -> String {
    let ambient = &input.family.requirement.ambient;
    let [low, high] = [ambient.low, ambient.high].map(|a| celsius(a.as_celsius()));
    let known = input.document.body.boards.iter();
    let fills = if known.into_iter().any(|b| !b.ambients.is_empty()) {
        format!(" Open bars at {low}, dark bars {when}, grey bars at {high}.")
    } else {
        format!(" Bars hold {when}.")
    };
    format!(
        "Run time from first use.{fills} From the pale part of a dark bar on, one night at {low} ends it."
    )
}

/// The lives of a run: at the usual ambient, between the lowest and the highest where they are known.
fn group(input: &Input, run: &RunView) -> Group {
    let several = 1 < input.family.profiles.len();
    let profile = run.profile.as_deref().filter(|_| several);
    let judged = input.profile.map(|p| p.name.as_str());
    let boards = &input.document.body.boards;
    let board = boards.iter().find(|b| b.name == run.board);
    let board = board.filter(|_| run.profile.as_deref() == judged);
    let ambients = board.map_or(&[][..], |b| &b.ambients);
    let of = |which: &str| ambients.iter().find(|a| a.ambient == which);
    let bars = [
        of("low").map(|a| at_ambient(a, Look::Low)),
        Some(usual(run, of("usual"))),
        of("high").map(|a| at_ambient(a, Look::High)),
    ];
    Group {
        name: profile.map_or_else(|| run.board.clone(), |p| format!("{}, {p}", run.board)),
        bars: bars.into_iter().flatten().collect(),
    }
}

fn usual(run: &RunView, ambient: Option<&AmbientView>) -> Bar {
    let said = match run.life_s {
        Some(_) => format!("{}, {}", life_words(run), cause_words(run)),
        None => cause_words(run).to_owned(),
    };
    let note = match ambient {
        Some(at) => format!("{}: {said}", celsius(at.ambient_c.0)),
        None => said,
    };
    Bar {
        secs: run.life_s.map(|l| l.0),
        pale_secs: run.cold_night.as_ref().map(|c| c.time_s.0),
        look: Look::Usual,
        note: typeset(&note),
    }
}

fn at_ambient(life: &AmbientView, look: Look) -> Bar {
    let cause = life.cause.map_or("no operating point", cause_word);
    let said = match life.life_s {
        Some(secs) => format!("{}, {cause}", duration(secs.0)),
        None => cause.to_owned(),
    };
    let no_point = life.fails.as_ref().map(|_| 0.0);
    Bar {
        secs: life.life_s.map(|l| l.0).or(no_point),
        pale_secs: None,
        look,
        note: typeset(&format!("{}: {said}", celsius(life.ambient_c.0))),
    }
}

fn figures(input: &Input, required: Option<f64>) -> Markup {
    let body = &input.document.body;
    let head = html! {
        tr {
            th { "board" } th { "profile" } th.n { "life" }
            @if required.is_some() { th { "asked for" } }
            th.n { "one cold night ends it from" } th.n { "mean current" } th.n { "standing current" }
            th.n { "stop" } th.n { "fix" } th.n { "note" }
        }
    };
    let rows = html! {
        @for run in &body.runs {
            @let (stop, fix, note) = weights(body, &run.board);
            tr {
                th scope="row" { a href={ "#" (anchor(&run.board)) } { bdi { (run.board) } } }
                td data-label="profile" { bdi { (run.profile.as_deref().unwrap_or("base states")) } }
                td.n data-label="life" { (life_words(run)) }
                @if required.is_some() {
                    td data-label="asked for" { (match verdict(run, required) { "short" => "short", _ => "met" }) }
                }
                td.n data-label="one cold night ends it from" {
                    (run.cold_night.as_ref().map_or_else(String::new, |c| duration(c.time_s.0)))
                }
                td.n data-label="mean current" { (typeset(&mean(run))) }
                td.n data-label="standing current" { (typeset(&standing(body.boards.iter().find(|b| b.name == run.board)))) }
                td.n data-label="stop" { (stop) }
                td.n data-label="fix" { (fix) }
                td.n data-label="note" { (note) }
            }
        }
    };
    html! {
        div.table.cards tabindex="0" role="group" aria-label="Figures of the boards" {
            table { thead { (head) } tbody { (rows) } }
        }
    }
}

fn mean(run: &RunView) -> String {
    if run.ledger.is_empty() {
        String::new()
    } else {
        figure(run.mean_cell_a.0, Unit::Ampere)
    }
}

/// Current of the cells while nothing happens, at the usual ambient.
fn standing(board: Option<&BoardView>) -> String {
    let usual = board.and_then(|b| b.leakage.iter().find(|l| l.on && l.ambient == "usual"));
    usual.map_or_else(String::new, |l| figure(l.typical_a.0, Unit::Ampere))
}
