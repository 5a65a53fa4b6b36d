//! What drives the cells at one instant, averaged over the tasks that are active.
//!
//! # Formula
//! ```text
//! dz/dt = sum over joint states L of w_L f(z + ripple_L, i_L)
//! ```
//! Every state obeys `y' = u - rate y`: depth and age with rate 0, the imbalance of the wells with k,
//! a branch with 1/tau, a film as `films` has it. The mean drive `u` and the power of each line of the ledger come from the
//! same instants, so that the ledger needs no remainder.

use crate::circuit::{Circuit, NoPoint, Point, Situation};
use crate::model::Load;
use crate::time::films::Films;
use crate::time::port::{Halt, Reading, Wanted};
use crate::time::ports::{Ports, Which};
use crate::time::ripple::{Ripple, Ripples};
use crate::time::run::HORIZON_SECS;
use crate::time::schedule::{Mix, Schedule};
use crate::time::site::{AGED, BRANCH, DEPTH, IMBALANCE, Seen, Site};
use crate::time::swing::Swings;
use crate::time::table::{Stopped, Through};

/// Lines of the ledger that each cell part has of its own.
pub(crate) const CELL_LINES: [&str; 8] = [
    "resistance",
    "polarisation",
    "activation",
    "mixing",
    "self-discharge",
    "charging",
    "film",
    "temperature",
];

/// The mean drive of a mix of tasks at one state.
#[derive(Debug, Clone, Default)]
pub(crate) struct Mean {
    /// Drive of each state.
    pub(crate) drive: Vec<f64>,
    /// Power by line.
    pub(crate) watts: Vec<f64>,
    /// Mean current of each cell part.
    pub(crate) amps: Vec<f64>,
    /// The same of the board beside it, as far as it is known.
    board_amps: Vec<f64>,
}

/// Names of the ledger's lines and where each power of a reading goes.
#[derive(Debug, Clone)]
pub(crate) struct Lines {
    pub(crate) names: Vec<String>,
    /// By joint state: the line of each power of a reading.
    pub(crate) place: Vec<Vec<usize>>,
    /// What capacitors hold more than at the start.
    pub(crate) stored: usize,
}

/// A board with its schedule at every temperature of a life, and in one night at the lowest ambient.
pub(crate) struct Engine<'a, 'c, 'f> {
    pub(crate) schedule: Schedule,
    pub(crate) loads: Vec<(String, &'f Load)>,
    pub(crate) circuit: &'c Circuit<'f>,
    /// Between tasks, at no temperature in particular.
    pub(crate) situation: &'a Situation,
    pub(crate) lines: Lines,
    pub(crate) ports: Ports<'c, 'f>,
    /// By temperature of the course.
    sides: Vec<Side<'f>>,
    /// Place of the temperature that holds.
    at: usize,
    /// Where the board stopped last, and what gave up.
    pub(crate) halted: Option<(usize, Stopped)>,
    pinned: Vec<Pinned>,
    /// What becomes of a board that has given up, as far as the cells are concerned.
    pub(crate) through: Through,
    /// By joint state: loads with their working range.
    pub(crate) needs: Vec<Vec<(usize, f64, f64)>>,
    /// By cell part and step: current beyond the base at the last look.
    excess: Vec<Vec<f64>>,
    /// By joint state and cell part: current at the last look.
    amps: Vec<Vec<f64>>,
    /// By cell part: surface depth without ripple and its open-circuit voltage.
    mean_open: Vec<(f64, f64)>,
    /// By cell part: how its current lags, with a capacitor beside it.
    lags: Vec<Option<Lag>>,
    /// By cell part: how much of a change of that current the board shows again.
    lag_shares: Vec<f64>,
    /// By mix: ripples of such currents.
    lag_ripples: Vec<Ripples>,
    /// For which mix and temperature that was found.
    lags_of: Option<(usize, usize, bool)>,
    pub(crate) films: Films,
    pub(crate) swings: Swings,
    /// Whether bursts differ from their static end at all.
    pub(crate) has_swings: bool,
    pub(crate) seen: Vec<Seen>,
    pub(crate) reading: Reading,
    /// Cell and rail voltage at rest and at their lowest at the last look at a margin.
    pub(crate) volts: Option<[f64; 4]>,
    /// By how much the ends of bursts are looked at lower, to see what that moves.
    pub(crate) lowered_volts: f64,
}

/// A mix of tasks while steps of other tasks go on.
struct Pinned {
    active: Vec<usize>,
    steps: Vec<(usize, usize)>,
    /// Its place among the mixes.
    mix: usize,
}

/// The cells at one temperature.
pub(crate) struct Side<'f> {
    sites: Vec<Site<'f>>,
    /// The same in one cold night, where one is looked at.
    night: Vec<Site<'f>>,
    /// Rate of every state.
    rates: Vec<f64>,
    /// By mix, cell part and relaxing state (the wells first, then the branches).
    ripples: Vec<Vec<Vec<Ripple>>>,
}

impl<'f> Side<'f> {
    pub(crate) fn new(sites: Vec<Site<'f>>, night: Option<f64>, schedule: &Schedule) -> Self {
        let night = night.map_or_else(Vec::new, |low| {
            sites.iter().map(|s| s.in_a_night(low)).collect()
        });
        let mixes = schedule.mixes.iter();
        let ripples = mixes.map(|mix| ripples(&sites, schedule, mix));
        Self {
            ripples: ripples.collect(),
            night,
            rates: sites.iter().flat_map(Site::rates).collect(),
            sites,
        }
    }
}

/// Ripples of a mix, by cell part and relaxing state.
fn ripples(sites: &[Site], schedule: &Schedule, mix: &Mix) -> Vec<Vec<Ripple>> {
    let relaxing = |site: &Site| {
        let rates = site.rates().take(BRANCH + site.branches.len()).enumerate();
        let rates = rates.filter(|r| r.0 == IMBALANCE || BRANCH <= r.0);
        rates
            .map(|(_, rate)| Ripple::new(schedule, mix, rate))
            .collect()
    };
    sites.iter().map(relaxing).collect()
}

/// How the current of a cell part follows what the board draws.
#[derive(Default)]
struct Lag {
    /// The mix that its ripple is of.
    mix: usize,
    rate: f64,
    mean_amps: f64,
    /// What goes into the capacitor in the mean.
    stored_amps: f64,
    ripple: Ripple,
}

/// Ripple of a state behind a lag, from its ripple without it and that of the lag itself: two rates in
/// a row are the difference of two alone.
///
/// # Formula
/// ```text
/// r1/(s + r1) r2/(s + r2) = (r2 [r1/(s + r1)] - r1 [r2/(s + r2)]) / (r2 - r1)
/// ```
pub(crate) fn behind_lag(own: (f64, f64), lag: (f64, f64)) -> f64 {
    let ((rate, ripple), (lag_rate, lag_ripple)) = (own, lag);
    let apart = lag_rate - rate;
    if apart.abs() < 1e-6 * rate {
        // Two equal rates have a form of their own, and this is as near to it.
        return ripple;
    }
    (lag_rate * ripple - rate * lag_ripple) / apart
}

/// Rounds in which the currents of cells with capacitors must settle, and to which share of them. The
/// ledger closes in every round: what the board is found to draw is what it is booked with.
const MOST_LAG_ROUNDS: usize = 12;
const LAG_SETTLED: f64 = 1e-7;

/// Which instant of a joint state.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Instant {
    /// Its mean, at a place among the shares of the mix.
    Mean(usize),
    /// Its end, at a place among the worst of the mix; films as they are at its start.
    End(usize),
}

impl<'a, 'c, 'f> Engine<'a, 'c, 'f> {
    pub(crate) fn new(
        schedule: Schedule,
        circuit: &'c Circuit<'f>,
        situation: &'a Situation,
        lines: Lines,
        ports: Ports<'c, 'f>,
        sides: Vec<Side<'f>>,
        swings: Swings,
    ) -> Self {
        let sites = sides[0].sites.len();
        let mut engine = Self {
            needs: Vec::new(),
            excess: vec![vec![0.0; schedule.steps.len()]; sites],
            amps: vec![vec![0.0; sites]; schedule.joints.len()],
            mean_open: Vec::with_capacity(sites),
            lags: (0..sites).map(|_| None).collect(),
            lag_shares: vec![0.0; sites],
            lag_ripples: Vec::new(),
            lags_of: None,
            films: Films::new(sites),
            has_swings: false,
            swings,
            loads: circuit.loads(),
            circuit,
            situation,
            seen: vec![Seen::default(); sites],
            reading: Reading::default(),
            volts: None,
            lowered_volts: 0.0,
            at: 0,
            pinned: Vec::new(),
            halted: None,
            through: Through::Stops,
            schedule,
            lines,
            ports,
            sides,
        };
        engine.needs = (0..engine.schedule.joints.len())
            .map(|j| engine.ranges(j))
            .collect();
        engine.has_swings = engine.may_swing();
        engine.swings.has_films = engine.sites().iter().any(|site| site.film.is_some());
        engine
    }

    /// The mix of tasks while steps of other tasks go on.
    pub(crate) fn pinned(&mut self, active: Vec<usize>, steps: Vec<(usize, usize)>) -> usize {
        let mut known = self.pinned.iter();
        if let Some(known) = known.find(|p| p.active == active && p.steps == steps) {
            return known.mix;
        }
        let mix = self
            .schedule
            .pinned_mix(active.clone(), &steps, HORIZON_SECS);
        for side in &mut self.sides {
            let ripples = ripples(&side.sites, &self.schedule, &mix);
            side.ripples.push(ripples);
        }
        self.schedule.mixes.push(mix);
        let mix = self.schedule.mixes.len() - 1;
        self.pinned.push(Pinned { active, steps, mix });
        mix
    }

    /// Turns to a temperature of the course.
    pub(crate) fn turn_to(&mut self, place: usize) {
        self.at = place;
    }

    /// The temperature that holds, as a place in the course.
    pub(crate) fn which(&self) -> Which {
        Which::Course(self.at)
    }

    /// The cell parts at the temperature that holds.
    pub(crate) fn sites(&self) -> &[Site<'f>] {
        &self.sides[self.at].sites
    }

    /// The same, or those of a cold night.
    pub(crate) fn sites_at(&self, cold: bool) -> &[Site<'f>] {
        let side = &self.sides[self.at];
        if cold { &side.night } else { &side.sites }
    }

    /// Current of a cell part beyond the base in a step, at the last look.
    pub(crate) fn excess(&self, site: usize, step: usize) -> f64 {
        self.excess[site][step]
    }

    /// The same of all steps.
    pub(crate) fn excesses(&self, site: usize) -> &[f64] {
        &self.excess[site]
    }

    /// Current of a cell part in a joint state, at the last look.
    pub(crate) fn amps(&self, joint: usize, site: usize) -> f64 {
        self.amps[joint][site]
    }

    /// Volts per second by which a capacitor beside the cells drifts, at the last look.
    pub(crate) fn capacitor_drift(&self) -> f64 {
        let lags = self.lags.iter().flatten().zip(self.sites());
        lags.map(|(lag, site)| lag.stored_amps / site.bypass_farads)
            .sum()
    }

    /// Rate of every state at the temperature that holds.
    pub(crate) fn rates(&self) -> &[f64] {
        &self.sides[self.at].rates
    }

    /// Rate of every state at a temperature of the course.
    pub(crate) fn rates_at(&self, place: usize) -> &[f64] {
        &self.sides[place].rates
    }

    /// The solved point of a joint state with the cells as they were seen.
    pub(crate) fn point(&mut self, joint: usize, seen: &[Seen]) -> Result<Point, NoPoint> {
        let sites = &self.sides[self.at].sites;
        self.ports.point(Which::Course(self.at), joint, sites, seen)
    }

    fn ranges(&self, joint: usize) -> Vec<(usize, f64, f64)> {
        let loads = self.loads.iter().enumerate();
        let working = loads.filter_map(|(at, (name, load))| {
            let range = load.working_in(self.state_of(joint, name, load))?;
            Some((at, range.from.as_volts(), range.to.as_volts()))
        });
        working.collect()
    }

    /// Rested cells after a time on the shelf.
    pub(crate) fn shelved(&self, secs: f64) -> Vec<f64> {
        let mut states = vec![0.0; self.rates().len()];
        for site in self.sites() {
            site.shelve(secs, &mut states);
        }
        states
    }

    pub(crate) fn stored_joules(&self, states: &[f64]) -> f64 {
        let sites = self.sites().iter();
        sites.map(|s| s.stored_joules(states)).sum()
    }

    /// Depth of the most used cell.
    pub(crate) fn depth(&self, states: &[f64]) -> f64 {
        let depths = self.sites().iter().map(|s| states[s.first + DEPTH]);
        depths.fold(f64::MIN, f64::max)
    }

    /// The mean drive of a mix.
    ///
    /// Capacitors beside the cells spread what the board draws over time, by its mean and its steps;
    /// where there are some, these are found in rounds.
    pub(crate) fn mean(&mut self, mix: usize, states: &[f64], out: &mut Mean) -> Result<(), Halt> {
        if self.sites().iter().all(|site| site.bypass_farads <= 0.0) {
            self.set_lags(mix, states, false);
            return self.mean_round(mix, states, out);
        }
        // What the same instant of the last step found is near.
        if out.board_amps.len() != self.sites().len() {
            out.board_amps = self.board_amps(mix);
        }
        let mut before: Option<(Vec<f64>, Vec<f64>)> = None;
        for _ in 0..MOST_LAG_ROUNDS {
            let asked = std::mem::take(&mut out.board_amps);
            self.lag_behind(mix, states, false, &asked);
            let passed = self.mean_round(mix, states, out);
            let found = self.board_amps(mix);
            out.board_amps.clone_from(&found);
            passed?;
            if let Some(before) = &before {
                self.note_shares(before, (&asked, &found));
            }
            let mut settled = true;
            for (k, amps) in out.board_amps.iter_mut().enumerate() {
                let off = *amps - asked[k];
                settled &= off.abs() <= LAG_SETTLED * amps.abs();
                let share = self.lag_shares[k];
                *amps += share / (1.0 - share) * off;
            }
            if settled {
                break;
            }
            before = Some((asked, found));
        }
        Ok(())
    }

    /// Mean current that the board was found to draw beside each cell part.
    fn board_amps(&self, mix: usize) -> Vec<f64> {
        let shares = &self.schedule.mixes[mix].shares;
        let sum = |k| {
            shares
                .iter()
                .map(|&(j, share)| share * self.amps[j][k])
                .sum()
        };
        (0..self.sites().len()).map(sum).collect()
    }

    /// Notes how much of a change of the currents asked for two rounds have found again.
    fn note_shares(&mut self, before: &(Vec<f64>, Vec<f64>), now: (&[f64], &[f64])) {
        for (k, share) in self.lag_shares.iter_mut().enumerate() {
            let (asked, found) = (now.0[k] - before.0[k], now.1[k] - before.1[k]);
            // Of less than this only rounding is left.
            if asked.abs() > 1e-7 * now.0[k].abs() {
                *share = (found / asked).clamp(-0.5, 0.5);
            }
        }
    }

    /// Finds how the current of cells with a capacitor beside them follows that of the board at the
    /// last look.
    pub(crate) fn set_lags(&mut self, mix: usize, states: &[f64], cold: bool) {
        let board_amps = self.board_amps(mix);
        self.lag_behind(mix, states, cold, &board_amps);
    }

    fn lag_behind(&mut self, mix: usize, states: &[f64], cold: bool, board_amps: &[f64]) {
        self.lags_of = Some((mix, self.at, cold));
        self.shape_films(mix);
        let side = &self.sides[self.at];
        let sites = if cold { &side.night } else { &side.sites };
        if self.lag_ripples.len() <= mix {
            self.lag_ripples.resize_with(mix + 1, Ripples::default);
        }
        let (ripples, tasks) = (&mut self.lag_ripples[mix], &self.schedule.mixes[mix]);
        for (k, site) in sites.iter().enumerate() {
            let Some(rate) = site.lag_rate(states) else {
                self.lags[k] = None;
                continue;
            };
            let lag = self.lags[k].get_or_insert_default();
            if (lag.mix, lag.rate) != (mix, rate) {
                ripples.at(&self.schedule, tasks, rate, &mut lag.ripple);
                (lag.mix, lag.rate) = (mix, rate);
            }
            lag.mean_amps = site.amps_with_capacitor(states, board_amps[k]);
            lag.stored_amps = lag.mean_amps - board_amps[k];
        }
    }

    fn mean_round(&mut self, mix: usize, states: &[f64], out: &mut Mean) -> Result<(), Halt> {
        let count = self.schedule.mixes[mix].shares.len();
        out.clear(
            self.rates().len(),
            self.lines.names.len(),
            self.sites().len(),
        );
        self.mean_open.clear();
        let sites = self.sides[self.at].sites.iter();
        self.mean_open.extend(sites.map(|site| {
            let x = site.surface(states);
            (x, site.model.open_circuit_volts(x).0)
        }));
        for at in 0..count {
            let (joint, share) = self.schedule.mixes[mix].shares[at];
            self.look(mix, Instant::Mean(at), joint, states, false)?;
            self.amps[joint].copy_from_slice(&self.reading.amps);
            for (power, &line) in self.reading.data.iter().zip(&self.lines.place[joint]) {
                out.watts[line] += share * power;
            }
            for k in 0..self.sites().len() {
                self.add_cell(k, share, out);
            }
        }
        self.finish_mean(mix, states, out);
        Ok(())
    }

    /// Reads a joint state of a mix at an instant, on a usual day or in a cold night.
    pub(crate) fn look(
        &mut self,
        mix: usize,
        instant: Instant,
        joint: usize,
        states: &[f64],
        cold: bool,
    ) -> Result<(), Halt> {
        if self.lags_of != Some((mix, self.at, cold)) {
            self.set_lags(mix, states, cold);
        }
        let side = &self.sides[self.at];
        let sites = if cold { &side.night } else { &side.sites };
        for (k, site) in sites.iter().enumerate() {
            let seen = &mut self.seen[k];
            site.see(states, seen);
            if cold {
                for (volts, factor) in seen.branch_volts.iter_mut().zip(&site.night) {
                    *volts *= factor;
                }
            }
            let ripples = &side.ripples[mix][k];
            let is_lagging = self.lags[k].is_some();
            let beyond = |ripple: &Ripple| {
                let weights = match instant {
                    Instant::Mean(at) => &ripple.mean[at],
                    // Between tasks a lag is looked at in its mean: not all tasks together can just
                    // be over.
                    Instant::End(_) if joint == 0 && is_lagging => &ripple.mean[0],
                    Instant::End(at) => &ripple.end[at],
                };
                let each = weights.iter().map(|&(g, w)| w * self.excess[k][g]);
                each.sum::<f64>()
            };
            let lagging = self.lags[k].as_ref();
            let lagging = lagging.map(|lag| (lag.rate, beyond(&lag.ripple)));
            let sum = |n: usize, rate: f64| {
                let ripple = beyond(&ripples[n]);
                lagging.map_or(ripple, |lag| behind_lag((rate, ripple), lag))
            };
            if site.rate > 0.0 {
                seen.imbalance += sum(0, site.rate) / (site.available * site.charge * site.rate);
            }
            site.settle(seen);
            let ohms = seen.ohms;
            for (n, (volts, branch)) in seen.branch_volts.iter_mut().zip(&site.branches).enumerate()
            {
                *volts += branch.0 * ohms * sum(n + 1, 1.0 / branch.1);
            }
            seen.branches_volts = seen.branch_volts.iter().sum();
            if let Some(shape) = &self.films.shapes[k] {
                let (mean, steps) = (seen.film, &self.schedule.joints[joint].steps);
                let share = match instant {
                    Instant::Mean(at) => shape.mean(mean, at, steps),
                    Instant::End(_) => shape.opening(mean, steps),
                };
                site.set_film(share, seen);
            }
            let mean_amps = self.lags[k].as_ref().map(|lag| lag.mean_amps);
            seen.lag_amps = mean_amps.zip(lagging).map(|(mean, lag)| mean + lag.1);
            if matches!(instant, Instant::End(_)) {
                seen.open_volts -= self.lowered_volts;
            }
        }
        let which = if cold {
            Which::Night
        } else {
            Which::Course(self.at)
        };
        // Needs are looked at as they are; only what drains the cells goes on.
        let asked = match instant {
            Instant::Mean(_) => (self.through, Wanted::Powers),
            Instant::End(_) => (Through::Stops, Wanted::Rails),
        };
        let cells = (sites.as_slice(), self.seen.as_slice());
        let read = self
            .ports
            .read(which, joint, cells, asked, &mut self.reading);
        if let Err(Halt::Stops { what, .. }) = &read {
            self.halted = Some((joint, *what));
        }
        read
    }

    /// Adds one joint state's drive of a cell part and what is lost in it.
    fn add_cell(&self, k: usize, share: f64, out: &mut Mean) {
        let (site, seen, board_amps) = (&self.sites()[k], &self.seen[k], self.reading.amps[k]);
        let n = site.series as f64;
        let amps = seen.lag_amps.unwrap_or(board_amps);
        let drawn = site.drawn(amps);
        out.amps[k] += share * amps;
        out.drive[site.first + DEPTH] += share * drawn / site.charge;
        let drop = seen.ohms * amps;
        for (b, &(ratio, tau)) in site.branches.iter().enumerate() {
            out.drive[site.first + BRANCH + b] += share * ratio * drop / tau;
        }
        let lines = &mut out.watts[k * CELL_LINES.len()..];
        let activation = site.model.activation_volts(amps).0;
        lines[1] += share * n * seen.branches_volts * amps;
        lines[2] += share * n * activation * amps;
        let film_watts = n * seen.film_ohms * amps * amps;
        lines[6] += share * film_watts;
        lines[0] += share
            * match seen.lag_amps {
                None => n * drop * amps,
                // What the cell gives and the board does not take is lost in the resistance: over an
                // interval nothing stays in the capacitor.
                Some(_) => {
                    let inner_volts = seen.open_volts - seen.branches_volts - activation;
                    n * (inner_volts * amps - self.reading.cell_volts[k] * board_amps) - film_watts
                }
            };
        // What goes into a primary cell becomes heat: it does not come back.
        lines[5] += share * n * (seen.open_volts - site.shift_volts) * (drawn - amps);
        // What the board gets for a shift in the warm comes from the surroundings, in the cold it goes there.
        lines[7] -= share * n * site.shift_volts * amps;
        // A periodic ripple of the wells returns to where it began, so what the current loses by it
        // is lost in mixing.
        let (mean_x, mean_open) = self.mean_open[k];
        if mean_x != seen.surface {
            let gap = mean_open + site.shift_volts - seen.open_volts;
            lines[3] += share * n * drawn * gap;
        }
        if let Some(lag) = &self.lags[k] {
            let into = share * n * self.reading.cell_volts[k] * lag.stored_amps;
            out.watts[k * CELL_LINES.len()] -= into;
            out.watts[self.lines.stored] += into;
        }
    }

    /// Wells, self-discharge and age; remembers the currents of steps beyond the base.
    fn finish_mean(&mut self, mix: usize, states: &[f64], out: &mut Mean) {
        for (k, site) in self.sides[self.at].sites.iter().enumerate() {
            let n = site.series as f64;
            let (c, q) = (site.available, site.charge);
            let (d, s) = (states[site.first + DEPTH], states[site.first + IMBALANCE]);
            out.drive[site.first + IMBALANCE] = out.drive[site.first + DEPTH] / c;
            out.drive[site.first + DEPTH] += site.own;
            out.drive[site.first + AGED] = site.ageing;
            let at_surface = self.mean_open[k].1;
            let inside = site.model.open_circuit_volts(d - c * s).0;
            let lines = &mut out.watts[k * CELL_LINES.len()..];
            lines[3] += n * c * (1.0 - c) * q * site.rate * s * (inside - at_surface);
            lines[4] += n * q * site.own * (c * at_surface + (1.0 - c) * inside);
            for &task in &self.schedule.mixes[mix].active {
                let first = self.schedule.tasks[task].first_step;
                for g in first..first + self.schedule.tasks[task].steps.len() {
                    self.excess[k][g] = self.amps[self.schedule.steps[g]][k] - self.amps[0][k];
                }
            }
        }
        self.drive_films(mix, states, out);
    }

    /// Place of the state that a load is in.
    pub(crate) fn state_of(&self, joint: usize, name: &str, load: &Load) -> usize {
        let set = self.schedule.joints[joint].set.get(name);
        let state = set.or_else(|| self.situation.states.get(name));
        state.and_then(|s| load.state(s)).unwrap_or(0)
    }
}

impl Mean {
    fn clear(&mut self, states: usize, lines: usize, sites: usize) {
        for (list, len) in [
            (&mut self.drive, states),
            (&mut self.watts, lines),
            (&mut self.amps, sites),
        ] {
            list.clear();
            list.resize(len, 0.0);
        }
    }
}
