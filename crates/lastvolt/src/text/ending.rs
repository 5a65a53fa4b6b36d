//! How a run ends, in words: the cause, the cold night, the lines of its ledger.

use lastvolt_core::model::{Board, Family, Kind};
use lastvolt_core::quantity::Unit;

use crate::text::number::{celsius, duration, figure, percent};
use crate::view::{EndView, Num, RunView};

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
pub(crate) fn line_words(line: &str, board: Option<&Board>) -> String {
    if let Some((load, state)) = line.strip_prefix("load:").and_then(|l| l.split_once(':')) {
        return format!("{load} in {state}");
    }
    let part = board.and_then(|b| b.part(line));
    match (line.rsplit_once(':'), part.map(|p| p.kind)) {
        (Some((cell, "resistance")), _) => format!("resistance of {cell}"),
        (Some((cell, "polarisation")), _) => format!("polarisation of {cell}"),
        (Some((cell, "activation")), _) => format!("charge transfer in {cell}"),
        (Some((cell, "mixing")), _) => format!("mixing of the wells of {cell}"),
        (Some((cell, "wells")), _) => format!("uneven wells of {cell}"),
        (Some((cell, "contacts")), _) => format!("contacts of {cell}"),
        (Some((cell, "self-discharge")), _) => format!("self-discharge of {cell}"),
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
