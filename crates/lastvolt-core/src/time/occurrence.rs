//! One occurrence of tasks that coincide, followed as a waveform through the whole circuit.
//!
//! The static end of a burst knows no capacitor and no answer of a regulator. Here the burst is
//! followed from the states that the cells have when it begins, with capacitors where they have
//! settled over many intervals.

use crate::circuit::{Circuit, Situation};
use crate::device::CellState;
use crate::model::{Device, Law, Load, Part};
use crate::progress::Silent;
use crate::time::burst::{Begin, BurstRequest, NoWave, Stretch, Waveform, burst};
use crate::time::schedule::{NS, Schedule};

/// Tasks with the seconds from the first start to each start.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Occurrence {
    pub(crate) tasks: Vec<(usize, f64)>,
    stretches: Vec<Stretch>,
    /// Seconds until it is over.
    busy_secs: f64,
    /// Seconds until the first of its tasks comes again.
    every_secs: f64,
}

/// How a load fared, the worst of all states.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Fared {
    /// Place of the load.
    pub(crate) load: usize,
    /// By how much it stayed above its working range; negative where it fell below.
    pub(crate) spare_volts: f64,
    /// Its lowest voltage.
    pub(crate) volts: f64,
}

/// What a burst misses by in which a converter loses its input.
const FALLEN_VOLTS: f64 = 1e-3;
/// A load this far below its working range fails, however the burst goes on.
const ENOUGH_VOLTS: f64 = 0.05;
/// Voltage that a capacitor may miss after an interval and still count as settled.
const SETTLED_VOLTS: f64 = 2e-4;
/// Intervals that are followed at most to find where capacitors settle.
const MOST_INTERVALS: usize = 6;
/// How long the board is looked at after the last edge.
const AFTER_NS: u64 = 1_000;
/// A time constant shorter than this share of what is quiet has settled.
const QUIET_SHARE: f64 = 0.05;

impl Occurrence {
    /// The tasks of a joint state, started so that its steps end together.
    pub(crate) fn new(schedule: &Schedule, joint: usize) -> Option<Self> {
        let steps = &schedule.joints[joint].steps;
        let ends = steps.iter().map(|&(t, s)| schedule.tasks[t].interval(s).1);
        let latest = ends.clone().fold(0.0, f64::max);
        // A task alone is the same occurrence whichever of its steps is looked at.
        let tasks: Vec<(usize, f64)> = match steps.as_slice() {
            [] => return None,
            [(task, _)] => vec![(*task, 0.0)],
            _ => steps
                .iter()
                .zip(ends)
                .map(|(s, end)| (s.0, latest - end))
                .collect(),
        };
        let busy = |&(t, start): &(usize, f64)| start + schedule.tasks[t].busy_secs();
        let every = tasks.iter().map(|&(t, _)| schedule.tasks[t].every_secs);
        Some(Self {
            stretches: stretches(schedule, &tasks),
            busy_secs: tasks.iter().map(busy).fold(0.0, f64::max),
            every_secs: every.fold(f64::INFINITY, f64::min),
            tasks,
        })
    }

    /// Mean power that its states ask for by their laws, at the lowest voltage at which they work.
    pub(crate) fn asked_watts(&self, loads: &[(String, &Load)]) -> f64 {
        let watts = |name: &String, state: &String| -> f64 {
            let Some((_, load)) = loads.iter().find(|(n, _)| n == name) else {
                return 0.0;
            };
            let Some(at) = load.state(state) else {
                return 0.0;
            };
            let volts = load
                .working_in(at)
                .map_or(1.0, |range| range.from.as_volts());
            match load.states[at].law {
                Law::Current(amps) => amps.si() * volts,
                Law::Power(watts) => watts.si(),
                Law::Resistance(ohms) => volts * volts / ohms.si().max(1e-3),
            }
        };
        let each = self.stretches.iter().map(|stretch| {
            let states = stretch
                .states
                .iter()
                .map(|(load, state)| watts(load, state));
            stretch.span_ns as f64 * NS * states.sum::<f64>()
        });
        each.sum::<f64>() / self.every_secs
    }

    /// Follows it from cells as they are when it begins, while the voltage of a capacitor beside them
    /// drifts away slowly.
    pub(crate) fn follow(
        &self,
        circuit: &Circuit,
        situation: &Situation,
        cells: &[Vec<CellState>],
        drift_volts_per_sec: f64,
    ) -> Result<Waveform, NoWave> {
        let mut request = BurstRequest {
            situation: situation.clone(),
            cells: Some(cells.to_vec()),
            begin: Begin::Settled,
            capacitors: Vec::new(),
            stretches: self.stretches.clone(),
            enough_volts: Some(ENOUGH_VOLTS),
        };
        let quiet = self.every_secs - self.busy_secs;
        if quiet <= 0.0 || !self.outlasts(circuit, cells, situation, quiet) {
            return burst(circuit, &request, &Silent);
        }
        self.settle(circuit, &mut request, drift_volts_per_sec)
    }

    /// Whether a capacitor can remember an occurrence until the next.
    fn outlasts(
        &self,
        circuit: &Circuit,
        cells: &[Vec<CellState>],
        situation: &Situation,
        quiet: f64,
    ) -> bool {
        let parts = circuit.parts();
        let farads = parts.iter().map(|(_, part)| match &part.device {
            Device::Capacitor(c) => c.value.si(),
            _ => 0.0,
        });
        let celsius = situation.ambient.as_celsius();
        let mut ohms: f64 = 0.0;
        let mut next = cells.iter();
        for (_, part) in &parts {
            if let Device::Cell(cell) = &part.device
                && let Some(states) = next.next()
            {
                let each = states.iter().map(|s| {
                    let x = cell.model.surface(s.depth, s.imbalance);
                    let ohms = cell.model.resistance_ohms(x, celsius, s.aged);
                    ohms + cell.model.film_ohms(s.film) + cell.holder.contact.si()
                });
                ohms = ohms.max(each.sum());
            }
        }
        farads.sum::<f64>() * ohms.max(1.0) > QUIET_SHARE * quiet
    }

    /// Follows intervals until the capacitors come back to where they were; two of them foretell the
    /// rest, since what is left shrinks by the same share each time.
    fn settle(
        &self,
        circuit: &Circuit,
        request: &mut BurstRequest,
        drift_volts_per_sec: f64,
    ) -> Result<Waveform, NoWave> {
        let quiet = self.every_secs - self.busy_secs;
        request.stretches.push(Stretch::quiet(
            ((quiet / NS).round() as u64).saturating_sub(AFTER_NS),
        ));
        let slow = slow_capacitors(circuit);
        let drift = |name: &str| {
            let is_slow = slow.iter().any(|s| s == name);
            if is_slow {
                drift_volts_per_sec * self.every_secs
            } else {
                0.0
            }
        };
        let mut before: Option<Vec<f64>> = None;
        let mut time_secs = 0.0;
        for _ in 0..MOST_INTERVALS {
            let wave = burst(circuit, request, &Silent)?;
            let mut needs = wave.needs.iter();
            if wave.lost_input || needs.any(|n| n.lowest_volts < n.from_volts - ENOUGH_VOLTS) {
                return Ok(wave);
            }
            let pairs = wave.capacitors_before.iter().zip(&wave.capacitors_after);
            let moved = pairs.map(|((name, from), (_, to))| to - from - drift(name));
            let moved: Vec<f64> = moved.collect();
            let worst = moved.iter().fold(0.0_f64, |m, d| m.max(d.abs()));
            let from = wave.capacitors_before.iter().enumerate();
            let goes_to = from.map(|(k, (name, volts))| {
                let share = before.as_ref().map_or(0.0, |b| moved[k] / b[k]);
                let rest = if (0.0..0.9999).contains(&share) {
                    1.0 - share
                } else {
                    1.0
                };
                (name.clone(), volts + moved[k] / rest)
            });
            request.capacitors = goes_to.collect();
            before = if before.is_some() { None } else { Some(moved) };
            if worst <= SETTLED_VOLTS {
                return Ok(wave);
            }
            time_secs = wave.time_secs.last().copied().unwrap_or(0.0);
        }
        // Where capacitors settle is not known: the static end stands, and that is said.
        Err(NoWave::Stuck { time_secs })
    }
}

/// The capacitors that remember: those of the size of the largest.
fn slow_capacitors(circuit: &Circuit) -> Vec<String> {
    let parts = circuit.parts();
    let farads = |part: &Part| match &part.device {
        Device::Capacitor(c) => c.value.si(),
        _ => 0.0,
    };
    let largest = parts.iter().map(|(_, p)| farads(p)).fold(0.0, f64::max);
    let slow = parts.iter().filter(|(_, p)| farads(p) > 0.1 * largest);
    slow.map(|(name, _)| name.clone()).collect()
}

/// What all tasks together put the loads into, from edge to edge.
fn stretches(schedule: &Schedule, tasks: &[(usize, f64)]) -> Vec<Stretch> {
    let ns = |secs: f64| (secs / NS).round() as u64;
    let mut steps: Vec<(u64, u64, usize)> = Vec::new();
    for &(task, start) in tasks {
        let timed = &schedule.tasks[task];
        for (k, &(_, joint)) in timed.steps.iter().enumerate() {
            let (from, to) = timed.interval(k);
            steps.push((ns(start + from), ns(start + to), joint));
        }
    }
    let mut edges: Vec<u64> = steps.iter().flat_map(|s| [s.0, s.1]).collect();
    edges.sort_unstable();
    edges.dedup();
    let pairs = edges.windows(2);
    // The instant after the last edge is in it too: a load may need more between tasks.
    let after = Stretch::quiet(AFTER_NS);
    let during = pairs.map(|pair| {
        let active = steps.iter().filter(|s| s.0 <= pair[0] && pair[1] <= s.1);
        let set = active.flat_map(|s| schedule.joints[s.2].set.iter());
        Stretch {
            states: set.map(|(l, s)| (l.clone(), s.clone())).collect(),
            ..Stretch::quiet(pair[1] - pair[0])
        }
    });
    during.chain([after]).collect()
}

/// The load that fared worst in a waveform, by what is left above its working range.
pub(crate) fn worst(wave: &Waveform, loads: &[String]) -> Option<Fared> {
    let each = wave.needs.iter().filter_map(|need| {
        let load = loads.iter().position(|name| *name == need.load)?;
        let spare = need.lowest_volts - need.from_volts;
        Some(Fared {
            load,
            // In reset a load fails whatever its voltage is. A converter that falls off comes back
            // after a start of its own, which is longer than a burst: it counts as stopped.
            spare_volts: if wave.lost_input {
                spare.min(-FALLEN_VOLTS)
            } else if need.below_secs > 0.0 {
                spare.min(-1e-12)
            } else {
                spare
            },
            volts: need.lowest_volts,
        })
    });
    each.min_by(|a, b| a.spare_volts.total_cmp(&b.spare_volts))
}
