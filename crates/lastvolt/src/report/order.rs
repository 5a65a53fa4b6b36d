//! Parts as they would be ordered: equal ones on one line; as a table of the page, and for all boards as
//! a file for spreadsheets.
//!
//! # Formula
//! ```text
//! lines end with CR LF, every cell stands in quotes, a quote in a cell is doubled     RFC 4180
//! a cell that begins with = + - @, a tab or a return gets an apostrophe before it
//! ```
//! Spreadsheets take such a cell for a formula, with or without quotes; the apostrophe makes it text
//! (common practice).

use lastvolt_core::model::{Board, Device, Family, Part};
use maud::{Markup, html};

use crate::report::board::Section;
use crate::report::cards;
use crate::report::typeset::typeset;
use crate::view::{BoardView, ListedView};

/// Equal parts of a board.
struct Line<'a> {
    names: Vec<&'a str>,
    part: &'a Part,
    listed: &'a ListedView,
}

impl Line<'_> {
    /// How many are ordered: a part of several cells takes as many.
    fn count(&self) -> usize {
        match &self.part.device {
            Device::Cell(cell) => self.names.len() * cell.series,
            _ => self.names.len(),
        }
    }
}

/// The lines of an order for one board: parts share one where their figures and the source of these are
/// the same.
fn lines<'a>(board: &'a Board, view: &'a BoardView) -> Vec<Line<'a>> {
    let mut lines: Vec<Line> = Vec::new();
    for (part, listed) in board.parts.iter().zip(&view.parts) {
        match lines.iter_mut().find(|l| equal(l.part, part)) {
            Some(line) => line.names.push(&part.name),
            None => lines.push(Line {
                names: vec![&part.name],
                part,
                listed,
            }),
        }
    }
    lines
}

fn equal(one: &Part, other: &Part) -> bool {
    let of = |p: &Part| (p.kind, p.origin.class);
    of(one) == of(other)
        && one.device == other.device
        && one.heat == other.heat
        && one.origin.model == other.origin.model
        && one.origin.source == other.origin.source
}

/// The part of a board's section.
pub(super) fn part(s: &Section) -> Markup {
    let head = html! {
        tr { th.n { "count" } th { "parts" } th { "kind" } th { "value" } th { "rated" } th { "model" } }
    };
    let rows = html! {
        @for line in lines(s.board, s.view) {
            @let part = line.listed;
            tr {
                td.n data-label="count" { (line.count()) }
                td data-label="parts" { span.refs { (line.names.join(", ")) } }
                td data-label="kind" { (part.kind) }
                td.w data-label="value" { (typeset(&part.value)) }
                td data-label="rated" { (typeset(part.rated.as_deref().unwrap_or_default())) }
                td data-label="model" {
                    @if let Some(model) = &part.model { code { (model) } }
                    @if part.class { " " span.quiet { "a class: choose a part" } }
                }
            }
        }
    };
    cards("Parts of the board", &head, &rows)
}

/// Heads of the columns of the file.
const COLUMNS: [&str; 9] = [
    "board",
    "designators",
    "count",
    "kind",
    "value",
    "rated",
    "model",
    "class or part",
    "source",
];

/// The parts of all boards as comma-separated values.
pub(crate) fn file(family: &Family, boards: &[BoardView]) -> String {
    let mut out = row(&COLUMNS);
    let each = boards.iter();
    for (view, board) in each.filter_map(|view| Some((view, family.board(&view.name)?))) {
        for line in lines(board, view) {
            let part = line.listed;
            let class = match (&part.model, part.class) {
                (_, true) => "class",
                (Some(_), false) => "part",
                (None, false) => "",
            };
            let source = part.source.as_deref();
            out.push_str(&row(&[
                &board.name,
                &line.names.join(", "),
                &line.count().to_string(),
                part.kind,
                &part.value,
                part.rated.as_deref().unwrap_or_default(),
                part.model.as_deref().unwrap_or_default(),
                class,
                source.unwrap_or("written in the files of the family"),
            ]));
        }
    }
    out
}

fn row(cells: &[&str]) -> String {
    let cells: Vec<String> = cells.iter().map(|c| cell(c)).collect();
    format!("{}\r\n", cells.join(","))
}

/// A cell that no spreadsheet takes for a formula.
fn cell(text: &str) -> String {
    let formula = text.starts_with(['=', '+', '-', '@', '\t', '\r']);
    let guard = if formula { "'" } else { "" };
    format!("\"{guard}{}\"", text.replace('"', "\"\""))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_quoted_and_never_formulas() {
        assert_eq!(cell("10 kohm"), "\"10 kohm\"");
        assert_eq!(cell("a \"b\", c\nd"), "\"a \"\"b\"\", c\nd\"");
        for bad in ["=1+1", "+1", "-1", "@x", "\tx", "\rx"] {
            assert!(cell(bad).starts_with("\"'"), "{bad:?}");
        }
    }
}
