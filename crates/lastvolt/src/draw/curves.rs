//! Voltages over time or over depth, with the ranges that loads work in and marks of what happens when.

use lastvolt_core::quantity::Unit;

use crate::draw::axis::{Counts, Scale};
use crate::draw::marks::{Arranged, Mark};
use crate::draw::plot::{Plot, key};
use crate::draw::room::spread;
use crate::draw::size::Size;
use crate::draw::svg::{Anchor, Canvas};
use crate::draw::traces::thinned;
use crate::draw::words::{cut, width_of};
use crate::report::typeset;
use crate::text::number::figure;

/// What a picture of voltages shows.
pub(crate) struct CurvePicture<'a> {
    pub(crate) title: String,
    pub(crate) description: String,
    pub(crate) lines: Vec<Line<'a>>,
    pub(crate) bands: Vec<Band>,
    /// Side by side with one axis of voltages in a wide picture, each for itself in a narrow one.
    pub(crate) panels: Vec<Panel<'a>>,
}

/// The voltages over something.
pub(crate) struct Panel<'a> {
    pub(crate) across: Across,
    /// Instants, or depths.
    pub(crate) along: &'a [f64],
    pub(crate) marks: Vec<Upright>,
}

/// What the axis below counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Across {
    Secs,
    /// Share of the charge that is drawn.
    Depth,
}

/// One voltage.
pub(crate) struct Line<'a> {
    pub(crate) name: &'a str,
    pub(crate) class: &'a str,
    pub(crate) volts: &'a [f64],
}

/// A range of voltages.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Band {
    pub(crate) words: String,
    /// The same for a narrow picture.
    pub(crate) short: String,
    pub(crate) from: f64,
    pub(crate) to: f64,
}

impl Band {
    /// The range that something works in.
    pub(crate) fn of(name: &str, (from, to): (f64, f64)) -> Self {
        let [low, high] = [from, to].map(|v| figure(v, Unit::Volt));
        Self {
            words: typeset(&format!("{name} works from {low} to {high}")),
            short: typeset(&format!("{name}: from {low}")),
            from,
            to,
        }
    }
}

/// Something at a place of the axis below.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Upright {
    pub(crate) class: &'static str,
    pub(crate) words: String,
    pub(crate) at: f64,
}

/// Ranges with words in the plot at most; more are named below.
const MOST_BANDS: usize = 4;
/// Room for the names of the lines.
const NAMES: f64 = 138.0;
/// A mark this many times further than the last value is named below the picture.
const FAR: f64 = 1.6;

/// Between two panels.
const GAP: f64 = 26.0;

impl CurvePicture<'_> {
    /// The picture for both widths of page.
    pub(crate) fn draw(&self) -> String {
        let wide = self.canvas(Size::Wide, &self.panels).finish();
        let narrow = self.panels.chunks(1).map(|p| self.canvas(Size::Narrow, p));
        [wide]
            .into_iter()
            .chain(narrow.map(Canvas::finish))
            .collect()
    }

    /// Some panels in a picture for one width of page.
    fn canvas(&self, size: Size, panels: &[Panel]) -> Canvas {
        let (left, right) = size.pick((58.0, size.width() - NAMES), (44.0, size.width() - 24.0));
        #[expect(clippy::cast_precision_loss, reason = "two panels")]
        let count = panels.len().max(1) as f64;
        let wide = (right - left - GAP * (count - 1.0)) / count;
        let mut placed = Vec::new();
        let mut at = left;
        for panel in panels {
            placed.push((panel, Scale::new((0.0, panel.last()), (at, at + wide))));
            at += wide + GAP;
        }
        let within = |along: &Scale| {
            let from = along.at(0.0);
            let next = from + wide + GAP;
            let to = if next < right {
                from + wide
            } else {
                size.width()
            };
            (from, to)
        };
        let marks: Vec<Mark> = placed
            .iter()
            .flat_map(|(p, along)| p.marks(along, within(along)))
            .collect();
        let arranged = Arranged::new(&marks, left, size, true);
        let top = arranged.height().max(12.0) + 16.0;
        let bottom = top + size.pick(250.0, 200.0);
        let mut canvas = Canvas::sized(size, bottom + 46.0, &self.title, &self.description);
        let whole = Plot {
            left,
            right,
            top,
            bottom,
        };
        let values = self.lines.iter().flat_map(|l| l.volts.iter().copied());
        let volts = scale_of_volts(values, &self.bands, &whole);
        let plots = placed.iter().map(|(_, along)| Plot {
            left: along.at(0.0),
            right: along.at(0.0) + wide,
            ..whole
        });
        let plots: Vec<Plot> = plots.collect();
        for ((panel, along), plot) in placed.iter().zip(&plots) {
            draw_bands(&mut canvas, &self.bands, plot, &volts);
            if plot.left == left {
                plot.upright(&mut canvas, &volts, &Counts::of(2.0, "V"));
            } else {
                plot.lines_across(&mut canvas, &volts, &Counts::of(2.0, "V"));
            }
            panel.draw_foot(&mut canvas, plot, along);
        }
        arranged.draw(&mut canvas, &marks, (top, bottom));
        for ((panel, along), plot) in placed.iter().zip(&plots) {
            let named = size == Size::Wide && plot.right + 1.0 > right;
            self.draw_lines(&mut canvas, (panel, plot), (along, &volts), named);
        }
        if let Some(first) = plots.first() {
            name_bands(&mut canvas, &self.bands, first, &volts, size);
        }
        if size == Size::Narrow {
            let entries: Vec<(&str, &str)> = self.lines.iter().map(|l| (l.class, l.name)).collect();
            key(&mut canvas, &entries, (8.0, size.width() - 6.0));
        }
        arranged.list(&mut canvas);
        for mark in panels.iter().flat_map(Panel::beyond) {
            canvas.below("label", &format!("{}, beyond the picture", mark.words));
        }
        canvas
    }

    fn draw_lines(
        &self,
        canvas: &mut Canvas,
        (panel, plot): (&Panel, &Plot),
        (along, volts): (&Scale, &Scale),
        named: bool,
    ) {
        let mut ends = Vec::new();
        for line in &self.lines {
            let places = panel.along.iter().zip(line.volts);
            let points: Vec<(f64, f64)> = places
                .map(|(x, v)| (along.at(*x).clamp(plot.left, plot.right), volts.at(*v)))
                .collect();
            canvas.polyline(line.class, &thinned(&points));
            if let [(x, y)] = points[..] {
                canvas.dot("lowest", x, y);
            }
            if let Some(&end) = points.last() {
                ends.push((end, line.name));
            }
        }
        if !named {
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
}

impl Panel<'_> {
    /// The last place shown: the end, or a mark that is not far beyond.
    fn last(&self) -> f64 {
        let (last, room) = match self.across {
            Across::Depth => (1.0, 1.0),
            Across::Secs => (self.along.iter().copied().fold(1e-9, f64::max), 1.02),
        };
        let near = self.marks.iter().map(|m| m.at).filter(|m| *m < FAR * last);
        near.fold(last, f64::max) * room
    }

    /// Marks too far away to be shown.
    fn beyond(&self) -> impl Iterator<Item = &Upright> {
        let last = self.last();
        self.marks.iter().filter(move |m| last < m.at)
    }

    fn marks(&self, along: &Scale, within: (f64, f64)) -> Vec<Mark> {
        let last = self.last();
        let shown = self.marks.iter().filter(|m| m.at <= last);
        let mut marks: Vec<Mark> = shown
            .map(|m| Mark {
                class: m.class,
                x: along.at(m.at),
                words: m.words.clone(),
                within,
            })
            .collect();
        marks.sort_by(|a, b| a.x.total_cmp(&b.x));
        marks
    }

    fn draw_foot(&self, canvas: &mut Canvas, plot: &Plot, along: &Scale) {
        match self.across {
            Across::Secs => {
                let counts = Counts::time(self.last());
                let words = format!("time in {}", counts.name);
                plot.along(canvas, along, &counts, &words);
            }
            Across::Depth => {
                let counts = Counts {
                    per: 0.01,
                    name: "%".to_owned(),
                };
                plot.along(canvas, along, &counts, "share of the charge drawn, in %");
            }
        }
    }
}

/// From the lowest to the highest voltage; the upper end of a range only where it lies near.
pub(crate) fn scale_of_volts(
    values: impl Iterator<Item = f64>,
    bands: &[Band],
    plot: &Plot,
) -> Scale {
    let all = values.chain(bands.iter().map(|b| b.from));
    let (low, high) = all.fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)));
    let (low, high) = if low <= high { (low, high) } else { (0.0, 1.0) };
    let reach = high + 0.3 * (high - low);
    let near = bands.iter().map(|b| b.to).filter(|to| *to <= reach);
    let high = near.fold(high, f64::max);
    let room = (high - low).max(0.1) * 0.1;
    Scale::new((low - room, high + room), (plot.bottom, plot.top))
}

/// The tint of ranges and, over it, their edges.
pub(crate) fn draw_bands(canvas: &mut Canvas, bands: &[Band], plot: &Plot, volts: &Scale) {
    let place = |v: f64| volts.at(v).clamp(plot.top, plot.bottom);
    for band in bands {
        let (low, high) = (place(band.from), place(band.to));
        canvas.rect(
            "band",
            [plot.left, high, plot.right - plot.left, low - high],
        );
    }
    for edge in bands.iter().flat_map(|b| [b.from, b.to]).map(place) {
        if plot.top < edge && edge < plot.bottom {
            canvas.line("band-edge", [plot.left, edge, plot.right, edge]);
        }
    }
}

/// The words of ranges beside their lower edges where they cover nothing; what finds no place is named
/// below the picture.
pub(crate) fn name_bands(
    canvas: &mut Canvas,
    bands: &[Band],
    plot: &Plot,
    volts: &Scale,
    size: Size,
) {
    let mut others = Vec::new();
    for (nth, band) in bands.iter().enumerate() {
        let room = plot.right - plot.left - 12.0;
        let fits = size == Size::Wide && width_of(&band.words, "inband") <= room;
        let words = cut(if fits { &band.words } else { &band.short }, "inband", room);
        let place = |v: f64| volts.at(v).clamp(plot.top, plot.bottom);
        let ends = (place(band.from), place(band.to));
        let places = beside(ends, plot, width_of(&words, "inband"));
        if MOST_BANDS <= nth || !canvas.text_where_free("inband", &places, &words) {
            others.push(words);
        }
    }
    for words in others {
        canvas.below("label", &format!("also: {words}"));
    }
}

/// Places just above the lower edge of a range, then just below it, then at its upper edge, from the left
/// to the right.
fn beside((low, high): (f64, f64), plot: &Plot, width: f64) -> Vec<(Anchor, f64, f64)> {
    let mut places = Vec::new();
    for at in [low - 6.0, low + 14.0, low - 22.0, high + 14.0] {
        if at - 12.0 < plot.top || plot.bottom - 3.0 < at {
            continue;
        }
        let mut x = plot.left + 7.0;
        while x + width < plot.right - 3.0 {
            places.push((Anchor::Start, x, at));
            x += 12.0;
        }
    }
    places
}
