//! Lives of only a few bursts, against explicit small steps of the same cell equations.

use lastvolt_core::device::CellModel;
use lastvolt_core::model::{Family, Task, Window};
use lastvolt_core::numerics::math::exp;
use lastvolt_core::quantity::YEAR_SECS;
use lastvolt_core::time::Cause;

use crate::kit::current_load;
use crate::life::{coin, live, small_cell, task, with_tasks};

const BASE_AMPS: f64 = 1e-3;
const BURST_AMPS: f64 = 15e-3;

fn beacon(model: CellModel, tasks: Vec<Task>) -> Family {
    let mut family = coin(model);
    family.loads = vec![current_load(&[("rest", BASE_AMPS), ("burst", BURST_AMPS)])];
    with_tasks(family, tasks)
}

/// Explicit steps of `step` seconds until the net falls below 2 V: a load whose burst is on where `on`
/// says so, and a resistor of 2.2 Mohm.
fn step_through(model: &CellModel, step: f64, on: impl Fn(f64) -> bool) -> f64 {
    let (c, q) = (model.available(), model.charge.typ.as_coulombs());
    let rate = model.rate_per_sec(20.0);
    let (mut d, mut s, mut v) = (0.0, 0.0, vec![0.0; model.polarisation.len()]);
    let look = |d: f64, s: f64, v: &[f64], amps: f64| {
        let x = model.surface(d, s);
        let ohms = model.resistance_ohms(x, 20.0, 0.0);
        let open = model.open_circuit_volts(x).0 - v.iter().sum::<f64>();
        let volts = (open - ohms * amps) / (1.0 + ohms / 2.2e6);
        (volts, ohms)
    };
    for k in 0_u32.. {
        let t = f64::from(k) * step;
        assert!(t < YEAR_SECS, "it never ends");
        let amps = if on(t + step / 2.0) {
            BURST_AMPS
        } else {
            BASE_AMPS
        };
        let (volts, ohms) = look(d, s, &v, amps);
        if volts < 2.0 {
            return t;
        }
        let drawn = amps + volts / 2.2e6;
        d += step * drawn / q;
        let level = drawn / (c * q * rate);
        s = level + (s - level) * exp(-rate * step);
        for (volts, branch) in v.iter_mut().zip(&model.polarisation) {
            let level = branch.ratio * ohms * drawn;
            *volts = level + (*volts - level) * exp(-step / branch.time.as_secs());
        }
        // A burst is at its lowest as it ends.
        if look(d, s, &v, amps).0 < 2.0 {
            return t + step;
        }
    }
    f64::INFINITY
}

/// Whether an occurrence of `span` seconds is on that starts at `first` and every `every` seconds.
fn is_on(t: f64, first: f64, every: f64, span: f64) -> bool {
    first <= t && (t - first) % every < span
}

/// One burst or none in the whole life, at a stated offset.
#[test]
fn an_interval_longer_than_the_life_is_one_burst() {
    for (every, offset, span) in [
        (864_000.0, 2000.0, 300.0),
        (864_000.0, 0.0, 300.0),
        (864_000.0, 400_000.0, 300.0),
        (3000.0, 100.0, 120.0),
        (900.0, 40.0, 20.0),
    ] {
        let model = small_cell(12.0);
        let mut burst = task("burst", every, &[(span, "burst")]);
        burst.offset_ns = Some((offset * 1e9) as u64);
        let found = live(&beacon(model.clone(), vec![burst]));
        let stepped = step_through(&model, 0.25, |t| is_on(t, offset, every, span));
        let secs = found.life_secs.expect("it ends");
        assert!(
            (secs - stepped).abs() <= found.error_secs + 0.5,
            "every {every} from {offset}: {secs} against {stepped}, stated {}",
            found.error_secs
        );
        assert!(found.error_secs < 0.002 * secs, "{}", found.error_secs);
        assert!(found.ledger_error < 1e-6, "{}", found.ledger_error);
    }
}

/// A task without an offset starts when it shortens the life most.
#[test]
fn a_free_phase_is_the_worst_one() {
    for (every, span) in [(864_000.0, 300.0), (5000.0, 200.0)] {
        let model = small_cell(12.0);
        let found = live(&beacon(
            model.clone(),
            vec![task("burst", every, &[(span, "burst")])],
        ));
        let secs = found.life_secs.expect("it ends");
        let phases = (0..240).map(|k| f64::from(k) * 12_000.0_f64.min(every) / 240.0);
        let stepped =
            phases.map(|first| step_through(&model, 1.0, |t| is_on(t, first, every, span)));
        let worst = stepped.fold(f64::INFINITY, f64::min);
        // The phases that are stepped lie up to 50 s apart.
        assert!(
            secs <= worst + 2.0 && worst - secs <= 50.0 + found.error_secs,
            "{secs} against {worst}, stated {}",
            found.error_secs
        );
        assert_eq!(found.end.task.as_deref(), Some("burst"));
    }
}

/// A burst that outlasts the cell: the end lies inside it and not at its start.
#[test]
fn a_life_can_end_inside_its_first_burst() {
    let model = small_cell(12.0);
    let burst = task("burst", 10_000.0, &[(5000.0, "burst")]);
    let found = live(&beacon(model.clone(), vec![burst]));
    let stepped = step_through(&model, 0.05, |_| true);
    let secs = found.life_secs.expect("it ends");
    assert!((secs - stepped).abs() < 1.0, "{secs} against {stepped}");
    assert!(0.0 < secs && secs < 5000.0);
    assert_eq!(found.end.cause, Cause::BrownOut);
    assert_eq!(found.end.state.as_deref(), Some("burst"));
    assert!(found.ledger_error < 1e-6, "{}", found.ledger_error);
}

/// A fast task is averaged while a slow one is followed: against every burst of both.
#[test]
fn a_fast_task_goes_on_beside_a_slow_one() {
    let model = small_cell(12.0);
    let mut slow = task("slow", 4000.0, &[(60.0, "burst")]);
    slow.offset_ns = Some(1_000_000_000_000);
    let fast = task("fast", 10.0, &[(0.5, "burst")]);
    let found = live(&beacon(model.clone(), vec![slow, fast]));
    // On one load the fast task waits for the slow one.
    let stepped = step_through(&model, 0.05, |t| {
        is_on(t, 1000.0, 4000.0, 60.0) || is_on(t, 0.0, 10.0, 0.5)
    });
    let secs = found.life_secs.expect("it ends");
    assert!(
        (secs - stepped).abs() <= found.error_secs + 0.5,
        "{secs} against {stepped}, stated {}",
        found.error_secs
    );
    assert!(found.error_secs < 0.005 * secs, "{}", found.error_secs);
}

/// A window that opens once in a life, for longer or shorter than it lasts.
#[test]
fn a_window_cycle_longer_than_the_life_is_followed_once() {
    for open_secs in [1000.0, 100_000.0] {
        let model = small_cell(12.0);
        let mut burst = task("burst", 2.0, &[(0.1, "burst")]);
        burst.within = Some(Window {
            every_ns: 864_000 * 1_000_000_000,
            open_ns: (open_secs * 1e9) as u64,
        });
        let found = live(&beacon(model.clone(), vec![burst]));
        let stepped = step_through(&model, 0.05, |t| t < open_secs && is_on(t, 0.0, 2.0, 0.1));
        let secs = found.life_secs.expect("it ends");
        assert!(
            (secs - stepped).abs() <= found.error_secs + 0.1,
            "{secs} against {stepped}, stated {}",
            found.error_secs
        );
        assert!(found.error_secs < 0.01 * secs, "{}", found.error_secs);
    }
}
