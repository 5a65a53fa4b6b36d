//! Through the stretches of a cycle, with the temperatures of the days and months that they run into.

use crate::circuit::NoPoint;
use crate::time::run::{Gear, HORIZON_SECS, Now, Passage, Run, Stretch};
use crate::time::step::Tolerance;
use crate::time::trace::Sampler;

impl Run<'_, '_, '_, '_> {
    /// Follows the rest of the cycle that is under way, with the temperatures of the months that it
    /// runs into.
    pub(crate) fn finish_cycle(&mut self, tolerance: Tolerance) -> Result<Passage, NoPoint> {
        loop {
            let (at, mut rest) = self.under_way;
            while rest > 0.0 {
                let to_month = self.course.month_end_secs(self.month) - self.now.secs;
                let secs = rest.min(to_month);
                if secs > 1e-9 * self.now.secs {
                    self.turn_to(at);
                    let began = self.now.secs;
                    let passage = self.pass(Stretch {
                        regime: at,
                        mix: self.engine.schedule.regimes[at].mix,
                        secs,
                        tolerance,
                        gear: Gear::Live,
                    })?;
                    if !matches!(passage, Passage::Through) {
                        self.under_way = (at, (rest - (self.now.secs - began)).max(0.0));
                        return Ok(passage);
                    }
                }
                rest -= secs;
                if to_month <= secs {
                    self.month += 1;
                }
            }
            let next = at + 1;
            match self.engine.schedule.regimes.get(next) {
                Some(regime) => self.under_way = (next, regime.secs),
                None => {
                    self.under_way = (0, self.engine.schedule.regimes[0].secs);
                    return Ok(Passage::Through);
                }
            }
        }
    }

    /// Turns to the temperature of a stretch in the present month.
    pub(crate) fn turn_to(&mut self, regime: usize) {
        let half = self.engine.schedule.regimes[regime].half;
        self.engine.turn_to(self.course.place(self.month, half));
    }

    /// Begins again with the cells as they came from the shelf.
    pub(crate) fn restart(&mut self, states: Vec<f64>) {
        self.now = Now {
            secs: 0.0,
            joules: vec![0.0; self.now.joules.len()],
            coulombs: vec![0.0; self.now.coulombs.len()],
            below_secs: 0.0,
            good_secs: None,
            states,
        };
        self.month = 0;
        self.under_way = (0, self.engine.schedule.regimes[0].secs);
        self.spans.fill(f64::INFINITY);
        self.past.forget();
        self.cold_night = None;
        self.sampler = Sampler::default();
        (self.depth_error, self.voltage_secs) = (0.0, 0.0);
    }

    /// Whole cycles until the month or all that is followed is over.
    pub(crate) fn cycles_ahead(&self) -> f64 {
        let cycle_secs = self.engine.schedule.cycle_secs();
        let to_month = self.course.month_end_secs(self.month) - self.now.secs;
        let rest = (HORIZON_SECS - self.now.secs) / cycle_secs;
        // Within a rounding error of the edge is on it.
        let in_month = (to_month / cycle_secs + 1e-9).floor();
        rest.ceil().max(1.0).min(in_month)
    }
}
