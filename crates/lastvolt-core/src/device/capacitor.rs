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
        if let Some(mut leakage) = self.stated_leakage() {
            p.spread("leakage", Bearing::Drain, &mut leakage);
            self.leakage = Some(leakage);
        }
    }

    /// Leakage at rated voltage: as stated, or what the dielectric guarantees.
    ///
    /// Ceramics: 50 ohm farad of insulation and at most 10 Gohm (Murata FAQ 0039) as the maximum; tantalum: 0.01 C V or
    /// 0.5 uA, aluminium and polymer: 0.01 C V or 3 uA (from memory). The typical part is taken a
    /// factor below, as its class usually is (from memory). None where nothing is known.
    #[must_use]
    pub fn stated_leakage(&self) -> Option<Spread<Current>> {
        if self.leakage.is_some() {
            return self.leakage;
        }
        let (farads, volts) = (self.value.si(), self.rated?.as_volts());
        let (max, factor) = match self.dielectric? {
            Dielectric::Class1 | Dielectric::Film => (volts / 1e10, 10.0),
            Dielectric::Class2X | Dielectric::Class2Y => {
                ((volts * farads / 50.0).max(volts / 1e10), 20.0)
            }
            Dielectric::Tantalum => ((0.01 * farads * volts).max(0.5e-6), 10.0),
            Dielectric::Aluminium | Dielectric::Polymer => ((0.01 * farads * volts).max(3e-6), 5.0),
            Dielectric::DoubleLayer => return None,
        };
        let amps = Current::from_amps;
        Some(Spread {
            min: None,
            typ: amps(max / factor),
            max: Some(amps(max)),
        })
    }

    /// Leakage as a conductance, doubling every 10 K above 25 degC and halving below.
    #[must_use]
    pub fn leak_siemens(&self, celsius: f64) -> f64 {
        let volts = self.rated.map_or(1.0, Voltage::as_volts).max(1e-3);
        let amps = self.stated_leakage().map_or(0.0, |l| l.si());
        amps / volts * crate::numerics::math::exp2((celsius - 25.0) / 10.0)
    }
}
