//! What a rail can give against the depth of the cells: two plots side by side, running and starting,
//! one line an ambient. Lines differ in dash and mark and carry their names; colour only helps.

use lastvolt_core::model::Family;

use crate::draw::axis::{Counts, Scale};
use crate::draw::marks::{Arranged, Mark};
use crate::draw::plot::Plot;
use crate::draw::room::spread;
use crate::draw::size::{Size, both};
use crate::draw::svg::{Anchor, Canvas};
use crate::report::typeset;
use crate::text::deliver::promise_sentences;
use crate::text::number::celsius;
use crate::view::{OutputRowView, OutputView};

/// Height of the name of a plot with the words of its mark.
const HEAD: f64 = 48.0;
/// Room below a plot for its axis.
const FOOT: f64 = 46.0;
/// Room for the names of the lines.
const NAMES: f64 = 100.0;

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

    /// The picture for both widths of page.
    pub(crate) fn draw(&self) -> String {
        both(|size| self.canvas(size))
    }

    /// The picture as a file of its own.
    pub(crate) fn alone(&self) -> String {
        self.canvas(Size::Wide).finish_alone()
    }

    /// The picture for one width of page.
    pub(crate) fn canvas(&self, size: Size) -> Canvas {
        let plots = plots(size);
        let foot = plots[1].bottom + FOOT;
        let mut canvas = Canvas::sized(size, foot, &self.title, &self.description);
        let most = self.most_amps();
        let counts = Counts::of(most, "A");
        let other: (&str, Figure) = if shows_starting(self.output) {
            ("starting from off", |r| r.starting_a.0)
        } else {
            ("already up, for a moment", |r| r.burst_a.0)
        };
        let figures: [(&str, Figure); 2] = [("already up, for long", |r| r.running_a.0), other];
        for (plot, (name, of)) in plots.iter().zip(figures) {
            let depth = Scale::new((0.0, 1.0), (plot.left, plot.right));
            let amps = Scale::new((0.0, most * 1.06), (plot.bottom, plot.top));
            let y = plot.top - HEAD + 14.0;
            canvas.text("direct", Anchor::Start, plot.left, y, name);
            plot.upright(&mut canvas, &amps, &counts);
            let whole = Counts {
                per: 0.01,
                name: "%".to_owned(),
            };
            let words = size.pick("share of the charge drawn, in %", "charge drawn, in %");
            plot.along(&mut canvas, &depth, &whole, words);
            self.draw_life(&mut canvas, &depth, plot);
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

    /// The depth of the required life upright.
    fn draw_life(&self, canvas: &mut Canvas, depth: &Scale, plot: &Plot) {
        let (Some(life), Some(required)) = (self.output.life_depth, self.output.required_life)
        else {
            return;
        };
        let words = if required {
            "life asked for"
        } else {
            "end of life"
        };
        let mark = [Mark {
            class: "cold",
            x: depth.at(life.0.clamp(0.0, 1.0)),
            words: words.to_owned(),
            within: (plot.left, plot.right + NAMES),
        }];
        // One mark has room for its words above even a narrow plot.
        let arranged = Arranged::new(&mark, plot.left, Size::Wide, true);
        arranged.draw(canvas, &mark, (plot.top, plot.bottom));
    }

    fn draw_lines(
        &self,
        canvas: &mut Canvas,
        amps: &Scale,
        depth: &Scale,
        plot: &Plot,
        of: Figure,
    ) {
        if let Some(promise) = &self.output.promise {
            let y = amps.at(promise.current_a.0);
            canvas.line("required", [plot.left, y, plot.right, y]);
        }
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
            let end = (plot.right, amps.at(promise.current_a.0));
            ends.push((end, "promised".to_owned(), None));
        }
        let wanted: Vec<f64> = ends.iter().map(|e| e.0.1).collect();
        let heights = vec![15.5; ends.len()];
        let places = spread(&wanted, &heights, (plot.top, plot.bottom + 8.0));
        for (((x, y), name, look), at) in ends.into_iter().zip(places) {
            canvas.line("leader", [x + 4.0, y, plot.right + 12.0, at]);
            let from = plot.right + 12.0;
            match look {
                Some(look) => draw_mark(canvas, look, from + 6.0, at),
                None => canvas.line("required", [from, at, from + 12.0, at]),
            }
            let name = typeset(&name);
            canvas.text("direct", Anchor::Start, from + 15.0, at + 4.0, &name);
        }
    }
}

/// Side by side, or one above the other.
fn plots(size: Size) -> [Plot; 2] {
    let plot = |left: f64, right: f64, top: f64, tall: f64| Plot {
        left,
        right,
        top,
        bottom: top + tall,
    };
    match size {
        Size::Wide => {
            let half = size.width() / 2.0;
            [0.0, half].map(|x| plot(x + 50.0, x + half - NAMES - 16.0, HEAD, 230.0))
        }
        Size::Narrow => {
            let right = size.width() - NAMES - 10.0;
            let next = 2.0 * HEAD + 160.0 + FOOT;
            [HEAD, next].map(|top| plot(40.0, right, top, 160.0))
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
