//! The life of a board: voltages of rail and cell over time, with the range that a load works in.

use lastvolt_core::quantity::{DAY_SECS, MONTH_SECS, YEAR_SECS};

use crate::draw::axis::Scale;
use crate::draw::svg::{Anchor, Canvas, shortened};

/// What a life picture shows.
pub(crate) struct LifePicture<'a> {
    pub(crate) title: String,
    pub(crate) description: String,
    pub(crate) time_secs: &'a [f64],
    pub(crate) lines: Vec<Line<'a>>,
    /// Name, lowest and highest voltage of a working range.
    pub(crate) band: Option<(String, f64, f64)>,
    /// What ends the life, at the end of time.
    pub(crate) end: Option<String>,
    /// From when one cold night would end it.
    pub(crate) cold_secs: Option<f64>,
    /// Required life.
    pub(crate) required_secs: Option<f64>,
}

/// One voltage over time.
pub(crate) struct Line<'a> {
    pub(crate) name: &'a str,
    pub(crate) class: &'a str,
    pub(crate) volts: &'a [f64],
}

const WIDTH: f64 = 900.0;
const LEFT: f64 = 58.0;
const RIGHT: f64 = 740.0;
/// Height of one line of marks above the plot, where no curve can run through them.
const MARK: f64 = 17.0;
const TOP: f64 = 3.0 * MARK + 12.0;
const BOTTOM: f64 = TOP + 250.0;
const HEIGHT: f64 = BOTTOM + 48.0;

impl LifePicture<'_> {
    /// The picture as SVG.
    pub(crate) fn draw(&self) -> String {
        let mut canvas = Canvas::new(WIDTH, HEIGHT, &self.title, &self.description);
        let (time, volts) = self.scales();
        self.draw_band(&mut canvas, &volts);
        draw_volts(&mut canvas, &volts);
        self.draw_time(&mut canvas, &time);
        self.draw_marks(&mut canvas, &time);
        self.draw_lines(&mut canvas, &time, &volts);
        self.name_band(&mut canvas, &volts);
        canvas.finish()
    }

    /// The last instant shown: the end, or the required life where that is not far beyond.
    fn last_secs(&self) -> f64 {
        let last = self.time_secs.last().copied().unwrap_or(1.0).max(1.0);
        let required = self.required_secs.filter(|r| *r < 1.6 * last);
        last.max(required.unwrap_or(0.0)) * 1.02
    }

    fn scales(&self) -> (Scale, Scale) {
        let all = self.lines.iter().flat_map(|l| l.volts.iter().copied());
        let (mut low, mut high) = all.fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)));
        if let Some((_, from, _)) = &self.band {
            low = low.min(*from);
            high = high.max(*from);
        }
        let room = (high - low).max(0.1) * 0.1;
        let volts = Scale::new((low - room, high + room), (BOTTOM, TOP));
        (Scale::new((0.0, self.last_secs()), (LEFT, RIGHT)), volts)
    }

    fn draw_band(&self, canvas: &mut Canvas, volts: &Scale) {
        let Some((_, from, to)) = &self.band else {
            return;
        };
        let low = volts.at(*from).clamp(TOP, BOTTOM);
        let high = volts.at(*to).clamp(TOP, BOTTOM);
        canvas.rect("band", [LEFT, high, RIGHT - LEFT, low - high]);
        canvas.line("band-edge", [LEFT, low, RIGHT, low]);
        if TOP < high {
            canvas.line("band-edge", [LEFT, high, RIGHT, high]);
        }
    }

    /// The words of the band, above its lower edge and over all lines.
    fn name_band(&self, canvas: &mut Canvas, volts: &Scale) {
        if let Some((name, from, _)) = &self.band {
            let low = volts.at(*from).clamp(TOP, BOTTOM);
            let name = shortened(name, 60);
            canvas.text("inband", Anchor::Start, LEFT + 7.0, low - 6.0, &name);
        }
    }

    fn draw_time(&self, canvas: &mut Canvas, time: &Scale) {
        canvas.line("axis", [LEFT, BOTTOM, RIGHT, BOTTOM]);
        let last = self.last_secs();
        let (unit, name) = time_unit(last);
        let in_units = Scale::new((0.0, last / unit), (LEFT, RIGHT));
        for tick in in_units.ticks(8) {
            let x = time.at(tick * unit);
            canvas.line("tick", [x, BOTTOM, x, BOTTOM + 5.0]);
            canvas.text("label", Anchor::Middle, x, BOTTOM + 19.0, &trimmed(tick));
        }
        let middle = f64::midpoint(LEFT, RIGHT);
        let text = format!("time in {name}");
        canvas.text("label", Anchor::Middle, middle, BOTTOM + 38.0, &text);
    }

    fn draw_lines(&self, canvas: &mut Canvas, time: &Scale, volts: &Scale) {
        let mut taken: Vec<f64> = Vec::new();
        for line in &self.lines {
            let points: Vec<_> = self
                .time_secs
                .iter()
                .zip(line.volts)
                .map(|(t, v)| (time.at(*t), volts.at(*v)))
                .collect();
            canvas.polyline(line.class, &points);
            let Some(&(x, y)) = points.last() else {
                continue;
            };
            let at = free_place(&taken, y, (TOP, BOTTOM));
            taken.push(at);
            canvas.line("leader", [x, y, RIGHT + 8.0, at]);
            canvas.text("direct", Anchor::Start, RIGHT + 12.0, at + 4.0, line.name);
        }
    }

    /// Upright marks, each with its words on a line of its own above the plot.
    fn draw_marks(&self, canvas: &mut Canvas, time: &Scale) {
        let end = self.end.as_deref().zip(self.time_secs.last().copied());
        let cold = self
            .cold_secs
            .map(|c| ("one cold night ends it from here", c));
        let required = self.required_secs.map(|r| ("asked for", r));
        let all = [("end", end), ("cold", cold), ("required", required)];
        let last = self.last_secs();
        let marks: Vec<Mark> = all
            .into_iter()
            .filter_map(|(class, mark)| Some((class, mark?)))
            .filter(|(_, (_, secs))| *secs <= last)
            .map(|(class, (words, secs))| Mark {
                class,
                words: shortened(words, 70),
                x: time.at(secs),
            })
            .collect();
        let (rows, sides) = arrangement(&marks);
        for ((mark, row), side) in marks.iter().zip(rows).zip(sides) {
            let y = TOP - 8.0 - MARK * row;
            canvas.line(mark.class, [mark.x, y - 10.0, mark.x, BOTTOM]);
            let (anchor, x) = match side {
                Side::Before => (Anchor::End, mark.x - 5.0),
                Side::Behind => (Anchor::Start, mark.x + 5.0),
            };
            canvas.text("mark", anchor, x, y, &mark.words);
        }
    }
}

/// An upright line with words.
struct Mark {
    class: &'static str,
    words: String,
    x: f64,
}

/// On which side of its line the words of a mark stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Side {
    Before,
    Behind,
}

/// Rows from the plot upwards and sides of at most three marks, such that the fewest lines run through
/// words and no words leave the page.
fn arrangement(marks: &[Mark]) -> ([f64; 3], [Side; 3]) {
    const ORDERS: [[f64; 3]; 6] = [
        [0.0, 1.0, 2.0],
        [0.0, 2.0, 1.0],
        [1.0, 0.0, 2.0],
        [1.0, 2.0, 0.0],
        [2.0, 0.0, 1.0],
        [2.0, 1.0, 0.0],
    ];
    let mut best = (usize::MAX, ORDERS[0], [Side::Before; 3]);
    for rows in ORDERS {
        for sides in (0..8).map(|bits: u8| [0, 1, 2].map(|k| side(bits >> k & 1))) {
            let cost = faults(marks, rows, sides);
            if cost < best.0 {
                best = (cost, rows, sides);
            }
        }
    }
    (best.1, best.2)
}

fn side(bit: u8) -> Side {
    if bit == 0 { Side::Before } else { Side::Behind }
}

/// How many lines run through words; words beyond the plot weigh more, empty rows a little.
fn faults(marks: &[Mark], rows: [f64; 3], sides: [Side; 3]) -> usize {
    /// Mean width of a character.
    const WIDE: f64 = 6.6;
    let mut faults = 0;
    for ((mark, row), side) in marks.iter().zip(rows).zip(sides) {
        #[expect(clippy::cast_precision_loss, reason = "a count of characters")]
        let width = WIDE * mark.words.chars().count() as f64;
        let (from, to) = match side {
            Side::Before => (mark.x - 8.0 - width, mark.x - 2.0),
            Side::Behind => (mark.x + 2.0, mark.x + 8.0 + width),
        };
        faults += 100 * usize::from(from < 0.0 || WIDTH < to);
        let crossing = |other: &(&Mark, f64)| row < other.1 && from < other.0.x && other.0.x < to;
        faults += 10 * marks.iter().zip(rows).filter(crossing).count();
        // Lower rows first.
        faults += usize::from(marks.len() as f64 <= row);
    }
    faults
}

fn draw_volts(canvas: &mut Canvas, volts: &Scale) {
    canvas.line("axis", [LEFT, TOP, LEFT, BOTTOM]);
    for tick in volts.ticks(6) {
        let y = volts.at(tick);
        canvas.line("grid", [LEFT, y, RIGHT, y]);
        canvas.text("label", Anchor::End, LEFT - 7.0, y + 4.0, &trimmed(tick));
    }
    canvas.text("label", Anchor::End, LEFT - 7.0, TOP - 8.0, "V");
}

/// The nearest place to `y` within a frame that lies 15 away from all taken ones.
pub(crate) fn free_place(taken: &[f64], y: f64, (top, bottom): (f64, f64)) -> f64 {
    let is_free = |at: f64| taken.iter().all(|t| (t - at).abs() >= 15.0);
    for step in 0..40 {
        let shift = 4.0 * f64::from(step);
        for at in [y + shift, y - shift] {
            if is_free(at) && at > top - 4.0 && at < bottom + 4.0 {
                return at;
            }
        }
    }
    y
}

/// The unit in which a span of time reads well.
pub(crate) fn time_unit(secs: f64) -> (f64, &'static str) {
    if secs >= 3.0 * YEAR_SECS {
        (YEAR_SECS, "years")
    } else if secs >= 3.0 * MONTH_SECS {
        (MONTH_SECS, "months")
    } else if secs >= 2.0 * DAY_SECS {
        (DAY_SECS, "days")
    } else {
        (3600.0, "hours")
    }
}

/// A round number without needless zeros.
pub(crate) fn trimmed(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}
