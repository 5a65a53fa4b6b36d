//! How much room a text takes, before any browser has set it: never less than it will take.

/// The letters of a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Letters {
    /// The letters of the page, which differ from machine to machine.
    Page,
    /// Letters of one width, for names and values of parts and nets.
    Mono,
}

/// Width of a text at a size, both in pixels.
///
/// Bounds above what common fonts take: DejaVu, Liberation, Georgia and Palatino for the page, DejaVu
/// Mono (0.602 of the size, the widest of its kind) for letters of one width.
#[must_use]
pub(crate) fn width(text: &str, size: f64, letters: Letters) -> f64 {
    let of = match letters {
        Letters::Page => page,
        Letters::Mono => mono,
    };
    text.chars().map(of).sum::<f64>() * size
}

/// Latin, Greek and their neighbours; anything beyond may come from a font of wide letters.
const NEAR: char = '\u{2e7f}';

fn mono(c: char) -> f64 {
    match c {
        '\u{590}'..='\u{1fff}' => 1.0,
        c if c <= NEAR => 0.605,
        _ => 1.4,
    }
}

fn page(c: char) -> f64 {
    match c {
        'i' | 'j' | 'l' | 'I' | '.' | ',' | ':' | ';' | '\'' | '|' | ' ' | '!' | '(' | ')'
        | '[' | ']' => 0.42,
        'f' | 'r' | 't' | 's' | 'J' | '-' | '/' => 0.56,
        'm' | 'M' | 'W' | '%' | '@' | '…' | '—' => 1.05,
        'w' | 'A'..='Z' | '+' | '=' | '<' | '>' | '±' | '−' => 0.9,
        '\u{590}'..='\u{1fff}' => 1.0,
        c if c <= NEAR => 0.67,
        _ => 1.4,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_of_one_width_take_the_same_room() {
        let narrow = width("iiii", 10.0, Letters::Mono);
        assert!((narrow - width("WWWW", 10.0, Letters::Mono)).abs() < 1e-12);
        assert!(width("iiii", 10.0, Letters::Page) < width("WWWW", 10.0, Letters::Page));
    }

    #[test]
    fn text_of_wide_letters_gets_more_room() {
        assert!(width("abcd", 10.0, Letters::Mono) < width("电池电池", 10.0, Letters::Mono));
    }
}
