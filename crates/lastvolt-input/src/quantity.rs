//! Physical values as text: `10 uF`, `4k7`, `235 mAh`, `-15 degC`, `10k ±1 %`, `3 %/year`.
//!
//! A value is a number, a unit with an optional decimal prefix, and an optional tolerance. Resistance,
//! capacitance and inductance may be written as a letter code of IEC 60062, in which the prefix stands
//! at the decimal point. m is milli and M is mega. A day is 86,400 s, a year 365.25 days, a month a
//! twelfth of it. Powers of ten are applied in decimal, so that `4k7` is exactly 4700.

mod letters;
mod units;

use std::ops::Range;

use lastvolt_core::quantity::Unit;

use units::{corrected, largest, meaning};
pub(crate) use units::{fitting, usual};

use crate::suggest::quoted;

/// A value with the limits that its tolerance sets, in SI units (temperatures in degrees Celsius).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// The value.
    pub value: f64,
    /// Lowest and highest value, where a tolerance is written.
    pub limits: Option<(f64, f64)>,
}

/// Why a text is not a value of the unit asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct QuantityError {
    /// Stable name of the kind of problem, in kebab case.
    pub code: &'static str,
    /// Bytes of the text that are wrong.
    pub at: Range<usize>,
    /// What was found and what was expected.
    pub says: String,
    /// A few words to stand under the caret.
    pub label: &'static str,
    /// What to do about it, in words.
    pub proposal: Option<String>,
    /// Text that may replace the bytes as it is.
    pub patch: Option<String>,
}

impl QuantityError {
    fn new(code: &'static str, at: Range<usize>, says: String, label: &'static str) -> Self {
        Self {
            code,
            at,
            says,
            label,
            proposal: None,
            patch: None,
        }
    }

    /// Proposes to write `text` in place of the wrong bytes.
    fn write(mut self, text: &str) -> Self {
        self.proposal = Some(format!("write `{text}`"));
        self.patch = Some(text.to_owned());
        self
    }
}

/// Longest text that is looked at.
const LONGEST: usize = 100;

/// Reads a value.
///
/// # Errors
/// What stands where, what was expected, and a fix where one is known.
///
/// # Examples
/// ```
/// use lastvolt_core::quantity::Unit;
/// use lastvolt_input::quantity::parse;
/// assert_eq!(parse("4k7", Unit::Ohm).map(|r| r.value), Ok(4700.0));
/// assert_eq!(parse("4k7", Unit::Volt).map_err(|e| e.at), Err(1..3));
/// ```
pub fn parse(text: &str, unit: Unit) -> Result<Reading, QuantityError> {
    parse_like(text, unit, usual(unit))
}

/// Reads a value; `like` is the unit to propose where none is written.
pub(crate) fn parse_like(text: &str, unit: Unit, like: &str) -> Result<Reading, QuantityError> {
    let start = text.len() - text.trim_start().len();
    let body = text.trim();
    if body.is_empty() {
        let says = format!(
            "this is empty, {} is needed ({})",
            unit.measures(),
            fitting(unit)
        );
        return Err(QuantityError::new(
            "empty-value",
            0..text.len(),
            says,
            "empty",
        ));
    }
    if body.len() > LONGEST {
        let says = format!(
            "this text of {} bytes is too long for {}",
            body.len(),
            unit.measures()
        );
        return Err(QuantityError::new(
            "too-long",
            start..start + body.len(),
            says,
            "too long",
        ));
    }
    let (head, tolerance) = split_tolerance(body);
    let (value, mut limits) = nominal(head, start, unit, like)?;
    plausible(value, head, start, unit)?;
    if let Some(at) = tolerance {
        let written = &body[at..];
        limits = Some(tolerance_limits(written, start + at, value, unit)?);
    }
    Ok(Reading { value, limits })
}

/// The text before a tolerance, and where the tolerance starts.
fn split_tolerance(body: &str) -> (&str, Option<usize>) {
    let at = ["\u{b1}", "+/-", "+-"]
        .iter()
        .filter_map(|mark| body.find(mark))
        .min();
    match at {
        Some(at) => (body[..at].trim_end(), Some(at)),
        None => (body, None),
    }
}

type Limits = Option<(f64, f64)>;

/// The value before a tolerance; a letter code may bring its own limits.
fn nominal(
    head: &str,
    start: usize,
    unit: Unit,
    like: &str,
) -> Result<(f64, Limits), QuantityError> {
    if let Some(read) = letters::read(head, unit) {
        return read.map_err(|mut e| {
            e.at = start + e.at.start..start + e.at.end;
            e
        });
    }
    if let Some((code, rest)) = head.split_once(char::is_whitespace)
        && let Some(Ok(_)) = letters::read(code, unit)
        && number_len(code) < code.len()
    {
        // A letter code is whole: what follows it is no unit of its own.
        let rest = rest.trim_start();
        let at = start + head.len() - rest.len();
        return Err(wrong_unit(rest, at, unit, meaning(rest).map(|m| m.unit)));
    }
    let digits = number_len(head);
    if digits == 0 {
        let says = format!(
            "found {}, {} is needed ({})",
            quoted(head),
            unit.measures(),
            fitting(unit)
        );
        let at = start..start + head.len();
        return Err(QuantityError::new("not-a-value", at, says, "not a value"));
    }
    let number = &head[..digits];
    let rest = &head[digits..];
    let word = rest.trim_start();
    let word_at = start + head.len() - word.len();
    if let Some(error) = decimal_comma(head, digits, start) {
        return Err(error);
    }
    if word.is_empty() {
        if unit == Unit::Fraction {
            return Ok((decimal(number, 0), None));
        }
        let says = format!(
            "{} has no unit, {} is needed ({})",
            quoted(number),
            unit.measures(),
            fitting(unit)
        );
        let at = start..start + digits;
        let fixed = format!("{number} {}", proposed(decimal(number, 0), like, unit));
        return Err(QuantityError::new("bare-number", at, says, "no unit").write(&fixed));
    }
    let value = if unit == Unit::PerSecond {
        rate(number, word, word_at)?
    } else {
        scaled(number, word, word_at, unit)?
    };
    Ok((value, None))
}

/// The unit to propose behind a bare number, where `like` is what such values usually have.
///
/// Nobody leaves the unit off a fraction of a milliohm: a resistance below 1 was meant in ohms.
pub(crate) fn proposed(number: f64, like: &str, unit: Unit) -> &str {
    if unit == Unit::Ohm && number.abs() < 1.0 {
        Unit::Ohm.symbol()
    } else {
        like
    }
}

/// Length of the number that a text begins with.
fn number_len(text: &str) -> usize {
    let bytes = text.as_bytes();
    let digits = |mut at: usize| {
        while bytes.get(at).is_some_and(u8::is_ascii_digit) {
            at += 1;
        }
        at
    };
    let first = usize::from(matches!(bytes.first(), Some(b'+' | b'-')));
    let mut end = digits(first);
    let mut n_digits = end - first;
    if bytes.get(end) == Some(&b'.') {
        let after = digits(end + 1);
        n_digits += after - end - 1;
        end = after;
    }
    if n_digits == 0 {
        return 0;
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        let exponent = digits(end + 1 + sign);
        if exponent > end + 1 + sign {
            end = exponent;
        }
    }
    end
}

fn decimal_comma(head: &str, digits: usize, start: usize) -> Option<QuantityError> {
    let rest = head[digits..].strip_prefix(',')?;
    let after = rest.len() - rest.trim_start_matches(|c: char| c.is_ascii_digit()).len();
    if after == 0 {
        return None;
    }
    let whole = &head[..digits + 1 + after];
    let says = format!(
        "found the comma in {}, decimals follow a point",
        quoted(whole)
    );
    let at = start..start + whole.len();
    let error = QuantityError::new("decimal-comma", at, says, "a comma");
    // Three digits may be thousands: a person has to say which.
    Some(if after == 3 {
        let (point, none) = (whole.replace(',', "."), whole.replace(',', ""));
        QuantityError {
            proposal: Some(format!("write `{point}` or `{none}`")),
            ..error
        }
    } else {
        error.write(&whole.replace(',', "."))
    })
}

/// A number times a power of ten, rounded once.
fn decimal(number: &str, power: i32) -> f64 {
    let (mantissa, exponent) = match number.find(['e', 'E']) {
        Some(at) => (
            &number[..at],
            number[at + 1..].parse::<i32>().unwrap_or(i32::MAX),
        ),
        None => (number, 0),
    };
    format!("{mantissa}e{}", exponent.saturating_add(power))
        .parse()
        .unwrap_or(f64::NAN)
}

fn scaled(number: &str, word: &str, at: usize, unit: Unit) -> Result<f64, QuantityError> {
    let token = word.split_whitespace().next().unwrap_or(word);
    let whole = meaning(word);
    if whole.is_none() && token.len() < word.len() && meaning(token).is_some_and(|m| m.unit == unit)
    {
        let rest = word[token.len()..].trim_start();
        let says = format!("{} follows the value, only a tolerance may", quoted(rest));
        let from = at + word.len() - rest.len();
        return Err(QuantityError::new(
            "left-over",
            from..at + word.len(),
            says,
            "left over",
        ));
    }
    match whole {
        Some(found) if found.unit == unit => Ok(decimal(number, found.power) * found.factor),
        found => Err(wrong_unit(word, at, unit, found.map(|m| m.unit))),
    }
}

fn wrong_unit(word: &str, at: usize, unit: Unit, found: Option<Unit>) -> QuantityError {
    let span = at..at + word.len();
    let needs = unit.measures();
    let fits = fitting(unit);
    if let Some(better) = corrected(word, unit) {
        let says = format!("`{word}` is not how {needs} is written, `{better}` is");
        return QuantityError::new("unit-spelling", span, says, "spelling").write(&better);
    }
    if let Some(found) = found {
        let is = found.measures();
        let says = format!("`{word}` is the unit of {is}, {needs} is needed ({fits})");
        return QuantityError::new("unit-mismatch", span, says, is);
    }
    let says = format!("unknown unit {}, {needs} is needed ({fits})", quoted(word));
    QuantityError::new("unknown-unit", span, says, "unknown unit")
}

/// Rates: `1.5e-4 /s`, `3 %/year`, `0.1 /h`.
fn rate(number: &str, word: &str, at: usize) -> Result<f64, QuantityError> {
    let Some((share, time)) = word.split_once('/') else {
        return Err(wrong_unit(
            word,
            at,
            Unit::PerSecond,
            meaning(word).map(|m| m.unit),
        ));
    };
    let power = match share.trim() {
        "" | "1" => 0,
        "%" => -2,
        "ppm" => -6,
        _ => return Err(wrong_unit(word, at, Unit::PerSecond, None)),
    };
    let time_word = time.trim();
    let time_at = at + word.len() - time.trim_start().len();
    match meaning(time_word) {
        Some(m) if m.unit == Unit::Second => {
            Ok(decimal(number, power) / (decimal("1", m.power) * m.factor))
        }
        found => Err(wrong_unit(
            time_word,
            time_at,
            Unit::Second,
            found.map(|m| m.unit),
        )),
    }
}

fn tolerance_limits(
    written: &str,
    at: usize,
    value: f64,
    unit: Unit,
) -> Result<(f64, f64), QuantityError> {
    let mark = written
        .find(|c: char| c.is_ascii_digit() || c == '.')
        .unwrap_or(written.len());
    let body = &written[mark..];
    let body_at = at + mark;
    let digits = number_len(body);
    let word = body[digits..].trim_start();
    let span = body_at..body_at + body.len();
    let needs = "a tolerance is a share such as `±1 %` or a value in the same unit";
    if digits == 0 {
        let says = format!("the tolerance {} has no number, {needs}", quoted(written));
        return Err(QuantityError::new(
            "bad-tolerance",
            at..at + written.len(),
            says,
            "no number",
        ));
    }
    let number = &body[..digits];
    let half = match meaning(word) {
        Some(m) if m.unit == Unit::Fraction && unit != Unit::Celsius => {
            (decimal(number, m.power) * value).abs()
        }
        Some(m) if m.unit == unit => decimal(number, m.power) * m.factor,
        _ if word.is_empty() => {
            let says = format!("the tolerance {} has no unit, {needs}", quoted(body));
            let error = QuantityError::new("bad-tolerance", span, says, "no unit");
            return Err(error.write(&format!("{number} %")));
        }
        _ => {
            let says = format!("the tolerance {} has the wrong unit, {needs}", quoted(body));
            return Err(QuantityError::new("bad-tolerance", span, says, "tolerance"));
        }
    };
    let too_wide = meaning(word).is_some_and(|m| m.unit == Unit::Fraction)
        && unit != Unit::Fraction
        && half > value.abs();
    if !half.is_finite() || half < 0.0 || too_wide {
        let says = format!(
            "the tolerance {} is more than the value itself",
            quoted(body)
        );
        return Err(QuantityError::new("bad-tolerance", span, says, "too wide"));
    }
    Ok((value - half, value + half))
}

/// Refuses values that no supply board has; a prefix of the wrong case is the usual cause.
fn plausible(value: f64, head: &str, start: usize, unit: Unit) -> Result<(), QuantityError> {
    let span = start..start + head.len();
    if !value.is_finite() {
        let says = format!("{} is too large to be {}", quoted(head), unit.measures());
        return Err(QuantityError::new("not-finite", span, says, "not finite"));
    }
    if unit == Unit::Celsius && value < -273.15 {
        let says = format!("{} lies below absolute zero, -273.15 degC", quoted(head));
        return Err(QuantityError::new(
            "out-of-range",
            span,
            says,
            "below absolute zero",
        ));
    }
    let slow = unit == Unit::Hertz && value != 0.0 && value.abs() < 1.0;
    if value.abs() <= largest(unit) && !slow {
        return Ok(());
    }
    Err(case_slip(head, start, unit).unwrap_or_else(|| {
        let says = format!(
            "{} is absurd for {} on a supply board",
            quoted(head),
            unit.measures()
        );
        QuantityError::new("out-of-range", span, says, "absurd")
    }))
}

/// Where `M` was written for `m` or the other way round: what was said and what may be meant.
pub(crate) fn case_slip(head: &str, start: usize, unit: Unit) -> Option<QuantityError> {
    let digits = number_len(head);
    let word = head[digits..].trim_start();
    let found = meaning(word).filter(|m| m.unit == unit)?;
    let (prefix, other, is) = match found.prefix? {
        'M' => ('M', 'm', "mega"),
        'm' => ('m', 'M', "milli"),
        _ => return None,
    };
    let better = word.replacen(prefix, &other.to_string(), 1);
    let at = start + head.len() - word.len();
    let says = format!(
        "{} is absurd for {}: `{prefix}` is {is}",
        quoted(head),
        unit.measures()
    );
    Some(QuantityError::new("wrong-case", at..at + word.len(), says, is).write(&better))
}

/// The unit word at the end of a value and what it measures.
pub(crate) fn unit_of(text: &str) -> Option<(&str, Unit)> {
    let word = text[number_len(text)..].trim();
    meaning(word).map(|m| (word, m.unit))
}

#[cfg(test)]
mod tests;
