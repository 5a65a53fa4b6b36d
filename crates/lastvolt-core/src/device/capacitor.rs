//! A capacitor: series resistance, leakage, class-2 capacitance lost under bias.

use crate::numerics::table::Table;
use crate::quantity::{Bearing, Capacitance, Current, Properties, Resistance, Spread, Voltage};

/// A capacitor as its data sheet gives it.
#[derive(Debug, Clone, PartialEq)]
pub struct Capacitor {
    /// Capacitance without bias.
    pub value: Spread<Capacitance>,
    /// What is between its plates.
    pub dielectric: Option<Dielectric>,
    /// Rated voltage.
    pub rated: Option<Voltage>,
    /// Series resistance.
    pub series_resistance: Spread<Resistance>,
    /// Leakage current at rated voltage.
    pub leakage: Option<Spread<Current>>,
    /// Share of the capacitance left against bias in volts, where a curve is given.
    pub bias: Option<Table>,
}

/// Dielectric families that the trade tells apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dielectric {
    /// Class 1 ceramic: C0G, NP0.
    Class1,
    /// Class 2 ceramic of X type: X5R, X7R.
    Class2X,
    /// Class 2 ceramic of Y or Z type: Y5V, Z5U.
    Class2Y,
    /// Solid tantalum.
    Tantalum,
    /// Aluminium electrolytic.
    Aluminium,
    /// Polymer electrolytic.
    Polymer,
    /// Film.
    Film,
    /// Double-layer capacitor.
    DoubleLayer,
}

impl Capacitor {
    /// Offers the adjustable properties.
    pub fn visit<P: Properties>(&mut self, p: &mut P) {
        p.spread("value", Bearing::Other, &mut self.value);
        p.spread(
            "series_resistance",
            Bearing::Other,
            &mut self.series_resistance,
        );
        if let Some(leakage) = &mut self.leakage {
            p.spread("leakage", Bearing::Drain, leakage);
        }
    }
}
