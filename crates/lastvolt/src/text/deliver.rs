//! `deliver` as text: for each rail what is promised, a table of currents, and how to read it.

use std::fmt::Write as _;

use lastvolt_core::model::Family;
use lastvolt_core::quantity::Unit;

use crate::text::number::{celsius, figure, listed, nominal};
use crate::text::paint::Paint;
use crate::text::table::{Align, Table};
use crate::text::{heading, push_lines, push_warnings, push_wrapped};
use crate::view::{Document, KeptView, OutputRowView, OutputView};

/// What to beware of where something unknown is plugged onto cells.
pub(crate) const CAUTION: &str = "A cell that is asked for more than its maker allows heats up and can \
     leak, vent or burn. Where anybody may plug something on, a fuse or a current limit belongs into its \
     place. These are estimates for typical parts: measure a built board, and mind local codes.";

/// The whole text.
pub(crate) fn text(document: &Document<OutputView>, family: &Family, paint: Paint) -> String {
    let mut out = String::new();
    for (at, rail) in document.body.all().into_iter().enumerate() {
        push_rail(&mut out, rail, family, paint, at == 0);
    }
    out.push('\n');
    for line in legend(&document.body) {
        push_wrapped(&mut out, "", &line);
    }
    let has_cell = |o: &&OutputView| family.board(&o.board).is_some_and(|b| b.has_cell());
    if document.body.all().iter().any(has_cell) {
        out.push('\n');
        push_wrapped(&mut out, "Caution: ", CAUTION);
    }
    push_warnings(&mut out, &document.warnings, paint);
    out
}

fn push_rail(out: &mut String, rail: &OutputView, family: &Family, paint: Paint, first: bool) {
    let head = title(rail, family);
    if first {
        let _ = writeln!(
            out,
            "{}",
            paint.tone(crate::text::paint::Tone::Heading, &head)
        );
    } else {
        heading(out, &head, paint);
    }
    for sentence in sentences(rail, family) {
        push_wrapped(out, "  ", &sentence);
    }
    out.push('\n');
    push_lines(out, &table(rail).lines(2));
}

/// What the table is about.
pub(crate) fn title(rail: &OutputView, family: &Family) -> String {
    let title = family.board(&rail.board).map_or("", |b| b.title.as_str());
    format!("{}, {}: {title}", rail.board, rail.rail)
}

/// Conditions, and the promise against what is given.
pub(crate) fn sentences(rail: &OutputView, family: &Family) -> Vec<String> {
    let mut out = Vec::new();
    let positions = rail.positions.iter().map(|(n, p)| format!("{n}={p}"));
    let positions: Vec<String> = positions.collect();
    if !positions.is_empty() {
        out.push(format!("{}.", positions.join(", ")));
    }
    if rail.need == "within-5-percent" {
        let band = "no load needs this rail and no band is promised";
        out.push(format!("Held within 5 % of its unloaded voltage: {band}."));
    }
    out.extend(promise_sentences(rail, family));
    out
}

/// The connector's promise in words, one sentence an ambient where they differ.
pub(crate) fn promise_sentences(rail: &OutputView, family: &Family) -> Vec<String> {
    let Some(promise) = &rail.promise else {
        return Vec::new();
    };
    let amps = nominal(promise.current_a.0, Unit::Ampere);
    let cells = family.board(&rail.board).is_some_and(|b| b.has_cell());
    let said = promise
        .kept
        .iter()
        .map(|k| (kept_words(k, cells), celsius(k.ambient_c.0)));
    let mut same: Vec<(String, Vec<String>)> = Vec::new();
    for (words, at) in said {
        match same.iter_mut().find(|s| s.0 == words) {
            Some(group) => group.1.push(at),
            None => same.push((words, vec![at])),
        }
    }
    let each = same
        .iter()
        .map(|(words, at)| format!("{words} at {}", listed(at)));
    let each: Vec<String> = each.collect();
    vec![format!("Promised {amps}: {}.", each.join("; "))]
}

fn kept_words(kept: &KeptView, cells: bool) -> String {
    let depth = |d: crate::view::Num| format!("{:.2}", d.0);
    match (kept.running_depth, kept.starting_depth) {
        (None, _) if cells => "not held with fresh cells".to_owned(),
        (None, _) => "not held".to_owned(),
        (Some(_), Some(_)) if kept.throughout && !cells => "held".to_owned(),
        (Some(down), Some(_)) if kept.throughout => {
            format!("held at every depth to {}", depth(down))
        }
        (Some(_), None) if !cells => "held, but the board does not start into it".to_owned(),
        (Some(down), None) => format!(
            "held while running down to depth {}, but the board does not start into it",
            depth(down)
        ),
        (Some(down), Some(start)) if start.0 < down.0 - 5e-3 => format!(
            "held while running down to depth {}, started into down to {}",
            depth(down),
            depth(start)
        ),
        (Some(down), Some(_)) => {
            format!("held, running and starting, down to depth {}", depth(down))
        }
    }
}

fn table(rail: &OutputView) -> Table {
    let beside = beside_head(rail);
    let mut table = Table::new(&[
        ("ambient", Align::Right),
        ("depth", Align::Left),
        ("running", Align::Right),
        (beside.as_deref().unwrap_or(""), Align::Right),
        ("moment", Align::Right),
        ("starting", Align::Right),
        ("limit", Align::Left),
    ]);
    let mut before = None;
    for row in &rail.rows {
        let is_new = before != Some(row.ambient_c);
        before = Some(row.ambient_c);
        table.row([
            if is_new {
                celsius(row.ambient_c.0)
            } else {
                String::new()
            },
            depth_words(rail, row),
            figure(row.running_a.0, Unit::Ampere),
            row.beside_task_a
                .map_or_else(String::new, |a| figure(a.0, Unit::Ampere)),
            figure(row.burst_a.0, Unit::Ampere),
            figure(row.starting_a.0, Unit::Ampere),
            limits_words(row),
        ]);
    }
    table
}

/// The head of the column beside the own loads' heaviest states.
pub(crate) fn beside_head(rail: &OutputView) -> Option<String> {
    let states: Vec<&str> = rail.heaviest.iter().map(|(_, s)| s.as_str()).collect();
    (!states.is_empty()).then(|| format!("beside {}", states.join("+")))
}

/// A depth: `fresh`, `0.3`, with a mark where it is that of the required life.
pub(crate) fn depth_words(rail: &OutputView, row: &OutputRowView) -> String {
    let board_has_depths = rail.rows.iter().any(|r| 0.0 < r.depth.0);
    if !board_has_depths {
        return String::new();
    }
    let mark = match (rail.life_depth, rail.required_life) {
        (Some(life), Some(required)) if (life.0 - row.depth.0).abs() < 1e-3 => {
            if required {
                ", life asked for"
            } else {
                ", end of life"
            }
        }
        _ => "",
    };
    if row.depth.0 == 0.0 {
        return format!("fresh{mark}");
    }
    let depth = format!("{:.3}", row.depth.0);
    let depth = depth.trim_end_matches('0').trim_end_matches('.');
    format!("{depth}{mark}")
}

/// What binds, running and at the start.
pub(crate) fn limits_words(row: &OutputRowView) -> String {
    let running = limit_words(row.limit, row.limit_at.as_deref());
    match row.starting_limit {
        None => running,
        Some(limit) => format!(
            "{running}; start: {}",
            limit_words(limit, row.starting_limit_at.as_deref())
        ),
    }
}

fn limit_words(limit: &str, at: Option<&str>) -> String {
    let at = at.unwrap_or("a part");
    match limit {
        "working-range" => format!("{at} leaves its working range"),
        "promise-band" => format!("{at} leaves its promised band"),
        "sag" => format!("{at} sags by 5 %"),
        "converter-limit" => format!("current limit of {at}"),
        "fold" => format!("source too weak for {at}"),
        "dropout" => format!("{at} in dropout"),
        "regulator-stops" => format!("{at} stops"),
        "does-not-start" => format!("{at} does not start"),
        "cell-rating" => format!("rating of {at}"),
        "supply-limit" => format!("limit of {at}"),
        "part-rating" => format!("rating of {at}"),
        "not-powered" => "rail not powered".to_owned(),
        "no-point" => "no operating point".to_owned(),
        _ => "none up to 100 A".to_owned(),
    }
}

/// How to read the table.
pub(crate) fn legend(output: &OutputView) -> Vec<String> {
    let mut out = vec![
        "Currents are what is left for anything plugged on, the board's own loads in their base states. \
         A rail counts as held while every load that runs with fresh cells stays in its working range, \
         the rail in its promised band, and every part within its rating."
            .to_owned(),
        "running: for long, polarisation of the cells settled; moment: rested cells, their resistance \
         alone; starting: from off into this current, loads at their boot current."
            .to_owned(),
    ];
    if output.all().iter().any(|o| !o.heaviest.is_empty()) {
        out.push(
            "beside: running, while the own loads may come to the states named, the heaviest of the profile."
                .to_owned(),
        );
    }
    out
}
