//! `life` as text: a table of runs, then for each why it ends, where the energy went and what the
//! fatal drop is made of.

use std::fmt::Write as _;

use lastvolt_core::model::Family;
use lastvolt_core::quantity::Unit;

use crate::text::ending::{
    ambient_words, calendar_sentence, cause_sentence, cold_sentence, fed_joules, line_words,
    storage_sentence,
};
use crate::text::notice::push_notice;
use crate::text::number::{duration, figure, percent};
use crate::text::paint::Paint;
use crate::text::table::{Align, Table};
use crate::text::{heading, push_lines, push_warnings, push_wrapped};
use crate::view::{Document, LifeView, RestartView, RunView};

/// What capacitors spare is said from here.
const WORTH_SAYING_VOLTS: f64 = 1e-3;
/// Characters of the longest bar.
const BAR: usize = 32;

/// The whole text.
pub(crate) fn text(document: &Document<LifeView>, family: &Family, paint: Paint) -> String {
    let runs = &document.body.runs;
    let mut out = String::new();
    let required = family.requirement.life.map(|t| t.as_secs());
    if let Some(required) = required {
        let share = family.requirement.confidence;
        let share = share.map_or_else(String::new, |s| {
            let share = percent(s.as_share());
            format!(" in {share} of units; judged here is a typical one")
        });
        let _ = writeln!(out, "Required life: {}{share}.\n", duration(required));
    }
    push_lines(&mut out, &table(runs, required).lines(0));
    for run in runs {
        push_run(&mut out, run, family, paint);
    }
    push_warnings(&mut out, &document.warnings, paint);
    out
}

fn table(runs: &[RunView], required: Option<f64>) -> Table {
    let mut table = Table::new(&[
        ("board", Align::Left),
        ("profile", Align::Left),
        ("ambient", Align::Right),
        ("life", Align::Right),
        ("", Align::Left),
        ("end", Align::Left),
        ("mean current", Align::Right),
        ("unused", Align::Right),
    ]);
    for run in runs {
        let fed = !run.ledger.is_empty();
        table.row([
            run.board.clone(),
            run.profile.clone().unwrap_or_default(),
            ambient_words(run),
            life_words(run),
            verdict(run, required).to_owned(),
            run.end.cause.to_owned(),
            if fed {
                figure(run.mean_cell_a.0, Unit::Ampere)
            } else {
                String::new()
            },
            if fed {
                percent(run.stranded.0)
            } else {
                String::new()
            },
        ]);
    }
    table
}

/// The run time in words.
pub(crate) fn life_words(run: &RunView) -> String {
    match run.life_s {
        None => "no end".to_owned(),
        Some(life) if life.0 == 0.0 => "does not run".to_owned(),
        Some(life) => duration(life.0),
    }
}

/// Whether a run meets the requirement, in a word.
pub(crate) fn verdict(run: &RunView, required: Option<f64>) -> &'static str {
    match (run.life_s, required) {
        (_, None) => "",
        (Some(life), Some(required)) if life.0 < required => "short",
        (None, Some(_)) if run.end.cause != "no-end" => "short",
        _ => "ok",
    }
}

fn push_run(out: &mut String, run: &RunView, family: &Family, paint: Paint) {
    let profile = run
        .profile
        .as_ref()
        .map(|p| format!(", {p}"))
        .unwrap_or_default();
    let head = format!("{}{profile}, {}", run.board, ambient_words(run));
    heading(out, &head, paint);
    push_wrapped(out, "  ", &cause_sentence(run, family));
    if let Some(error) = error_sentence(run) {
        push_wrapped(out, "  ", &error);
    }
    let more = [calendar_sentence(run), storage_sentence(run)];
    for sentence in more.into_iter().flatten() {
        push_wrapped(out, "  ", &sentence);
    }
    if let Some(cold) = cold_sentence(run, family) {
        push_wrapped(out, "  ", &cold);
    }
    for sentence in RestartView::sentences(&run.restart) {
        push_wrapped(out, "  ", &sentence);
    }
    push_notice(out, run, family);
    if !run.ledger.is_empty() {
        out.push('\n');
        push_lines(out, &ledger(run, family).lines(2));
    }
    if !run.end.shares.is_empty() {
        out.push('\n');
        push_lines(out, &shares(run, family).lines(2));
    }
}

fn error_sentence(run: &RunView) -> Option<String> {
    let life = run.life_s?.0;
    let error = run.life_error_s.0;
    // Below a thousandth the estimate says nothing that the figures shown do not.
    (0.0 < life && 1e-3 * life < error).then(|| {
        format!(
            "The run time is uncertain by {} within the method, more than the margin settles.",
            duration(error)
        )
    })
}

fn ledger(run: &RunView, family: &Family) -> Table {
    let board = family.board(&run.board);
    let mut table = Table::new(&[
        ("energy", Align::Left),
        ("joules", Align::Right),
        ("share", Align::Right),
        ("", Align::Left),
    ]);
    let total: f64 = run.ledger.iter().map(|l| l.joule.0).sum();
    let fed = fed_joules(&run.ledger);
    for line in &run.ledger {
        let share = if fed == 0.0 { 0.0 } else { line.joule.0 / fed };
        table.row([
            line_words(&line.line, board),
            figure(line.joule.0, Unit::Joule),
            percent(share),
            bar(share),
        ]);
    }
    table.row([
        "stored at the start".to_owned(),
        figure(total, Unit::Joule),
        String::new(),
        String::new(),
    ]);
    table
}

fn shares(run: &RunView, family: &Family) -> Table {
    let board = family.board(&run.board);
    let mut table = Table::new(&[
        ("fatal drop", Align::Left),
        ("volts", Align::Right),
        ("share", Align::Right),
        ("", Align::Left),
    ]);
    let total = run.end.drop_v.map_or(0.0, |v| v.0);
    for (name, share) in run.end.shares.iter() {
        table.row([
            line_words(name, board),
            figure(share.0 * total, Unit::Volt),
            percent(share.0),
            bar(share.0.max(0.0)),
        ]);
    }
    if let Some(spared) = run.end.bypass_v.filter(|v| v.0 >= WORTH_SAYING_VOLTS) {
        table.row([
            "spared by capacitors".to_owned(),
            figure(-spared.0, Unit::Volt),
            String::new(),
            String::new(),
        ]);
    }
    table
}

/// A bar in plain characters for a share of one.
fn bar(share: f64) -> String {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "between 0 and the width"
    )]
    let cells = (share.clamp(0.0, 1.0) * BAR as f64).round() as usize;
    "#".repeat(cells)
}
