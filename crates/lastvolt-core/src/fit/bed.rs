//! One cell at one temperature under one demand: what flows, and its states a moment later.
//!
//! The wells and every branch relax, `u' = b - l u` with a drive `b` that follows the current. A step
//! holds the drive at its middle and takes the relaxation exactly, so that a step may be far longer
//! than the time constants: the exponential midpoint rule (M. Hochbruck and A. Ostermann,
//! "Exponential integrators", Acta Numerica 19, 2010), of second order.

use super::Demand;
use crate::device::CellModel;
use crate::numerics::math;

/// Most branches of a cell that can be fitted.
pub(super) const MOST_BRANCHES: usize = 8;
/// The wells and the branches.
const SLOTS: usize = 1 + MOST_BRANCHES;

/// A cell with everything that does not change at one temperature.
pub(super) struct Bed<'a> {
    pub(super) model: &'a CellModel,
    pub(super) charge: f64,
    ohms_factor: f64,
    /// Ratio of each branch to the resistance.
    ratios: Vec<f64>,
    /// Rate of the wells, then of each branch, per second.
    rates: [f64; SLOTS],
    available: f64,
    lost_per_sec: f64,
}

/// Inner state of the cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Inner {
    pub(super) depth: f64,
    /// Imbalance of the wells, then the voltage of each branch.
    slots: [f64; SLOTS],
}

/// What a demand makes of a state.
#[derive(Debug, Clone, Copy)]
pub(super) struct Flow {
    pub(super) amps: f64,
    pub(super) volts: f64,
    /// Resistance without the branches.
    ohms: f64,
    /// Fall of the voltage with depth at this current, in volts, never negative.
    pub(super) fall_volts: f64,
    /// Whether the cell can give what is asked for.
    pub(super) holds: bool,
}

/// What a stretch of time does to the states, as the affine map that it is.
pub(super) struct Stretch {
    decay: [f64; SLOTS],
    gain: [f64; SLOTS],
    depth: f64,
}

impl<'a> Bed<'a> {
    /// A cell that lay for `age_secs` at 20 degC, at a temperature.
    pub(super) fn new(model: &'a CellModel, celsius: f64, age_secs: f64, loses: bool) -> Self {
        let n = model.polarisation.len().min(MOST_BRANCHES);
        let mut rates = [0.0; SLOTS];
        rates[0] = model.rate_per_sec(celsius);
        for (rate, branch) in rates[1..].iter_mut().zip(&model.polarisation) {
            *rate = 1.0 / branch.time.as_secs();
        }
        let aged = model.ageing_per_sec(20.0) * age_secs;
        Self {
            model,
            charge: model.charge.si(),
            ohms_factor: model.resistance_factor(celsius) * (1.0 + aged),
            ratios: (0..n).map(|n| model.branch_ratio(n, celsius)).collect(),
            rates,
            available: model.available(),
            lost_per_sec: if loses {
                model.self_discharge_per_sec(celsius)
            } else {
                0.0
            },
        }
    }

    /// At rest, after so much of the charge has gone.
    pub(super) fn rested(&self, depth: f64) -> Inner {
        Inner {
            depth,
            slots: [0.0; SLOTS],
        }
    }

    /// Share of the charge that a time on the shelf at 20 degC takes.
    pub(super) fn lost_on_shelf(&self, secs: f64) -> f64 {
        (self.model.self_discharge_per_sec(20.0) * secs).min(1.0)
    }

    /// What a demand makes of a state.
    pub(super) fn flow(&self, state: &Inner, demand: Demand) -> Flow {
        let x = state.depth + (1.0 - self.available) * state.slots[0];
        let (open, open_slope) = self.model.open_circuit_volts(x);
        let (ohms, ohms_slope) = self.model.resistance.value_and_slope(x);
        let (ohms, ohms_slope) = (ohms * self.ohms_factor, ohms_slope * self.ohms_factor);
        let branches: f64 = state.slots[1..=self.ratios.len()].iter().sum();
        let behind = open - branches;
        let (amps, holds) = self.drawn(behind, ohms, demand);
        let ratios: f64 = self.ratios.iter().sum();
        Flow {
            amps,
            volts: behind - amps * ohms - self.model.activation_volts(amps).0,
            ohms,
            fall_volts: (amps * ohms_slope * (1.0 + ratios) - open_slope).max(0.0),
            holds,
        }
    }

    /// Current from an inner voltage through a resistance, and whether it can be had.
    fn drawn(&self, behind: f64, ohms: f64, demand: Demand) -> (f64, bool) {
        match demand {
            Demand::Rest => (0.0, true),
            Demand::Current(amps) => (amps.as_amps(), true),
            Demand::Resistance(load) => (self.through(behind, ohms + load.as_ohms()), true),
            Demand::Power(power) => {
                let mut result = low_root(behind, ohms, power.as_watts());
                if self.model.activation.is_some() {
                    for _ in 0..8 {
                        let act = self.model.activation_volts(result.0).0;
                        result = low_root(behind - act, ohms, power.as_watts());
                    }
                }
                result
            }
        }
    }

    fn through(&self, behind: f64, ohms: f64) -> f64 {
        let mut amps = behind / ohms;
        if self.model.activation.is_none() {
            return amps;
        }
        // The balance bends one way only, so Newton's steps converge from any start.
        for _ in 0..20 {
            let (act, slope) = self.model.activation_volts(amps);
            let step = (behind - act - amps * ohms) / (ohms + slope);
            amps += step;
            if step.abs() <= 1e-12 * amps.abs() {
                break;
            }
        }
        amps
    }

    /// The state after `secs` under a demand, and what flowed in the middle.
    pub(super) fn step(&self, state: &Inner, demand: Demand, secs: f64) -> (Inner, Flow) {
        let first = self.flow(state, demand);
        if matches!(demand, Demand::Rest) {
            return (self.stretch(&first, secs).apply(state), first);
        }
        let half = self.stretch(&first, secs / 2.0).apply(state);
        let mid = self.flow(&half, demand);
        (self.stretch(&mid, secs).apply(state), mid)
    }

    /// What a stretch with a constant flow does.
    fn stretch(&self, flow: &Flow, secs: f64) -> Stretch {
        let mut stretch = Stretch {
            decay: [0.0; SLOTS],
            gain: [0.0; SLOTS],
            depth: (flow.amps / self.charge + self.lost_per_sec) * secs,
        };
        let n = self.ratios.len();
        let drives = self.ratios.iter().map(|r| r * flow.ohms * flow.amps);
        let wells = flow.amps / (self.available * self.charge);
        stretch.set(0, self.rates[0], wells, secs);
        for (slot, volts) in (1..=n).zip(drives) {
            stretch.set(slot, self.rates[slot], volts * self.rates[slot], secs);
        }
        stretch
    }

    /// Terminal voltage at rest.
    pub(super) fn rest_volts(&self, depth: f64) -> f64 {
        self.flow(&self.rested(depth), Demand::Rest).volts
    }

    /// The state `count` periods of `secs` later, when one period led from `from` to `to`.
    ///
    /// What one period adds is held, and its relaxation taken exactly over all of them.
    pub(super) fn repeated(
        &self,
        start: &Inner,
        from: &Inner,
        to: &Inner,
        secs: f64,
        count: f64,
    ) -> Inner {
        let mut out = *start;
        out.depth += count * (to.depth - from.depth);
        for slot in 0..=self.ratios.len() {
            let rate = self.rates[slot] * secs;
            let decay = math::exp(-rate);
            let gain = to.slots[slot] - decay * from.slots[slot];
            let sum = if rate * count < 1e-12 {
                count
            } else {
                math::exp_m1(-rate * count) / math::exp_m1(-rate)
            };
            out.slots[slot] = math::exp(-rate * count) * start.slots[slot] + gain * sum;
        }
        out
    }
}

/// The lower current at which a power is given, or the most that can be had.
fn low_root(volts: f64, ohms: f64, watts: f64) -> (f64, bool) {
    let square = volts * volts - 4.0 * ohms * watts;
    if volts <= 0.0 || square < 0.0 {
        return ((volts / (2.0 * ohms)).max(0.0), false);
    }
    (2.0 * watts / (volts + square.sqrt()), true)
}

impl Stretch {
    fn set(&mut self, slot: usize, rate: f64, drive: f64, secs: f64) {
        let less = math::exp_m1(-rate * secs);
        self.decay[slot] = 1.0 + less;
        self.gain[slot] = drive * if rate > 0.0 { -less / rate } else { secs };
    }

    fn apply(&self, state: &Inner) -> Inner {
        let mut out = *state;
        out.depth += self.depth;
        for ((slot, decay), gain) in out.slots.iter_mut().zip(self.decay).zip(self.gain) {
            *slot = decay * *slot + gain;
        }
        out
    }
}
