//! Zener diodes: a diode whose reverse characteristic is made to break down.
//!
//! # Formula
//! ```text
//! v_r = V_z + n ln(i / I_z) + R (i - I_z)      n + R I_z = r_z I_z
//! ```
//! with voltage `V_z` and dynamic resistance `r_z` at the test current `I_z`. Data sheets that print the
//! dynamic resistance at two currents show it falling nearly as `1/i`, so all of it is `n` unless a
//! stated leakage asks for a steeper foot. The reverse current is a junction of its own, turned round.

use crate::device::{Diode, Junction};
use crate::numerics::math;
use crate::quantity::{Bearing, Current, Power, Properties, Resistance, Spread, Voltage};

/// A Zener diode as its data sheet gives it.
#[derive(Debug, Clone, PartialEq)]
pub struct Zener {
    /// Breakdown voltage at the test current.
    pub breakdown: Spread<Voltage>,
    /// The test current.
    pub test_current: Current,
    /// Dynamic resistance at the test current.
    pub dynamic_resistance: Spread<Resistance>,
    /// The junction forwards, with the reverse leakage at its stated voltage.
    pub junction: Diode,
    /// Rated power.
    pub rated_power: Option<Power>,
}

/// Least share of the breakdown voltage that the slope of the breakdown is taken to be: a steeper one
/// cannot be told from a wall.
const LEAST_SLOPE: f64 = 0.01;

impl Zener {
    /// The breakdown as a junction from cathode to anode. It does not move with temperature.
    #[must_use]
    pub fn reverse(&self) -> Junction {
        let (volts, amps) = (self.breakdown.si(), self.test_current.as_amps());
        let slope_volts = self.dynamic_resistance.si() * amps;
        let emission_volts = slope_volts
            .min(self.foot_volts(slope_volts).unwrap_or(f64::INFINITY))
            .max(LEAST_SLOPE * volts);
        let series_ohms = ((slope_volts - emission_volts) / amps).max(0.0);
        Junction {
            saturation_amps: amps * math::exp(-(volts - series_ohms * amps) / emission_volts),
            emission_volts,
            series_ohms,
            leak_siemens: 0.0,
        }
    }

    /// The slope with which the breakdown gives no more than the stated leakage at its voltage.
    fn foot_volts(&self, slope_volts: f64) -> Option<f64> {
        let (leakage, at) = (self.junction.leakage?, self.junction.leakage_at?);
        // At the test current the series resistance adds what the slope has beyond this.
        let below = self.breakdown.si() - at.as_volts() - slope_volts;
        let folds = math::ln(self.test_current.as_amps() / leakage.si()) - 1.0;
        (below > 0.0 && folds > 0.0).then(|| below / folds)
    }

    /// The junction forwards. What leaks at the stated voltage beyond the breakdown's own foot is a
    /// conductance.
    #[must_use]
    pub fn forward(&self, celsius: f64) -> Junction {
        let mut junction = self.junction.junction(celsius);
        if let Some(at) = self.junction.leakage_at {
            let foot = self.reverse().amps(at.as_volts()).0 / at.as_volts();
            junction.leak_siemens = (junction.leak_siemens - foot).max(0.0);
        }
        junction
    }

    /// Offers the adjustable properties.
    pub fn visit<P: Properties>(&mut self, p: &mut P) {
        p.spread("breakdown", Bearing::Hold, &mut self.breakdown);
        let ohms = &mut self.dynamic_resistance;
        p.spread("dynamic_resistance", Bearing::Other, ohms);
        self.junction.visit(p);
    }
}
