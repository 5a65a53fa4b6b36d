//! Rows of a file of points: what each says, or what is wrong with it.

use std::ops::Range;

use lastvolt_core::fit::{Duty, Reading};
use lastvolt_core::quantity::{Temperature, Time, Unit};

mod figure;

use super::columns::POINTS;
use super::duty;
use super::log::too_many;
use super::problem::{Complaint, Complaints, Slip};
use super::table::Table;
use super::{Options, Role};
use crate::suggest::{listed, nearest, quoted};

/// Quantities that are fitted or compared; all others are facts.
const KNOWN: [&str; 6] = ["service", "minimum", "volts", "rest", "pulse", "resistance"];

/// What a row says.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Said {
    /// A figure under a load.
    Loaded(Duty, Reading),
    /// A figure of a rested cell.
    Rested(Reading),
    /// What a standard asks for.
    Minimum(Duty, Reading),
    /// Anything else.
    Fact,
}

/// A row that is in order.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Point {
    /// Where it stands.
    pub(super) span: Range<usize>,
    /// Its fields, in the order of the columns of points.
    pub(super) fields: [String; POINTS.len()],
    pub(super) ambient: Temperature,
    pub(super) age: Time,
    /// Whether self-discharge went on.
    pub(super) loses: bool,
    pub(super) role: Role,
    pub(super) said: Said,
}

impl Point {
    /// One of the fields as written.
    pub(super) fn field(&self, name: &str) -> &str {
        let index = POINTS.iter().position(|n| *n == name);
        index.map_or("", |k| self.fields[k].as_str())
    }
}

/// Reads a file of points.
pub(super) fn read(
    table: &Table<'_>,
    options: &Options,
    complaints: &mut Complaints,
) -> Vec<Point> {
    let columns = columns(table, options, complaints);
    let n_columns = table.columns().len();
    let mut points = Vec::new();
    if columns
        .iter()
        .zip(POINTS)
        .any(|(c, n)| c.is_none() && is_needed(n))
    {
        return points;
    }
    let mut rows = table.rows();
    while let Some((at, record)) = rows.next() {
        let extra = record.iter().skip(n_columns).map(str::trim);
        if !extra.into_iter().all(str::is_empty) {
            let slip = too_many(table, at, record, n_columns);
            complaints.add(Complaint::error(table.file, slip));
            continue;
        }
        let field = |index: &Option<usize>| {
            let text = index.and_then(|k| record.get(k)).unwrap_or("");
            text.trim().to_owned()
        };
        let mut row = Row {
            table,
            at,
            columns: &columns,
            fields: columns.each_ref().map(field),
            complaints,
        };
        points.extend(row.point(options));
    }
    points
}

fn is_needed(name: &str) -> bool {
    matches!(name, "quantity" | "value")
}

type Columns = [Option<usize>; POINTS.len()];

/// Where the columns are; complains about those that are missing, doubled or misspelt.
fn columns(table: &Table<'_>, options: &Options, complaints: &mut Complaints) -> Columns {
    let header = table.columns();
    let mut columns: Columns = [None; POINTS.len()];
    for (k, (name, span)) in header.iter().enumerate() {
        let is = |ours: &str| {
            let theirs = options.column(ours).unwrap_or(ours);
            name.eq_ignore_ascii_case(theirs)
        };
        let error = |code, says: String| Slip::new(code, span.clone(), says);
        let Some(ours) = POINTS.iter().position(|ours| is(ours)) else {
            if let Some(near) = nearest(name, POINTS) {
                let says = format!("unknown column {}", quoted(name));
                let slip = error("unknown-column", says).label("not a known column");
                let mut slip = slip.write(near);
                slip.proposal = Some(format!("did you mean `{near}`?"));
                complaints.add(Complaint::error(table.file, slip));
            } else if !name.is_empty() {
                let says = format!("the column {} is not read", quoted(name));
                let slip = error("column-not-read", says).label("not read");
                let known = format!("known columns: {}", listed(POINTS));
                complaints.add(Complaint::notice(table.file, slip.proposal(known)));
            }
            continue;
        };
        if columns[ours].is_some() {
            let says = format!("a second column is called {}", quoted(name));
            let slip = error("two-columns", says).label("second one");
            complaints.add(Complaint::error(table.file, slip));
        }
        columns[ours].get_or_insert(k);
    }
    for name in POINTS.iter().filter(|name| is_needed(name)) {
        let index = POINTS.iter().position(|n| n == name);
        if index.is_some_and(|k| columns[k].is_none()) {
            let says = format!("a file of points needs a column `{name}`");
            let slip = Slip::new("missing-column", table.whole(table.header), says);
            let slip = slip.label("no such column");
            complaints.add(Complaint::error(table.file, slip));
        }
    }
    columns
}

/// One row while it is read.
struct Row<'a> {
    table: &'a Table<'a>,
    at: usize,
    columns: &'a Columns,
    fields: [String; POINTS.len()],
    complaints: &'a mut Complaints,
}

impl Row<'_> {
    fn index(name: &str) -> usize {
        POINTS.iter().position(|n| *n == name).unwrap_or(0)
    }

    fn get(&self, name: &str) -> &str {
        &self.fields[Self::index(name)]
    }

    fn span(&self, name: &str) -> Range<usize> {
        match self.columns[Self::index(name)] {
            Some(column) => self.table.span(self.at, column),
            None => self.table.whole(self.at),
        }
    }

    /// Reports something that is wrong inside a field.
    fn report(&mut self, name: &str, mut slip: Slip) {
        let span = self.span(name);
        let written = self.table.text.get(span.clone()).unwrap_or("");
        if written == self.get(name) {
            let end = span.start + slip.at.end.min(written.len());
            slip.at = (span.start + slip.at.start).min(end)..end;
        } else {
            // Doubled quotes shift everything after them.
            slip.at = span;
            slip.patch = None;
        }
        slip.says = format!("`{name}`: {}", slip.says);
        self.complaints.add(Complaint::error(self.table.file, slip));
    }

    /// Reports a field that must be filled.
    fn missing(&mut self, name: &'static str, why: &str) {
        let example = match name {
            "load" if why.contains("pulse") || why.contains("resistance") => "10 mA for 15 s",
            "load" => "15 kohm",
            "end" => "0.9 V",
            _ => "50 %",
        };
        let slip = Slip::new(
            "missing-field",
            self.span(name),
            format!("{why} needs `{name}`"),
        )
        .label(format!("no `{name}`"))
        .proposal(format!(
            "write for instance `{example}` into the column `{name}`"
        ));
        self.complaints.add(Complaint::error(self.table.file, slip));
    }

    fn parsed<T>(&mut self, name: &str, read: impl Fn(&str) -> Result<T, Slip>) -> Option<T> {
        match read(self.get(name)) {
            Ok(value) => Some(value),
            Err(slip) => {
                self.report(name, slip);
                None
            }
        }
    }

    /// A value between limits, or what stands for an empty field.
    fn bounded(&mut self, name: &str, unit: Unit, limits: (f64, f64), empty: f64) -> Option<f64> {
        if self.get(name).is_empty() {
            return Some(empty);
        }
        self.parsed(name, |text| within(text, unit, limits))
    }

    /// One of several words, or nothing.
    fn word(&mut self, name: &str, words: &[&'static str]) -> Option<()> {
        let got = self.get(name);
        if got.is_empty() || words.contains(&got) {
            return Some(());
        }
        let says = format!(
            "{} is none of {}",
            quoted(got),
            listed(words.iter().copied())
        );
        let mut slip = Slip::new("unknown-word", 0..got.len(), says).label("not one of them");
        if let Some(near) = nearest(got, words.iter().copied()) {
            slip = slip.write(near);
        }
        self.report(name, slip);
        None
    }

    fn point(&mut self, options: &Options) -> Option<Point> {
        let before = self.complaints.errors();
        let celsius = options.ambient.as_celsius();
        let ambient = self.bounded("ambient", Unit::Celsius, (-90.0, 200.0), celsius);
        let age = self.bounded("age", Unit::Second, (0.0, f64::INFINITY), 0.0);
        self.word("read", &["table", "text", "curve", "derived", "memory"]);
        self.word("confidence", &["high", "medium", "low", "memory"]);
        self.word("use", &["fit", "held", "compare"]);
        self.word("loss", &["left out"]);
        let role = match self.get("use") {
            "held" => Role::Held,
            "compare" => Role::Compare,
            _ => Role::Fit,
        };
        let said = self.said(role);
        let (ambient, age, said) = (ambient?, age?, said?);
        (before == self.complaints.errors()).then(|| Point {
            span: self.table.whole(self.at),
            fields: self.fields.clone(),
            ambient: Temperature::from_celsius(ambient),
            age: Time::from_secs(age),
            loses: self.get("loss").is_empty(),
            role,
            said,
        })
    }

    /// Value and unit as one text, and the length of the first.
    fn value_text(&mut self) -> Option<(String, usize)> {
        let (value, unit) = (self.get("value"), self.get("unit"));
        if value.is_empty() {
            let slip = Slip::new("empty-field", 0..0, "the field is empty")
                .label("nothing here")
                .proposal("delete the row, or write what was read");
            self.report("value", slip);
            return None;
        }
        Some((format!("{value} {unit}").trim_end().to_owned(), value.len()))
    }

    fn value(&mut self, unit: Unit, limits: (f64, f64)) -> Option<f64> {
        let (text, _) = self.value_text()?;
        match within(&text, unit, limits) {
            Ok(value) => Some(value),
            Err(slip) => {
                self.report_value(slip);
                None
            }
        }
    }

    /// Reports a slip of value and unit as one text in the column that it is in.
    fn report_value(&mut self, mut slip: Slip) {
        let first = self.get("value").len();
        if first < slip.at.start {
            let shift = first + 1;
            slip.at = slip.at.start - shift..slip.at.end.saturating_sub(shift);
            self.report("unit", slip);
            return;
        }
        if first < slip.at.end {
            slip.at.end = first;
            slip.patch = None;
        }
        self.report("value", slip);
    }
}

fn within(text: &str, unit: Unit, (low, high): (f64, f64)) -> Result<f64, Slip> {
    let value = duty::exact(text, unit)?;
    if (low..=high).contains(&value) {
        return Ok(value);
    }
    let says = format!(
        "{} is not what {} of a cell can be",
        quoted(text),
        unit.measures()
    );
    Err(Slip::new("out-of-range", 0..text.len(), says).label("out of range"))
}
