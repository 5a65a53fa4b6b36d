//! The normal distribution, also cut off at both ends.

use crate::numerics::math;
use crate::numerics::root::bracketed;

/// Share of a normal distribution below a number of standard deviations.
#[must_use]
pub fn cumulative(deviations: f64) -> f64 {
    0.5 * math::erfc(-deviations / std::f64::consts::SQRT_2)
}

/// The standard deviations below which a share of a normal distribution lies that is cut off at `limit`
/// on both sides.
///
/// # Accuracy
/// 1e-12 standard deviations, the width at which the root is left.
#[must_use]
pub fn truncated(share: f64, limit: f64) -> f64 {
    let (low, high) = (cumulative(-limit), cumulative(limit));
    let wanted = low + share.clamp(0.0, 1.0) * (high - low);
    let miss = |deviations: f64| cumulative(deviations) - wanted;
    bracketed(miss, -limit, limit, 1e-12).unwrap_or(if share < 0.5 { -limit } else { limit })
}
