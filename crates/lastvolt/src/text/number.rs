//! Figures for people: engineering notation and durations as one says them.
//!
//! Engineering notation keeps the mantissa between 1 and 999 and lets the prefix of the unit carry
//! the power of ten (common practice). Everything that is shown is rounded; JSON carries the rest.

use lastvolt_core::quantity::{DAY_SECS, MONTH_SECS, Unit, YEAR_SECS};

/// Digits of a solved value in a table.
const TABLE_DIGITS: usize = 4;
/// Digits of a figure in a sentence.
const SENTENCE_DIGITS: usize = 3;

/// Prefixes from femto to giga and their power of ten.
const PREFIXES: [(&str, i32); 9] = [
    ("f", -15),
    ("p", -12),
    ("n", -9),
    ("u", -6),
    ("m", -3),
    ("", 0),
    ("k", 3),
    ("M", 6),
    ("G", 9),
];

/// A value with its unit for a sentence: `3.28 V`, `470 nA`.
pub(crate) fn figure(value: f64, unit: Unit) -> String {
    digits(value, unit, SENTENCE_DIGITS)
}

/// A value with its unit for a table: `3.281 V`, `470.2 nA`.
pub(crate) fn solved(value: f64, unit: Unit) -> String {
    digits(value, unit, TABLE_DIGITS)
}

/// A value with its unit, as its maker would print it: trailing zeros dropped.
pub(crate) fn nominal(value: f64, unit: Unit) -> String {
    let text = digits(value, unit, TABLE_DIGITS);
    match text.split_once(' ') {
        Some((number, unit)) => format!("{} {unit}", without_zeros(number)),
        None => without_zeros(&text).to_owned(),
    }
}

fn without_zeros(number: &str) -> &str {
    if number.contains('.') {
        number.trim_end_matches('0').trim_end_matches('.')
    } else {
        number
    }
}

fn digits(value: f64, unit: Unit, n: usize) -> String {
    match unit {
        Unit::Second => duration(value),
        Unit::Celsius => celsius(value),
        Unit::Fraction => percent(value),
        Unit::PerSecond => format!("{value:.2e} /s"),
        _ => engineering(value, unit.symbol(), n),
    }
}

/// Engineering notation with `n` significant digits; below half a femto it is zero.
pub(crate) fn engineering(value: f64, symbol: &str, n: usize) -> String {
    if !value.is_finite() || value.abs() < 0.5e-15 {
        return format!("0 {symbol}");
    }
    // Rounded first, so that 999.96 m becomes 1.000 and not 1000 m.
    let rounded = format!("{value:.*e}", n - 1);
    let Some((digits, power)) = rounded.split_once('e') else {
        return format!("{value} {symbol}");
    };
    let (Ok(digits), Ok(power)) = (digits.parse::<f64>(), power.parse::<i32>()) else {
        return format!("{value} {symbol}");
    };
    let wanted = power.div_euclid(3) * 3;
    let (prefix, exponent) = PREFIXES
        .into_iter()
        .rev()
        .find(|(_, e)| *e <= wanted)
        .unwrap_or(PREFIXES[0]);
    let mantissa = digits * 10f64.powi(power - exponent);
    let whole = usize::try_from((power - exponent).max(0)).unwrap_or(0) + 1;
    format!("{mantissa:.*} {prefix}{symbol}", n.saturating_sub(whole))
}

/// A temperature: `8 degC`, `-7.5 degC`.
pub(crate) fn celsius(value: f64) -> String {
    let text = format!("{value:.1}");
    let text = text.strip_suffix(".0").unwrap_or(&text);
    let text = if text == "-0" { "0" } else { text };
    format!("{text} degC")
}

/// A share: `12 %`, `0.31 %`, `< 0.01 %`.
pub(crate) fn percent(share: f64) -> String {
    let value = share * 100.0;
    let size = value.abs();
    if size == 0.0 {
        "0 %".to_owned()
    } else if size < 0.01 {
        "< 0.01 %".to_owned()
    } else if size < 1.0 {
        format!("{value:.2} %")
    } else if size < 9.95 {
        format!("{value:.1} %")
    } else {
        format!("{value:.0} %")
    }
}

/// A duration as one says it: `3.2 ms`, `41 min`, `18.3 days`, `1 year 4 months`.
pub(crate) fn duration(secs: f64) -> String {
    let size = secs.abs();
    if size < 60.0 {
        return engineering(secs, "s", SENTENCE_DIGITS);
    }
    let sign = if secs < 0.0 { "-" } else { "" };
    let text = if size < 3600.0 {
        short(size / 60.0, "min", "min")
    } else if size < 2.0 * DAY_SECS {
        short(size / 3600.0, "hour", "hours")
    } else if size < 2.0 * MONTH_SECS {
        short(size / DAY_SECS, "day", "days")
    } else if size < YEAR_SECS - MONTH_SECS / 2.0 {
        short(size / MONTH_SECS, "month", "months")
    } else {
        years(size)
    };
    format!("{sign}{text}")
}

fn short(value: f64, one: &str, many: &str) -> String {
    let text = if value < 99.95 {
        format!("{value:.1}")
    } else {
        format!("{value:.0}")
    };
    let text = text.strip_suffix(".0").unwrap_or(&text).to_owned();
    let word = if text == "1" { one } else { many };
    format!("{text} {word}")
}

fn years(secs: f64) -> String {
    let months = (secs / MONTH_SECS).round();
    let years = (months / 12.0).floor();
    let rest = months - 12.0 * years;
    let years_text = plural(years, "year");
    if rest == 0.0 || years >= 20.0 {
        years_text
    } else {
        format!("{years_text} {}", plural(rest, "month"))
    }
}

/// A whole number with its noun: `1 year`, `4 months`.
pub(crate) fn plural(count: f64, noun: &str) -> String {
    let end = if (count - 1.0).abs() < 0.5 { "" } else { "s" };
    format!("{count:.0} {noun}{end}")
}

/// A count with its noun.
pub(crate) fn count(count: usize, noun: &str) -> String {
    let end = if count == 1 { "" } else { "s" };
    format!("{count} {noun}{end}")
}

/// Names in a sentence: `a`, `a and b`, `a, b and c`.
pub(crate) fn listed<S: AsRef<str>>(names: &[S]) -> String {
    match names {
        [] => String::new(),
        [one] => one.as_ref().to_owned(),
        [head @ .., last] => {
            let head: Vec<&str> = head.iter().map(AsRef::as_ref).collect();
            format!("{} and {}", head.join(", "), last.as_ref())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn engineering_notation_keeps_the_mantissa_between_1_and_999() {
        let volts = |v| figure(v, Unit::Volt);
        assert_eq!(volts(3.2812), "3.28 V");
        assert_eq!(volts(-0.45), "-450 mV");
        assert_eq!(volts(0.0), "0 V");
        assert_eq!(volts(0.7404), "740 mV");
        assert_eq!(volts(0.999_96), "1.00 V");
        assert_eq!(figure(12.44e-3, Unit::Ampere), "12.4 mA");
        assert_eq!(figure(470e-9, Unit::Ampere), "470 nA");
        assert_eq!(figure(1e-6, Unit::Ampere), "1.00 uA");
        assert_eq!(figure(1000.0, Unit::Ohm), "1.00 kohm");
        assert_eq!(figure(1e-18, Unit::Ampere), "0 A");
        assert_eq!(solved(3.281_23, Unit::Volt), "3.281 V");
        assert_eq!(nominal(10e-6, Unit::Farad), "10 uF");
        assert_eq!(nominal(4700.0, Unit::Ohm), "4.7 kohm");
        assert_eq!(figure(5e12, Unit::Ohm), "5000 Gohm");
    }

    #[test]
    fn durations_read_as_one_says_them() {
        assert_eq!(duration(3.2e-3), "3.20 ms");
        assert_eq!(duration(90.0), "1.5 min");
        assert_eq!(duration(3600.0), "1 hour");
        assert_eq!(duration(18.3 * DAY_SECS), "18.3 days");
        assert_eq!(duration(5.0 * MONTH_SECS), "5 months");
        assert_eq!(duration(YEAR_SECS), "1 year");
        assert_eq!(duration(16.0 * MONTH_SECS), "1 year 4 months");
        assert_eq!(duration(YEAR_SECS * 1.999), "2 years");
        assert_eq!(duration(YEAR_SECS * 31.4), "31 years");
    }

    #[test]
    fn shares_and_temperatures_drop_empty_digits() {
        assert_eq!(percent(0.1234), "12 %");
        assert_eq!(percent(0.034), "3.4 %");
        assert_eq!(percent(0.000_01), "< 0.01 %");
        assert_eq!(celsius(8.0), "8 degC");
        assert_eq!(celsius(-7.5), "-7.5 degC");
        assert_eq!(celsius(-0.01), "0 degC");
    }

    #[test]
    fn names_join_to_a_sentence() {
        assert_eq!(listed(&["a"]), "a");
        assert_eq!(listed(&["a", "b", "c"]), "a, b and c");
        assert_eq!(listed::<&str>(&[]), "");
    }
}
