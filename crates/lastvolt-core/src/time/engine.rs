//! What drives the cells at one instant, averaged over the tasks that are active.
//!
//! # Formula
//! ```text
//! dz/dt = sum over joint states L of w_L f(z + ripple_L, i_L)
//! ```
//! Every state obeys `y' = u - rate y`: depth and age with rate 0, the imbalance of the wells with k,
//! a branch with 1/tau. The mean drive `u` and the power of each line of the ledger come from the
//! same instants, so that the ledger needs no remainder.

use std::collections::BTreeMap;

use crate::model::Load;
use crate::time::port::{Halt, Port, Reading, Wanted};
use crate::time::ripple::Ripple;
use crate::time::schedule::Schedule;
use crate::time::site::{AGED, BRANCH, DEPTH, IMBALANCE, Seen, Site};

/// Lines of the ledger that each cell part has of its own.
pub(crate) const CELL_LINES: [&str; 6] = [
    "resistance",
    "polarisation",
    "activation",
    "mixing",
    "self-discharge",
    "charging",
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
}

/// Names of the ledger's lines and where each power of a reading goes.
#[derive(Debug, Clone)]
pub(crate) struct Lines {
    pub(crate) names: Vec<String>,
    /// By joint state: the line of each power of a reading.
    pub(crate) place: Vec<Vec<usize>>,
}

/// A board with its schedule at one ambient, and a second time at the lowest ambient.
pub(crate) struct Engine<'a, 'c, 'f> {
    pub(crate) schedule: &'a Schedule,
    pub(crate) loads: Vec<(String, &'f Load)>,
    /// State of every load between tasks.
    pub(crate) base_states: &'a BTreeMap<String, String>,
    pub(crate) lines: Lines,
    pub(crate) usual: Side<'c, 'f>,
    pub(crate) night: Option<Side<'c, 'f>>,
    /// By joint state: loads with their working range.
    pub(crate) needs: Vec<Vec<(usize, f64, f64)>>,
    /// By mix, cell part and relaxing state (the wells first, then the branches).
    ripples: Vec<Vec<Vec<Ripple>>>,
    /// By cell part and step: current beyond the base at the last look.
    excess: Vec<Vec<f64>>,
    /// By joint state and cell part: current at the last look.
    amps: Vec<Vec<f64>>,
    /// By cell part: surface depth without ripple and its open-circuit voltage.
    mean_open: Vec<(f64, f64)>,
    pub(crate) seen: Vec<Seen>,
    pub(crate) reading: Reading,
    /// Rate of every state.
    pub(crate) rates: Vec<f64>,
    /// Cell and rail voltage at rest and at their lowest at the last look at a margin.
    pub(crate) volts: Option<[f64; 4]>,
    /// By how much the ends of bursts are looked at lower, to see what that moves.
    pub(crate) lowered_volts: f64,
}

/// A board and its cells at one ambient.
pub(crate) struct Side<'c, 'f> {
    pub(crate) port: Port<'c, 'f>,
    pub(crate) sites: Vec<Site<'f>>,
}

/// Which instant of a joint state.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Instant {
    /// Its mean, at a place among the shares of the mix.
    Mean(usize),
    /// Its end, at a place among the worst of the mix.
    End(usize),
}

impl<'a, 'c, 'f> Engine<'a, 'c, 'f> {
    pub(crate) fn new(
        schedule: &'a Schedule,
        loads: Vec<(String, &'f Load)>,
        base_states: &'a BTreeMap<String, String>,
        lines: Lines,
        usual: Side<'c, 'f>,
        night: Option<Side<'c, 'f>>,
    ) -> Self {
        let ripples = schedule.mixes.iter().map(|mix| {
            let sites = usual.sites.iter();
            sites
                .map(|site| {
                    let rates = site
                        .rates()
                        .enumerate()
                        .filter(|r| r.0 == IMBALANCE || BRANCH <= r.0);
                    rates
                        .map(|(_, rate)| Ripple::new(schedule, mix, rate))
                        .collect()
                })
                .collect()
        });
        let ripples = ripples.collect();
        let sites = usual.sites.len();
        let mut engine = Self {
            needs: Vec::new(),
            ripples,
            excess: vec![vec![0.0; schedule.steps.len()]; sites],
            amps: vec![vec![0.0; sites]; schedule.joints.len()],
            mean_open: Vec::with_capacity(sites),
            seen: vec![Seen::default(); sites],
            reading: Reading::default(),
            rates: usual.sites.iter().flat_map(Site::rates).collect(),
            volts: None,
            lowered_volts: 0.0,
            schedule,
            loads,
            base_states,
            lines,
            usual,
            night,
        };
        engine.needs = (0..schedule.joints.len())
            .map(|j| engine.ranges(j))
            .collect();
        engine
    }

    fn ranges(&self, joint: usize) -> Vec<(usize, f64, f64)> {
        let loads = self.loads.iter().enumerate();
        let working = loads.filter_map(|(at, (name, load))| {
            let range = load.working_in(self.state_of(joint, name, load))?;
            Some((at, range.from.as_volts(), range.to.as_volts()))
        });
        working.collect()
    }

    /// Rested fresh cells.
    pub(crate) fn fresh(&self) -> Vec<f64> {
        vec![0.0; self.rates.len()]
    }

    pub(crate) fn stored_joules(&self, states: &[f64]) -> f64 {
        self.usual
            .sites
            .iter()
            .map(|s| s.stored_joules(states))
            .sum()
    }

    /// Depth of the most used cell.
    pub(crate) fn depth(&self, states: &[f64]) -> f64 {
        let depths = self.usual.sites.iter().map(|s| states[s.first + DEPTH]);
        depths.fold(f64::MIN, f64::max)
    }

    /// The mean drive of a mix.
    pub(crate) fn mean(&mut self, mix: usize, states: &[f64], out: &mut Mean) -> Result<(), Halt> {
        let shares = &self.schedule.mixes[mix].shares;
        out.clear(
            self.rates.len(),
            self.lines.names.len(),
            self.usual.sites.len(),
        );
        self.mean_open.clear();
        self.mean_open.extend(self.usual.sites.iter().map(|site| {
            let x = site.surface(states);
            (x, site.model.open_circuit_volts(x).0)
        }));
        for (at, &(joint, share)) in shares.iter().enumerate() {
            self.look(mix, Instant::Mean(at), joint, states, false)?;
            self.amps[joint].copy_from_slice(&self.reading.amps);
            for (power, &line) in self.reading.data.iter().zip(&self.lines.place[joint]) {
                out.watts[line] += share * power;
            }
            for k in 0..self.usual.sites.len() {
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
        let side = match (&mut self.night, cold) {
            (Some(night), true) => night,
            _ => &mut self.usual,
        };
        for (k, site) in side.sites.iter().enumerate() {
            let seen = &mut self.seen[k];
            site.see(states, seen);
            if cold {
                for (volts, factor) in seen.branch_volts.iter_mut().zip(&site.night) {
                    *volts *= factor;
                }
            }
            let ripples = &self.ripples[mix][k];
            let sum = |n: usize| {
                let (Instant::Mean(at) | Instant::End(at)) = instant;
                let weights = match instant {
                    Instant::Mean(_) => &ripples[n].mean[at],
                    Instant::End(_) => &ripples[n].end[at],
                };
                let each = weights.iter().map(|&(g, w)| w * self.excess[k][g]);
                each.sum::<f64>()
            };
            if site.rate > 0.0 {
                seen.imbalance += sum(0) / (site.available * site.charge * site.rate);
            }
            site.settle(seen);
            let ohms = seen.ohms;
            for (n, (volts, branch)) in seen.branch_volts.iter_mut().zip(&site.branches).enumerate()
            {
                *volts += branch.0 * ohms * sum(n + 1);
            }
            seen.branches_volts = seen.branch_volts.iter().sum();
            if matches!(instant, Instant::End(_)) {
                seen.open_volts -= self.lowered_volts;
            }
        }
        let wanted = match instant {
            Instant::Mean(_) => Wanted::Powers,
            Instant::End(_) => Wanted::Rails,
        };
        side.port
            .read(joint, &side.sites, &self.seen, wanted, &mut self.reading)
    }

    /// Adds one joint state's drive of a cell part and what is lost in it.
    fn add_cell(&self, k: usize, share: f64, out: &mut Mean) {
        let (site, seen, amps) = (&self.usual.sites[k], &self.seen[k], self.reading.amps[k]);
        let n = site.series as f64;
        let drawn = site.drawn(amps);
        out.amps[k] += share * amps;
        out.drive[site.first + DEPTH] += share * drawn / site.charge;
        let drop = seen.ohms * amps;
        for (b, &(ratio, tau)) in site.branches.iter().enumerate() {
            out.drive[site.first + BRANCH + b] += share * ratio * drop / tau;
        }
        let lines = &mut out.watts[k * CELL_LINES.len()..];
        lines[0] += share * n * drop * amps;
        lines[1] += share * n * seen.branches_volts * amps;
        lines[2] += share * n * site.model.activation_volts(amps).0 * amps;
        // What goes into a primary cell becomes heat: it does not come back.
        lines[5] += share * n * seen.open_volts * (drawn - amps);
        // A periodic ripple of the wells returns to where it began, so what the current loses by it
        // is lost in mixing.
        let (mean_x, mean_open) = self.mean_open[k];
        if mean_x != seen.surface {
            let gap = mean_open - seen.open_volts;
            lines[3] += share * n * drawn * gap;
        }
    }

    /// Wells, self-discharge and age; remembers the currents of steps beyond the base.
    fn finish_mean(&mut self, mix: usize, states: &[f64], out: &mut Mean) {
        for (k, site) in self.usual.sites.iter().enumerate() {
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
    }

    /// Place of the state that a load is in.
    pub(crate) fn state_of(&self, joint: usize, name: &str, load: &Load) -> usize {
        let set = self.schedule.joints[joint].set.get(name);
        let state = set.or_else(|| self.base_states.get(name));
        state.and_then(|s| load.state(s)).unwrap_or(0)
    }

    /// Operating points solved so far.
    pub(crate) fn solved(&self) -> usize {
        let night = self.night.as_ref().map_or(0, |n| n.port.solved());
        self.usual.port.solved() + night
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
