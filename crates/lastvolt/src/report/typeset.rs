//! Figures as a page prints them: symbols of units, true minus signs, no break before a unit; and
//! names that are safe as anchors.

use crate::text::direction::isolated;

/// Units in the spelling of the files, and as they are printed.
const UNITS: [(&str, &str); 14] = [
    ("degC", "°C"),
    ("ohm", "Ω"),
    ("mohm", "mΩ"),
    ("kohm", "kΩ"),
    ("Mohm", "MΩ"),
    ("Gohm", "GΩ"),
    ("uA", "µA"),
    ("uV", "µV"),
    ("uF", "µF"),
    ("uW", "µW"),
    ("uC", "µC"),
    ("uH", "µH"),
    ("uJ", "µJ"),
    ("us", "µs"),
];

/// Units that stay as they are spelt but must not part from their figure.
const PLAIN: [&str; 38] = [
    "V", "mV", "nV", "kV", "A", "mA", "nA", "pA", "fA", "F", "mF", "nF", "pF", "H", "mH", "nH",
    "W", "mW", "nW", "pW", "fW", "J", "mJ", "nJ", "kJ", "s", "ms", "ns", "C", "mC", "nC", "Hz",
    "kHz", "MHz", "%", "min", "h", "Ah",
];

/// A text with its figures set as a page prints them; names and words stay as they are, those that run
/// from right to left kept apart.
pub(crate) fn typeset(text: &str) -> String {
    let text = isolated(text);
    let mut out = String::with_capacity(text.len() + 8);
    let mut after_figure = false;
    for (at, token) in text.split(' ').enumerate() {
        let core = token.trim_end_matches(['.', ',', ';', ':', ')', '?']);
        let tail = &token[core.len()..];
        let unit = UNITS.iter().find(|(spelt, _)| *spelt == core).map(|u| u.1);
        let plain = PLAIN.contains(&core);
        let follows = after_figure && (unit.is_some() || plain);
        if 0 < at {
            out.push(if follows { '\u{a0}' } else { ' ' });
        }
        match unit {
            Some(unit) if follows => {
                out.push_str(unit);
                out.push_str(tail);
            }
            _ => out.push_str(&with_minus(token)),
        }
        after_figure = is_figure(core);
    }
    out
}

/// Whether a word is a number, a sign or bracket before it allowed.
fn is_figure(word: &str) -> bool {
    let digits = word.trim_start_matches(['-', '+', '±', '(', '~']);
    !digits.is_empty()
        && digits.starts_with(|c: char| c.is_ascii_digit())
        && digits.chars().all(|c| c.is_ascii_digit() || c == '.')
}

fn with_minus(token: &str) -> String {
    let head = token.trim_start_matches('(');
    match head.strip_prefix('-') {
        Some(rest) if rest.starts_with(|c: char| c.is_ascii_digit()) => {
            format!("{}\u{2212}{rest}", &token[..token.len() - head.len()])
        }
        _ => token.to_owned(),
    }
}

/// A name as an anchor: letters, digits and hyphens; anything else by its number, so that no two
/// names share one.
pub(crate) fn anchor(name: &str) -> String {
    format!("board-{}", slug(name))
}

/// A name in letters, digits and hyphens; anything else by its number.
pub(crate) fn slug(name: &str) -> String {
    let mut out = String::new();
    for c in name.chars() {
        if c.is_ascii_alphanumeric() || c == '-' {
            out.push(c);
        } else {
            out.push_str(&format!("_{:x}_", u32::from(c)));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_after_figures_are_set_and_names_are_left_alone() {
        assert_eq!(
            typeset("12.4 uA at -12 degC."),
            "12.4\u{a0}µA at \u{2212}12\u{a0}°C."
        );
        assert_eq!(
            typeset("behind 10.0 ohm (4.7 kohm)"),
            "behind 10.0\u{a0}Ω (4.7\u{a0}kΩ)"
        );
        assert_eq!(typeset("part uA and net V"), "part uA and net V");
        assert_eq!(typeset("6.4 % of it"), "6.4\u{a0}% of it");
        assert_eq!(typeset(""), "");
    }

    #[test]
    fn anchors_differ_where_names_differ() {
        assert_eq!(anchor("two-cell"), "board-two-cell");
        assert_ne!(anchor("a b"), anchor("a_b"));
        assert_ne!(anchor("a b"), anchor("a\u{20b}"));
        assert_ne!(anchor("V+1"), anchor("V\u{2b1}"));
        assert!(anchor("<é>").is_ascii());
    }
}
