//! The instant inside a step at which a margin changes sign.

use crate::circuit::NoPoint;
use crate::time::ColdNight;
use crate::time::engine::Mean;
use crate::time::margin::{Margin, Need};
use crate::time::port::Halt;
use crate::time::run::{Passage, Run, Stretch};

impl Run<'_, '_, '_, '_> {
    /// Finds the instant inside a step at which the margin is zero and stops just before it.
    pub(crate) fn land(
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
    pub(crate) fn land_night(
        &mut self,
        stretch: Stretch,
        first: &Mean,
        span: f64,
    ) -> Result<(), NoPoint> {
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
