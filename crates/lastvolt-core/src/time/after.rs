//! What follows the first failure under a calendar: how long needs fail in all, and from when on they
//! are never all met again.
//!
//! The cells go on being drained by the board as it is. A load below its need draws by its law; a
//! converter or a load that gives up holds the cell at the voltage where it does, as long as the cell
//! could lift it above, and is off below that. The end is permanent once rested cells would not do at
//! any temperature of the year either, or after a year in which the needs were not met once: cells
//! and their resistance only grow worse.

use crate::circuit::NoPoint;
use crate::quantity::{DAY_SECS, YEAR_SECS};
use crate::time::Calendar;
use crate::time::engine::Mean;
use crate::time::margin::Margin;
use crate::time::port::Halt;
use crate::time::ports::Which;
use crate::time::run::{HORIZON_SECS, Passage, Run, Stretch};
use crate::time::site::{BRANCH, IMBALANCE};
use crate::time::step::Tolerance;
use crate::time::table::Through;

/// A span shorter than this share of the time counts as none.
const ROUNDING: f64 = 1e-9;
/// After how many steps it is looked whether there is any hope left.
const HOPE_STEPS: usize = 32;
/// Most steps after the first failure.
const MOST_STEPS: usize = 200_000;

impl Run<'_, '_, '_, '_> {
    /// Goes on after the first failure until the last; says what the reader should know besides.
    pub(crate) fn after(
        &mut self,
        first_failure: Option<f64>,
    ) -> Result<(Calendar, Option<String>), NoPoint> {
        let mut calendar = Calendar {
            first_failure_secs: first_failure,
            below_need_secs: 0.0,
            permanent_end_secs: None,
        };
        if first_failure.is_none() {
            return Ok((calendar, None));
        }
        self.engine.through = Through::Drains;
        (self.now.below_secs, self.now.good_secs) = (0.0, first_failure);
        let mut passage = Passage::Through;
        while self.goes_on() && matches!(passage, Passage::Through) {
            passage = self.on()?;
        }
        if let (Some(good), true) = (self.now.good_secs, self.now.secs < HORIZON_SECS) {
            // All the time since the last good instant is below need.
            let since = self.now.secs - good;
            calendar.below_need_secs = (self.now.below_secs - since).max(0.0);
            calendar.permanent_end_secs = Some(good);
        }
        let stuck = matches!(passage, Passage::Cancelled).then(|| {
            format!(
                "after the first failure the board is followed for {:.1} days only",
                (self.now.secs - first_failure.unwrap_or(0.0)) / DAY_SECS
            )
        });
        Ok((calendar, stuck))
    }

    /// Whether there is anything left to see.
    pub(crate) fn goes_on(&self) -> bool {
        let good = self.now.good_secs.unwrap_or(self.now.secs);
        self.now.secs < HORIZON_SECS && self.now.secs - good < YEAR_SECS
    }

    /// Follows the rest of the cycle under way, then cycle after cycle; without windows and days month
    /// after month.
    fn on(&mut self) -> Result<Passage, NoPoint> {
        let regimes = &self.engine.schedule.regimes;
        if regimes.len() == 1 {
            let to_month = self.course.month_end_secs(self.month) - self.now.secs;
            self.under_way = (0, to_month.min(YEAR_SECS / 4.0));
            return self.finish_cycle(Tolerance::of_life(self.full_joules));
        }
        if self.under_way.0 > 0 || self.under_way.1 < regimes[0].secs {
            let tolerance = self.tolerance();
            return self.finish_cycle(tolerance);
        }
        self.cycles()
    }

    /// Follows one mix of tasks for a time, whatever needs fail.
    pub(crate) fn drain(&mut self, stretch: Stretch) -> Result<Passage, NoPoint> {
        let mut first = Mean::default();
        self.drive_on(stretch.mix, &mut first)?;
        let mut before = self
            .engine
            .margin(stretch.mix, &self.now.states, false)?
            .volts;
        let end_secs = self.now.secs + stretch.secs;
        self.past.forget();
        if let Some(margin) = self.hopeless()? {
            return Ok(Passage::Over(margin, stretch.mix));
        }
        while end_secs - self.now.secs > 1e-12 * end_secs {
            self.drained_steps += 1;
            if self.progress.cancelled() || self.drained_steps > MOST_STEPS {
                return Ok(Passage::Cancelled);
            }
            if self.drained_steps.is_multiple_of(HOPE_STEPS)
                && let Some(margin) = self.hopeless()?
            {
                return Ok(Passage::Over(margin, stretch.mix));
            }
            let Some(span) = self.good_step(stretch, &first, end_secs)? else {
                return Ok(Passage::Cancelled);
            };
            let states = &self.step.states[1];
            let after = self.engine.margin(stretch.mix, states, false)?.volts;
            self.tally(before, after, span);
            self.accept(&first, span);
            self.past.remember(span, &first, &self.step);
            first.clone_from(&self.step.means[1]);
            before = after;
        }
        Ok(Passage::Through)
    }

    /// The nearest that rested cells come to meeting the needs, at the best temperature of the year and
    /// with the fewest tasks; none where they do meet them.
    fn hopeless(&mut self) -> Result<Option<Margin>, NoPoint> {
        let mut rested = self.now.states.clone();
        for site in self.engine.sites() {
            rested[site.first + IMBALANCE] = 0.0;
            rested[site.first + BRANCH..site.first + site.len()].fill(0.0);
        }
        let held = self.engine.which();
        let mut best: Option<Margin> = None;
        'places: for place in 0..self.course.celsius.len() {
            self.engine.turn_to(place);
            for regime in 0..self.engine.schedule.regimes.len() {
                let mix = self.engine.schedule.regimes[regime].mix;
                let margin = self.engine.margin(mix, &rested, false)?;
                if best.is_none_or(|best| best.volts < margin.volts) {
                    best = Some(margin);
                }
                if 0.0 <= margin.volts {
                    best = None;
                    break 'places;
                }
            }
        }
        if let Which::Course(place) = held {
            self.engine.turn_to(place);
        }
        Ok(best)
    }

    fn drive_on(&mut self, mix: usize, mean: &mut Mean) -> Result<(), NoPoint> {
        match self.engine.mean(mix, &self.now.states, mean) {
            Ok(()) | Err(Halt::Stops { .. }) => Ok(()),
            Err(Halt::NoPoint(error)) => Err(error),
        }
    }

    /// Books a step between two margins as met or not; a change of sign is taken where a straight line
    /// has it.
    fn tally(&mut self, before: f64, after: f64, span: f64) {
        let share = |from: f64, to: f64| from.abs() / (from.abs() + to.abs()).max(1e-300);
        let now = &mut self.now;
        match (before >= 0.0, after >= 0.0) {
            (true, true) => now.good_secs = Some(now.secs + span),
            (false, false) => now.below_secs += span,
            (true, false) => {
                let good = span * share(before, after);
                now.good_secs = Some(now.secs + good);
                now.below_secs += span - good;
            }
            (false, true) => {
                now.good_secs = Some(now.secs + span);
                now.below_secs += span * share(before, after);
            }
        }
    }

    /// Whether a life is followed beyond its first failure.
    pub(crate) fn is_draining(&self) -> bool {
        self.engine.through == Through::Drains
    }
}

/// What a cycle after the first failure holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Met {
    /// All needs all the time.
    Always,
    /// All needs for some of the time.
    Sometimes,
    /// Some need never.
    Never,
}

impl Met {
    /// Of a cycle by its time below need.
    pub(crate) fn of(below_secs: f64, cycle_secs: f64) -> Self {
        if below_secs <= ROUNDING * cycle_secs {
            Self::Always
        } else if below_secs < (1.0 - ROUNDING) * cycle_secs {
            Self::Sometimes
        } else {
            Self::Never
        }
    }
}
