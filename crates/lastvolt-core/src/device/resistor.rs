//! A resistor.

use crate::quantity::{Bearing, Power, Properties, Resistance, Spread};

/// Ohm's law with a rating.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resistor {
    /// Resistance; 0 is allowed.
    pub value: Spread<Resistance>,
    /// Rated power.
    pub rated: Option<Power>,
}

impl Resistor {
    /// Offers the adjustable properties.
    pub fn visit<P: Properties>(&mut self, p: &mut P) {
        p.spread("value", Bearing::Other, &mut self.value);
    }
}
