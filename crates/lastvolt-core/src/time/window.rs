//! The stretches between the edges of windows, over the common cycle of all windows.

use crate::model::{Task, Window};
use crate::time::climate::{DAY_NS, Days, Half};

/// Most window edges in a cycle.
const MOST_EDGES: u64 = 2_000;

/// A stretch in which the same tasks are active.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Regime {
    pub(crate) secs: f64,
    /// Place of its set of tasks.
    pub(crate) mix: usize,
    pub(crate) half: Half,
}

/// The stretches of one cycle and the sets of tasks that are active in them, as places of tasks.
///
/// Without windows there is one endless stretch.
pub(crate) fn regimes(
    tasks: &[&Task],
    days: Days,
    warnings: &mut Vec<String>,
) -> (Vec<Regime>, Vec<Vec<usize>>) {
    let all: Vec<usize> = (0..tasks.len()).collect();
    let mut windows: Vec<Window> = tasks.iter().filter_map(|t| t.within).collect();
    let night = Window {
        every_ns: DAY_NS,
        open_ns: DAY_NS / 2,
    };
    if days == Days::Halves {
        windows.push(night);
    }
    let cycle = cycle_ns(&windows, warnings);
    let Some(cycle) = cycle else {
        let secs = f64::INFINITY;
        let half = Half::Night;
        return (vec![Regime { secs, mix: 0, half }], vec![all]);
    };
    let mut edges = vec![0, cycle];
    for window in windows {
        let mut start = 0;
        while window.every_ns > 0 && start < cycle {
            edges.push(start);
            edges.push((start + window.open_ns.min(window.every_ns)).min(cycle));
            start += window.every_ns;
        }
    }
    edges.sort_unstable();
    edges.dedup();
    let open = |task: &Task, at: u64| {
        task.within
            .is_none_or(|w| w.every_ns == 0 || at % w.every_ns < w.open_ns)
    };
    let mut sets: Vec<Vec<usize>> = Vec::new();
    let mut regimes: Vec<Regime> = Vec::new();
    for edge in edges.windows(2) {
        let active: Vec<usize> = all
            .iter()
            .copied()
            .filter(|&t| open(tasks[t], edge[0]))
            .collect();
        let known = sets.iter().position(|s| *s == active);
        let mix = known.unwrap_or(sets.len());
        if known.is_none() {
            sets.push(active);
        }
        let secs = (edge[1] - edge[0]) as f64 * 1e-9;
        let is_day = days == Days::Halves && night.open_ns <= edge[0] % night.every_ns;
        let half = if is_day { Half::Day } else { Half::Night };
        match regimes.last_mut() {
            Some(last) if last.mix == mix && last.half == half => last.secs += secs,
            _ => regimes.push(Regime { secs, mix, half }),
        }
    }
    if let [only] = regimes.as_mut_slice() {
        only.secs = f64::INFINITY;
    }
    (regimes, sets)
}

/// The common cycle of all windows; none without windows.
fn cycle_ns(windows: &[Window], warnings: &mut Vec<String>) -> Option<u64> {
    let windows = windows.iter().filter(|w| w.every_ns > 0);
    let mut windows: Vec<_> = windows.copied().collect();
    windows.sort_by_key(|w| w.every_ns);
    let mut cycle: Option<u64> = None;
    for window in &windows {
        let longer = match cycle {
            None => Some(window.every_ns),
            Some(c) => c.checked_mul(window.every_ns / gcd(c, window.every_ns)),
        };
        let shortest = windows[0].every_ns;
        match longer.filter(|c| c / shortest <= MOST_EDGES / windows.len() as u64) {
            Some(longer) => cycle = Some(longer),
            None => {
                warnings.push(
                    "windows without a short common cycle: they are taken to open together at the start of every longest one"
                        .to_owned(),
                );
                return windows.last().map(|w| w.every_ns);
            }
        }
    }
    cycle
}

pub(crate) fn gcd(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Window;

    const HOUR: u64 = 3_600_000_000_000;

    fn task(within: Option<(u64, u64)>) -> Task {
        Task {
            name: "t".to_owned(),
            every_ns: 1_000_000_000,
            offset_ns: None,
            within: within.map(|(every, open)| Window {
                every_ns: every * HOUR,
                open_ns: open * HOUR,
            }),
            steps: Vec::new(),
        }
    }

    fn cut(tasks: &[Task]) -> (Vec<(f64, usize)>, Vec<Vec<usize>>, usize) {
        let mut warnings = Vec::new();
        let tasks: Vec<&Task> = tasks.iter().collect();
        let (regimes, sets) = regimes(&tasks, Days::Even, &mut warnings);
        let regimes = regimes.iter().map(|r| (r.secs / 3600.0, r.mix));
        (regimes.collect(), sets, warnings.len())
    }

    #[test]
    fn windows_cut_the_day() {
        let (regimes, sets, warnings) = cut(&[task(Some((24, 8))), task(None)]);
        assert_eq!(regimes, [(8.0, 0), (16.0, 1)]);
        assert_eq!(sets, [vec![0, 1], vec![1]]);
        assert_eq!(warnings, 0);
    }

    #[test]
    fn windows_of_two_intervals_share_a_cycle_and_its_sets() {
        let (regimes, sets, _) = cut(&[task(Some((24, 8))), task(Some((48, 12)))]);
        assert_eq!(
            regimes,
            [(8.0, 0), (4.0, 1), (12.0, 2), (8.0, 3), (16.0, 2)]
        );
        assert_eq!(sets, [vec![0, 1], vec![1], vec![], vec![0]]);
    }

    #[test]
    fn a_window_that_never_closes_is_none() {
        assert_eq!(cut(&[task(Some((24, 24)))]).0, [(f64::INFINITY, 0)]);
        assert_eq!(cut(&[task(None)]).0, [(f64::INFINITY, 0)]);
        assert_eq!(cut(&[]).1, [Vec::<usize>::new()]);
    }

    #[test]
    fn windows_that_never_line_up_are_reported() {
        let (_, _, warnings) = cut(&[task(Some((23, 1))), task(Some((8761, 2)))]);
        assert_eq!(warnings, 1);
    }
}
