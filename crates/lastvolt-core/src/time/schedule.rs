//! Which joint states of the loads occur, for what share of time, and which can coincide.
//!
//! Tasks have a free phase unless an offset is given; windows open at t = 0. Where two tasks claim
//! one load the later waits, so their steps never overlap; steps of tasks on different loads may.

use std::collections::BTreeMap;

use crate::model::{Load, Profile, Task};

const NS: f64 = 1e-9;
/// Most coincidences that are looked at.
const MOST_COINCIDENCES: usize = 256;
/// Most window edges in a cycle.
const MOST_EDGES: usize = 10_000;

/// Everything about time that a life needs.
#[derive(Debug, Clone)]
pub(crate) struct Schedule {
    /// Joint states; the first is the base.
    pub(crate) joints: Vec<Joint>,
    pub(crate) tasks: Vec<Timed>,
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
    /// Span and joint state of each step.
    pub(crate) steps: Vec<(f64, usize)>,
}

/// A stretch in which the same tasks are active.
#[derive(Debug, Clone)]
pub(crate) struct Regime {
    pub(crate) secs: f64,
    /// Places of the active tasks.
    pub(crate) active: Vec<usize>,
}

impl Schedule {
    pub(crate) fn new(profile: Option<&Profile>, loads: &[(String, &Load)]) -> Self {
        let base = Joint {
            set: BTreeMap::new(),
            steps: Vec::new(),
        };
        let regimes = vec![Regime {
            secs: f64::INFINITY,
            active: Vec::new(),
        }];
        let mut schedule = Self {
            joints: vec![base],
            tasks: Vec::new(),
            regimes,
            warnings: Vec::new(),
        };
        let Some(profile) = profile else {
            return schedule;
        };
        let known = |load: &str| loads.iter().any(|(_, l)| l.name == load);
        let tasks: Vec<&Task> = profile
            .tasks
            .iter()
            .filter(|t| {
                t.every_ns > 0 && t.steps.iter().any(|s| s.set.iter().any(|(l, _)| known(l)))
            })
            .collect();
        for task in &tasks {
            schedule.add_task(task, loads);
        }
        schedule.add_coincidences(&tasks);
        schedule.regimes = regimes_of(&tasks, &mut schedule.warnings);
        schedule
    }

    fn add_task(&mut self, task: &Task, loads: &[(String, &Load)]) {
        let at = self.tasks.len();
        let mut steps = Vec::new();
        for (k, step) in task.steps.iter().enumerate() {
            let mut set = BTreeMap::new();
            for (load, state) in &step.set {
                if let Some((name, _)) = loads.iter().find(|(_, l)| l.name == *load) {
                    set.insert(name.clone(), state.clone());
                }
            }
            self.joints.push(Joint {
                set,
                steps: vec![(at, k)],
            });
            steps.push((step.span_ns as f64 * NS, self.joints.len() - 1));
        }
        let every_secs = task.every_ns as f64 * NS;
        self.tasks.push(Timed {
            name: task.name.clone(),
            every_secs,
            steps,
        });
    }

    /// Adds every joint state of steps of different tasks on different loads that can coincide.
    fn add_coincidences(&mut self, tasks: &[&Task]) {
        let mut open: Vec<usize> = (1..self.joints.len()).collect();
        let singles = open.clone();
        let mut added = 0;
        while !open.is_empty() {
            let mut next = Vec::new();
            for &at in &open {
                for &single in &singles {
                    let Some(joint) = self.joined(at, single, tasks) else {
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

    /// Joint state `at` with one more step of a later task, where that can occur.
    fn joined(&self, at: usize, single: usize, tasks: &[&Task]) -> Option<Joint> {
        let (joint, other) = (&self.joints[at], &self.joints[single]);
        let (task, step) = *other.steps.first()?;
        let last = joint.steps.iter().map(|s| s.0).max()?;
        let shared = other.set.keys().any(|load| joint.set.contains_key(load));
        let reachable = |&(t, s): &(usize, usize)| can_meet(tasks[t], s, tasks[task], step);
        if task <= last || shared || other.set.is_empty() || !joint.steps.iter().all(reachable) {
            return None;
        }
        let mut joined = joint.clone();
        joined.set.extend(other.set.clone());
        joined.steps.push((task, step));
        Some(joined)
    }

    /// Share of time of each joint state in a regime: one step at a time over the base.
    pub(crate) fn shares(&self, regime: &Regime) -> Vec<(usize, f64)> {
        let mut rest = 1.0;
        let mut shares = vec![(0, 0.0)];
        for task in regime.active.iter().map(|&t| &self.tasks[t]) {
            for &(span, joint) in &task.steps {
                shares.push((joint, span / task.every_secs));
                rest -= span / task.every_secs;
            }
        }
        shares[0].1 = rest;
        shares
    }

    /// Places of the joint states that can occur in a regime.
    pub(crate) fn occurring(&self, regime: &Regime) -> Vec<usize> {
        let occurs = |joint: &Joint| joint.steps.iter().all(|(t, _)| regime.active.contains(t));
        (0..self.joints.len())
            .filter(|&at| occurs(&self.joints[at]))
            .collect()
    }
}

/// Whether two steps can overlap: with two fixed offsets the distances between their starts are the
/// multiples of the common divisor of the intervals.
fn can_meet(a: &Task, a_step: usize, b: &Task, b_step: usize) -> bool {
    let (Some(a_offset), Some(b_offset)) = (a.offset_ns, b.offset_ns) else {
        return true;
    };
    let starts =
        |task: &Task, step: usize| task.steps[..step].iter().map(|s| s.span_ns).sum::<u64>();
    let divisor = i128::from(gcd(a.every_ns, b.every_ns).max(1));
    let from = i128::from(a_offset + starts(a, a_step));
    let to = i128::from(b_offset + starts(b, b_step));
    let ahead = (to - from).rem_euclid(divisor);
    ahead < i128::from(a.steps[a_step].span_ns)
        || divisor - ahead < i128::from(b.steps[b_step].span_ns)
}

fn gcd(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// Cuts the common cycle of all windows at their edges.
fn regimes_of(tasks: &[&Task], warnings: &mut Vec<String>) -> Vec<Regime> {
    let windows: Vec<_> = tasks
        .iter()
        .filter_map(|t| t.within)
        .filter(|w| w.every_ns > 0)
        .collect();
    let all = (0..tasks.len()).collect();
    if windows.is_empty() {
        return vec![Regime {
            secs: f64::INFINITY,
            active: all,
        }];
    }
    let mut cycle: u64 = 1;
    for window in &windows {
        let step = window.every_ns / gcd(cycle, window.every_ns);
        match cycle
            .checked_mul(step)
            .filter(|c| c / window.every_ns < MOST_EDGES as u64)
        {
            Some(longer) => cycle = longer,
            None => warnings.push(
                "windows with no short common cycle: their alignment is taken as at the start"
                    .to_owned(),
            ),
        }
    }
    let mut edges = vec![0, cycle];
    for window in &windows {
        for start in (0..cycle).step_by(usize::try_from(window.every_ns).unwrap_or(usize::MAX)) {
            edges.extend([start, (start + window.open_ns).min(cycle)]);
        }
    }
    edges.sort_unstable();
    edges.dedup();
    let open = |task: &Task, at: u64| {
        task.within
            .is_none_or(|w| w.every_ns == 0 || at % w.every_ns < w.open_ns)
    };
    let regimes = edges.windows(2).map(|edge| Regime {
        secs: (edge[1] - edge[0]) as f64 * NS,
        active: (0..tasks.len())
            .filter(|&t| open(tasks[t], edge[0]))
            .collect(),
    });
    regimes.collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Step, Window};

    fn task(name: &str, every_ns: u64, offset_ns: Option<u64>, load: &str, span_ns: u64) -> Task {
        let set = vec![(load.to_owned(), "on".to_owned())];
        let steps = vec![Step { span_ns, set }];
        Task {
            name: name.to_owned(),
            every_ns,
            offset_ns,
            within: None,
            steps,
        }
    }

    #[test]
    fn offsets_that_never_meet_are_told_from_those_that_do() {
        let a = task("a", 6_000, Some(0), "x", 1_000);
        let meets = |offset, every| can_meet(&a, 0, &task("b", every, Some(offset), "y", 500), 0);
        // Common divisor 2000: starts lie a multiple of 2000 beside the offset apart.
        assert!(meets(2_900, 4_000));
        assert!(!meets(1_000, 4_000));
        assert!(!meets(1_500, 4_000));
        assert!(meets(1_501, 4_000));
        // Divisor 3: every alignment occurs.
        assert!(meets(1_500, 4_003));
    }

    #[test]
    fn windows_cut_the_day_and_coincidences_need_different_loads() {
        let mut listen = task("listen", 60_000_000_000, None, "radio", 1_000_000);
        listen.within = Some(Window {
            every_ns: 86_400_000_000_000,
            open_ns: 28_800_000_000_000,
        });
        let tasks = [
            &listen,
            &task("beep", 5_000_000_000, None, "horn", 1_000_000),
        ];
        let mut warnings = Vec::new();
        let regimes = regimes_of(&tasks, &mut warnings);
        let spans: Vec<f64> = regimes.iter().map(|r| r.secs).collect();
        assert_eq!(spans, [28_800.0, 57_600.0]);
        assert_eq!(regimes[0].active, [0, 1]);
        assert_eq!(regimes[1].active, [1]);
        assert!(warnings.is_empty());
    }
}
