//! Upright lines that say what happens when: their words stand above the plot, or letters do and the
//! words are listed below it.

use crate::draw::size::Size;
use crate::draw::svg::{Anchor, Canvas};
use crate::draw::words::{cut, width_of};

/// Height of one row of words above the plot.
const ROW: f64 = 16.0;
/// Rows of words at most; what finds no place has its line alone.
const MOST_ROWS: usize = 6;
/// Marks at most for which all ways to place them are tried.
const MOST_TRIED: usize = 7;
/// Letters at most.
const MOST_LETTERS: usize = 6;
/// Widest words above a plot: there is that much room on one side of every line.
const WIDEST: f64 = 395.0;
/// Marks closer than this are one line.
const APART: f64 = 0.8;
/// From a line to its words.
const GAP: f64 = 4.0;

/// An upright line with words.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Mark {
    pub(crate) class: &'static str,
    pub(crate) x: f64,
    pub(crate) words: String,
    /// Between which places its words stand, where they find room there.
    pub(crate) within: (f64, f64),
}

/// Marks with their words in place.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Arranged {
    labels: Vec<Option<Label>>,
    rows: usize,
    /// Letters with what they stand for.
    listed: Vec<(String, String)>,
}

/// Where the words of a mark stand.
#[derive(Debug, Clone, PartialEq)]
struct Label {
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

impl Arranged {
    /// Marks on a plot that begins at `left`; in a narrow picture, and where words of marks that must
    /// all be said find no place, letters stand for them. Edges choose first.
    pub(crate) fn new(marks: &[Mark], left: f64, size: Size, must: bool) -> Self {
        let page = (left, size.width());
        let own: Vec<(f64, f64)> = marks.iter().map(|m| m.within).collect();
        let spans = [own, vec![page; marks.len()]];
        if size == Size::Wide {
            let words: Vec<Option<String>> = marks
                .iter()
                .map(|m| Some(cut(&m.words, "mark", WIDEST)))
                .collect();
            let orders = orders(marks, must);
            let ways = spans
                .iter()
                .flat_map(|s| orders.iter().map(move |(order, sides)| (order, *sides, s)));
            for (order, sides, spans) in ways {
                let (labels, rows) = placed(marks, &words, (order, sides), spans);
                if !must || labels.iter().all(Option::is_some) {
                    return Self {
                        labels,
                        rows,
                        listed: Vec::new(),
                    };
                }
            }
        }
        Self::lettered(marks, page)
    }

    fn lettered(marks: &[Mark], page: (f64, f64)) -> Self {
        let mut chosen = edges_first(marks);
        chosen.truncate(MOST_LETTERS);
        chosen.sort_by(|a, b| marks[*a].x.total_cmp(&marks[*b].x));
        let mut letters = vec![None; marks.len()];
        let mut listed = Vec::new();
        for (letter, &at) in ('A'..='Z').zip(&chosen) {
            letters[at] = Some(letter.to_string());
            listed.push((letter.to_string(), marks[at].words.clone()));
        }
        chosen.reverse();
        let (labels, rows) = placed(marks, &letters, (&chosen, 0), &vec![page; marks.len()]);
        Self {
            labels,
            rows,
            listed,
        }
    }

    /// Height of the words above the plot.
    pub(crate) fn height(&self) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "a few rows")]
        let rows = self.rows as f64;
        ROW * rows
    }

    /// Draws the marks with their words above `top` and their lines down to `foot`.
    pub(crate) fn draw(&self, canvas: &mut Canvas, marks: &[Mark], (top, foot): (f64, f64)) {
        let mut drawn = f64::MIN;
        for (mark, label) in marks.iter().zip(&self.labels) {
            let x = mark.x;
            let Some(label) = label else {
                if APART < (x - drawn).abs() {
                    canvas.line(mark.class, [x, top, x, foot]);
                    drawn = x;
                }
                continue;
            };
            #[expect(clippy::cast_precision_loss, reason = "a few rows")]
            let y = top - 8.0 - ROW * label.row as f64;
            canvas.line(mark.class, [x, y - 9.0, x, foot]);
            let (anchor, at) = if label.behind {
                (Anchor::Start, x + GAP)
            } else {
                (Anchor::End, x - GAP)
            };
            canvas.text("mark", anchor, at, y, &label.words);
            drawn = x;
        }
    }

    /// What the letters stand for, below the picture.
    pub(crate) fn list(&self, canvas: &mut Canvas) {
        for (letter, words) in &self.listed {
            canvas.text("mark", Anchor::Start, 8.0, canvas.foot() + 11.0, letter);
            canvas.below_at("label", 28.0, words);
        }
    }
}

/// Edges, then all others, each from the last to the first.
fn edges_first(marks: &[Mark]) -> Vec<usize> {
    let (edges, others): (Vec<usize>, Vec<usize>) = (0..marks.len())
        .rev()
        .partition(|at| marks[*at].class == "edge");
    edges.into_iter().chain(others).collect()
}

/// In which order marks choose their places, and, a bit a mark, which try to stand before their line
/// first. Where all must be said, every choice of sides is tried: words behind their lines step down to
/// the right and words before them to the left, so that those choose first that stand lowest.
fn orders(marks: &[Mark], must: bool) -> Vec<(Vec<usize>, u8)> {
    let mut all = vec![(edges_first(marks), 0)];
    if !must || MOST_TRIED < marks.len() {
        return all;
    }
    let by_place = |a: &usize, b: &usize| marks[*a].x.total_cmp(&marks[*b].x);
    for sides in 0..1_u8 << marks.len() {
        let (mut before, mut behind): (Vec<usize>, Vec<usize>) =
            (0..marks.len()).partition(|at| sides >> at & 1 == 1);
        before.sort_by(by_place);
        behind.sort_by(|a, b| by_place(b, a));
        all.push(([before.clone(), behind.clone()].concat(), sides));
        all.push(([behind, before].concat(), sides));
    }
    all
}

/// Where the words of each mark stand, and how many rows they take. What finds no place where no line
/// runs through it stays without words.
fn placed(
    marks: &[Mark],
    words: &[Option<String>],
    (order, sides): (&[usize], u8),
    spans: &[(f64, f64)],
) -> (Vec<Option<Label>>, usize) {
    let mut placed: Vec<Placed> = Vec::new();
    let mut labels: Vec<Option<Label>> = marks.iter().map(|_| None).collect();
    for &at in order {
        let Some(words) = &words[at] else {
            continue;
        };
        let x = marks[at].x;
        let wide = GAP + width_of(words, "mark");
        let behind_first = sides >> at.min(7) & 1 == 0;
        let rows = (0..MOST_ROWS).flat_map(|row| [(behind_first, row), (!behind_first, row)]);
        let found = rows.into_iter().find_map(|(behind, row)| {
            let own = if behind {
                (x + GAP, x + wide)
            } else {
                (x - wide, x - GAP)
            };
            let new = Placed { x, row, span: own };
            let fits = spans[at].0 <= own.0 && own.1 <= spans[at].1;
            (fits && placed.iter().all(|p| p.suits(&new))).then_some((new, behind))
        });
        if let Some((new, behind)) = found {
            labels[at] = Some(Label {
                row: new.row,
                behind,
                words: words.clone(),
            });
            placed.push(new);
        }
    }
    let rows = placed.iter().map(|p| p.row + 1).max().unwrap_or(0);
    (labels, rows)
}

impl Placed {
    /// Whether two stand beside each other without words over words or lines through words.
    fn suits(&self, other: &Self) -> bool {
        let apart = self.span.1 + 6.0 < other.span.0 || other.span.1 + 6.0 < self.span.0;
        let crosses = |line: &Self, words: &Self| {
            words.row <= line.row && words.span.0 - 2.0 < line.x && line.x < words.span.1 + 2.0
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
            span: (x + GAP, x + 60.0),
        };
        assert!(!new(0.0, 0).suits(&new(30.0, 0)), "words over words");
        assert!(!new(0.0, 0).suits(&new(30.0, 1)), "a line through words");
        assert!(new(0.0, 1).suits(&new(30.0, 0)));
    }

    #[test]
    fn marks_at_one_instant_all_get_their_letters() {
        let mark = |words: &str| Mark {
            class: "end",
            x: 200.0,
            words: words.to_owned(),
            within: (44.0, 340.0),
        };
        let marks = [mark("end"), mark("asked for"), mark("cold")];
        for size in [Size::Wide, Size::Narrow] {
            let arranged = Arranged::new(&marks, 44.0, size, true);
            assert!(arranged.labels.iter().all(Option::is_some), "{size:?}");
        }
    }
}
