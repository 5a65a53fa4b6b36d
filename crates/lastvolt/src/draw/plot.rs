//! The frame of a plot: its edges, and its axes with as many ticks as their words leave room for.

use crate::draw::axis::{Counts, Scale, words_of};
use crate::draw::svg::{Anchor, Canvas};
use crate::draw::words::width_of;

/// Where a plot lies on its picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Plot {
    pub(crate) left: f64,
    pub(crate) right: f64,
    pub(crate) top: f64,
    pub(crate) bottom: f64,
}

/// Least room between the words of two ticks.
const APART: f64 = 10.0;

impl Plot {
    pub(crate) fn middle(&self) -> f64 {
        f64::midpoint(self.left, self.right)
    }

    /// The upright axis: lines across at round values, the unit above.
    pub(crate) fn upright(&self, canvas: &mut Canvas, scale: &Scale, counts: &Counts) {
        self.lines_across(canvas, scale, counts);
        let ticks = self.upright_ticks(scale, counts);
        for (tick, words) in ticks.iter().zip(words_of(&ticks)) {
            let y = scale.at(tick * counts.per) + 4.0;
            canvas.text("label", Anchor::End, self.left - 6.0, y, &words);
        }
        let above = self.top - 10.0;
        canvas.text("label", Anchor::End, self.left - 6.0, above, &counts.name);
    }

    /// The same without figures.
    pub(crate) fn lines_across(&self, canvas: &mut Canvas, scale: &Scale, counts: &Counts) {
        canvas.line("axis", [self.left, self.top, self.left, self.bottom]);
        for tick in self.upright_ticks(scale, counts) {
            let y = scale.at(tick * counts.per);
            canvas.line("grid", [self.left, y, self.right, y]);
        }
    }

    fn upright_ticks(&self, scale: &Scale, counts: &Counts) -> Vec<f64> {
        let about = ((self.bottom - self.top) / 40.0).clamp(2.0, 7.0);
        let ticks = scale.ticks_of(counts.per, about);
        if ticks.len() < 2 {
            // One figure alone gives no scale.
            return scale.ticks_of(counts.per, 2.0 * about);
        }
        ticks
    }

    /// The axis below: ticks with figures, and words under them.
    pub(crate) fn along(&self, canvas: &mut Canvas, scale: &Scale, counts: &Counts, words: &str) {
        self.foot(canvas, &self.ticks(scale, counts));
        self.words_below(canvas, words);
    }

    /// Places and figures of the ticks of the axis below.
    pub(crate) fn ticks(&self, scale: &Scale, counts: &Counts) -> Vec<(f64, String)> {
        let mut about = 9.0;
        loop {
            let ticks = scale.ticks_of(counts.per, about);
            let words = words_of(&ticks);
            let places = ticks.iter().map(|t| scale.at(t * counts.per));
            let places: Vec<f64> = places.collect();
            let widest = words.iter().map(|w| width_of(w, "label"));
            let widest = widest.fold(0.0, f64::max) + APART;
            if about < 2.0 || places.windows(2).all(|w| widest <= w[1] - w[0]) {
                return places.into_iter().zip(words).collect();
            }
            about -= 1.0;
        }
    }

    /// Ticks below with their figures; one without words is short.
    pub(crate) fn foot(&self, canvas: &mut Canvas, ticks: &[(f64, String)]) {
        let y = self.bottom;
        canvas.line("axis", [self.left, y, self.right, y]);
        for (x, words) in ticks {
            let long = if words.is_empty() { 3.0 } else { 6.0 };
            canvas.line("tick", [*x, y, *x, y + long]);
            if !words.is_empty() {
                let half = width_of(words, "label") / 2.0 + 1.0;
                let at = x.clamp(half, (canvas.width() - half).max(half));
                canvas.text("label", Anchor::Middle, at, y + 19.0, words);
            }
        }
    }

    /// What the axis below counts.
    pub(crate) fn words_below(&self, canvas: &mut Canvas, words: &str) {
        let y = self.bottom + 37.0;
        canvas.text("label", Anchor::Middle, self.middle(), y, words);
    }
}

/// Samples of lines with their names, side by side as far as they fit, below a picture.
pub(crate) fn key(canvas: &mut Canvas, entries: &[(&str, &str)], (left, right): (f64, f64)) {
    const SAMPLE: f64 = 26.0;
    let (mut x, mut y) = (left, canvas.foot());
    if entries.is_empty() {
        return;
    }
    for (class, name) in entries {
        let name = crate::draw::words::cut(name, "label", right - left - SAMPLE - 6.0);
        let width = SAMPLE + 6.0 + width_of(&name, "label");
        if left < x && right < x + width {
            x = left;
            y += 18.0;
        }
        canvas.polyline(class, &[(x, y + 7.0), (x + SAMPLE, y + 7.0)]);
        canvas.text("label", Anchor::Start, x + SAMPLE + 6.0, y + 11.0, &name);
        x += width + 14.0;
    }
    canvas.grow(y + 20.0 - canvas.foot());
}
