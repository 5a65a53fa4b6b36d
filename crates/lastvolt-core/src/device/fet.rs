//! A field-effect transistor: one expression from weak to strong inversion, with its body diode.
//!
//! All voltages of the parameters are those of an n-channel part; a p-channel part is the same with
//! every sign turned.
//!
//! # References
//! C. C. Enz, F. Krummenacher and E. A. Vittoz, "An analytical MOS transistor model valid in all
//! regions of operation and dedicated to low-voltage and low-current applications", Analog
//! Integrated Circuits and Signal Processing 8 (1995).

use crate::numerics::math;
use crate::numerics::root::bracketed;
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

/// The channel at one temperature, in the sense of an n-channel part.
///
/// # Formula
/// ```text
/// I = 2 (m Vt)^2 / B [ln^2(1 + e^((Vgs - Vt0) / 2mVt)) - ln^2(1 + e^((Vgd - Vt0) / 2mVt))]
/// ```
/// In strong inversion this is R = Rs + B / (Vgs - Vt0) at small drain voltage; it is the same with
/// drain and source exchanged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChannelLaw {
    /// Threshold of strong inversion Vt0.
    pub threshold_volts: f64,
    /// Slope voltage m Vt of weak inversion.
    pub slope_volts: f64,
    /// B: on-resistance times overdrive.
    pub ohm_volts: f64,
    /// Resistance in series with the channel.
    pub series_ohms: f64,
    /// Saturation current of the body diode.
    pub body_amps: f64,
    /// Emission voltage of the body diode.
    pub body_volts: f64,
    /// Leakage from drain to source when off.
    pub leak_amps: f64,
}

/// Weak-inversion slope factor m (typical of discrete parts; from memory).
const SLOPE_FACTOR: f64 = 1.5;
/// Body diode: 0.7 V at 100 mA with an emission coefficient of 1.2 (typical of the class).
const BODY_POINT: (f64, f64, f64) = (0.1, 0.7, 1.2);
/// On-resistance at 125 degC over that at 25 degC (Nexperia AN50001: 1.51).
const HOT_RESISTANCE: f64 = 1.51;
/// Fall of the threshold with temperature (typical of the class; from memory).
const THRESHOLD_VOLTS_PER_KELVIN: f64 = -1e-3;

impl Fet {
    /// The channel fitted to threshold and on-resistance, moved to a temperature.
    #[must_use]
    pub fn law(&self, celsius: f64) -> ChannelLaw {
        let slope_volts = SLOPE_FACTOR * math::thermal_volts(celsius);
        let (threshold, ohm_volts, series_ohms) = self.fit_channel();
        let hot = 1.0 + (HOT_RESISTANCE - 1.0) * (celsius - 25.0) / 100.0;
        let warm = math::exp2((celsius - 25.0) / 10.0);
        let (amps, volts, emission) = BODY_POINT;
        let body_volts = emission * math::thermal_volts(25.0);
        ChannelLaw {
            threshold_volts: threshold + THRESHOLD_VOLTS_PER_KELVIN * (celsius - 25.0),
            slope_volts,
            ohm_volts: ohm_volts * hot.max(0.3),
            series_ohms: series_ohms * hot.max(0.3),
            body_amps: amps * math::exp((2e-3 * (celsius - 25.0) - volts) / body_volts),
            body_volts,
            leak_amps: self.off_leakage.map_or(0.0, |l| l.si()) * warm,
        }
    }

    /// (Vt0, B, Rs) that meet the on-resistance table best and the threshold at its current exactly.
    fn fit_channel(&self) -> (f64, f64, f64) {
        let slope = SLOPE_FACTOR * math::thermal_volts(25.0);
        let stated = self.threshold.si().abs().max(1e-3);
        let amps = self.threshold_at.as_amps().abs().max(1e-9);
        let lowest = self
            .on_resistance
            .first()
            .map_or(stated + 2.0, |p| p.0.as_volts().abs());
        let mismatch = |vt0: f64| {
            let (b, _) = self.resistance_line(vt0);
            let root = (amps * b / (2.0 * slope * slope)).sqrt();
            let overdrive = 2.0 * slope * math::ln(math::exp_m1(root.min(600.0)).max(1e-300));
            stated - vt0 - overdrive
        };
        let top = (lowest - 0.02).max(stated + 1e-3);
        let vt0 = bracketed(mismatch, 1e-3, top, 1e-9).unwrap_or(stated.min(top));
        let (b, rs) = self.resistance_line(vt0);
        (vt0, b, rs)
    }

    /// (B, Rs) of R = Rs + B / (Vgs - Vt0) by relative least squares, both kept positive.
    fn resistance_line(&self, vt0: f64) -> (f64, f64) {
        let points: Vec<(f64, f64)> = self
            .on_resistance
            .iter()
            .map(|(v, r)| (1.0 / (v.as_volts().abs() - vt0).max(0.02), r.si().max(1e-6)))
            .collect();
        let (mut sw, mut sx, mut sy, mut sxx, mut sxy) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for &(x, r) in &points {
            let w = 1.0 / (r * r);
            sw += w;
            sx += w * x;
            sy += w * r;
            sxx += w * x * x;
            sxy += w * x * r;
        }
        let spread = sw * sxx - sx * sx;
        let through_origin = if sxx > 0.0 { sxy / sxx } else { 0.1 };
        if points.len() < 2 || spread <= 1e-12 * sw * sxx {
            return (through_origin, 0.0);
        }
        let b = (sw * sxy - sx * sy) / spread;
        let rs = (sy - b * sx) / sw;
        if rs < 0.0 {
            (through_origin, 0.0)
        } else if b <= 0.0 {
            (1e-6, sy / sw)
        } else {
            (b, rs)
        }
    }
}

impl ChannelLaw {
    /// Channel current from drain to source without the series resistance, with its derivatives
    /// with respect to gate, drain and source voltage.
    #[must_use]
    pub fn amps(&self, gate: f64, drain: f64, source: f64) -> (f64, [f64; 3]) {
        let m = self.slope_volts;
        let scale = 2.0 * m * m / self.ohm_volts;
        let half = |to: f64| {
            let u = (gate - to - self.threshold_volts) / (2.0 * m);
            let s = math::softplus(u);
            (s * s, s * math::logistic(u) / m)
        };
        let (forward, forward_slope) = half(source);
        let (backward, backward_slope) = half(drain);
        let gate_slope = scale * (forward_slope - backward_slope);
        let leak = math::tanh((drain - source) / LEAK_VOLTS);
        let leak_slope = self.leak_amps / LEAK_VOLTS * (1.0 - leak * leak);
        let amps = scale * (forward - backward) + self.leak_amps * leak;
        (
            amps,
            [
                gate_slope,
                scale * backward_slope + leak_slope,
                -scale * forward_slope - leak_slope,
            ],
        )
    }

    /// Resistance from drain to source at small drain voltage.
    #[must_use]
    pub fn on_ohms(&self, gate_source_volts: f64) -> f64 {
        let (_, slopes) = self.amps(gate_source_volts, 0.0, 0.0);
        self.series_ohms + 1.0 / slopes[1].max(1e-15)
    }
}

/// Drain voltage from which a transistor that is off draws its stated leakage.
const LEAK_VOLTS: f64 = 0.1;

#[cfg(test)]
mod tests {
    use super::*;

    /// Vishay data sheet 70833, typical on-resistances (checks FT01 to FT03, confidence high).
    #[test]
    fn ref_low_threshold_p_fet_table_is_met() {
        let spread = |ohms| Spread::exactly(Resistance::from_ohms(ohms));
        let fet = Fet {
            channel: Channel::P,
            threshold: Spread::exactly(Voltage::from_volts(0.6)),
            threshold_at: Current::from_amps(250e-6),
            on_resistance: vec![
                (Voltage::from_volts(1.8), spread(0.087)),
                (Voltage::from_volts(2.5), spread(0.060)),
                (Voltage::from_volts(4.5), spread(0.044)),
            ],
            off_leakage: None,
            gate_leakage: None,
            rated_drain_source: None,
            rated_gate_source: None,
        };
        let law = fet.law(25.0);
        for (volts, ohms) in [(1.8, 0.087), (2.5, 0.060), (4.5, 0.044)] {
            let got = law.on_ohms(volts);
            assert!(
                (got / ohms - 1.0).abs() < 0.05,
                "at {volts} V: {got} against {ohms}"
            );
        }
        let (amps, _) = law.amps(0.6, 0.6, 0.0);
        assert!((amps / 250e-6 - 1.0).abs() < 0.01, "{amps}");
    }
}
