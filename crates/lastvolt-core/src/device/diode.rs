//! Diodes and light-emitting diodes: Shockley with series resistance, fitted to data-sheet points.

use crate::numerics::linear::Matrix;
use crate::numerics::math;
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

/// A junction `I = Is (e^(u/nVt) - 1)` behind a series resistance, at one temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Junction {
    /// Saturation current.
    pub saturation_amps: f64,
    /// Emission voltage n Vt.
    pub emission_volts: f64,
    /// Series resistance.
    pub series_ohms: f64,
    /// Conductance that carries what the stated reverse leakage has beyond the saturation current.
    pub leak_siemens: f64,
}

/// A fit of forward points: n Vt, ln Is and Rs where they are stated.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Fitted {
    emission_volts: f64,
    ln_saturation: f64,
    series_ohms: f64,
}

/// Fall of the forward voltage with temperature (typical of silicon, Schottky and light-emitting
/// junctions alike: common practice, about -2 mV/K).
const FORWARD_VOLTS_PER_KELVIN: f64 = -2e-3;
/// Temperature at which forward points are stated.
const STATED_CELSIUS: f64 = 25.0;
/// Emission coefficient assumed where one point leaves it open.
const LONE_POINT_EMISSION: f64 = 1.5;

impl Diode {
    /// The junction fitted to the forward points, moved to a temperature.
    ///
    /// # Formula
    /// ```text
    /// V = nVt ln(I / Is) + Rs I     least squares over the stated points, Rs >= 0
    /// ```
    /// The forward voltage falls by 2 mV/K, so reverse current about doubles every 10 K; a stated
    /// leakage doubles every 10 K.
    #[must_use]
    pub fn junction(&self, celsius: f64) -> Junction {
        self.junction_by(self.fitted(), celsius)
    }

    /// What the forward points come to at the temperature that they are stated at.
    pub(crate) fn fitted(&self) -> Fitted {
        let forward = self.forward.iter();
        let points: Vec<(f64, f64)> = forward.map(|(i, v)| (i.as_amps(), v.si())).collect();
        let (emission_volts, ln_saturation, series_ohms) = fit(&points);
        Fitted {
            emission_volts,
            ln_saturation,
            series_ohms,
        }
    }

    /// As [`Self::junction`], from the fit of its forward points.
    pub(crate) fn junction_by(&self, fitted: Fitted, celsius: f64) -> Junction {
        let Fitted {
            emission_volts,
            ln_saturation,
            series_ohms,
        } = fitted;
        let shift = FORWARD_VOLTS_PER_KELVIN * (celsius - STATED_CELSIUS);
        let cool_amps = math::exp(ln_saturation);
        let saturation_amps = math::exp(ln_saturation - shift / emission_volts);
        let leak_siemens = self.leakage.map_or(0.0, |leak| {
            let volts = self
                .leakage_at
                .or(self.rated_reverse)
                .map_or(10.0, Voltage::as_volts);
            let warm = math::exp2((celsius - STATED_CELSIUS) / 10.0);
            (leak.si() - cool_amps).max(0.0) * warm / volts.abs().max(0.1)
        });
        Junction {
            saturation_amps,
            emission_volts,
            series_ohms,
            leak_siemens,
        }
    }
}

impl Junction {
    /// Current and its derivative at a junction voltage, leakage not included.
    #[must_use]
    pub fn amps(&self, junction_volts: f64) -> (f64, f64) {
        let (is, nvt) = (self.saturation_amps, self.emission_volts);
        let u = junction_volts / nvt;
        if u > EXPONENT_LIMIT {
            // Carried on as a straight line: far beyond any current of interest, and finite.
            let top = math::exp(EXPONENT_LIMIT);
            return (
                is * (top * (1.0 + u - EXPONENT_LIMIT) - 1.0),
                is * top / nvt,
            );
        }
        (is * math::exp_m1(u), is * math::exp(u) / nvt)
    }

    /// Forward voltage at a current, series resistance included.
    #[must_use]
    pub fn volts(&self, amps: f64) -> f64 {
        self.emission_volts * math::ln_1p(amps / self.saturation_amps) + self.series_ohms * amps
    }
}

/// Largest exponent that is still evaluated as one.
const EXPONENT_LIMIT: f64 = 120.0;

/// (n Vt, ln Is, Rs) from points (current, voltage), the 1 of the equation included.
fn fit(points: &[(f64, f64)]) -> (f64, f64, f64) {
    let mut found = fit_logarithm(points);
    for _ in 0..FIT_ROUNDS {
        let saturation = math::exp(found.1);
        let shifted: Vec<_> = points.iter().map(|&(i, v)| (i + saturation, v)).collect();
        found = fit_logarithm(&shifted);
    }
    found
}

/// Rounds of the fit, each with the saturation current of the one before.
const FIT_ROUNDS: usize = 12;

/// (n Vt, ln Is, Rs) of `V = nVt ln(I / Is) + Rs I`.
fn fit_logarithm(points: &[(f64, f64)]) -> (f64, f64, f64) {
    let lone = math::thermal_volts(STATED_CELSIUS) * LONE_POINT_EMISSION;
    let from_first = |slope: f64| {
        let (amps, volts) = points.first().copied().unwrap_or((1e-3, 0.6));
        (slope, math::ln(amps) - volts / slope, 0.0)
    };
    if points.len() < 2 {
        return from_first(lone);
    }
    if points.len() >= 3
        && let Some([slope, constant, ohms]) = least_squares(points)
        && slope > 0.0
        && ohms >= 0.0
    {
        return (slope, -constant / slope, ohms);
    }
    let n = points.len() as f64;
    let mean_x = points.iter().map(|p| math::ln(p.0)).sum::<f64>() / n;
    let mean_y = points.iter().map(|p| p.1).sum::<f64>() / n;
    let sxx: f64 = points
        .iter()
        .map(|p| (math::ln(p.0) - mean_x) * (math::ln(p.0) - mean_x))
        .sum();
    let sxy: f64 = points
        .iter()
        .map(|p| (math::ln(p.0) - mean_x) * (p.1 - mean_y))
        .sum();
    let slope = sxy / sxx;
    if slope.is_finite() && slope > 0.0 {
        (slope, mean_x - mean_y / slope, 0.0)
    } else {
        from_first(lone)
    }
}

/// Coefficients of ln I, 1 and I for V, by normal equations scaled to the largest current.
fn least_squares(points: &[(f64, f64)]) -> Option<[f64; 3]> {
    let top = points.last()?.0;
    let mut m = Matrix::zeros(3);
    let mut b = [0.0; 3];
    for &(amps, volts) in points {
        let basis = [math::ln(amps), 1.0, amps / top];
        for (r, x) in basis.iter().enumerate() {
            b[r] += x * volts;
            for (c, y) in basis.iter().enumerate() {
                m.add(r, c, x * y);
            }
        }
    }
    m.factor().ok()?;
    m.solve(&mut b);
    Some([b[0], b[1], b[2] / top])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn diode(points: &[(f64, f64)]) -> Diode {
        let forward = points
            .iter()
            .map(|&(i, v)| {
                (
                    Current::from_amps(i),
                    Spread::exactly(Voltage::from_volts(v)),
                )
            })
            .collect();
        Diode {
            forward,
            leakage: None,
            leakage_at: None,
            rated_current: None,
            rated_reverse: None,
        }
    }

    /// BAT54 typical forward points of several makers (checks SC01 to SC04, confidence high).
    #[test]
    fn ref_bat54_forward_points_are_met_within_a_few_millivolts() {
        let points = [(1e-4, 0.22), (1e-3, 0.29), (1e-2, 0.35), (3e-2, 0.41)];
        let junction = diode(&points).junction(25.0);
        for (amps, volts) in points {
            assert!(
                (junction.volts(amps) - volts).abs() < 8e-3,
                "{amps}: {}",
                junction.volts(amps)
            );
        }
    }

    #[test]
    fn points_of_an_exact_junction_give_it_back() {
        let card = |i: f64| 0.0965 * libm::log1p(i / 93.2e-12) + 0.042 * i;
        let currents = [1e-4, 1e-3, 5e-3, 2e-2];
        let points: Vec<_> = currents.iter().map(|&i| (i, card(i))).collect();
        let junction = diode(&points).junction(25.0);
        assert!((junction.emission_volts - 0.0965).abs() < 1e-9);
        assert!((junction.saturation_amps / 93.2e-12 - 1.0).abs() < 1e-6);
        assert!((junction.series_ohms - 0.042).abs() < 1e-6);
    }

    #[test]
    fn forward_voltage_falls_two_millivolts_a_kelvin() {
        let d = diode(&[(1e-3, 0.29), (1e-2, 0.35)]);
        let fall = d.junction(25.0).volts(1e-3) - d.junction(45.0).volts(1e-3);
        assert!((fall - 0.04).abs() < 1e-4, "{fall}");
    }
}
