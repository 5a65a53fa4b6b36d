//! Curves drawn with characters: axes with units and ticks, each line with a mark of its own.

use lastvolt_core::quantity::Unit;

use crate::draw::axis::Scale;
use crate::text::number::engineering;
use crate::text::parts::said;
use crate::view::{AxisView, CurveView, ScaleView};

/// Columns between the axes.
const COLUMNS: usize = 56;
/// Rows between the axes.
const ROWS: usize = 15;
/// Marks of lines, in their order.
const MARKS: [char; 6] = ['o', 'x', '+', '*', '#', '%'];
/// Coulombs of an ampere-hour.
const AMPERE_HOUR: f64 = 3600.0;
/// Mark of points that a data sheet states.
const STATED: char = '@';

/// One axis: the values at its ends, and how many places it has.
struct Axis<'a> {
    view: &'a AxisView,
    from: f64,
    to: f64,
    places: usize,
    ticks: Vec<f64>,
}

impl<'a> Axis<'a> {
    /// An axis over some values, its ends at round ones.
    fn over(view: &'a AxisView, values: impl Iterator<Item = f64>, places: usize) -> Self {
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for value in values.filter(|v| v.is_finite()) {
            low = low.min(value);
            high = high.max(value);
        }
        if low > high {
            (low, high) = (0.0, 1.0);
        }
        let ticks = match view.scale {
            ScaleView::Linear => linear_ticks(low, high, if places == ROWS { 5 } else { 6 }),
            ScaleView::Logarithmic => decades(low, high),
        };
        let ends = (ticks.first().copied(), ticks.last().copied());
        Self {
            view,
            from: ends.0.unwrap_or(low),
            to: ends.1.unwrap_or(high),
            places,
            ticks,
        }
    }

    /// The place of a value, from 0; none outside.
    fn place(&self, value: f64) -> Option<usize> {
        let share = match self.view.scale {
            ScaleView::Linear => (value - self.from) / (self.to - self.from),
            ScaleView::Logarithmic => (value / self.from).ln() / (self.to / self.from).ln(),
        };
        let at = (share * (self.places - 1) as f64).round();
        let last = (self.places - 1) as f64;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "checked to lie within the places"
        )]
        (0.0..=last).contains(&at).then_some(at as usize)
    }

    /// The value at a place.
    fn value(&self, place: usize) -> f64 {
        let share = place as f64 / (self.places - 1) as f64;
        match self.view.scale {
            ScaleView::Linear => self.from + share * (self.to - self.from),
            ScaleView::Logarithmic => self.from * (self.to / self.from).powf(share),
        }
    }

    fn label(&self, value: f64) -> String {
        match self.view.column {
            // Plain numbers, which have no unit and are no percentage.
            "depth" | "factor" => {
                let text = engineering(value, "", 3);
                let text = if (1e-2..1e3).contains(&value) {
                    format!("{value:.2}")
                } else {
                    text
                };
                let text = text.trim();
                if text.contains('.') {
                    text.trim_end_matches('0').trim_end_matches('.').to_owned()
                } else {
                    text.to_owned()
                }
            }
            _ => said(value * per_shown(self.view), self.view.unit),
        }
    }
}

/// Round values whose first and last hold all between them.
fn linear_ticks(low: f64, high: f64, about: usize) -> Vec<f64> {
    let spare = (high.abs().max(low.abs()) * 0.02).max(1e-12);
    let (low, high) = if high - low < spare {
        (low - spare, high + spare)
    } else {
        (low, high)
    };
    let ticks = Scale::new((low, high), (0.0, 1.0)).ticks(about);
    let [first, second, ..] = ticks.as_slice() else {
        return vec![low, high];
    };
    let step = second - first;
    let near = step * 1e-6;
    let from = if first - low > near {
        first - step
    } else {
        *first
    };
    let mut ticks: Vec<f64> = std::iter::once(from)
        .filter(|f| f < first)
        .chain(ticks.iter().copied())
        .collect();
    if let Some(last) = ticks.last().copied().filter(|last| high - last > near) {
        ticks.push(last + step);
    }
    ticks
}

/// 1, 2 and 5 times powers of ten over few decades, powers of ten over many.
fn decades(low: f64, high: f64) -> Vec<f64> {
    let (low, high) = (low.max(1e-30), high.max(1e-30));
    let steps: &[f64] = if high / low < 100.0 {
        &[1.0, 2.0, 5.0]
    } else {
        &[1.0]
    };
    let all: Vec<f64> = (-30..31)
        .flat_map(|power| steps.iter().map(move |s| s * 10f64.powi(power)))
        .collect();
    let near = 1.0 + 1e-9;
    let first = all.iter().rposition(|t| *t <= low * near).unwrap_or(0);
    let last = all
        .iter()
        .position(|t| *t * near >= high)
        .unwrap_or(all.len() - 1);
    all[first..=last.max(first + 1).min(all.len() - 1)].to_vec()
}

/// What one unit of the axis is in the unit of its values: charge is shown in ampere-hours, and round
/// values are wanted there.
fn per_shown(view: &AxisView) -> f64 {
    match view.unit {
        Unit::Coulomb => AMPERE_HOUR,
        _ => 1.0,
    }
}

/// The curve as lines of text; several lines have a legend in front.
pub(crate) fn plot(curve: &CurveView) -> Vec<String> {
    let (across, upwards) = (per_shown(&curve.x), per_shown(&curve.y));
    let shown = |p: &(f64, f64)| (p.0 / across, p.1 / upwards);
    let points: Vec<Vec<(f64, f64)>> = curve
        .lines
        .iter()
        .map(|l| l.xy().iter().map(shown).collect())
        .collect();
    let all = || points.iter().flatten();
    let x = Axis::over(&curve.x, all().map(|p| p.0), COLUMNS);
    let y = Axis::over(&curve.y, all().map(|p| p.1), ROWS);
    let mut canvas = vec![vec![' '; COLUMNS]; ROWS];
    let mut legend = Vec::new();
    let drawn = curve.lines.iter().filter(|l| !l.stated).count();
    for (at, line) in curve.lines.iter().enumerate() {
        let mark = if line.stated {
            STATED
        } else {
            MARKS[at % MARKS.len()]
        };
        legend.push(format!("{mark} {}", line.label));
        if line.stated {
            for p in &points[at] {
                if let (Some(column), Some(row)) = (x.place(p.0), y.place(p.1)) {
                    canvas[row][column] = mark;
                }
            }
        } else {
            draw(&mut canvas, &x, &y, &points[at], mark, (at, drawn));
        }
    }
    let mut out = Vec::new();
    if 1 < legend.len() {
        out.push(legend.join("    "));
    }
    out.extend(framed(&canvas, &x, &y));
    out
}

/// Draws one line, a mark a column and more where it is steep. Where several lines lie on each other,
/// they take turns.
fn draw(
    canvas: &mut [Vec<char>],
    x: &Axis<'_>,
    y: &Axis<'_>,
    points: &[(f64, f64)],
    mark: char,
    (turn, turns): (usize, usize),
) {
    let mut before: Option<usize> = None;
    let columns = (0..x.places).map(|column| (column, x.value(column)));
    for (column, at) in columns {
        let Some(row) = within(points, at, x).and_then(|v| y.place(v)) else {
            before = None;
            continue;
        };
        let from = before.unwrap_or(row);
        let rows = match from.cmp(&row) {
            std::cmp::Ordering::Less => from + 1..=row,
            std::cmp::Ordering::Equal => row..=row,
            std::cmp::Ordering::Greater => row..=from - 1,
        };
        for row in rows {
            let cell = &mut canvas[row][column];
            if *cell == ' ' || column % turns.max(1) == turn {
                *cell = mark;
            }
        }
        before = Some(row);
    }
    // A line that ends between two columns still shows its end.
    for end in points.last().into_iter().chain(points.first()) {
        if let (Some(column), Some(row)) = (x.place(end.0), y.place(end.1))
            && canvas[row][column] == ' '
        {
            canvas[row][column] = mark;
        }
    }
}

/// The value of a line at a place across, none outside it.
fn within(points: &[(f64, f64)], at: f64, x: &Axis<'_>) -> Option<f64> {
    let near = (x.to - x.from).abs() * 1e-9;
    let pair = points
        .windows(2)
        .find(|p| p[0].0 - near <= at && at <= p[1].0 + near)?;
    let width = pair[1].0 - pair[0].0;
    let share = if width > 0.0 {
        (at - pair[0].0) / width
    } else {
        0.0
    };
    Some(pair[0].1 + share.clamp(0.0, 1.0) * (pair[1].1 - pair[0].1))
}

fn framed(canvas: &[Vec<char>], x: &Axis<'_>, y: &Axis<'_>) -> Vec<String> {
    let labels: Vec<(usize, String)> = y
        .ticks
        .iter()
        .filter_map(|t| Some((y.place(*t)?, y.label(*t))))
        .collect();
    let width = labels
        .iter()
        .map(|l| l.1.chars().count())
        .max()
        .unwrap_or(0);
    let mut out = vec![y.view.says.to_owned()];
    for (row, cells) in canvas.iter().enumerate().rev() {
        let label = labels.iter().find(|l| l.0 == row);
        let (text, bar) = label.map_or(("", '|'), |l| (l.1.as_str(), '+'));
        let cells: String = cells.iter().collect();
        out.push(format!("{text:>width$} {bar}{cells}").trim_end().to_owned());
    }
    let mut rule = vec!['-'; COLUMNS];
    let mut under = vec![' '; COLUMNS + width + 12];
    let mut free = 0;
    for tick in &x.ticks {
        let Some(column) = x.place(*tick) else {
            continue;
        };
        rule[column] = '+';
        let label: Vec<char> = x.label(*tick).chars().collect();
        let start = (column + width + 2).saturating_sub(label.len() / 2);
        if start < free || start + label.len() > under.len() {
            continue;
        }
        under[start..start + label.len()].copy_from_slice(&label);
        free = start + label.len() + 1;
    }
    let rule: String = rule.iter().collect();
    let under: String = under.iter().collect();
    out.push(format!("{:width$} +{rule}", ""));
    out.push(under.trim_end().to_owned());
    let says = x.view.says;
    let indent = (width + 2 + COLUMNS).saturating_sub(says.chars().count());
    out.push(format!("{:indent$}{says}", ""));
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::view::parts::LineView;
    use crate::view::{Named, nums};

    fn line(label: &str, stated: bool, points: &[(f64, f64)]) -> LineView {
        let column = |of: fn(&(f64, f64)) -> f64| nums(&points.iter().map(of).collect::<Vec<_>>());
        LineView {
            label: label.to_owned(),
            stated,
            points: Named(vec![
                ("x".to_owned(), column(|p| p.0)),
                ("y".to_owned(), column(|p| p.1)),
            ]),
        }
    }

    fn axis(unit: Unit, scale: ScaleView) -> AxisView {
        AxisView {
            column: "x",
            says: "across",
            scale,
            unit,
        }
    }

    #[test]
    fn a_straight_line_runs_from_corner_to_corner_and_lines_keep_their_marks() {
        let curve = CurveView {
            name: "trial",
            title: String::new(),
            x: axis(Unit::Volt, ScaleView::Linear),
            y: axis(Unit::Ampere, ScaleView::Linear),
            lines: vec![
                line("one", false, &[(0.0, 0.0), (1.0, 1.0)]),
                line("two", false, &[(0.0, 0.0), (1.0, 1.0)]),
                line("sheet", true, &[(0.0, 1.0)]),
            ],
        };
        let drawn = plot(&curve);
        assert_eq!(drawn[0], "o one    x two    @ sheet");
        let top = &drawn[2];
        assert!(top.starts_with("   1 A +@"), "{top}");
        assert!(top.ends_with('x') || top.ends_with('o'), "{top}");
        let text = drawn.join("\n");
        assert!(text.contains('o') && text.contains('x'));
        assert!(drawn.iter().all(|l| l.chars().count() <= 76), "{text}");
        assert!(text.contains("200 mV") && text.contains("across"));
    }

    #[test]
    fn ticks_hold_all_values_between_them() {
        for (low, high) in [
            (1.73, 3.31),
            (0.0, 1.0),
            (2.0, 2.0),
            (-5.0, 7.0),
            (0.0, 1e-9),
        ] {
            let ticks = linear_ticks(low, high, 5);
            assert!(ticks[0] <= low + 1e-9 && high - 1e-9 <= *ticks.last().expect("ticks"));
            assert!(ticks.len() < 12, "{ticks:?}");
        }
        assert_eq!(decades(0.0011, 0.9).len(), 4);
        assert_eq!(decades(1.0, 1.0).len(), 2);
    }
}
