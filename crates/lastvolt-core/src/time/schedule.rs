//! Which joint states of the loads occur, for what share of time, and which can coincide.
//!
//! Tasks have a free phase unless an offset is given; windows open at t = 0. Where two tasks claim
//! one load the later waits, so they never overlap but may run back to back; tasks on different
//! loads overlap as often as chance has it.

use std::collections::{BTreeMap, BTreeSet};

use crate::model::{Load, Profile, Task, Window};
use crate::time::align::{Hold, first_meeting_ns};
use crate::time::climate::Days;
use crate::time::window::{self, Regime};

pub(crate) const NS: f64 = 1e-9;
/// Most coincidences that are looked at.
const MOST_COINCIDENCES: usize = 256;
/// Most joint states among which the time of a mix is shared out.
const MOST_SHARES: usize = 64;

/// Everything about time that a life needs.
#[derive(Debug, Clone)]
pub(crate) struct Schedule {
    /// Joint states; the first is the base.
    pub(crate) joints: Vec<Joint>,
    pub(crate) tasks: Vec<Timed>,
    /// Joint state of every step of every task.
    pub(crate) steps: Vec<usize>,
    /// The sets of tasks that are active together.
    pub(crate) mixes: Vec<Mix>,
    /// Stretches between window edges, one after the other; a single endless one without windows.
    pub(crate) regimes: Vec<Regime>,
    pub(crate) warnings: Vec<String>,
}

/// One joint state of all loads.
#[derive(Debug, Clone)]
pub(crate) struct Joint {
    /// State of every load that differs from the base.
    pub(crate) set: BTreeMap<String, String>,
    /// The steps that make it: task and step.
    pub(crate) steps: Vec<(usize, usize)>,
}

/// A task with what matters in time.
#[derive(Debug, Clone)]
pub(crate) struct Timed {
    pub(crate) name: String,
    pub(crate) every_secs: f64,
    pub(crate) every_ns: u64,
    pub(crate) offset_ns: Option<u64>,
    pub(crate) within: Option<Window>,
    /// Span and joint state of each step.
    pub(crate) steps: Vec<(f64, usize)>,
    /// Place of its first step among the steps of all tasks.
    pub(crate) first_step: usize,
    /// Loads that it puts into a state.
    pub(crate) claims: BTreeSet<String>,
}

/// A set of tasks that are active together.
#[derive(Debug, Clone)]
pub(crate) struct Mix {
    /// Places of the tasks.
    pub(crate) active: Vec<usize>,
    /// Joint states with their shares of time, the base first.
    pub(crate) shares: Vec<(usize, f64)>,
    /// Joint states that can occur.
    pub(crate) worst: Vec<usize>,
}

impl Schedule {
    pub(crate) fn new(
        profile: Option<&Profile>,
        loads: &[(String, &Load)],
        secs: f64,
        days: Days,
    ) -> Self {
        let base = Joint {
            set: BTreeMap::new(),
            steps: Vec::new(),
        };
        let mut schedule = Self {
            joints: vec![base],
            tasks: Vec::new(),
            steps: Vec::new(),
            mixes: Vec::new(),
            regimes: Vec::new(),
            warnings: Vec::new(),
        };
        let known = |load: &str| loads.iter().any(|(_, l)| l.name == load);
        let all = profile.map_or(&[][..], |p| &p.tasks);
        let tasks: Vec<&Task> = all
            .iter()
            .filter(|t| t.every_ns > 0 && t.steps.iter().any(|s| s.set.iter().any(|s| known(&s.0))))
            .collect();
        for task in &tasks {
            schedule.add_task(task, loads);
        }
        schedule.add_coincidences(secs);
        let (regimes, sets) = window::regimes(&tasks, days, &mut schedule.warnings);
        schedule.regimes = regimes;
        for active in sets {
            let mix = schedule.mix(active, secs);
            schedule.mixes.push(mix);
        }
        schedule
    }

    fn add_task(&mut self, task: &Task, loads: &[(String, &Load)]) {
        let at = self.tasks.len();
        let first_step = self.steps.len();
        let mut steps = Vec::new();
        let mut claims = BTreeSet::new();
        for (k, step) in task.steps.iter().enumerate() {
            let mut set = BTreeMap::new();
            for (load, state) in &step.set {
                if let Some((name, _)) = loads.iter().find(|(_, l)| l.name == *load) {
                    set.insert(name.clone(), state.clone());
                    claims.insert(name.clone());
                }
            }
            self.joints.push(Joint {
                set,
                steps: vec![(at, k)],
            });
            self.steps.push(self.joints.len() - 1);
            steps.push((step.span_ns as f64 * NS, self.joints.len() - 1));
        }
        self.tasks.push(Timed {
            name: task.name.clone(),
            every_secs: task.every_ns as f64 * NS,
            every_ns: task.every_ns,
            offset_ns: task.offset_ns,
            within: task.within.filter(|w| w.every_ns > 0),
            steps,
            first_step,
            claims,
        });
    }

    /// Adds every joint state of steps of different tasks on different loads that can coincide.
    fn add_coincidences(&mut self, secs: f64) {
        let mut open: Vec<usize> = self.steps.clone();
        let mut added = 0;
        while !open.is_empty() {
            let mut next = Vec::new();
            for &at in &open {
                for single in self.steps.clone() {
                    let Some(joint) = self.joined(at, single, secs) else {
                        continue;
                    };
                    if added == MOST_COINCIDENCES {
                        self.warnings.push(format!(
                            "more than {MOST_COINCIDENCES} coincidences of tasks: the rest is not looked at"
                        ));
                        return;
                    }
                    added += 1;
                    self.joints.push(joint);
                    next.push(self.joints.len() - 1);
                }
            }
            open = next;
        }
    }

    /// Joint state `at` with one more step of a later task, where that can occur within `secs`.
    fn joined(&self, at: usize, single: usize, secs: f64) -> Option<Joint> {
        let (joint, other) = (&self.joints[at], &self.joints[single]);
        let (task, step) = *other.steps.first()?;
        let last = joint.steps.iter().map(|s| s.0).max()?;
        if task <= last || other.set.is_empty() {
            return None;
        }
        let meets = |&(t, s): &(usize, usize)| self.can_meet((t, s), (task, step), secs);
        if !joint.steps.iter().all(meets) {
            return None;
        }
        let mut joined = joint.clone();
        joined.set.extend(other.set.clone());
        joined.steps.push((task, step));
        Some(joined)
    }

    /// Whether steps of two tasks can hold at once within `secs`.
    fn can_meet(&self, a: (usize, usize), b: (usize, usize), secs: f64) -> bool {
        let (ta, tb) = (&self.tasks[a.0], &self.tasks[b.0]);
        if !ta.claims.is_disjoint(&tb.claims) {
            return false;
        }
        match (ta.hold(a.1), tb.hold(b.1)) {
            (Some(a), Some(b)) => first_meeting_ns(a, b).is_some_and(|ns| (ns as f64) * NS <= secs),
            _ => true,
        }
    }

    /// Shares of time and coincidences of a set of tasks.
    fn mix(&mut self, active: Vec<usize>, secs: f64) -> Mix {
        let groups = self.groups(&active, secs);
        for group in &groups {
            let busy: f64 = group.iter().map(|&t| self.tasks[t].busy_share()).sum();
            if busy > 1.0 {
                let names: Vec<&str> = group.iter().map(|&t| self.tasks[t].name.as_str()).collect();
                let says = format!(
                    "tasks ask for more time than there is: {}",
                    names.join(", ")
                );
                if !self.warnings.contains(&says) {
                    self.warnings.push(says);
                }
            }
        }
        let shares = self.chance_shares(&groups, &[]);
        let shares = shares.unwrap_or_else(|| self.single_shares(&active));
        let occurs = |at: &usize| {
            let mut steps = self.joints[*at].steps.iter();
            steps.all(|(t, _)| active.contains(t))
        };
        let worst = (0..self.joints.len()).filter(occurs).collect();
        Mix {
            active,
            shares,
            worst,
        }
    }

    /// Shares of time and coincidences of tasks while steps of other tasks go on.
    pub(crate) fn pinned_mix(
        &self,
        active: Vec<usize>,
        pinned: &[(usize, usize)],
        secs: f64,
    ) -> Mix {
        let place = self.joints.iter().position(|j| j.steps == pinned);
        let single = pinned
            .first()
            .map(|&(task, step)| self.tasks[task].steps[step].1);
        let base = place.or(single).unwrap_or(0);
        let groups = self.groups(&active, secs);
        let shares = self.chance_shares(&groups, pinned);
        let holds = |at: &usize| {
            let steps = &self.joints[*at].steps;
            let others = steps.iter().filter(|s| !pinned.contains(s));
            pinned.iter().all(|p| steps.contains(p))
                && others.into_iter().all(|(t, _)| active.contains(t))
        };
        let mut worst: Vec<usize> = (0..self.joints.len()).filter(holds).collect();
        if worst.is_empty() {
            worst.push(base);
        }
        Mix {
            shares: shares.unwrap_or_else(|| vec![(base, 1.0)]),
            worst,
            active,
        }
    }

    /// Tasks that never overlap, in groups; those of different groups do not know of each other.
    fn groups(&self, active: &[usize], secs: f64) -> Vec<Vec<usize>> {
        let mut groups: Vec<Vec<usize>> = Vec::new();
        for &task in active {
            let apart = |&other: &usize| {
                let (a, b) = (self.tasks[task].steps.len(), self.tasks[other].steps.len());
                !(0..a).any(|s| (0..b).any(|o| self.can_meet((task, s), (other, o), secs)))
            };
            let (mut own, rest): (Vec<_>, Vec<_>) = groups
                .into_iter()
                .partition(|group| group.iter().any(apart));
            let mut merged: Vec<usize> = own.drain(..).flatten().collect();
            merged.push(task);
            groups = rest;
            groups.push(merged);
        }
        groups
    }

    /// Shares of time where the groups overlap as chance has it; none where that is too many states.
    fn chance_shares(
        &self,
        groups: &[Vec<usize>],
        pinned: &[(usize, usize)],
    ) -> Option<Vec<(usize, f64)>> {
        let mut shares: Vec<(Vec<(usize, usize)>, f64)> = vec![(pinned.to_vec(), 1.0)];
        for group in groups {
            let busy: f64 = group.iter().map(|&t| self.tasks[t].busy_share()).sum();
            let idle = (1.0 - busy).max(0.0);
            let scale = if busy > 1.0 { 1.0 / busy } else { 1.0 };
            let mut next: Vec<_> = shares.iter().map(|(s, w)| (s.clone(), w * idle)).collect();
            for (steps, share) in &shares {
                for &task in group {
                    let timed = &self.tasks[task];
                    for (k, (span, _)) in timed.steps.iter().enumerate() {
                        let mut steps = steps.clone();
                        steps.push((task, k));
                        steps.sort_unstable();
                        next.push((steps, share * scale * span / timed.every_secs));
                    }
                }
            }
            if next.len() > MOST_SHARES {
                return None;
            }
            shares = next;
        }
        let place = |steps: &Vec<_>| self.joints.iter().position(|j| j.steps == *steps);
        shares
            .iter()
            .map(|(steps, share)| place(steps).map(|joint| (joint, *share)))
            .collect()
    }

    /// Shares of time with one task at a time over the base: overlaps enter to first order.
    fn single_shares(&self, active: &[usize]) -> Vec<(usize, f64)> {
        let busy: f64 = active.iter().map(|&t| self.tasks[t].busy_share()).sum();
        let scale = if busy > 1.0 { 1.0 / busy } else { 1.0 };
        let mut shares = vec![(0, (1.0 - busy).max(0.0))];
        for timed in active.iter().map(|&t| &self.tasks[t]) {
            let each = timed.steps.iter();
            shares.extend(each.map(|&(span, joint)| (joint, scale * span / timed.every_secs)));
        }
        shares
    }

    /// Seconds of one cycle of all windows; infinite without windows.
    pub(crate) fn cycle_secs(&self) -> f64 {
        self.regimes.iter().map(|r| r.secs).sum()
    }
}

impl Timed {
    /// Seconds from the start of an occurrence to the start and end of a step.
    pub(crate) fn interval(&self, step: usize) -> (f64, f64) {
        let start: f64 = self.steps[..step].iter().map(|s| s.0).sum();
        (start, start + self.steps[step].0)
    }

    /// Seconds that one occurrence lasts.
    pub(crate) fn busy_secs(&self) -> f64 {
        self.steps.iter().map(|s| s.0).sum()
    }

    fn busy_share(&self) -> f64 {
        self.busy_secs() / self.every_secs
    }

    /// The shortest time from the end of `other` to the start of this task that can occur.
    pub(crate) fn shortest_gap(&self, other: &Self) -> f64 {
        let (Some(own), Some(before)) = (self.offset_ns, other.offset_ns) else {
            return 0.0;
        };
        let divisor = i128::from(window::gcd(self.every_ns, other.every_ns).max(1));
        let end = before as f64 * NS + other.busy_secs();
        let apart = i128::from(own) - (end / NS).round() as i128;
        apart.rem_euclid(divisor) as f64 * NS
    }

    fn hold(&self, step: usize) -> Option<Hold> {
        let (start, end) = self.interval(step);
        Some(Hold {
            start_ns: self.offset_ns? + (start / NS).round() as u64,
            span_ns: ((end - start) / NS).round() as u64,
            every_ns: self.every_ns,
        })
    }
}

#[cfg(test)]
#[path = "schedule_tests.rs"]
mod tests;
