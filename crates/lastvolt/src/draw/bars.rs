//! Bars: lives of a family against what is required, shares of a whole.

use crate::draw::axis::Scale;
use crate::draw::curves::{time_unit, trimmed};
use crate::draw::svg::{Anchor, Canvas, shortened};
use crate::text::number::duration;

/// One bar of a comparison.
pub(crate) struct LifeBar {
    /// What stands before the bar.
    pub(crate) name: String,
    /// None where nothing ends it.
    pub(crate) secs: Option<f64>,
    /// From when one cold night would end it.
    pub(crate) cold_secs: Option<f64>,
    /// What is said behind the bar.
    pub(crate) note: String,
}

const WIDTH: f64 = 900.0;
const RIGHT: f64 = 640.0;
const TOP: f64 = 26.0;
const ROW: f64 = 38.0;
const BAR: f64 = 20.0;

/// Lives of boards side by side, with the required life as a line.
pub(crate) fn lives(bars: &[LifeBar], required_secs: Option<f64>) -> String {
    #[expect(clippy::cast_precision_loss, reason = "a count of boards")]
    let foot = TOP + ROW * bars.len() as f64 + 6.0;
    let said: Vec<String> = bars
        .iter()
        .map(|b| format!("{}: {}", b.name, b.note))
        .collect();
    let mut canvas = Canvas::new(
        WIDTH,
        foot + 40.0,
        "Run time of each board",
        &said.join("; "),
    );
    let ends = bars.iter().filter_map(|b| b.secs).chain(required_secs);
    let longest = ends.fold(1.0, f64::max);
    let (unit, name) = time_unit(longest);
    let left = room_for_names(bars);
    let scale = Scale::new((0.0, longest / unit * 1.05), (left, RIGHT));
    for tick in scale.ticks(6) {
        let x = scale.at(tick);
        canvas.line("grid", [x, TOP - 4.0, x, foot]);
        canvas.text("label", Anchor::Middle, x, foot + 16.0, &trimmed(tick));
    }
    let middle = f64::midpoint(left, RIGHT);
    canvas.text(
        "label",
        Anchor::Middle,
        middle,
        foot + 34.0,
        &format!("run time in {name}"),
    );
    let mut y = TOP;
    for bar in bars {
        draw(&mut canvas, &scale, (unit, left), bar, y);
        y += ROW;
    }
    if let Some(required) = required_secs {
        let x = scale.at(required / unit);
        canvas.line("required", [x, TOP - 8.0, x, foot]);
        let text = format!("asked for: {}", duration(required));
        canvas.label_beside("mark", x, TOP - 11.0, middle, &text);
    }
    canvas.finish()
}

/// Longest name that is written out.
const LONGEST: usize = 24;

/// Where the bars begin, so that the longest name stands before them.
fn room_for_names(bars: &[LifeBar]) -> f64 {
    let longest = bars
        .iter()
        .map(|b| b.name.chars().count().min(LONGEST))
        .max();
    #[expect(clippy::cast_precision_loss, reason = "a count of characters")]
    let longest = longest.unwrap_or(0) as f64;
    20.0 + 7.4 * longest
}

/// One bar with its name and its note; `unit` is what the scale counts in, `left` where it begins.
fn draw(canvas: &mut Canvas, scale: &Scale, (unit, left): (f64, f64), bar: &LifeBar, y: f64) {
    let base = y + 21.0;
    canvas.text(
        "direct",
        Anchor::End,
        left - 10.0,
        base,
        &shortened(&bar.name, LONGEST),
    );
    match bar.secs {
        Some(secs) => {
            let end = scale.at(secs / unit);
            canvas.rect("bar-pale", [left, y + 6.0, end - left, BAR]);
            let sound = scale.at(bar.cold_secs.unwrap_or(secs).min(secs) / unit);
            canvas.rect("bar", [left, y + 6.0, sound - left, BAR]);
        }
        None => canvas.line("endless", [left, y + 16.0, RIGHT, y + 16.0]),
    }
    let note = shortened(&bar.note, 40);
    canvas.text("small", Anchor::Start, RIGHT + 12.0, base, &note);
}

/// A bar for a table: a share of the longest one.
pub(crate) fn share_bar(share: f64) -> String {
    let width = 160.0 * share.clamp(0.0, 1.0);
    format!(
        r#"<svg class="share" aria-hidden="true" viewBox="0 0 160 12" width="160" height="12"><rect class="bar" x="0" y="1" width="{width:.1}" height="10"/></svg>"#
    )
}
