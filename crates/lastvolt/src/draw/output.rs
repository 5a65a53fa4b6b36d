//! What a rail can give against the depth of the cells: two plots side by side, running and starting,
//! one line an ambient. Lines differ in dash and mark and carry their names; colour only helps.

use lastvolt_core::model::Family;

use crate::draw::axis::Scale;
use crate::draw::curves::trimmed;
use crate::draw::svg::{Anchor, Canvas};
use crate::report::typeset;
use crate::text::deliver::promise_sentences;
use crate::text::number::celsius;
use crate::view::{OutputRowView, OutputView};

const WIDTH: f64 = 900.0;
const TOP: f64 = 58.0;
const BOTTOM: f64 = 310.0;
const HEIGHT: f64 = BOTTOM + 48.0;
/// Left and right edge of each plot.
const PLOTS: [(f64, f64); 2] = [(58.0, 370.0), (498.0, 810.0)];
/// Least distance of two names.
const NAME_HEIGHT: f64 = 15.0;

/// Which current of a row a plot shows.
type Figure = fn(&OutputRowView) -> f64;

/// A picture of one rail.
pub(crate) struct OutputPicture<'a> {
    output: &'a OutputView,
    title: String,
    description: String,
}

impl<'a> OutputPicture<'a> {
    /// The picture of a rail.
    pub(crate) fn new(output: &'a OutputView, family: &Family) -> Self {
        let promise = promise_sentences(output, family).join(" ");
        Self {
            title: format!(
                "Output capability of board {}, rail {}",
                output.board, output.rail
            ),
            description: typeset(&format!(
                "Largest added current over the depth of the cells, running and starting. {promise}"
            )),
            output,
        }
    }

    /// The picture as SVG.
    pub(crate) fn draw(&self) -> String {
        self.canvas().finish()
    }

    /// The picture as a file of its own.
    pub(crate) fn alone(&self) -> String {
        self.canvas().finish_alone()
    }

    fn canvas(&self) -> Canvas {
        let mut canvas = Canvas::new(WIDTH, HEIGHT, &self.title, &self.description);
        let most = self.most_amps();
        let (unit_amps, unit) = unit(most);
        let amps = Scale::new((0.0, most * 1.06), (BOTTOM, TOP));
        let other: (&str, Figure) = if shows_starting(self.output) {
            ("starting from off", |r| r.starting_a.0)
        } else {
            ("already up, for a moment", |r| r.burst_a.0)
        };
        let figures: [(&str, Figure); 2] = [("already up, for long", |r| r.running_a.0), other];
        for (plot, (name, of)) in PLOTS.into_iter().zip(figures) {
            let depth = Scale::new((0.0, 1.0), plot);
            canvas.text("label", Anchor::Start, plot.0, TOP - 38.0, name);
            draw_amps(&mut canvas, &amps, plot, (unit_amps, unit), most);
            draw_depth(&mut canvas, &depth, plot);
            self.draw_marks(&mut canvas, &amps, &depth, plot);
            self.draw_lines(&mut canvas, &amps, &depth, plot, of);
        }
        canvas
    }

    /// The largest current shown.
    fn most_amps(&self) -> f64 {
        let starting = shows_starting(self.output);
        let rows = self.output.rows.iter();
        let rows = rows.map(|r| if starting { r.running_a.0 } else { r.burst_a.0 });
        let promised = self.output.promise.as_ref().map(|p| p.current_a.0);
        rows.chain(promised).fold(1e-6, f64::max)
    }

    /// The promised current across, the depth of the required life upright.
    fn draw_marks(&self, canvas: &mut Canvas, amps: &Scale, depth: &Scale, plot: (f64, f64)) {
        if let Some(promise) = &self.output.promise {
            let y = amps.at(promise.current_a.0);
            canvas.line("required", [plot.0, y, plot.1, y]);
        }
        if let (Some(life), Some(required)) = (self.output.life_depth, self.output.required_life) {
            let x = depth.at(life.0);
            canvas.line("cold", [x, TOP - 8.0, x, BOTTOM]);
            let words = if required {
                "life asked for"
            } else {
                "end of life"
            };
            canvas.text(
                "mark",
                Anchor::End,
                x.max(plot.0 + 90.0) + 4.0,
                TOP - 12.0,
                words,
            );
        }
    }

    fn draw_lines(
        &self,
        canvas: &mut Canvas,
        amps: &Scale,
        depth: &Scale,
        plot: (f64, f64),
        of: Figure,
    ) {
        let ambients = self.output.ambients();
        let mut ends = Vec::new();
        for (at, ambient) in ambients.iter().enumerate() {
            let rows = self
                .output
                .rows
                .iter()
                .filter(|r| r.ambient_c.0 == *ambient);
            let points = rows.map(|r| (depth.at(r.depth.0), amps.at(of(r))));
            let points: Vec<(f64, f64)> = points.collect();
            let look = look(at, ambients.len());
            canvas.polyline(look.class, &points);
            for &(x, y) in &points {
                draw_mark(canvas, look, x, y);
            }
            if let Some(&end) = points.last() {
                ends.push((end, celsius(*ambient), Some(look)));
            }
        }
        if let Some(promise) = &self.output.promise {
            let end = (plot.1, amps.at(promise.current_a.0));
            ends.push((end, "promised".to_owned(), None));
        }
        let places = apart(&ends.iter().map(|e| e.0.1).collect::<Vec<f64>>());
        for (((x, y), name, look), at) in ends.into_iter().zip(places) {
            canvas.line("leader", [x + 4.0, y, plot.1 + 12.0, at]);
            match look {
                Some(look) => draw_mark(canvas, look, plot.1 + 18.0, at),
                None => canvas.line("required", [plot.1 + 12.0, at, plot.1 + 24.0, at]),
            }
            let name = typeset(&name);
            canvas.text("direct", Anchor::Start, plot.1 + 27.0, at + 4.0, &name);
        }
    }
}

/// Whether starting gives less than running anywhere; otherwise the second plot is of moments.
pub(crate) fn shows_starting(output: &OutputView) -> bool {
    output.rows.iter().any(|r| r.starting_limit.is_some())
}

/// How a line and its marks look.
#[derive(Debug, Clone, Copy)]
struct Look {
    class: &'static str,
    corners: &'static [(f64, f64)],
}

/// The lowest ambient has squares, the usual one diamonds, the highest triangles.
fn look(at: usize, of: usize) -> Look {
    const SQUARE: &[(f64, f64)] = &[
        (-3.0, -3.0),
        (3.0, -3.0),
        (3.0, 3.0),
        (-3.0, 3.0),
        (-3.0, -3.0),
    ];
    const DIAMOND: &[(f64, f64)] = &[
        (0.0, -4.0),
        (4.0, 0.0),
        (0.0, 4.0),
        (-4.0, 0.0),
        (0.0, -4.0),
    ];
    const TRIANGLE: &[(f64, f64)] = &[(0.0, -4.0), (4.0, 3.0), (-4.0, 3.0), (0.0, -4.0)];
    let look = |class, corners| Look { class, corners };
    match (at, of) {
        (0, 2..) => look("ambient-low", SQUARE),
        (2, _) => look("ambient-high", TRIANGLE),
        _ => look("ambient-usual", DIAMOND),
    }
}

fn draw_mark(canvas: &mut Canvas, look: Look, x: f64, y: f64) {
    let corners = look.corners.iter().map(|(dx, dy)| (x + dx, y + dy));
    let corners: Vec<(f64, f64)> = corners.collect();
    canvas.polyline(&format!("{} point", look.class), &corners);
}

/// Places near the wanted ones, in their order, that leave room for a name each.
fn apart(wanted: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|a, b| wanted[*a].total_cmp(&wanted[*b]));
    let mut places = wanted.to_vec();
    // From the bottom up, so that the lowest stays on the page.
    let mut lowest = BOTTOM + 4.0;
    for &at in order.iter().rev() {
        places[at] = wanted[at].min(lowest);
        lowest = places[at] - NAME_HEIGHT;
    }
    places
}

fn draw_amps(
    canvas: &mut Canvas,
    amps: &Scale,
    plot: (f64, f64),
    (unit_amps, unit): (f64, &str),
    most: f64,
) {
    canvas.line("axis", [plot.0, TOP, plot.0, BOTTOM]);
    let in_units = Scale::new((0.0, most * 1.06 / unit_amps), (BOTTOM, TOP));
    for tick in in_units.ticks(6) {
        let y = amps.at(tick * unit_amps);
        canvas.line("grid", [plot.0, y, plot.1, y]);
        canvas.text("label", Anchor::End, plot.0 - 7.0, y + 4.0, &trimmed(tick));
    }
    canvas.text("label", Anchor::End, plot.0 - 7.0, TOP - 9.0, unit);
}

fn draw_depth(canvas: &mut Canvas, depth: &Scale, plot: (f64, f64)) {
    canvas.line("axis", [plot.0, BOTTOM, plot.1, BOTTOM]);
    for tick in [0.0, 0.2, 0.4, 0.6, 0.8, 1.0] {
        let x = depth.at(tick);
        canvas.line("tick", [x, BOTTOM, x, BOTTOM + 5.0]);
        canvas.text("label", Anchor::Middle, x, BOTTOM + 19.0, &trimmed(tick));
    }
    let middle = f64::midpoint(plot.0, plot.1);
    let words = "depth: share of the charge that is drawn";
    canvas.text("label", Anchor::Middle, middle, BOTTOM + 38.0, words);
}

/// The unit in which a current reads well.
fn unit(amps: f64) -> (f64, &'static str) {
    if amps < 1e-3 {
        (1e-6, "\u{b5}A")
    } else if amps < 1.0 {
        (1e-3, "mA")
    } else {
        (1.0, "A")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_lines_that_meet_stand_apart_and_on_the_page() {
        let places = apart(&[BOTTOM, BOTTOM, BOTTOM - 2.0]);
        let mut sorted = places.clone();
        sorted.sort_by(f64::total_cmp);
        assert!(sorted.windows(2).all(|w| NAME_HEIGHT <= w[1] - w[0]));
        assert!(places.iter().all(|p| TOP < *p && *p <= BOTTOM + 4.0));
    }
}
