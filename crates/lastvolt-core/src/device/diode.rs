//! Diodes and light-emitting diodes: Shockley with series resistance, fitted to data-sheet points.

use crate::quantity::{Bearing, Current, Properties, Spread, Voltage};

/// A junction as its data sheet gives it.
#[derive(Debug, Clone, PartialEq)]
pub struct Diode {
    /// Forward points, current and voltage, current rising; at least one.
    pub forward: Vec<(Current, Spread<Voltage>)>,
    /// Reverse leakage at `leakage_at`, at 25 degC.
    pub leakage: Option<Spread<Current>>,
    /// Reverse voltage at which the leakage is stated.
    pub leakage_at: Option<Voltage>,
    /// Rated forward current.
    pub rated_current: Option<Current>,
    /// Rated reverse voltage.
    pub rated_reverse: Option<Voltage>,
}

/// A light-emitting diode; its light is proportional to its current.
#[derive(Debug, Clone, PartialEq)]
pub struct Led {
    /// The junction.
    pub junction: Diode,
    /// Current from which the light is seen.
    pub visible_from: Option<Current>,
}

impl Diode {
    /// Offers the adjustable properties.
    pub fn visit<P: Properties>(&mut self, p: &mut P) {
        if let Some(leakage) = &mut self.leakage {
            p.spread("leakage", Bearing::Drain, leakage);
        }
    }
}
