//! Tables of published points and logs of discharges, read into tests of cells.
//!
//! [`measured()`] is handed named texts and tells points from logs by the names of their columns. It gives
//! the tests that a fit looks at, where each of their figures comes from, and every problem at once. Where
//! there is an error there are no tests: a model is never made of half of the figures.
//!
//! How sure a figure is follows from how it was read, as one standard deviation (common practice):
//!
//! | figure | table, text | curve, derived | low confidence | memory |
//! | --- | --- | --- | --- | --- |
//! | service, as a share | 2 % | 4 % | 8 % | 12 % |
//! | voltage on load and at rest | 10 mV | 20 mV | 40 mV | 40 mV |
//! | voltage at the end of a pulse | 15 mV | 20 mV | 40 mV | 40 mV |
//! | resistance, as a share | 15 % | 15 % | 30 % | 30 % |
//!
//! A figure that does not say how it was read counts as one of a table. The voltages of a log have their
//! deviation in the fit.

use lastvolt_core::fit::{Demand, Test};
use lastvolt_core::quantity::{Charge, Temperature, Time};

use crate::{Diagnostic, Place, Severity, Text};

mod columns;
mod delimiter;
mod duty;
mod gather;
mod log;
mod moment;
mod number;
mod points;
mod problem;
mod sigma;
mod sound;
mod table;
mod thin;
mod train;
mod words;

/// Whether a cell may be charged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Chemistry {
    /// It must not: current into the cell is an error of the log.
    #[default]
    Primary,
    /// It may.
    Rechargeable,
}

/// The sign of discharge in a log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Direction {
    /// Found from the log itself; a sign that is turned around is told.
    #[default]
    Found,
    /// Discharge is positive.
    Positive,
    /// Discharge is negative.
    Negative,
}

/// What is stated beside the files.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// Names of columns: ours (`time`, `volts`, `amps`, or one of a file of points), and the file's.
    pub columns: Vec<(String, String)>,
    /// Units of columns that state none, or the wrong one: `amps`, `mA`.
    pub units: Vec<(String, String)>,
    /// What loads the cell where a log has no current.
    pub load: Option<Demand>,
    /// Temperature where a file states none.
    pub ambient: Temperature,
    /// Name of the sample of a log and of the maker of points without one; the file's name where absent.
    pub sample: Option<String>,
    /// Whether the cell may be charged.
    pub chemistry: Chemistry,
    /// The sign of discharge.
    pub direction: Direction,
    /// Charge that the maker rates, against which currents are held.
    pub rated: Option<Charge>,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            columns: Vec::new(),
            units: Vec::new(),
            load: None,
            ambient: Temperature::from_celsius(20.0),
            sample: None,
            chemistry: Chemistry::default(),
            direction: Direction::default(),
            rated: None,
        }
    }
}

impl Options {
    /// The file's name of one of our columns, where one is stated.
    fn column(&self, ours: &str) -> Option<&str> {
        let found = self.columns.iter().find(|(name, _)| name == ours);
        found.map(|(_, theirs)| theirs.trim())
    }

    /// The unit of one of our columns, where one is stated.
    fn unit(&self, ours: &str) -> Option<&str> {
        let found = self.units.iter().find(|(name, _)| name == ours);
        found.map(|(_, unit)| unit.as_str())
    }
}

/// What was read.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Measured {
    /// What a fit looks at and is compared with; empty where there is an error.
    pub tests: Vec<Test>,
    /// Makers and samples; `Test::unit` counts them.
    pub units: Vec<String>,
    /// Where each reading and each log comes from, in the order of tests and readings.
    pub origins: Vec<Origin>,
    /// How each log was thinned.
    pub logs: Vec<Thinning>,
    /// What a standard asks for at least: compared, never fitted.
    pub minimums: Vec<Minimum>,
    /// Figures that are printed and not fitted.
    pub facts: Vec<Fact>,
    /// What is wrong; a warning does not stop.
    pub problems: Vec<Diagnostic>,
}

impl Measured {
    /// Whether there is an error.
    #[must_use]
    pub fn failed(&self) -> bool {
        let mut problems = self.problems.iter();
        problems.any(|p| p.severity == Severity::Error)
    }
}

/// What a figure is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// Fitted.
    Fit,
    /// Kept from the fit to judge it.
    Held,
    /// A bound or a fact, only compared.
    Compare,
}

/// Where a reading or a log comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct Origin {
    /// Index of the test.
    pub test: usize,
    /// Index of the reading; `None` for a log.
    pub reading: Option<usize>,
    /// The row, or the header of the log.
    pub place: Place,
    /// Document, page or figure.
    pub source: String,
    /// How it was read.
    pub read: String,
    /// How sure it is.
    pub confidence: String,
    /// What it is for.
    pub role: Role,
}

/// How a log was thinned.
#[derive(Debug, Clone, PartialEq)]
pub struct Thinning {
    /// Index of the test.
    pub test: usize,
    /// Rows of the file.
    pub rows: usize,
    /// Points that stay.
    pub points: usize,
    /// How far a row may lie from the line through the points, in volts.
    pub within_volts: f64,
    /// Of how many periods of a pulse train one is kept whole; 1 where all are.
    pub one_period_in: usize,
    /// Length of the log.
    pub time: Time,
    /// Charge that the cell gave.
    pub charge: Charge,
}

/// A service that a standard asks for at least.
#[derive(Debug, Clone, PartialEq)]
pub struct Minimum {
    /// The test with its one reading.
    pub test: Test,
    /// Where it is asked for.
    pub source: String,
    /// The row.
    pub place: Place,
}

/// A figure that is printed and not fitted.
#[derive(Debug, Clone, PartialEq)]
pub struct Fact {
    /// Who says so; empty where it belongs to the size.
    pub maker: String,
    /// The maker's name of the cell.
    pub model: String,
    /// What it is.
    pub quantity: String,
    /// The figure as written.
    pub value: String,
    /// Its unit as written; empty where the unit stands in the value.
    pub unit: String,
    /// Document, page or figure.
    pub source: String,
    /// How sure it is.
    pub confidence: String,
    /// The row.
    pub place: Place,
}

/// Reads files of points and logs.
#[must_use]
pub fn measured(files: &[Text], options: &Options) -> Measured {
    gather::gather(files, options)
}

/// Our names of the columns that options may state: those of a log, then those of points.
#[must_use]
pub fn column_names() -> Vec<&'static str> {
    let log = ["time", "date", "volts", "amps"];
    log.into_iter().chain(columns::POINTS).collect()
}

/// Reads the load that is stated for logs without a current: `3 kohm`, `10 mA` or `50 mW`.
///
/// # Errors
/// In words, where it is none of these.
///
/// # Examples
/// ```
/// use lastvolt_input::measured::load;
/// assert!(load("3 kohm").is_ok());
/// assert!(load("3 volts").is_err_and(|says| says.contains("not a load")));
/// ```
pub fn load(text: &str) -> Result<Demand, String> {
    match duty::demand(text) {
        Ok(Demand::Rest) => Err("a cell that only rests gives nothing".to_owned()),
        Ok(demand) => Ok(demand),
        Err(slip) => Err(slip.says),
    }
}
