//! Elementary functions with the same result on every machine.
//!
//! The platform's `exp`, `ln` and their kin may differ in the last bits from one system to another;
//! a review must not. Everything in this crate goes through these.

/// Thermal voltage kT/q at a temperature in degrees Celsius.
///
/// # References
/// CODATA 2018: k = 1.380649e-23 J/K and q = 1.602176634e-19 C, both exact.
#[must_use]
pub fn thermal_volts(celsius: f64) -> f64 {
    1.380_649e-23 / 1.602_176_634e-19 * (celsius + 273.15)
}

/// e^x.
#[must_use]
pub fn exp(x: f64) -> f64 {
    libm::exp(x)
}

/// e^x - 1, accurate near zero.
#[must_use]
pub fn exp_m1(x: f64) -> f64 {
    libm::expm1(x)
}

/// Natural logarithm.
#[must_use]
pub fn ln(x: f64) -> f64 {
    libm::log(x)
}

/// ln(1 + x), accurate near zero.
#[must_use]
pub fn ln_1p(x: f64) -> f64 {
    libm::log1p(x)
}

/// Decadic logarithm.
#[must_use]
pub fn log10(x: f64) -> f64 {
    libm::log10(x)
}

/// x to the power y.
#[must_use]
pub fn pow(x: f64, y: f64) -> f64 {
    libm::pow(x, y)
}

/// 2^x.
#[must_use]
pub fn exp2(x: f64) -> f64 {
    libm::exp2(x)
}

/// Inverse hyperbolic sine.
#[must_use]
pub fn asinh(x: f64) -> f64 {
    libm::asinh(x)
}

/// The length of a vector of two, of figures whose squares do not overflow.
#[must_use]
pub fn hypot(a: f64, b: f64) -> f64 {
    (a * a + b * b).sqrt()
}

/// Complementary error function.
#[must_use]
pub fn erfc(x: f64) -> f64 {
    libm::erfc(x)
}

/// Hyperbolic tangent.
#[must_use]
pub fn tanh(x: f64) -> f64 {
    libm::tanh(x)
}

/// ln(1 + e^x) without overflow.
#[must_use]
pub fn softplus(x: f64) -> f64 {
    if x > 34.0 { x } else { ln_1p(exp(x)) }
}

/// 1 / (1 + e^-x), the slope of [`softplus`].
#[must_use]
pub fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + exp(-x))
}
