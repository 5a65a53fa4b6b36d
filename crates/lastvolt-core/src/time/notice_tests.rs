//! Signals of invented lives whose thresholds are known in closed form.

use super::*;
use crate::quantity::DAY_SECS;
use crate::time::{Cause, End};

fn end_of(secs: f64) -> Life {
    Life {
        positions: std::collections::BTreeMap::new(),
        life_secs: Some(secs),
        error_secs: 0.0,
        end: End {
            cause: Cause::BrownOut,
            load: None,
            state: None,
            task: None,
            net: None,
            net_volts: None,
            cell_volts: None,
            depth: 1.0,
            shares: Vec::new(),
        },
        ledger: Vec::new(),
        ledger_error: 0.0,
        mean_cell_amps: 0.0,
        cold_night: None,
        calendar: None,
        shelf: None,
        trace: Trace::default(),
        points_solved: 0,
        bursts_followed: 0,
        warnings: Vec::new(),
    }
}

/// A life of 100 days whose cell stands at `volts(day)` and whose rail is the same less a fifth.
fn of(days: f64, volts: impl Fn(f64) -> f64) -> Life {
    let mut life = end_of(days * DAY_SECS);
    for k in 0..=50 {
        let day = days * f64::from(k) / 50.0;
        life.trace.time_secs.push(day * DAY_SECS);
        life.trace.depth.push(day / days);
        life.trace.cell.rest_volts.push(volts(day));
        life.trace.cell.lowest_volts.push(volts(day) - 0.2);
        life.trace.rail.rest_volts.push(2.8);
        life.trace.rail.lowest_volts.push(2.8 - 1e-4 * day);
    }
    life
}

fn nodes() -> Vec<Place> {
    vec![
        (Node::Rail, "VDD".to_owned(), 1.0),
        (Node::Cell, "BAT".to_owned(), 1.0),
    ]
}

fn near(got: f64, expected: f64) {
    assert!(
        (got - expected).abs() < 1e-6 * expected.abs(),
        "{got} against {expected}"
    );
}

#[test]
fn a_straight_fall_has_the_threshold_of_its_slope() {
    // 10 mV a day from 3 V: 2 V at the end, 2.14 V a fortnight before.
    let usual = of(100.0, |day| 3.0 - 0.01 * day);
    // In the cold 0.05 V less, so that the end comes after 95 days and the threshold 5 days early.
    let cold = of(95.0, |day| 2.95 - 0.01 * day);
    let signals = signals(&nodes(), &[&cold, &usual, &usual], 14.0 * DAY_SECS);
    assert_eq!(signals.len(), 4);
    let rest = &signals[2];
    assert_eq!((rest.name(), rest.net.as_str()), ("cell-at-rest", "BAT"));
    near(rest.threshold_volts, 2.14);
    near(rest.notice_secs[1].unwrap_or(0.0), 14.0 * DAY_SECS);
    near(rest.notice_secs[0].unwrap_or(0.0), 14.0 * DAY_SECS);
    near(rest.fall_volts, 0.14);
    near(rest.step_secs, DAY_SECS);
    assert!(rest.tells);
    near(signals[3].threshold_volts, 1.94);
}

#[test]
fn cold_that_lowers_the_signal_but_not_the_end_warns_too_soon() {
    let usual = of(100.0, |day| 3.0 - 0.01 * day);
    let cold = of(100.0, |day| 2.95 - 0.01 * day);
    let signals = signals(&nodes(), &[&cold, &usual, &usual], 14.0 * DAY_SECS);
    // 50 mV at 10 mV a day: five days sooner, and the threshold for it 50 mV lower.
    near(signals[2].notice_secs[0].unwrap_or(0.0), 19.0 * DAY_SECS);
    near(signals[2].needed_volts[0].unwrap_or(0.0), 2.09);
}

#[test]
fn a_held_rail_cannot_tell_and_the_cell_serves() {
    let usual = of(100.0, |day| 3.0 - 0.01 * day);
    let signals = signals(&nodes(), &[&usual, &usual, &usual], 14.0 * DAY_SECS);
    assert!(!signals[0].tells && !signals[1].tells);
    assert!(signals[2].tells);
    assert_eq!(best(&signals, 14.0 * DAY_SECS), Some(2));
}

#[test]
fn a_signal_that_stood_lower_before_warns_later_and_says_since_when() {
    // A dip to 2.05 V at half time, below the 2.14 V of a fortnight before the end.
    let dip = |day: f64| {
        if (day - 50.0).abs() < 0.5 {
            2.05
        } else {
            3.0 - 0.01 * day
        }
    };
    let usual = of(100.0, dip);
    let signals = signals(&nodes(), &[&usual, &usual, &usual], 14.0 * DAY_SECS);
    let rest = &signals[2];
    near(rest.threshold_volts, 2.05);
    near(rest.lower_before_secs.unwrap_or(0.0), 50.0 * DAY_SECS);
    near(rest.notice_secs[1].unwrap_or(0.0), 5.0 * DAY_SECS);
}

#[test]
fn a_life_shorter_than_the_notice_has_no_threshold() {
    let usual = of(10.0, |day| 3.0 - 0.01 * day);
    assert!(signals(&nodes(), &[&usual, &usual, &usual], 14.0 * DAY_SECS).is_empty());
}
