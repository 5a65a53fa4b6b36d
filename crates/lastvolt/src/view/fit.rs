//! The document of `fit`: what was read, how the fit went, its parameters, every reading beside what
//! the model says, what the data leave open, and the model as text.

mod parameter;
mod reading;

use lastvolt_core::fit::{Drive, Fitted, Missed, Value};
use lastvolt_core::quantity::Unit;
use lastvolt_input::measured::Measured;
use serde::Serialize;

use crate::text::number::{figure, listed, percent};
use crate::view::{Num, nums};

pub(crate) use parameter::ParameterView;
pub(crate) use reading::{Measure, ReadingView, TestView};

/// The answer of `fit`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct FitDocument {
    /// The fit.
    pub(crate) fit: FitView,
}

/// A fitted cell with what it was made from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct FitView {
    /// What the model is called.
    pub(crate) name: String,
    /// The cell that it began from.
    pub(crate) like: String,
    /// The files that were read, without their folders.
    pub(crate) files: Vec<String>,
    /// Makers' cells or samples that were measured.
    pub(crate) samples: Vec<String>,
    /// Whether the best descent came to rest by itself.
    pub(crate) settled: bool,
    /// How often slopes were taken in the best descent.
    pub(crate) steps: usize,
    /// Cost at the end of each descent, the best first: half the sum of squared weighted differences.
    pub(crate) costs: Vec<Num>,
    /// What the model misses in such tests.
    pub(crate) missed: MissedView,
    /// The logs and how they were thinned.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) logs: Vec<LogView>,
    /// The parameters.
    pub(crate) parameters: Vec<ParameterView>,
    /// What the data leave open.
    pub(crate) open: Vec<GapView>,
    /// Every test with its readings.
    pub(crate) tests: Vec<TestView>,
    /// The model, ready to be put into a file of a family.
    pub(crate) model_toml: String,
}

/// What a model misses: one standard deviation.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub(crate) struct MissedView {
    /// Of times, charges, counts and resistances; absent where none was fitted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) share: Option<Num>,
    /// Of voltages; absent where none was fitted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) volts_v: Option<Num>,
}

impl MissedView {
    fn new(measured: &Measured, missed: &Missed) -> Self {
        let mut any = (false, false);
        for test in &measured.tests {
            any.1 |= matches!(test.drive, Drive::Log(_));
            for reading in test.readings.iter().filter(|r| r.fitted) {
                match reading.value {
                    Value::Service { .. } | Value::Resistance { .. } => any.0 = true,
                    Value::Volts { .. } | Value::Rest { .. } | Value::Pulse { .. } => any.1 = true,
                }
            }
        }
        Self {
            share: any.0.then_some(Num(missed.share)),
            volts_v: any.1.then_some(Num(missed.volts)),
        }
    }

    /// In words: `1.5 % of times, charges and resistances and 19 mV of voltages`.
    pub(crate) fn words(&self) -> String {
        let share = self
            .share
            .map(|s| format!("{} of times, charges and resistances", percent(s.0)));
        let volts = self
            .volts_v
            .map(|v| format!("{} of voltages", figure(v.0, Unit::Volt)));
        let both: Vec<String> = share.into_iter().chain(volts).collect();
        listed(&both)
    }
}

/// A log that was read.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct LogView {
    /// Name of its test.
    pub(crate) test: String,
    /// Rows of the file.
    pub(crate) rows: usize,
    /// Points that stay.
    pub(crate) points: usize,
    /// How far a row may lie from the line through the points.
    pub(crate) within_v: Num,
    /// Of how many periods one is kept whole; 1 where all are.
    pub(crate) one_period_in: usize,
    /// Its length.
    pub(crate) length_s: Num,
    /// Charge that was given.
    pub(crate) given_as: Num,
}

/// Something that the data leave open.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct GapView {
    /// A name that stays the same.
    pub(crate) name: &'static str,
    /// Which parameters are meant.
    pub(crate) parameters: String,
    /// Why they are open.
    pub(crate) says: String,
    /// What to measure.
    pub(crate) measure: String,
}

impl FitView {
    /// The document of a fit, so far without files, gaps and text of the model.
    pub(crate) fn new(name: &str, like: &str, measured: &Measured, fitted: &Fitted) -> Self {
        Self {
            name: name.to_owned(),
            like: like.to_owned(),
            files: Vec::new(),
            samples: measured.units.clone(),
            settled: fitted.settled,
            steps: fitted.slopes_taken,
            costs: nums(&fitted.costs),
            missed: MissedView::new(measured, &fitted.missed),
            logs: logs(measured),
            parameters: fitted
                .pinned
                .iter()
                .filter_map(ParameterView::new)
                .collect(),
            open: Vec::new(),
            tests: reading::tests(measured, fitted),
            model_toml: String::new(),
        }
    }

    /// With the files that were read.
    pub(crate) fn with_files(mut self, files: &[String]) -> Self {
        self.files = files.to_vec();
        self
    }

    /// With what the data leave open.
    pub(crate) fn with_open(mut self, open: Vec<GapView>) -> Self {
        self.open = open;
        self
    }

    /// With the text of the model.
    pub(crate) fn with_model(mut self, toml: String) -> Self {
        self.model_toml = toml;
        self
    }
}

fn logs(measured: &Measured) -> Vec<LogView> {
    let logs = measured.logs.iter();
    logs.map(|log| LogView {
        test: measured.tests[log.test].name.clone(),
        rows: log.rows,
        points: log.points,
        within_v: Num(log.within_volts),
        one_period_in: log.one_period_in,
        length_s: Num(log.time.as_secs()),
        given_as: Num(log.charge.as_coulombs()),
    })
    .collect()
}
