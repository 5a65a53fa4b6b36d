//! What was measured: a cell, what it was made to give, and what was read.

use crate::quantity::{Charge, Current, Power, Resistance, Temperature, Time, Voltage};

/// One test of one cell, from fresh or from a stated age.
#[derive(Debug, Clone, PartialEq)]
pub struct Test {
    /// What the test is called in tables and messages.
    pub name: String,
    /// Which of several makers' cells or samples it was made on, from 0.
    pub unit: usize,
    /// Temperature of the cell.
    pub ambient: Temperature,
    /// Time that the cell lay at 20 degC before the test.
    pub age: Time,
    /// Whether self-discharge went on in the test. Makers' charts of capacity at currents that would
    /// take years are projections that leave it out.
    pub loses: bool,
    /// What the cell was made to give.
    pub drive: Drive,
    /// What was read. A log has none: its voltages are its readings.
    pub readings: Vec<Reading>,
}

/// What a cell was made to give.
#[derive(Debug, Clone, PartialEq)]
pub enum Drive {
    /// A load with a regime, until nothing is left to read.
    Duty(Duty),
    /// A recorded discharge; at least two points, times rising.
    Log(Vec<LogPoint>),
    /// Nothing: every reading is taken on a cell rested at its depth.
    Rest,
}

/// A load and when it is on.
#[derive(Debug, Clone, PartialEq)]
pub struct Duty {
    /// Steps that follow each other and start again; a single step without a time never ends.
    pub steps: Vec<Step>,
    /// When the steps run, inner to outer: "15 s each minute, 8 h each day" is two windows.
    /// Empty means without a pause.
    pub windows: Vec<Window>,
}

/// One step of a load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// What is drawn.
    pub demand: Demand,
    /// For how long; `None` for as long as the window is open.
    pub span: Option<Time>,
}

/// What is drawn from a cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Demand {
    /// Nothing.
    Rest,
    /// A constant current.
    Current(Current),
    /// A resistor.
    Resistance(Resistance),
    /// A constant power.
    Power(Power),
}

/// On for a part of every period, from its start.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    /// Time on.
    pub on: Time,
    /// Period.
    pub every: Time,
}

/// A point of a recorded discharge; its current flows from this point to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogPoint {
    /// Time since the start.
    pub time: Time,
    /// Terminal voltage.
    pub volts: Voltage,
    /// Current, discharge positive.
    pub amps: Current,
}

/// One figure that was read in a test.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// What was read.
    pub value: Value,
    /// One standard deviation of the reading: a share for amounts and resistances, volts for voltages.
    pub sigma: f64,
    /// Whether the fit may look at it; a reading held back is only compared.
    pub fitted: bool,
}

/// What was read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Value {
    /// How much a cell gave until its loaded voltage fell to `end`.
    Service {
        /// Loaded voltage at which the test ends.
        end: Voltage,
        /// What it gave.
        amount: Amount,
    },
    /// Voltage under the load of the test.
    Volts {
        /// Where it was read.
        at: At,
        /// The voltage.
        volts: Voltage,
    },
    /// Voltage at rest.
    Rest {
        /// Charge that had been given.
        at: At,
        /// The voltage.
        volts: Voltage,
    },
    /// Voltage at the end of a pulse that follows a rest.
    Pulse {
        /// Charge that had been given.
        at: At,
        /// The pulse, with its length.
        pulse: Step,
        /// The voltage at its end.
        volts: Voltage,
    },
    /// Drop of the voltage over current, from rest to the end of a pulse.
    Resistance {
        /// Charge that had been given.
        at: At,
        /// The pulse; its length may be 0.
        pulse: Step,
        /// Drop over current.
        resistance: Resistance,
    },
}

/// How much a cell gave.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Amount {
    /// Time on load.
    Time(Time),
    /// Charge.
    Charge(Charge),
    /// Number of times that the steps began, or the innermost window opened where they do not repeat.
    Count(f64),
}

/// Where in a discharge something was read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum At {
    /// After so much time on load.
    Time(Time),
    /// After so much charge.
    Charge(Charge),
    /// After this share of the charge that the test gives down to `end`.
    Share {
        /// The share, 0 to 1.
        share: f64,
        /// Loaded voltage at which the test counts as done.
        end: Voltage,
    },
    /// At this depth of discharge: share of all charge of the cell.
    Depth(f64),
}

impl Value {
    /// The figure that was read, in SI units: seconds, coulombs, a count, volts or ohms.
    #[must_use]
    pub fn figure(self) -> f64 {
        match self {
            Self::Service { amount, .. } => match amount {
                Amount::Time(time) => time.as_secs(),
                Amount::Charge(charge) => charge.as_coulombs(),
                Amount::Count(count) => count,
            },
            Self::Volts { volts, .. } | Self::Rest { volts, .. } | Self::Pulse { volts, .. } => {
                volts.as_volts()
            }
            Self::Resistance { resistance, .. } => resistance.as_ohms(),
        }
    }
}

impl Drive {
    /// The charge that a log took out; none for what is not a log.
    #[must_use]
    pub fn logged_charge(&self) -> Option<Charge> {
        let Self::Log(log) = self else { return None };
        let pairs = log.windows(2);
        let given =
            pairs.map(|p| p[0].amps.as_amps() * (p[1].time.as_secs() - p[0].time.as_secs()));
        Some(Charge::from_coulombs(given.sum()))
    }
}

impl Test {
    /// Whether a fit looks at anything of it.
    #[must_use]
    pub fn is_fitted(&self) -> bool {
        matches!(self.drive, Drive::Log(_)) || self.readings.iter().any(|r| r.fitted)
    }
}
