//! Steps a circuit from edge to edge and from trip to trip.

use crate::circuit::{Circuit, Situation, Transient, Trip};
use crate::model::Device;
use crate::numerics::root::bracketed;
use crate::numerics::stiff::{StiffStep, next_step_factor};
use crate::progress::Progress;
use crate::time::burst::hiccup::Cycles;
use crate::time::burst::wave::{Recorder, Waveform, name_of};
use crate::time::burst::{Begin, BurstRequest, Closely, NoWave};

/// Nanoseconds in a second.
const NANOS: f64 = 1e9;
/// First step after an edge or a trip.
const FIRST_STEP: f64 = 1e-8;
/// Steps below this lead nowhere.
const LEAST_STEP: f64 = 1e-14;
/// To how many seconds the instant of a trip is found.
const TRIP_SECS: f64 = 1e-10;
/// Largest share of a stretch in one step, so that a line through the instants looks like the curve.
const LARGEST_SHARE: f64 = 0.1;
/// Where in a step instants are kept besides its end, where a straight line would not do.
const WITHIN: [f64; 3] = [0.2, 0.45, 0.7];
/// Trips within [`RATTLE_SECS`] from which on a circuit counts as oscillating without end.
const MOST_TRIPS: usize = 60;
const RATTLE_SECS: f64 = 1e-7;
/// Time that a load switch or an ideal diode takes to go on or off at least (common practice: tens to
/// hundreds of microseconds). Without it one that fills an empty capacitor would pull its own input
/// down, fall off, and come on again in no time.
const DWELL_SECS: f64 = 100e-6;
/// Trips of one waveform at most.
const MOST_TRIPS_IN_ALL: usize = 20_000;

/// A time of the schedule in seconds: divided, so that whole seconds are whole.
#[expect(clippy::cast_precision_loss, reason = "nanoseconds of schedules")]
pub(super) fn secs(nanos: u64) -> f64 {
    nanos as f64 / NANOS
}

/// A circuit on its way.
pub(super) struct Follow<'c, 'f, 'r> {
    circuit: &'c Circuit<'f>,
    request: &'r BurstRequest,
    now: Transient<'c, 'f>,
    progress: &'r dyn Progress,
    secs: f64,
    step: StiffStep,
    span: f64,
    closely: Option<Closely>,
    /// By load: the stretch of its boot sequence and when that ends.
    boots: Vec<Option<(usize, f64)>>,
    trips: Vec<(Trip, f64)>,
    scratch: Vec<(Trip, f64)>,
    recent_trips: Vec<f64>,
    /// Parts that have just gone on or off, and until when they stay so.
    dwelling: Vec<(usize, f64)>,
    recorder: Recorder,
    cycles: Cycles,
}

impl<'c, 'f, 'r> Follow<'c, 'f, 'r> {
    pub(super) fn new(
        circuit: &'c Circuit<'f>,
        request: &'r BurstRequest,
        now: Transient<'c, 'f>,
        progress: &'r dyn Progress,
    ) -> Self {
        Self {
            step: StiffStep::new(now.rates.clone()),
            span: FIRST_STEP,
            closely: None,
            boots: vec![None; circuit.loads().len()],
            trips: Vec::new(),
            scratch: Vec::new(),
            recent_trips: Vec::new(),
            dwelling: Vec::new(),
            recorder: Recorder::new(circuit, request, &now),
            cycles: Cycles::default(),
            secs: 0.0,
            circuit,
            request,
            now,
            progress,
        }
    }

    /// Takes short steps in a stretch of time.
    pub(super) fn closely(mut self, closely: Option<Closely>) -> Self {
        self.closely = closely;
        self
    }

    /// Goes through all stretches.
    pub(super) fn run(mut self) -> Result<Waveform, NoWave> {
        let whole: u64 = self.request.stretches.iter().map(|s| s.span_ns).sum();
        let whole_secs = secs(whole);
        self.record()?;
        let mut end_ns = 0;
        for at in 0..self.request.stretches.len() {
            end_ns += self.request.stretches[at].span_ns;
            self.enter(at)?;
            if self.stretch(secs(end_ns), whole_secs)? {
                break;
            }
        }
        Ok(self
            .recorder
            .finish(self.circuit, &self.now, self.cycles.found()))
    }

    /// Puts the circuit into the states and positions of a stretch.
    fn enter(&mut self, at: usize) -> Result<(), NoWave> {
        let situation = self.situation_of(at);
        let plugged = at == 0 && self.request.begin == Begin::Discharged;
        self.recorder.stretch(self.circuit, &situation);
        if plugged || situation != self.now.situation {
            let switched = plugged || situation.positions != self.now.situation.positions;
            self.now.enter(&situation)?;
            self.recorder.edge(self.secs, switched);
            self.record()?;
        }
        self.settle_trips()
    }

    fn situation_of(&self, at: usize) -> Situation {
        let stretch = &self.request.stretches[at];
        let mut situation = self.request.situation.clone();
        situation.states.extend(stretch.states.iter().cloned());
        situation
            .positions
            .extend(stretch.positions.iter().cloned());
        situation
    }

    /// Follows one stretch; true where going on would only repeat what was seen.
    fn stretch(&mut self, end: f64, whole_secs: f64) -> Result<bool, NoWave> {
        let share = LARGEST_SHARE * (end - self.secs);
        self.begin_again();
        while self.secs < end {
            let closely = self.closely.map(|c| c.longest(self.secs));
            let longest = closely.map_or(share, |short| short.min(share));
            self.progress.at((self.secs / whole_secs).min(1.0));
            if self.progress.cancelled() {
                let time_secs = self.secs;
                return Err(NoWave::Cancelled { time_secs });
            }
            let booted = self.boots.iter().flatten().map(|b| b.1);
            let dwelt = self.dwelling.iter().map(|d| d.1);
            let edge = booted.chain(dwelt).fold(end, f64::min);
            if self.step_towards(edge, longest)? {
                self.settle_trips()?;
                if self.cycles.is_closed() {
                    return Ok(true);
                }
            }
            if self.secs >= edge && edge < end {
                let now = self.secs;
                self.dwelling.retain(|d| now < d.1);
                self.next_boot_step()?;
            }
            let enough = self.request.enough_volts;
            let is_over = |enough: f64| {
                self.recorder.has_lost_input() || self.recorder.spare_volts() < -enough
            };
            if enough.is_some_and(is_over) {
                return Ok(true);
            }
        }
        Ok(false)
    }

    fn begin_again(&mut self) {
        self.step.restart(&self.now.rates);
        self.span = FIRST_STEP;
        let x = &self.now.frame.x;
        self.now.trips(x, &mut self.trips);
    }

    /// Takes one good step, no further than an edge; true where it ended in a trip, which has happened.
    fn step_towards(&mut self, edge: f64, longest: f64) -> Result<bool, NoWave> {
        let x = self.now.frame.x.clone();
        loop {
            let rest = edge - self.secs;
            let mut span = self.span.min(longest).min(rest);
            // Nothing worth a step is left before the edge.
            if rest - span < 0.1 * span {
                span = rest;
            }
            match self.try_step(&x, span) {
                Some(error) if error <= 1.0 => {
                    let grown = span * next_step_factor(error);
                    if let Some((share, trip)) = self.first_trip() {
                        self.land(&x, share * span, trip)?;
                        return Ok(true);
                    }
                    self.accept(if span >= rest { edge } else { self.secs + span })?;
                    // A step cut short by an edge says little about the next.
                    self.span = grown.max(self.span.min(longest).min(2.0 * span));
                    return Ok(false);
                }
                Some(error) => self.span = span * next_step_factor(error),
                None => self.span = span * 0.2,
            }
            if self.span < LEAST_STEP.max(1e-15 * self.secs) {
                self.now.frame.x.copy_from_slice(&x);
                return self.collapse();
            }
        }
    }

    fn try_step(&mut self, x: &[f64], span: f64) -> Option<f64> {
        self.now.frame.x.copy_from_slice(x);
        self.now.frame.stages.clear();
        self.step.take(&mut self.now.frame, &self.now.y, span)
    }

    /// The first stage of the step at hand at which something has tripped, as its share.
    fn first_trip(&mut self) -> Option<(f64, Trip)> {
        let stages = std::mem::take(&mut self.now.frame.stages);
        let mut found: Option<(f64, Trip)> = None;
        for (share, x) in &stages {
            self.now.trips(x, &mut self.scratch);
            let fallen = self.trips.iter().zip(&self.scratch);
            let fallen = fallen
                .filter(|(before, after)| before.1 > 0.0 && after.1 <= 0.0)
                .filter(|(_, after)| !dwells(&self.dwelling, after.0));
            if let Some((_, (trip, _))) = fallen.min_by(|a, b| a.1.1.total_cmp(&b.1.1))
                && found.is_none_or(|f| *share < f.0)
            {
                found = Some((*share, *trip));
            }
        }
        self.now.frame.stages = stages;
        found
    }

    /// Goes to the instant of a trip within a step and lets it happen.
    fn land(&mut self, x: &[f64], span: f64, trip: Trip) -> Result<(), NoWave> {
        let root = bracketed(|h| self.margin_after(x, h, trip), 0.0, span, TRIP_SECS);
        // A stage lies less exactly than the end of a step: the trip may come a little later.
        let reach = root.map_or(span, |h| h.max(LEAST_STEP));
        if self.try_step(x, reach).is_none() {
            let time_secs = self.secs;
            return Err(NoWave::Stuck { time_secs });
        }
        self.accept(self.secs + reach)?;
        match root {
            Some(_) => self.happen(trip),
            None => Ok(()),
        }
    }

    /// Margin of a trip after a step of a length.
    fn margin_after(&mut self, x: &[f64], span: f64, trip: Trip) -> f64 {
        let margins = if span <= 0.0 {
            &self.trips
        } else if self.try_step(x, span).is_some() {
            self.now.trips(&self.now.frame.x, &mut self.scratch);
            &self.scratch
        } else {
            return f64::NAN;
        };
        let own = margins.iter().find(|(t, _)| *t == trip);
        own.map_or(f64::NAN, |(_, margin)| *margin)
    }

    /// Takes the step at hand.
    fn accept(&mut self, secs: f64) -> Result<(), NoWave> {
        let keeps_all = self.request.enough_volts.is_none();
        if self.recorder.bends(&self.now, keeps_all) {
            self.keep_within(secs);
        }
        self.secs = secs;
        self.now.y.copy_from_slice(&self.step.end);
        self.now.rates.copy_from_slice(self.step.end_rates());
        self.step.accept();
        let x = &self.now.frame.x;
        self.now.trips(x, &mut self.trips);
        self.record()
    }

    /// Keeps instants inside the step at hand: the states lie on the cubic through both ends, and all
    /// else fits them.
    fn keep_within(&mut self, to: f64) {
        let span = to - self.secs;
        let end = self.now.frame.x.clone();
        let mut rates = Vec::new();
        for share in WITHIN {
            let t = share;
            let (to_end, to_start) = (t * t * (3.0 - 2.0 * t), (1.0 - t) * (1.0 - t));
            let ends = self.now.y.iter().zip(&self.step.end);
            let slopes = self.now.rates.iter().zip(self.step.end_rates());
            let states = ends.zip(slopes).map(|((y0, y1), (f0, f1))| {
                y0 + to_end * (y1 - y0) + span * t * (to_start * f0 - t * (1.0 - t) * f1)
            });
            let states: Vec<f64> = states.collect();
            let guess = self.now.frame.x.clone();
            if self.now.frame.fit(&guess, &states, &mut rates) {
                self.recorder
                    .keep(self.secs + t * span, &self.now.frame.x, &self.now);
            }
        }
        self.now.frame.x.copy_from_slice(&end);
    }

    fn record(&mut self) -> Result<(), NoWave> {
        if self.recorder.instant(self.secs, &self.now) {
            return Ok(());
        }
        Err(NoWave::TooLong {
            time_secs: self.secs,
            instants: Recorder::MOST_INSTANTS,
        })
    }

    /// No step leads on: the converter that asks for most falls off.
    fn collapse(&mut self) -> Result<bool, NoWave> {
        let time_secs = self.secs;
        let part = self.now.hungriest().ok_or(NoWave::Stuck { time_secs })?;
        self.happen(Trip::Collapses(part))?;
        Ok(true)
    }

    /// Lets a trip happen and notes it.
    fn happen(&mut self, trip: Trip) -> Result<(), NoWave> {
        self.watch_rattling(trip)?;
        if self.now.loses_input(trip) {
            self.recorder.lose_input();
        }
        self.now.apply(trip)?;
        match trip {
            Trip::Release(load) => self.boot_from(load, 0)?,
            Trip::Reset(load) => self.boots[load] = None,
            _ => {}
        }
        self.recorder.happened(self.secs, trip, self.circuit);
        match passing(trip, self.circuit) {
            Some(part) => self.dwelling.push((part, self.secs + DWELL_SECS)),
            None => self.cycles.note(self.secs, trip, &self.now),
        }
        self.record()?;
        self.begin_again();
        Ok(())
    }

    /// Lets everything happen that an edge or a trip has brought at the same instant.
    fn settle_trips(&mut self) -> Result<(), NoWave> {
        loop {
            if self.request.enough_volts.is_some() && self.recorder.has_lost_input() {
                return Ok(());
            }
            let x = &self.now.frame.x;
            self.now.trips(x, &mut self.scratch);
            let most = self.scratch.iter().filter(|t| t.1 <= 0.0);
            let most = most.filter(|t| !dwells(&self.dwelling, t.0));
            let Some(&(trip, _)) = most.min_by(|a, b| a.1.total_cmp(&b.1)) else {
                return Ok(());
            };
            self.happen(trip)?;
        }
    }

    /// Stops where things switch on and off within no time.
    fn watch_rattling(&mut self, trip: Trip) -> Result<(), NoWave> {
        let now = self.secs;
        self.recent_trips.retain(|t| now - t < RATTLE_SECS);
        self.recent_trips.push(now);
        if self.recent_trips.len() < MOST_TRIPS && self.recorder.trips() < MOST_TRIPS_IN_ALL {
            return Ok(());
        }
        Err(NoWave::Oscillates {
            time_secs: now,
            what: name_of(trip, self.circuit),
        })
    }

    /// Enters a stretch of a load's boot sequence, or ends it.
    fn boot_from(&mut self, load: usize, step: usize) -> Result<(), NoWave> {
        let loads = self.circuit.loads();
        let reset = loads[load].1.reset.as_ref();
        let stretch = reset.and_then(|r| r.boot.get(step));
        match stretch {
            Some(stretch) => {
                self.boots[load] = Some((step, self.secs + stretch.span.as_secs()));
                self.now.boot(load, Some(stretch.current.as_amps()))?;
            }
            None => {
                self.boots[load] = None;
                if step > 0 {
                    self.now.boot(load, None)?;
                }
            }
        }
        Ok(())
    }

    /// The boot step that ends now gives way to the next.
    fn next_boot_step(&mut self) -> Result<(), NoWave> {
        for load in 0..self.boots.len() {
            if let Some((step, end)) = self.boots[load]
                && end <= self.secs
            {
                self.boot_from(load, step + 1)?;
                if self.boots[load].is_none() {
                    self.recorder.booted(self.secs, load, self.circuit);
                }
                self.record()?;
            }
        }
        self.begin_again();
        self.settle_trips()
    }
}

/// The load switch or ideal diode that a trip takes on or off.
fn passing(trip: Trip, circuit: &Circuit) -> Option<usize> {
    let (Trip::On(part) | Trip::Off(part)) = trip else {
        return None;
    };
    let parts = circuit.parts();
    let device = &parts.get(part)?.1.device;
    matches!(device, Device::LoadSwitch(_) | Device::IdealDiode(_)).then_some(part)
}

/// Whether a trip would move a part that has just moved.
fn dwells(dwelling: &[(usize, f64)], trip: Trip) -> bool {
    let (Trip::On(part) | Trip::Off(part)) = trip else {
        return false;
    };
    dwelling.iter().any(|d| d.0 == part)
}
