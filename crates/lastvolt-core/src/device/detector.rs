//! Voltage detectors: supervisors and lockouts that pull their output low while their input is low.

use crate::quantity::{Bearing, Current, Properties, Resistance, Spread, Voltage};

/// A detector as its data sheet gives it; its output is low while it detects.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Detector {
    /// Input voltage below which it detects, falling.
    pub threshold: Spread<Voltage>,
    /// How far above the threshold the input must rise before it lets go.
    pub hysteresis: Spread<Voltage>,
    /// Current drawn from the input.
    pub quiescent: Spread<Current>,
    /// What drives the output high.
    pub output: OutputStage,
    /// Resistance of the output to ground while it detects, and to the input where it drives high.
    pub output_resistance: Spread<Resistance>,
    /// Current into an open-drain output that has let go.
    pub leakage: Spread<Current>,
    /// Input voltage from which its output is what is stated.
    pub works_from: Option<Voltage>,
    /// Highest input voltage it survives.
    pub survives: Option<Voltage>,
}

/// What drives an output high.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OutputStage {
    /// Nothing: a resistor must pull it up.
    OpenDrain,
    /// The input.
    PushPull,
}

/// Smallest hysteresis: one that states none still has some (common practice).
const LEAST_HYSTERESIS_VOLTS: f64 = 1e-3;

impl Detector {
    /// Input voltage at which it lets go, rising.
    #[must_use]
    pub fn release_volts(&self) -> f64 {
        self.threshold.si() + self.hysteresis.si().max(LEAST_HYSTERESIS_VOLTS)
    }

    /// Offers the adjustable properties.
    pub fn visit<P: Properties>(&mut self, p: &mut P) {
        p.spread("threshold", Bearing::Other, &mut self.threshold);
        p.spread("hysteresis", Bearing::Other, &mut self.hysteresis);
        p.spread("quiescent", Bearing::Drain, &mut self.quiescent);
        let ohms = &mut self.output_resistance;
        p.spread("output_resistance", Bearing::Other, ohms);
        p.spread("leakage", Bearing::Drain, &mut self.leakage);
    }
}
