//! How long boards of one design live: a dot a board, stacked where lives are alike, with what is promised.

use crate::draw::axis::{Counts, Scale};
use crate::draw::marks::{Arranged, Mark};
use crate::draw::plot::Plot;
use crate::draw::size::Size;
use crate::draw::svg::Canvas;

/// A picture of lives.
pub(crate) struct DotPicture<'a> {
    pub(crate) title: String,
    pub(crate) description: String,
    /// Lives in seconds, rising.
    pub(crate) lives_secs: &'a [f64],
    /// The life that is promised, with words.
    pub(crate) promise: Option<(f64, String)>,
    /// The life that is asked for, with words.
    pub(crate) required: Option<(f64, String)>,
}

/// Radius of a dot.
const DOT: f64 = 4.0;
/// Height of the tallest stack.
const TALL: f64 = 150.0;

impl DotPicture<'_> {
    /// The picture for one width of page.
    pub(crate) fn canvas(&self, size: Size) -> Canvas {
        let (left, right) = size.pick((24.0, size.width() - 40.0), (16.0, size.width() - 26.0));
        let dots = self.dots(size.pick(200, 80));
        let scale = Scale::new(self.ends(&dots), (left, right));
        let marks = self.marks(&scale, (left, size.width()));
        let arranged = Arranged::new(&marks, left, size, true);
        let stacks = stacked(&dots, &scale, left);
        let most = stacks.iter().map(|s| s.1).max().unwrap_or(1);
        #[expect(clippy::cast_precision_loss, reason = "a count of dots")]
        let pitch = (TALL / most.max(1) as f64).min(2.0 * DOT + 0.6);
        #[expect(clippy::cast_precision_loss, reason = "a count of dots")]
        let tall = pitch * most as f64 + 2.0 * DOT;
        let top = arranged.height().max(12.0) + 16.0;
        let plot = Plot {
            left,
            right,
            top,
            bottom: top + tall.max(40.0),
        };
        let mut canvas = Canvas::sized(size, plot.bottom + 46.0, &self.title, &self.description);
        arranged.draw(&mut canvas, &marks, (plot.top, plot.bottom));
        let promised = self.promise.as_ref().map_or(f64::MIN, |p| p.0);
        for (&(x, nth), secs) in stacks.iter().zip(&dots) {
            #[expect(clippy::cast_precision_loss, reason = "a count of dots")]
            let y = plot.bottom - DOT - 1.0 - pitch * (nth as f64 - 1.0);
            let class = if *secs < promised {
                "dot-short"
            } else {
                "dot-met"
            };
            canvas.dot(class, x, y);
        }
        let counts = Counts::time(dots.last().copied().unwrap_or(1.0));
        let words = format!("life in {}", counts.name);
        plot.along(&mut canvas, &scale, &counts, &words);
        self.note(&mut canvas, dots.len());
        arranged.list(&mut canvas);
        canvas
    }

    fn note(&self, canvas: &mut Canvas, dots: usize) {
        let of = self.lives_secs.len();
        let words = if dots == of {
            "One dot a board; open dots end before what is promised.".to_owned()
        } else {
            format!(
                "{dots} dots for {of} boards, evenly picked; open dots end before what is promised."
            )
        };
        canvas.below("label", &words);
    }

    /// At most so many lives, evenly picked from all.
    fn dots(&self, most: usize) -> Vec<f64> {
        let all = self.lives_secs;
        if all.len() <= most {
            return all.to_vec();
        }
        let picked = (0..most).map(|k| all[(2 * k + 1) * all.len() / (2 * most)]);
        picked.collect()
    }

    /// First and last instant shown.
    fn ends(&self, dots: &[f64]) -> (f64, f64) {
        let marks = [&self.promise, &self.required].into_iter().flatten();
        let all = dots.iter().copied().chain(marks.map(|m| m.0));
        let (low, high) = all.fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)));
        if high < low {
            return (0.0, 1.0);
        }
        let room = (0.06 * (high - low)).max(0.01 * high).max(1e-9);
        ((low - room).max(0.0), high + room)
    }

    fn marks(&self, scale: &Scale, within: (f64, f64)) -> Vec<Mark> {
        let all = [("end", &self.promise), ("required", &self.required)];
        let there = all.into_iter().filter_map(|(class, m)| {
            let (secs, words) = m.as_ref()?;
            Some(Mark {
                class,
                x: scale.at(*secs),
                words: words.clone(),
                within,
            })
        });
        let mut marks: Vec<Mark> = there.collect();
        marks.sort_by(|a, b| a.x.total_cmp(&b.x));
        marks
    }
}

/// Place of each dot: the middle of its column, and which it is from below, from 1.
fn stacked(dots: &[f64], scale: &Scale, left: f64) -> Vec<(f64, usize)> {
    let wide = 2.0 * DOT + 0.6;
    let mut out: Vec<(f64, usize)> = Vec::new();
    for secs in dots {
        let column = ((scale.at(*secs) - left) / wide).floor();
        let x = left + (column + 0.5) * wide;
        let nth = match out.last() {
            Some(last) if (last.0 - x).abs() < 1e-6 => last.1 + 1,
            _ => 1,
        };
        out.push((x, nth));
    }
    out
}
