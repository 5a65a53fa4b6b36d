//! A cell followed through the regime of a test, from fresh until nothing is left to read.

use super::bed::{Bed, Flow, Inner};
use super::{Demand, Duty, LogPoint, Step, Window};
use crate::quantity::Time;

/// What a cell showed at the end of a stretch under load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Mark {
    /// Time on load so far.
    pub(super) on_secs: f64,
    /// Charge given so far.
    pub(super) coulombs: f64,
    /// How often the steps began, or the part of the innermost windows that is over.
    pub(super) count: f64,
    /// Voltage under load; the lowest of the steps where they repeat.
    pub(super) volts: f64,
}

/// How far a test must be followed.
#[derive(Debug, Clone, Copy)]
pub(super) struct Until {
    /// Loaded voltage below which nothing is read.
    pub(super) volts: f64,
    /// Time on load up to which something is read.
    pub(super) on_secs: f64,
    /// Charge up to which something is read.
    pub(super) coulombs: f64,
}

/// Fall of the voltage in one step, and share of the charge that goes with it on a plateau.
const STEP_VOLTS: f64 = 0.03;
const STEP_SHARE: f64 = 0.015;
/// Change of the voltage, fall or recovery, in one leap.
const LEAP_VOLTS: f64 = 0.01;
/// Least share of the charge in a step up to where the surface is empty.
const LEAST_SHARE: f64 = 2e-4;
/// Halvings of the last step of a power that cannot be given at its end.
const FOLD_HALVINGS: usize = 10;
/// Most marks of one test; a regime that would never end stops there.
const MOST_MARKS: usize = 60_000;

/// Follows a duty from a state.
pub(super) fn follow(bed: &Bed<'_>, start: Inner, duty: &Duty, until: Until) -> Vec<Mark> {
    let mut run = Run {
        bed,
        duty,
        until,
        state: start,
        on_secs: 0.0,
        coulombs: 0.0,
        count: 0.0,
        marks: Vec::new(),
        done: false,
    };
    let fresh = duty.steps.first().map(|s| bed.flow(&start, s.demand));
    run.marks.extend(fresh.map(|flow| Mark {
        on_secs: 0.0,
        coulombs: 0.0,
        count: 0.0,
        volts: flow.volts,
    }));
    let repeats = Time::from_secs(run.repeat_span());
    match duty.windows.split_last() {
        Some((outer, inner)) => run.periods(outer, inner, f64::INFINITY),
        None if repeats.as_secs().is_finite() => {
            // Steps that repeat are a window that never closes, and may be leapt over.
            let window = Window {
                on: repeats,
                every: repeats,
            };
            let duty = Duty {
                steps: duty.steps.clone(),
                windows: vec![window],
            };
            return follow(bed, start, &duty, until);
        }
        None => run.repeat_once(f64::INFINITY),
    }
    run.marks
}

struct Run<'a> {
    bed: &'a Bed<'a>,
    duty: &'a Duty,
    until: Until,
    state: Inner,
    on_secs: f64,
    coulombs: f64,
    count: f64,
    marks: Vec<Mark>,
    done: bool,
}

/// One period of the innermost window, without a trace.
struct Period {
    to: Inner,
    coulombs: f64,
    /// Whether the cell could give all of it.
    whole: bool,
}

impl Run<'_> {
    /// `count` periods of a window, its inner windows within.
    fn periods(&mut self, window: &Window, inner: &[Window], count: f64) {
        let (on, every) = (window.on.as_secs(), window.every.as_secs());
        let off = (every - on).max(0.0);
        let mut left = count;
        while left >= 0.5 && !self.done {
            let from = (self.state, self.coulombs, self.on_secs, self.count);
            match inner.split_last() {
                Some((next, rest)) => {
                    let whole = (on / next.every.as_secs() + 1e-9).floor().max(1.0);
                    self.periods(next, rest, whole);
                    let spare = on - whole * next.every.as_secs();
                    self.state = self.bed.rest(&self.state, (off + spare).max(0.0));
                }
                None => {
                    self.open(on);
                    self.state = self.bed.rest(&self.state, off);
                }
            }
            left -= 1.0;
            if inner.is_empty() && !self.done {
                let gone = self.leap(&from.0, every, self.coulombs - from.1, left - 1.0);
                if gone > 0.0 {
                    self.on_secs += gone * (self.on_secs - from.2);
                    self.count += gone * (self.count - from.3);
                    left -= gone;
                }
            }
        }
    }

    /// Leaps as many further periods as change little, and says how many. The last before a longer
    /// pause is never leapt over: the voltage is lowest in it.
    ///
    /// The period in the middle of the leap stands for all of them.
    fn leap(&mut self, from: &Inner, every: f64, coulombs: f64, most: f64) -> f64 {
        let share = coulombs / self.bed.charge;
        let flow = self.heaviest(&self.state);
        let moved = (flow.volts - self.heaviest(from).volts).abs();
        let alike = (step_share(&flow) / share.max(1e-30)).min(LEAP_VOLTS / moved.max(1e-30));
        let count = alike.floor().min(most);
        if !count.is_finite() || count < 2.0 {
            return 0.0;
        }
        let middle = self
            .bed
            .repeated(&self.state, from, &self.state, every, count / 2.0);
        let period = self.silent(&middle);
        if !period.whole {
            return 0.0;
        }
        self.state = self
            .bed
            .repeated(&self.state, &middle, &period.to, every, count);
        self.coulombs += count * period.coulombs;
        count
    }

    /// One period of the innermost window from a state, leaving no mark.
    fn silent(&self, from: &Inner) -> Period {
        let mut run = Run {
            bed: self.bed,
            duty: self.duty,
            until: Until {
                volts: f64::NEG_INFINITY,
                ..self.until
            },
            state: *from,
            on_secs: 0.0,
            coulombs: 0.0,
            count: 0.0,
            marks: Vec::new(),
            done: false,
        };
        let window = &self.duty.windows[0];
        run.open(window.on.as_secs());
        let off = (window.every.as_secs() - window.on.as_secs()).max(0.0);
        Period {
            to: self.bed.rest(&run.state, off),
            coulombs: run.coulombs,
            whole: !run.done,
        }
    }

    /// The innermost window once open.
    fn open(&mut self, span: f64) {
        let repeats = self.repeat_span();
        let mut left = span;
        while left > span * 1e-9 && !self.done {
            let piece = repeats.min(left);
            self.repeat_once(piece);
            left -= piece;
        }
    }

    /// Time until the steps start again.
    fn repeat_span(&self) -> f64 {
        self.duty
            .steps
            .iter()
            .map(|s| s.span.map_or(f64::INFINITY, |t| t.as_secs()))
            .sum()
    }

    /// The steps once through, at most for `most` seconds.
    fn repeat_once(&mut self, most: f64) {
        let several = self.repeat_span().is_finite();
        if several {
            self.count += 1.0;
        }
        let begin = self.marks.len();
        let mut left = most;
        for step in &self.duty.steps {
            let span = step.span.map_or(f64::INFINITY, |t| t.as_secs()).min(left);
            let counts = if several { 0.0 } else { 1.0 / most };
            self.hold(step, span, counts);
            left -= span;
        }
        if several {
            self.keep_lowest(begin);
        }
    }

    /// One step of the load for a span, each second of which counts for so much.
    fn hold(&mut self, step: &Step, span: f64, counts: f64) {
        let mut left = span;
        let mut flow = self.bed.flow(&self.state, step.demand);
        // A load without a pause begins gently, so that its first hours are seen as they are.
        let gently = !span.is_finite();
        let begin = self.on_secs;
        while left > 0.0 && !self.done {
            let mut secs = piece(self.bed, &flow, left);
            if gently {
                let quickest = self.bed.quickest_secs(flow.amps) / 4.0;
                secs = secs.min(quickest.max((self.on_secs - begin) / 2.0));
            }
            let (next, middle, end) = self.bed.step(&self.state, &flow, step.demand, secs);
            if flow.holds && !end.holds {
                self.last_hold(step, &flow, secs, counts);
                break;
            }
            self.state = next;
            self.give(middle.amps, secs, counts);
            left -= secs;
            flow = end;
            self.mark(&flow);
        }
    }

    fn give(&mut self, amps: f64, secs: f64, counts: f64) {
        self.coulombs += amps * secs;
        self.on_secs += secs;
        self.count += counts * secs;
    }

    /// Holds a load for the part of a step in which it can be given.
    fn last_hold(&mut self, step: &Step, first: &Flow, secs: f64, counts: f64) {
        let (mut held, mut longest) = (0.0, secs);
        for _ in 0..FOLD_HALVINGS {
            let half = f64::midpoint(held, longest);
            if self.bed.step(&self.state, first, step.demand, half).2.holds {
                held = half;
            } else {
                longest = half;
            }
        }
        let mut give = |secs| {
            let flow = self.bed.flow(&self.state, step.demand);
            let (next, middle, end) = self.bed.step(&self.state, &flow, step.demand, secs);
            self.state = next;
            self.give(middle.amps, secs, counts);
            self.mark(&end);
        };
        give(held);
        give(longest - held);
        self.done = true;
    }

    fn mark(&mut self, flow: &Flow) {
        self.marks.push(Mark {
            on_secs: self.on_secs,
            coulombs: self.coulombs,
            count: self.count,
            volts: if flow.holds { flow.volts } else { 0.0 },
        });
        let read = self.on_secs > self.until.on_secs && self.coulombs > self.until.coulombs;
        let low = flow.volts < self.until.volts || !flow.holds;
        let gone = self.state.depth > 1.3 || flow.volts <= 0.0;
        self.done = (low && read) || gone || self.marks.len() > MOST_MARKS;
    }

    /// Of the marks since `begin`, keeps the one with the lowest voltage.
    fn keep_lowest(&mut self, begin: usize) {
        let lowest = self.marks[begin..]
            .iter()
            .copied()
            .min_by(|a, b| a.volts.total_cmp(&b.volts));
        self.marks.truncate(begin);
        self.marks.extend(lowest);
    }

    /// What the heaviest step of the load makes of a state.
    fn heaviest(&self, state: &Inner) -> Flow {
        let flows = self
            .duty
            .steps
            .iter()
            .map(|s| self.bed.flow(state, s.demand));
        flows
            .max_by(|a, b| a.amps.total_cmp(&b.amps))
            .unwrap_or_else(|| self.bed.flow(state, Demand::Rest))
    }
}

/// Time of the next step: all that is left, or equal pieces instead of one and a crumb.
fn piece(bed: &Bed<'_>, flow: &Flow, left: f64) -> f64 {
    let secs = step_share(flow) * bed.charge / flow.amps.abs().max(1e-15);
    if left < 1.5 * secs {
        left
    } else {
        secs.min(left / 2.0)
    }
}

/// Share of the charge that may go in one step.
///
/// It follows the fall of the voltage smoothly, so that results change smoothly with the parameters.
fn step_share(flow: &Flow) -> f64 {
    let share = STEP_VOLTS / (flow.fall_volts + STEP_VOLTS / STEP_SHARE);
    share.min(flow.surface_share.max(LEAST_SHARE))
}

/// Most steps from one point of a log to the next.
const MOST_STEPS_A_POINT: f64 = 200.0;

/// Follows a recorded discharge; the voltage at each of its points.
pub(super) fn follow_log(bed: &Bed<'_>, start: Inner, log: &[LogPoint]) -> Vec<f64> {
    let mut state = start;
    let mut volts = Vec::with_capacity(log.len());
    for (k, point) in log.iter().enumerate() {
        let demand = Demand::Current(point.amps);
        volts.push(bed.flow(&state, demand).volts);
        let Some(next) = log.get(k + 1) else { break };
        let span = next.time.as_secs() - point.time.as_secs();
        let mut left = span;
        let mut flow = bed.flow(&state, demand);
        while left > 0.0 {
            // A trial with hardly any charge would take forever.
            let secs = piece(bed, &flow, left).max(span / MOST_STEPS_A_POINT);
            (state, _, flow) = bed.step(&state, &flow, demand, secs);
            left -= secs.min(left);
        }
    }
    volts
}
