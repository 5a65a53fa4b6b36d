//! Words in the room that there is: broken into lines, or cut.

use crate::draw::lettering::{Letters, width};
use crate::draw::room::size_of;

/// Width of a text of a class, at most.
pub(crate) fn width_of(text: &str, class: &str) -> f64 {
    width(text, size_of(class), Letters::Page)
}

/// A text that is at most so wide, its end cut off where need be.
pub(crate) fn cut(text: &str, class: &str, most: f64) -> String {
    if width_of(text, class) <= most {
        return text.to_owned();
    }
    let mut out = String::new();
    for c in text.chars() {
        out.push(c);
        if most < width_of(&out, class) + width_of("…", class) {
            out.pop();
            break;
        }
    }
    format!("{}…", out.trim_end())
}

/// Lines of a text that are at most so wide; a word that is wider is cut.
pub(crate) fn wrap(text: &str, class: &str, most: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ').filter(|w| !w.is_empty()) {
        let word = cut(word, class, most);
        match lines.last_mut() {
            Some(line) if width_of(line, class) + width_of(&word, class) + 6.0 <= most => {
                line.push(' ');
                line.push_str(&word);
            }
            _ => lines.push(word),
        }
    }
    lines
}

/// The same in at most so many lines, what is left cut off.
pub(crate) fn wrap_most(text: &str, class: &str, most: f64, lines: usize) -> Vec<String> {
    let mut all = wrap(text, class, most);
    if lines < all.len() {
        let rest = all.split_off(lines.saturating_sub(1)).join(" ");
        all.push(cut(&rest, class, most));
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_as_wide_as_allowed() {
        let long = format!("one two {} three four", "w".repeat(500));
        for line in wrap(&long, "label", 90.0) {
            assert!(width_of(&line, "label") <= 90.0, "{line}");
        }
        assert_eq!(wrap_most(&long, "label", 90.0, 2).len(), 2);
        assert_eq!(wrap("one two", "label", 500.0), ["one two"]);
        assert_eq!(wrap("", "label", 90.0), Vec::<String>::new());
    }
}
