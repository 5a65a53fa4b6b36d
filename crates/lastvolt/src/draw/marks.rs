//! Upright lines that say what happens when, with their words above the plot.

use crate::draw::svg::{Anchor, Canvas, shortened};
use crate::draw::waves::{LEFT, WIDTH};

/// Height of one row of words above the plot.
pub(crate) const ROW: f64 = 16.0;
/// Rows of words at most; what finds no place has its line alone.
const MOST_ROWS: usize = 6;
/// Mean width of a character.
const WIDE: f64 = 6.5;
/// Marks closer than this are one line.
const APART: f64 = 0.8;

/// An upright line with words.
pub(crate) struct Mark {
    pub(crate) class: &'static str,
    pub(crate) x: f64,
    pub(crate) words: String,
}

/// Draws marks with their words above `top` and their lines down to `foot`.
pub(crate) fn draw_marks(
    canvas: &mut Canvas,
    marks: &[Mark],
    labels: &[Option<Label>],
    (top, foot): (f64, f64),
) {
    let mut drawn = f64::MIN;
    for (mark, label) in marks.iter().zip(labels) {
        let x = mark.x;
        let Some(label) = label else {
            if APART < x - drawn {
                canvas.line(mark.class, [x, top, x, foot]);
                drawn = x;
            }
            continue;
        };
        #[expect(clippy::cast_precision_loss, reason = "a few rows")]
        let y = top - 8.0 - ROW * label.row as f64;
        canvas.line(mark.class, [x, y - 9.0, x, foot]);
        let (anchor, at) = if label.behind {
            (Anchor::Start, x + 4.0)
        } else {
            (Anchor::End, x - 4.0)
        };
        canvas.text("mark", anchor, at, y, &label.words);
        drawn = x;
    }
}

/// Where the words of each mark stand, and how many rows they take. Edges choose first; what finds
/// no place where no line runs through it stays without words.
pub(crate) fn arranged(marks: &[Mark]) -> (Vec<Option<Label>>, usize) {
    let mut placed: Vec<Placed> = Vec::new();
    let mut labels: Vec<Option<Label>> = marks.iter().map(|_| None).collect();
    let edges_first = ["edge", "event"].into_iter().flat_map(|class| {
        let own = marks.iter().enumerate().rev();
        own.filter(move |(_, m)| m.class == class)
    });
    for (at, mark) in edges_first {
        let x = mark.x;
        let words = shortened(&mark.words, 44);
        #[expect(clippy::cast_precision_loss, reason = "a count of characters")]
        let width = WIDE * words.chars().count() as f64 + 8.0;
        let places = [true, false].into_iter();
        let mut places = places.flat_map(|behind| (0..MOST_ROWS).map(move |row| (behind, row)));
        let found = places.find_map(|(behind, row)| {
            let span = if behind {
                (x, x + width)
            } else {
                (x - width, x)
            };
            let new = Placed { x, row, span };
            let fits = LEFT <= span.0 && span.1 <= WIDTH;
            (fits && placed.iter().all(|p| p.suits(&new))).then_some((new, behind))
        });
        if let Some((new, behind)) = found {
            labels[at] = Some(Label {
                row: new.row,
                behind,
                words,
            });
            placed.push(new);
        }
    }
    let rows = placed.iter().map(|p| p.row + 1).max().unwrap_or(0);
    (labels, rows)
}

/// Where the words of a mark stand.
pub(crate) struct Label {
    row: usize,
    /// Behind the line, not before it.
    behind: bool,
    words: String,
}

/// A line with its words in place.
struct Placed {
    x: f64,
    row: usize,
    span: (f64, f64),
}

impl Placed {
    /// Whether two stand beside each other without words over words or lines through words.
    fn suits(&self, other: &Self) -> bool {
        let apart = self.span.1 + 6.0 < other.span.0 || other.span.1 + 6.0 < self.span.0;
        let crosses = |line: &Self, words: &Self| {
            words.row <= line.row && words.span.0 - 3.0 < line.x && line.x < words.span.1 + 3.0
        };
        (self.row != other.row || apart) && !crosses(self, other) && !crosses(other, self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_marks_do_not_cover_each_other() {
        let new = |x: f64, row: usize| Placed {
            x,
            row,
            span: (x, x + 60.0),
        };
        assert!(!new(0.0, 0).suits(&new(30.0, 0)), "words over words");
        assert!(!new(0.0, 0).suits(&new(30.0, 1)), "a line through words");
        assert!(new(0.0, 1).suits(&new(30.0, 0)));
    }
}
