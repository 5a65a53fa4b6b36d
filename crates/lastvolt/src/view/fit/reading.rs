//! Tests and their readings: what was measured, what the model says, and where it was expected.

use lastvolt_core::fit::{
    Amount, At, Comparison, Demand, Drive, Fitted, Step, Test, Value, predict,
};
use lastvolt_input::measured::{Measured, Origin};
use serde::Serialize;

use crate::text::number::{duration, engineering, percent};
use crate::view::{Named, Num};

/// What is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Measure {
    Secs,
    Coulombs,
    Count,
    Volts,
    Ohms,
}

impl Measure {
    fn end(self) -> &'static str {
        match self {
            Self::Secs => "_s",
            Self::Coulombs => "_as",
            Self::Count => "_count",
            Self::Volts => "_v",
            Self::Ohms => "_ohm",
        }
    }
}

/// One test.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct TestView {
    /// Load, regime and what else it was made under.
    pub(crate) name: String,
    /// Which sample.
    pub(crate) sample: String,
    /// Temperature of the cell.
    pub(crate) ambient_c: Num,
    /// Its readings; of a log, its points.
    pub(crate) readings: Vec<ReadingView>,
    /// Whether it is a log.
    #[serde(skip)]
    pub(crate) log: bool,
}

/// One reading beside what the model says.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct ReadingView {
    /// `service`, `volts`, `rest`, `pulse`, `resistance`, or `log` for a point of a log.
    pub(crate) quantity: &'static str,
    /// Where it was read; what was measured, what the model says and its 90 % interval, with units.
    #[serde(flatten)]
    pub(crate) figures: Named<Num>,
    /// How far the model lies above: a share of what was measured, or volts to the nearest point of the
    /// curve.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) error_share: Option<Num>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) error_v: Option<Num>,
    /// Whether the fit looked at it.
    pub(crate) fitted: bool,
    /// Whether it lies outside of the interval.
    pub(crate) outside: bool,
    /// Document, page or figure; of a log, its file.
    pub(crate) source: String,
    /// Where it was read, in words.
    #[serde(skip)]
    pub(crate) at: String,
    #[serde(skip)]
    pub(crate) measure: Measure,
    #[serde(skip)]
    pub(crate) measured: f64,
    #[serde(skip)]
    pub(crate) said: f64,
    #[serde(skip)]
    pub(crate) limits: (f64, f64),
    /// The error that applies.
    #[serde(skip)]
    pub(crate) error: f64,
}

/// All tests in their order.
pub(super) fn tests(measured: &Measured, fitted: &Fitted) -> Vec<TestView> {
    let mut tests = Vec::new();
    for (at, test) in measured.tests.iter().enumerate() {
        let apart: Vec<f64> = predict(&fitted.units[test.unit], test)
            .iter()
            .map(|p| p.apart)
            .collect();
        let own = fitted.comparisons.iter().filter(|c| c.test == at);
        let log = matches!(test.drive, Drive::Log(_));
        let readings = own.map(|c| {
            let reading = if log { None } else { Some(c.reading) };
            let origins = &measured.origins;
            let origin = origins
                .iter()
                .find(|o| o.test == at && o.reading == reading);
            let apart = apart.get(c.reading).copied().unwrap_or(0.0);
            ReadingView::new(test, c, apart, origin)
        });
        tests.push(TestView {
            name: test.name.clone(),
            sample: measured.units[test.unit].clone(),
            ambient_c: Num(test.ambient.as_celsius()),
            readings: readings.collect(),
            log,
        });
    }
    tests
}

impl ReadingView {
    fn new(test: &Test, compared: &Comparison, apart: f64, origin: Option<&Origin>) -> Self {
        let place = Place::of(test, compared.reading);
        let (low, high) = compared.limits;
        let end = place.measure.end();
        let values = [
            ("measured", compared.measured),
            ("said", compared.said),
            ("low", low),
            ("high", high),
        ];
        let values = values.map(|(key, v)| (format!("{key}{end}"), Num(v)));
        let at = place.at.into_iter().map(|(k, v)| (k.to_owned(), Num(v)));
        let volts = place.measure == Measure::Volts;
        let error = if volts {
            apart
        } else {
            compared.said / compared.measured - 1.0
        };
        // On a steep curve the nearest point counts, as in the fit.
        let straight = low <= compared.measured && compared.measured <= high;
        let near = volts && error.abs() <= (high - low) / 2.0;
        Self {
            quantity: place.quantity,
            figures: at.chain(values).collect(),
            error_share: (!volts).then_some(Num(error)),
            error_v: volts.then_some(Num(error)),
            fitted: compared.fitted,
            outside: !straight && !near,
            source: origin.map(|o| o.source.clone()).unwrap_or_default(),
            at: place.says,
            measure: place.measure,
            measured: compared.measured,
            said: compared.said,
            limits: compared.limits,
            error,
        }
    }
}

/// What a reading is and where it was read.
struct Place {
    quantity: &'static str,
    measure: Measure,
    at: Vec<(&'static str, f64)>,
    says: String,
}

impl Place {
    fn of(test: &Test, reading: usize) -> Self {
        if let Drive::Log(points) = &test.drive {
            let secs = points.get(reading).map_or(0.0, |p| p.time.as_secs());
            return Self {
                quantity: "log",
                measure: Measure::Volts,
                at: vec![("at_s", secs)],
                says: format!("at {}", duration(secs)),
            };
        }
        match test.readings[reading].value {
            Value::Service { end, amount } => Self {
                quantity: "service",
                measure: match amount {
                    Amount::Time(_) => Measure::Secs,
                    Amount::Charge(_) => Measure::Coulombs,
                    Amount::Count(_) => Measure::Count,
                },
                at: vec![("end_v", end.as_volts())],
                says: format!("down to {}", engineering(end.as_volts(), "V", 3)),
            },
            Value::Volts { at, .. } => Self::new("volts", Measure::Volts, at, None),
            Value::Rest { at, .. } => Self::new("rest", Measure::Volts, at, None),
            Value::Pulse { at, pulse, .. } => Self::new("pulse", Measure::Volts, at, Some(pulse)),
            Value::Resistance { at, pulse, .. } => {
                Self::new("resistance", Measure::Ohms, at, Some(pulse))
            }
        }
    }

    fn new(quantity: &'static str, measure: Measure, at: At, pulse: Option<Step>) -> Self {
        let (keys, place) = match at {
            At::Time(time) => {
                let secs = time.as_secs();
                (vec![("at_s", secs)], format!("at {}", duration(secs)))
            }
            At::Charge(charge) if charge.as_coulombs() <= 0.0 => {
                (vec![("at_as", 0.0)], "fresh".to_owned())
            }
            At::Charge(charge) => {
                let coulombs = charge.as_coulombs();
                let said = engineering(coulombs / 3600.0, "Ah", 3);
                (vec![("at_as", coulombs)], format!("after {said}"))
            }
            At::Share { share, end } => {
                let end = end.as_volts();
                let said = format!(
                    "at {} of the service to {}",
                    percent(share),
                    engineering(end, "V", 3)
                );
                (vec![("at_share", share), ("end_v", end)], said)
            }
            At::Depth(depth) if depth <= 0.0 => (vec![("at_depth", 0.0)], "fresh".to_owned()),
            At::Depth(depth) => {
                let said = format!("at {} depth", percent(depth));
                (vec![("at_depth", depth)], said)
            }
        };
        let says = match (quantity, pulse) {
            ("volts", _) => place,
            (_, Some(pulse)) => format!("{quantity} of {}, {place}", step(&pulse)),
            _ => format!("at rest, {place}"),
        };
        Self {
            quantity,
            measure,
            at: keys,
            says,
        }
    }
}

/// A step of a load in words.
fn step(step: &Step) -> String {
    let load = match step.demand {
        Demand::Rest => "rest".to_owned(),
        Demand::Current(i) => engineering(i.as_amps(), "A", 3),
        Demand::Resistance(r) => engineering(r.as_ohms(), "ohm", 3),
        Demand::Power(p) => engineering(p.as_watts(), "W", 3),
    };
    match step.span {
        Some(span) => format!("{load} for {}", duration(span.as_secs())),
        None => load,
    }
}
