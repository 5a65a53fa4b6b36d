//! Single figures of a fit, one row each: where the model lies against what was measured, with the
//! interval in which 90 % of readings are expected.

use crate::draw::axis::{Scale, words_of};
use crate::draw::svg::{Anchor, Canvas, shortened};
use crate::report::typeset;
use crate::view::{FitView, Measure, ReadingView};

const ROW: f64 = 17.0;
/// Words, axis and foot of a block.
const AROUND: f64 = 92.0;
const WORDS: f64 = 15.0;
const PLOT: (f64, f64) = (500.0, 850.0);
const LETTERS: usize = 74;

/// A figure.
struct Row {
    words: String,
    /// What was measured against what is said: a ratio less one, or volts.
    measured: f64,
    low: f64,
    high: f64,
    fitted: bool,
    outside: bool,
}

/// Figures that share an axis.
pub(super) struct Block {
    title: &'static str,
    unit: f64,
    axis: &'static str,
    rows: Vec<Row>,
}

/// Figures judged by their ratio, and single voltages.
pub(super) fn rows(fit: &FitView) -> Vec<Block> {
    let mut ratios = Block {
        title: "Times, charges, counts and resistances",
        unit: 0.01,
        axis: "measured above what the model says, in %",
        rows: Vec::new(),
    };
    let mut volts = Block {
        title: "Single voltages",
        unit: 1e-3,
        axis: "measured above what the model says, in mV",
        rows: Vec::new(),
    };
    for test in fit.tests.iter().filter(|t| !t.log) {
        for reading in &test.readings {
            let name = test.name.replace(", without self-discharge", "");
            let words = format!("{name}, {}", reading.at);
            match reading.measure {
                Measure::Volts if on_curve(&test.readings, reading) => {}
                Measure::Volts => volts.rows.push(row(words, reading, |v| v - reading.said)),
                _ => ratios
                    .rows
                    .push(row(words, reading, |v| v / reading.said - 1.0)),
            }
        }
    }
    [ratios, volts]
        .into_iter()
        .filter(|b| !b.rows.is_empty())
        .collect()
}

/// Whether a reading is drawn on a curve: voltages on load or at rest where there are three of a test.
fn on_curve(all: &[ReadingView], reading: &ReadingView) -> bool {
    let same = |r: &&ReadingView| {
        r.quantity == reading.quantity
            && r.figures.0.first().map(|f| &f.0) == reading.figures.0.first().map(|f| &f.0)
    };
    reading.quantity != "pulse" && 3 <= all.iter().filter(same).count()
}

fn row(words: String, reading: &ReadingView, of: impl Fn(f64) -> f64) -> Row {
    Row {
        words,
        measured: of(reading.measured),
        low: of(reading.limits.0),
        high: of(reading.limits.1),
        fitted: reading.fitted,
        outside: reading.outside,
    }
}

/// Height of all blocks.
pub(super) fn height(blocks: &[Block]) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "small counts")]
    let of = |b: &Block| AROUND + ROW * b.rows.len() as f64;
    blocks.iter().map(of).sum::<f64>() + 10.0
}

/// Draws the blocks below `top`.
pub(super) fn draw(canvas: &mut Canvas, blocks: &[Block], mut top: f64) {
    for block in blocks {
        #[expect(clippy::cast_precision_loss, reason = "small counts")]
        let foot = top + 40.0 + ROW * block.rows.len() as f64;
        draw_block(canvas, block, (top, foot));
        top = foot + AROUND - 40.0;
    }
}

fn draw_block(canvas: &mut Canvas, block: &Block, (top, foot): (f64, f64)) {
    let head = top + 34.0;
    canvas.text("", Anchor::Start, WORDS, top + 16.0, block.title);
    let words = "mark: measured; bar: where 90 % of readings are expected";
    canvas.text("label", Anchor::End, PLOT.1, top + 16.0, words);
    let reach = reach(block);
    let scale = Scale::new((-reach / block.unit, reach / block.unit), PLOT);
    let ticks = scale.ticks(8);
    for (tick, words) in ticks.iter().zip(words_of(&ticks)) {
        let x = scale.at(*tick);
        canvas.line("grid", [x, head, x, foot]);
        let sign = if 0.0 < *tick { "+" } else { "" };
        let words = format!("{sign}{words}");
        canvas.text("label", Anchor::Middle, x, foot + 16.0, &words);
    }
    canvas.line("axis", [scale.at(0.0), head, scale.at(0.0), foot]);
    let middle = f64::midpoint(PLOT.0, PLOT.1);
    canvas.text("label", Anchor::Middle, middle, foot + 34.0, block.axis);
    for (at, row) in block.rows.iter().enumerate() {
        #[expect(clippy::cast_precision_loss, reason = "small counts")]
        let y = head + ROW * (at as f64 + 0.5);
        draw_row(canvas, row, &scale, block.unit, y);
    }
}

/// The axis reaches as far as marks and intervals of most rows.
fn reach(block: &Block) -> f64 {
    let mut all: Vec<f64> = block
        .rows
        .iter()
        .map(|r| r.measured.abs().max(r.low.abs()).max(r.high.abs()))
        .collect();
    all.sort_by(f64::total_cmp);
    let most = all[(all.len() - 1) * 19 / 20];
    most.max(block.unit) * 1.08
}

fn draw_row(canvas: &mut Canvas, row: &Row, scale: &Scale, unit: f64, y: f64) {
    let words = typeset(&shortened(&row.words, LETTERS));
    canvas.text("label", Anchor::Start, WORDS, y + 4.0, &words);
    let place = |v: f64| scale.at(v / unit).clamp(PLOT.0, PLOT.1);
    let (low, high) = (place(row.low), place(row.high));
    canvas.line("axis", [low, y, high, y]);
    for x in [low, high] {
        canvas.line("axis", [x, y - 4.0, x, y + 4.0]);
    }
    let x = place(row.measured);
    super::mark(canvas, row.fitted, x, y);
    let beyond = 1e-6 < (scale.at(row.measured / unit) - x).abs();
    let figure = typeset(&format!("{:+.0}", row.measured / unit));
    if beyond && x < PLOT.1 {
        canvas.text("mark", Anchor::End, x - 8.0, y + 4.0, &figure);
    } else if beyond {
        canvas.text("mark", Anchor::Start, x + 8.0, y + 4.0, &figure);
    } else if row.outside {
        canvas.text("mark", Anchor::Start, PLOT.1 + 8.0, y + 4.0, "out");
    }
}
