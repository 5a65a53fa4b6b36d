//! Figures in sentences: three significant digits, engineering prefixes, spans of time that people
//! use. ASCII only, in the spelling of the files (`uA`, `kohm`), so that a value can be copied back.

use crate::quantity::{DAY_SECS, MONTH_SECS, Unit, YEAR_SECS};

/// A value with an engineering prefix, as `1.26 uA`.
#[must_use]
pub fn figure(value: f64, unit: Unit) -> String {
    match unit {
        Unit::Fraction => percent(value),
        Unit::Second => span(value),
        Unit::Celsius => format!("{} degC", digits(value)),
        Unit::PerSecond => format!("{} /s", digits(value)),
        Unit::Kelvin | Unit::KelvinPerWatt => format!("{} {}", digits(value), unit.symbol()),
        _ => prefixed(value, unit.symbol()),
    }
}

/// A voltage.
#[must_use]
pub fn volts(value: f64) -> String {
    figure(value, Unit::Volt)
}

/// A current.
#[must_use]
pub fn amps(value: f64) -> String {
    figure(value, Unit::Ampere)
}

/// A resistance.
#[must_use]
pub fn ohms(value: f64) -> String {
    figure(value, Unit::Ohm)
}

/// A capacitance.
#[must_use]
pub fn farads(value: f64) -> String {
    figure(value, Unit::Farad)
}

/// A share as a percentage.
#[must_use]
pub fn percent(share: f64) -> String {
    format!("{} %", digits(100.0 * share))
}

/// A span of time in the largest unit of which there are at least two, seconds at last.
#[must_use]
pub fn span(secs: f64) -> String {
    let (count, unit) = if 2.0 * YEAR_SECS <= secs {
        (secs / YEAR_SECS, "years")
    } else if 2.0 * MONTH_SECS <= secs {
        (secs / MONTH_SECS, "months")
    } else if 2.0 * DAY_SECS <= secs {
        (secs / DAY_SECS, "days")
    } else if 7200.0 <= secs {
        (secs / 3600.0, "h")
    } else if 120.0 <= secs {
        (secs / 60.0, "min")
    } else {
        return prefixed(secs, "s");
    };
    format!("{} {unit}", digits(count))
}

/// Names joined as in a sentence: `A`, `A and B`, `A, B and C`.
#[must_use]
pub fn join(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// `word` once, or `n words`.
#[must_use]
pub fn count(n: usize, word: &str) -> String {
    if n == 1 {
        format!("1 {word}")
    } else {
        format!("{n} {word}s")
    }
}

fn prefixed(value: f64, unit: &str) -> String {
    const STEPS: [(f64, &str); 8] = [
        (1e9, "G"),
        (1e6, "M"),
        (1e3, "k"),
        (1.0, ""),
        (1e-3, "m"),
        (1e-6, "u"),
        (1e-9, "n"),
        (1e-12, "p"),
    ];
    if value.abs() < 1e-15 {
        return format!("0 {unit}");
    }
    // Half of the third digit below a step already prints as the step itself.
    let found = STEPS.iter().find(|(s, _)| 0.9995 * s <= value.abs());
    let (scale, prefix) = found.unwrap_or(&STEPS[7]);
    format!("{} {prefix}{unit}", digits(value / scale))
}

/// Three significant digits without an exponent, for values of ordinary size.
fn digits(value: f64) -> String {
    let size = value.abs();
    if 99.95 <= size {
        format!("{value:.0}")
    } else if 9.995 <= size {
        format!("{value:.1}")
    } else if 0.9995 <= size || size == 0.0 {
        format!("{value:.2}")
    } else {
        format!("{value:.3}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_read_as_people_write_them() {
        assert_eq!(figure(1.26e-6, Unit::Ampere), "1.26 uA");
        assert_eq!(ohms(390e3), "390 kohm");
        assert_eq!(volts(-0.6), "-600 mV");
        assert_eq!(volts(0.9999), "1.00 V");
        assert_eq!(amps(0.0), "0 A");
        assert_eq!(percent(0.051), "5.10 %");
        assert_eq!(span(90.0), "90.0 s");
        assert_eq!(span(1.5 * YEAR_SECS), "18.0 months");
        assert_eq!(span(30.0 * DAY_SECS), "30.0 days");
        let names: Vec<String> = ["R1", "R2", "U1"].map(str::to_owned).to_vec();
        assert_eq!(join(&names), "R1, R2 and U1");
    }
}
