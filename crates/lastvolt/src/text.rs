//! How results look as plain text: figures, tables, and one file for each command.

pub(crate) mod diagnostic;
pub(crate) mod number;
pub(crate) mod paint;
pub(crate) mod table;

pub(crate) mod burst;
pub(crate) mod check;
pub(crate) mod deliver;
pub(crate) mod direction;
pub(crate) mod ending;
pub(crate) mod fit;
pub(crate) mod junit;
pub(crate) mod life;
pub(crate) mod markdown;
pub(crate) mod matrix;
pub(crate) mod notice;
pub(crate) mod parts;
pub(crate) mod plot;
pub(crate) mod point;
pub(crate) mod review;
pub(crate) mod told;
pub(crate) mod walk;

use std::fmt::Write as _;

use paint::{Paint, Tone};
use table::wrapped;

/// Width that sentences are wrapped at.
pub(crate) const WIDTH: usize = 96;

/// A heading with an empty line before it.
fn heading(out: &mut String, text: &str, paint: Paint) {
    let _ = writeln!(out, "\n{}", paint.tone(Tone::Heading, text));
}

/// Lines, each with its end.
fn push_lines(out: &mut String, lines: &[String]) {
    for line in lines {
        let _ = writeln!(out, "{line}");
    }
}

/// A sentence wrapped behind a first indent; further lines stand behind as many spaces.
fn push_wrapped(out: &mut String, first: &str, text: &str) {
    let indent = first.chars().count();
    let lines = wrapped(text, WIDTH.saturating_sub(indent));
    for (at, line) in lines.iter().enumerate() {
        let lead = if at == 0 {
            first.to_owned()
        } else {
            " ".repeat(indent)
        };
        let _ = writeln!(out, "{lead}{line}");
    }
}

/// What the reader should know, at the end.
fn push_warnings(out: &mut String, warnings: &[String], paint: Paint) {
    for (at, warning) in warnings.iter().enumerate() {
        if at == 0 {
            out.push('\n');
        }
        let mark = "note: ";
        let mut text = String::new();
        push_wrapped(&mut text, mark, warning);
        let _ = write!(
            out,
            "{}",
            text.replacen(mark, &paint.tone(Tone::Note, mark), 1)
        );
    }
}
