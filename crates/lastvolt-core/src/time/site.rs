//! The cell parts of a board as places in one vector of states, with all that a temperature settles.
//!
//! Equal cells in series share their state: nothing tells them apart.

use crate::device::{Cell, CellModel, CellState, Charging, Film};
use crate::numerics::math;

/// Place of the depth among the states of a site.
pub(crate) const DEPTH: usize = 0;
/// Place of the imbalance of the wells.
pub(crate) const IMBALANCE: usize = 1;
/// Place of the growth of the resistance by age.
pub(crate) const AGED: usize = 2;
/// Place of the first branch voltage.
pub(crate) const BRANCH: usize = 3;
/// Share by which the rate of a lag is kept from that of a state behind it.
const APART: f64 = 1e-3;
/// How long a cold night lasts (common practice: eight hours of the lowest temperature).
const NIGHT_SECS: f64 = 8.0 * 3600.0;
/// Temperature of a shelf in degrees Celsius, at which makers quote what storage costs (common practice).
pub(crate) const SHELF_CELSIUS: f64 = 20.0;

/// One cell part at one temperature.
#[derive(Debug, Clone)]
pub(crate) struct Site<'f> {
    pub(crate) name: String,
    pub(crate) model: &'f CellModel,
    /// Cells in series.
    pub(crate) series: usize,
    pub(crate) contact_ohms: f64,
    /// Place of its first state in the vector of all.
    pub(crate) first: usize,
    pub(crate) charge: f64,
    /// Share c of the available well.
    pub(crate) available: f64,
    /// Rate k of the wells.
    pub(crate) rate: f64,
    /// Self-discharge as a share of the charge per second.
    pub(crate) own: f64,
    pub(crate) ohms_factor: f64,
    /// Shift of the open-circuit voltage of one cell.
    pub(crate) shift_volts: f64,
    /// Ratio and time constant of each branch.
    pub(crate) branches: Vec<(f64, f64)>,
    /// The film, with the rate at which it grows here.
    pub(crate) film: Option<(Film, f64)>,
    /// Growth of the resistance per second.
    pub(crate) ageing: f64,
    /// Factor on each branch voltage after a night at this temperature.
    pub(crate) night: Vec<f64>,
    /// Capacitance beside the cells, 0 for none or where it is not looked at.
    pub(crate) bypass_farads: f64,
    /// Depths between which the tables are smooth.
    knots: Vec<f64>,
}

/// A site at one instant, as the board sees it.
#[derive(Debug, Clone, Default)]
pub(crate) struct Seen {
    pub(crate) depth: f64,
    pub(crate) imbalance: f64,
    pub(crate) aged: f64,
    pub(crate) branch_volts: Vec<f64>,
    /// Surface depth.
    pub(crate) surface: f64,
    /// Open-circuit voltage E(x) of one cell with the shift by temperature.
    pub(crate) open_volts: f64,
    /// Sum of the branch voltages of one cell.
    pub(crate) branches_volts: f64,
    /// R0 of one cell.
    pub(crate) ohms: f64,
    /// Share of the film of one cell and its resistance, 0 without one.
    pub(crate) film: f64,
    pub(crate) film_ohms: f64,
    /// Current of the cells where a capacitor beside them carries the rest of what the board draws.
    pub(crate) lag_amps: Option<f64>,
}

impl<'f> Site<'f> {
    pub(crate) fn new(name: String, cell: &'f Cell, celsius: f64, first: usize) -> Self {
        let model = &cell.model;
        let branches = model.polarisation.iter().enumerate();
        let mut knots: Vec<f64> = model
            .open_circuit
            .points()
            .chain(model.resistance.points())
            .map(|p| p.0)
            .collect();
        knots.sort_by(f64::total_cmp);
        knots.dedup();
        Self {
            name,
            model,
            series: cell.series,
            contact_ohms: cell.holder.contact.si(),
            first,
            charge: model.charge.si(),
            available: model.available(),
            rate: model.rate_per_sec(celsius),
            own: model.self_discharge_per_sec(celsius),
            ohms_factor: model.resistance_factor(celsius),
            shift_volts: model.shift_volts(celsius),
            branches: branches
                .map(|(n, b)| (model.branch_ratio(n, celsius), b.time.as_secs()))
                .collect(),
            film: model.film.map(|f| (f, f.growth_per_sec(celsius))),
            ageing: model.ageing_per_sec(celsius),
            night: vec![1.0; model.polarisation.len()],
            bypass_farads: 0.0,
            knots,
        }
    }

    /// The same part at the temperature of one night, after days at the usual one.
    ///
    /// A branch that settles within the night stands at its cold value; a slower one has gone part
    /// of the way.
    pub(crate) fn in_a_night(&self, celsius: f64) -> Self {
        let model = self.model;
        let (usual, cold) = (self.ohms_factor, model.resistance_factor(celsius));
        let branches = self.branches.iter().enumerate();
        let branches: Vec<(f64, f64)> = branches
            .map(|(n, &(_, tau))| (model.branch_ratio(n, celsius), tau))
            .collect();
        let night = self.branches.iter().zip(&branches);
        let night = night.map(|(&(warm, tau), &(ratio, _))| {
            let settled = if warm > 0.0 {
                ratio * cold / (warm * usual)
            } else {
                1.0
            };
            1.0 - (settled - 1.0) * math::exp_m1(-NIGHT_SECS / tau)
        });
        Self {
            ohms_factor: cold,
            shift_volts: model.shift_volts(celsius),
            night: night.collect(),
            branches,
            ..self.clone()
        }
    }

    /// What a time on the shelf at 20 degC has done to a fresh cell: self-discharge, taken from both
    /// wells, and age. Its film has grown, with or without a time that is stated.
    pub(crate) fn shelve(&self, secs: f64, states: &mut [f64]) {
        let model = self.model;
        let lost = model.self_discharge_per_sec(SHELF_CELSIUS) * secs;
        states[self.first + DEPTH] = lost.min(1.0);
        states[self.first + AGED] = model.ageing_per_sec(SHELF_CELSIUS) * secs;
        if let Some(film) = self.film_place() {
            states[film] = 1.0;
        }
    }

    /// R0 of one cell.
    pub(crate) fn ohms(&self, x: f64, aged: f64) -> f64 {
        self.model.resistance.at(x) * self.ohms_factor * (1.0 + aged)
    }

    /// Rate at which the current of the cells follows that of the board, with a capacitor beside
    /// them; none without one.
    pub(crate) fn lag_rate(&self, states: &[f64]) -> Option<f64> {
        if self.bypass_farads <= 0.0 {
            return None;
        }
        let ohms = self.ohms(self.surface(states), states[self.first + AGED])
            + self.model.film_ohms(self.film_in(states));
        let secs = self.series as f64 * (ohms + self.contact_ohms) * self.bypass_farads;
        let rate = (secs > 0.0).then(|| 1.0 / secs)?;
        // Two equal rates in a row have a form of their own; a little apart they have the usual one.
        let mut others = self.branches.iter().map(|b| 1.0 / b.1).chain([self.rate]);
        let twin = others.find(|other| (rate - other).abs() < APART * other);
        Some(twin.map_or(rate, |other| other * (1.0 + APART)))
    }

    /// What the cells give while the board draws a mean current: the capacitor beside them gives
    /// charge as its voltage falls.
    ///
    /// # Formula
    /// ```text
    /// I = i + C dV/dt      dV/dt = a + s I      I = (i + C a)/(1 - C s)
    /// ```
    pub(crate) fn amps_with_capacitor(&self, states: &[f64], board_amps: f64) -> f64 {
        let own = &states[self.first..self.first + self.len()];
        let x = self.surface(states);
        let open_slope = self.model.open_circuit_volts(x).1;
        let ohms = self.ohms(x, own[AGED]);
        let (c, q) = (self.available, self.charge);
        let mut rest = open_slope * (self.own - (1.0 - c) * self.rate * own[IMBALANCE]);
        let ohms_slope =
            self.model.resistance.value_and_slope(x).1 * self.ohms_factor * (1.0 + own[AGED]);
        let mut slope = (open_slope - board_amps * ohms_slope) * (1.0 + (1.0 - c) / c) / q;
        let branches = own[BRANCH..].iter().zip(&self.branches).zip(&self.night);
        for ((volts, (ratio, tau)), night) in branches {
            rest += volts * night / tau;
            slope -= ratio * ohms / tau;
        }
        if let Some((film, growth)) = self.film {
            let share = self.film_in(states);
            let change = growth * (1.0 - share) - film.burn_per_sec(board_amps) * share;
            slope -= film.resistance.as_ohms() * change;
        }
        let farads = self.series as f64 * self.bypass_farads;
        (board_amps + farads * rest) / (1.0 - farads * slope)
    }

    /// Surface depth of the states.
    pub(crate) fn surface(&self, states: &[f64]) -> f64 {
        let (d, s) = (states[self.first + DEPTH], states[self.first + IMBALANCE]);
        self.model.surface(d, s)
    }

    /// Number of states.
    pub(crate) fn len(&self) -> usize {
        BRANCH + self.branches.len() + usize::from(self.film.is_some())
    }

    /// Place of the film in the vector of all states, for a cell that has one.
    pub(crate) fn film_place(&self) -> Option<usize> {
        let place = self.first + BRANCH + self.branches.len();
        self.film.map(|_| place)
    }

    /// Share of the film, 0 for a cell without one.
    pub(crate) fn film_in(&self, states: &[f64]) -> f64 {
        self.film_place().map_or(0.0, |place| states[place])
    }

    /// Rates at which the states relax; that of the film at rest.
    pub(crate) fn rates(&self) -> impl Iterator<Item = f64> + '_ {
        let fixed = [0.0, self.rate, 0.0];
        fixed
            .into_iter()
            .chain(self.branches.iter().map(|b| 1.0 / b.1))
            .chain(self.film.map(|f| f.1))
    }

    /// Part of the current that lowers the charge: charging a primary cell does not raise it.
    pub(crate) fn drawn(&self, amps: f64) -> f64 {
        match self.model.charging {
            Charging::Primary => amps.max(0.0),
            Charging::Rechargeable => amps,
        }
    }

    /// Fills in what the board sees of the states.
    pub(crate) fn see(&self, states: &[f64], seen: &mut Seen) {
        let own = &states[self.first..self.first + self.len()];
        seen.depth = own[DEPTH];
        seen.imbalance = own[IMBALANCE];
        seen.aged = own[AGED];
        seen.branch_volts.clear();
        let branches = BRANCH..BRANCH + self.branches.len();
        seen.branch_volts.extend_from_slice(&own[branches]);
        self.set_film(self.film_in(states), seen);
    }

    /// Puts a share of the film in place.
    pub(crate) fn set_film(&self, share: f64, seen: &mut Seen) {
        seen.film = share;
        seen.film_ohms = self.model.film_ohms(share);
    }

    /// Fills in what follows from depth, imbalance and age.
    pub(crate) fn settle(&self, seen: &mut Seen) {
        seen.surface = self.model.surface(seen.depth, seen.imbalance);
        seen.open_volts = self.model.open_circuit_volts(seen.surface).0 + self.shift_volts;
        seen.ohms = self.ohms(seen.surface, seen.aged);
    }

    /// Energy stored in all cells of the part.
    pub(crate) fn stored_joules(&self, states: &[f64]) -> f64 {
        let (d, s) = (states[self.first + DEPTH], states[self.first + IMBALANCE]);
        self.series as f64 * self.model.stored_joules_at(d, s)
    }

    /// Surface depth, and how far on the next point of the tables lies.
    pub(crate) fn to_next_knot(&self, states: &[f64]) -> f64 {
        let x = self.surface(states);
        let next = self.knots.iter().find(|&&knot| knot > x + 1e-7);
        next.map_or(f64::INFINITY, |knot| knot - x)
    }
}

impl Seen {
    /// All resistance of one cell that a current feels at once.
    pub(crate) fn series_ohms(&self) -> f64 {
        self.ohms + self.film_ohms
    }

    /// The state in the words of the circuit.
    pub(crate) fn state(&self) -> CellState {
        CellState {
            depth: self.depth,
            imbalance: self.imbalance,
            branch_volts: self.branch_volts.clone(),
            aged: self.aged,
            film: self.film,
        }
    }
}
