//! Joint states, shares and coincidences of small profiles.

use super::*;
use crate::model::{Law, LoadState, Step};
use crate::quantity::{Current, Spread};
use crate::time::ripple::{Ripple, Ripples};

fn load(name: &str) -> Load {
    let state = |name: &str| LoadState {
        name: name.to_owned(),
        law: Law::Current(Spread::exactly(Current::from_amps(1e-3))),
        working: None,
    };
    Load {
        name: name.to_owned(),
        plus: "VDD".to_owned(),
        minus: "GND".to_owned(),
        working: None,
        survives: None,
        ripple: None,
        reset: None,
        states: vec![state("off"), state("on")],
        drives: Vec::new(),
        on: None,
    }
}

fn task(name: &str, every_secs: u64, offset_secs: Option<u64>, load: &str, millis: u64) -> Task {
    let set = vec![(load.to_owned(), "on".to_owned())];
    Task {
        name: name.to_owned(),
        every_ns: every_secs * 1_000_000_000,
        offset_ns: offset_secs.map(|s| s * 1_000_000_000),
        within: None,
        steps: vec![Step {
            span_ns: millis * 1_000_000,
            set,
        }],
    }
}

fn schedule(tasks: Vec<Task>) -> Schedule {
    let loads = [load("radio"), load("horn"), load("lamp")];
    let named: Vec<(String, &Load)> = loads.iter().map(|l| (l.name.clone(), l)).collect();
    let profile = Profile {
        name: "p".to_owned(),
        base: Vec::new(),
        tasks,
    };
    Schedule::new(Some(&profile), &named, 1e9, Days::Even)
}

fn share(schedule: &Schedule, steps: &[(usize, usize)]) -> f64 {
    let at = |j: &usize| schedule.joints[*j].steps == steps;
    let mut shares = schedule.mixes[0].shares.iter();
    shares.find(|(j, _)| at(j)).map_or(0.0, |s| s.1)
}

#[test]
fn tasks_on_one_load_wait_and_on_two_loads_overlap_by_chance() {
    let s = schedule(vec![
        task("a", 10, None, "radio", 1000),
        task("b", 20, None, "radio", 1000),
        task("c", 4, None, "horn", 1000),
    ]);
    assert!((share(&s, &[(0, 0)]) - 0.1 * 0.75).abs() < 1e-12);
    assert!((share(&s, &[(0, 0), (2, 0)]) - 0.1 * 0.25).abs() < 1e-12);
    assert!((share(&s, &[(1, 0), (2, 0)]) - 0.05 * 0.25).abs() < 1e-12);
    assert_eq!(share(&s, &[(0, 0), (1, 0)]), 0.0);
    let sum: f64 = s.mixes[0].shares.iter().map(|s| s.1).sum();
    assert!((sum - 1.0).abs() < 1e-12);
    // Base, three steps, two coincidences.
    assert_eq!(s.mixes[0].worst.len(), 6);
}

#[test]
fn fixed_offsets_that_never_meet_are_no_coincidence() {
    let apart = schedule(vec![
        task("a", 6, Some(0), "radio", 900),
        task("b", 4, Some(1), "horn", 900),
    ]);
    assert_eq!(apart.joints.len(), 3);
    assert!((share(&apart, &[(0, 0)]) - 0.15).abs() < 1e-12);
    let meeting = schedule(vec![
        task("a", 6, Some(0), "radio", 900),
        task("b", 4, Some(2), "horn", 900),
    ]);
    assert_eq!(meeting.joints.len(), 4);
}

#[test]
fn a_coincidence_later_than_the_life_does_not_happen() {
    let mut slow = task("b", 1, Some(0), "horn", 1);
    // Drifts by one nanosecond a second: from half a second apart it takes 5e8 s.
    slow.every_ns += 1;
    slow.offset_ns = Some(500_000_000);
    let fast = task("a", 1, Some(0), "radio", 1);
    let loads = [load("radio"), load("horn")];
    let named: Vec<(String, &Load)> = loads.iter().map(|l| (l.name.clone(), l)).collect();
    let profile = Profile {
        name: "p".to_owned(),
        base: Vec::new(),
        tasks: vec![fast, slow],
    };
    assert_eq!(
        Schedule::new(Some(&profile), &named, 1e8, Days::Even)
            .joints
            .len(),
        3
    );
    assert_eq!(
        Schedule::new(Some(&profile), &named, 1e9, Days::Even)
            .joints
            .len(),
        4
    );
}

#[test]
fn tasks_of_loads_that_are_not_there_are_skipped_and_too_much_work_is_reported() {
    let s = schedule(vec![task("a", 1, None, "motor", 900)]);
    assert!(s.tasks.is_empty());
    let s = schedule(vec![
        task("a", 1, None, "radio", 700),
        task("b", 1, None, "radio", 700),
    ]);
    assert_eq!(s.warnings.len(), 1);
    assert!((share(&s, &[(0, 0)]) - 0.5).abs() < 1e-12);
    assert_eq!(share(&s, &[]), 0.0);
}

/// The cubic between rates against the ripple at the rate itself, from rates slow against all steps to
/// fast ones.
#[test]
fn ripples_between_known_rates_are_those_of_the_rate() {
    let s = schedule(vec![
        task("a", 10, None, "radio", 1000),
        task("b", 60, None, "horn", 30),
    ]);
    let (mut ripples, mut found) = (Ripples::default(), Ripple::default());
    for k in 0..60 {
        let rate = 1e-3 * crate::numerics::math::exp(0.23 * f64::from(k));
        ripples.at(&s, &s.mixes[0], rate, &mut found);
        let wanted = Ripple::new(&s, &s.mixes[0], rate);
        let lists = wanted.mean.iter().chain(&wanted.end);
        for (wanted, found) in lists.zip(found.mean.iter().chain(&found.end)) {
            assert_eq!(wanted.len(), found.len());
            for (wanted, found) in wanted.iter().zip(found) {
                assert_eq!(wanted.0, found.0);
                let off = (wanted.1 - found.1).abs();
                assert!(off < 2e-9, "{rate}: {off:e}");
            }
        }
    }
}
