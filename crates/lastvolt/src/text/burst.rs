//! `burst` as text: what is looked at and what it comes to, what happens when, and what the loads need.

use std::fmt::Write as _;

use lastvolt_core::quantity::Unit;
use lastvolt_core::time::Occasion;

use crate::text::matrix::situation_words;
use crate::text::number::{count, duration, figure, solved};
use crate::text::paint::{Paint, Tone};
use crate::text::table::{Align, Table};
use crate::text::told::{Told, first_at, last_at, volts_words};
use crate::text::{heading, push_lines, push_warnings, push_wrapped};
use crate::view::{BurstView, Document};

/// Rows of the table of events at most.
const MOST_ROWS: usize = 40;
/// What every waveform leaves out.
const LEFT_OUT: &str = "Typical parts; converters are averaged, without ripple. A waveform on paper \
     does not replace one measured on a built board.";

/// The whole text.
pub(crate) fn text(document: &Document<BurstView>, told: &Told, paint: Paint) -> String {
    let mut out = String::new();
    for board in told.circuit.boards() {
        let _ = writeln!(out, "{}: {}", board.name, board.title);
    }
    let _ = writeln!(out, "{}", situation_words(&document.body.situation));
    out.push('\n');
    push_wrapped(&mut out, "", &told.occasion_words());
    for sentence in told.outcome() {
        push_wrapped(&mut out, "", &sentence);
    }
    heading(&mut out, "What happens", paint);
    let (rows, left) = table(told);
    push_lines(&mut out, &rows.lines(2));
    if left > 0 {
        let _ = writeln!(out, "  and {} more", count(left, "line"));
    }
    if matches!(told.occasion, Occasion::Tasks(_)) && !told.wave().needs.is_empty() {
        heading(&mut out, "What the loads need", paint);
        push_lines(&mut out, &needs(told).lines(2));
    }
    out.push('\n');
    let mut closing = String::new();
    push_wrapped(&mut closing, "", LEFT_OUT);
    for line in closing.lines() {
        let _ = writeln!(out, "{}", paint.tone(Tone::Quiet, line));
    }
    push_warnings(&mut out, &document.warnings, paint);
    out
}

/// The table of what happens, and how many lines are left out.
fn table(told: &Told) -> (Table, usize) {
    let wave = told.wave();
    let sources: Vec<&(String, Vec<f64>)> = wave.cells.iter().chain(&wave.supplies).collect();
    let rail = wave.nets.iter().find(|(name, _)| name == told.rail());
    let names: Vec<String> = sources.iter().map(|s| format!("{} most", s.0)).collect();
    let rail_name = format!("{} before", told.rail());
    let mut columns = vec![
        ("time", Align::Right),
        ("", Align::Left),
        (rail_name.as_str(), Align::Right),
        ("after", Align::Right),
        ("lowest then", Align::Right),
    ];
    columns.extend(names.iter().map(|n| (n.as_str(), Align::Right)));
    let mut table = Table::new(&columns);
    let last = wave.time_secs.len().saturating_sub(1);
    let lines = told.lines();
    let instants: Vec<f64> = lines.iter().map(|l| l.time_secs).collect();
    let times = time_words(&instants);
    for (line, time) in lines.iter().zip(times).take(MOST_ROWS) {
        let before = first_at(wave, line.time_secs).min(last);
        let from = last_at(wave, line.time_secs);
        let to = line.next_secs.map_or(last, |t| first_at(wave, t).min(last));
        let stretch = from..=to.max(from);
        let mut row = vec![time, line.words.clone()];
        let volts = |index: usize| rail.map_or_else(String::new, |r| volts_words(r.1[index]));
        row.extend([volts(before), volts(from)]);
        let lowest = rail.and_then(|r| r.1[stretch.clone()].iter().copied().min_by(f64::total_cmp));
        row.push(lowest.map_or_else(String::new, volts_words));
        for (_, amps) in &sources {
            let most = amps[stretch.clone()].iter().copied();
            let most = most.max_by(|a, b| a.abs().total_cmp(&b.abs()));
            row.push(figure(most.unwrap_or(0.0), Unit::Ampere));
        }
        table.row(row);
    }
    (table, lines.len().saturating_sub(MOST_ROWS))
}

/// The lowest voltage of each load in each state against what it needs.
fn needs(told: &Told) -> Table {
    let mut table = Table::new(&[
        ("load", Align::Left),
        ("state", Align::Left),
        ("works from", Align::Right),
        ("lowest", Align::Right),
        ("at", Align::Right),
        ("margin", Align::Right),
        ("short for", Align::Right),
    ]);
    for need in told
        .wave()
        .needs
        .iter()
        .filter(|n| n.lowest_volts.is_finite())
    {
        table.row([
            need.load.clone(),
            need.state.clone(),
            figure(need.from_volts, Unit::Volt),
            solved(need.lowest_volts, Unit::Volt),
            duration(need.time_secs),
            figure(need.lowest_volts - need.from_volts, Unit::Volt),
            if need.below_secs > 0.0 {
                duration(need.below_secs)
            } else {
                String::new()
            },
        ]);
    }
    table
}

/// Instants as a table shows them; one that would look like the one above counts from there.
fn time_words(instants: &[f64]) -> Vec<String> {
    let mut shown = String::new();
    let each = instants.iter().enumerate().map(|(at, secs)| {
        let words = duration(*secs);
        if at > 0 && words == shown {
            return format!("+{}", duration(secs - instants[at - 1]));
        }
        shown.clone_from(&words);
        words
    });
    each.collect()
}
