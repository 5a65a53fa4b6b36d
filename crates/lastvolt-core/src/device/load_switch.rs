//! Load switches: a transistor with its driver between a supply and what it feeds.

use crate::device::Enable;
use crate::device::Junction;
use crate::device::junction::{leak_siemens, silicon_body};
use crate::quantity::{Bearing, Current, Properties, Resistance, Spread, Voltage};

/// A load switch as its data sheet gives it.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadSwitch {
    /// Resistance from input to output when on.
    pub on_resistance: Spread<Resistance>,
    /// Current drawn from the input when on.
    pub quiescent: Spread<Current>,
    /// Current drawn from the input into ground when off.
    pub shutdown: Spread<Current>,
    /// Current from input to output when off, at 25 degC.
    pub leakage: Spread<Current>,
    /// Voltage at which the leakage is stated.
    pub leakage_at: Option<Voltage>,
    /// Limit of the output current.
    pub limit: Option<Spread<Current>>,
    /// Whether current may flow from output to input.
    pub reverse_blocking: Blocking,
    /// Input voltage below which it is off.
    pub runs_down_to: Voltage,
    /// Highest input voltage it survives.
    pub survives: Option<Voltage>,
    /// Rated current.
    pub rated: Option<Current>,
    /// The enable input; without it the switch is always on.
    pub enable: Option<Enable>,
}

/// When no current flows from output to input.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Blocking {
    /// Never: a body diode leads back.
    Never,
    /// While the switch is off.
    WhenOff,
    /// Always.
    Always,
}

impl LoadSwitch {
    /// Conductance that stands for the leakage from input to output when off.
    #[must_use]
    pub fn leak_siemens(&self, celsius: f64) -> f64 {
        let at = self.leakage_at.or(self.survives);
        leak_siemens(&self.leakage, at, celsius)
    }

    /// The diode from output to input.
    #[must_use]
    pub fn body(&self, celsius: f64) -> Junction {
        silicon_body(celsius, 0.0)
    }

    /// Offers the adjustable properties.
    pub fn visit<P: Properties>(&mut self, p: &mut P) {
        p.spread("on_resistance", Bearing::Other, &mut self.on_resistance);
        p.spread("quiescent", Bearing::Drain, &mut self.quiescent);
        p.spread("shutdown", Bearing::Drain, &mut self.shutdown);
        p.spread("leakage", Bearing::Drain, &mut self.leakage);
        if let Some(limit) = &mut self.limit {
            p.spread("limit", Bearing::Other, limit);
        }
        if let Some(enable) = &mut self.enable {
            p.spread("enable.leakage", Bearing::Drain, &mut enable.leakage);
        }
    }
}
