//! What takes current while nothing happens: a row a part, from the typical to the largest figure, on an
//! axis of decades; filled marks while the board is on, open ones while it is off.

use crate::draw::axis::Scale;
use crate::draw::plot::Plot;
use crate::draw::size::Size;
use crate::draw::svg::{Anchor, Canvas};
use crate::draw::words::{cut, width_of};
use crate::text::number::figure;
use lastvolt_core::quantity::Unit;

/// A part or load.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LeakRow {
    pub(crate) name: String,
    pub(crate) on: Option<Takes>,
    pub(crate) off: Option<Takes>,
}

/// Currents in amperes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Takes {
    pub(crate) typical: f64,
    pub(crate) most: f64,
}

/// A picture of a budget.
pub(crate) struct LeakPicture {
    pub(crate) title: String,
    pub(crate) description: String,
    /// All of them first, then parts, the largest first.
    pub(crate) rows: Vec<LeakRow>,
}

/// Rows at most.
const MOST: usize = 14;
/// Decades below the largest that are shown at most.
const DECADES: f64 = 6.0;
/// Height of the lane of one state.
const LANE: f64 = 15.0;
const GAP: f64 = 9.0;
/// Height of a line of words.
const WORDS: f64 = 17.0;
const TOP: f64 = 12.0;

impl LeakPicture {
    /// The picture for one width of page.
    pub(crate) fn canvas(&self, size: Size) -> Canvas {
        let rows = &self.rows[..self.rows.len().min(MOST)];
        let names = rows.iter().map(|r| width_of(&r.name, "direct"));
        let left = names.fold(40.0, f64::max).min(210.0) + 20.0;
        let heights: Vec<f64> = rows.iter().map(|r| height(r, size)).collect();
        let plot = Plot {
            left: size.pick(left, 32.0),
            right: size.width() - size.pick(190.0, 32.0),
            top: TOP,
            bottom: TOP + heights.iter().sum::<f64>(),
        };
        let mut canvas = Canvas::sized(size, plot.bottom + 46.0, &self.title, &self.description);
        let decades = self.decades();
        let scale = Scale::new(decades, (plot.left, plot.right));
        draw_decades(&mut canvas, &plot, &scale, decades);
        let mut y = TOP;
        for (row, height) in rows.iter().zip(&heights) {
            draw_row(&mut canvas, row, &plot, &scale, y, size);
            y += height;
        }
        if let left @ 1.. = self.rows.len() - rows.len() {
            canvas.below("label", &format!("and {left} more with less, in the table"));
        }
        let shown = rows.iter().flat_map(|r| [r.on, r.off]).flatten();
        if shown.into_iter().any(|t| is_less(t.typical, &scale, &plot)) {
            canvas.below("label", LESS);
        }
        canvas
    }

    /// Powers of ten at both ends of the axis.
    fn decades(&self) -> (f64, f64) {
        let all = self.rows.iter().flat_map(|r| [r.on, r.off]).flatten();
        let all = all.flat_map(|t| [t.typical, t.most]);
        let all: Vec<f64> = all.filter(|a| 1e-15 < *a).collect();
        let most = all.iter().copied().fold(1e-9, f64::max).log10().ceil();
        let least = all.iter().copied().fold(1e3, f64::min).log10().floor();
        (least.clamp(most - DECADES, most - 1.0), most)
    }
}

fn height(row: &LeakRow, size: Size) -> f64 {
    let lanes = f64::from(u8::from(row.on.is_some()) + u8::from(row.off.is_some())).max(1.0);
    GAP + size.pick(LANE * lanes, (WORDS + LANE) * lanes)
}

/// Lines and words at powers of ten, as many as have room.
fn draw_decades(canvas: &mut Canvas, plot: &Plot, scale: &Scale, (from, to): (f64, f64)) {
    let mut ticks = Vec::new();
    let mut decade = from;
    let mut free = f64::MIN;
    while decade <= to + 0.01 {
        let x = scale.at(decade);
        let words = crate::report::typeset(&round(10f64.powf(decade)));
        let half = width_of(&words, "label") / 2.0;
        canvas.line("grid", [x, plot.top, x, plot.bottom]);
        if free < x - half {
            ticks.push((x, words));
            free = x + half + 8.0;
        } else {
            ticks.push((x, String::new()));
        }
        decade += 1.0;
    }
    plot.foot(canvas, &ticks);
    plot.words_below(canvas, "current from the cells, by decades");
}

/// A power of ten without needless digits.
fn round(amps: f64) -> String {
    crate::text::number::nominal(amps, Unit::Ampere)
}

fn draw_row(canvas: &mut Canvas, row: &LeakRow, plot: &Plot, scale: &Scale, top: f64, size: Size) {
    let mut y = top + GAP / 2.0;
    let lanes = [(row.on, true), (row.off, false)];
    let lanes = lanes
        .into_iter()
        .filter_map(|(takes, on)| Some((takes?, on)));
    for (nth, (takes, on)) in lanes.enumerate() {
        let words = said(takes, on);
        let name = if nth == 0 { row.name.as_str() } else { "" };
        match size {
            Size::Wide => {
                let name = cut(name, "direct", plot.left - 18.0);
                canvas.text("direct", Anchor::End, plot.left - 10.0, y + 11.5, &name);
                canvas.text("small", Anchor::Start, plot.right + 12.0, y + 11.5, &words);
            }
            Size::Narrow => {
                let room = size.width() - 24.0 - width_of(&words, "small");
                let name = cut(name, "direct", room);
                canvas.text("direct", Anchor::Start, 8.0, y + 12.0, &name);
                canvas.text("small", Anchor::End, size.width() - 8.0, y + 12.0, &words);
                y += WORDS;
            }
        }
        draw_lane(canvas, takes, on, (plot, scale), y + LANE / 2.0);
        y += LANE;
    }
}

/// Figures of a lane.
fn said(takes: Takes, on: bool) -> String {
    let amps = |a: f64| figure(a, Unit::Ampere);
    let state = if on { "" } else { "off: " };
    let (typical, most) = (amps(takes.typical), amps(takes.most));
    let text = if typical == most {
        format!("{state}{typical}")
    } else {
        format!("{state}{typical} to {most}")
    };
    crate::report::typeset(&text)
}

/// What an open end says.
const LESS: &str =
    "\u{2039} at the left edge: the typical figure is less than the axis shows, or nothing";

/// Whether a current lies to the left of the axis.
fn is_less(amps: f64, scale: &Scale, plot: &Plot) -> bool {
    amps < 1e-18 || scale.at(amps.log10()) < plot.left - 0.5
}

/// A mark at the typical figure and a line to the largest; an open end where a figure lies below the axis.
fn draw_lane(canvas: &mut Canvas, takes: Takes, on: bool, (plot, scale): (&Plot, &Scale), y: f64) {
    let place = |amps: f64| {
        let x = scale.at(amps.max(1e-18).log10());
        x.clamp(plot.left, plot.right)
    };
    let (typical, most) = (place(takes.typical), place(takes.most));
    let class = if on { "lane-on" } else { "lane-off" };
    canvas.line(class, [typical, y, most.max(typical), y]);
    if !is_less(takes.most, scale, plot) {
        canvas.line("end", [most, y - 4.0, most, y + 4.0]);
    }
    if is_less(takes.typical, scale, plot) {
        let open = [(5.0, -4.0), (0.0, 0.0), (5.0, 4.0)];
        canvas.polyline("end", &open.map(|(dx, dy)| (plot.left + dx, y + dy)));
    } else if on {
        canvas.rect("bar", [typical - 3.5, y - 3.5, 7.0, 7.0]);
    } else {
        canvas.dot("lowest", typical, y);
    }
}
