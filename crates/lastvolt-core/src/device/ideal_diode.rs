//! Ideal diodes: a transistor that a controller holds at a small forward drop and shuts against
//! reverse current.
//!
//! # Formula
//! ```text
//! v = max(V_f + s R i, R i) for i > 0, i = 0 for v < V_f        s = 1/10
//! ```
//! The controller holds `V_f` with a small slope at low current; at high current the transistor is
//! fully on.

use crate::device::Junction;
use crate::device::junction::{leak_siemens, silicon_body};
use crate::quantity::{Bearing, Current, Properties, Resistance, Spread, Voltage};

/// An ideal diode as its data sheet gives it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IdealDiode {
    /// Forward voltage that is held at low current; 0 for one that is simply on.
    pub forward: Spread<Voltage>,
    /// Resistance when fully on.
    pub on_resistance: Spread<Resistance>,
    /// Current from output to input at 25 degC.
    pub leakage: Spread<Current>,
    /// Reverse voltage at which the leakage is stated.
    pub leakage_at: Option<Voltage>,
    /// Current drawn from the input into ground.
    pub quiescent: Spread<Current>,
    /// Lowest voltage, of the higher of input and output, at which the controller works.
    pub works_from: Voltage,
    /// Highest voltage at input and output that it survives.
    pub survives: Option<Voltage>,
    /// Rated current.
    pub rated: Option<Current>,
}

impl IdealDiode {
    /// The diode beside the channel, which conducts alone when the controller does not work.
    #[must_use]
    pub fn body(&self, celsius: f64) -> Junction {
        let at = self.leakage_at.or(self.survives);
        silicon_body(celsius, leak_siemens(&self.leakage, at, celsius))
    }

    /// Offers the adjustable properties.
    pub fn visit<P: Properties>(&mut self, p: &mut P) {
        p.spread("forward", Bearing::Other, &mut self.forward);
        p.spread("on_resistance", Bearing::Other, &mut self.on_resistance);
        p.spread("leakage", Bearing::Drain, &mut self.leakage);
        p.spread("quiescent", Bearing::Drain, &mut self.quiescent);
    }
}
