//! Whether a log can be the discharge of one cell: times that rise, voltages and currents in their units,
//! a direction, no gaps under load, no charging where there should be none.

use lastvolt_core::quantity::Charge;

use super::log::{Log, Row};
use super::problem::{Complaint, Complaints, Slip};
use super::{Chemistry, Direction, Options, words};

/// Fewest rows of a log.
const FEWEST_ROWS: usize = 5;
/// More than any single cell has, in volts: lithium thionyl chloride has 3.7, lithium ion 4.4.
const MOST_VOLTS: f64 = 5.0;
/// Longer than any discharge.
const LONGEST_SECS: f64 = 100.0 * 365.25 * 86_400.0;
/// A cell driven below zero is driven backwards; a little is an offset of the logger.
const LEAST_VOLTS: f64 = -0.05;
/// More than a small cell gives or survives.
const MOST_AMPS: f64 = 50.0;
const MOST_COULOMBS: f64 = 100.0 * 3600.0;
/// More charge than this share of the rated one is no spread of cells.
const MOST_OF_RATED: f64 = 3.0;
/// Share of the largest current below which a current counts as none.
const IDLE_SHARE: f64 = 0.01;
/// A step of time this many times longer than nine in ten of all others is a gap.
const GAP: f64 = 10.0;
/// Currents of two rows that differ by less than this share are one slope, otherwise a step.
const SLOPE_SHARE: f64 = 0.1;

/// Current that flows from a row to the next: the mean on a slope, that of the first at a step.
pub(super) fn flow(from: &Row, to: &Row) -> f64 {
    let larger = from.amps.abs().max(to.amps.abs());
    if (from.amps - to.amps).abs() <= SLOPE_SHARE * larger {
        f64::midpoint(from.amps, to.amps)
    } else {
        from.amps
    }
}

fn charge(rows: &[Row]) -> f64 {
    let pairs = rows.windows(2);
    pairs
        .map(|w| flow(&w[0], &w[1]) * (w[1].secs - w[0].secs))
        .sum()
}

/// Puts a log in order and complains; whether it was turned around.
pub(super) fn check(log: &mut Log<'_>, options: &Options, complaints: &mut Complaints) -> bool {
    let before = complaints.errors();
    let mut checker = Checker { log, complaints };
    checker.times();
    checker.voltages();
    if before < checker.complaints.errors() {
        return false;
    }
    if checker.log.rows.len() < FEWEST_ROWS {
        checker.too_few();
        return false;
    }
    if checker.never_loaded() {
        return false;
    }
    let flipped = checker.direction(options);
    checker.amounts(options);
    if before == checker.complaints.errors() {
        checker.gaps();
        if options.chemistry == Chemistry::Primary {
            checker.charging();
        }
    }
    flipped
}

struct Checker<'a, 't> {
    log: &'a mut Log<'t>,
    complaints: &'a mut Complaints,
}

impl Checker<'_, '_> {
    fn error(&mut self, slip: Slip) {
        let file = self.log.table.file;
        self.complaints.add(Complaint::error(file, slip));
    }

    fn notice(&mut self, slip: Slip) {
        let file = self.log.table.file;
        self.complaints.add(Complaint::notice(file, slip));
    }

    /// Number of a row as an editor counts.
    fn number(&self, row: &Row) -> usize {
        let head = self.log.table.text.as_bytes().get(..row.at).unwrap_or(&[]);
        1 + head.iter().filter(|b| **b == b'\n').count()
    }

    fn time_span(&self, row: &Row) -> std::ops::Range<usize> {
        self.log.table.span(row.at, self.log.layout.time.index)
    }

    fn volts_span(&self, row: &Row) -> std::ops::Range<usize> {
        self.log.table.span(row.at, self.log.layout.volts.index)
    }

    /// The name of the column of currents; of voltages where the current comes from a stated load.
    fn amps_header(&self) -> std::ops::Range<usize> {
        let layout = &self.log.layout;
        let column = layout.amps.as_ref().unwrap_or(&layout.volts);
        column.span.clone()
    }

    fn amps_span(&self, row: &Row) -> std::ops::Range<usize> {
        let layout = &self.log.layout;
        let index = layout.amps.as_ref().unwrap_or(&layout.volts).index;
        self.log.table.span(row.at, index)
    }

    /// Times must rise; of rows with the same time the last stays.
    fn times(&mut self) {
        let mut kept: Vec<Row> = Vec::with_capacity(self.log.rows.len());
        let mut back: Vec<Row> = Vec::new();
        let mut repeated = None;
        let mut n_repeated = 0;
        for row in &self.log.rows {
            match kept.last_mut() {
                Some(last) if row.secs < last.secs => back.push(*row),
                Some(last) if row.secs == last.secs => {
                    *last = *row;
                    repeated.get_or_insert(*row);
                    n_repeated += 1;
                }
                _ => kept.push(*row),
            }
        }
        self.log.rows = kept;
        let first = self.log.rows.first().map_or(0.0, |row| row.secs);
        let late = |row: &&Row| row.secs - first > LONGEST_SECS;
        if let Some(row) = self.log.rows.iter().find(late).copied() {
            let says = "this time lies more than a hundred years after the first row";
            let slip = Slip::new("out-of-range", self.time_span(&row), says)
                .label("no time of a discharge")
                .proposal("take the row out; many loggers write such a figure where they overflow");
            self.error(slip);
        }
        for row in back {
            let slip = Slip::new(
                "time-backwards",
                self.time_span(&row),
                "time goes backwards here",
            )
            .label("before the row above")
            .proposal("where a second discharge begins here, put it into a file of its own");
            self.error(slip);
        }
        if let Some(row) = repeated {
            let says = format!(
                "{} the time of the row above; of rows with one time the last is taken",
                match n_repeated {
                    1 => "one row repeats".to_owned(),
                    n => format!("{n} rows repeat"),
                }
            );
            let slip = Slip::new("time-repeated", self.time_span(&row), says)
                .label("the first of them")
                .proposal("log the time with more digits where the rows differ");
            self.notice(slip);
        }
    }

    fn voltages(&mut self) {
        let Some(typical) = median(self.log.rows.iter().map(|r| r.volts)) else {
            return;
        };
        let header = self.log.layout.volts.span.clone();
        let size = typical.abs();
        let cell = |volts: f64| (0.5..=MOST_VOLTS).contains(&volts);
        let shown = words::voltage(typical);
        let doubt = if size > MOST_VOLTS && cell(size / 1e3) {
            Some("mV")
        } else if size > MOST_VOLTS && cell(size / 1e6) {
            Some("uV")
        } else if size < 0.02 && cell(size * 1e3) {
            Some("V")
        } else {
            None
        };
        if let Some(unit) = doubt {
            let says =
                format!("the voltage is {shown} as read, which no cell has; it looks like {unit}");
            let slip = Slip::new("unit-doubt", header, says)
                .label(format!("in {unit}?"))
                .proposal(format!("name the column `voltage_{unit}`"));
            return self.error(slip);
        }
        if typical > MOST_VOLTS {
            let says = format!("the voltage is {shown} as read, more than one cell has");
            let slip = Slip::new("not-one-cell", header, says)
                .label("more than 5 V")
                .proposal("log one cell, or divide by the number of cells in series");
            return self.error(slip);
        }
        if typical < LEAST_VOLTS {
            let says =
                format!("the voltage is {shown} as read: the leads of the logger look swapped");
            let slip = Slip::new("swapped-leads", header, says)
                .label("below zero")
                .proposal("change the sign of the column");
            return self.error(slip);
        }
        if size < 0.02 {
            let says = format!("the voltage is {shown} as read, which no cell has");
            let slip = Slip::new("unit-doubt", header, says)
                .label("is this the voltage?")
                .proposal("state which column is `volts`");
            return self.error(slip);
        }
        self.strays();
    }

    /// Single rows outside of what a cell has.
    fn strays(&mut self) {
        let outside = |row: &&Row| !(LEAST_VOLTS..=MOST_VOLTS).contains(&row.volts);
        let rows: Vec<Row> = self.log.rows.iter().filter(outside).copied().collect();
        for row in rows {
            let high = row.volts > MOST_VOLTS;
            let says = format!("{} is no voltage of a cell", words::voltage(row.volts));
            let slip = Slip::new("volts-out-of-range", self.volts_span(&row), says)
                .label(if high { "above 5 V" } else { "below zero" })
                .proposal(if high {
                    "delete the row where the logger slipped"
                } else {
                    "end the log before: the cell is driven backwards from here"
                });
            self.error(slip);
        }
    }

    fn too_few(&mut self) {
        let n = self.log.rows.len();
        let says = format!(
            "the log has {}, {FEWEST_ROWS} at least are needed",
            words::count(n, "row")
        );
        let header = self.log.table.whole(self.log.table.header);
        let slip = Slip::new("too-few-rows", header, says)
            .label("under this header")
            .proposal("log a whole discharge; single figures go into a file of points");
        self.error(slip);
    }

    fn peak_amps(&self) -> f64 {
        let sizes = self.log.rows.iter().map(|r| r.amps.abs());
        sizes.fold(0.0, f64::max)
    }

    fn never_loaded(&mut self) -> bool {
        let peak = self.peak_amps();
        if 1e-9 < peak && charge(&self.log.rows) != 0.0 {
            return false;
        }
        let says =
            "no current ever flows: a cell that is never loaded says nothing about what it gives";
        let slip = Slip::new("never-loaded", self.amps_header(), says)
            .label("always 0")
            .proposal("state which column is `amps`, or the load where it is a resistor");
        self.error(slip);
        true
    }

    /// Makes discharge positive.
    fn direction(&mut self, options: &Options) -> bool {
        let rows = &self.log.rows;
        let net = charge(rows);
        let idle = IDLE_SHARE * self.peak_amps();
        let both = rows.iter().any(|r| r.amps > idle) && rows.iter().any(|r| r.amps < -idle);
        let flip = match options.direction {
            Direction::Positive => false,
            Direction::Negative => true,
            Direction::Found if both && options.chemistry == Chemistry::Rechargeable => {
                rises_with_current(rows)
            }
            Direction::Found => net < 0.0,
        };
        if !flip {
            return false;
        }
        for row in &mut self.log.rows {
            row.amps = -row.amps;
        }
        if options.direction == Direction::Found {
            let says = if both {
                "discharge looks negative in this log, the sign of its current is turned around"
            } else {
                "the current is negative, it is taken as discharge"
            };
            let slip =
                Slip::new("sign-turned", self.amps_header(), says).label("discharge is negative");
            self.notice(slip);
        }
        true
    }

    /// Currents and charges that no small cell has.
    fn amounts(&mut self, options: &Options) {
        let given = charge(&self.log.rows);
        let peak = self.peak_amps();
        let rated = options.rated.map(Charge::as_coulombs).filter(|c| *c > 0.0);
        let shown = words::charge(given);
        let header = self.amps_header();
        let by_load = self.log.layout.amps.is_none();
        let cure = |unit: &str| match by_load {
            true => "check the load that is stated".to_owned(),
            false => format!("name the column `current_{unit}` where it is in {unit}"),
        };
        if let Some(rated) = rated {
            let of_rated = given / rated;
            if of_rated > MOST_OF_RATED {
                let milli = (0.01..=MOST_OF_RATED).contains(&(of_rated / 1e3));
                let guess = if milli {
                    "; it looks like mA read as A"
                } else {
                    ""
                };
                let says = format!(
                    "the current sums to {shown}, {} times the rated charge{guess}",
                    words::digits(of_rated)
                );
                let slip = Slip::new("charge-doubt", header, says).label("too much");
                return self.error(slip.proposal(cure("mA")));
            }
            if of_rated < 2e-3 {
                let says =
                    format!("the current sums to {shown}, next to nothing of the rated charge");
                let slip = Slip::new("little-charge", header, says).label("too little?");
                return self.notice(slip.proposal(cure("A")));
            }
            return;
        }
        if peak > MOST_AMPS || given > MOST_COULOMBS {
            let says = format!(
                "the current reaches {} and sums to {shown}, more than a small cell gives; it looks like mA read as A",
                words::current(peak)
            );
            let slip = Slip::new("charge-doubt", header, says).label("in mA?");
            self.error(slip.proposal(cure("mA")));
        }
    }

    /// Long steps of time while current flows.
    fn gaps(&mut self) {
        const LABEL: &str = "after the gap";
        let rows = &self.log.rows;
        let mut spans: Vec<f64> = rows.windows(2).map(|w| w[1].secs - w[0].secs).collect();
        let ninth = (spans.len() - 1) * 9 / 10;
        let usual = *spans.select_nth_unstable_by(ninth, f64::total_cmp).1;
        let idle = IDLE_SHARE * self.peak_amps();
        let is_gap = |w: &&[Row]| w[1].secs - w[0].secs > GAP * usual && w[0].amps.abs() > idle;
        let gaps: Vec<(Row, Row)> = rows
            .windows(2)
            .filter(is_gap)
            .map(|w| (w[0], w[1]))
            .collect();
        for (from, to) in gaps {
            let file = self.log.table.file;
            let span = self.time_span(&to);
            if !self.complaints.has_room(file, "gap", LABEL) {
                self.error(Slip::new("gap", span, "").label(LABEL));
                continue;
            }
            let says = format!(
                "{} pass between rows {} and {} while {} flow; rows are usually at most {} apart",
                words::time(to.secs - from.secs),
                self.number(&from),
                self.number(&to),
                words::current(from.amps),
                words::time(usual)
            );
            let slip = Slip::new("gap", span, says).label(LABEL).proposal(
                "where the cell rested, add a row with no current at the start of the rest; where nothing is known, keep only the rows before",
            );
            let before = self.time_span(&from);
            let complaint = Complaint::error(file, slip).related(before, "before the gap");
            self.complaints.add(complaint);
        }
    }

    /// Stretches in which a primary cell is charged.
    fn charging(&mut self) {
        const LABEL: &str = "charging begins";
        let idle = IDLE_SHARE * self.peak_amps();
        let rows = std::mem::take(&mut self.log.rows);
        let mut k = 0;
        while k < rows.len() {
            if rows[k].amps >= -idle {
                k += 1;
                continue;
            }
            let first = k;
            while k < rows.len() && rows[k].amps < -idle {
                k += 1;
            }
            let put_in = -charge(&rows[first..rows.len().min(k + 1)]);
            let (from, to) = (&rows[first], &rows[k - 1]);
            let span = self.amps_span(from);
            if !self
                .complaints
                .has_room(self.log.table.file, "charging", LABEL)
            {
                self.error(Slip::new("charging", span, "").label(LABEL));
                continue;
            }
            let says = format!(
                "the cell is charged with {} in {}, and a primary cell must not be",
                words::charge(put_in.max(0.0)),
                match (self.number(from), self.number(to)) {
                    (from, to) if from == to => format!("row {from}"),
                    (from, to) => format!("rows {from} to {to}"),
                }
            );
            let slip = Slip::new("charging", span, says)
                .label(LABEL)
                .proposal("check the sign of the current; end the log before, or say that the cell is rechargeable");
            self.error(slip);
        }
        self.log.rows = rows;
    }
}

/// Whether the voltage rises with the current, as it does where charging is positive.
fn rises_with_current(rows: &[Row]) -> bool {
    let pairs = rows.windows(2);
    let product = |w: &[Row]| {
        let (volts, amps) = (w[1].volts - w[0].volts, w[1].amps - w[0].amps);
        volts * (amps + f64::midpoint(w[0].amps, w[1].amps))
    };
    pairs.map(product).sum::<f64>() > 0.0
}

fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut values: Vec<f64> = values.collect();
    let middle = values.len() / 2;
    (!values.is_empty()).then(|| *values.select_nth_unstable_by(middle, f64::total_cmp).1)
}
