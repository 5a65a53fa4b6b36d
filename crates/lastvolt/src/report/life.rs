//! The life of a board: how it ends, its voltages on the way, where energy and voltage go.

mod energy;
pub(super) mod pictures;
pub(super) mod spread;

use lastvolt_core::quantity::Unit;
use lastvolt_core::time::Life;
use maud::{Markup, PreEscaped, html};

use crate::draw::bars::share_bar;
use crate::report::board::Section;
use crate::report::life::energy::Fed;
use crate::report::typeset::typeset;
use crate::report::{notice, table};
use crate::text::ending::{
    calendar_sentence, cause_sentence, cold_sentence, line_words, storage_sentence,
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
        @if run.trace.time_s.len() > 1 { (pictures::voltages(s, run, life)) }
        (pictures::starts(s, run))
        (spread::part(s, run))
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
    let fed = Fed::new(&run.ledger, Some(s.board));
    let share = |joule: f64| fed.share(joule);
    let mut lines: Vec<_> = run.ledger.iter().collect();
    lines.sort_by(|a, b| b.joule.0.total_cmp(&a.joule.0));
    let (large, small): (Vec<_>, Vec<_>) = lines
        .into_iter()
        .partition(|l| SMALL <= share(l.joule.0).abs());
    let rows: Vec<(String, String, f64)> = large
        .iter()
        .map(|l| {
            let name = line_words(&l.line, Some(s.board));
            let gives = if l.joule.0 < 0.0 { ", which gives" } else { "" };
            (
                format!("{name}{gives}"),
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
                "Of the {} {} reach the loads.",
                fed.whole(),
                percent(share(used))
            )))
        }
        (pictures::energy(s, run, &fed))
        (shares("energy", "joules", &rows))
        p.quiet {
            @if !small.is_empty() { (typeset(&format!("Below {}: {}. ", percent(SMALL), listed(&small)))) }
            (format!("The lines and the stored energy agree within {:.0e}.", run.ledger_error.0.max(1e-15)))
        }
    }
}

/// Rows of a whole with a bar each.
fn shares(what: &str, value: &str, rows: &[(String, String, f64)]) -> Markup {
    let largest = rows.iter().map(|r| r.2).fold(1e-9, f64::max);
    let head = html! { tr { th { (what) } th.n { (value) } th.n { "share" } th.bars { span.hidden { "bar" } } } };
    let body = html! {
        @for (name, value, share) in rows {
            tr {
                td { (name) }
                td.n { (typeset(value)) }
                td.n { (typeset(&percent(*share))) }
                td.bars { @if *share > 0.0 { (PreEscaped(share_bar(share / largest))) } }
            }
        }
    };
    html! { div.shares { (table(&format!("Shares of {what}"), &head, &body)) } }
}
