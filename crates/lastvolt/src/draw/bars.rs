//! Bars: lives of a family against what is required, shares of an energy or of a voltage.

use crate::draw::axis::Scale;
use crate::draw::curves::{time_unit, trimmed};
use crate::draw::svg::{Anchor, Canvas, shortened};
use crate::text::number::{duration, percent};

/// One bar of a comparison.
pub(crate) struct LifeBar {
    pub(crate) name: String,
    /// None where nothing ends it.
    pub(crate) secs: Option<f64>,
    /// From when one cold night would end it.
    pub(crate) cold_secs: Option<f64>,
    /// What is said beside the bar.
    pub(crate) note: String,
}

const WIDTH: f64 = 860.0;
const LEFT: f64 = 190.0;
const RIGHT: f64 = 620.0;

/// Lives of boards side by side, with the required life as a line.
pub(crate) fn lives(bars: &[LifeBar], required_secs: Option<f64>) -> String {
    let height = 70.0 + 40.0 * bars.len() as f64;
    let longest = bars
        .iter()
        .filter_map(|b| b.secs)
        .chain(required_secs)
        .fold(1.0, f64::max);
    let said: Vec<String> = bars
        .iter()
        .map(|b| format!("{}: {}", b.name, b.note))
        .collect();
    let mut canvas = Canvas::new(WIDTH, height, "Run time of each board", &said.join("; "));
    let (unit, name) = time_unit(longest);
    let scale = Scale::new((0.0, longest / unit * 1.05), (LEFT, RIGHT));
    let foot = height - 36.0;
    for tick in scale.ticks(6) {
        let x = scale.at(tick);
        canvas.line("grid", [x, 14.0, x, foot]);
        canvas.text("label", Anchor::Middle, x, foot + 16.0, &trimmed(tick));
    }
    canvas.text("label", Anchor::Start, RIGHT + 12.0, foot + 16.0, name);
    for (k, bar) in bars.iter().enumerate() {
        let y = 20.0 + 40.0 * k as f64;
        canvas.text(
            "direct",
            Anchor::End,
            LEFT - 10.0,
            y + 17.0,
            &shortened(&bar.name, 24),
        );
        match bar.secs {
            Some(secs) => canvas.rect("bar", [LEFT, y + 3.0, scale.at(secs / unit) - LEFT, 20.0]),
            None => canvas.line("endless", [LEFT, y + 13.0, RIGHT, y + 13.0]),
        }
        if let Some(cold) = bar.cold_secs {
            let x = scale.at(cold / unit);
            canvas.line("cold", [x, y, x, y + 26.0]);
        }
        canvas.text(
            "small",
            Anchor::Start,
            RIGHT + 12.0,
            y + 17.0,
            &shortened(&bar.note, 38),
        );
    }
    if let Some(required) = required_secs {
        let x = scale.at(required / unit);
        canvas.line("required", [x, 12.0, x, foot]);
        let text = format!("required: {}", duration(required));
        let anchor = if x > f64::midpoint(LEFT, RIGHT) {
            Anchor::End
        } else {
            Anchor::Start
        };
        let shift = if anchor == Anchor::End { -4.0 } else { 4.0 };
        canvas.text("mark", anchor, x + shift, 10.0, &text);
    }
    canvas.finish()
}

/// Rows of a whole: name, value as text, share of the whole.
pub(crate) fn shares(title: &str, rows: &[(String, String, f64)]) -> String {
    let height = 12.0 + 24.0 * rows.len() as f64;
    let said: Vec<String> = rows
        .iter()
        .map(|r| format!("{} {}", r.0, percent(r.2)))
        .collect();
    let mut canvas = Canvas::new(WIDTH, height, title, &said.join(", "));
    let largest = rows.iter().map(|r| r.2.abs()).fold(1e-9, f64::max);
    let scale = Scale::new((0.0, largest), (0.0, 330.0));
    for (k, (name, value, share)) in rows.iter().enumerate() {
        let y = 6.0 + 24.0 * k as f64;
        canvas.text("direct", Anchor::End, 270.0, y + 15.0, &shortened(name, 34));
        canvas.rect("bar", [280.0, y + 3.0, scale.at(share.abs()), 15.0]);
        let at = 288.0 + scale.at(share.abs());
        canvas.text(
            "small",
            Anchor::Start,
            at,
            y + 15.0,
            &format!("{value}, {}", percent(*share)),
        );
    }
    canvas.finish()
}
