//! The elements of a circuit that remember: capacitors, inductors, cells and the answer of regulators.
//!
//! Each brings states `y` and their rates. Within a stage of a step a state obeys
//! `y = known + theta f`, so that every store is one more equation among the others; with theta 0 the
//! states stand still and the equations give the point that fits them.
//!
//! # Formula
//! ```text
//! capacitor   dq/dt = i                  va - vb = u(q) + Rs i
//! inductor    di/dt = (va - vb - R i)/L
//! cell        dd/dt = I/Q + own          ds/dt = I/(c Q) - k s
//!             dv/dt = (r R0 I - v)/tau   V = E(x) - R0 I - R_f phi I - sum v - activation(I)
//!             dphi/dt = (1 - phi)/tau_g - phi I/q_b
//! ```
//! Charge is integrated, not capacitance times the change of voltage, so none is lost under bias.

use crate::circuit::element::{CellTerms, Sink, Tap, through, volts};
use crate::device::{Capacitor, CellModel, CellState, Charging, Film};

/// An element with states; `i` names the unknown of its current, `at` its first state.
#[derive(Debug)]
pub(crate) struct Store<'f> {
    /// Place of its part in the circuit.
    pub(crate) part: usize,
    pub(crate) a: Tap,
    pub(crate) b: Tap,
    /// Unknown: current from `a` to `b` through it; out of plus for cells.
    pub(crate) i: usize,
    /// Place of its first state.
    pub(crate) at: usize,
    pub(crate) law: StoreLaw<'f>,
}

/// What a store is.
#[derive(Debug)]
pub(crate) enum StoreLaw<'f> {
    /// State: charge.
    Capacitor { device: &'f Capacitor, ohms: f64 },
    /// State: current.
    Inductor { henries: f64, ohms: f64 },
    /// States of each cell: depth, imbalance, branch voltages, and the film of one that has it.
    Cells {
        cells: Vec<Trickling<'f>>,
        contact_ohms: f64,
    },
}

/// One cell of a string with what its temperature settles.
#[derive(Debug)]
pub(crate) struct Trickling<'f> {
    model: &'f CellModel,
    /// 1, or -1 for a cell put in backwards.
    sign: f64,
    charge: f64,
    available: f64,
    rate: f64,
    /// Self-discharge as a share of the charge per second.
    own: f64,
    ohms_factor: f64,
    /// Shift of the open-circuit voltage.
    shift_volts: f64,
    aged: f64,
    /// Ratio and time constant of each branch.
    branches: Vec<(f64, f64)>,
    /// The film, with the rate at which it grows.
    film: Option<(Film, f64)>,
}

/// Places of a cell's states behind its first.
const DEPTH: usize = 0;
const IMBALANCE: usize = 1;
const BRANCH: usize = 2;

/// A cell in a stage at a current.
struct Stage {
    volts: f64,
    /// Change of the voltage with the discharge current.
    slope: f64,
}

impl<'f> Trickling<'f> {
    pub(crate) fn new(terms: &CellTerms<'f>, celsius: f64, aged: f64) -> Self {
        let model = terms.model;
        let branches = model.polarisation.iter().enumerate();
        Self {
            model,
            sign: terms.sign,
            charge: model.charge.si(),
            available: model.available(),
            rate: model.rate_per_sec(celsius),
            own: model.self_discharge_per_sec(celsius),
            ohms_factor: model.resistance_factor(celsius),
            shift_volts: model.shift_volts(celsius),
            aged,
            branches: branches
                .map(|(n, b)| (model.branch_ratio(n, celsius), b.time.as_secs()))
                .collect(),
            film: model.film.map(|f| (f, f.growth_per_sec(celsius))),
        }
    }

    fn len(&self) -> usize {
        self.after_branches() + usize::from(self.film.is_some())
    }

    /// Place of the film where there is one.
    fn after_branches(&self) -> usize {
        BRANCH + self.branches.len()
    }

    /// Share of the film in a stage and its slope with the current; none for a cell without one.
    fn film(&self, known: &[f64], theta: f64, amps: f64) -> Option<(Film, f64, f64)> {
        let (film, growth) = self.film?;
        let relaxed = 1.0 + theta * (growth + film.burn_per_sec(amps));
        let share = (known[self.after_branches()] + theta * growth) / relaxed;
        let burns = if amps > 0.0 {
            film.burn_per_sec(1.0)
        } else {
            0.0
        };
        Some((film, share, -share * theta * burns / relaxed))
    }

    /// The part of a current that lowers the charge, and its slope.
    fn drawn(&self, amps: f64) -> (f64, f64) {
        match self.model.charging {
            Charging::Primary if amps < 0.0 => (0.0, 0.0),
            _ => (amps, 1.0),
        }
    }

    /// Self-discharge at a depth: an empty cell has nothing to lose, and is not driven into reversal.
    fn own_at(&self, depth: f64) -> f64 {
        if depth < 1.0 { self.own } else { 0.0 }
    }

    fn ohms(&self, x: f64) -> f64 {
        self.model.resistance.at(x) * self.ohms_factor * (1.0 + self.aged)
    }

    /// Depth and imbalance at a current in a stage, and the slope of the surface depth.
    fn wells(&self, known: &[f64], theta: f64, amps: f64) -> (f64, f64, f64) {
        let (drawn, slope) = self.drawn(amps);
        let share = theta / self.charge;
        let relaxed = 1.0 + theta * self.rate;
        let depth = known[DEPTH] + drawn * share + theta * self.own_at(known[DEPTH]);
        let imbalance = (known[IMBALANCE] + drawn * share / self.available) / relaxed;
        let by_wells = (1.0 - self.available) / self.available / relaxed;
        (depth, imbalance, slope * share * (1.0 + by_wells))
    }

    fn stage(&self, known: &[f64], theta: f64, amps: f64) -> Stage {
        let (depth, imbalance, x_slope) = self.wells(known, theta, amps);
        let x = self.model.surface(depth, imbalance);
        let (open, open_slope) = self.model.open_circuit_volts(x);
        let ohms = self.ohms(x);
        let (activation, activation_slope) = self.model.activation_volts(amps);
        let (mut volts, mut slope) = (
            open + self.shift_volts - ohms * amps - activation,
            open_slope * x_slope - ohms - activation_slope,
        );
        for (known, &(ratio, tau)) in known[BRANCH..].iter().zip(&self.branches) {
            let share = theta / (tau + theta);
            volts -= known * (1.0 - share) + share * ratio * ohms * amps;
            slope -= share * ratio * ohms;
        }
        if let Some((film, share, share_slope)) = self.film(known, theta, amps) {
            let ohms = film.resistance.as_ohms();
            volts -= ohms * share * amps;
            slope -= ohms * (share + share_slope * amps);
        }
        Stage { volts, slope }
    }

    /// States and rates at the end of a stage.
    fn settle(&self, known: &[f64], theta: f64, amps: f64, y: &mut [f64], f: &mut [f64]) {
        let (depth, imbalance, _) = self.wells(known, theta, amps);
        let drawn = self.drawn(amps).0;
        let ohms = self.ohms(self.model.surface(depth, imbalance));
        (y[DEPTH], y[IMBALANCE]) = (depth, imbalance);
        f[DEPTH] = drawn / self.charge + self.own_at(known[DEPTH]);
        f[IMBALANCE] = drawn / (self.available * self.charge) - self.rate * imbalance;
        for (n, &(ratio, tau)) in self.branches.iter().enumerate() {
            let to = ratio * ohms * amps;
            let share = theta / (tau + theta);
            let volts = known[BRANCH + n] * (1.0 - share) + share * to;
            y[BRANCH + n] = volts;
            f[BRANCH + n] = (to - volts) / tau;
        }
        if let (Some((film, share, _)), Some((_, growth))) =
            (self.film(known, theta, amps), self.film)
        {
            let at = self.after_branches();
            y[at] = share;
            f[at] = growth * (1.0 - share) - film.burn_per_sec(amps) * share;
        }
    }

    /// The state in the words of the circuit.
    pub(crate) fn state(&self, y: &[f64]) -> CellState {
        CellState {
            depth: y[DEPTH],
            imbalance: y[IMBALANCE],
            branch_volts: y[BRANCH..self.after_branches()].to_vec(),
            aged: self.aged,
            film: self.film.map_or(0.0, |_| y[self.after_branches()]),
        }
    }
}

impl Store<'_> {
    /// Number of states.
    pub(crate) fn len(&self) -> usize {
        match &self.law {
            StoreLaw::Capacitor { .. } | StoreLaw::Inductor { .. } => 1,
            StoreLaw::Cells { cells, .. } => cells.iter().map(Trickling::len).sum(),
        }
    }

    /// Gives its currents and its equation at `x` in a stage.
    pub(crate) fn eval(&self, x: &[f64], known: &[f64], theta: f64, sink: &mut dyn Sink) {
        let (a, b, i) = (self.a, self.b, self.i);
        let across = volts(x, a.net) - volts(x, b.net);
        let known = &known[self.at..];
        match &self.law {
            StoreLaw::Capacitor { device, ohms } => {
                through(sink, a, b, x[i], &[(i, 1.0)]);
                let level = device.volts_at(known[0] + theta * x[i]);
                let slope = ohms + theta / device.farads_at(level);
                let value = across - ohms * x[i] - level;
                sink.row(i, value, &[(a.net, 1.0), (b.net, -1.0), (i, -slope)]);
            }
            StoreLaw::Inductor { henries, ohms } => {
                through(sink, a, b, x[i], &[(i, 1.0)]);
                let share = theta / henries;
                let value = x[i] - known[0] - share * (across - ohms * x[i]);
                let slopes = [(a.net, -share), (b.net, share), (i, 1.0 + share * ohms)];
                sink.row(i, value, &slopes);
            }
            StoreLaw::Cells {
                cells,
                contact_ohms,
            } => {
                let amps = x[i];
                through(sink, b, a, amps, &[(i, 1.0)]);
                let (mut value, mut slope) = (across + contact_ohms * amps, *contact_ohms);
                let mut first = 0;
                for cell in cells {
                    let stage = cell.stage(&known[first..], theta, cell.sign * amps);
                    value -= cell.sign * stage.volts;
                    slope -= stage.slope;
                    first += cell.len();
                }
                sink.row(i, value, &[(a.net, 1.0), (b.net, -1.0), (i, slope)]);
            }
        }
    }

    /// States and rates at the end of a stage whose unknowns are solved.
    pub(crate) fn settle(
        &self,
        x: &[f64],
        known: &[f64],
        theta: f64,
        y: &mut [f64],
        f: &mut [f64],
    ) {
        let own = self.at..self.at + self.len();
        let (known, y, f) = (&known[own.clone()], &mut y[own.clone()], &mut f[own]);
        match &self.law {
            StoreLaw::Capacitor { .. } => {
                f[0] = x[self.i];
                y[0] = known[0] + theta * f[0];
            }
            StoreLaw::Inductor { henries, ohms } => {
                let across = volts(x, self.a.net) - volts(x, self.b.net);
                f[0] = (across - ohms * x[self.i]) / henries;
                y[0] = x[self.i];
            }
            StoreLaw::Cells { cells, .. } => {
                let mut first = 0;
                for cell in cells {
                    let next = first + cell.len();
                    let amps = cell.sign * x[self.i];
                    let (y, f) = (&mut y[first..next], &mut f[first..next]);
                    cell.settle(&known[first..next], theta, amps, y, f);
                    first = next;
                }
            }
        }
    }

    /// States at rest in a solved static point, from the current that its part carries there.
    pub(crate) fn rest(&self, x: &[f64], branch_amps: f64, y: &mut [f64]) {
        let across = volts(x, self.a.net) - volts(x, self.b.net);
        match &self.law {
            StoreLaw::Capacitor { device, .. } => y[self.at] = device.charge_at(across),
            StoreLaw::Inductor { .. } => y[self.at] = branch_amps,
            StoreLaw::Cells { .. } => {}
        }
    }

    /// Puts a capacitor at a voltage; other stores stay as they are.
    pub(crate) fn charge(&self, volts: f64, y: &mut [f64]) {
        if let StoreLaw::Capacitor { device, .. } = &self.law {
            y[self.at] = device.charge_at(volts);
        }
    }

    /// Voltage of the plates of a capacitor, none of other stores.
    pub(crate) fn level(&self, y: &[f64]) -> Option<f64> {
        match &self.law {
            StoreLaw::Capacitor { device, .. } => Some(device.volts_at(y[self.at])),
            _ => None,
        }
    }

    /// Puts the states of a string of cells in place.
    pub(crate) fn place_cells(&self, states: &[CellState], y: &mut [f64]) {
        let StoreLaw::Cells { cells, .. } = &self.law else {
            return;
        };
        let mut first = self.at;
        for (cell, state) in cells.iter().zip(states) {
            y[first + DEPTH] = state.depth;
            y[first + IMBALANCE] = state.imbalance;
            let branches = first + BRANCH..first + cell.after_branches();
            for (y, volts) in y[branches].iter_mut().zip(&state.branch_volts) {
                *y = *volts;
            }
            if cell.film.is_some() {
                y[first + cell.after_branches()] = state.film;
            }
            first += cell.len();
        }
    }

    /// States of its cells in the words of the circuit, none for other stores.
    pub(crate) fn cell_states(&self, y: &[f64]) -> Vec<CellState> {
        let StoreLaw::Cells { cells, .. } = &self.law else {
            return Vec::new();
        };
        let mut first = self.at;
        let each = cells.iter().map(|cell| {
            let state = cell.state(&y[first..]);
            first += cell.len();
            state
        });
        each.collect()
    }

    /// The largest error of its states over what is allowed.
    pub(crate) fn error(&self, error: &[f64], y: &[f64]) -> f64 {
        let (error, y) = (&error[self.at..], &y[self.at..]);
        match &self.law {
            StoreLaw::Capacitor { device, .. } => {
                let level = device.volts_at(y[0]);
                error[0].abs() / device.farads_at(level) / allowed_volts(level)
            }
            StoreLaw::Inductor { .. } => error[0].abs() / (1e-6 + 1e-4 * y[0].abs()),
            StoreLaw::Cells { cells, .. } => {
                let mut first = 0;
                let mut worst: f64 = 0.0;
                for cell in cells {
                    let own = &error[first..first + cell.len()];
                    let wells = own[DEPTH].abs().max(own[IMBALANCE].abs()) / DEPTH_ERROR;
                    let (branches, film) = own[BRANCH..].split_at(cell.branches.len());
                    let branches = branches.iter().map(|e| e.abs() / ALLOWED_VOLTS);
                    let film = film.iter().map(|e| e.abs() / FILM_ERROR);
                    let larger = |a: f64, b: f64| if b.is_nan() { f64::INFINITY } else { a.max(b) };
                    worst = branches.chain(film).fold(larger(worst, wells), larger);
                    first += cell.len();
                }
                worst
            }
        }
    }
}

/// Error of a voltage that one step may make, well below what people look at.
const ALLOWED_VOLTS: f64 = 2e-5;
/// The same as a share of a high voltage.
const ALLOWED_SHARE: f64 = 5e-6;
/// Error of a depth that one step may make.
const DEPTH_ERROR: f64 = 1e-6;
/// Error of the share of a film that one step may make: some ten microvolts of a drop of a volt.
const FILM_ERROR: f64 = 1e-5;

/// Error of a voltage that one step may make.
pub(crate) fn allowed_volts(level: f64) -> f64 {
    ALLOWED_VOLTS + ALLOWED_SHARE * level.abs()
}
