//! Follows a board from fresh to its end.
//!
//! Without windows the mean drive of all tasks is followed step by step. With windows each stretch
//! between their edges is followed so, and whole cycles are leapt over (see `leap`). Needs are looked
//! at after every step, so at every window edge, in the worst coincidence of tasks; the end is the
//! root of the margin inside the step in which it changes sign. Where temperatures follow a calendar,
//! each stretch has its own, and the edges of months are landed on.

use crate::circuit::NoPoint;
use crate::progress::Progress;
use crate::quantity::YEAR_SECS;
use crate::time::climate::Course;
use crate::time::engine::{Engine, Mean};
use crate::time::margin::{Margin, Need};
use crate::time::port::Halt;
use crate::time::ports::Which;
use crate::time::step::{Past, Step, Tolerance};
use crate::time::trace::Sampler;
use crate::time::{ColdNight, Trace};

/// Nothing is followed for longer.
pub(crate) const HORIZON_SECS: f64 = 100.0 * YEAR_SECS;
/// First step as a share of the time that the drive would take to empty a cell.
const FIRST_SHARE: f64 = 1e-4;

/// Where a life has come to.
#[derive(Debug, Clone)]
pub(crate) struct Now {
    pub(crate) secs: f64,
    pub(crate) states: Vec<f64>,
    /// Energy by line.
    pub(crate) joules: Vec<f64>,
    /// Charge given by each cell part, without self-discharge.
    pub(crate) coulombs: Vec<f64>,
    /// After the first failure: time in which a need was not met.
    pub(crate) below_secs: f64,
    /// After the first failure: the last instant at which all needs were met.
    pub(crate) good_secs: Option<f64>,
}

/// A life on its way.
pub(crate) struct Run<'p, 'a, 'c, 'f> {
    pub(crate) engine: Engine<'a, 'c, 'f>,
    pub(crate) progress: &'p dyn Progress,
    pub(crate) now: Now,
    pub(crate) course: Course,
    /// Months that are over.
    pub(crate) month: usize,
    /// The stretch of the cycle that is under way, and what is left of it.
    pub(crate) under_way: (usize, f64),
    /// Steps taken after the first failure.
    pub(crate) drained_steps: usize,
    /// The cells as they came from the shelf.
    pub(crate) start_states: Vec<f64>,
    /// Depth after the time on the shelf.
    pub(crate) start_depth: f64,
    /// Energy of the cells at the start.
    pub(crate) full_joules: f64,
    /// The step to try next, by regime.
    pub(crate) spans: Vec<f64>,
    pub(crate) past: Past,
    pub(crate) step: Step,
    pub(crate) cold_night: Option<ColdNight>,
    pub(crate) sampler: Sampler,
    /// What one cycle of windows draws about.
    pub(crate) cycle_depth: f64,
    /// Sum of the estimated errors in depth.
    pub(crate) depth_error: f64,
    /// Seconds by which the end moves for the uncertainty of voltages.
    pub(crate) voltage_secs: f64,
    /// Seconds to which the worst phase of slow tasks was searched.
    pub(crate) phase_secs: f64,
}

/// How a stretch of time is followed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Gear {
    /// Its events are landed on and noted.
    Live,
    /// It only says whether anything happens.
    Trial,
}

/// How a stretch of time ended.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Passage {
    /// At its end.
    Through,
    /// With a need that is no longer met, in a mix of tasks.
    Over(Margin, usize),
    /// On trial: a need that a cold night would not meet any more.
    Night,
    /// The work was told to stop.
    Cancelled,
}

/// A mix of tasks for a time.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stretch {
    pub(crate) regime: usize,
    pub(crate) mix: usize,
    pub(crate) secs: f64,
    pub(crate) tolerance: Tolerance,
    pub(crate) gear: Gear,
}

impl<'p, 'a, 'c, 'f> Run<'p, 'a, 'c, 'f> {
    /// A life that begins after a time on the shelf.
    pub(crate) fn new(
        engine: Engine<'a, 'c, 'f>,
        course: Course,
        shelf_secs: f64,
        progress: &'p dyn Progress,
    ) -> Self {
        let states = engine.shelved(shelf_secs);
        let full_joules = engine.stored_joules(&states);
        let first = &engine.schedule.regimes[0];
        Self {
            now: Now {
                secs: 0.0,
                joules: vec![0.0; engine.lines.names.len()],
                coulombs: vec![0.0; engine.sites().len()],
                below_secs: 0.0,
                good_secs: None,
                states: states.clone(),
            },
            month: 0,
            drained_steps: 0,
            under_way: (0, first.secs),
            start_states: states.clone(),
            start_depth: engine.depth(&states),
            course,
            full_joules,
            spans: vec![f64::INFINITY; engine.schedule.regimes.len()],
            past: Past::default(),
            step: Step::default(),
            cold_night: None,
            sampler: Sampler::default(),
            cycle_depth: 0.0,
            depth_error: 0.0,
            voltage_secs: 0.0,
            phase_secs: 0.0,
            engine,
            progress,
        }
    }

    /// Follows the life; says which need ended it, in which mix of tasks.
    pub(crate) fn follow(&mut self) -> Result<Option<(Margin, usize)>, NoPoint> {
        let mix = self.engine.schedule.regimes[0].mix;
        self.turn_to(0);
        // Twice, so that the ripples of the tasks are known.
        let mut mean = Mean::default();
        for _ in 0..2 {
            match self.engine.mean(mix, &self.now.states, &mut mean) {
                Ok(()) | Err(Halt::Stops { .. }) => {}
                Err(Halt::NoPoint(error)) => return Err(error),
            }
        }
        self.sample()?;
        let first = self.engine.margin(mix, &self.now.states, false)?;
        if first.volts < 0.0 {
            return Ok(Some((first, mix)));
        }
        self.look_at_night(mix)?;
        let passage = if self.engine.schedule.regimes.len() > 1 {
            self.cycles()?
        } else {
            let tolerance = Tolerance::of_life(self.full_joules);
            self.under_way = (0, HORIZON_SECS);
            self.finish_cycle(tolerance)?
        };
        Ok(match passage {
            Passage::Over(margin, mix) => Some((margin, mix)),
            _ => None,
        })
    }

    pub(crate) fn trace(&self) -> Trace {
        self.sampler.trace()
    }

    /// Notes the voltages of this instant, whichever tasks are active and at the temperatures of its
    /// day.
    pub(crate) fn sample(&mut self) -> Result<(), NoPoint> {
        if self.is_draining() {
            return Ok(());
        }
        let mut found: Option<[f64; 4]> = None;
        let held = self.engine.which();
        let mut seen = Vec::new();
        for at in 0..self.engine.schedule.regimes.len() {
            self.turn_to(at);
            let mix = self.engine.schedule.regimes[at].mix;
            if seen.contains(&(mix, self.engine.which())) {
                continue;
            }
            seen.push((mix, self.engine.which()));
            self.engine.margin(mix, &self.now.states, false)?;
            found = match (found, self.engine.volts) {
                (Some(f), Some(v)) => Some([f[0], f[1], f[2].min(v[2]), f[3].min(v[3])]),
                (f, v) => f.or(v),
            };
        }
        if let Which::Course(place) = held {
            self.engine.turn_to(place);
        }
        self.note(found);
        Ok(())
    }

    fn note(&mut self, volts: Option<[f64; 4]>) {
        if let Some(volts) = volts {
            let depth = self.engine.depth(&self.now.states);
            self.sampler.note(self.now.secs, depth, volts);
        }
    }

    /// Notes when one cold night would be the end.
    fn look_at_night(&mut self, mix: usize) -> Result<(), NoPoint> {
        if self.engine.ports.has_night()
            && self.cold_night.is_none()
            && self.engine.margin(mix, &self.now.states, true)?.volts < 0.0
        {
            self.note_night();
        }
        Ok(())
    }

    fn note_night(&mut self) {
        self.cold_night = Some(ColdNight {
            time_secs: self.now.secs,
            depth: self.engine.depth(&self.now.states),
        });
    }

    /// Follows one mix of tasks for a time.
    pub(crate) fn pass(&mut self, stretch: Stretch) -> Result<Passage, NoPoint> {
        if self.is_draining() {
            return self.drain(stretch);
        }
        let mut first = Mean::default();
        let mut before = self.engine.margin(stretch.mix, &self.now.states, false)?;
        if before.volts < 0.0 {
            return Ok(Passage::Over(before, stretch.mix));
        }
        if let Some(over) = self.drive(stretch.mix, &mut first)? {
            return Ok(over);
        }
        let end_secs = self.now.secs + stretch.secs;
        self.past.forget();
        let mut opening = true;
        while end_secs - self.now.secs > 1e-12 * end_secs {
            if stretch.gear == Gear::Live {
                self.progress
                    .at(self.engine.depth(&self.now.states).clamp(0.0, 1.0));
            }
            if self.progress.cancelled() {
                return Ok(Passage::Cancelled);
            }
            let Some(span) = self.good_step(stretch, &first, end_secs)? else {
                let stuck = self.stuck(stretch.mix, before);
                return Ok(Passage::Over(stuck, stretch.mix));
            };
            let after = self
                .engine
                .margin(stretch.mix, &self.step.states[1], false)?;
            let volts = self.engine.volts;
            if after.volts < 0.0 {
                return match stretch.gear {
                    Gear::Trial => Ok(Passage::Over(after, stretch.mix)),
                    Gear::Live => self.land(stretch, &first, before, after, span),
                };
            }
            if self.engine.ports.has_night() && self.cold_night.is_none() {
                let states = &self.step.states[1];
                if self.engine.margin(stretch.mix, states, true)?.volts < 0.0 {
                    if stretch.gear == Gear::Trial {
                        return Ok(Passage::Night);
                    }
                    self.land_night(stretch, &first, span)?;
                }
            }
            self.accept(&first, span);
            self.past.remember(span, &first, &self.step);
            first.clone_from(&self.step.means[1]);
            if stretch.gear == Gear::Live {
                self.renew_rates(stretch.mix, &mut first);
            }
            before = after;
            if opening {
                self.spans[stretch.regime] = span;
                opening = false;
            }
            if stretch.gear == Gear::Live {
                self.note(volts);
            }
        }
        Ok(Passage::Through)
    }

    /// Takes the rates of films anew where currents have moved away from them.
    fn renew_rates(&mut self, mix: usize, first: &mut Mean) {
        let changes = self.engine.renew_rates(mix);
        self.past.shift(&changes, &self.now.states);
        for (k, by) in changes {
            first.drive[k] += by * self.now.states[k];
        }
    }

    /// The mean drive here; a board that stops without a step is over.
    fn drive(&mut self, mix: usize, mean: &mut Mean) -> Result<Option<Passage>, NoPoint> {
        match self.engine.mean(mix, &self.now.states, mean) {
            Ok(()) => Ok(None),
            Err(Halt::NoPoint(error)) => Err(error),
            Err(Halt::Stops { short_volts, .. }) => {
                let nowhere = Margin {
                    volts: -short_volts,
                    need: Need::Charge(0),
                    joint: 0,
                    place: 0,
                };
                let margin = Margin {
                    volts: -short_volts,
                    ..self.stuck(mix, nowhere)
                };
                Ok(Some(Passage::Over(margin, mix)))
            }
        }
    }

    /// The margin of a board of which no further step is known: what gave up in the last look beyond.
    fn stuck(&self, mix: usize, before: Margin) -> Margin {
        let mut margin = Margin {
            volts: 0.0,
            ..before
        };
        if let Some((joint, what)) = self.engine.halted {
            let mut worst = self.engine.schedule.mixes[mix].worst.iter();
            if let Some(place) = worst.position(|&at| at == joint) {
                (margin.need, margin.joint, margin.place) = (Need::Running(what), joint, place);
            }
        }
        margin
    }

    /// Finds a step that is exact enough; none where even the shortest leads nowhere.
    pub(crate) fn good_step(
        &mut self,
        stretch: Stretch,
        first: &Mean,
        end_secs: f64,
    ) -> Result<Option<f64>, NoPoint> {
        let rest = end_secs - self.now.secs;
        let longest = self.engine.longest_step(&self.now.states, first);
        let mut span = self.step.next_span(self.past.span()).unwrap_or_else(|| {
            let hint = self.spans[stretch.regime];
            if hint.is_finite() {
                hint * 1.5
            } else {
                self.first_span(first, stretch.secs)
            }
        });
        span = span.min(longest).min(rest);
        if rest - span < 0.2 * span {
            span = if rest <= longest { rest } else { rest / 2.0 };
        }
        let shortest = 1e-12 * self.now.secs.max(1e-3);
        self.engine.halted = None;
        loop {
            let states = &self.now.states;
            let taken =
                self.engine
                    .step(stretch.mix, states, first, span, &self.past, &mut self.step);
            let error = match taken {
                Ok(true) => {
                    let step = &self.step;
                    self.engine
                        .error(states, first, step, span, stretch.tolerance)
                }
                Ok(false) | Err(Halt::Stops { .. }) => f64::INFINITY,
                Err(Halt::NoPoint(error)) => return Err(error),
            };
            if error <= 1.0 || (error.is_finite() && span * 0.3 <= shortest) {
                self.step.grow(span, error);
                return Ok(Some(span));
            }
            span *= shrink(error);
            if span <= shortest {
                return Ok(None);
            }
        }
    }

    fn first_span(&self, first: &Mean, secs: f64) -> f64 {
        let sites = self.engine.sites().iter();
        let rate = sites.map(|s| first.drive[s.first]).fold(0.0, f64::max);
        let whole = if rate > 0.0 { 1.0 / rate } else { secs };
        FIRST_SHARE * whole.min(1e3 * secs)
    }

    pub(crate) fn accept(&mut self, first: &Mean, span: f64) {
        let step = &self.step;
        self.now.secs += span;
        self.now.states.clone_from(&step.states[1]);
        Engine::add_joules(first, step, span, &mut self.now.joules);
        let [mid, end] = &step.means;
        for (k, coulombs) in self.now.coulombs.iter_mut().enumerate() {
            *coulombs += span / 6.0 * (first.amps[k] + 4.0 * mid.amps[k] + end.amps[k]);
        }
        self.depth_error += step.depth_error;
    }
}

/// Factor on a step that was not exact enough; the error is of the fourth order.
fn shrink(error: f64) -> f64 {
    if error.is_finite() {
        (0.85 / error.sqrt().sqrt()).clamp(0.1, 0.8)
    } else {
        0.3
    }
}
