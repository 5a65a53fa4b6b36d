//! Names that run from right to left within sentences that run from left to right.
//!
//! # Formula
//! ```text
//! FSI (U+2068)  a run from one letter of right-to-left writing to the last  PDI (U+2069)
//! ```
//! Within the two a run is ordered by itself, so that what stands beside it keeps its place.
//!
//! # References
//! The Unicode Standard, Annex 9, "Unicode Bidirectional Algorithm", sections 2.1 to 2.5 (from memory).

/// Whether a character turns the direction of what follows it and is not seen itself.
pub(crate) fn turns(c: char) -> bool {
    matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Whether it only keeps a run apart: [`isolated`] puts these around names.
pub(crate) fn isolates(c: char) -> bool {
    matches!(c, '\u{2068}' | '\u{2069}')
}

/// Letters that run from right to left: the blocks of Hebrew up to Arabic Extended-A, their presentation
/// forms, and the planes that stand for such scripts.
fn runs_left(c: char) -> bool {
    matches!(c, '\u{590}'..='\u{8ff}' | '\u{fb1d}'..='\u{fdff}' | '\u{fe70}'..='\u{feff}'
        | '\u{10800}'..='\u{10fff}' | '\u{1e800}'..='\u{1efff}')
}

/// Letters that run from left to right, as far as sentences have them.
fn runs_right(c: char) -> bool {
    c.is_alphabetic() && !runs_left(c)
}

/// A sentence in which every run from right to left is kept apart; what turns directions is left out.
pub(crate) fn isolated(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    // What follows the last such letter: part of the run only if another one comes before other letters.
    let mut pending = String::new();
    let mut within = false;
    for c in text.chars().filter(|c| !turns(*c)) {
        if runs_left(c) {
            if !within {
                out.push('\u{2068}');
            }
            within = true;
            out.push_str(&std::mem::take(&mut pending));
            out.push(c);
        } else if within && !runs_right(c) {
            pending.push(c);
        } else {
            if std::mem::take(&mut within) {
                out.push('\u{2069}');
            }
            out.push_str(&std::mem::take(&mut pending));
            out.push(c);
        }
    }
    if within {
        out.push('\u{2069}');
    }
    out + &pending
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_run_from_right_to_left_is_kept_apart() {
        assert_eq!(isolated("net V, 3 V"), "net V, 3 V");
        assert_eq!(
            isolated("on \u{5d0}\u{5d1} \u{5d2}: 3 V"),
            "on \u{2068}\u{5d0}\u{5d1} \u{5d2}\u{2069}: 3 V"
        );
        assert_eq!(
            isolated("\u{627} a \u{628}"),
            "\u{2068}\u{627}\u{2069} a \u{2068}\u{628}\u{2069}"
        );
    }

    #[test]
    fn nothing_turns_the_direction_of_what_follows() {
        assert_eq!(isolated("a\u{202e}b\u{2067}c\u{2069}"), "abc");
    }
}
