//! The passivation film on the lithium of a cell: it grows at rest and burns off under load.
//!
//! # Formula
//! ```text
//! dphi/dt = (1 - phi) / tau_g(T) - phi max(I, 0) / q_b        drop  R_f phi I
//! phi(I)  = 1 / (1 + I tau_g / q_b)   reached at the rate   1/tau_g + I/q_b
//! tau_g(T) = tau_g 2^((20 degC - T) / 10 K)
//! ```
//! A first-order model of our own: makers of lithium thionyl chloride cells describe growth at rest,
//! faster in the warm, and a voltage delay at the first load that the charge drawn takes away; they
//! publish no equation. Its doubling per 10 K is common practice.

use crate::device::CellModel;
use crate::numerics::math;
use crate::quantity::{Charge, Resistance, Time};

/// A film of which a cell has a share phi between 0 (none) and 1 (grown).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Film {
    /// Resistance in series where it has grown, R_f.
    pub resistance: Resistance,
    /// Time at rest at 20 degC in which all but 1/e of it grows back, tau_g.
    pub growth: Time,
    /// Charge that burns it down to 1/e, q_b.
    pub burn_off: Charge,
}

impl Film {
    /// Rate 1/tau_g at which it grows, per second, doubling every 10 K.
    #[must_use]
    pub fn growth_per_sec(&self, celsius: f64) -> f64 {
        math::exp2((celsius - 20.0) / 10.0) / self.growth.as_secs()
    }

    /// Rate at which a current burns it off, per second; charging does not.
    #[must_use]
    pub fn burn_per_sec(&self, amps: f64) -> f64 {
        amps.max(0.0) / self.burn_off.as_coulombs()
    }

    /// The share that a current leaves for ever.
    #[must_use]
    pub fn settled(&self, amps: f64, celsius: f64) -> f64 {
        let growth = self.growth_per_sec(celsius);
        growth / (growth + self.burn_per_sec(amps))
    }

    /// The share after a time at a constant current.
    #[must_use]
    pub fn after(&self, share: f64, amps: f64, celsius: f64, secs: f64) -> f64 {
        let rate = self.growth_per_sec(celsius) + self.burn_per_sec(amps);
        share + (share - self.settled(amps, celsius)) * math::exp_m1(-rate * secs)
    }
}

impl CellModel {
    /// Resistance in ohms of a share of the film, 0 for a cell without one.
    #[must_use]
    pub fn film_ohms(&self, share: f64) -> f64 {
        self.film.map_or(0.0, |f| f.resistance.as_ohms() * share)
    }

    /// The share of the film that a current leaves for ever, 0 for a cell without one.
    #[must_use]
    pub fn film_settled(&self, amps: f64, celsius: f64) -> f64 {
        self.film.map_or(0.0, |f| f.settled(amps, celsius))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numerics::table::Table;
    use crate::quantity::Spread;

    const FILM: Film = Film {
        resistance: Resistance::from_ohms(40.0),
        growth: Time::from_secs(30.0 * 86_400.0),
        burn_off: Charge::from_coulombs(18.0),
    };

    fn cell(film: Option<Film>) -> CellModel {
        let charge = Spread::exactly(Charge::from_coulombs(7200.0));
        let plain = CellModel::plain(charge, Table::constant(3.6), Table::constant(10.0));
        CellModel { film, ..plain }
    }

    /// Against many small steps of the equation itself.
    #[test]
    fn relaxation_is_what_the_equation_steps_to() {
        for (amps, secs) in [
            (0.0_f64, 3e6),
            (2e-6, 5e6),
            (1e-3, 2e4),
            (0.1, 100.0),
            (-1.0, 1e6),
        ] {
            let slope = |phi: f64| (1.0 - phi) / FILM.growth.as_secs() - phi * amps.max(0.0) / 18.0;
            let (n, mut phi) = (2000, 0.8);
            let h = secs / f64::from(n);
            for _ in 0..n {
                let middle = phi + h / 2.0 * slope(phi);
                phi += h * slope(middle);
            }
            let closed = FILM.after(0.8, amps, 20.0, secs);
            assert!((closed - phi).abs() < 2e-6, "{amps} A: {closed} {phi}");
        }
    }

    #[test]
    fn a_current_leaves_its_settled_share() {
        // 20 uA over 30 days are 51.84 C: 1 / (1 + 51.84 / 18).
        let settled = FILM.settled(20e-6, 20.0);
        assert!((settled - 1.0 / 3.88).abs() < 1e-12);
        assert!((FILM.after(settled, 20e-6, 20.0, 1e7) - settled).abs() < 1e-12);
        assert!((FILM.after(1.0, 20e-6, 20.0, 1e9) - settled).abs() < 1e-12);
        // Without any current, or while it is charged, all of it grows.
        assert!((FILM.settled(0.0, -20.0) - 1.0).abs() < 1e-15);
        assert!((FILM.settled(-0.1, 20.0) - 1.0).abs() < 1e-15);
    }

    #[test]
    fn the_burn_off_charge_takes_it_to_one_over_e() {
        // A second at 18 A is short against growth.
        let left = FILM.after(1.0, 18.0, 20.0, 1.0);
        assert!((left - libm::exp(-1.0)).abs() < 1e-6);
    }

    #[test]
    fn it_grows_twice_as_fast_ten_kelvin_warmer() {
        let grown = FILM.after(0.0, 0.0, 20.0, 2e6);
        assert!((FILM.after(0.0, 0.0, 30.0, 1e6) - grown).abs() < 1e-12);
    }

    #[test]
    fn a_rested_cell_drops_by_its_grown_film() {
        let (with, without) = (cell(Some(FILM)), cell(None));
        let volts = |cell: &CellModel, film: Option<f64>| {
            let mut state = cell.rested(0.3);
            state.film = film.unwrap_or(state.film);
            cell.terminal_volts(&state, 0.01, 20.0)
        };
        let (plain, rested) = (volts(&without, None), volts(&with, None));
        assert!((plain.0 - rested.0 - 0.4).abs() < 1e-12);
        assert!((plain.1 - rested.1 - 40.0).abs() < 1e-12);
        assert!((plain.0 - volts(&with, Some(0.25)).0 - 0.1).abs() < 1e-12);
        // A share means nothing to a cell that has no film.
        assert_eq!(volts(&without, Some(1.0)), plain);
    }
}
