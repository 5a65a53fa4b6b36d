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

const WIDTH: f64 = 860.0;
const HEIGHT: f64 = 330.0;
const LEFT: f64 = 54.0;
const RIGHT: f64 = 690.0;
const TOP: f64 = 34.0;
const BOTTOM: f64 = 280.0;

impl LifePicture<'_> {
    /// The picture as SVG.
    pub(crate) fn draw(&self) -> String {
        let mut canvas = Canvas::new(WIDTH, HEIGHT, &self.title, &self.description);
        let (time, volts) = self.scales();
        self.draw_band(&mut canvas, &volts);
        draw_volts(&mut canvas, &volts);
        self.draw_time(&mut canvas, &time);
        self.draw_lines(&mut canvas, &time, &volts);
        self.draw_marks(&mut canvas, &time);
        canvas.finish()
    }

    fn scales(&self) -> (Scale, Scale) {
        let last = self.time_secs.last().copied().unwrap_or(1.0);
        let span = last.max(
            self.required_secs
                .filter(|r| *r < 1.6 * last)
                .unwrap_or(0.0),
        );
        let all = self.lines.iter().flat_map(|l| l.volts.iter().copied());
        let (mut low, mut high) = all.fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)));
        if let Some((_, from, _)) = &self.band {
            low = low.min(*from);
            high = high.max(*from);
        }
        let room = (high - low).max(0.1) * 0.08;
        let volts = Scale::new((low - room, high + room), (BOTTOM, TOP));
        (Scale::new((0.0, span * 1.02), (LEFT, RIGHT)), volts)
    }

    fn draw_band(&self, canvas: &mut Canvas, volts: &Scale) {
        let Some((name, from, to)) = &self.band else {
            return;
        };
        let (low, high) = (
            volts.at(*from).clamp(TOP, BOTTOM),
            volts.at(*to).clamp(TOP, BOTTOM),
        );
        canvas.rect("band", [LEFT, high, RIGHT - LEFT, low - high]);
        canvas.line("band-edge", [LEFT, low, RIGHT, low]);
        let y = if low > BOTTOM - 14.0 {
            low - 5.0
        } else {
            low + 13.0
        };
        canvas.text("small", Anchor::Start, LEFT + 6.0, y, &shortened(name, 60));
    }

    fn draw_time(&self, canvas: &mut Canvas, time: &Scale) {
        canvas.line("axis", [LEFT, BOTTOM, RIGHT, BOTTOM]);
        let last = self.time_secs.last().copied().unwrap_or(1.0);
        let (unit, name) = time_unit(last);
        let in_units = Scale::new(
            (
                0.0,
                last.max(self.required_secs.unwrap_or(0.0).min(1.6 * last)) / unit * 1.02,
            ),
            (LEFT, RIGHT),
        );
        for tick in in_units.ticks(8) {
            let x = time.at(tick * unit);
            if x > RIGHT + 1.0 {
                continue;
            }
            canvas.line("tick", [x, BOTTOM, x, BOTTOM + 5.0]);
            canvas.text("label", Anchor::Middle, x, BOTTOM + 19.0, &trimmed(tick));
        }
        canvas.text(
            "label",
            Anchor::Middle,
            f64::midpoint(LEFT, RIGHT),
            BOTTOM + 38.0,
            &format!("time in {name}"),
        );
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
            let at = free_place(&taken, y);
            taken.push(at);
            canvas.line("leader", [x, y, RIGHT + 8.0, at]);
            canvas.text("direct", Anchor::Start, RIGHT + 12.0, at + 4.0, line.name);
        }
    }

    fn draw_marks(&self, canvas: &mut Canvas, time: &Scale) {
        if let (Some(end), Some(&last)) = (&self.end, self.time_secs.last()) {
            let x = time.at(last);
            canvas.line("end", [x, TOP, x, BOTTOM]);
            canvas.text("mark", Anchor::End, x - 4.0, TOP - 8.0, &shortened(end, 70));
        }
        if let Some(cold) = self.cold_secs {
            let x = time.at(cold);
            canvas.line("cold", [x, TOP + 8.0, x, BOTTOM]);
            let anchor = if x > f64::midpoint(LEFT, RIGHT) {
                Anchor::End
            } else {
                Anchor::Start
            };
            let shift = if anchor == Anchor::End { -4.0 } else { 4.0 };
            canvas.text(
                "mark",
                anchor,
                x + shift,
                TOP + 18.0,
                "one cold night ends it from here",
            );
        }
        if let Some(required) = self.required_secs {
            let x = time.at(required);
            if (LEFT..=RIGHT).contains(&x) {
                canvas.line("required", [x, TOP + 24.0, x, BOTTOM]);
                let anchor = if x > f64::midpoint(LEFT, RIGHT) {
                    Anchor::End
                } else {
                    Anchor::Start
                };
                let shift = if anchor == Anchor::End { -4.0 } else { 4.0 };
                canvas.text("mark", anchor, x + shift, TOP + 36.0, "required");
            }
        }
    }
}

fn draw_volts(canvas: &mut Canvas, volts: &Scale) {
    canvas.line("axis", [LEFT, TOP, LEFT, BOTTOM]);
    for tick in volts.ticks(6) {
        let y = volts.at(tick);
        canvas.line("grid", [LEFT, y, RIGHT, y]);
        canvas.text("label", Anchor::End, LEFT - 7.0, y + 4.0, &trimmed(tick));
    }
    canvas.text("label", Anchor::Start, 8.0, TOP - 12.0, "volts");
}

/// The nearest place to `y` that lies 15 away from all taken ones.
fn free_place(taken: &[f64], y: f64) -> f64 {
    let is_free = |at: f64| taken.iter().all(|t| (t - at).abs() >= 15.0);
    for step in 0..40 {
        let shift = 4.0 * f64::from(step);
        for at in [y - shift, y + shift] {
            if is_free(at) && at > TOP - 4.0 && at < BOTTOM + 4.0 {
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
