//! Bars of time: lives of a family at several ambients against what is asked for, what a life allows.

use std::fmt::Write;

use crate::draw::axis::{Counts, Scale};
use crate::draw::plot::Plot;
use crate::draw::size::Size;
use crate::draw::svg::{Anchor, Canvas};
use crate::draw::words::{cut, width_of, wrap_most};

/// Bars that belong together.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Group {
    /// What stands before the bars, or above them.
    pub(crate) name: String,
    pub(crate) bars: Vec<Bar>,
}

/// One bar.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Bar {
    /// None where nothing ends it.
    pub(crate) secs: Option<f64>,
    /// From when on it is hatched.
    pub(crate) pale_secs: Option<f64>,
    /// How it looks: `low`, `usual` or `high` ambient.
    pub(crate) look: Look,
    /// What is said behind it.
    pub(crate) note: String,
}

impl Bar {
    /// Whether a part of it is drawn hatched.
    pub(crate) fn is_hatched(&self) -> bool {
        self.hatched_from().is_some()
    }

    fn hatched_from(&self) -> Option<f64> {
        let secs = self.secs?;
        self.pale_secs.filter(|pale| *pale < secs)
    }
}

/// How a bar looks: empty, filled, or with upright strokes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Look {
    Low,
    Usual,
    High,
}

/// A picture of bars.
pub(crate) struct BarPicture {
    pub(crate) title: String,
    pub(crate) groups: Vec<Group>,
    pub(crate) required_secs: Option<f64>,
    /// What stands at the line of that time.
    pub(crate) required_words: String,
    /// What the axis counts: `run time`.
    pub(crate) counted: &'static str,
}

/// Height of a line of words.
const LINE: f64 = 17.0;
/// Height of a bar in a narrow picture, its words below it left out.
const THIN: f64 = 13.0;
/// Height of the row of a bar in a wide picture.
const ROW: f64 = 23.0;
const GAP: f64 = 12.0;
/// From one stroke of a bar to the next.
const STROKES: f64 = 6.0;
const TOP: f64 = 36.0;
/// Room for words behind the bars.
const NOTES: f64 = 345.0;

impl BarPicture {
    /// What it shows, in a sentence a group.
    fn message(&self) -> String {
        let groups = self.groups.iter().map(|g| {
            let notes: Vec<&str> = g.bars.iter().map(|b| b.note.as_str()).collect();
            format!("{}: {}.", g.name, notes.join("; "))
        });
        let mut said: Vec<String> = groups.collect();
        if self.required_secs.is_some() {
            said.push(format!("{}.", self.required_words));
        }
        said.join(" ")
    }

    /// The longest time shown.
    fn longest(&self) -> f64 {
        let bars = self.groups.iter().flat_map(|g| &g.bars);
        let ends = bars.filter_map(|b| b.secs).chain(self.required_secs);
        ends.fold(1e-9, f64::max)
    }

    /// The picture for one width of page.
    pub(crate) fn canvas(&self, size: Size) -> Canvas {
        let left = size.pick(self.room_for_names(), 8.0);
        let names: Vec<Vec<String>> = self
            .groups
            .iter()
            .map(|g| {
                let room = size.pick(left - 18.0, size.width() - 20.0);
                wrap_most(&g.name, "direct", room, 2)
            })
            .collect();
        let heights = self.groups.iter().zip(&names);
        let heights: Vec<f64> = heights.map(|(g, n)| height(g, n, size)).collect();
        let plot = Plot {
            left,
            right: size.pick(size.width() - NOTES - 12.0, size.width() - 14.0),
            top: TOP,
            bottom: TOP + heights.iter().sum::<f64>(),
        };
        let mut canvas = Canvas::sized(size, plot.bottom + 46.0, &self.title, &self.message());
        let longest = self.longest();
        let scale = Scale::new((0.0, longest * 1.04), (plot.left, plot.right));
        let counts = Counts::time(longest);
        self.draw_required(&mut canvas, &plot, &scale);
        let mut y = plot.top;
        for ((group, names), height) in self.groups.iter().zip(&names).zip(&heights) {
            self.draw_group(&mut canvas, (group, names), (&plot, &scale), y, size);
            y += height;
        }
        let words = format!("{} in {}", self.counted, counts.name);
        plot.along(&mut canvas, &scale, &counts, &words);
        canvas
    }

    /// The words of the asked for time, and their line down to the first bar.
    fn draw_required(&self, canvas: &mut Canvas, plot: &Plot, scale: &Scale) {
        let Some(secs) = self.required_secs else {
            return;
        };
        let x = scale.at(secs);
        canvas.line("required", [x, plot.top - 13.0, x, plot.top]);
        let words = cut(&self.required_words, "mark", plot.right - 10.0);
        let wide = width_of(&words, "mark");
        let at = (x - wide / 2.0).clamp(6.0, (plot.right + 8.0 - wide).max(6.0));
        canvas.text("mark", Anchor::Start, at, plot.top - 18.0, &words);
    }

    fn draw_group(
        &self,
        canvas: &mut Canvas,
        (group, names): (&Group, &[String]),
        (plot, scale): (&Plot, &Scale),
        top: f64,
        size: Size,
    ) {
        let mut y = top + 14.0;
        for name in names {
            match size {
                Size::Wide => canvas.text("direct", Anchor::End, plot.left - 10.0, y, name),
                Size::Narrow => canvas.text("direct", Anchor::Start, plot.left, y, name),
            }
            y += LINE;
        }
        let mut y = size.pick(top, y - 9.0);
        for bar in &group.bars {
            let thick = size.pick(ROW - 6.0, THIN);
            draw_bar(canvas, bar, (plot, scale), [y + 3.0, thick]);
            if let Some(secs) = self.required_secs {
                let x = scale.at(secs);
                let (above, below) = size.pick((0.0, ROW), (0.0, THIN + 4.0));
                canvas.line("required", [x, y - above, x, y + below]);
            }
            let (x, base) = size.pick((plot.right + 12.0, y + 16.0), (plot.left, y + 30.0));
            let room = size.pick(NOTES - 4.0, size.width() - 14.0);
            let note = cut(&bar.note, "small", room);
            canvas.text("small", Anchor::Start, x, base, &note);
            y += size.pick(ROW, THIN + LINE + 8.0);
        }
    }

    /// Where the bars begin, so that the longest name stands before them.
    fn room_for_names(&self) -> f64 {
        let names = self.groups.iter().map(|g| width_of(&g.name, "direct"));
        // A little more than the longest, which sums would cut by a rounding.
        names.fold(40.0, f64::max).min(170.0) + 19.0
    }
}

/// Height of a group with the gap behind it.
fn height(group: &Group, names: &[String], size: Size) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "small counts")]
    let (bars, names) = (group.bars.len() as f64, names.len() as f64);
    match size {
        Size::Wide => (ROW * bars).max(LINE * names) + GAP,
        Size::Narrow => (THIN + LINE + 8.0) * bars + LINE * names + GAP,
    }
}

fn draw_bar(canvas: &mut Canvas, bar: &Bar, (plot, scale): (&Plot, &Scale), [y, thick]: [f64; 2]) {
    let left = plot.left;
    let Some(secs) = bar.secs else {
        let middle = y + thick / 2.0;
        canvas.line("endless", [left, middle, plot.right, middle]);
        return;
    };
    let end = scale.at(secs);
    let class = match bar.look {
        Look::Low => "bar-low",
        Look::Usual => "bar",
        Look::High => "bar-high",
    };
    let sound = bar.hatched_from().map_or(end, |from| scale.at(from));
    if bar.is_hatched() {
        canvas.rect("bar-pale", [left, y, end - left, thick]);
        canvas.path("hatch", &strokes([sound, y, end, y + thick], thick));
    }
    canvas.rect(class, [left, y, sound - left, thick]);
    if bar.look == Look::High {
        canvas.path("comb", &strokes([left, y, sound, y + thick], 0.0));
    }
    // A life of nothing is still seen.
    canvas.line("end", [end, y - 1.0, end, y + thick + 1.0]);
}

/// Strokes that fill a box, each `lean` further to the right at its upper end; cut off at both sides.
fn strokes([left, top, right, bottom]: [f64; 4], lean: f64) -> String {
    let mut path = String::new();
    if right <= left {
        return path;
    }
    let lean = lean.max(1e-9);
    let mut foot = left + STROKES - lean;
    while foot < right {
        // Shares of the stroke at which it enters and leaves the box.
        let [from, to] = [left, right].map(|edge| ((edge - foot) / lean).clamp(0.0, 1.0));
        let x = |share: f64| foot + share * lean;
        let y = |share: f64| bottom + share * (top - bottom);
        let _ = write!(
            path,
            "M{:.1} {:.1}L{:.1} {:.1}",
            x(from),
            y(from),
            x(to),
            y(to)
        );
        foot += STROKES;
    }
    path
}

/// A bar for a table: a share of the longest one.
pub(crate) fn share_bar(share: f64) -> String {
    let width = 160.0 * share.clamp(0.0, 1.0);
    format!(
        r#"<svg class="share" aria-hidden="true" viewBox="0 0 160 12" width="160" height="12"><rect class="bar" x="0" y="1" width="{width:.1}" height="10"/></svg>"#
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strokes_stay_in_their_box() {
        for lean in [0.0, 10.0, 40.0] {
            let path = strokes([100.0, 50.0, 131.0, 60.0], lean);
            let ends = path.split(['M', 'L']).skip(1);
            assert!(8 <= ends.clone().count(), "{path}");
            for end in ends {
                let (x, y) = end.split_once(' ').expect("a place");
                let place = [x, y].map(|n| n.parse::<f64>().expect("a number"));
                assert!((100.0..=131.0).contains(&place[0]), "{path}");
                assert!((50.0..=60.0).contains(&place[1]), "{path}");
            }
        }
        assert_eq!(strokes([5.0, 0.0, 5.0, 9.0], 9.0), "");
    }

    #[test]
    fn bars_differ_by_more_than_colour() {
        let bar = |look, pale_secs| Bar {
            secs: Some(9.0),
            pale_secs,
            look,
            note: String::new(),
        };
        let drawn = |bar: Bar| {
            let picture = BarPicture {
                title: "t".to_owned(),
                groups: vec![Group {
                    name: "g".to_owned(),
                    bars: vec![bar],
                }],
                required_secs: None,
                required_words: String::new(),
                counted: "run time",
            };
            picture.canvas(Size::Wide).finish()
        };
        let has = |svg: &str| ["hatch", "comb"].map(|c| svg.contains(&format!("class=\"{c}\"")));
        assert_eq!(has(&drawn(bar(Look::Usual, Some(5.0)))), [true, false]);
        assert_eq!(has(&drawn(bar(Look::Usual, Some(9.0)))), [false, false]);
        assert_eq!(has(&drawn(bar(Look::Low, None))), [false, false]);
        assert_eq!(has(&drawn(bar(Look::High, None))), [false, true]);
    }
}
