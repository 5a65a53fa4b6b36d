//! Tasks whose interval is not short against the life are followed burst by burst.
//!
//! The mean drive of a task stands for many of its bursts. Where a life holds only a few of them, each
//! is a stretch of its own at its own time: the tasks that are fast enough stay averaged beside it. A
//! task without a fixed offset starts when it shortens the life most; several such tasks start at once.

use crate::circuit::NoPoint;
use crate::quantity::DAY_SECS;
use crate::time::climate::{Days, Half};
use crate::time::margin::Margin;
use crate::time::run::{Gear, HORIZON_SECS, Passage, Run, Stretch};
use crate::time::schedule::NS;
use crate::time::step::Tolerance;

/// A task with fewer intervals than this in a life is followed burst by burst.
const FEW_INTERVALS: f64 = 30.0;
/// Most cycles of windows in a life that is followed so.
const MOST_CYCLES: f64 = 400.0;
/// Phases that are tried across an interval, and then between the best of them and the one before.
const PHASES: u32 = 12;

/// A need that fails, in a mix of tasks.
type Failed = Option<(Margin, usize)>;

/// The slow tasks at one instant.
struct Timeline {
    tasks: Vec<Slow>,
}

struct Slow {
    task: usize,
    /// Start of the next occurrence.
    due_secs: f64,
    /// The step that goes on, and until when.
    running: Option<(usize, f64)>,
}

impl Run<'_, '_, '_, '_> {
    /// Tasks of which the life that was followed holds too few bursts to average them.
    pub(crate) fn slow_tasks(&self, ends: bool) -> Vec<usize> {
        let cycle = self.engine.schedule.cycle_secs();
        let secs = self.now.secs;
        if !ends || self.progress.cancelled() || secs > MOST_CYCLES * cycle {
            return Vec::new();
        }
        let tasks = self.engine.schedule.tasks.iter().enumerate();
        let slow = tasks.filter(|(_, t)| secs < FEW_INTERVALS * t.every_secs);
        slow.map(|(at, _)| at).collect()
    }

    /// Follows the life again with some tasks burst by burst, in the worst phase.
    pub(crate) fn follow_apart(&mut self, slow: &[usize]) -> Result<Failed, NoPoint> {
        let states = self.start_states.clone();
        let free = slow
            .iter()
            .map(|&t| &self.engine.schedule.tasks[t])
            .filter(|t| t.offset_ns.is_none())
            .map(|t| t.every_secs)
            .fold(0.0, f64::max);
        let follow = |run: &mut Self, phase: f64| {
            run.restart(states.clone());
            run.follow_phase(slow, phase)
        };
        let first = follow(self, 0.0)?;
        let mut best = (self.now.secs, 0.0);
        if free <= 0.0 || first.is_none() || best.0 <= 0.0 {
            return Ok(first);
        }
        let width = free.min(best.0) / f64::from(PHASES);
        for k in 1..PHASES {
            let phase = f64::from(k) * width;
            follow(self, phase)?;
            if self.now.secs < best.0 {
                best = (self.now.secs, phase);
            }
        }
        // Before the best phase lies the one from which on its burst fails.
        let (mut low, mut high) = ((best.1 - width).max(0.0), best.1);
        for _ in 0..PHASES {
            let phase = f64::midpoint(low, high);
            follow(self, phase)?;
            if self.now.secs < best.0 {
                best = (self.now.secs, phase);
                high = phase;
            } else {
                low = phase;
            }
        }
        self.phase_secs = high - low + width / f64::from(PHASES);
        follow(self, best.1)
    }

    fn follow_phase(&mut self, slow: &[usize], phase: f64) -> Result<Failed, NoPoint> {
        let tasks = slow.iter().map(|&task| {
            let offset = self.engine.schedule.tasks[task].offset_ns;
            Slow {
                task,
                due_secs: offset.map_or(phase, |ns| ns as f64 * NS),
                running: None,
            }
        });
        let mut timeline = Timeline {
            tasks: tasks.collect(),
        };
        self.sample()?;
        while self.now.secs < HORIZON_SECS {
            self.advance(&mut timeline);
            let until = self.next_edge(&timeline).min(HORIZON_SECS);
            let mix = self.mix_of(&timeline);
            self.engine
                .turn_to(self.course.place(self.month, self.half()));
            let passage = self.pass(Stretch {
                regime: 0,
                mix,
                secs: until - self.now.secs,
                tolerance: Tolerance::of_life(self.full_joules),
                gear: Gear::Live,
            })?;
            match passage {
                Passage::Through => {}
                Passage::Over(margin, mix) => {
                    self.come_back();
                    return Ok(Some((margin, mix)));
                }
                Passage::Night | Passage::Cancelled => return Ok(None),
            }
            // The sum of many spans is not their end to the last digit.
            self.now.secs = until;
            if self.course.month_end_secs(self.month) <= until {
                self.month += 1;
            }
        }
        Ok(None)
    }

    /// Ends steps that are over and starts what is due; the later of two tasks on one load waits.
    fn advance(&self, timeline: &mut Timeline) {
        let tasks = &self.engine.schedule.tasks;
        let now = self.now.secs;
        for slow in &mut timeline.tasks {
            let steps = &tasks[slow.task].steps;
            while let Some((step, until)) = slow.running.filter(|r| r.1 <= now) {
                let next = steps.get(step + 1).map(|s| (step + 1, until + s.0));
                slow.running = next;
            }
        }
        for at in 0..timeline.tasks.len() {
            let timed = &tasks[timeline.tasks[at].task];
            let claimed = timeline.tasks.iter().any(|other| {
                other.running.is_some() && !tasks[other.task].claims.is_disjoint(&timed.claims)
            });
            let slow = &mut timeline.tasks[at];
            while slow.due_secs <= now && slow.running.is_none() && !claimed {
                let due = slow.due_secs;
                slow.due_secs += timed.every_secs;
                if self.is_open(slow.task, due)
                    && let Some(first) = timed.steps.first()
                {
                    slow.running = Some((0, now + first.0));
                }
            }
        }
    }

    fn is_open(&self, task: usize, secs: f64) -> bool {
        self.engine.schedule.tasks[task].within.is_none_or(|w| {
            let (every, open) = (w.every_ns as f64 * NS, w.open_ns as f64 * NS);
            let since = secs - (secs / every).floor() * every;
            since < open
        })
    }

    /// The next instant at which anything changes.
    fn next_edge(&self, timeline: &Timeline) -> f64 {
        let now = self.now.secs;
        let mut next = self.course.month_end_secs(self.month);
        let mut offer = |secs: f64| {
            if now < secs {
                next = next.min(secs);
            }
        };
        for slow in &timeline.tasks {
            offer(slow.running.map_or(slow.due_secs, |r| r.1));
        }
        for window in self.engine.schedule.tasks.iter().filter_map(|t| t.within) {
            let (every, open) = (window.every_ns as f64 * NS, window.open_ns as f64 * NS);
            let opened = (now / every).floor() * every;
            offer(opened + open);
            offer(opened + every);
        }
        if self.course.days == Days::Halves {
            offer(((now / DAY_SECS * 2.0).floor() + 1.0) * DAY_SECS / 2.0);
        }
        next
    }

    fn half(&self) -> Half {
        let share = self.now.secs / DAY_SECS;
        if self.course.days == Days::Halves && 0.5 <= share - share.floor() {
            Half::Day
        } else {
            Half::Night
        }
    }

    /// The steps that go on, with the fast tasks that do not wait for them.
    fn mix_of(&mut self, timeline: &Timeline) -> usize {
        let tasks = &self.engine.schedule.tasks;
        let running = timeline.tasks.iter();
        let mut pinned: Vec<(usize, usize)> = running
            .filter_map(|s| Some((s.task, s.running?.0)))
            .collect();
        pinned.sort_unstable();
        let is_slow = |at: &usize| timeline.tasks.iter().any(|s| s.task == *at);
        let waits = |at: &usize| {
            let mut claims = pinned.iter().map(|p| &tasks[p.0].claims);
            claims.any(|c| !c.is_disjoint(&tasks[*at].claims))
        };
        let fast = (0..tasks.len())
            .filter(|at| !is_slow(at) && !waits(at) && self.is_open(*at, self.now.secs));
        let fast = fast.collect();
        self.engine.pinned(fast, pinned)
    }

    /// Finds the place in the cycle of windows, for what follows the end.
    fn come_back(&mut self) {
        let cycle = self.engine.schedule.cycle_secs();
        if !cycle.is_finite() {
            return;
        }
        let mut rest = self.now.secs - (self.now.secs / cycle).floor() * cycle;
        for (at, regime) in self.engine.schedule.regimes.iter().enumerate() {
            if rest < regime.secs {
                self.under_way = (at, regime.secs - rest);
                return;
            }
            rest -= regime.secs;
        }
    }
}
