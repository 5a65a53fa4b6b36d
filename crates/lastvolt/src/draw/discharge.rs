//! Voltages over the share of the charge that is drawn, as one moves along it: from a fresh cell to an
//! empty one, the time of a life above, and a plumb line where the reader is.

mod hours;

#[cfg(test)]
mod tests;

use crate::draw::axis::{Counts, Scale};
use crate::draw::curves::{Band, Upright, draw_bands, name_bands, scale_of_volts};
use crate::draw::marks::{Arranged, Mark};
use crate::draw::plot::{Plot, key};
use crate::draw::room::spread;
use crate::draw::size::{Size, both};
use crate::draw::svg::{Anchor, Canvas};
use crate::draw::traces::{Trace, thinned};
use crate::draw::words::cut;

/// What a picture of a discharge shows; depths are shares of the charge, from 0 to 1.
///
/// Scripts move the group `.thumb` by `transform="translate(X 0)"`, where X lies between `data-depth-left`
/// (depth 0) and `data-depth-right` (depth 1) of the picture, both in pixels of its view box, as are
/// `data-depth-top` and `data-depth-bottom`.
pub(crate) struct DischargePicture<'a> {
    pub(crate) title: String,
    pub(crate) description: String,
    pub(crate) lines: Vec<Line<'a>>,
    pub(crate) bands: Vec<Band>,
    /// Where the life ends; what lies beyond is drawn paler.
    pub(crate) end: Option<Upright>,
    /// What else happens at a depth.
    pub(crate) marks: Vec<Upright>,
    /// When the life reaches a depth: seconds and depths, both growing; may be empty.
    pub(crate) times: Vec<(f64, f64)>,
    /// Where the plumb line stands at first.
    pub(crate) depth: f64,
}

/// One voltage.
pub(crate) struct Line<'a> {
    pub(crate) name: &'a str,
    /// Its look, as in other pictures of voltages: `rail-rest`, `rail-lowest`, `cell-rest`, `cell-lowest`.
    pub(crate) class: &'a str,
    /// Depths, growing, with their volts; beyond the end of the life too where they are known.
    pub(crate) points: Vec<(f64, f64)>,
}

/// Room for the names of the lines.
const NAMES: f64 = 138.0;
/// Height of the time above the plot.
const HOURS: f64 = 26.0;
/// Half the size of the bob of the plumb line.
const BOB: f64 = 9.0;

impl DischargePicture<'_> {
    /// The picture for both widths of page.
    pub(crate) fn draw(&self) -> String {
        both(|size| self.canvas(size))
    }

    fn canvas(&self, size: Size) -> Canvas {
        let (left, right) = size.pick((58.0, size.width() - NAMES), (44.0, size.width() - 24.0));
        let along = Scale::new((0.0, 1.0), (left, right));
        let marks = self.uprights(&along, (left, size.width()));
        let arranged = Arranged::new(&marks, left, size, true);
        let hours = if self.times.len() < 2 { 0.0 } else { HOURS };
        let top = arranged.height().max(12.0) + 16.0 + hours;
        let bottom = top + size.pick(250.0, 200.0);
        let plot = Plot {
            left,
            right,
            top,
            bottom,
        };
        let mut canvas = Canvas::sized(size, bottom + 46.0, &self.title, &self.description);
        self.tell(&mut canvas, &plot);
        // What lies beyond the end may fall to nothing; it does not make all else flat.
        let lived = self.lines.iter().flat_map(|l| &l.points);
        let lived = lived.filter(|p| p.0 <= self.end_depth());
        let values = lived.map(|p| p.1);
        let volts = scale_of_volts(values, &self.bands, &plot);
        draw_bands(&mut canvas, &self.bands, &plot, &volts);
        plot.upright(&mut canvas, &volts, &Counts::of(2.0, "V"));
        let counts = Counts {
            per: 0.01,
            name: "%".to_owned(),
        };
        plot.along(
            &mut canvas,
            &along,
            &counts,
            "share of the charge drawn, in %",
        );
        arranged.draw(&mut canvas, &marks, (top - hours, bottom));
        let taken: Vec<f64> = marks.iter().map(|m| m.x).collect();
        hours::draw(&mut canvas, &self.times, &plot, &along, &taken);
        self.draw_lines(&mut canvas, &plot, (&along, &volts), size);
        name_bands(&mut canvas, &self.bands, &plot, &volts, size);
        if size == Size::Narrow {
            let entries: Vec<(&str, &str)> = self.lines.iter().map(|l| (l.class, l.name)).collect();
            key(&mut canvas, &entries, (8.0, size.width() - 6.0));
        }
        arranged.list(&mut canvas);
        self.draw_thumb(&mut canvas, &plot, &along);
        canvas
    }

    fn end_depth(&self) -> f64 {
        self.end.as_ref().map_or(1.0, |e| e.at.clamp(0.0, 1.0))
    }

    /// What scripts need to know.
    fn tell(&self, canvas: &mut Canvas, plot: &Plot) {
        canvas.data("depth-left", &format!("{:.1}", plot.left));
        canvas.data("depth-right", &format!("{:.1}", plot.right));
        canvas.data("depth-top", &format!("{:.1}", plot.top));
        canvas.data("depth-bottom", &format!("{:.1}", plot.bottom));
    }

    fn uprights(&self, along: &Scale, within: (f64, f64)) -> Vec<Mark> {
        let all = self.end.iter().chain(&self.marks);
        let mut marks: Vec<Mark> = all
            .map(|m| Mark {
                class: m.class,
                x: along.at(m.at.clamp(0.0, 1.0)),
                words: m.words.clone(),
                within,
            })
            .collect();
        marks.sort_by(|a, b| a.x.total_cmp(&b.x));
        marks
    }

    fn draw_lines(
        &self,
        canvas: &mut Canvas,
        plot: &Plot,
        (along, volts): (&Scale, &Scale),
        size: Size,
    ) {
        let end = self.end_depth();
        let mut ends = Vec::new();
        for line in &self.lines {
            let whole = Trace {
                name: line.name.to_owned(),
                points: line.points.clone(),
            };
            let place = |(x, v): &(f64, f64)| {
                let x = along.at(*x).clamp(plot.left, plot.right);
                (x, volts.at(*v))
            };
            let places = |t: &Trace| thinned(&t.points.iter().map(place).collect::<Vec<_>>());
            let lived = places(&whole.within((0.0, end)));
            canvas.polyline(line.class, &lived);
            let beyond = inside(&places(&whole.within((end, 1.0))), plot);
            if end < 1.0 && 1 < beyond.len() {
                canvas.polyline(&format!("{} beyond", line.class), &beyond);
            }
            if let [(x, y)] = lived[..] {
                canvas.dot("lowest", x, y);
            }
            let last = if end < 1.0 { beyond.last() } else { None };
            if let Some(&at) = last.or(lived.last()) {
                ends.push((at, line.name));
            }
        }
        if size == Size::Narrow {
            return;
        }
        let wanted: Vec<f64> = ends.iter().map(|e| e.0.1).collect();
        let places = spread(&wanted, &vec![15.5; ends.len()], (plot.top, plot.bottom));
        for (((x, y), name), at) in ends.into_iter().zip(places) {
            canvas.line("leader", [x, y, plot.right + 8.0, at]);
            let name = cut(name, "direct", NAMES - 14.0);
            canvas.text("direct", Anchor::Start, plot.right + 12.0, at + 4.0, &name);
        }
    }

    /// The plumb line, drawn about 0 and moved to its depth.
    fn draw_thumb(&self, canvas: &mut Canvas, plot: &Plot, along: &Scale) {
        let depth = if self.depth.is_finite() {
            self.depth.clamp(0.0, 1.0)
        } else {
            0.0
        };
        let x = along.at(depth);
        canvas.open(&format!(
            "class=\"thumb\" data-live=\"curve:thumb\" transform=\"translate({x:.1} 0)\""
        ));
        canvas.moving_line("thumb-line", [0.0, plot.top, 0.0, plot.bottom]);
        let (high, low) = (plot.bottom - BOB, plot.bottom + BOB);
        canvas.path(
            "thumb-bob",
            &format!(
                "M0 {high:.1}L{BOB} {:.1}L0 {low:.1}L-{BOB} {:.1}Z",
                plot.bottom, plot.bottom
            ),
        );
        canvas.close();
    }
}

/// A line as far as it stays inside of a plot, up to the edge at which it leaves it.
fn inside(points: &[(f64, f64)], plot: &Plot) -> Vec<(f64, f64)> {
    let mut out: Vec<(f64, f64)> = Vec::new();
    for &(x, y) in points {
        let edge = y.clamp(plot.top, plot.bottom);
        if edge == y {
            out.push((x, y));
            continue;
        }
        if let Some(&(before, last)) = out.last() {
            let share = (edge - last) / (y - last);
            out.push((before + share * (x - before), edge));
        }
        break;
    }
    out
}
