//! Bracketed scalar roots.

/// The root of a continuous `f` between `a` and `b`, where its signs differ.
///
/// Regula falsi with the Illinois change, guarded by bisection. `None` where the signs do not differ
/// or a value is not a number. Stops once the bracket is narrower than `tolerance`.
///
/// # References
/// M. Dowell and P. Jarratt, "A modified regula falsi method for computing the root of an
/// equation", BIT 11 (1971).
pub fn bracketed(mut f: impl FnMut(f64) -> f64, a: f64, b: f64, tolerance: f64) -> Option<f64> {
    let (mut a, mut b) = (a, b);
    let (mut fa, mut fb) = (f(a), f(b));
    if fa == 0.0 {
        return Some(a);
    }
    if fb == 0.0 {
        return Some(b);
    }
    if fa.is_nan() || fb.is_nan() || fa.signum() == fb.signum() {
        return None;
    }
    for step in 0..200 {
        if (b - a).abs() <= tolerance {
            break;
        }
        let mut x = b - fb * (b - a) / (fb - fa);
        if step % 3 == 2 || !x.is_finite() || (x - a) * (x - b) >= 0.0 {
            x = f64::midpoint(a, b);
        }
        let fx = f(x);
        if fx == 0.0 {
            return Some(x);
        }
        if fx.is_nan() {
            return None;
        }
        if fx.signum() == fb.signum() {
            fa /= 2.0;
        } else {
            a = b;
            fa = fb;
        }
        b = x;
        fb = fx;
    }
    Some(b)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_a_root_of_a_steep_function() {
        let root = bracketed(|x| libm::exp(x / 0.026) - 1e12, 0.0, 2.0, 1e-13).expect("bracketed");
        assert!((root - 0.026 * 12.0 * libm::log(10.0)).abs() < 1e-12);
        assert_eq!(bracketed(|x| x * x + 1.0, -1.0, 1.0, 1e-9), None);
    }
}
