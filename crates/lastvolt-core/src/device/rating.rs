//! How much charge a cell must hold to give a rated capacity in its maker's test.
//!
//! Makers state the charge that comes out through a stated load down to a stated voltage. What stays
//! behind depends on the resistance, the branches and the wells, so the charge of the model is the
//! root of `given(Q) = rated`. Self-discharge is left out: a test lasts weeks, not years. So is the delay
//! of its first hours: a film stands where the current of the moment leaves it.

use crate::device::{CellModel, CellState};
use crate::numerics::relax::Relax;
use crate::numerics::root;
use crate::quantity::{Charge, Current, Power, Resistance, Temperature, Voltage};

/// A maker's rating.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rating {
    /// Charge given in the test.
    pub capacity: Charge,
    /// The load of the test.
    pub load: RatingLoad,
    /// Voltage at which the test ends.
    pub end: Voltage,
    /// Temperature of the test.
    pub ambient: Temperature,
}

/// The load of a rating.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RatingLoad {
    /// A resistor.
    Resistance(Resistance),
    /// A constant current.
    Current(Current),
    /// A constant power.
    Power(Power),
}

/// One instant of a discharge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DischargePoint {
    /// Charge given so far.
    pub given: Charge,
    /// Voltage under load.
    pub voltage: Voltage,
}

/// Share of the charge drawn in one step of the test.
const STEP: f64 = 1.0 / 256.0;

impl CellModel {
    /// The charge with which this cell gives the rated capacity; its own `charge` is not looked at.
    ///
    /// `None` where no charge does: the voltage lies below the end of the test from the start.
    ///
    /// # Accuracy
    /// The test is followed in steps of a 256th of the charge with a rule of fourth order; the
    /// charge comes out to about 1e-5.
    #[must_use]
    pub fn charge_for_rating(&self, rating: &Rating) -> Option<Charge> {
        let wanted = rating.capacity.as_coulombs();
        if wanted.is_nan() || wanted <= 0.0 {
            return None;
        }
        let test = Test::new(self, rating);
        let mut most = wanted;
        let mut given = test.given(most);
        for _ in 0..40 {
            if given >= wanted {
                break;
            }
            if given <= 0.0 {
                return None;
            }
            most *= 1.5;
            given = test.given(most);
        }
        let least = wanted * 0.999;
        root::bracketed(|q| test.given(q) - wanted, least, most, wanted * 1e-9)
            .map(Charge::from_coulombs)
    }
}

impl CellModel {
    /// A fresh, rested cell discharged as a rating states, its `capacity` apart: one point a step,
    /// the last where the voltage reaches the end. Empty where it lies below that from the start.
    ///
    /// # Accuracy
    /// That of [`Self::charge_for_rating`].
    #[must_use]
    pub fn discharge(&self, rating: &Rating) -> Vec<DischargePoint> {
        let end_volts = rating.end.as_volts();
        let mut points = Vec::new();
        let mut note = |given: f64, spare_volts: f64| {
            points.push(DischargePoint {
                given: Charge::from_coulombs(given),
                voltage: Voltage::from_volts(end_volts + spare_volts),
            });
        };
        Test::new(self, rating).follow(self.charge.si(), &mut note);
        points
    }
}

/// The test with everything that does not change in it.
struct Test<'a> {
    model: &'a CellModel,
    rating: &'a Rating,
    celsius: f64,
    ratios: Vec<f64>,
    rate: f64,
}

/// What drives the states at one instant.
#[derive(Clone)]
struct Drive {
    amps: f64,
    branch_volts: Vec<f64>,
    spare_volts: f64,
}

impl<'a> Test<'a> {
    fn new(model: &'a CellModel, rating: &'a Rating) -> Self {
        let celsius = rating.ambient.as_celsius();
        let branches = 0..model.polarisation.len();
        Self {
            model,
            rating,
            celsius,
            ratios: branches.map(|n| model.branch_ratio(n, celsius)).collect(),
            rate: model.rate_per_sec(celsius),
        }
    }

    /// Charge given down to the end voltage by a cell that holds `charge`.
    fn given(&self, charge: f64) -> f64 {
        self.follow(charge, &mut |_, _| {})
    }

    /// The same, and what it notes on its way: charge given, and how far the voltage is above the end.
    fn follow(&self, charge: f64, note: &mut dyn FnMut(f64, f64)) -> f64 {
        let mut state = self.model.rested(0.0);
        let mut drive = self.drive(&state);
        let mut given = 0.0;
        while drive.spare_volts > 0.0 && state.depth < 1.5 && drive.amps > 0.0 {
            note(given, drive.spare_volts);
            let span = STEP * charge / drive.amps;
            let (next, end, step_given) = self.step(&state, &drive, charge, span);
            if end.spare_volts <= 0.0 {
                given += self.last_step(&state, &drive, charge, span);
                note(given, 0.0);
                return given;
            }
            (state, drive, given) = (next, end, given + step_given);
        }
        given
    }

    /// Charge given in the part of a step before the end voltage is reached.
    fn last_step(&self, state: &CellState, drive: &Drive, charge: f64, span: f64) -> f64 {
        let spare = |span: f64| {
            if span <= 0.0 {
                drive.spare_volts
            } else {
                self.step(state, drive, charge, span).1.spare_volts
            }
        };
        let end = root::bracketed(spare, 0.0, span, span * 1e-9).unwrap_or(0.0);
        self.step(state, drive, charge, end.max(span * 1e-12)).2
    }

    /// One step: the state at its end, the drive there and the charge given.
    fn step(
        &self,
        start: &CellState,
        first: &Drive,
        charge: f64,
        span: f64,
    ) -> (CellState, Drive, f64) {
        let c = self.model.available();
        let whole = Relax::new(0.0, span);
        let wells = Relax::new(self.rate, span);
        let rates = self
            .model
            .polarisation
            .iter()
            .map(|b| 1.0 / b.time.as_secs());
        let branches: Vec<Relax> = rates.map(|rate| Relax::new(rate, span)).collect();
        let (mut mid, mut end) = (first.clone(), first.clone());
        let mut states = [start.clone(), start.clone()];
        let mut given = 0.0;
        for _ in 0..30 {
            let amps = [first.amps, mid.amps, end.amps];
            let depth = whole.advance(start.depth, amps.map(|i| i / charge));
            let imbalance = wells.advance(start.imbalance, amps.map(|i| i / (c * charge)));
            for at in 0..2 {
                states[at].depth = depth[at];
                states[at].imbalance = imbalance[at];
            }
            for (n, branch) in branches.iter().enumerate() {
                let tau = self.model.polarisation[n].time.as_secs();
                let drive = [first, &mid, &end].map(|d| d.branch_volts[n] / tau);
                let volts = branch.advance(start.branch_volts[n], drive);
                states[0].branch_volts[n] = volts[0];
                states[1].branch_volts[n] = volts[1];
            }
            mid = self.drive(&states[0]);
            end = self.drive(&states[1]);
            let now = whole.advance(0.0, [first.amps, mid.amps, end.amps])[1];
            let settled = (now - given).abs() <= 1e-12 * charge;
            given = now;
            if settled {
                break;
            }
        }
        let [_, state] = states;
        (state, end, given)
    }

    /// Current, what it drives the branches to, and how far the voltage lies above the end.
    fn drive(&self, state: &CellState) -> Drive {
        let x = self.model.surface(state.depth, state.imbalance);
        let ohms = self.model.resistance_ohms(x, self.celsius, 0.0);
        let amps = match self.rating.load {
            RatingLoad::Current(current) => current.as_amps(),
            RatingLoad::Resistance(load) => self.through(state, load.as_ohms()),
            RatingLoad::Power(load) => self.drawing(state, load.as_watts()),
        };
        let volts = self.volts(state, amps).0;
        let spare_volts = match self.rating.load {
            // The cell cannot give the power any more, which ends the test wherever the voltage is.
            RatingLoad::Power(load) if amps * volts < load.as_watts() * (1.0 - 1e-6) => -1.0,
            _ => volts - self.rating.end.as_volts(),
        };
        Drive {
            amps,
            branch_volts: self.ratios.iter().map(|r| r * ohms * amps).collect(),
            spare_volts,
        }
    }

    /// Current at which the cell gives a power; that of the most it can give where it cannot.
    fn drawing(&self, state: &CellState, watts: f64) -> f64 {
        let mut amps = 0.0;
        // The power bends one way only, so Newton's steps rise to the lower root and pass none.
        for _ in 0..60 {
            let (volts, slope) = self.volts(state, amps);
            let rise = volts + amps * slope;
            if rise <= 0.0 {
                break;
            }
            let step = (watts - amps * volts) / rise;
            amps += step;
            if step.abs() <= 1e-14 * amps.abs() {
                break;
            }
        }
        amps
    }

    /// Terminal voltage and its slope with the current, with a settled film.
    fn volts(&self, state: &CellState, amps: f64) -> (f64, f64) {
        let (volts, slope) = self.model.terminal_volts(state, amps, self.celsius);
        let film = self.model.film_settled(amps, self.celsius);
        let more = self.model.film_ohms(film - state.film);
        (volts - more * amps, slope - more)
    }

    /// Current through a resistor.
    fn through(&self, state: &CellState, load_ohms: f64) -> f64 {
        let mut amps = 0.0;
        // The balance falls with the current and bends one way only, so Newton's steps converge.
        for _ in 0..40 {
            let (volts, slope) = self.volts(state, amps);
            let step = (volts - amps * load_ohms) / (load_ohms - slope);
            amps += step;
            if step.abs() <= 1e-14 * amps.abs() {
                break;
            }
        }
        amps
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::device::{Branch, Wells};
    use crate::numerics::table::Table;
    use crate::quantity::{Fraction, Rate, Spread, Time};

    fn cell(open_circuit: &[(f64, f64)], ohms: f64) -> CellModel {
        CellModel::plain(
            Spread::exactly(Charge::from_coulombs(1.0)),
            Table::new(open_circuit).expect("rising"),
            Table::constant(ohms),
        )
    }

    fn rating(load: RatingLoad, end: f64) -> Rating {
        Rating {
            capacity: Charge::from_coulombs(720.0),
            load,
            end: Voltage::from_volts(end),
            ambient: Temperature::from_celsius(20.0),
        }
    }

    /// E falls from 3 V to 2 V in a line, 10 ohm and 20 mA: the end at 2.2 V is reached where
    /// E = 2.4 V, after 0.6 of the charge.
    #[test]
    fn a_straight_line_is_solved_by_hand() {
        let load = RatingLoad::Current(Current::from_amps(0.02));
        let cell = cell(&[(0.0, 3.0), (1.0, 2.0)], 10.0);
        let charge = cell.charge_for_rating(&rating(load, 2.2)).expect("reached");
        assert!((charge.as_coulombs() / 1200.0 - 1.0).abs() < 1e-6);
        // Through 110 ohm the same voltage is reached where E = 2.2 * 120 / 110.
        let load = RatingLoad::Resistance(Resistance::from_ohms(110.0));
        let charge = cell.charge_for_rating(&rating(load, 2.2)).expect("reached");
        assert!((charge.as_coulombs() / 1200.0 - 1.0).abs() < 1e-6);
    }

    /// Kinetic model at constant current: the surface is empty when
    /// I t / Q + (1 - c) I (1 - e^(-k t)) / (c Q k) = 1.
    #[test]
    fn wells_follow_the_closed_form() {
        let mut cell = cell(&[(0.0, 1.5), (0.99, 1.5), (1.0, 1.0)], 0.0);
        let (c, k, amps) = (0.6, 1e-4, 0.1);
        cell.wells = Some(Wells {
            available: Spread::exactly(Fraction::from_share(c)),
            rate: Spread::exactly(Rate::from_per_sec(k)),
        });
        cell.polarisation = vec![Branch {
            ratio: 1.0,
            time: Time::from_secs(10.0),
        }];
        let load = RatingLoad::Current(Current::from_amps(amps));
        let charge = cell.charge_for_rating(&rating(load, 1.0)).expect("reached");
        let secs = 720.0 / amps;
        let q = 720.0 + (1.0 - c) / c * amps / k * (1.0 - libm::exp(-k * secs));
        assert!((charge.as_coulombs() / q - 1.0).abs() < 1e-5);
    }

    /// E falls from 3 V to 2 V in a line, 1 ohm and 0.22 W: at 2.2 V flow 0.1 A and E is 2.3 V, after
    /// 0.7 of the charge.
    #[test]
    fn a_power_is_solved_by_hand() {
        let load = RatingLoad::Power(Power::from_watts(0.22));
        let cell = cell(&[(0.0, 3.0), (1.0, 2.0)], 1.0);
        let charge = cell.charge_for_rating(&rating(load, 2.2)).expect("reached");
        assert!((charge.as_coulombs() / (720.0 / 0.7) - 1.0).abs() < 1e-6);
        // 3 V behind 1 ohm give 2.25 W at most.
        let load = RatingLoad::Power(Power::from_watts(2.3));
        assert_eq!(cell.charge_for_rating(&rating(load, 0.1)), None);
    }

    /// The last point of a discharge is the rating that the charge was solved from.
    #[test]
    fn a_discharge_ends_with_the_rated_capacity() {
        let load = RatingLoad::Resistance(Resistance::from_ohms(110.0));
        let mut cell = cell(&[(0.0, 3.0), (1.0, 2.0)], 10.0);
        let rating = rating(load, 2.2);
        cell.charge = Spread::exactly(cell.charge_for_rating(&rating).expect("reached"));
        let points = cell.discharge(&rating);
        let last = points.last().expect("points");
        assert!((last.given.as_coulombs() / 720.0 - 1.0).abs() < 1e-6);
        assert_eq!(last.voltage.as_volts(), 2.2);
        assert!(
            points
                .windows(2)
                .all(|p| p[0].given < p[1].given && p[0].voltage > p[1].voltage)
        );
        assert!((points[0].voltage.as_volts() - 3.0 * 110.0 / 120.0).abs() < 1e-9);
    }

    /// The film stands where 20 mA leave it, 0.5 of it or 5 ohm: E = 2.5 V is reached after half the charge.
    #[test]
    fn a_film_stands_where_the_test_leaves_it() {
        let load = RatingLoad::Current(Current::from_amps(0.02));
        let mut cell = cell(&[(0.0, 3.0), (1.0, 2.0)], 10.0);
        cell.film = Some(crate::device::Film {
            resistance: Resistance::from_ohms(10.0),
            growth: Time::from_secs(1000.0),
            burn_off: Charge::from_coulombs(20.0),
        });
        let charge = cell.charge_for_rating(&rating(load, 2.2)).expect("reached");
        assert!((charge.as_coulombs() / 1440.0 - 1.0).abs() < 1e-6);
    }

    #[test]
    fn a_voltage_that_is_never_reached_has_no_charge() {
        let load = RatingLoad::Current(Current::from_amps(1.0));
        let cell = cell(&[(0.0, 3.0), (1.0, 2.0)], 10.0);
        assert_eq!(cell.charge_for_rating(&rating(load, 2.2)), None);
    }
}
