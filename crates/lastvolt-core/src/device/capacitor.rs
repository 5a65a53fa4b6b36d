//! A capacitor: series resistance, leakage, class-2 capacitance lost under bias.

use crate::numerics::table::Table;
use crate::quantity::{Bearing, Capacitance, Current, Properties, Resistance, Spread, Voltage};

/// Share of its value that a class-2 ceramic keeps under bias where no curve is given, the middle of
/// what is measured (TI SLVA535B: 37 %; ADI tutorial 5527: 33 to 89 %).
const KEPT_UNDER_BIAS: f64 = 0.6;
/// Least series resistance of a capacitor with its leads (common practice: some milliohms for a
/// ceramic).
const LEAST_SERIES_OHMS: f64 = 1e-3;

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

    /// Share of the capacitance that is left at a voltage: by its curve; a class-2 ceramic without one
    /// keeps what most of them do.
    #[must_use]
    pub fn kept_share(&self, volts: f64) -> f64 {
        match (&self.bias, self.dielectric) {
            (Some(curve), _) => curve.at(volts.abs()),
            (None, Some(Dielectric::Class2X | Dielectric::Class2Y)) => KEPT_UNDER_BIAS,
            _ => 1.0,
        }
    }

    /// Differential capacitance at a voltage.
    #[must_use]
    pub fn farads_at(&self, volts: f64) -> f64 {
        self.value.si() * self.kept_share(volts)
    }

    /// Charge on the plates at a voltage: the integral of the capacitance from 0.
    #[must_use]
    pub fn charge_at(&self, volts: f64) -> f64 {
        match &self.bias {
            Some(curve) => {
                let area = curve.integral(volts.abs()) - curve.integral(0.0);
                self.value.si() * area * volts.signum()
            }
            None => self.farads_at(volts) * volts,
        }
    }

    /// Voltage at which the plates hold a charge, [`Self::charge_at`] backwards.
    #[must_use]
    pub fn volts_at(&self, charge: f64) -> f64 {
        let farads = self.farads_at(0.0);
        if self.bias.is_none() || farads <= 0.0 {
            return charge / farads.max(f64::MIN_POSITIVE);
        }
        let mut volts = charge / farads;
        for _ in 0..50 {
            let step = (charge - self.charge_at(volts)) / self.farads_at(volts);
            volts += step;
            if step.abs() <= 1e-13 * volts.abs().max(1e-3) {
                break;
            }
        }
        volts
    }

    /// Series resistance, never below what leads and terminations have.
    #[must_use]
    pub fn series_ohms(&self) -> f64 {
        self.series_resistance.si().max(LEAST_SERIES_OHMS)
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn charge_and_voltage_are_each_other_backwards() {
        let curve = [(0.0, 1.0), (2.0, 0.8), (6.0, 0.35), (10.0, 0.2)];
        let part = Capacitor {
            value: Spread::exactly(Capacitance::from_farads(10e-6)),
            dielectric: Some(Dielectric::Class2X),
            rated: None,
            series_resistance: Spread::exactly(Resistance::from_ohms(0.0)),
            leakage: None,
            bias: Some(Table::new(&curve).expect("rising")),
        };
        for volts in [-5.0, -0.1, 0.0, 0.3, 3.0, 9.0] {
            let back = part.volts_at(part.charge_at(volts));
            assert!((back - volts).abs() < 1e-9, "{volts} {back}");
        }
        // Less than without bias, more than at the final share.
        assert!(part.charge_at(6.0) < 6.0 * 10e-6 && part.charge_at(6.0) > 6.0 * 3.5e-6);
    }
}
