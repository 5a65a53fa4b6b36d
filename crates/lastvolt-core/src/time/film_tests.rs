//! The film under tasks against many small steps of its equation.

use std::collections::BTreeSet;

use super::*;
use crate::quantity::{Charge, Resistance, Time};
use crate::time::schedule::Timed;

const GROWTH: f64 = 1.0 / 400.0;
const BURN_OFF: f64 = 2.0;
const BASE_AMPS: f64 = 1e-3;
const STEP_AMPS: [f64; 2] = [0.02, 0.3];

fn timed(every_secs: f64) -> Timed {
    Timed {
        name: "t".to_owned(),
        every_secs,
        every_ns: (every_secs * 1e9) as u64,
        offset_ns: None,
        within: None,
        steps: vec![(2.0, 1), (4.0, 2)],
        first_step: 0,
        claims: BTreeSet::new(),
    }
}

fn wave(every_secs: f64) -> (Wave, f64) {
    let film = Film {
        resistance: Resistance::from_ohms(1.0),
        growth: Time::from_secs(1.0 / GROWTH),
        burn_off: Charge::from_coulombs(BURN_OFF),
    };
    let mean = BASE_AMPS
        + (2.0 * (STEP_AMPS[0] - BASE_AMPS) + 4.0 * (STEP_AMPS[1] - BASE_AMPS)) / every_secs;
    let excess = STEP_AMPS.map(|amps| amps - BASE_AMPS);
    let burning = Burning {
        film,
        growth: GROWTH,
        burn: mean / BURN_OFF,
        excess: &excess,
    };
    (
        Wave::new(0, &timed(every_secs), burning),
        GROWTH + mean / BURN_OFF,
    )
}

fn amps(t: f64) -> f64 {
    match t {
        t if t < 2.0 => STEP_AMPS[0],
        t if t < 6.0 => STEP_AMPS[1],
        _ => BASE_AMPS,
    }
}

/// One period from a share: the share at its end, at both starts, and the means over all and the steps.
fn stepped(start: f64, every_secs: f64) -> (f64, [f64; 2], [f64; 3]) {
    // Both edges of the steps lie on this grid.
    let h = 1.0 / 2048.0;
    let n = (every_secs / h).round() as u32;
    let (mut phi, mut starts, mut sums) = (start, [start, f64::NAN], [0.0; 3]);
    for k in 0..n {
        let t = (f64::from(k) + 0.5) * h;
        if t > 2.0 && starts[1].is_nan() {
            starts[1] = phi;
        }
        let rate = GROWTH + amps(t) / BURN_OFF;
        let next = phi + (GROWTH / rate - phi) * -libm::expm1(-rate * h);
        let area = (phi + next) / 2.0 * h;
        sums[0] += area / every_secs;
        if t < 2.0 {
            sums[1] += area / 2.0;
        } else if t < 6.0 {
            sums[2] += area / 4.0;
        }
        phi = next;
    }
    (phi, starts, sums)
}

#[test]
fn the_periodic_film_is_what_stepping_settles_to() {
    for every in [8.0, 60.0, 900.0] {
        let (wave, rate) = wave(every);
        let mut phi = 0.5;
        for _ in 0..(40.0 / (rate * every)).ceil() as usize + 1 {
            phi = stepped(phi, every).0;
        }
        let (_, starts, [mean, first, second]) = stepped(phi, every);
        let level = GROWTH / rate * wave.lift;
        assert!((level / mean - 1.0).abs() < 2e-4, "{every}: {level} {mean}");
        for (step, (own, start)) in [first, second].into_iter().zip(starts).enumerate() {
            let (m, s) = &wave.steps[step];
            assert!((level * m.periodic / own - 1.0).abs() < 2e-4, "{every}");
            assert!((level * s.periodic / start - 1.0).abs() < 2e-4, "{every}");
        }
    }
}

/// From anywhere the difference to the periodic film goes by the mean rate, and has the free shape.
#[test]
fn what_is_left_of_a_start_has_the_free_shape() {
    for every in [8.0, 60.0] {
        let (wave, rate) = wave(every);
        let (high, low) = (stepped(0.9, every), stepped(0.2, every));
        let kept = (high.0 - low.0) / 0.7;
        assert!(
            (kept / libm::exp(-rate * every) - 1.0).abs() < 1e-3,
            "{every}"
        );
        let (_, starts, _) = high;
        let ratio = (starts[1] - low.1[1]) / 0.7 * libm::exp(rate * 2.0);
        let (first, second) = (wave.steps[0].1.free, wave.steps[1].1.free);
        assert!((second / first / ratio - 1.0).abs() < 1e-4, "{every}");
    }
}

/// A burst that burns the film off many hundred times over leaves figures, and none of the start.
#[test]
fn a_burst_that_burns_it_off_a_thousand_times_leaves_figures() {
    let film = Film {
        resistance: Resistance::from_ohms(1.0),
        growth: Time::from_secs(1.0 / GROWTH),
        burn_off: Charge::from_coulombs(6e-4),
    };
    let excess = [0.02, 0.3];
    let burn = (2.0 * 0.02 + 4.0 * 0.3) / 900.0 / 6e-4;
    let by = Burning {
        film,
        growth: GROWTH,
        burn,
        excess: &excess,
    };
    let wave = Wave::new(0, &timed(900.0), by);
    assert!(wave.lift.is_finite() && wave.lift > 0.0);
    for (m, s) in &wave.steps {
        for figure in [m.periodic, m.free, s.periodic, s.free] {
            assert!(figure.is_finite() && figure >= 0.0, "{figure}");
        }
    }
    // Nothing of the start is left where the second step begins.
    assert!(wave.steps[1].1.free < 1e-20 * wave.steps[0].1.free);
}
