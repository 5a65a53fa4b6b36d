//! Follows a board from fresh to its end.
//!
//! Without windows the mean drive of all tasks is followed step by step. With windows each stretch
//! between their edges is followed so, and whole cycles are leapt over (see `leap`). Needs are looked
//! at after every step, so at every window edge, in the worst coincidence of tasks; the end is the
//! root of the margin inside the step in which it changes sign.

use crate::circuit::NoPoint;
use crate::progress::Progress;
use crate::quantity::YEAR_SECS;
use crate::time::engine::{Engine, Mean};
use crate::time::margin::{Margin, Need};
use crate::time::port::Halt;
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
}

/// A life on its way.
pub(crate) struct Run<'p, 'a, 'c, 'f> {
    pub(crate) engine: Engine<'a, 'c, 'f>,
    pub(crate) progress: &'p dyn Progress,
    pub(crate) now: Now,
    /// Energy of fresh cells.
    pub(crate) full_joules: f64,
    /// The step to try next, by regime.
    pub(crate) spans: Vec<f64>,
    past: Past,
    step: Step,
    pub(crate) cold_night: Option<ColdNight>,
    pub(crate) sampler: Sampler,
    /// What one cycle of windows draws about.
    pub(crate) cycle_depth: f64,
    /// Sum of the estimated errors in depth.
    pub(crate) depth_error: f64,
    /// Seconds by which the end moves for the uncertainty of voltages.
    pub(crate) voltage_secs: f64,
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
    pub(crate) fn new(engine: Engine<'a, 'c, 'f>, progress: &'p dyn Progress) -> Self {
        let states = engine.fresh();
        let full_joules = engine.stored_joules(&states);
        Self {
            now: Now {
                secs: 0.0,
                joules: vec![0.0; engine.lines.names.len()],
                coulombs: vec![0.0; engine.usual.sites.len()],
                states,
            },
            full_joules,
            spans: vec![f64::INFINITY; engine.schedule.regimes.len()],
            past: Past::default(),
            step: Step::default(),
            cold_night: None,
            sampler: Sampler::default(),
            cycle_depth: 0.0,
            depth_error: 0.0,
            voltage_secs: 0.0,
            engine,
            progress,
        }
    }

    /// Follows the life; says which need ended it, in which mix of tasks.
    pub(crate) fn follow(&mut self) -> Result<Option<(Margin, usize)>, NoPoint> {
        let mix = self.engine.schedule.regimes[0].mix;
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
            self.pass(Stretch {
                regime: 0,
                mix,
                secs: HORIZON_SECS,
                tolerance: Tolerance::of_life(self.full_joules),
                gear: Gear::Live,
            })?
        };
        Ok(match passage {
            Passage::Over(margin, mix) => Some((margin, mix)),
            _ => None,
        })
    }

    pub(crate) fn trace(&self) -> Trace {
        self.sampler.trace()
    }

    /// Notes the voltages of this instant, whichever tasks are active.
    pub(crate) fn sample(&mut self) -> Result<(), NoPoint> {
        let mut found: Option<[f64; 4]> = None;
        for mix in 0..self.engine.schedule.mixes.len() {
            self.engine.margin(mix, &self.now.states, false)?;
            found = match (found, self.engine.volts) {
                (Some(f), Some(v)) => Some([f[0], f[1], f[2].min(v[2]), f[3].min(v[3])]),
                (f, v) => f.or(v),
            };
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
        if self.engine.night.is_some()
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
                let stuck = Margin {
                    volts: 0.0,
                    ..before
                };
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
            if self.engine.night.is_some() && self.cold_night.is_none() {
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

    /// The mean drive here; a board that stops without a step is over.
    fn drive(&mut self, mix: usize, mean: &mut Mean) -> Result<Option<Passage>, NoPoint> {
        match self.engine.mean(mix, &self.now.states, mean) {
            Ok(()) => Ok(None),
            Err(Halt::NoPoint(error)) => Err(error),
            Err(Halt::Stops { short_volts, what }) => {
                let margin = Margin {
                    volts: -short_volts,
                    need: Need::Running(what),
                    joint: 0,
                    place: 0,
                };
                Ok(Some(Passage::Over(margin, mix)))
            }
        }
    }

    /// Finds a step that is exact enough; none where even the shortest leads nowhere.
    fn good_step(
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
        let sites = self.engine.usual.sites.iter();
        let rate = sites.map(|s| first.drive[s.first]).fold(0.0, f64::max);
        let whole = if rate > 0.0 { 1.0 / rate } else { secs };
        FIRST_SHARE * whole.min(1e3 * secs)
    }

    fn accept(&mut self, first: &Mean, span: f64) {
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

    /// Finds the instant inside a step at which the margin is zero and stops just before it.
    fn land(
        &mut self,
        stretch: Stretch,
        first: &Mean,
        before: Margin,
        after: Margin,
        span: f64,
    ) -> Result<Passage, NoPoint> {
        let (last_good, mut failed) =
            self.root(stretch, first, before.volts, after, span, false)?;
        self.voltage_secs = self.seconds_of_voltage(stretch, first, before, after, last_good)?;
        if last_good > 0.0 {
            self.note_within(stretch.mix, first, last_good)?;
            self.retake(stretch.mix, first, last_good)?;
            self.accept(first, last_good);
        }
        failed.volts = failed.volts.min(0.0);
        self.sample()?;
        Ok(Passage::Over(failed, stretch.mix))
    }

    /// Notes instants inside the last step, closer and closer to its end: there voltages fall fast, and
    /// a warning is wanted a little before it.
    fn note_within(&mut self, mix: usize, first: &Mean, span: f64) -> Result<(), NoPoint> {
        let mut left = 0.5 * span;
        for _ in 0..6 {
            self.retake(mix, first, span - left)?;
            self.engine.margin(mix, &self.step.states[1], false)?;
            if let Some(volts) = self.engine.volts {
                let depth = self.engine.depth(&self.step.states[1]);
                self.sampler.note(self.now.secs + span - left, depth, volts);
            }
            left *= 0.5;
        }
        Ok(())
    }

    /// How much earlier the end would come with all voltages lower by their uncertainty.
    fn seconds_of_voltage(
        &mut self,
        stretch: Stretch,
        first: &Mean,
        before: Margin,
        after: Margin,
        end: f64,
    ) -> Result<f64, NoPoint> {
        self.engine.lowered_volts = crate::time::end::VOLTS_UNCERTAIN;
        let start = self.engine.margin(stretch.mix, &self.now.states, false);
        let found = match start {
            Err(error) => Err(error),
            // Within the uncertainty for longer than the step: carry its slope on.
            Ok(start) if start.volts < 0.0 => {
                let fall = (before.volts - start.volts) / before.volts.max(1e-12);
                Ok(end * fall.max(1.0))
            }
            Ok(start) => {
                let root = self.root(stretch, first, start.volts, after, end.max(1e-9), false);
                root.map(|r| end - r.0)
            }
        };
        self.engine.lowered_volts = 0.0;
        found
    }

    /// Lands on the instant from which a cold night is the end, without stopping there.
    fn land_night(&mut self, stretch: Stretch, first: &Mean, span: f64) -> Result<(), NoPoint> {
        let start = self.engine.margin(stretch.mix, &self.now.states, true)?;
        let last = Margin {
            volts: -1e-3,
            ..start
        };
        let (at, _) = self.root(stretch, first, start.volts, last, span, true)?;
        let depth = if at > 0.0 {
            self.retake(stretch.mix, first, at)?;
            self.engine.depth(&self.step.states[1])
        } else {
            self.engine.depth(&self.now.states)
        };
        self.cold_night = Some(ColdNight {
            time_secs: self.now.secs + at,
            depth,
        });
        self.retake(stretch.mix, first, span)
    }

    fn retake(&mut self, mix: usize, first: &Mean, span: f64) -> Result<(), NoPoint> {
        let taken = self.engine.step(
            mix,
            &self.now.states,
            first,
            span,
            &self.past,
            &mut self.step,
        );
        match taken {
            Err(Halt::NoPoint(error)) => Err(error),
            _ => Ok(()),
        }
    }

    /// The longest step after which the margin still holds, and the margin just past it.
    fn root(
        &mut self,
        stretch: Stretch,
        first: &Mean,
        start_volts: f64,
        end: Margin,
        span: f64,
        cold: bool,
    ) -> Result<(f64, Margin), NoPoint> {
        let (mut low, mut high, mut failed) = (0.0, span, end);
        let (mut at_low, mut at_high) = (start_volts.max(0.0), end.volts.min(-1e-12));
        let width = (1e-10 * span).max(1e-13 * self.now.secs);
        for round in 0..80 {
            if high - low <= width {
                break;
            }
            let share = at_low / (at_low - at_high);
            // Regula falsi shrinks one side only; halving every third time shrinks both.
            let share = if round % 3 == 2 {
                0.5
            } else {
                share.clamp(0.02, 0.98)
            };
            let span = low + share * (high - low);
            let states = &self.now.states;
            let taken =
                self.engine
                    .step(stretch.mix, states, first, span, &self.past, &mut self.step);
            let margin = match taken {
                Ok(true) => self
                    .engine
                    .margin(stretch.mix, &self.step.states[1], cold)?,
                Ok(false) => Margin {
                    volts: -1e-3,
                    ..failed
                },
                Err(Halt::Stops { short_volts, what }) => Margin {
                    volts: -short_volts.max(1e-12),
                    need: Need::Running(what),
                    ..failed
                },
                Err(Halt::NoPoint(error)) => return Err(error),
            };
            if margin.volts < 0.0 {
                (high, at_high, failed) = (span, margin.volts, margin);
            } else {
                (low, at_low) = (span, margin.volts);
            }
        }
        Ok((low, failed))
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
