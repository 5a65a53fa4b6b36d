//! The boards side by side: a picture of their lives and a table of their figures.

use lastvolt_core::model::Ambient;
use lastvolt_core::quantity::{Temperature, Unit};
use maud::{Markup, PreEscaped, html};

use crate::draw::bars::{Bar, BarPicture, Group, Look};
use crate::draw::size::both;
use crate::report::Input;
use crate::report::typeset::{anchor, typeset};
use crate::report::verdict::{held, weights};
use crate::text::ending::{cause_word, cause_words};
use crate::text::life::life_words;
use crate::text::number::{celsius, duration, figure, listed};
use crate::view::{AmbientView, BoardView, RunView};

/// The section.
pub(super) fn section(input: &Input) -> Markup {
    let body = &input.document.body;
    let required = body.required_life_s.map(|l| l.0);
    let groups: Vec<Group> = body.runs.iter().map(|run| group(input, run)).collect();
    let caption = caption(&input.family.requirement.ambient, &groups);
    let picture = BarPicture {
        title: "Run time of each board".to_owned(),
        groups,
        required_secs: required,
        required_words: required
            .map_or_else(String::new, |secs| format!("asked for: {}", duration(secs))),
        counted: "run time",
    };
    html! {
        section aria-labelledby="comparison" {
            h2 #comparison { "The boards side by side" }
            figure {
                (PreEscaped(both(|size| picture.canvas(size))))
                figcaption { (typeset(&caption)) }
            }
            (figures(input, required))
        }
    }
}

/// What to read off the picture.
fn caption(ambient: &Ambient, groups: &[Group]) -> String {
    let [low, high] = [ambient.low, ambient.high].map(|a| celsius(a.as_celsius()));
    let when = match ambient.monthly {
        Some(_) => "through the months of the calendar".to_owned(),
        None => format!("at {}", celsius(ambient.usual.as_celsius())),
    };
    let bars = || groups.iter().flat_map(|g| &g.bars);
    let any = |look| bars().any(|b| b.look == look);
    let mut kinds = Vec::new();
    if any(Look::Low) {
        kinds.push(format!("empty bars at {low}"));
    }
    if any(Look::Usual) {
        kinds.push(format!("filled bars {when}"));
    }
    if any(Look::High) {
        kinds.push(format!("bars with upright strokes at {high}"));
    }
    let mut text = match &kinds[..] {
        [] => "Run time from first use.".to_owned(),
        [_] => format!("Run time from first use {when}."),
        _ => format!("Run time from first use: {}.", listed(&kinds)),
    };
    if bars().any(Bar::is_hatched) {
        text.push_str(&format!(
            " Where a bar is hatched aslant, one night at {low} ends it."
        ));
    }
    text
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
    let ambient = &input.family.requirement.ambient;
    // An ambient like the usual one says nothing again.
    let apart = |at: Temperature| ambient.monthly.is_some() || at != ambient.usual;
    let other = |which: &str, at: Temperature| of(which).filter(|_| apart(at));
    let bars = [
        other("low", ambient.low).map(|a| at_ambient(a, Look::Low)),
        Some(usual(input, run, of("usual"))),
        other("high", ambient.high).map(|a| at_ambient(a, Look::High)),
    ];
    Group {
        name: profile.map_or_else(|| run.board.clone(), |p| format!("{}, {p}", run.board)),
        bars: bars.into_iter().flatten().collect(),
    }
}

fn usual(input: &Input, run: &RunView, ambient: Option<&AmbientView>) -> Bar {
    let said = match run.life_s {
        Some(_) => format!("{}, {}", life_words(run), cause_words(run)),
        None => cause_words(run).to_owned(),
    };
    let monthly = input.family.requirement.ambient.monthly.is_some();
    let note = match ambient {
        // Its figure is the mean of the year, at which this life was not computed.
        Some(_) if monthly => format!("through the months: {said}"),
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
    let cold = body.runs.iter().any(|r| r.cold_night.is_some());
    let head = html! {
        tr {
            th { "board" } th { "profile" } th.n { "life" }
            @if required.is_some() { th { "asked for" } }
            @if cold { th.n { "one cold night ends it from" } }
            th.n { "mean current" } th.n { "standing current" }
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
                    td data-label="asked for" { (held(body, run).word()) }
                }
                @if cold {
                    td.n data-label="one cold night ends it from" {
                        (run.cold_night.as_ref().map_or_else(String::new, |c| duration(c.time_s.0)))
                    }
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

#[cfg(test)]
mod tests {
    use super::*;

    fn bar(look: Look, pale_secs: Option<f64>) -> Bar {
        Bar {
            secs: Some(9.0),
            pale_secs,
            look,
            note: String::new(),
        }
    }

    #[test]
    fn the_caption_names_what_is_drawn_and_nothing_else() {
        let ambient = Ambient {
            low: Temperature::from_celsius(-20.0),
            usual: Temperature::from_celsius(20.0),
            high: Temperature::from_celsius(40.0),
            monthly: None,
        };
        let said = |bars: Vec<Bar>| {
            let name = String::new();
            caption(&ambient, &[Group { name, bars }])
        };
        let alone = said(vec![bar(Look::Usual, None)]);
        assert_eq!(alone, "Run time from first use at 20 degC.");
        let later = said(vec![bar(Look::Usual, Some(9.0))]);
        assert_eq!(later, alone);
        let cold = said(vec![bar(Look::Usual, Some(5.0))]);
        assert!(cold.contains("aslant, one night at -20 degC"), "{cold}");
        let all = [Look::Low, Look::Usual, Look::High];
        let all = said(all.map(|look| bar(look, None)).into_iter().collect());
        for words in [
            "empty bars at -20",
            "filled bars at 20",
            "upright strokes at 40",
        ] {
            assert!(all.contains(words), "{all}");
        }
    }
}
