//! The run time of a board: from fresh to the first instant at which a stated need is not met.

use std::collections::BTreeMap;

use crate::model::Family;
use crate::quantity::Temperature;

/// What is asked.
#[derive(Debug, Clone)]
pub struct LifeRequest<'a> {
    /// The family.
    pub family: &'a Family,
    /// Name of the board.
    pub board: &'a str,
    /// Name of the profile; none means base states for ever.
    pub profile: Option<&'a str>,
    /// Temperature around the board.
    pub ambient: Temperature,
    /// Positions of switches that differ from the usual.
    pub positions: BTreeMap<String, String>,
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Life {
    /// Positions that were used.
    pub positions: BTreeMap<String, String>,
    /// Run time in seconds; none where nothing ends within 100 years or no cell feeds the board.
    pub life_secs: Option<f64>,
    /// Estimated error of the run time in seconds.
    pub error_secs: f64,
    /// How it ends.
    pub end: End,
    /// Energy by line in joules; their sum is the energy stored at the start.
    pub ledger: Vec<(String, f64)>,
    /// |U(0) - sum| / U(0).
    pub ledger_error: f64,
    /// Mean current of the most used cell over the life, without self-discharge.
    pub mean_cell_amps: f64,
    /// When one cold night would end it.
    pub cold_night: Option<ColdNight>,
    /// What happened on the way.
    pub trace: Trace,
    /// Operating points solved.
    pub points_solved: usize,
    /// What the reader should know about the method.
    pub warnings: Vec<String>,
}

/// Why a life ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Cause {
    /// A load falls below its working range.
    BrownOut,
    /// A cell is empty or at its end voltage.
    Empty,
    /// A converter stops.
    ConverterStopped,
    /// A load sees more than its working range.
    OverVoltage,
    /// A load is not powered at all.
    NotPowered,
    /// Nothing ends it.
    NoEnd,
}

/// How a life ends.
#[derive(Debug, Clone, PartialEq)]
pub struct End {
    /// Why.
    pub cause: Cause,
    /// The load whose need is not met.
    pub load: Option<String>,
    /// The state it is in then.
    pub state: Option<String>,
    /// The task that put it there.
    pub task: Option<String>,
    /// The net concerned.
    pub net: Option<String>,
    /// Its voltage.
    pub net_volts: Option<f64>,
    /// Terminal voltage of a cell, lowest of a string.
    pub cell_volts: Option<f64>,
    /// Depth of the most used cell.
    pub depth: f64,
    /// Where the fatal drop from open-circuit voltage to the load is lost, volts by name.
    pub shares: Vec<(String, f64)>,
}

/// From when one night at the low ambient ends the life.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ColdNight {
    /// Time at the usual ambient in seconds.
    pub time_secs: f64,
    /// Depth of the most used cell then.
    pub depth: f64,
}

/// What happened on the way, one entry an instant.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Trace {
    /// Instants in seconds.
    pub time_secs: Vec<f64>,
    /// Depth of the most used cell.
    pub depth: Vec<f64>,
    /// Terminal voltage of a cell at base load and at the worst burst.
    pub cell: RailTrace,
    /// Voltage of the main rail at base load and at the worst burst.
    pub rail: RailTrace,
}

/// A voltage on the way.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct RailTrace {
    /// At base load.
    pub rest_volts: Vec<f64>,
    /// The lowest in the worst burst.
    pub lowest_volts: Vec<f64>,
}

impl Cause {
    /// The word that outputs use.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::BrownOut => "brown-out",
            Self::Empty => "empty",
            Self::ConverterStopped => "converter-stopped",
            Self::OverVoltage => "over-voltage",
            Self::NotPowered => "not-powered",
            Self::NoEnd => "no-end",
        }
    }
}
