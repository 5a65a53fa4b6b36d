//! Waveforms: voltages over time, currents below, with what happens when.

use lastvolt_core::quantity::Unit;
use lastvolt_core::time::Occasion;

use crate::draw::axis::Scale;
use crate::draw::curves::{free_place, trimmed};
use crate::draw::marks::{Mark, ROW, arranged, draw_marks};
use crate::draw::svg::{Anchor, Canvas, shortened};
use crate::draw::traces::{LEAST_VOLTS, MOST_TRACES, Trace, height, range, thinned, trace, volts};
use crate::text::number::{duration, figure, solved};
use crate::text::told::{Told, task_names};

/// What a picture of a waveform shows.
pub(crate) struct WavePicture {
    title: String,
    description: String,
    time: Time,
    /// Voltages by frame: the rail first, with the nets at the sources or above them.
    volts: Vec<Vec<Trace>>,
    amps: Vec<Trace>,
    /// Name, lowest and highest voltage of a working range.
    band: Option<(String, f64, f64)>,
    marks: Vec<Mark>,
    /// When and at how many volts the rail is lowest.
    lowest: Option<(f64, f64)>,
}

/// The axis of time.
#[derive(Debug, Clone, Copy)]
struct Time {
    from: f64,
    to: f64,
    /// A start is over within microseconds and a boot takes tens of milliseconds: decades show both.
    decades: bool,
}

/// One frame of the picture, placed.
struct Frame<'p> {
    top: f64,
    bottom: f64,
    scale: Scale,
    unit: &'static str,
    /// What one of the unit is.
    per: f64,
    traces: &'p [Trace],
    first_class: usize,
}

pub(crate) const WIDTH: f64 = 900.0;
pub(crate) const LEFT: f64 = 62.0;
const RIGHT: f64 = 800.0;
const MIDDLE: f64 = f64::midpoint(LEFT, RIGHT);
const HIGH: f64 = 220.0;
const LOW: f64 = 92.0;
const GAP: f64 = 30.0;
/// A burst that takes less than this share of what was followed is shown with the time after it cut.
const SHORT: f64 = 0.05;

/// The picture of a waveform; `whole` shows all that was followed, also where that is far longer than
/// what happens.
pub(crate) fn picture(told: &Told, whole: bool) -> WavePicture {
    let wave = &told.followed.wave;
    let time = time_of(told, whole);
    let boards: Vec<&str> = told
        .circuit
        .boards()
        .iter()
        .map(|b| b.name.as_str())
        .collect();
    let boards = boards.join(" + ");
    let title = match told.occasion {
        Occasion::Tasks(tasks) => format!("Board {boards}: {}", task_names(tasks)),
        Occasion::Start(_) => format!("Board {boards}: switching on"),
        Occasion::Off { .. } => format!("Board {boards}: off for a moment"),
    };
    let mut description = vec![told.occasion_words()];
    description.extend(told.outcome());
    let lines = told.lines().into_iter();
    let marks = lines.filter(|m| m.time_secs <= time.to).map(|m| Mark {
        class: if m.is_edge { "edge" } else { "event" },
        x: time.at(m.time_secs),
        words: m.words,
    });
    let amps = wave.cells.iter().chain(&wave.supplies).take(MOST_TRACES);
    WavePicture {
        title,
        description: description.join(" "),
        time,
        volts: volts(told.circuit, wave, (time.from, time.to)),
        amps: amps
            .map(|(n, a)| trace(n, wave, a, (time.from, time.to)))
            .collect(),
        band: band(told),
        marks: marks.collect(),
        lowest: told.telling_lowest().map(|l| (l.time_secs, l.volts)),
    }
}

/// From shortly before the first edge to the end, or not so far where nothing more is to be seen.
fn time_of(told: &Told, whole: bool) -> Time {
    let wave = &told.followed.wave;
    let end = wave.time_secs.last().copied().unwrap_or(0.0).max(1e-8);
    let events = wave.happenings.iter().map(|h| h.time_secs);
    if let Occasion::Start(_) = told.occasion {
        let first = events.filter(|t| *t > 0.0).fold(end, f64::min);
        let from = 10f64.powf(first.log10().floor() - 1.0);
        return Time {
            from: from.clamp(1e-8, 1e-2 * end),
            to: end,
            decades: true,
        };
    }
    let last = events.chain(wave.edges_secs.iter().copied());
    let last = last.chain(wave.good_secs).fold(0.0, f64::max);
    let to = if !whole && 0.0 < last && last < SHORT * end {
        (5.0 * last).min(end)
    } else {
        end
    };
    Time {
        from: -0.04 * to,
        to,
        decades: false,
    }
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

impl Time {
    /// Place of an instant.
    fn at(&self, secs: f64) -> f64 {
        if self.decades {
            let from = self.from.log10();
            let scale = Scale::new((from, self.to.log10()), (LEFT, RIGHT));
            scale.at(secs.max(self.from).log10())
        } else {
            Scale::new((self.from, self.to), (LEFT, RIGHT)).at(secs)
        }
    }

    /// Instants with a tick, with words where they have any, and the words of the axis.
    fn ticks(&self) -> (Vec<(f64, String)>, String) {
        if !self.decades {
            let (unit, name) = time_unit(self.to - self.from);
            let scale = Scale::new((self.from / unit, self.to / unit), (LEFT, RIGHT));
            let ticks = scale.ticks(8).into_iter();
            let ticks = ticks.map(|tick| (tick * unit, trimmed(tick)));
            return (ticks.collect(), format!("time in {name}"));
        }
        let mut ticks = Vec::new();
        let mut decade = 10f64.powf(self.from.log10().round());
        while decade <= self.to * 1.001 {
            let (unit, name) = time_unit(decade * 3.0);
            ticks.push((decade, format!("{} {name}", trimmed(decade / unit))));
            let between = (2..10).map(|k| (f64::from(k) * decade, String::new()));
            ticks.extend(between.filter(|(secs, _)| *secs <= self.to));
            decade *= 10.0;
        }
        (ticks, "time after switching on, by decades".to_owned())
    }
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
        let (labels, rows) = arranged(&self.marks);
        #[expect(clippy::cast_precision_loss, reason = "a few rows")]
        let top = 22.0 + ROW * rows as f64;
        let frames = self.frames(top);
        let foot = frames.last().map_or(top, |f| f.bottom);
        let mut canvas = Canvas::new(WIDTH, foot + 46.0, &self.title, &self.description);
        if let Some(rail) = frames.first() {
            self.draw_band(&mut canvas, rail);
        }
        for frame in &frames {
            frame.draw_axis(&mut canvas);
        }
        self.draw_time(&mut canvas, &frames, foot);
        draw_marks(&mut canvas, &self.marks, &labels, (top, foot));
        for frame in &frames {
            self.draw_traces(&mut canvas, frame);
        }
        if let Some(rail) = frames.first() {
            self.name_band(&mut canvas, rail);
            self.draw_lowest(&mut canvas, rail);
        }
        if let (Some(frame), Some(peak)) = (frames.last(), self.cut_peak()) {
            let words = format!("the peak is {}", figure(peak.1, Unit::Ampere));
            let x = self.time.at(peak.0);
            canvas.label_beside("said", x, frame.top + 12.0, MIDDLE, &words);
        }
        canvas
    }

    fn frames(&self, top: f64) -> Vec<Frame<'_>> {
        let mut frames: Vec<Frame> = Vec::new();
        let (mut at, mut first_class) = (top, 0);
        for (nth, traces) in self.volts.iter().enumerate() {
            let bottom = at + if nth == 0 { HIGH } else { LOW };
            let (mut low, high) = range(traces.iter());
            if let Some((_, from, _)) = self.band.as_ref().filter(|_| nth == 0)
                && *from < low
                && low - from < 3.0 * height((low, high))
            {
                low = *from;
            }
            let room = (0.12 * (high - low)).max(0.5 * (LEAST_VOLTS - (high - low)));
            frames.push(Frame {
                top: at,
                bottom,
                scale: Scale::new((low - room, high + room), (bottom, at)),
                unit: "V",
                per: 1.0,
                traces,
                first_class,
            });
            first_class += traces.len();
            at = bottom + GAP;
        }
        if !self.amps.is_empty() {
            frames.push(self.amps_frame(at));
        }
        frames
    }

    fn amps_frame(&self, top: f64) -> Frame<'_> {
        let bottom = top + LOW;
        let (low, high) = range(self.amps.iter());
        let (low, high) = (low.min(0.0), high.max(0.0));
        let usual = self.cut_peak().and_then(|_| self.usual_amps());
        let high = usual.map_or(high, |usual| 1.4 * usual).max(low + 1e-9);
        let (per, unit) = amps_unit(high.max(-low));
        let room = 0.08 * (high - low);
        let below = if low < 0.0 { low - room } else { low };
        Frame {
            top,
            bottom,
            scale: Scale::new((below, high + room), (bottom, top)),
            unit,
            per,
            traces: &self.amps,
            first_class: 0,
        }
    }

    fn draw_band(&self, canvas: &mut Canvas, frame: &Frame) {
        let Some((_, from, to)) = &self.band else {
            return;
        };
        let low = frame.scale.at(*from).clamp(frame.top, frame.bottom);
        let high = frame.scale.at(*to).clamp(frame.top, frame.bottom);
        canvas.rect("band", [LEFT, high, RIGHT - LEFT, low - high]);
        for edge in [low, high] {
            if frame.top < edge && edge < frame.bottom {
                canvas.line("band-edge", [LEFT, edge, RIGHT, edge]);
            }
        }
    }

    /// The words of the band on the side where the lowest point is not.
    fn name_band(&self, canvas: &mut Canvas, frame: &Frame) {
        let Some((words, from, _)) = &self.band else {
            return;
        };
        let low = frame.scale.at(*from);
        let y = (low.min(frame.bottom) - 6.0).max(frame.top + 14.0);
        let words = shortened(words, 60);
        let right = self.lowest.is_some_and(|l| self.time.at(l.0) < MIDDLE);
        let (anchor, x) = if right {
            (Anchor::End, RIGHT - 7.0)
        } else {
            (Anchor::Start, LEFT + 7.0)
        };
        canvas.text("inband", anchor, x, y, &words);
    }

    fn draw_time(&self, canvas: &mut Canvas, frames: &[Frame], foot: f64) {
        let (ticks, name) = self.time.ticks();
        for frame in frames {
            canvas.line("axis", [LEFT, frame.bottom, RIGHT, frame.bottom]);
            for (secs, words) in &ticks {
                let x = self.time.at(*secs);
                let long = if words.is_empty() { 3.0 } else { 6.0 };
                canvas.line("tick", [x, frame.bottom, x, frame.bottom + long]);
            }
        }
        for (secs, words) in ticks.iter().filter(|t| !t.1.is_empty()) {
            let x = self.time.at(*secs);
            canvas.text("label", Anchor::Middle, x, foot + 20.0, words);
        }
        canvas.text("label", Anchor::Middle, MIDDLE, foot + 38.0, &name);
    }

    fn draw_traces(&self, canvas: &mut Canvas, frame: &Frame) {
        const CLASSES: [&str; MOST_TRACES] = ["wave-1", "wave-2", "wave-3", "wave-4"];
        let mut taken: Vec<f64> = Vec::new();
        for (nth, trace) in frame.traces.iter().enumerate() {
            let place = |(t, v): &(f64, f64)| {
                let y = frame.scale.at(*v).clamp(frame.top, frame.bottom);
                (self.time.at(*t), y)
            };
            let points: Vec<(f64, f64)> = trace.points.iter().map(place).collect();
            let class = CLASSES[(frame.first_class + nth) % MOST_TRACES];
            canvas.polyline(class, &thinned(&points));
            let Some(&(x, y)) = points.last() else {
                continue;
            };
            let at = free_place(&taken, y, (frame.top, frame.bottom));
            taken.push(at);
            canvas.line("leader", [x, y, RIGHT + 8.0, at]);
            let name = shortened(&trace.name, 12);
            canvas.text("direct", Anchor::Start, RIGHT + 12.0, at + 4.0, &name);
        }
    }

    /// The largest current and when it flows, where it is so narrow that its frame leaves it out.
    fn cut_peak(&self) -> Option<(f64, f64)> {
        let all = self.amps.iter().flat_map(|t| t.points.iter().copied());
        let peak = all.fold((0.0, 0.0), |most, p| if most.1 < p.1 { p } else { most });
        let usual = self.usual_amps()?;
        (!self.time.decades && 6.0 * usual < peak.1).then_some(peak)
    }

    /// The largest current away from the largest of all.
    fn usual_amps(&self) -> Option<f64> {
        let near = 0.02 * (self.time.to - self.time.from);
        let all = || self.amps.iter().flat_map(|t| t.points.iter());
        let peak = all().max_by(|a, b| a.1.total_cmp(&b.1))?.0;
        let beside = all().filter(|p| near < (p.0 - peak).abs());
        let most = beside.fold(0.0, |m: f64, p| m.max(p.1.abs()));
        (1e-7 < most).then_some(most)
    }

    fn draw_lowest(&self, canvas: &mut Canvas, frame: &Frame) {
        let Some((secs, lowest)) = self.lowest.filter(|l| l.0 <= self.time.to) else {
            return;
        };
        let (x, y) = (self.time.at(secs), frame.scale.at(lowest));
        canvas.dot("lowest", x, y);
        let words = format!(
            "lowest {} at {}",
            solved(lowest, Unit::Volt),
            duration(secs)
        );
        let below = if y + 18.0 < frame.bottom {
            y + 18.0
        } else {
            y - 10.0
        };
        canvas.label_beside("said", x, below, MIDDLE, &words);
    }
}

impl Frame<'_> {
    fn draw_axis(&self, canvas: &mut Canvas) {
        canvas.line("axis", [LEFT, self.top, LEFT, self.bottom]);
        let about = if self.bottom - self.top > 150.0 { 6 } else { 3 };
        let mut ticks = self.scale.ticks(about);
        if ticks.len() < 2 {
            // One figure alone gives no scale.
            ticks = self.scale.ticks(2 * about);
        }
        for tick in ticks {
            let y = self.scale.at(tick);
            canvas.line("grid", [LEFT, y, RIGHT, y]);
            let words = trimmed(tick / self.per);
            canvas.text("label", Anchor::End, LEFT - 7.0, y + 4.0, &words);
        }
        canvas.text("label", Anchor::End, LEFT - 7.0, self.top - 8.0, self.unit);
    }
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
