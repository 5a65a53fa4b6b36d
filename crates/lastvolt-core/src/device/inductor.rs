//! An inductor: winding resistance and saturation.

use crate::quantity::{Bearing, Current, Inductance, Properties, Resistance, Spread};

/// An inductor as its data sheet gives it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inductor {
    /// Inductance.
    pub value: Spread<Inductance>,
    /// Resistance of the winding.
    pub winding: Spread<Resistance>,
    /// Current at which the inductance has fallen by the maker's share.
    pub saturation: Option<Current>,
    /// Current for the maker's rise of temperature.
    pub rated: Option<Current>,
}

impl Inductor {
    /// Offers the adjustable properties.
    pub fn visit<P: Properties>(&mut self, p: &mut P) {
        p.spread("value", Bearing::Other, &mut self.value);
        p.spread("winding", Bearing::Other, &mut self.winding);
    }
}
