//! A field-effect transistor: one expression from weak to strong inversion, with its body diode.
//!
//! All voltages of the parameters are those of an n-channel part; a p-channel part is the same with
//! every sign turned.
//!
//! # References
//! C. C. Enz, F. Krummenacher and E. A. Vittoz, "An analytical MOS transistor model valid in all
//! regions of operation and dedicated to low-voltage and low-current applications", Analog
//! Integrated Circuits and Signal Processing 8 (1995).

use crate::quantity::{Bearing, Current, Properties, Resistance, Spread, Voltage};

/// Which carriers the channel has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Channel {
    /// Electrons: on with the gate above the source.
    N,
    /// Holes: on with the gate below the source.
    P,
}

/// A transistor as its data sheet gives it, magnitudes only.
#[derive(Debug, Clone, PartialEq)]
pub struct Fet {
    /// Which channel.
    pub channel: Channel,
    /// Gate threshold voltage, magnitude.
    pub threshold: Spread<Voltage>,
    /// Drain current at which the threshold is stated.
    pub threshold_at: Current,
    /// On-resistance against gate-source voltage, magnitudes, voltage rising.
    pub on_resistance: Vec<(Voltage, Spread<Resistance>)>,
    /// Drain current when off.
    pub off_leakage: Option<Spread<Current>>,
    /// Gate current.
    pub gate_leakage: Option<Spread<Current>>,
    /// Rated drain-source voltage, magnitude.
    pub rated_drain_source: Option<Voltage>,
    /// Rated gate-source voltage, magnitude.
    pub rated_gate_source: Option<Voltage>,
}

impl Fet {
    /// The lowest gate-source voltage for which the data sheet states an on-resistance.
    #[must_use]
    pub fn specified_from(&self) -> Option<Voltage> {
        self.on_resistance.first().map(|point| point.0)
    }

    /// Offers the adjustable properties.
    pub fn visit<P: Properties>(&mut self, p: &mut P) {
        p.spread("threshold", Bearing::Other, &mut self.threshold);
        if let Some(leakage) = &mut self.off_leakage {
            p.spread("off_leakage", Bearing::Drain, leakage);
        }
        if let Some(leakage) = &mut self.gate_leakage {
            p.spread("gate_leakage", Bearing::Drain, leakage);
        }
    }
}
