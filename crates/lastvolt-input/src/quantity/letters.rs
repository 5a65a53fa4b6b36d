//! Letter codes of IEC 60062: the prefix stands at the decimal point, a tolerance letter may follow.

use lastvolt_core::quantity::Unit;

use super::units::meaning;
use super::{Limits, QuantityError, decimal};
use crate::suggest::quoted;

/// Reads a letter code; none if the text has not the shape of one or the unit has no such codes.
pub(super) fn read(text: &str, unit: Unit) -> Option<Result<(f64, Limits), QuantityError>> {
    if !matches!(unit, Unit::Ohm | Unit::Farad | Unit::Henry) {
        return None;
    }
    let code = Code::split(without_unit(text, unit))?;
    if code.after.is_empty() && meaning(&text[code.before.len()..]).is_some_and(|m| m.unit == unit)
    {
        // `100nF` ends in its unit and not in the tolerance letter F.
        return None;
    }
    let power = match code.power(unit) {
        Some(power) => power,
        None => return Some(Err(code.refused(text, unit)?)),
    };
    let fraction = if code.after.is_empty() {
        "0"
    } else {
        code.after
    };
    let before = if code.before.is_empty() {
        "0"
    } else {
        code.before
    };
    let number = if before.contains('.') {
        before.to_owned()
    } else {
        format!("{before}.{fraction}")
    };
    let value = decimal(&number, power);
    let limits = match code.tolerance {
        None => None,
        Some(letter) => match half_width(letter, value, unit) {
            Some(half) => Some((value - half, value + half)),
            None => return Some(Err(unknown_letter(text, letter))),
        },
    };
    Some(Ok((value, limits)))
}

/// The text without a bare unit behind the code, as in `4k7 ohm`.
fn without_unit(text: &str, unit: Unit) -> &str {
    let head = match text.split_once(char::is_whitespace) {
        Some((head, tail))
            if meaning(tail.trim()).is_some_and(|m| m.unit == unit && m.power == 0) =>
        {
            head
        }
        Some(_) => return text,
        None if unit == Unit::Ohm => text.trim_end_matches(['\u{3a9}', '\u{2126}']),
        None => text,
    };
    // Behind a plain number or a prefix the unit belongs to the number.
    match head.find(|c: char| c.is_ascii_alphabetic()) {
        Some(at) if at + 1 < head.len() => head,
        _ => text,
    }
}

/// Digits, a letter, digits, and perhaps a tolerance letter.
struct Code<'a> {
    before: &'a str,
    letter: char,
    after: &'a str,
    tolerance: Option<char>,
}

impl<'a> Code<'a> {
    fn split(text: &'a str) -> Option<Self> {
        let letter_at = text.find(|c: char| !c.is_ascii_digit() && c != '.')?;
        let before = &text[..letter_at];
        let letter = text[letter_at..].chars().next()?;
        if !letter.is_alphabetic() {
            return None;
        }
        let rest = &text[letter_at + letter.len_utf8()..];
        let end = rest
            .find(|c: char| !c.is_ascii_digit())
            .unwrap_or(rest.len());
        let (after, tail) = rest.split_at(end);
        let mut tail = tail.chars();
        let tolerance = tail.next();
        let shaped = tail.next().is_none()
            && tolerance.is_none_or(|c| c.is_ascii_uppercase())
            && !(before.is_empty() && after.is_empty())
            && before.matches('.').count() <= 1
            && before != "."
            && (!before.contains('.') || after.is_empty());
        shaped.then_some(Self {
            before,
            letter,
            after,
            tolerance,
        })
    }

    /// Power of ten of the letter for a unit.
    fn power(&self, unit: Unit) -> Option<i32> {
        let micro = matches!(self.letter, 'u' | '\u{b5}' | '\u{3bc}');
        Some(match (unit, self.letter) {
            (Unit::Ohm, 'R') => 0,
            (Unit::Ohm, 'L') => -3,
            (Unit::Ohm, 'k' | 'K') => 3,
            (Unit::Ohm, 'M') => 6,
            (Unit::Ohm, 'G') => 9,
            (Unit::Ohm, 'T') => 12,
            (Unit::Farad, 'p') => -12,
            (Unit::Farad | Unit::Henry, 'n') => -9,
            (Unit::Farad | Unit::Henry, 'm') => -3,
            (Unit::Farad, 'F') | (Unit::Henry, 'H') => 0,
            (Unit::Farad | Unit::Henry, _) if micro => -6,
            _ => return None,
        })
    }

    /// A code with the wrong letter, where it is clear that a code was meant.
    fn refused(&self, text: &str, unit: Unit) -> Option<QuantityError> {
        let at = self.before.len()..self.before.len() + self.letter.len_utf8();
        let error = |says: String, better: char| {
            QuantityError::new("wrong-case", at.clone(), says, "wrong case")
                .write(&better.to_string())
        };
        let coded = !self.after.is_empty() || self.tolerance.is_none();
        match (unit, self.letter) {
            (Unit::Ohm, 'm') if coded => {
                let says = format!("in {} m is milli, M is mega", quoted(text));
                Some(error(says, 'M'))
            }
            (Unit::Farad | Unit::Henry, 'M' | 'U' | 'N' | 'P') if coded => {
                let better = self.letter.to_ascii_lowercase();
                let says = format!(
                    "in {} the letter {} is in the wrong case",
                    quoted(text),
                    self.letter
                );
                Some(error(says, better))
            }
            (Unit::Ohm, 'r' | 'g' | 't') if coded => {
                let better = self.letter.to_ascii_uppercase();
                let says = format!(
                    "in {} the letter {} is in the wrong case",
                    quoted(text),
                    self.letter
                );
                Some(error(says, better))
            }
            _ => None,
        }
    }
}

/// Half the width that a tolerance letter gives, IEC 60062 (from memory, high); capacitors below
/// 10 pF take the letters B, C, D, F and G as picofarads.
fn half_width(letter: char, value: f64, unit: Unit) -> Option<f64> {
    if unit == Unit::Farad && value < 10e-12 {
        return Some(match letter {
            'B' => 0.1e-12,
            'C' => 0.25e-12,
            'D' => 0.5e-12,
            'F' => 1e-12,
            'G' => 2e-12,
            _ => return None,
        });
    }
    let percent = match letter {
        'B' => 0.1,
        'C' => 0.25,
        'D' => 0.5,
        'F' => 1.0,
        'G' => 2.0,
        'J' => 5.0,
        'K' => 10.0,
        'M' => 20.0,
        _ => return None,
    };
    Some(value * percent / 100.0)
}

fn unknown_letter(text: &str, letter: char) -> QuantityError {
    let says = format!(
        "{letter} at the end of {} is not a tolerance letter that fits (B, C, D, F, G, J, K, M)",
        quoted(text)
    );
    let at = text.len() - letter.len_utf8()..text.len();
    QuantityError::new("bad-tolerance", at, says, "tolerance letter")
}
