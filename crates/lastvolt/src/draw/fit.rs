//! What was measured and what a fitted model says: a small plot for each curve or log, then one row for
//! each single figure. Marks are measured, lines are said; filled marks were fitted, open ones held back.

mod rows;

use crate::draw::axis::{Counts, Scale, words_of};
use crate::draw::svg::{Anchor, Canvas, shortened};
use crate::report::typeset;
use crate::text::number::count;
use crate::text::table::wrapped;
use crate::view::FitView;

const WIDTH: f64 = 900.0;
const COLUMNS: f64 = 3.0;
/// Height of the words above everything.
const HEAD: f64 = 86.0;
/// Size of a plot with its words.
const PLOT: (f64, f64) = (290.0, 226.0);
/// Left edge, top and height of the inner of a plot, and what is left free at its right.
const INNER: [f64; 4] = [52.0, 54.0, 122.0, 18.0];
const LEFT: f64 = 15.0;
/// Least distance of two marks.
const APART: f64 = 8.0;

/// What a curve is drawn over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Axis {
    Secs,
    Coulombs,
    /// Of a service.
    Share,
    /// Of all charge.
    Depth,
}

/// A voltage that was read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Point {
    pub(crate) x: f64,
    pub(crate) y: f64,
    pub(crate) fitted: bool,
}

/// A curve.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Panel {
    pub(crate) title: String,
    pub(crate) axis: Axis,
    /// Whether it takes the whole width.
    pub(crate) wide: bool,
    pub(crate) measured: Vec<Point>,
    pub(crate) said: Vec<(f64, f64)>,
}

impl Panel {
    /// A panel with nothing on it.
    pub(crate) fn new(title: &str, axis: Axis) -> Self {
        Self {
            title: title.to_owned(),
            axis,
            wide: false,
            measured: Vec::new(),
            said: Vec::new(),
        }
    }
}

/// A picture of a fit.
pub(crate) struct FitPicture<'a> {
    fit: &'a FitView,
    panels: &'a [Panel],
}

impl<'a> FitPicture<'a> {
    pub(crate) fn new(fit: &'a FitView, panels: &'a [Panel]) -> Self {
        Self { fit, panels }
    }

    /// The picture as a file of its own.
    pub(crate) fn alone(&self) -> String {
        let rows = rows::rows(self.fit);
        let (places, foot) = self.places();
        let height = foot + rows::height(&rows);
        let title = format!(
            "Cell {}, fitted beginning from {}",
            self.fit.name, self.fit.like
        );
        let mut canvas = Canvas::new(WIDTH, height, &title, &self.message());
        canvas.text("", Anchor::Start, LEFT, 24.0, &title);
        canvas.text("label", Anchor::Start, LEFT, 44.0, &self.message());
        draw_key(&mut canvas, 66.0);
        for (panel, place) in self.panels.iter().zip(places) {
            draw_panel(&mut canvas, panel, place);
        }
        rows::draw(&mut canvas, &rows, foot);
        canvas.finish_alone()
    }

    /// Corner and width of each panel, three in a line, a log over the whole; and where they end.
    fn places(&self) -> (Vec<[f64; 3]>, f64) {
        let (mut places, mut column, mut top) = (Vec::new(), 0.0, HEAD);
        for panel in self.panels {
            if panel.wide && 0.0 < column || COLUMNS <= column {
                column = 0.0;
                top += PLOT.1;
            }
            let width = if panel.wide { COLUMNS } else { 1.0 } * PLOT.0;
            places.push([LEFT + column * PLOT.0, top, width]);
            column += width / PLOT.0;
        }
        let foot = if places.is_empty() { top } else { top + PLOT.1 };
        (places, foot)
    }

    fn message(&self) -> String {
        let readings = self.fit.tests.iter().map(|t| t.readings.len()).sum();
        typeset(&format!(
            "{} from {}; taken to miss {} (one standard deviation)",
            count(readings, "reading"),
            count(self.fit.files.len(), "file"),
            self.fit.missed.words()
        ))
    }
}

fn draw_key(canvas: &mut Canvas, y: f64) {
    let mut x = LEFT + 4.0;
    for (fitted, words) in [(true, "measured, fitted"), (false, "measured, held back")] {
        mark(canvas, fitted, x, y - 4.0);
        canvas.text("label", Anchor::Start, x + 9.0, y, words);
        x += 150.0;
    }
    canvas.polyline("end", &[(x, y - 4.0), (x + 26.0, y - 4.0)]);
    canvas.text("label", Anchor::Start, x + 32.0, y, "said by the model");
}

fn draw_panel(canvas: &mut Canvas, panel: &Panel, [left, top, whole]: [f64; 3]) {
    let [dx, dy, height, free] = INNER;
    let (x0, y0) = (left + dx, top + dy);
    let (x1, y1) = (left + whole - free, y0 + height);
    for (at, line) in title(&panel.title).iter().enumerate() {
        #[expect(clippy::cast_precision_loss, reason = "two lines")]
        let y = top + 14.0 + 15.0 * at as f64;
        canvas.text("label", Anchor::Start, left, y, line);
    }
    let xs = panel
        .measured
        .iter()
        .map(|p| p.x)
        .chain(panel.said.iter().map(|p| p.0));
    let last = xs.fold(0.0, f64::max);
    let (unit, name) = unit(panel.axis, last);
    let across = Scale::new((0.0, last / unit * 1.02), (x0, x1));
    let ys = || {
        panel
            .measured
            .iter()
            .map(|p| p.y)
            .chain(panel.said.iter().map(|p| p.1))
    };
    let (low, high) = (ys().fold(f64::MAX, f64::min), ys().fold(f64::MIN, f64::max));
    let room = (high - low).max(0.05) * 0.08;
    let volts = Scale::new((low - room, high + room), (y1, y0));
    canvas.line("axis", [x0, y0, x0, y1]);
    canvas.line("axis", [x0, y1, x1, y1]);
    let ticks = volts.ticks(4);
    for (tick, words) in ticks.iter().zip(words_of(&ticks)) {
        let y = volts.at(*tick);
        canvas.line("grid", [x0, y, x1, y]);
        canvas.text("label", Anchor::End, x0 - 6.0, y + 4.0, &words);
    }
    canvas.text("label", Anchor::End, x0 - 6.0, y0 - 8.0, "V");
    let ticks = across.ticks(if panel.wide { 10 } else { 4 });
    for (tick, words) in ticks.iter().zip(words_of(&ticks)) {
        let x = across.at(*tick);
        canvas.line("tick", [x, y1, x, y1 + 4.0]);
        canvas.text("label", Anchor::Middle, x, y1 + 17.0, &words);
    }
    canvas.text(
        "label",
        Anchor::Middle,
        f64::midpoint(x0, x1),
        y1 + 33.0,
        &name,
    );
    let place = |x: f64, y: f64| (across.at(x / unit), volts.at(y));
    let marks = panel.measured.iter();
    let marks = marks.map(|p| (place(p.x, p.y), p.fitted)).collect();
    for ((x, y), fitted) in apart(marks) {
        mark(canvas, fitted, x, y);
    }
    let line = panel.said.iter().map(|p| place(p.0, p.1));
    canvas.polyline("end", &line.collect::<Vec<_>>());
}

/// Marks that do not cover each other.
fn apart(marks: Vec<((f64, f64), bool)>) -> Vec<((f64, f64), bool)> {
    let mut out: Vec<((f64, f64), bool)> = Vec::new();
    for mark in marks {
        let far =
            |last: &((f64, f64), bool)| APART <= (last.0.0 - mark.0.0).hypot(last.0.1 - mark.0.1);
        if out.last().is_none_or(far) {
            out.push(mark);
        }
    }
    out
}

/// Filled where the fit looked at it, open where it did not.
fn mark(canvas: &mut Canvas, fitted: bool, x: f64, y: f64) {
    if fitted {
        canvas.rect("bar", [x - 3.0, y - 3.0, 6.0, 6.0]);
    } else {
        let corners = [
            (0.0, -4.5),
            (4.5, 0.0),
            (0.0, 4.5),
            (-4.5, 0.0),
            (0.0, -4.5),
        ];
        let corners = corners.map(|(dx, dy)| (x + dx, y + dy));
        canvas.polyline("end point", &corners);
    }
}

/// The name of a test in at most two lines.
fn title(name: &str) -> Vec<String> {
    // A figure does not part from its unit.
    let mut lines = wrapped(&name.replace(" degC", "\u{1}degC"), 42);
    if 2 < lines.len() {
        let rest = lines.split_off(1).join(" ");
        lines.push(shortened(&rest, 42));
    }
    let lines = lines.iter();
    lines.map(|l| typeset(&l.replace('\u{1}', " "))).collect()
}

/// The unit of an axis and its words.
fn unit(axis: Axis, last: f64) -> (f64, String) {
    match axis {
        Axis::Secs if last < 300.0 => (1.0, "time in seconds".to_owned()),
        Axis::Secs if last < 2.0 * 3600.0 => (60.0, "time in minutes".to_owned()),
        Axis::Secs => {
            let counts = Counts::time(last);
            (counts.per, format!("time in {}", counts.name))
        }
        Axis::Coulombs if last < 3600.0 * 5.0 => (3.6, "charge given in mAh".to_owned()),
        Axis::Coulombs => (3600.0, "charge given in Ah".to_owned()),
        Axis::Share => (0.01, "share of the service in %".to_owned()),
        Axis::Depth => (0.01, "depth in %".to_owned()),
    }
}
