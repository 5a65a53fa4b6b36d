//! Rows of a log: time, voltage and current as numbers in SI, each row with its place.

use lastvolt_core::fit::Demand;
use lastvolt_core::quantity::{DAY_SECS, Unit};

use super::Options;
use super::columns::{Column, Layout, layout};
use super::moment::{Form, moment};
use super::number::{Mark, number};
use super::problem::{Complaint, Complaints, Slip};
use super::table::Table;
use crate::quantity::parse;

/// One row of a log.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Row {
    /// First byte.
    pub(super) at: usize,
    /// Time, from any start.
    pub(super) secs: f64,
    /// Terminal voltage.
    pub(super) volts: f64,
    /// Current; discharge is positive once the direction is settled.
    pub(super) amps: f64,
}

/// A log as it was read.
pub(super) struct Log<'t> {
    pub(super) table: Table<'t>,
    pub(super) layout: Layout,
    pub(super) rows: Vec<Row>,
}

/// Reads the rows of a log; `None` where something is wrong with one of them.
pub(super) fn read<'t>(
    table: Table<'t>,
    options: &Options,
    complaints: &mut Complaints,
) -> Option<Log<'t>> {
    let before = complaints.errors();
    let header = table.columns();
    let units = units_under(&table);
    let layout = match layout(&header, units.as_deref().unwrap_or(&[]), options) {
        Ok(layout) => layout,
        Err(slips) => {
            for slip in slips {
                complaints.add(Complaint::error(table.file, slip));
            }
            return None;
        }
    };
    let mut reader = Reader {
        table: &table,
        layout: &layout,
        options,
        n_columns: header.len(),
        form: None,
        marks: [None, None],
        days: 0.0,
        last_clock_secs: 0.0,
    };
    let mut rows = Vec::new();
    let mut source = table.rows();
    if units.is_some() {
        source.next();
    }
    while let Some((at, record)) = source.next() {
        match reader.row(at, record, complaints) {
            Ok(row) => rows.push(row),
            Err(slip) => complaints.add(Complaint::error(table.file, slip)),
        }
    }
    let clock = reader.form.is_some_and(|form| form != Form::Number);
    tell_units(&table, &layout, clock, complaints);
    (before == complaints.errors()).then_some(Log {
        table,
        layout,
        rows,
    })
}

/// Units that stand in a line of their own under the header.
fn units_under(table: &Table<'_>) -> Option<Vec<Option<String>>> {
    let mut rows = table.rows();
    let (_, record) = rows.next()?;
    let inner = |field: &str| {
        let field = field.trim();
        let field = field
            .trim_start_matches(['(', '['])
            .trim_end_matches([')', ']']);
        (!field.is_empty()).then(|| field.to_owned())
    };
    let fields: Vec<Option<String>> = record.iter().map(inner).collect();
    let is_unit = |word: &String| {
        let one = format!("1 {word}");
        let units = [Unit::Volt, Unit::Ampere, Unit::Second];
        word.starts_with(char::is_alphabetic) && units.iter().any(|u| parse(&one, *u).is_ok())
    };
    let figure = |word: &String| number(word, table.delimiter).is_ok() || moment(word).is_some();
    let written = || fields.iter().flatten();
    (written().any(is_unit) && !written().any(figure)).then_some(fields)
}

/// Says which units are taken where none is written.
fn tell_units(table: &Table<'_>, layout: &Layout, clock: bool, complaints: &mut Complaints) {
    let mut tell = |column: &Column, unit: &str, example: &str| {
        if !column.stated {
            let says = format!("no unit is written, {unit} are taken");
            let slip = Slip::new("no-unit", column.span.clone(), says)
                .label("no unit")
                .proposal(format!("name the column for instance `{example}`"));
            complaints.add(Complaint::notice(table.file, slip));
        }
    };
    if !clock {
        tell(&layout.time, "seconds", "time_s");
    }
    tell(&layout.volts, "volts", "voltage_V");
    if let Some(amps) = &layout.amps {
        tell(amps, "amperes", "current_A");
    }
}

/// Reads one row after the other.
struct Reader<'a> {
    table: &'a Table<'a>,
    layout: &'a Layout,
    options: &'a Options,
    n_columns: usize,
    form: Option<Form>,
    /// Where the first number with a point and the first with a comma stand.
    marks: [Option<usize>; 2],
    days: f64,
    last_clock_secs: f64,
}

impl Reader<'_> {
    fn row(
        &mut self,
        at: usize,
        record: &csv::StringRecord,
        complaints: &mut Complaints,
    ) -> Result<Row, Slip> {
        self.fits(at, record)?;
        let secs = self.secs(at, record, complaints)?;
        let volts = self.figure(at, record, &self.layout.volts, Unit::Volt)?;
        let amps = match (&self.layout.amps, self.options.load) {
            (Some(column), _) => self.figure(at, record, column, Unit::Ampere)?,
            (None, Some(load)) => amps_of(load, volts),
            (None, None) => 0.0,
        };
        Ok(Row {
            at,
            secs,
            volts,
            amps,
        })
    }

    /// Whether the row has no more fields than there are columns.
    fn fits(&self, at: usize, record: &csv::StringRecord) -> Result<(), Slip> {
        let extra = record.iter().skip(self.n_columns);
        if extra.map(str::trim).all(str::is_empty) {
            return Ok(());
        }
        Err(too_many(self.table, at, record, self.n_columns))
    }

    fn figure(
        &mut self,
        at: usize,
        record: &csv::StringRecord,
        column: &Column,
        unit: Unit,
    ) -> Result<f64, Slip> {
        let text = record.get(column.index).unwrap_or("");
        match number(text, self.table.delimiter) {
            Ok((value, mark)) => {
                self.mark(at, column.index, mark)?;
                Ok(value * column.factor)
            }
            Err(slip) if slip.code == "not-a-number" => match parse(text, unit) {
                Ok(reading) if reading.limits.is_none() => Ok(reading.value),
                _ => Err(self.placed(slip, at, column.index)),
            },
            Err(slip) => Err(self.placed(slip, at, column.index)),
        }
    }

    /// Points and commas in one file may be decimals or thousands: nobody can tell.
    fn mark(&mut self, at: usize, column: usize, mark: Mark) -> Result<(), Slip> {
        let (own, other) = match mark {
            Mark::None => return Ok(()),
            Mark::Point => (0, 1),
            Mark::Comma => (1, 0),
        };
        self.marks[own].get_or_insert(at);
        if self.marks[other].is_none() {
            return Ok(());
        }
        let says = "some numbers of this file have a decimal point, others a comma";
        let slip = Slip::new("mixed-decimals", 0..0, says)
            .label("unlike the rows before")
            .proposal("write all with a point");
        Err(self.placed(slip, at, column))
    }

    fn placed(&self, mut slip: Slip, at: usize, column: usize) -> Slip {
        let name = if column == self.layout.time.index {
            "time"
        } else if column == self.layout.volts.index {
            "volts"
        } else {
            "amps"
        };
        slip.says = format!("`{name}`: {}", slip.says);
        slip.at = self.table.span(at, column);
        slip
    }

    fn secs(
        &mut self,
        at: usize,
        record: &csv::StringRecord,
        complaints: &mut Complaints,
    ) -> Result<f64, Slip> {
        let index = self.layout.time.index;
        let text = record.get(index).unwrap_or("");
        let dated = self.layout.date.and_then(|date| record.get(date));
        let found = match (moment(text), dated) {
            (Some((_, Form::Clock)), Some(date)) => moment(&format!("{} {text}", date.trim())),
            (found, _) => found,
        };
        let form = found.map_or(Form::Number, |found| found.1);
        let expected = *self.form.get_or_insert(form);
        let secs = match found {
            Some((secs, form)) if form == expected => secs,
            None if expected == Form::Number => {
                return self.figure(at, record, &self.layout.time, Unit::Second);
            }
            _ if text.trim().is_empty() => {
                let slip = number(text, self.table.delimiter).err();
                let slip = slip.unwrap_or_else(|| Slip::new("empty-field", 0..0, "empty"));
                return Err(self.placed(slip, at, index));
            }
            _ => {
                let says = format!("this time is not {} as in the rows before", expected.word());
                let slip = Slip::new("time-form", 0..0, says)
                    .label("unlike the others")
                    .proposal(
                        "write all times as numbers, as `hh:mm:ss`, or as `2024-05-01T12:00:00`",
                    );
                return Err(self.placed(slip, at, index));
            }
        };
        if expected == Form::Clock {
            return Ok(self.past_midnight(at, secs, complaints));
        }
        Ok(secs)
    }

    /// Time of a clock that starts again at midnight.
    fn past_midnight(&mut self, at: usize, secs: f64, complaints: &mut Complaints) -> f64 {
        if secs + DAY_SECS / 2.0 < self.last_clock_secs && self.last_clock_secs < DAY_SECS {
            self.days += 1.0;
            let says = "the clock starts again here, the next day is taken";
            let slip = Slip::new(
                "next-day",
                self.table.span(at, self.layout.time.index),
                says,
            )
            .label("midnight");
            complaints.add(Complaint::notice(self.table.file, slip));
        }
        self.last_clock_secs = secs;
        self.days * DAY_SECS + secs
    }
}

/// A row with more fields than columns, most often because of commas.
pub(super) fn too_many(
    table: &Table<'_>,
    at: usize,
    record: &csv::StringRecord,
    columns: usize,
) -> Slip {
    let fields = record.len();
    let digits = |field: &str| field.trim().parse::<f64>().is_ok();
    let decimals = table.delimiter == b',' && record.iter().all(digits);
    let says = format!(
        "this row has {fields} fields, there are {columns} columns{}",
        if decimals {
            "; it looks like decimal commas"
        } else {
            ""
        }
    );
    let slip = Slip::new("too-many-fields", table.whole(at), says).label("too many fields");
    slip.proposal(if decimals {
        "write decimals with a point, or separate columns with semicolons"
    } else {
        "put quotes around text that holds a separator, or take out what belongs to no column"
    })
}

/// The current that a load draws at a voltage.
fn amps_of(load: Demand, volts: f64) -> f64 {
    match load {
        Demand::Rest => 0.0,
        Demand::Current(current) => current.as_amps(),
        Demand::Resistance(resistance) => volts / resistance.as_ohms(),
        // An empty cell has no power to give: below a tenth of a volt the current is not followed.
        Demand::Power(power) => power.as_watts() / volts.max(0.1),
    }
}
