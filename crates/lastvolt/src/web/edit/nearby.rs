//! Values beside one that can be bought: neighbours in a preferred series, written as the value is.
//!
//! Resistors come in E24, capacitors and inductors in E12 (series: IEC 60063:2015; which kind comes in
//! which: common practice).

use lastvolt_core::numerics::eseries::Series;
use lastvolt_core::quantity::Unit;
use lastvolt_input::quantity::parse;

use crate::text::number::nominal;

/// Neighbours on each side.
const EACH: usize = 2;

/// The series that parts of a kind come in, and the unit of their value.
pub(super) fn series(kind: &str) -> Option<(Series, &'static str, Unit)> {
    match kind {
        "resistor" => Some((Series::E24, "E24", Unit::Ohm)),
        "capacitor" => Some((Series::E12, "E12", Unit::Farad)),
        "inductor" => Some((Series::E12, "E12", Unit::Henry)),
        _ => None,
    }
}

/// The neighbours of a value as it is typed, smaller ones first.
pub(super) fn neighbours(typed: &str, series: Series, unit: Unit) -> Vec<String> {
    let Ok(reading) = parse(typed, unit) else {
        return Vec::new();
    };
    if !(reading.value.is_finite() && 0.0 < reading.value) {
        return Vec::new();
    }
    let mut values = Vec::new();
    let mut below = reading.value;
    for _ in 0..EACH {
        below = series.at_most(below * (1.0 - NEAR));
        values.insert(0, below);
    }
    let mut above = reading.value;
    for _ in 0..EACH {
        above = series.at_least(above * (1.0 + NEAR));
        values.push(above);
    }
    let written = values
        .into_iter()
        .filter_map(|value| like(typed, value, unit));
    written.collect()
}

/// Relative step off a member of a series: beyond rounding, and far below the way to the next.
const NEAR: f64 = 1e-6;

/// A value in the words of another, tolerance kept; none where it would not read as that value.
fn like(typed: &str, value: f64, unit: Unit) -> Option<String> {
    let end = ["\u{b1}", "+/-", "+-"]
        .iter()
        .filter_map(|m| typed.find(m))
        .min();
    let head = typed[..end.unwrap_or(typed.len())].trim_end();
    let tail = &typed[head.len()..];
    let written = code(head, value, unit).unwrap_or_else(|| {
        let words = nominal(value, unit);
        if head.contains(' ') {
            words
        } else {
            words.replace(' ', "")
        }
    });
    let whole = format!("{written}{tail}");
    let read = parse(&whole, unit).ok()?.value;
    ((read / value - 1.0).abs() < NEAR).then_some(whole)
}

/// A value as a letter code of IEC 60062, where the text is one: `4k7`, `390R`, `100n`.
fn code(text: &str, value: f64, unit: Unit) -> Option<String> {
    let letter_at = text.find(|c: char| !c.is_ascii_digit())?;
    let mut rest = text[letter_at..].chars();
    let letter = rest.next()?;
    let rest = rest.as_str();
    let digits = rest.len() - rest.trim_start_matches(|c: char| c.is_ascii_digit()).len();
    let (after, tolerance) = rest.split_at(digits);
    let is_code = matches!(
        letter,
        'R' | 'r' | 'k' | 'K' | 'M' | 'G' | 'm' | 'u' | 'n' | 'p'
    ) && tolerance.len() <= 1
        && (!after.is_empty() || tolerance.is_empty());
    if letter_at == 0 || !is_code {
        return None;
    }
    let words = nominal(value, unit);
    let (number, prefixed) = words.split_once(' ')?;
    let prefix = prefixed.strip_suffix(unit.symbol())?;
    let prefix = match (prefix, unit) {
        ("", Unit::Ohm) => "R",
        ("", _) => return None,
        ("k", _) if letter == 'K' => "K",
        (prefix, _) => prefix,
    };
    let (whole, part) = number.split_once('.').unwrap_or((number, ""));
    let part = if part.is_empty() && !after.is_empty() && whole.len() == 1 {
        "0"
    } else {
        part
    };
    let tolerance = if part.is_empty() { "" } else { tolerance };
    Some(format!("{whole}{prefix}{part}{tolerance}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(kind: &str, typed: &str, expected: &[&str]) {
        let (series, _, unit) = series(kind).expect("a series");
        assert_eq!(neighbours(typed, series, unit), expected);
    }

    /// Members of the series: IEC 60063:2015.
    #[test]
    fn ref_iec_60063_neighbours_are_written_as_the_value_is() {
        check(
            "resistor",
            "4M7 \u{b1}5 %",
            &[
                "3M9 \u{b1}5 %",
                "4M3 \u{b1}5 %",
                "5M1 \u{b1}5 %",
                "5M6 \u{b1}5 %",
            ],
        );
        check(
            "resistor",
            "1M0 \u{b1}1 %",
            &[
                "820k \u{b1}1 %",
                "910k \u{b1}1 %",
                "1M1 \u{b1}1 %",
                "1M2 \u{b1}1 %",
            ],
        );
        check("resistor", "390R", &["330R", "360R", "430R", "470R"]);
        check(
            "resistor",
            "1M69 \u{b1}1 %",
            &[
                "1M5 \u{b1}1 %",
                "1M6 \u{b1}1 %",
                "1M8 \u{b1}1 %",
                "2M0 \u{b1}1 %",
            ],
        );
        check(
            "resistor",
            "10 kohm",
            &["8.2 kohm", "9.1 kohm", "11 kohm", "12 kohm"],
        );
        check("resistor", "910", &[]);
        check(
            "capacitor",
            "10 uF",
            &["6.8 uF", "8.2 uF", "12 uF", "15 uF"],
        );
        check("capacitor", "100nF", &["68nF", "82nF", "120nF", "150nF"]);
        check("capacitor", "100n", &["68n", "82n", "120n", "150n"]);
        check(
            "inductor",
            "2u2 \u{b1}20 %",
            &[
                "1u5 \u{b1}20 %",
                "1u8 \u{b1}20 %",
                "2u7 \u{b1}20 %",
                "3u3 \u{b1}20 %",
            ],
        );
        check("resistor", "0 ohm", &[]);
        check("resistor", "{ typ = \"1k\" }", &[]);
    }
}
