//! One cell at one temperature under one demand: what flows, and its states a moment later.
//!
//! The wells and every branch relax, `u' = b - l u` with a drive `b` that follows the current. A step
//! holds the drive at its middle and takes the relaxation exactly, so that a step may be far longer
//! than the time constants: the exponential midpoint rule (M. Hochbruck and A. Ostermann,
//! "Exponential integrators", Acta Numerica 19, 2010), of second order.

use super::Demand;
use crate::device::{CellModel, Film};
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
    film: Option<Film>,
    film_grown: f64,
    celsius: f64,
    shift_volts: f64,
}

/// Inner state of the cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Inner {
    pub(super) depth: f64,
    /// Imbalance of the wells, then the voltage of each branch.
    slots: [f64; SLOTS],
    /// Share of the passivation film.
    film: f64,
}

/// What a demand makes of a state.
#[derive(Debug, Clone, Copy)]
pub(super) struct Flow {
    pub(super) amps: f64,
    pub(super) volts: f64,
    /// Resistance without the branches and the film.
    ohms: f64,
    /// Fall of the voltage with depth at this current, in volts, never negative.
    pub(super) fall_volts: f64,
    /// Share of the charge that can surely be given before the surface is empty; infinite beyond.
    pub(super) surface_share: f64,
    /// How much of a rise of the branches comes back to their drive through a lower current, at rest.
    feedback: f64,
    /// Whether the cell can give what is asked for.
    pub(super) holds: bool,
}

/// By how much less each relaxing state is after a span without a drive: `e^(-l h) - 1`.
#[derive(Clone, Copy)]
struct Shrink {
    secs: f64,
    less: [f64; SLOTS],
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
            film: model.film,
            film_grown: if model.film.is_some() { 1.0 } else { 0.0 },
            celsius,
            shift_volts: model.shift_volts(celsius),
        }
    }

    /// At rest, after so much of the charge has gone.
    pub(super) fn rested(&self, depth: f64) -> Inner {
        Inner {
            depth,
            slots: [0.0; SLOTS],
            film: self.film_grown,
        }
    }

    /// Share of the charge that a time on the shelf at 20 degC takes.
    pub(super) fn lost_on_shelf(&self, secs: f64) -> f64 {
        (self.model.self_discharge_per_sec(20.0) * secs).min(1.0)
    }

    /// What a demand makes of a state.
    pub(super) fn flow(&self, state: &Inner, demand: Demand) -> Flow {
        self.flow_near(state, demand, None)
    }

    /// What a demand makes of a state, from a current that is near.
    fn flow_near(&self, state: &Inner, demand: Demand, near: Option<f64>) -> Flow {
        let x = state.depth + (1.0 - self.available) * state.slots[0];
        let (open, open_slope) = self.model.open_circuit_volts(x);
        let (ohms, ohms_slope) = self.model.resistance.value_and_slope(x);
        let (own, ohms_slope) = (ohms * self.ohms_factor, ohms_slope * self.ohms_factor);
        let ohms = own + self.model.film_ohms(state.film);
        let branches: f64 = state.slots[1..=self.ratios.len()].iter().sum();
        let behind = open + self.shift_volts - branches;
        let (amps, holds) = self.drawn(behind, ohms, demand, near);
        let ratios: f64 = self.ratios.iter().sum();
        let volts = behind - amps * ohms - self.model.activation_volts(amps).0;
        // What a fall behind the resistance does to the current, and with it to the voltage.
        let (siemens, gain) = match demand {
            Demand::Resistance(load) => (1.0 / (ohms + load.as_ohms()), 1.0),
            Demand::Power(_) => {
                // Above what the resistance takes; nothing is left where the most is given.
                let above = |ohms: f64| (volts - amps * ohms).max(0.05 * volts).max(1e-6);
                let settled = above(ohms + ratios * own);
                (-amps / above(ohms), (volts / settled).max(1.0))
            }
            Demand::Rest | Demand::Current(_) => (0.0, 1.0),
        };
        Flow {
            amps,
            volts,
            ohms: own,
            fall_volts: gain * (amps * ohms_slope * (1.0 + ratios) - open_slope).max(0.0),
            feedback: ratios * own * siemens,
            surface_share: if x < 1.0 {
                self.available * (1.0 - x)
            } else {
                f64::INFINITY
            },
            holds,
        }
    }

    /// Current from an inner voltage through a resistance, and whether it can be had.
    fn drawn(&self, behind: f64, ohms: f64, demand: Demand, near: Option<f64>) -> (f64, bool) {
        match demand {
            Demand::Rest => (0.0, true),
            Demand::Current(amps) => (amps.as_amps(), true),
            Demand::Resistance(load) => (self.through(behind, ohms + load.as_ohms(), near), true),
            Demand::Power(power) => self.at_power(behind, ohms, power.as_watts()),
        }
    }

    /// The lower current at which a power is given, or one near the most that can be had.
    fn at_power(&self, behind: f64, ohms: f64, watts: f64) -> (f64, bool) {
        let (mut amps, holds) = low_root(behind, ohms, watts);
        if !holds || self.model.activation.is_none() {
            return (amps, holds);
        }
        // The power bends one way only, and the overvoltage asks for more current, so Newton's steps
        // come up to the lower current, or to where more of it gives no more power.
        for _ in 0..50 {
            let (act, slope) = self.model.activation_volts(amps);
            let more = behind - act - amps * (2.0 * ohms + slope);
            if more <= 0.0 {
                return (amps, false);
            }
            let step = (watts - amps * (behind - act - amps * ohms)) / more;
            amps += step;
            if step.abs() <= 1e-9 * amps {
                break;
            }
        }
        (amps, true)
    }

    fn through(&self, behind: f64, ohms: f64, near: Option<f64>) -> f64 {
        if self.model.activation.is_none() {
            return behind / ohms;
        }
        let mut amps = near.unwrap_or(behind / ohms);
        // The balance bends one way only, so Newton's steps converge from any start.
        for _ in 0..20 {
            let (act, slope) = self.model.activation_volts(amps);
            let step = (behind - act - amps * ohms) / (ohms + slope);
            amps += step;
            if step.abs() <= 1e-9 * amps.abs() {
                break;
            }
        }
        amps
    }

    /// The state `secs` after a state at which a demand makes `first` flow, and what flows in the
    /// middle and at the end.
    pub(super) fn step(
        &self,
        state: &Inner,
        first: &Flow,
        demand: Demand,
        secs: f64,
    ) -> (Inner, Flow, Flow) {
        let (half, whole) = Shrink::both(self, secs);
        let near = Some(first.amps);
        let middle = self.flow_near(&self.after(state, &first.steady(), &half), demand, near);
        let end = self.after(state, &middle.rising_from(first), &whole);
        let last = self.flow_near(&end, demand, Some(middle.amps));
        (end, middle, last)
    }

    /// The state after a rest.
    pub(super) fn rest(&self, state: &Inner, secs: f64) -> Inner {
        let still = Flow {
            amps: 0.0,
            volts: 0.0,
            ohms: 0.0,
            fall_volts: 0.0,
            feedback: 0.0,
            surface_share: f64::INFINITY,
            holds: true,
        };
        self.after(state, &still.steady(), &Shrink::both(self, secs).1)
    }

    /// The state after a span in which a drive lasts.
    fn after(&self, state: &Inner, drive: &Drive, span: &Shrink) -> Inner {
        let mut out = *state;
        out.depth += (drive.amps / self.charge + self.lost_per_sec) * span.secs;
        let wells = (drive.amps / (self.available * self.charge), 0.0);
        let branches = self.ratios.iter().zip(&self.rates[1..]);
        let branches = branches.map(|(ratio, rate)| {
            let scale = ratio * rate;
            (scale * drive.volts, scale * drive.volts_rise)
        });
        let drives = std::iter::once(wells).chain(branches);
        for (slot, (level, rise)) in drives.enumerate() {
            let less = span.less[slot];
            let rate = self.rates[slot];
            let gain = if rate > 0.0 { -less / rate } else { span.secs };
            out.slots[slot] += less * out.slots[slot] + level * gain;
            if rise != 0.0 {
                // Of a drive that rises about its middle: what the end sees beyond the mean.
                out.slots[slot] += rise * span.bend(slot, rate);
            }
        }
        if let Some(film) = &self.film {
            out.film = film.after(state.film, drive.amps, self.celsius, span.secs);
        }
        out
    }

    /// Time in which the quickest of branches and film moves at a current; infinite without any.
    pub(super) fn quickest_secs(&self, amps: f64) -> f64 {
        let branches = &self.rates[1..=self.ratios.len()];
        let film = self.film.map_or(0.0, |film| film.burn_per_sec(amps));
        1.0 / branches.iter().copied().fold(film, f64::max)
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
        if let Some(film) = &self.film {
            // The current acts linearly on the rate, so its charge says how much has burnt off.
            let gone = to.depth - from.depth - self.lost_per_sec * secs;
            let rate =
                film.growth_per_sec(self.celsius) * secs + film.burn_per_sec(gone * self.charge);
            let gain = to.film - math::exp(-rate) * from.film;
            let sum = math::exp_m1(-rate * count) / math::exp_m1(-rate);
            out.film = math::exp(-rate * count) * start.film + gain * sum;
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

/// What moves the inner states during a span.
struct Drive {
    amps: f64,
    /// Voltage that a branch of ratio 1 goes to, in the middle of the span.
    volts: f64,
    /// By how much it rises over the span.
    volts_rise: f64,
}

impl Flow {
    /// The same throughout.
    fn steady(&self) -> Drive {
        Drive {
            amps: self.amps,
            volts: self.amps * self.ohms,
            volts_rise: 0.0,
        }
    }

    /// In the middle of a span that began with another flow.
    ///
    /// A branch much quicker than the span ends where its drive ends, not where it was in the middle.
    /// Where the branches act back on the current that would grow from step to step, so less is taken.
    fn rising_from(&self, first: &Self) -> Drive {
        let back = (1.0 - self.feedback.abs()).max(0.0);
        let steady = self.steady();
        Drive {
            volts_rise: 2.0 * (steady.volts - first.amps * first.ohms) * back * back,
            ..steady
        }
    }
}

impl Shrink {
    /// What a drive of 1 per second that rises by 1 about its middle over the span leaves at its end.
    fn bend(&self, slot: usize, rate: f64) -> f64 {
        let z = rate * self.secs;
        if z < 1e-3 {
            return z * self.secs / 12.0;
        }
        let gone = -self.less[slot];
        (1.0 - gone / z - gone / 2.0) / rate
    }

    /// Of half a span and of the whole span.
    fn both(bed: &Bed<'_>, secs: f64) -> (Self, Self) {
        let mut half = Self {
            secs: secs / 2.0,
            less: [0.0; SLOTS],
        };
        let mut whole = Self { secs, ..half };
        for slot in 0..=bed.ratios.len() {
            let less = math::exp_m1(-bed.rates[slot] * half.secs);
            half.less[slot] = less;
            // (1 + less)^2 - 1
            whole.less[slot] = less * (2.0 + less);
        }
        (half, whole)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::device::{Branch, Wells};
    use crate::numerics::table::Table;
    use crate::quantity::{Charge, Current, Fraction, Rate, Resistance, Spread, Time};

    /// A cell of constant tables, so that a constant current has a closed form.
    fn cell() -> CellModel {
        let charge = Spread::exactly(Charge::from_coulombs(500.0));
        let branch = |ratio, secs| Branch {
            ratio,
            time: Time::from_secs(secs),
        };
        CellModel {
            wells: Some(Wells {
                available: Spread::exactly(Fraction::from_share(0.4)),
                rate: Spread::exactly(Rate::from_per_sec(1e-3)),
            }),
            polarisation: vec![branch(0.5, 3.0), branch(2.0, 4000.0)],
            film: Some(Film {
                resistance: Resistance::from_ohms(30.0),
                growth: Time::from_secs(5e4),
                burn_off: Charge::from_coulombs(4.0),
            }),
            self_discharge: Rate::from_per_sec(1e-8),
            ..CellModel::plain(charge, Table::constant(3.0), Table::constant(20.0))
        }
    }

    fn close(a: f64, b: f64, within: f64) {
        assert!((a - b).abs() <= within * b.abs().max(1e-6), "{a} for {b}");
    }

    /// `u' = b - l u` from 0 goes to `b (1 - e^(-l t))/l`, whatever the length of a step.
    #[test]
    fn a_constant_current_relaxes_in_its_closed_form() {
        let cell = cell();
        let bed = Bed::new(&cell, 20.0, 0.0, true);
        let (amps, demand) = (5e-3, Demand::Current(Current::from_amps(5e-3)));
        for secs in [0.1, 30.0, 2e4] {
            let rested = bed.rested(0.1);
            let first = bed.flow(&rested, demand);
            let (end, _, flow) = bed.step(&rested, &first, demand, secs);
            let risen = |rate: f64| 1.0 - libm::exp(-rate * secs);
            close(end.depth, 0.1 + (amps / 500.0 + 1e-8) * secs, 1e-12);
            close(end.slots[0], amps / 200.0 / 1e-3 * risen(1e-3), 1e-12);
            close(end.slots[1], 0.5 * 20.0 * amps * risen(1.0 / 3.0), 1e-12);
            close(end.slots[2], 2.0 * 20.0 * amps * risen(1.0 / 4000.0), 1e-12);
            let burn = 1.0 / 5e4 + amps / 4.0;
            let settled = 1.0 / 5e4 / burn;
            close(
                end.film,
                settled + (1.0 - settled) * (1.0 - risen(burn)),
                1e-12,
            );
            let volts = 3.0 - end.slots[1] - end.slots[2] - amps * (20.0 + 30.0 * end.film);
            close(flow.volts, volts, 1e-12);
            let back = bed.rest(&end, secs);
            close(
                back.slots[2],
                end.slots[2] * (1.0 - risen(1.0 / 4000.0)),
                1e-12,
            );
            close(
                back.film,
                1.0 - (1.0 - end.film) * (1.0 - risen(1.0 / 5e4)),
                1e-12,
            );
        }
    }

    /// Periods taken together are the same periods one after the other.
    #[test]
    fn a_leap_over_periods_is_each_of_them() {
        let cell = cell();
        let bed = Bed::new(&cell, 20.0, 0.0, true);
        let demand = Demand::Current(Current::from_amps(0.02));
        let period = |from: &Inner| {
            let first = bed.flow(from, demand);
            let on = bed.step(from, &first, demand, 5.0).0;
            bed.rest(&on, 595.0)
        };
        let (start, count) = (bed.rested(0.05), 200);
        let once = period(&start);
        let leapt = bed.repeated(&once, &start, &once, 600.0, f64::from(count));
        let mut each = once;
        for _ in 0..count {
            each = period(&each);
        }
        close(leapt.depth, each.depth, 1e-12);
        close(leapt.film, each.film, 1e-12);
        for (a, b) in leapt.slots.iter().zip(each.slots) {
            close(*a, b, 1e-12);
        }
        // The states moved by much, so that this says something.
        assert!(each.film < 0.7 * once.film && each.slots[2] > 2.0 * once.slots[2]);
    }
}
