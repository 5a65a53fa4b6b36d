//! The life of a board: how it ends, its voltages on the way, where energy and voltage go.

use lastvolt_core::model::Load;
use lastvolt_core::quantity::Unit;
use lastvolt_core::time::Life;
use maud::{Markup, PreEscaped, html};

use crate::draw::bars::share_bar;
use crate::draw::curves::{LifePicture, Line};
use crate::report::board::Section;
use crate::report::typeset::typeset;
use crate::report::{notice, table};
use crate::text::ending::{
    calendar_sentence, cause_sentence, cause_words, cold_sentence, line_words, storage_sentence,
};
use crate::text::number::{duration, figure, listed, percent};
use crate::view::{RestartView, RunView};

/// Share below which a line of the ledger is named and not listed.
const SMALL: f64 = 5e-4;

/// The part of a board's section on one run.
pub(super) fn part(s: &Section, run: &RunView, life: &Life) -> Markup {
    let family = s.input.family;
    html! {
        p { (typeset(&cause_sentence(run, family))) (typeset(&mean(run))) }
        @for words in [calendar_sentence(run), storage_sentence(run)].into_iter().flatten() {
            p { (typeset(&words)) }
        }
        @if let Some(cold) = cold_sentence(run, family) { p { (typeset(&cold)) } }
        @for sentence in RestartView::sentences(&run.restart) { p { (typeset(&sentence)) } }
        @if run.trace.time_s.len() > 1 { (picture(s, run, life)) }
        @for warning in &life.warnings { p.quiet { (typeset(&sentence(warning))) } }
        (notice::part(s, run))
        @if !run.end.shares.is_empty() { (fatal_drop(s, run)) }
        @if !run.ledger.is_empty() { (ledger(s, run)) }
    }
}

fn mean(run: &RunView) -> String {
    if run.ledger.is_empty() {
        return String::new();
    }
    format!(
        " The cells give {} in the mean; the run time is computed to within {}.",
        figure(run.mean_cell_a.0, Unit::Ampere),
        duration(run.life_error_s.0)
    )
}

/// A note of the engine as a sentence.
fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    let head = chars.next().map(|c| c.to_uppercase().collect::<String>());
    format!("{}{}.", head.unwrap_or_default(), chars.as_str())
}

fn picture(s: &Section, run: &RunView, life: &Life) -> Markup {
    let family = s.input.family;
    let trace = &life.trace;
    let loads = family.loads_of(s.board);
    let end = run
        .life_s
        .map(|l| format!("{} after {}", cause_words(run), duration(l.0)));
    let drawing = LifePicture {
        title: format!("Life of board {}", s.board.name),
        description: format!("Voltages over the life. {}", cause_sentence(run, family)),
        time_secs: &trace.time_secs,
        lines: lines(life),
        band: band(&loads, run),
        end,
        cold_secs: run.cold_night.as_ref().map(|c| c.time_s.0),
        required_secs: family.requirement.life.map(|l| l.as_secs()),
    };
    html! {
        figure {
            (PreEscaped(drawing.draw()))
            figcaption {
                "Full lines at rest, broken lines at the lowest instant of the worst coincidence of tasks; "
                "cell voltages are per cell, the lowest of a string."
            }
        }
    }
}

/// The rail, and the cell where it is not the rail.
fn lines(life: &Life) -> Vec<Line<'_>> {
    let trace = &life.trace;
    let line = |name, class, volts| Line { name, class, volts };
    let mut lines = vec![
        line(
            "rail at rest",
            "rail-rest",
            trace.rail.rest_volts.as_slice(),
        ),
        line("rail in a burst", "rail-lowest", &trace.rail.lowest_volts),
    ];
    let same = |a: &[f64], b: &[f64]| a.iter().zip(b).all(|(a, b)| (a - b).abs() < 0.02);
    if !same(&trace.cell.rest_volts, &trace.rail.rest_volts) {
        lines.push(line("cell at rest", "cell-rest", &trace.cell.rest_volts));
        lines.push(line(
            "cell in a burst",
            "cell-lowest",
            &trace.cell.lowest_volts,
        ));
    }
    lines.retain(|l| !l.volts.is_empty());
    lines
}

/// The working range that decides the end, or the first load's.
fn band(loads: &[&Load], run: &RunView) -> Option<(String, f64, f64)> {
    let wanted = run.end.load.as_deref();
    let load = loads.iter().find(|l| Some(l.name.as_str()) == wanted);
    let load = load.or(loads.first())?;
    let state = run
        .end
        .state
        .as_deref()
        .and_then(|s| load.state(s))
        .unwrap_or(0);
    let range = load.working_in(state)?;
    let name = load.states.get(state).map_or("", |s| s.name.as_str());
    let (from, to) = (range.from.as_volts(), range.to.as_volts());
    let said = format!(
        "{} in {name} works from {} to {}",
        load.name,
        figure(from, Unit::Volt),
        figure(to, Unit::Volt)
    );
    Some((typeset(&said), from, to))
}

fn fatal_drop(s: &Section, run: &RunView) -> Markup {
    let total = run.end.drop_v.map_or(0.0, |v| v.0);
    let rows: Vec<(String, String, f64)> = run
        .end
        .shares
        .iter()
        .map(|(name, share)| {
            let volts = figure(share.0 * total, Unit::Volt);
            (line_words(name, Some(s.board)), volts, share.0)
        })
        .collect();
    html! {
        h4 { "Where the last volts go" }
        p.quiet {
            (typeset(&format!("At the end {} are lost between the open cell and the load.", figure(total, Unit::Volt))))
        }
        (shares("lost in", "voltage", &rows))
    }
}

fn ledger(s: &Section, run: &RunView) -> Markup {
    let total: f64 = run.ledger.iter().map(|l| l.joule.0).sum();
    let share = |joule: f64| if total == 0.0 { 0.0 } else { joule / total };
    let mut lines: Vec<_> = run.ledger.iter().collect();
    lines.sort_by(|a, b| b.joule.0.total_cmp(&a.joule.0));
    let (large, small): (Vec<_>, Vec<_>) = lines
        .into_iter()
        .partition(|l| SMALL <= share(l.joule.0).abs());
    let rows: Vec<(String, String, f64)> = large
        .iter()
        .map(|l| {
            (
                line_words(&l.line, Some(s.board)),
                figure(l.joule.0, Unit::Joule),
                share(l.joule.0),
            )
        })
        .collect();
    let small: Vec<String> = small
        .iter()
        .map(|l| line_words(&l.line, Some(s.board)))
        .collect();
    let used: f64 = run
        .ledger
        .iter()
        .filter(|l| l.line.starts_with("load:"))
        .map(|l| l.joule.0)
        .sum();
    html! {
        h4 { "Where the energy goes" }
        p {
            (typeset(&format!(
                "Of the {} in the fresh cells {} reach the loads.",
                figure(total, Unit::Joule),
                percent(share(used))
            )))
        }
        (shares("energy", "joules", &rows))
        p.quiet {
            @if !small.is_empty() { (typeset(&format!("Below {}: {}. ", percent(SMALL), listed(&small)))) }
            (format!("The lines and the stored energy agree within {:.0e}.", run.ledger_error.0.max(1e-15)))
        }
    }
}

/// Rows of a whole with a bar each.
fn shares(what: &str, value: &str, rows: &[(String, String, f64)]) -> Markup {
    let largest = rows.iter().map(|r| r.2.abs()).fold(1e-9, f64::max);
    let head = html! { tr { th { (what) } th.n { (value) } th.n { "share" } th.bars { span.hidden { "bar" } } } };
    let body = html! {
        @for (name, value, share) in rows {
            tr {
                td { (name) }
                td.n { (typeset(value)) }
                td.n { (typeset(&percent(*share))) }
                td.bars { (PreEscaped(share_bar(share.abs() / largest))) }
            }
        }
    };
    html! { div.shares { (table(&head, &body)) } }
}
