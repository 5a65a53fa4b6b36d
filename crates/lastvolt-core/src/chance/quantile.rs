//! How long a share of units lasts, read off sorted lives.

/// How long a share of the units lasts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Promise {
    /// The share.
    pub confidence: f64,
    /// The life that it reaches, in seconds.
    pub secs: f64,
    /// By how much this would scatter if the units had been drawn by chance: one standard error. They
    /// are drawn more evenly than that.
    pub standard_error_secs: f64,
}

/// The life that a share of units reaches; none where it lies outside what so many units show, or where
/// no end is known there.
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
#[must_use]
pub fn promise(lives_secs: &[f64], confidence: f64) -> Option<Promise> {
    let count = lives_secs.len() as f64;
    let below = 1.0 - confidence;
    let least = 0.5 / count;
    // Rounding may put a share that is just shown a little outside.
    if lives_secs.is_empty() || below < least - 1e-9 || 1.0 - least + 1e-9 < below {
        return None;
    }
    let off = (below * (1.0 - below) / count).sqrt();
    let (low, high) = (
        (below - off).max(least.min(below)),
        (below + off).min((1.0 - least).max(below)),
    );
    let secs = at(lives_secs, below)?;
    // Where one side lies outside, the other one speaks for both.
    let rise = at(lives_secs, high)? - at(lives_secs, low)?;
    Some(Promise {
        confidence,
        secs,
        standard_error_secs: rise * off / (high - low).max(f64::MIN_POSITIVE),
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
        assert_eq!(secs(0.5), Some(2.5));
        assert_eq!(secs(0.875), Some(1.0));
        assert_eq!(secs(0.9), None);
        let error = promise(&lives, 0.5).map(|p| p.standard_error_secs);
        // A quarter of the units on either side.
        assert_eq!(error, Some(1.0));
    }

    #[test]
    fn a_share_without_an_end_has_no_life() {
        let lives = [1.0, 2.0, 3.0, f64::INFINITY];
        assert_eq!(promise(&lives, 0.2), None);
        assert_eq!(promise(&lives[..3], 0.5).map(|p| p.secs), Some(2.0));
    }
}
