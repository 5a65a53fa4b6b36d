//! How a run ends, in words: the cause, the cold night, the lines of its ledger.

use lastvolt_core::model::{Board, Family, Kind, MONTH_NAMES};
use lastvolt_core::quantity::{MONTH_SECS, Unit};

use crate::text::number::{celsius, duration, figure, percent};
use crate::view::{EndView, LedgerView, Num, RunView};

/// Why a run ends, in a few words.
pub(crate) fn cause_words(run: &RunView) -> &'static str {
    match run.end.cause {
        "no-end" if run.ledger.is_empty() => "fed from outside",
        cause => cause_word(cause),
    }
}

/// A cause in a few words.
pub(crate) fn cause_word(cause: &str) -> &'static str {
    match cause {
        "brown-out" => "brown-out",
        "empty" => "cell empty",
        "converter-stopped" => "converter stops",
        "over-voltage" => "over-voltage",
        "not-powered" => "not powered",
        _ => "no end within 100 years",
    }
}

/// All that is fed in over a life: what the cells hold at the start and what lines below zero give.
pub(crate) fn fed_joules(ledger: &[LedgerView]) -> f64 {
    ledger.iter().map(|l| l.joule.0.max(0.0)).sum()
}

/// A line of the ledger or of the fatal drop in words.
pub(crate) fn line_words(line: &str, board: Option<&Board>) -> String {
    if let Some((load, state)) = line.strip_prefix("load:").and_then(|l| l.split_once(':')) {
        return format!("{load} in {state}");
    }
    let part = board.and_then(|b| b.part(line));
    match (line.rsplit_once(':'), part.map(|p| p.kind)) {
        (Some((cell, "resistance")), _) => format!("resistance of {cell}"),
        (Some((cell, "polarisation")), _) => format!("polarisation of {cell}"),
        (Some((cell, "activation")), _) => format!("charge transfer in {cell}"),
        (Some((cell, "film")), _) => format!("film on the lithium of {cell}"),
        (Some((cell, "temperature")), _) => format!("voltage shift of {cell} by temperature"),
        (Some((cell, "mixing")), _) => format!("mixing of the wells of {cell}"),
        (Some((cell, "wells")), _) => format!("uneven wells of {cell}"),
        (Some((cell, "contacts")), _) => format!("contacts of {cell}"),
        (Some((cell, "self-discharge")), _) => format!("self-discharge of {cell}"),
        (Some((cell, "charging")), _) => format!("charging of {cell}, not kept"),
        (Some((cell, "left")), _) => format!("left in {cell}"),
        (Some(("stored", "capacitors")), _) => "stored in capacitors".to_owned(),
        (None, Some(Kind::Cell)) => format!("contacts of {line}"),
        (None, Some(kind)) => format!("{line} {}", kind.word()),
        _ => line.to_owned(),
    }
}

/// Why a run ends, in one or two sentences.
pub(crate) fn cause_sentence(run: &RunView, family: &Family) -> String {
    let after = run.life_s.map_or_else(String::new, |life| match life.0 {
        0.0 => "At once: ".to_owned(),
        secs => format!("After {}: ", duration(secs)),
    });
    let end = &run.end;
    let who = who(end);
    let drawn = format!("{} of the charge is drawn", percent(end.depth.0));
    let state = match end.cell_v {
        Some(v) => format!("a cell stands at {} and {drawn}", figure(v.0, Unit::Volt)),
        None => drawn.clone(),
    };
    match end.cause {
        "brown-out" => format!("{after}{who} gets {}; {state}.", low_words(run, family)),
        "over-voltage" => format!("{after}{who} gets {}.", high_words(run, family)),
        "empty" => format!("{after}a cell is at its end: {state}."),
        "converter-stopped" => format!("{after}a converter stops{}; {state}.", doing(end)),
        "not-powered" => format!("{after}{who} is not powered."),
        _ if run.ledger.is_empty() => {
            "No cell feeds this board: it runs as long as its supply does.".to_owned()
        }
        _ => format!("Nothing ends it within 100 years; {drawn} by then."),
    }
}

/// The load, its state and the task that put it there.
fn who(end: &EndView) -> String {
    let load = end.load.as_deref().unwrap_or("the load");
    let state = end.state.as_deref().map(|s| format!(" in {s}"));
    let task = end.task.as_deref().map(|t| format!(" (task {t})"));
    format!(
        "{load}{}{}",
        state.unwrap_or_default(),
        task.unwrap_or_default()
    )
}

/// What happens when a converter stops, as far as it is known.
fn doing(end: &EndView) -> String {
    match (&end.load, &end.task) {
        (Some(_), _) => format!(" with {}", who(end)),
        (None, Some(task)) => format!(" in task {task}"),
        (None, None) => String::new(),
    }
}

/// A voltage against the least that is needed: an end is landed on, a failure at once is not.
fn low_words(run: &RunView, family: &Family) -> String {
    let volts = volts_words(run);
    match working_range(run, family) {
        Some((least, _)) if run.end.net_v.is_some_and(|v| near(v, least)) => {
            format!("{volts}, the least that it needs")
        }
        Some((least, _)) if run.end.net_v.is_some_and(|v| least < v.0) => format!(
            "{volts}, and the next moment less than the {} that it needs",
            figure(least, Unit::Volt)
        ),
        Some((least, _)) => format!(
            "{volts}, below the {} that it needs",
            figure(least, Unit::Volt)
        ),
        None => volts,
    }
}

fn high_words(run: &RunView, family: &Family) -> String {
    let volts = volts_words(run);
    match working_range(run, family) {
        Some((_, most)) => format!(
            "{volts}, above the {} that it works to",
            figure(most, Unit::Volt)
        ),
        None => volts,
    }
}

fn volts_words(run: &RunView) -> String {
    let volts = run.end.net_v.map(|v| figure(v.0, Unit::Volt));
    let volts = volts.unwrap_or_else(|| "a voltage outside its range".to_owned());
    match &run.end.net {
        Some(net) => format!("{volts} from {net}"),
        None => volts,
    }
}

fn near(volts: Num, limit: f64) -> bool {
    (volts.0 - limit).abs() < 2e-3 * limit
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

/// The temperature of a run in a few words.
pub(crate) fn ambient_words(run: &RunView) -> String {
    match &run.calendar {
        Some(_) => "calendar".to_owned(),
        None => celsius(run.ambient_c.0),
    }
}

/// What the time on the shelf has cost before the run begins.
pub(crate) fn storage_sentence(run: &RunView) -> Option<String> {
    let storage = run.storage.as_ref()?;
    if storage.depth.0 <= 0.0 {
        return Some(format!(
            "Before that the cells lie on the shelf for {}; their model states no self-discharge, so nothing is lost.",
            duration(storage.time_s.0)
        ));
    }
    Some(format!(
        "Before that the cells lie on the shelf for {} at 20 degC, which takes {} of their charge.",
        duration(storage.time_s.0),
        percent(storage.depth.0)
    ))
}

/// What the months make of a run: the first failure, the time below need and the permanent end.
pub(crate) fn calendar_sentence(run: &RunView) -> Option<String> {
    let calendar = run.calendar.as_ref()?;
    let from = calendar.start_month.saturating_sub(1);
    let first = match calendar.first_failure_s {
        Some(first) => first.0,
        None => return Some("Used month after month, it never fails within 100 years.".to_owned()),
    };
    let fails = format!("It first fails in {}", month_words(from, first));
    Some(match (calendar.permanent_end_s, calendar.below_need_s.0) {
        (Some(end), _) if end.0 - first < SAME_SECS => format!("{fails} and does not recover."),
        (Some(end), below) => format!(
            "{fails}. It recovers and fails again, for {} below need in all, and works for the last time in {}.",
            duration(below),
            month_words(from, end.0 - 2.0 * EDGE_SECS)
        ),
        (None, below) => format!(
            "{fails}. It recovers and fails again, for {} below need within 100 years.",
            duration(below)
        ),
    })
}

/// Ends closer together than this are one.
const SAME_SECS: f64 = 3600.0;
/// What happens within this time of the edge of a month happens on it.
const EDGE_SECS: f64 = 60.0;

/// A time after the first use as a month: `the second January`.
fn month_words(from: usize, secs: f64) -> String {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a number of months from 0 to 1200"
    )]
    let months = ((secs + EDGE_SECS) / MONTH_SECS).floor().clamp(0.0, 1200.0) as usize;
    format!(
        "the {} {}",
        ordinal(months / 12 + 1),
        MONTH_NAMES[(from + months) % 12]
    )
}

/// `first`, `second`, and from the eleventh on figures.
fn ordinal(count: usize) -> String {
    const WORDS: [&str; 10] = [
        "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth",
        "tenth",
    ];
    if let Some(word) = count.checked_sub(1).and_then(|at| WORDS.get(at)) {
        return (*word).to_owned();
    }
    let end = match (count % 100, count % 10) {
        (11..=13, _) => "th",
        (_, 1) => "st",
        (_, 2) => "nd",
        (_, 3) => "rd",
        _ => "th",
    };
    format!("{count}{end}")
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
