//! Follows a board from fresh to its end.
//!
//! The cells are states in time under the mean drive of each stretch between window edges; whole
//! cycles of windows are leapt over while two estimates of the leap agree. Needs are looked at after
//! every step, at every window edge and in the worst coincidence of tasks; the end is the root of the
//! margin inside the step in which it changes sign.

use std::collections::BTreeMap;

use crate::circuit::{Circuit, History, NoPoint, Situation};
use crate::model::{Load, Profile};
use crate::numerics::root::bracketed;
use crate::progress::Progress;
use crate::quantity::YEAR_SECS;
use crate::time::bank::{Bank, CELL_LINES, Flow, Lines, State, Stopped};
use crate::time::end::{self, Ending};
use crate::time::margin::{Margin, margin, stopped};
use crate::time::port::{Group, Port, groups};
use crate::time::schedule::Schedule;
use crate::time::{ColdNight, Life, LifeRequest, Trace};

/// Nothing is followed for longer.
const HORIZON_SECS: f64 = 100.0 * YEAR_SECS;
/// Largest error of a step, as a share of charge or energy, of its lower-order estimate.
const STEP_ERROR: f64 = 5e-7;
/// Largest difference of the two estimates of a leap, in depth.
const LEAP_ERROR: f64 = 2e-4;
/// Largest change of depth in a leap.
const LEAP_DEPTH: f64 = 0.0025;
/// Cycles that a leap must be worth.
const LEAP_CYCLES: f64 = 8.0;
/// Depth between two samples of the trace.
const SAMPLE_DEPTH: f64 = 1.0 / 220.0;

/// The run time of a board.
///
/// # Accuracy
/// See [`Life::error_secs`]; bursts are taken as static, without the help of bypass capacitors.
///
/// # Errors
/// No operating point where one is needed.
pub fn life(request: &LifeRequest, progress: &dyn Progress) -> Result<Life, NoPoint> {
    let boards = [request.board.to_owned()];
    let unknown = |what: String| NoPoint::Unknown { what };
    let circuit =
        Circuit::new(request.family, &boards).map_err(|board| unknown(format!("board {board}")))?;
    let profile = match request.profile {
        None => None,
        Some(name) => Some(
            request
                .family
                .profile(name)
                .ok_or_else(|| unknown(format!("profile {name}")))?,
        ),
    };
    let situation = situation(request, &boards, profile);
    let loads = circuit.loads();
    let schedule = Schedule::new(profile, &loads);
    let groups = groups(&circuit);
    if groups.is_empty() {
        return end::without_cell(&circuit, &situation);
    }
    let port = Port::new(&circuit, &situation, &schedule, request.ambient)?;
    let low = request.family.requirement.ambient.low;
    let cold = if low.as_celsius() < request.ambient.as_celsius() {
        Some(Port::new(&circuit, &situation, &schedule, low)?)
    } else {
        None
    };
    let lines = lines(&circuit, &groups, &schedule, &situation.states);
    let bank = Bank {
        groups,
        schedule: &schedule,
        port: &port,
        base_states: &situation.states,
        lines,
    };
    let run = Run {
        circuit: &circuit,
        situation: &situation,
        loads,
        bank: &bank,
        cold: cold.as_ref(),
        progress,
        time_secs: 0.0,
        state: bank.fresh(),
        span: f64::MAX,
        cold_night: None,
        trace: Trace::default(),
        last_slope: 0.0,
        leapt_error: 0.0,
        is_trial: false,
    };
    run.follow()
}

fn situation(request: &LifeRequest, boards: &[String], profile: Option<&Profile>) -> Situation {
    let mut situation = Situation::usual(request.family, boards, profile);
    situation.ambient = request.ambient;
    situation.positions.extend(request.positions.clone());
    situation.history = History::Running;
    situation
}

/// Names the ledger's lines and says where each power of a reading goes.
fn lines(
    circuit: &Circuit,
    groups: &[Group],
    schedule: &Schedule,
    base: &BTreeMap<String, String>,
) -> Lines {
    let mut names: Vec<String> = Vec::new();
    for group in groups {
        names.extend(
            CELL_LINES
                .iter()
                .map(|line| format!("{}:{line}", group.name)),
        );
    }
    let mut place = Vec::new();
    let parts = circuit.parts();
    let first_part = names.len();
    names.extend(parts.iter().map(|(name, _)| name.clone()));
    for joint in &schedule.joints {
        let mut to: Vec<usize> = (first_part..first_part + parts.len()).collect();
        for (name, load) in circuit.loads() {
            let first = load.states.first().map(|s| &s.name);
            let state = joint.set.get(&name).or_else(|| base.get(&name)).or(first);
            let line = format!("load:{name}:{}", state.map_or("", String::as_str));
            let at = names.iter().position(|n| *n == line).unwrap_or_else(|| {
                names.push(line);
                names.len() - 1
            });
            to.push(at);
        }
        place.push(to);
    }
    Lines { names, place }
}

/// A life on its way.
pub(crate) struct Run<'a, 'c, 'f> {
    pub(crate) circuit: &'a Circuit<'f>,
    pub(crate) situation: &'a Situation,
    pub(crate) loads: Vec<(String, &'f Load)>,
    pub(crate) bank: &'a Bank<'a, 'c, 'f>,
    pub(crate) cold: Option<&'a Port<'c, 'f>>,
    progress: &'a dyn Progress,
    pub(crate) time_secs: f64,
    pub(crate) state: State,
    /// The last step that was good enough.
    span: f64,
    pub(crate) cold_night: Option<ColdNight>,
    pub(crate) trace: Trace,
    /// Change of the margin with time at the last look, in volts per second.
    pub(crate) last_slope: f64,
    /// Sum of the differences of leaps, in depth.
    pub(crate) leapt_error: f64,
    /// Set while a leap is tried out.
    is_trial: bool,
}

/// How a stretch of time ended.
enum Stretch {
    /// At its end.
    Through,
    /// With a need that is no longer met.
    Over(Box<Margin>),
}

impl Run<'_, '_, '_> {
    fn follow(mut self) -> Result<Life, NoPoint> {
        let first = self.look(0)?;
        self.sample(0, 0.0)?;
        if let Some(cause) = end::at_start(&self, &first)? {
            return end::finish(self, Ending::Failed(Box::new(first), Some(cause)));
        }
        if first.volts < 0.0 {
            return end::finish(self, Ending::Failed(Box::new(first), None));
        }
        let cycles = self.bank.schedule.regimes.len() > 1;
        while self.time_secs < HORIZON_SECS && !self.progress.cancelled() {
            self.progress
                .at(self.bank.depth(&self.state.cells).min(1.0));
            let stretch = if cycles {
                self.cycles()?
            } else {
                self.regime(0, HORIZON_SECS)?
            };
            if let Stretch::Over(margin) = stretch {
                return end::finish(self, Ending::Failed(margin, None));
            }
        }
        end::finish(self, Ending::None)
    }

    fn look(&self, regime: usize) -> Result<Margin, NoPoint> {
        self.look_at(regime, &self.state)
    }

    fn look_at(&self, regime: usize, state: &State) -> Result<Margin, NoPoint> {
        let regime = &self.bank.schedule.regimes[regime];
        margin(self.bank, self.bank.port, regime, &state.cells, &self.loads)
    }

    /// Follows one regime for a span of time.
    fn regime(&mut self, at: usize, secs: f64) -> Result<Stretch, NoPoint> {
        let end_secs = self.time_secs + secs;
        let regime = &self.bank.schedule.regimes[at];
        let mut before = self.look(at)?;
        if before.volts < 0.0 {
            return Ok(Stretch::Over(Box::new(before)));
        }
        let mut flow = match self.bank.flow(regime, &self.state.cells) {
            Ok(flow) => flow,
            Err(stopped) => return self.stopped(stopped, at),
        };
        while end_secs - self.time_secs > 1e-9 * secs.min(self.time_secs.max(1.0)) {
            if self.progress.cancelled() {
                return Ok(Stretch::Through);
            }
            let rest = end_secs - self.time_secs;
            let longest = self.bank.longest_step(&self.state.cells, &flow);
            let span = self.span.min(longest).min(rest);
            let taken = self.bank.step(regime, &self.state, &flow, span);
            let (state, next, error) = match taken {
                Ok(step) => step,
                Err(Stopped::NoPoint(error)) => return Err(error),
                Err(Stopped::Joint { .. }) => match self.halve(span) {
                    true => continue,
                    false => return Ok(Stretch::Over(Box::new(before))),
                },
            };
            if error > STEP_ERROR && self.halve(span) {
                continue;
            }
            let after = self.look_at(at, &state)?;
            if after.volts < 0.0 {
                return self.land(at, &flow, span);
            }
            self.last_slope = (after.volts - before.volts) / span;
            self.accept(at, state, span)?;
            self.span = span * growth(error);
            (flow, before) = (next, after);
        }
        Ok(Stretch::Through)
    }

    /// A board that stops without a step: its margin says what.
    fn stopped(&self, stopped: Stopped, at: usize) -> Result<Stretch, NoPoint> {
        match stopped {
            Stopped::NoPoint(error) => Err(error),
            Stopped::Joint { .. } => Ok(Stretch::Over(Box::new(self.look(at)?))),
        }
    }

    /// Halves the step; says whether it is still worth taking.
    fn halve(&mut self, span: f64) -> bool {
        self.span = span / 2.0;
        self.span > 1e-9 * self.time_secs.max(1e-3)
    }

    fn accept(&mut self, regime: usize, state: State, span: f64) -> Result<(), NoPoint> {
        self.state = state;
        self.time_secs += span;
        if self.is_trial {
            return Ok(());
        }
        self.look_cold(regime)?;
        self.sample(regime, SAMPLE_DEPTH)
    }

    /// Finds the instant inside a step at which the margin changes sign.
    ///
    /// A margin may jump (a converter that stops), so what fails is told by the earliest instant seen
    /// on the far side.
    fn land(&mut self, at: usize, flow: &Flow, span: f64) -> Result<Stretch, NoPoint> {
        let start = self.state.clone();
        let mut failed: Option<(f64, Margin)> = None;
        let mut fault = None;
        let mut volts = |h: f64| match self.margin_after(at, &start, flow, h) {
            Ok(margin) => {
                let volts = margin.volts;
                if volts < 0.0 && failed.as_ref().is_none_or(|f| h < f.0) {
                    failed = Some((h, margin));
                }
                volts
            }
            Err(error) => {
                fault = Some(error);
                f64::NAN
            }
        };
        let first = volts(0.0);
        let root = bracketed(&mut volts, 0.0, span, (span * 1e-9).max(1e-6));
        if let Some(error) = fault {
            return Err(error);
        }
        let h = root.unwrap_or(span);
        if h > 0.0 {
            self.last_slope = -first / h;
            let regime = &self.bank.schedule.regimes[at];
            if let Ok((state, _, _)) = self.bank.step(regime, &start, flow, h) {
                self.state = state;
                self.time_secs += h;
            }
        }
        if !self.is_trial {
            self.sample(at, 0.0)?;
        }
        let margin = match failed {
            Some((_, margin)) => margin,
            None => self.look(at)?,
        };
        Ok(Stretch::Over(Box::new(margin)))
    }

    /// The margin after a step of this length.
    fn margin_after(
        &self,
        at: usize,
        start: &State,
        flow: &Flow,
        h: f64,
    ) -> Result<Margin, NoPoint> {
        let regime = &self.bank.schedule.regimes[at];
        let step = if h <= 0.0 {
            Ok(start.clone())
        } else {
            self.bank.step(regime, start, flow, h).map(|step| step.0)
        };
        match step {
            Ok(state) => self.look_at(at, &state),
            Err(Stopped::NoPoint(error)) => Err(error),
            Err(Stopped::Joint {
                joint,
                short_volts,
                what,
            }) => Ok(stopped(joint, short_volts, &what, &start.cells)),
        }
    }

    fn look_cold(&mut self, regime: usize) -> Result<(), NoPoint> {
        let (Some(cold), None) = (self.cold, self.cold_night) else {
            return Ok(());
        };
        let regime = &self.bank.schedule.regimes[regime];
        let found = margin(self.bank, cold, regime, &self.state.cells, &self.loads)?;
        if found.volts < 0.0 {
            let depth = self.bank.depth(&self.state.cells);
            self.cold_night = Some(ColdNight {
                time_secs: self.time_secs,
                depth,
            });
        }
        Ok(())
    }

    /// Two cycles of windows, then a leap over as many as two estimates agree on.
    fn cycles(&mut self) -> Result<Stretch, NoPoint> {
        if let Stretch::Over(margin) = self.cycle()? {
            return Ok(Stretch::Over(margin));
        }
        let first = self.state.clone();
        if let Stretch::Over(margin) = self.cycle()? {
            return Ok(Stretch::Over(margin));
        }
        let slope = self.state.minus(&first);
        self.leap(&slope)?;
        Ok(Stretch::Through)
    }

    /// Leaps over many cycles by the slopes at start, middle and end of the leap, as far as the first
    /// two agree and every need is still met.
    fn leap(&mut self, slope: &State) -> Result<(), NoPoint> {
        let cycle: f64 = self.bank.schedule.regimes.iter().map(|r| r.secs).sum();
        let rate = slope.cells.iter().map(|c| c.depth).fold(0.0, f64::max);
        let most = ((HORIZON_SECS - self.time_secs) / cycle).max(0.0);
        // A leap stays within one piece of the cell's tables: at their points slopes change.
        let room = LEAP_DEPTH.min(self.bank.knot_room(&self.state.cells) - 4.0 * rate);
        let within = if rate > 0.0 { room / rate } else { most };
        let mut cycles = within.min(most).floor();
        let (start, start_secs, start_span) = (self.state.clone(), self.time_secs, self.span);
        while cycles >= LEAP_CYCLES {
            let landed = self.leapt(&start, slope, cycles)?;
            (self.time_secs, self.span) = (start_secs, start_span);
            if let Some((landed, difference)) = landed
                && self.is_sound(&landed)?
            {
                self.leapt_error += difference * difference;
                return self.accept(0, landed, cycles * cycle);
            }
            self.state = start.clone();
            cycles = (cycles / 2.0).floor();
        }
        Ok(())
    }

    /// Where a leap lands and by how much its slopes differ in depth; none where they differ too much
    /// or a need fails on the way.
    fn leapt(
        &mut self,
        start: &State,
        slope: &State,
        cycles: f64,
    ) -> Result<Option<(State, f64)>, NoPoint> {
        let Some(middle) = self.slope_at(start.plus(slope, cycles / 2.0))? else {
            return Ok(None);
        };
        let difference = middle.largest_difference(slope) * cycles;
        if LEAP_ERROR < difference {
            return Ok(None);
        }
        let Some(last) = self.slope_at(start.plus(&middle, cycles))? else {
            return Ok(None);
        };
        // A slope belongs to the middle of the second cycle from where it was asked for.
        let nodes = [-0.5, cycles / 2.0 + 1.5, cycles + 1.5];
        let weights = quadrature(nodes, cycles);
        let landed = start
            .plus(slope, weights[0])
            .plus(&middle, weights[1])
            .plus(&last, weights[2]);
        Ok(Some((landed, difference)))
    }

    /// Change of the state in the second cycle from here, where the needs are met so long.
    fn slope_at(&mut self, from: State) -> Result<Option<State>, NoPoint> {
        if !self.is_sound(&from)? {
            return Ok(None);
        }
        self.state = from;
        self.is_trial = true;
        let first = self.cycle()?;
        let middle = self.state.clone();
        let second = if matches!(first, Stretch::Through) {
            self.cycle()?
        } else {
            first
        };
        self.is_trial = false;
        Ok(matches!(second, Stretch::Through).then(|| self.state.minus(&middle)))
    }

    /// Whether every need is met in every stretch between window edges.
    fn is_sound(&self, state: &State) -> Result<bool, NoPoint> {
        for at in 0..self.bank.schedule.regimes.len() {
            if self.look_at(at, state)?.volts < 0.0 {
                return Ok(false);
            }
        }
        Ok(true)
    }

    fn cycle(&mut self) -> Result<Stretch, NoPoint> {
        for at in 0..self.bank.schedule.regimes.len() {
            let secs = self.bank.schedule.regimes[at].secs;
            self.span = self.span.max(secs / 4.0);
            if let Stretch::Over(margin) = self.regime(at, secs)? {
                return Ok(Stretch::Over(margin));
            }
        }
        Ok(Stretch::Through)
    }
}

/// Factor on the next step: the estimate is of third order.
fn growth(error: f64) -> f64 {
    if error <= 0.0 {
        3.0
    } else {
        (0.7 * libm::cbrt(STEP_ERROR / error)).clamp(0.3, 3.0)
    }
}

/// Weights of values at three nodes for the integral of their quadratic from 0 to `end`.
fn quadrature(nodes: [f64; 3], end: f64) -> [f64; 3] {
    let [a, b, c] = nodes;
    let lagrange = |x: f64| {
        [
            (x - b) * (x - c) / ((a - b) * (a - c)),
            (x - a) * (x - c) / ((b - a) * (b - c)),
            (x - a) * (x - b) / ((c - a) * (c - b)),
        ]
    };
    // Simpson's rule is exact for quadratics.
    let (first, middle, last) = (lagrange(0.0), lagrange(end / 2.0), lagrange(end));
    [0, 1, 2].map(|k| end / 6.0 * (first[k] + 4.0 * middle[k] + last[k]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_slopes_integrate_a_quadratic_exactly() {
        let f = |x: f64| 2.0 - 0.3 * x + 0.05 * x * x;
        let (nodes, end) = ([-0.5, 7.5, 13.5], 12.0);
        let sum: f64 = quadrature(nodes, end)
            .iter()
            .zip(nodes)
            .map(|(w, x)| w * f(x))
            .sum();
        let exact = 2.0 * end - 0.15 * end * end + 0.05 * end * end * end / 3.0;
        assert!((sum - exact).abs() < 1e-12);
    }
}
