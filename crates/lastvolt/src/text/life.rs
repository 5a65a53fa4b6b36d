//! `life` as text: a table of runs, then for each why it ends, where the energy went and what the
//! fatal drop is made of.

use std::fmt::Write as _;

use lastvolt_core::model::Family;
use lastvolt_core::quantity::Unit;

use crate::text::number::{celsius, duration, figure, percent};
use crate::text::paint::Paint;
use crate::text::table::{Align, Table};
use crate::text::{heading, push_lines, push_warnings, push_wrapped};
use crate::view::{Document, LifeView, RunView};

/// Characters of the longest bar.
const BAR: usize = 32;

/// The whole text.
pub(crate) fn text(document: &Document<LifeView>, family: &Family, paint: Paint) -> String {
    let runs = &document.body.runs;
    let mut out = String::new();
    let required = family.requirement.life.map(|t| t.as_secs());
    if let Some(required) = required {
        let _ = writeln!(out, "Required life: {}.\n", duration(required));
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
            celsius(run.ambient_c.0),
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
    run.life_s
        .map_or_else(|| "no end".to_owned(), |life| duration(life.0))
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

/// Why a run ends, in a few words.
pub(crate) fn cause_words(run: &RunView) -> &'static str {
    match run.end.cause {
        "brown-out" => "brown-out",
        "empty" => "cell empty",
        "converter-stopped" => "converter stops",
        "over-voltage" => "over-voltage",
        "not-powered" => "not powered",
        _ if run.ledger.is_empty() => "fed from outside",
        _ => "no end within 100 years",
    }
}

/// A line of the ledger or of the fatal drop in words.
pub(crate) fn line_words(line: &str) -> String {
    if let Some((load, state)) = line.strip_prefix("load:").and_then(|l| l.split_once(':')) {
        return format!("{load} in {state}");
    }
    match line.rsplit_once(':') {
        Some((cell, "resistance")) => format!("resistance of {cell}"),
        Some((cell, "polarisation")) => format!("polarisation of {cell}"),
        Some((cell, "activation")) => format!("charge transfer in {cell}"),
        Some((cell, "mixing")) => format!("mixing of the wells of {cell}"),
        Some((cell, "wells")) => format!("uneven wells of {cell}"),
        Some((cell, "contacts")) => format!("contacts of {cell}"),
        Some((cell, "self-discharge")) => format!("self-discharge of {cell}"),
        Some((cell, "left")) => format!("left in {cell}"),
        Some(("stored", "capacitors")) => "stored in capacitors".to_owned(),
        _ => line.to_owned(),
    }
}

fn push_run(out: &mut String, run: &RunView, family: &Family, paint: Paint) {
    let profile = run
        .profile
        .as_ref()
        .map(|p| format!(", {p}"))
        .unwrap_or_default();
    let head = format!("{}{profile}, {}", run.board, celsius(run.ambient_c.0));
    heading(out, &head, paint);
    push_wrapped(out, "  ", &cause_sentence(run, family));
    if let Some(error) = error_sentence(run) {
        push_wrapped(out, "  ", &error);
    }
    if let Some(cold) = cold_sentence(run, family) {
        push_wrapped(out, "  ", &cold);
    }
    if !run.ledger.is_empty() {
        out.push('\n');
        push_lines(out, &ledger(run).lines(2));
    }
    if !run.end.shares.is_empty() {
        out.push('\n');
        push_lines(out, &shares(run).lines(2));
    }
}

/// Why a run ends, in one or two sentences.
pub(crate) fn cause_sentence(run: &RunView, family: &Family) -> String {
    let end = &run.end;
    let after = run.life_s.map_or_else(String::new, |life| match life.0 {
        0.0 => "At once: ".to_owned(),
        secs => format!("After {}: ", duration(secs)),
    });
    let load = end.load.as_deref().unwrap_or("the load");
    let state = end
        .state
        .as_deref()
        .map(|s| format!(" in {s}"))
        .unwrap_or_default();
    let task = end
        .task
        .as_deref()
        .map(|t| format!(" (task {t})"))
        .unwrap_or_default();
    let net = end.net.as_deref().unwrap_or("the rail");
    let volts = end.net_v.map(|v| figure(v.0, Unit::Volt));
    let volts = volts.unwrap_or_else(|| "too little".to_owned());
    let range = working_range(run, family);
    let cell = end
        .cell_v
        .map(|v| format!(", with {} at a cell", figure(v.0, Unit::Volt)));
    let cell = cell.unwrap_or_default();
    let drawn = format!("{} of the charge is drawn", percent(end.depth.0));
    match end.cause {
        "brown-out" => format!(
            "{after}{load}{state}{task} gets {volts} from {net}{}{cell}; {drawn}.",
            range.map_or_else(String::new, |r| need_words(end.net_v, r.0))
        ),
        "over-voltage" => {
            let most =
                range.map(|r| format!(", above the {} it works to", figure(r.1, Unit::Volt)));
            format!(
                "{after}{net} gives {load}{state}{task} {volts}{}.",
                most.unwrap_or_default()
            )
        }
        "empty" => format!("{after}a cell is at its end: {cell}{drawn}."),
        "converter-stopped" => {
            format!("{after}the converter that feeds {load}{state}{task} stops{cell}; {drawn}.")
        }
        "not-powered" => format!("{after}{load} is not powered."),
        _ if run.ledger.is_empty() => {
            "No cell feeds this board: it runs as long as its supply does.".to_owned()
        }
        _ => format!("Nothing ends it within 100 years; {drawn} by then."),
    }
}

/// How a voltage stands to the least that is needed: an end is landed on, a failure at once is not.
fn need_words(volts: Option<crate::view::Num>, least: f64) -> String {
    let needed = figure(least, Unit::Volt);
    if volts.is_some_and(|v| (v.0 - least).abs() < 2e-3 * least) {
        ", the least that it needs".to_owned()
    } else {
        format!(", below the {needed} that it needs")
    }
}

/// The working range that the end is held against.
fn working_range(run: &RunView, family: &Family) -> Option<(f64, f64)> {
    let board = family.board(&run.board)?;
    let name = run.end.load.as_deref()?;
    let load = family
        .loads_of(board)
        .into_iter()
        .find(|l| l.name == name)?;
    let state = run
        .end
        .state
        .as_deref()
        .and_then(|s| load.state(s))
        .unwrap_or(0);
    let range = load.working_in(state)?;
    Some((range.from.as_volts(), range.to.as_volts()))
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

/// From when one cold night ends a run.
pub(crate) fn cold_sentence(run: &RunView, family: &Family) -> Option<String> {
    let night = run.cold_night.as_ref()?;
    let low = celsius(family.requirement.ambient.low.as_celsius());
    let drawn = percent(night.depth.0);
    Some(if night.time_s.0 == 0.0 {
        format!("One night at {low} ends it from the first day on.")
    } else {
        format!(
            "From {} on ({drawn} drawn) one night at {low} ends it.",
            duration(night.time_s.0)
        )
    })
}

fn ledger(run: &RunView) -> Table {
    let mut table = Table::new(&[
        ("energy", Align::Left),
        ("joules", Align::Right),
        ("share", Align::Right),
        ("", Align::Left),
    ]);
    let total: f64 = run.ledger.iter().map(|l| l.joule.0).sum();
    for line in &run.ledger {
        let share = if total == 0.0 {
            0.0
        } else {
            line.joule.0 / total
        };
        table.row([
            line.line.clone(),
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

fn shares(run: &RunView) -> Table {
    let mut table = Table::new(&[
        ("fatal drop", Align::Left),
        ("volts", Align::Right),
        ("share", Align::Right),
        ("", Align::Left),
    ]);
    let total: f64 = run.end.shares.iter().map(|(_, v)| v.0.abs()).sum();
    for (name, volts) in run.end.shares.iter() {
        let share = if total == 0.0 {
            0.0
        } else {
            volts.0.abs() / total
        };
        table.row([
            name.to_owned(),
            figure(volts.0, Unit::Volt),
            percent(share),
            bar(share),
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
