//! Robertson's problem with the integrator of waveforms: reactions nine powers of ten apart, one of
//! three concentrations algebraic.
//!
//! References in `data/robertson.csv`, described in `data/bursts.md`: the printed output of the example
//! idaRoberts_dns of SUNDIALS, the Test Set for IVP Solvers, and scipy's Radau at 1e-12.

use lastvolt_core::numerics::stiff::{Stages, StiffStep, next_step_factor};

/// States y1 and y2; y3 follows from the sum.
struct Robertson {
    tolerance: f64,
}

fn third(y: &[f64]) -> f64 {
    1.0 - y[0] - y[1]
}

fn rates(y: &[f64]) -> [f64; 2] {
    let gone = 0.04 * y[0] - 1e4 * y[1] * third(y);
    [-gone, gone - 3e7 * y[1] * y[1]]
}

impl Stages for Robertson {
    /// Newton's method on `y - known - theta f(y)`.
    fn stage(
        &mut self,
        _share: f64,
        known: &[f64],
        theta: f64,
        y: &mut [f64],
        f: &mut [f64],
    ) -> bool {
        y.copy_from_slice(known);
        for _ in 0..50 {
            let now = rates(y);
            let miss = [
                y[0] - known[0] - theta * now[0],
                y[1] - known[1] - theta * now[1],
            ];
            let (by_first, by_second) = (0.04 + 1e4 * y[1], 1e4 * (y[1] - third(y)));
            let a = 1.0 + theta * by_first;
            let b = theta * by_second;
            let c = -theta * by_first;
            let d = 1.0 - theta * (by_second - 6e7 * y[1]);
            let det = a * d - b * c;
            let step = [
                (d * miss[0] - b * miss[1]) / det,
                (a * miss[1] - c * miss[0]) / det,
            ];
            y[0] -= step[0];
            y[1] -= step[1];
            if step[0].abs() <= 1e-13 * y[0].abs() && step[1].abs() <= 1e-13 * y[1].abs() {
                f.copy_from_slice(&rates(y));
                return true;
            }
        }
        false
    }

    fn error(&self, error: &[f64], y: &[f64]) -> f64 {
        let each = error
            .iter()
            .zip(y)
            .map(|(e, y)| e.abs() / (self.tolerance * y.abs()));
        each.fold(0.0, f64::max)
    }
}

/// States at the given instants, and steps taken.
fn follow(tolerance: f64, instants: &[f64]) -> (Vec<[f64; 3]>, usize) {
    let mut system = Robertson { tolerance };
    let mut y = vec![1.0, 0.0];
    let mut step = StiffStep::new(rates(&y).to_vec());
    let (mut now, mut span, mut steps) = (0.0, 1e-10, 0);
    let mut found = Vec::new();
    for &end in instants {
        while now < end {
            let taken = if now + span < end { span } else { end - now };
            steps += 1;
            let error = step.take(&mut system, &y, taken).unwrap_or(1e3);
            if error <= 1.0 {
                y.copy_from_slice(&step.end);
                step.accept();
                now = if taken < span { end } else { now + taken };
                span = f64::max(span, taken * next_step_factor(error));
            } else {
                span = taken * next_step_factor(error);
            }
            assert!(steps < 1_000_000, "no way on from {now} s");
        }
        found.push([y[0], y[1], third(&y)]);
    }
    (found, steps)
}

/// A row of the references: source, instant, published and computed values.
struct Reference {
    source: &'static str,
    secs: f64,
    published: [f64; 3],
    computed: [f64; 3],
}

fn references() -> Vec<Reference> {
    let rows = include_str!("data/robertson.csv").lines().skip(1);
    let parsed = rows.map(|line| {
        let fields: Vec<&'static str> = line.split(',').collect();
        let number = |k: usize| fields[k].parse().expect("a number");
        Reference {
            source: fields[0],
            secs: number(1),
            published: [number(2), number(3), number(4)],
            computed: [number(5), number(6), number(7)],
        }
    });
    parsed.collect()
}

fn largest_share(got: [f64; 3], expected: [f64; 3]) -> f64 {
    let each = got.iter().zip(expected);
    each.map(|(g, e)| (g / e - 1.0).abs()).fold(0.0, f64::max)
}

/// The largest share by which the states at all instants miss Radau's, and steps taken.
fn missed(tolerance: f64, references: &[Reference]) -> (f64, usize) {
    let instants: Vec<f64> = references.iter().map(|r| r.secs).collect();
    let (found, steps) = follow(tolerance, &instants);
    let each = found.iter().zip(references);
    let each = each.map(|(got, r)| largest_share(*got, r.computed));
    (each.fold(0.0, f64::max), steps)
}

/// The printed values were computed to 1e-4 and are good to 5e-4 up to 4e5 s; later to no more than
/// some per cent of the smallest. Radau and the test set agree with each other to 1e-11.
#[test]
fn ref_robertson() {
    let references = references();
    let instants: Vec<f64> = references.iter().map(|r| r.secs).collect();
    let (found, _) = follow(1e-5, &instants);
    for (got, reference) in found.iter().zip(&references) {
        let secs = reference.secs;
        let computed = largest_share(*got, reference.computed);
        assert!(computed < 1e-4, "{secs} s: off by {computed:e}");
        let published = largest_share(*got, reference.published);
        let bound = match reference.source {
            "ROBER" => 1e-4,
            _ if secs < 1e6 => 5e-4,
            _ => 0.1,
        };
        assert!(published < bound, "{secs} s: off by {published:e}");
    }
}

/// The error follows what is asked for. At 1e-4 idaRoberts_dns takes 362 steps to 4e10 s.
#[test]
fn robertson_follows_its_tolerance() {
    let references = references();
    let mut last = f64::MAX;
    for (tolerance, most_steps) in [(1e-3, 362), (1e-4, 362), (1e-5, 2_000), (1e-6, 20_000)] {
        let (off, steps) = missed(tolerance, &references);
        assert!(off < 10.0 * tolerance, "{tolerance:e}: {off:e}");
        assert!(off < last, "{tolerance:e}: {off:e} after {last:e}");
        assert!(steps <= most_steps, "{tolerance:e}: {steps} steps");
        last = off;
    }
}
