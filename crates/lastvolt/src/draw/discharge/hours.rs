//! The time at which a life reaches depths, above a plot of depths: round spans of time as far as their
//! words have room.

use lastvolt_core::quantity::{DAY_SECS, MONTH_SECS, YEAR_SECS};

use crate::draw::axis::Scale;
use crate::draw::plot::Plot;
use crate::draw::svg::{Anchor, Canvas};
use crate::draw::words::width_of;
use crate::text::number::{duration, plural};

/// Round spans from one tick to the next, in seconds.
const STEPS: [f64; 45] = [
    1e-3,
    2e-3,
    5e-3,
    1e-2,
    2e-2,
    5e-2,
    0.1,
    0.2,
    0.5,
    1.0,
    2.0,
    5.0,
    10.0,
    20.0,
    30.0,
    60.0,
    120.0,
    300.0,
    600.0,
    900.0,
    1800.0,
    3600.0,
    2.0 * 3600.0,
    3.0 * 3600.0,
    6.0 * 3600.0,
    12.0 * 3600.0,
    DAY_SECS,
    2.0 * DAY_SECS,
    5.0 * DAY_SECS,
    10.0 * DAY_SECS,
    20.0 * DAY_SECS,
    MONTH_SECS,
    2.0 * MONTH_SECS,
    3.0 * MONTH_SECS,
    6.0 * MONTH_SECS,
    YEAR_SECS,
    2.0 * YEAR_SECS,
    5.0 * YEAR_SECS,
    10.0 * YEAR_SECS,
    20.0 * YEAR_SECS,
    50.0 * YEAR_SECS,
    100.0 * YEAR_SECS,
    200.0 * YEAR_SECS,
    500.0 * YEAR_SECS,
    1000.0 * YEAR_SECS,
];
/// Ticks at most.
const MOST: f64 = 24.0;
/// Least room between two words, and between words and an upright line.
const APART: f64 = 10.0;
const CLEAR: f64 = 3.0;

/// Draws the axis as far as the life goes; words keep clear of upright lines at the given places.
pub(super) fn draw(
    canvas: &mut Canvas,
    times: &[(f64, f64)],
    plot: &Plot,
    along: &Scale,
    taken: &[f64],
) {
    let (Some(&(first, _)), Some(&(last, depth))) = (times.first(), times.last()) else {
        return;
    };
    if times.len() < 2 || !(last - first).is_finite() || last <= first {
        return;
    }
    let y = plot.top;
    let right = along.at(depth.clamp(0.0, 1.0));
    canvas.line("axis", [plot.left, y, right, y]);
    let ticks = ticks(times, along);
    for (x, words) in &ticks {
        canvas.line("tick", [*x, y - 6.0, *x, y]);
        let half = width_of(words, "label") / 2.0;
        let places = [
            (Anchor::Middle, x - half, *x),
            (Anchor::Start, *x, *x),
            (Anchor::End, x - 2.0 * half, *x),
        ];
        let free = places.iter().find(|(_, from, _)| {
            let to = from + 2.0 * half;
            let inside = 0.0 <= *from && to <= canvas.width();
            let clear = |at: &f64| *at < from - CLEAR || to + CLEAR < *at;
            inside && taken.iter().all(clear)
        });
        if let Some((anchor, _, x)) = free {
            canvas.text_where_free("label", &[(*anchor, *x, y - 10.0)], words);
        }
    }
}

/// Places and words of the shortest round steps whose words have room beside each other.
fn ticks(times: &[(f64, f64)], along: &Scale) -> Vec<(f64, String)> {
    let last = times.last().map_or(0.0, |t| t.0);
    let mut best = Vec::new();
    for step in STEPS.iter().rev() {
        if MOST * step < last {
            break;
        }
        let ticks = ticks_of(*step, times, along);
        let widest = ticks.iter().map(|t| width_of(&t.1, "label"));
        let room = widest.fold(0.0, f64::max) + APART;
        if ticks.windows(2).any(|w| w[1].0 - w[0].0 < room) {
            break;
        }
        best = ticks;
    }
    best
}

fn ticks_of(step: f64, times: &[(f64, f64)], along: &Scale) -> Vec<(f64, String)> {
    let mut out = Vec::new();
    let mut at = step;
    while let Some(depth) = depth_at(times, at) {
        out.push((along.at(depth.clamp(0.0, 1.0)), words(step, at)));
        at += step;
    }
    out
}

/// A whole number of steps in words: days and months as such also where few.
fn words(step: f64, secs: f64) -> String {
    if (DAY_SECS..MONTH_SECS).contains(&step) {
        plural(secs / DAY_SECS, "day")
    } else if MONTH_SECS <= step && secs < YEAR_SECS {
        plural(secs / MONTH_SECS, "month")
    } else {
        duration(secs)
    }
}

/// The depth that a life has reached after a time; none once it is over.
fn depth_at(times: &[(f64, f64)], secs: f64) -> Option<f64> {
    let after = times.partition_point(|t| t.0 < secs);
    let (b, deep) = *times.get(after)?;
    let Some((a, shallow)) = after.checked_sub(1).and_then(|k| times.get(k)).copied() else {
        return Some(deep);
    };
    Some(shallow + (secs - a) / (b - a) * (deep - shallow))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_as_close_as_their_words_allow() {
        let along = Scale::new((0.0, 1.0), (0.0, 660.0));
        let words = |secs: f64| -> Vec<String> {
            let ticks = ticks(&[(0.0, 0.0), (secs, 0.9)], &along);
            ticks.into_iter().map(|t| t.1).collect()
        };
        assert_eq!(words(0.5 * YEAR_SECS)[0], "1 month");
        // Those of a year and some months are wide.
        assert_eq!(words(1.7 * YEAR_SECS)[0], "6 months");
        assert_eq!(words(8.0 * DAY_SECS)[0], "1 day");
        // Those of ten days and more are wider than a twelfth of the life.
        assert_eq!(words(12.0 * DAY_SECS)[0], "2 days");
        assert_eq!(words(20.0 * 3600.0)[0], "3 hours");
        assert_eq!(words(60.0 * YEAR_SECS)[0], "10 years");
        assert!(words(f64::MIN_POSITIVE).is_empty());
    }

    #[test]
    fn words_of_ticks_stand_apart_in_lives_of_any_length() {
        let along = Scale::new((0.0, 1.0), (44.0, 316.0));
        let mut secs = 1e-2;
        while secs < 500.0 * YEAR_SECS {
            let ticks = ticks(&[(0.0, 0.0), (secs, 0.9)], &along);
            assert!(!ticks.is_empty(), "{secs} s");
            for pair in ticks.windows(2) {
                let halves = pair.iter().map(|t| width_of(&t.1, "label") / 2.0);
                let room = pair[1].0 - pair[0].0 - halves.sum::<f64>();
                assert!(APART - 1e-9 <= room, "{secs} s: {pair:?}");
            }
            secs *= 1.37;
        }
    }

    #[test]
    fn a_tick_stands_where_the_life_is_at_its_time() {
        let times = [(0.0, 0.0), (100.0, 0.2), (300.0, 0.8)];
        assert_eq!(depth_at(&times, 200.0), Some(0.5));
        assert_eq!(depth_at(&times, 300.1), None);
        assert_eq!(depth_at(&[], 1.0), None);
    }
}
