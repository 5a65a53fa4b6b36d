//! Whether, and when first, two things that recur at fixed instants coincide.
//!
//! Holds of two intervals meet where `(i T1 + d) mod T2` falls into a stretch of residues. The
//! smallest such `i` follows from the steps of Euclid's algorithm, so that intervals of days and
//! holds of microseconds cost nothing. All times are whole nanoseconds.

/// A stretch that recurs.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Hold {
    pub(crate) start_ns: u64,
    pub(crate) span_ns: u64,
    pub(crate) every_ns: u64,
}

/// Nanoseconds from t = 0 until the two first overlap, if they ever do.
pub(crate) fn first_meeting_ns(a: Hold, b: Hold) -> Option<u128> {
    if a.span_ns == 0 || b.span_ns == 0 || a.every_ns == 0 || b.every_ns == 0 {
        return None;
    }
    let modulus = u128::from(b.every_ns);
    let width = u128::from(a.span_ns) + u128::from(b.span_ns) - 2;
    // a starts less than its span before b, or inside it.
    let ahead = i128::from(a.start_ns) - i128::from(b.start_ns) + i128::from(a.span_ns) - 1;
    let ahead = ahead.rem_euclid(i128::from(b.every_ns)).unsigned_abs();
    let times = if width + 1 >= modulus || ahead <= width {
        0
    } else {
        // i T1 must land between -ahead and width - ahead, which does not wrap here.
        let low = modulus - ahead;
        first_hit(u128::from(a.every_ns) % modulus, modulus, low, low + width)?
    };
    Some(u128::from(a.start_ns) + times * u128::from(a.every_ns))
}

/// The smallest i with `low <= i a mod m <= high`, for `0 < low <= high < m`.
fn first_hit(a: u128, m: u128, low: u128, high: u128) -> Option<u128> {
    if low == 0 {
        return Some(0);
    }
    if a == 0 {
        return None;
    }
    if 2 * a > m {
        return first_hit(m - a, m, m - high, m - low);
    }
    let first = low.div_ceil(a);
    if first * a <= high {
        return Some(first);
    }
    // Some multiple of m lies between i a - high and i a - low: the same question modulo a.
    let turns = first_hit((a - m % a) % a, a, low % a, high % a)?;
    Some((low + m * turns).div_ceil(a))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hold(start_ns: u64, span_ns: u64, every_ns: u64) -> Hold {
        Hold {
            start_ns,
            span_ns,
            every_ns,
        }
    }

    /// Against trying one interval after the other.
    #[test]
    fn first_hit_is_the_smallest() {
        for m in 2..60_u128 {
            for a in 0..m {
                for low in 1..m {
                    for high in [low, (low + 3).min(m - 1), m - 1] {
                        let tried = (0..m).find(|i| (low..=high).contains(&(i * a % m)));
                        assert_eq!(first_hit(a, m, low, high), tried, "{a} {m} {low} {high}");
                    }
                }
            }
        }
    }

    #[test]
    fn holds_meet_as_on_a_time_line() {
        // Every 6 and every 4, both 1 long: starts are a multiple of 2 apart.
        assert_eq!(first_meeting_ns(hold(0, 1, 6), hold(1, 1, 4)), None);
        assert_eq!(first_meeting_ns(hold(0, 1, 6), hold(2, 1, 4)), Some(6));
        assert_eq!(first_meeting_ns(hold(0, 2, 6), hold(1, 1, 4)), Some(0));
        // Every 1 s and every 1.000001 s: they drift through each other.
        let slow = hold(500_000_000, 1_000, 1_000_001_000);
        let met = first_meeting_ns(hold(0, 1_000, 1_000_000_000), slow).expect("they drift");
        let secs = met as f64 * 1e-9;
        assert!(secs > 4.9e5 && secs < 5.1e5, "{secs}");
    }
}
