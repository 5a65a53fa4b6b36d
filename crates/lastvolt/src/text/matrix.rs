//! `matrix` as text: one line a situation, grouped by positions, what is wrong in words.

use std::fmt::Write as _;

use lastvolt_core::quantity::Unit;

use crate::text::number::{celsius, count, figure, listed, percent, solved};
use crate::text::paint::{Paint, Tone};
use crate::text::table::{Align, Table};
use crate::text::{push_lines, push_warnings};
use crate::view::{CaseView, Document, MatrixView, SituationView};

/// The whole text.
pub(crate) fn text(document: &Document<MatrixView>, boards: &[String], paint: Paint) -> String {
    let matrix = &document.body;
    let mut out = String::new();
    let head = format!(
        "{}: {}, loads in base states, fresh cells, {}",
        boards.join(" + "),
        count(matrix.solved, "situation"),
        matrix
            .cases
            .first()
            .map_or_else(String::new, |c| celsius(c.situation.ambient_c.0))
    );
    let _ = writeln!(out, "{}\n", paint.tone(Tone::Heading, &head));
    push_lines(&mut out, &grid(&matrix.cases).lines(2));
    let _ = writeln!(out, "\n{}", paint.tone(Tone::Quiet, LEGEND));
    push_warnings(&mut out, &document.warnings, paint);
    out
}

/// One table a board or stack.
pub(crate) fn stacks(document: &Document<MatrixView>, paint: Paint) -> String {
    let mut out = String::new();
    let cases = &document.body.cases;
    for same in cases.chunk_by(|a, b| a.situation.boards == b.situation.boards) {
        let head = format!(
            "{}: {}, loads in base states, {}",
            same[0].situation.boards.join(" + "),
            count(same.len(), "situation"),
            celsius(same[0].situation.ambient_c.0)
        );
        let _ = writeln!(out, "{}\n", paint.tone(Tone::Heading, &head));
        push_lines(&mut out, &grid(same).lines(2));
        out.push('\n');
    }
    let _ = writeln!(out, "{}", paint.tone(Tone::Quiet, LEGEND));
    push_warnings(&mut out, &document.warnings, paint);
    out
}

/// What the columns mean.
const LEGEND: &str = "Currents out of plus; a minus sign is current into the holder's plus. Stress above half of a rating.";

fn grid(cases: &[CaseView]) -> Table {
    let positions: Vec<&str> = cases.first().map_or_else(Vec::new, |c| {
        c.situation.positions.iter().map(|(name, _)| name).collect()
    });
    let cells: Vec<&str> = cases
        .first()
        .map_or_else(Vec::new, |c| c.cells.iter().map(|(name, _)| name).collect());
    let mut columns: Vec<(&str, Align)> = positions.iter().map(|p| (*p, Align::Left)).collect();
    let worn = cases.iter().any(|c| !c.situation.depths.is_empty());
    columns.push(("reversed", Align::Left));
    if worn {
        columns.push(("at its end", Align::Left));
    }
    columns.push(("rail", Align::Right));
    columns.push(("loads", Align::Left));
    columns.extend(cells.iter().map(|c| (*c, Align::Right)));
    columns.push(("remarks", Align::Left));
    let mut table = Table::new(&columns);
    let mut rows = Vec::new();
    for case in cases {
        let position = |p: &&str| case.situation.positions.get(p).cloned().unwrap_or_default();
        let mut row: Vec<String> = positions.iter().map(position).collect();
        row.push(case.situation.reversed.join(" "));
        if worn {
            let names = case.situation.depths.iter().map(|d| d.name.as_str());
            row.push(names.collect::<Vec<_>>().join(" "));
        }
        row.push(solved(case.rail_v.0, Unit::Volt));
        row.push(if case.powered { "powered" } else { "off" }.to_owned());
        let amps = |c: &&str| case.cells.get(c).map_or(0.0, |a| a.0);
        row.extend(cells.iter().map(|c| figure(amps(c), Unit::Ampere)));
        row.push(remarks(case));
        rows.push(row);
    }
    for row in grouped(rows, positions.len() + 1) {
        table.row(row);
    }
    table
}

/// Rows that differ in one of the first columns alone become one.
fn grouped(mut rows: Vec<Vec<String>>, columns: usize) -> Vec<Vec<String>> {
    for column in 0..columns {
        let mut kept: Vec<Vec<String>> = Vec::new();
        for row in rows {
            let alike = |other: &&mut Vec<String>| {
                let mut pairs = other.iter().zip(&row).enumerate();
                pairs.all(|(at, (a, b))| at == column || a == b)
            };
            match kept.iter_mut().find(alike) {
                Some(same) if !same[column].is_empty() && !row[column].is_empty() => {
                    same[column] = format!("{}, {}", same[column], row[column]);
                }
                _ => kept.push(row),
            }
        }
        rows = kept;
    }
    rows
}

/// What is out of order in a case, in a few words.
pub(crate) fn remarks(case: &CaseView) -> String {
    let mut words = Vec::new();
    for stress in &case.stressed {
        words.push(format!(
            "{} {} at {} of rating",
            stress.part,
            stress.quantity,
            percent(stress.share.0)
        ));
    }
    if !case.charged.is_empty() {
        words.push(format!("charges {}", listed(&case.charged)));
    }
    if !case.floating.is_empty() {
        words.push(format!("floating {}", listed(&case.floating)));
    }
    words.join("; ")
}

/// A situation in words.
pub(crate) fn situation_words(s: &SituationView) -> String {
    let mut words = Vec::new();
    let pairs = |pairs: &crate::view::Named<String>| {
        let pairs: Vec<String> = pairs.iter().map(|(k, v)| format!("{k}={v}")).collect();
        pairs
    };
    words.extend(pairs(&s.positions));
    if !s.reversed.is_empty() {
        words.push(format!("{} reversed", listed(&s.reversed)));
    }
    words.extend(pairs(&s.states));
    words.push(celsius(s.ambient_c.0));
    for name in &s.absent {
        words.push(format!("{name} missing"));
    }
    for drawn in &s.depths {
        let share = percent(drawn.depth.0);
        words.push(format!("cells of {} {share} drawn", drawn.name));
    }
    words.push(match s.depth.0 {
        0.0 if !s.depths.is_empty() => "the others fresh".to_owned(),
        0.0 => "fresh cells".to_owned(),
        depth => format!("{} of the charge drawn", percent(depth)),
    });
    words.push(match s.history {
        "cold" => "starting from off".to_owned(),
        other => other.to_owned(),
    });
    words.join(", ")
}
