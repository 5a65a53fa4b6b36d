//! The parameters of a cell model as people read them, each with what the data say of it.

use nalgebra::{DMatrix, DVector};

use super::solve::Plan;
use crate::device::CellModel;
use crate::numerics::math;

/// A parameter of a fitted model.
#[derive(Debug, Clone, PartialEq)]
pub struct Pinned {
    /// Which it is.
    pub property: Property,
    /// Its value, in SI units.
    pub value: f64,
    /// Limits between which it lies with 90 % confidence, if the model is of the right form.
    pub limits: (f64, f64),
    /// How much narrower the data make it than what was expected before, from 0 (not at all) to 1.
    pub told: f64,
}

impl Pinned {
    /// Whether the data say what this parameter is; otherwise the model it was like does.
    #[must_use]
    pub fn is_told(&self) -> bool {
        self.told >= 0.3
    }
}

/// A parameter of a cell model.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Property {
    /// All charge, in coulombs.
    Charge,
    /// Open-circuit voltage at a depth.
    OpenCircuit(f64),
    /// Resistance at a depth, in ohms.
    Resistance(f64),
    /// Share of the available well.
    Available,
    /// Rate of the wells, per second.
    WellRate,
    /// Ratio of a branch, from 0.
    Ratio(usize),
    /// Time constant of a branch, in seconds.
    BranchTime(usize),
    /// Scale of the activation overvoltage.
    ActivationVolts,
    /// Exchange current, in amperes.
    ActivationCurrent,
    /// Resistance of the grown passivation film, in ohms.
    FilmResistance,
    /// Time in which the film grows, in seconds at 20 degC.
    FilmGrowth,
    /// Charge that burns the film down, in coulombs.
    FilmBurnOff,
    /// Shift of the open-circuit voltage at a temperature in degrees Celsius.
    ShiftAt(f64),
    /// Factor on the resistance at a temperature in degrees Celsius.
    ResistanceAt(f64),
    /// Factor on the rate of the wells at a temperature.
    RateAt(f64),
    /// Factor on a branch at a temperature.
    BranchAt(usize, f64),
    /// Self-discharge, per second at 20 degC.
    SelfDischarge,
    /// Growth of the resistance, per second at 20 degC.
    Ageing,
}

impl Property {
    /// Whether its error is a share of it and not a difference.
    fn turns_by_share(self) -> bool {
        !matches!(
            self,
            Self::OpenCircuit(_) | Self::Available | Self::ShiftAt(_)
        )
    }
}

/// Every parameter of a model, in the order of its table.
pub(super) fn properties(model: &CellModel) -> Vec<(Property, f64)> {
    let mut list = vec![(Property::Charge, model.charge.si())];
    let open = model.open_circuit.points();
    list.extend(open.map(|(x, y)| (Property::OpenCircuit(x), y)));
    let ohms = model.resistance.points();
    list.extend(ohms.map(|(x, y)| (Property::Resistance(x), y)));
    if let Some(wells) = &model.wells {
        list.push((Property::Available, wells.available.si()));
        list.push((Property::WellRate, wells.rate.si()));
    }
    for (n, branch) in model.polarisation.iter().enumerate() {
        list.push((Property::Ratio(n), branch.ratio));
        list.push((Property::BranchTime(n), branch.time.as_secs()));
    }
    if let Some(activation) = &model.activation {
        list.push((Property::ActivationVolts, activation.volts.as_volts()));
        list.push((Property::ActivationCurrent, activation.current.as_amps()));
    }
    if let Some(film) = &model.film {
        list.push((Property::FilmResistance, film.resistance.as_ohms()));
        list.push((Property::FilmGrowth, film.growth.as_secs()));
        list.push((Property::FilmBurnOff, film.burn_off.as_coulombs()));
    }
    if let Some(t) = &model.temperature {
        for (k, &celsius) in t.celsius.iter().enumerate() {
            if let Some(&volts) = t.open_circuit.get(k) {
                list.push((Property::ShiftAt(celsius), volts));
            }
            list.push((Property::ResistanceAt(celsius), t.resistance[k]));
            list.push((Property::RateAt(celsius), t.rate[k]));
            for (n, row) in t.polarisation.iter().enumerate() {
                list.push((Property::BranchAt(n, celsius), row[k]));
            }
        }
    }
    if model.self_discharge.as_per_sec() > 0.0 {
        list.push((Property::SelfDischarge, model.self_discharge.as_per_sec()));
    }
    if model.ageing.as_per_sec() > 0.0 {
        list.push((Property::Ageing, model.ageing.as_per_sec()));
    }
    list
}

/// Every parameter with its limits, from the covariance of the turns.
///
/// The error of a parameter follows from its slopes with the turns, `g^T C g`; without data the
/// covariance would be the unit matrix.
pub(super) fn pinned(plan: &Plan<'_>, turns: &[f64], covariance: &DMatrix<f64>) -> Vec<Pinned> {
    const NUDGE: f64 = 1e-3;
    let here = properties(&plan.model(turns, None));
    let mut slopes = DMatrix::zeros(here.len(), turns.len());
    for k in 0..turns.len() {
        let mut moved = turns.to_vec();
        moved[k] += NUDGE;
        let there = properties(&plan.model(&moved, None));
        for (row, ((property, a), (_, b))) in here.iter().zip(there).enumerate() {
            let by = if property.turns_by_share() {
                math::ln(b / a)
            } else {
                b - a
            };
            slopes[(row, k)] = by / NUDGE;
        }
    }
    let rows = here.iter().enumerate();
    rows.map(|(row, &(property, value))| {
        let slope: DVector<f64> = slopes.row(row).transpose();
        let after = slope.dot(&(covariance * &slope)).max(0.0).sqrt();
        let before = slope.norm();
        let half = 1.645 * after;
        let limits = if property.turns_by_share() {
            (value * math::exp(-half), value * math::exp(half))
        } else {
            (value - half, value + half)
        };
        let told = if before > 0.0 {
            (1.0 - after / before).clamp(0.0, 1.0)
        } else {
            0.0
        };
        Pinned {
            property,
            value,
            limits,
            told,
        }
    })
    .collect()
}
