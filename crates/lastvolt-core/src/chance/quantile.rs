//! How long a share of units lasts, read off sorted lives.

use crate::chance::NoPromise;

/// How long a share of the units lasts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Promise {
    /// The share.
    pub confidence: f64,
    /// The life that it reaches, in seconds.
    pub secs: f64,
    /// By how much this would scatter if the units had been drawn by chance: one standard error. They
    /// are drawn more evenly than that. None where the lives that it is read off have no end.
    pub standard_error_secs: Option<f64>,
}

/// The life that a share of units reaches.
///
/// # Formula
/// ```text
/// p = 1 - confidence          the k-th of N lives stands for the share (k - 1/2)/N, straight in between
/// standard error = (L(p + d) - L(p - d))/2     d = sqrt(p (1 - p)/N)
/// ```
///
/// # References
/// R. J. Hyndman and Y. Fan, "Sample quantiles in statistical packages", Am. Stat. 50 (1996), definition 5;
/// H. A. David and H. N. Nagaraja, "Order Statistics", 3rd ed. (2003), section 7.1, for the distance
/// between order statistics as a measure of a quantile's error, whatever the distribution.
///
/// # Errors
/// It lies outside what so many units show, or no end is known there.
pub fn promise(lives_secs: &[f64], confidence: f64) -> Result<Promise, NoPromise> {
    let count = lives_secs.len() as f64;
    let below = 1.0 - confidence;
    let least = 0.5 / count;
    // Rounding may put a share that is just shown a little outside.
    if lives_secs.is_empty() || below < least - 1e-9 || 1.0 - least + 1e-9 < below {
        return Err(NoPromise::BeyondUnits {
            confidence,
            units: lives_secs.len(),
        });
    }
    let off = (below * (1.0 - below) / count).sqrt();
    let (low, high) = (
        (below - off).max(least.min(below)),
        (below + off).min((1.0 - least).max(below)),
    );
    let secs = at(lives_secs, below).ok_or(NoPromise::NoEnd { confidence })?;
    // Where one side lies outside, the other one speaks for both.
    let width = (high - low).max(f64::MIN_POSITIVE);
    let ends = at(lives_secs, low).zip(at(lives_secs, high));
    Ok(Promise {
        confidence,
        secs,
        standard_error_secs: ends.map(|(from, to)| (to - from) * off / width),
    })
}

/// The life below which a share of the units ends.
fn at(lives_secs: &[f64], share: f64) -> Option<f64> {
    let last = lives_secs.len() - 1;
    let place = (share * lives_secs.len() as f64 - 0.5).clamp(0.0, last as f64);
    let lower = (place.floor() as usize).min(last);
    let upper = (lower + 1).min(last);
    let (from, to) = (lives_secs[lower], lives_secs[upper]);
    let between = place - lower as f64;
    let life = if between > 0.0 {
        from + between * (to - from)
    } else {
        from
    };
    life.is_finite().then_some(life)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_is_read_between_the_units_next_to_it() {
        let lives = [1.0, 2.0, 3.0, 4.0];
        let secs = |confidence| promise(&lives, confidence).map(|p| p.secs);
        assert_eq!(secs(0.5), Ok(2.5));
        assert_eq!(secs(0.875), Ok(1.0));
        let beyond = NoPromise::BeyondUnits {
            confidence: 0.9,
            units: 4,
        };
        assert_eq!(secs(0.9), Err(beyond));
        let error = promise(&lives, 0.5).map(|p| p.standard_error_secs);
        // A quarter of the units on either side.
        assert_eq!(error, Ok(Some(1.0)));
    }

    #[test]
    fn a_share_without_an_end_has_no_life() {
        let lives = [1.0, 2.0, 3.0, f64::INFINITY];
        let none = NoPromise::NoEnd { confidence: 0.2 };
        assert_eq!(promise(&lives, 0.2), Err(none));
        assert_eq!(promise(&lives[..3], 0.5).map(|p| p.secs), Ok(2.0));
    }

    #[test]
    fn a_life_next_to_one_without_an_end_is_told_without_an_error() {
        let lives = [1.0, 2.0, 3.0, f64::INFINITY];
        let told = Promise {
            confidence: 0.4,
            secs: 2.9,
            standard_error_secs: None,
        };
        let found = promise(&lives, 0.4).expect("a promise");
        assert!((found.secs - told.secs).abs() < 1e-12, "{found:?}");
        assert_eq!(found.standard_error_secs, told.standard_error_secs);
    }
}
