//! Waveforms: voltages over time, currents below, with what happens when.

use lastvolt_core::circuit::Circuit;
use lastvolt_core::model::Device;
use lastvolt_core::quantity::Unit;
use lastvolt_core::time::{Occasion, Waveform};

use crate::draw::axis::Scale;
use crate::draw::curves::{free_place, trimmed};
use crate::draw::svg::{Anchor, Canvas, shortened};
use crate::text::burst::Told;
use crate::text::number::{duration, figure};

/// What a picture of a waveform shows.
pub(crate) struct WavePicture {
    title: String,
    description: String,
    /// First and last instant shown.
    window: (f64, f64),
    volts: Vec<Trace>,
    amps: Vec<Trace>,
    /// Name, lowest and highest voltage of a working range.
    band: Option<(String, f64, f64)>,
    marks: Vec<Mark>,
    /// When and at how many volts the rail is lowest.
    lowest: Option<(f64, f64)>,
}

/// One quantity over time.
struct Trace {
    name: String,
    points: Vec<(f64, f64)>,
}

/// An upright line with words.
struct Mark {
    class: &'static str,
    secs: f64,
    words: String,
}

const WIDTH: f64 = 900.0;
const LEFT: f64 = 62.0;
const RIGHT: f64 = 760.0;
const HIGH_VOLTS: f64 = 230.0;
const HIGH_AMPS: f64 = 96.0;
const GAP: f64 = 30.0;
/// Height of one row of words above the plot.
const ROW: f64 = 16.0;
/// Rows of words at most; what finds no place has its line alone.
const MOST_ROWS: usize = 6;
/// Mean width of a character.
const WIDE: f64 = 6.5;
/// Lines of one frame at most.
const MOST_TRACES: usize = 4;
/// Nets that never part by more than this share of the frame are drawn once.
const SAME: f64 = 0.02;
/// A burst that takes less than this share of what was followed is shown with the time after it cut.
const SHORT: f64 = 0.05;

/// The picture of a waveform; `whole` shows all that was followed, also where that is far longer than
/// what happens.
pub(crate) fn picture(told: &Told, whole: bool) -> WavePicture {
    let wave = &told.followed.wave;
    let window = window(told, whole);
    let boards: Vec<&str> = told.circuit.boards().iter().map(|b| b.name.as_str()).collect();
    let boards = boards.join(" + ");
    let title = match told.occasion {
        Occasion::Tasks(tasks) => {
            format!("Board {boards}: {}", crate::text::burst::task_names(tasks))
        }
        Occasion::Start(_) => format!("Board {boards}: switching on"),
        Occasion::Off { .. } => format!("Board {boards}: off for a moment"),
    };
    let mut description = vec![told.occasion_words()];
    description.extend(told.outcome());
    let marks = told.moments().into_iter().map(|m| Mark {
        class: if m.is_edge { "edge" } else { "event" },
        secs: m.time_secs,
        words: m.words,
    });
    WavePicture {
        title,
        description: description.join(" "),
        window,
        volts: volts(told.circuit, wave, window),
        amps: amps(wave, window),
        band: band(told),
        marks: marks.collect(),
        lowest: wave.lowest.as_ref().map(|l| (l.time_secs, l.volts)),
    }
}

/// From shortly before the first edge to the end, or not so far where nothing more is to be seen.
fn window(told: &Told, whole: bool) -> (f64, f64) {
    let wave = &told.followed.wave;
    let end = wave.time_secs.last().copied().unwrap_or(0.0).max(1e-9);
    let happened = wave.happenings.iter().map(|h| h.time_secs);
    let last = happened.chain(wave.edges_secs.iter().copied());
    let last = last.chain(wave.good_secs).fold(0.0, f64::max);
    let to = if !whole && 0.0 < last && last < SHORT * end {
        (last / SHORT / 4.0).min(end)
    } else {
        end
    };
    let before = match told.occasion {
        Occasion::Start(None) => 0.0,
        _ => 0.04 * to,
    };
    (-before, to)
}

/// The rail first, then the nets at the sources where they part from it.
fn volts(circuit: &Circuit, wave: &Waveform, window: (f64, f64)) -> Vec<Trace> {
    let mut names: Vec<String> = wave.rail.iter().cloned().collect();
    let nets = circuit.parts().into_iter().filter_map(|(name, part)| {
        let source = matches!(part.device, Device::Cell(_) | Device::Supply(_));
        let plus = part.pin("plus").filter(|_| source)?.1.net?;
        let board = circuit
            .boards()
            .iter()
            .find(|b| b.parts.iter().any(|p| std::ptr::eq(p, part)))?;
        let net = board.nets.get(plus)?.clone();
        Some(match name.rsplit_once('/') {
            Some((board, _)) if wave.nets.iter().all(|n| n.0 != net) => format!("{board}/{net}"),
            _ => net,
        })
    });
    names.extend(nets);
    let mut out: Vec<Trace> = Vec::new();
    for name in names {
        let Some((_, values)) = wave.nets.iter().find(|n| n.0 == name) else {
            continue;
        };
        let new = trace(&name, wave, values, window);
        let (low, high) = range(out.iter().chain([&new]));
        let same = |t: &Trace| {
            let apart = t.points.iter().zip(&new.points);
            apart.fold(0.0, |m: f64, (a, b)| m.max((a.1 - b.1).abs()))
                <= SAME * (high - low).max(0.05)
        };
        if out.len() < MOST_TRACES && !out.iter().any(|t| same(t)) {
            out.push(new);
        }
    }
    out
}

/// What the cells give, or the supplies where there are no cells.
fn amps(wave: &Waveform, window: (f64, f64)) -> Vec<Trace> {
    let all = wave.cells.iter().chain(&wave.supplies).take(MOST_TRACES);
    all.map(|(name, values)| trace(name, wave, values, window)).collect()
}

/// The instants of a window, with one at each of its ends.
fn trace(name: &str, wave: &Waveform, values: &[f64], (from, to): (f64, f64)) -> Trace {
    let mut points: Vec<(f64, f64)> = Vec::new();
    if let Some(&first) = values.first().filter(|_| from < 0.0) {
        points.push((from, first));
    }
    for (&secs, &value) in wave.time_secs.iter().zip(values) {
        if secs <= to {
            points.push((secs, value));
        } else if let Some(&(before, last)) = points.last() {
            let share = (to - before) / (secs - before);
            points.push((to, last + share * (value - last)));
            break;
        }
    }
    Trace {
        name: name.to_owned(),
        points,
    }
}

fn range<'t>(traces: impl Iterator<Item = &'t Trace>) -> (f64, f64) {
    let values = traces.flat_map(|t| t.points.iter().map(|p| p.1));
    let (low, high) = values.fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)));
    if low <= high { (low, high) } else { (0.0, 1.0) }
}

/// The narrowest working range that the waveform is held against.
fn band(told: &Told) -> Option<(String, f64, f64)> {
    let mut found: Option<(String, f64, f64)> = None;
    for (name, load) in told.circuit.loads() {
        if told.followed.wave.rail.as_ref() != Some(&load.plus) {
            continue;
        }
        for need in told.followed.wave.needs.iter().filter(|n| n.load == name) {
            let Some(range) = load.state(&need.state).and_then(|s| load.working_in(s)) else {
                continue;
            };
            let (from, to) = (range.from.as_volts(), range.to.as_volts());
            if found.as_ref().is_none_or(|f| f.1 < from) {
                let words = format!(
                    "{name} in {} works from {} to {}",
                    need.state,
                    figure(from, Unit::Volt),
                    figure(to, Unit::Volt)
                );
                found = Some((words, from, to));
            }
        }
    }
    found
}

/// Places of the frames: tops and bottoms.
struct Frames {
    top: f64,
    bottom: f64,
    amps_top: f64,
    amps_bottom: f64,
}

impl WavePicture {
    /// The picture for a page that has the style sheet.
    pub(crate) fn draw(&self) -> String {
        self.canvas().finish()
    }

    /// The picture as a file of its own.
    pub(crate) fn alone(&self) -> String {
        self.canvas().finish_alone()
    }

    fn canvas(&self) -> Canvas {
        let time = Scale::new(self.window, (LEFT, RIGHT));
        let (labels, rows) = self.arranged(&time);
        #[expect(clippy::cast_precision_loss, reason = "a few rows")]
        let top = 22.0 + ROW * rows as f64;
        let bottom = top + HIGH_VOLTS;
        let frames = if self.amps.is_empty() {
            Frames {
                top,
                bottom,
                amps_top: bottom,
                amps_bottom: bottom,
            }
        } else {
            Frames {
                top,
                bottom,
                amps_top: bottom + GAP,
                amps_bottom: bottom + GAP + HIGH_AMPS,
            }
        };
        let height = frames.amps_bottom + 46.0;
        let mut canvas = Canvas::new(WIDTH, height, &self.title, &self.description);
        let volts = self.volts_scale(&frames);
        self.draw_band(&mut canvas, &volts, &frames);
        draw_axis(&mut canvas, &volts, (frames.top, frames.bottom), "V", 1.0);
        self.draw_time(&mut canvas, &time, &frames);
        self.draw_marks(&mut canvas, &time, &labels, &frames);
        draw_traces(&mut canvas, &self.volts, &time, &volts, (frames.top, frames.bottom));
        self.draw_amps(&mut canvas, &time, &frames);
        self.name_band(&mut canvas, &volts, &frames);
        self.draw_lowest(&mut canvas, &time, &volts, &frames);
        canvas
    }

    fn volts_scale(&self, frames: &Frames) -> Scale {
        let (mut low, mut high) = range(self.volts.iter());
        let wide = (high - low).max(0.05);
        if let Some((_, from, _)) = &self.band
            && *from < low
            && low - from < 3.0 * wide
        {
            low = *from;
        }
        let room = (0.12 * (high - low)).max(0.5 * (0.05 - (high - low)));
        (low, high) = (low - room, high + room);
        Scale::new((low, high), (frames.bottom, frames.top))
    }

    fn draw_band(&self, canvas: &mut Canvas, volts: &Scale, frames: &Frames) {
        let Some((_, from, to)) = &self.band else {
            return;
        };
        let low = volts.at(*from).clamp(frames.top, frames.bottom);
        let high = volts.at(*to).clamp(frames.top, frames.bottom);
        canvas.rect("band", [LEFT, high, RIGHT - LEFT, low - high]);
        for edge in [low, high] {
            if frames.top < edge && edge < frames.bottom {
                canvas.line("band-edge", [LEFT, edge, RIGHT, edge]);
            }
        }
    }

    fn name_band(&self, canvas: &mut Canvas, volts: &Scale, frames: &Frames) {
        let Some((words, from, _)) = &self.band else {
            return;
        };
        let low = volts.at(*from);
        let words = shortened(words, 60);
        let (y, class) = if low <= frames.top + 14.0 {
            (frames.top + 14.0, "said")
        } else {
            (low.min(frames.bottom) - 6.0, "inband")
        };
        canvas.text(class, Anchor::Start, LEFT + 7.0, y, &words);
    }

    fn draw_time(&self, canvas: &mut Canvas, time: &Scale, frames: &Frames) {
        let (from, to) = self.window;
        let (unit, name) = time_unit(to - from);
        let ticks = Scale::new((from / unit, to / unit), (LEFT, RIGHT)).ticks(8);
        for bottom in [frames.bottom, frames.amps_bottom] {
            canvas.line("axis", [LEFT, bottom, RIGHT, bottom]);
            for tick in &ticks {
                let x = time.at(tick * unit);
                canvas.line("tick", [x, bottom, x, bottom + 5.0]);
            }
        }
        let foot = frames.amps_bottom;
        for tick in &ticks {
            let x = time.at(tick * unit);
            canvas.text("label", Anchor::Middle, x, foot + 19.0, &trimmed(*tick));
        }
        let middle = f64::midpoint(LEFT, RIGHT);
        let words = format!("time in {name}");
        canvas.text("label", Anchor::Middle, middle, foot + 37.0, &words);
    }

    fn draw_amps(&self, canvas: &mut Canvas, time: &Scale, frames: &Frames) {
        if self.amps.is_empty() {
            return;
        }
        let (low, high) = range(self.amps.iter());
        let (low, high) = (low.min(0.0), high.max(0.0));
        let cut = self.usual_amps().filter(|usual| 6.0 * usual < high);
        let top = cut.map_or(high, |usual| 1.4 * usual).max(low + 1e-9);
        let (unit, name) = amps_unit(top.max(-low));
        let room = 0.08 * (top - low);
        let below = if low < 0.0 { low - room } else { low };
        let ends = (frames.amps_bottom, frames.amps_top);
        let amps = Scale::new((below, top + room), ends);
        let axis = Scale::new((below / unit, (top + room) / unit), ends);
        draw_axis(canvas, &axis, (frames.amps_top, frames.amps_bottom), name, 1.0);
        let frame = (frames.amps_top, frames.amps_bottom);
        draw_traces(canvas, &self.amps, time, &amps, frame);
        if cut.is_some() {
            let words = format!("the peak is {}", figure(high, Unit::Ampere));
            let (secs, _) = self.peak();
            let (x, y) = (time.at(secs), frames.amps_top + 12.0);
            canvas.label_beside("said", x, y, f64::midpoint(LEFT, RIGHT), &words);
        }
    }

    /// The largest current and when it flows.
    fn peak(&self) -> (f64, f64) {
        let all = self.amps.iter().flat_map(|t| t.points.iter().copied());
        all.fold((0.0, 0.0), |most, p| if most.1 < p.1 { p } else { most })
    }

    /// The largest current beside the peak, where that is narrow.
    fn usual_amps(&self) -> Option<f64> {
        let near = 0.02 * (self.window.1 - self.window.0);
        let (at, _) = self.peak();
        let all = self.amps.iter().flat_map(|t| t.points.iter());
        let beside = all.filter(|p| near < (p.0 - at).abs());
        let most = beside.fold(0.0, |m: f64, p| m.max(p.1.abs()));
        (1e-7 < most).then_some(most)
    }

    fn draw_lowest(&self, canvas: &mut Canvas, time: &Scale, volts: &Scale, frames: &Frames) {
        let Some((secs, lowest)) = self.lowest.filter(|l| l.0 <= self.window.1) else {
            return;
        };
        let (x, y) = (time.at(secs), volts.at(lowest));
        canvas.dot("lowest", x, y);
        let words = format!(
            "lowest {} at {}",
            crate::text::number::solved(lowest, Unit::Volt),
            duration(secs)
        );
        let below = if y + 18.0 < frames.bottom { y + 18.0 } else { y - 10.0 };
        canvas.label_beside("said", x, below, f64::midpoint(LEFT, RIGHT), &words);
    }

    fn draw_marks(
        &self,
        canvas: &mut Canvas,
        time: &Scale,
        labels: &[Option<Label>],
        frames: &Frames,
    ) {
        for (mark, label) in self.marks.iter().zip(labels) {
            if self.window.1 < mark.secs {
                continue;
            }
            let x = time.at(mark.secs);
            let Some(label) = label else {
                canvas.line(mark.class, [x, frames.top, x, frames.amps_bottom]);
                continue;
            };
            #[expect(clippy::cast_precision_loss, reason = "a few rows")]
            let y = frames.top - 8.0 - ROW * label.row as f64;
            canvas.line(mark.class, [x, y - 9.0, x, frames.amps_bottom]);
            let (anchor, at) = if label.behind {
                (Anchor::Start, x + 4.0)
            } else {
                (Anchor::End, x - 4.0)
            };
            canvas.text("mark", anchor, at, y, &label.words);
        }
    }

    /// Where the words of each mark stand, and how many rows they take. Edges choose first; what finds
    /// no place where no line runs through it stays without words.
    fn arranged(&self, time: &Scale) -> (Vec<Option<Label>>, usize) {
        let mut placed: Vec<Placed> = Vec::new();
        let mut labels: Vec<Option<Label>> = self.marks.iter().map(|_| None).collect();
        let shown = |m: &Mark| m.secs <= self.window.1;
        let edges_first = ["edge", "event"].into_iter().flat_map(|class| {
            let own = self.marks.iter().enumerate().rev();
            own.filter(move |(_, m)| m.class == class && shown(m))
        });
        for (at, mark) in edges_first {
            let x = time.at(mark.secs);
            let words = shortened(&mark.words, 44);
            #[expect(clippy::cast_precision_loss, reason = "a count of characters")]
            let width = WIDE * words.chars().count() as f64 + 8.0;
            let found = (0..MOST_ROWS).find_map(|row| {
                [true, false].into_iter().find_map(|behind| {
                    let span = if behind { (x, x + width) } else { (x - width, x) };
                    let new = Placed { x, row, span };
                    let fits = 0.0 <= span.0 && span.1 <= WIDTH;
                    (fits && placed.iter().all(|p| p.suits(&new))).then_some((new, behind))
                })
            });
            if let Some((new, behind)) = found {
                labels[at] = Some(Label {
                    row: new.row,
                    behind,
                    words,
                });
                placed.push(new);
            }
        }
        let rows = placed.iter().map(|p| p.row + 1).max().unwrap_or(0);
        (labels, rows)
    }
}

/// Where the words of a mark stand.
struct Label {
    row: usize,
    /// Behind the line, not before it.
    behind: bool,
    words: String,
}

/// A line with its words in place.
struct Placed {
    x: f64,
    row: usize,
    span: (f64, f64),
}

impl Placed {
    /// Whether two stand beside each other without words over words or lines through words.
    fn suits(&self, other: &Self) -> bool {
        let apart = self.span.1 + 6.0 < other.span.0 || other.span.1 + 6.0 < self.span.0;
        let crosses = |line: &Self, words: &Self| {
            words.row <= line.row && words.span.0 - 3.0 < line.x && line.x < words.span.1 + 3.0
        };
        (self.row != other.row || apart) && !crosses(self, other) && !crosses(other, self)
    }
}

fn draw_axis(canvas: &mut Canvas, scale: &Scale, (top, bottom): (f64, f64), unit: &str, per: f64) {
    canvas.line("axis", [LEFT, top, LEFT, bottom]);
    let about = if bottom - top > 150.0 { 6 } else { 3 };
    for tick in scale.ticks(about) {
        let y = scale.at(tick);
        canvas.line("grid", [LEFT, y, RIGHT, y]);
        canvas.text("label", Anchor::End, LEFT - 7.0, y + 4.0, &trimmed(tick / per));
    }
    canvas.text("label", Anchor::End, LEFT - 7.0, top - 8.0, unit);
}

fn draw_traces(
    canvas: &mut Canvas,
    traces: &[Trace],
    time: &Scale,
    scale: &Scale,
    (top, bottom): (f64, f64),
) {
    const CLASSES: [&str; MOST_TRACES] = ["wave-1", "wave-2", "wave-3", "wave-4"];
    let mut taken: Vec<f64> = Vec::new();
    for (trace, class) in traces.iter().zip(CLASSES) {
        let points = trace.points.iter();
        let points: Vec<(f64, f64)> = points
            .map(|(t, v)| (time.at(*t), scale.at(*v).clamp(top, bottom)))
            .collect();
        canvas.polyline(class, &thinned(&points));
        let Some(&(x, y)) = points.last() else {
            continue;
        };
        let at = free_place(&taken, y, (top, bottom));
        taken.push(at);
        canvas.line("leader", [x, y, RIGHT + 8.0, at]);
        let name = shortened(&trace.name, 18);
        canvas.text("direct", Anchor::Start, RIGHT + 12.0, at + 4.0, &name);
    }
}

/// At most four points for each half of a unit of width: first, lowest, highest and last.
fn thinned(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let column = |x: f64| (2.0 * x).floor();
    let mut out: Vec<(f64, f64)> = Vec::new();
    let mut at = 0;
    while at < points.len() {
        let own = column(points[at].0);
        let more = points[at..].iter().take_while(|p| column(p.0) == own);
        let end = at + more.count();
        if end - at <= 4 {
            out.extend(&points[at..end]);
        } else {
            let inner = at + 1..end - 1;
            let low = inner.clone().min_by(|a, b| points[*a].1.total_cmp(&points[*b].1));
            let high = inner.max_by(|a, b| points[*a].1.total_cmp(&points[*b].1));
            let (a, b) = (low.unwrap_or(at), high.unwrap_or(at));
            out.extend([at, a.min(b), a.max(b), end - 1].map(|k| points[k]));
        }
        at = end;
    }
    out
}

/// The unit in which a span of time reads well.
fn time_unit(secs: f64) -> (f64, &'static str) {
    match secs {
        s if s < 2e-6 => (1e-9, "ns"),
        s if s < 2e-3 => (1e-6, "µs"),
        s if s < 2.0 => (1e-3, "ms"),
        s if s < 7200.0 => (1.0, "s"),
        s if s < 200_000.0 => (3600.0, "hours"),
        _ => (86_400.0, "days"),
    }
}

/// The unit in which a current reads well.
fn amps_unit(amps: f64) -> (f64, &'static str) {
    match amps {
        a if a < 1.5e-6 => (1e-9, "nA"),
        a if a < 1.5e-3 => (1e-6, "µA"),
        a if a < 1.5 => (1e-3, "mA"),
        _ => (1.0, "A"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thinning_keeps_what_stands_out() {
        let points: Vec<(f64, f64)> = (0..10_000)
            .map(|k| {
                let x = f64::from(k) / 100.0;
                (x, if k == 5003 { 7.0 } else { f64::from(k % 3) })
            })
            .collect();
        let thin = thinned(&points);
        assert!(thin.len() <= 4 * 201, "{}", thin.len());
        assert!(thin.contains(&(50.03, 7.0)));
        assert_eq!(thin.last(), points.last());
        assert!(thin.windows(2).all(|w| w[0].0 <= w[1].0));
    }

    #[test]
    fn words_of_marks_do_not_cover_each_other() {
        let new = |x: f64, row: usize| Placed {
            x,
            row,
            span: (x, x + 60.0),
        };
        assert!(!new(0.0, 0).suits(&new(30.0, 0)), "words over words");
        assert!(!new(0.0, 0).suits(&new(30.0, 1)), "a line through words");
        assert!(new(0.0, 1).suits(&new(30.0, 0)));
    }
}
