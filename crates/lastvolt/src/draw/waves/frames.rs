//! A waveform drawn: frames of voltages one above the other, the currents below, one axis of time.

use lastvolt_core::quantity::Unit;

use crate::draw::axis::{Counts, Scale};
use crate::draw::curves::{draw_bands, name_bands};
use crate::draw::marks::{Arranged, Mark};
use crate::draw::plot::{Plot, key};
use crate::draw::room::spread;
use crate::draw::size::Size;
use crate::draw::svg::{Anchor, Canvas};
use crate::draw::traces::{LEAST_VOLTS, MOST_TRACES, Trace, height, range, thinned};
use crate::draw::waves::{Time, WavePicture};
use crate::draw::words::cut;
use crate::report::typeset;
use crate::text::number::{duration, figure, solved};

/// One frame of the picture, placed.
struct Frame<'p> {
    plot: Plot,
    scale: Scale,
    counts: Counts,
    traces: &'p [Trace],
    first_class: usize,
}

/// A stretch that begins so many times its length after the beginning has ticks of its own.
const FAR: f64 = 20.0;
const LOW: f64 = 92.0;
const GAP: f64 = 30.0;
/// Room for the names of the traces.
const NAMES: f64 = 112.0;
const CLASSES: [&str; MOST_TRACES] = ["wave-1", "wave-2", "wave-3", "wave-4"];

impl Time {
    /// Place of an instant.
    fn at(&self, secs: f64, (left, right): (f64, f64)) -> f64 {
        if self.decades {
            let from = self.from.log10();
            let scale = Scale::new((from, self.to.log10()), (left, right));
            scale.at(secs.max(self.from).log10())
        } else {
            Scale::new((self.from, self.to), (left, right)).at(secs)
        }
    }

    /// Places with a tick, with words where they have any, and the words of the axis.
    fn ticks(&self, plot: &Plot) -> (Vec<(f64, String)>, String) {
        let ends = (plot.left, plot.right);
        if !self.decades {
            return self.straight(plot);
        }
        let mut ticks = Vec::new();
        let mut decade = 10f64.powf(self.from.log10().round());
        while decade <= self.to * 1.001 {
            ticks.push((self.at(decade, ends), decade_words(decade)));
            let between = (2..10).map(|k| f64::from(k) * decade);
            let between = between.filter(|secs| *secs <= self.to);
            ticks.extend(between.map(|secs| (self.at(secs, ends), String::new())));
            decade *= 10.0;
        }
        thin_words(&mut ticks);
        (ticks, "time after switching on, by decades".to_owned())
    }

    /// Ticks at round values; far from the beginning they count from a round instant.
    fn straight(&self, plot: &Plot) -> (Vec<(f64, String)>, String) {
        let span = self.to - self.from;
        let counts = Counts::time(span);
        let (base, after) = self.base(span);
        let scale = Scale::new((self.from - base, self.to - base), (plot.left, plot.right));
        let words = format!("time{after} in {}", counts.name);
        (plot.ticks(&scale, &counts), words)
    }

    /// The instant that ticks count from, and its words.
    fn base(&self, span: f64) -> (f64, String) {
        if self.from < FAR * span {
            return (0.0, String::new());
        }
        let decade = span.log10().floor() + 1.0;
        let digits = (-decade).clamp(0.0, 12.0);
        let step = 10f64.powf(decade);
        let base = (self.from / step).floor() * step;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to a few digits"
        )]
        let digits = digits as usize;
        (base, format!(" after {base:.digits$}\u{a0}s"))
    }
}

/// A power of ten of seconds in words: from a second on in seconds, as it is round in nothing else.
fn decade_words(secs: f64) -> String {
    let counts = Counts::time((3.0 * secs).min(3.0));
    format!("{:.0} {}", secs / counts.per, counts.name)
}

/// Takes the words from ticks that lie too close behind another with words.
fn thin_words(ticks: &mut [(f64, String)]) {
    let mut free = f64::MIN;
    for (x, words) in ticks.iter_mut().filter(|t| !t.1.is_empty()) {
        let half = crate::draw::words::width_of(words, "label") / 2.0;
        if free < *x - half {
            free = *x + half + 8.0;
        } else {
            words.clear();
        }
    }
}

impl WavePicture {
    /// The picture for one width of page.
    pub(crate) fn canvas(&self, size: Size) -> Canvas {
        let (left, right) = size.pick((58.0, size.width() - NAMES), (44.0, size.width() - 24.0));
        let at = |secs: f64| self.time.at(secs, (left, right));
        let moments = self.moments.iter();
        let marks: Vec<Mark> = moments
            .map(|m| Mark {
                class: m.class,
                x: at(m.time_secs),
                words: m.words.clone(),
                within: (left, size.width()),
            })
            .collect();
        let arranged = Arranged::new(&marks, left, size, false);
        let frames = self.frames((left, right), arranged.height() + 22.0, size);
        let Some(last) = frames.last() else {
            return Canvas::sized(size, 40.0, &self.title, &self.description);
        };
        let (top, foot) = (frames[0].plot.top, last.plot.bottom);
        let mut canvas = Canvas::sized(size, foot + 46.0, &self.title, &self.description);
        let bands: &[_] = self.band.as_slice();
        draw_bands(&mut canvas, bands, &frames[0].plot, &frames[0].scale);
        for frame in &frames {
            frame.plot.upright(&mut canvas, &frame.scale, &frame.counts);
        }
        self.draw_time(&mut canvas, &frames);
        arranged.draw(&mut canvas, &marks, (top, foot));
        for frame in &frames {
            self.draw_traces(&mut canvas, frame, size);
        }
        self.draw_lowest(&mut canvas, &frames[0], size);
        name_bands(&mut canvas, bands, &frames[0].plot, &frames[0].scale, size);
        self.name_peak(&mut canvas, last);
        if size == Size::Narrow {
            self.draw_key(&mut canvas, size);
        }
        arranged.list(&mut canvas);
        if self.moves {
            self.tell_time(&mut canvas, (left, right), (top, foot));
        }
        canvas
    }

    /// What scripts need to move in time, and the line that they move.
    fn tell_time(&self, canvas: &mut Canvas, (left, right): (f64, f64), (top, foot): (f64, f64)) {
        canvas.data("time-left", &format!("{left:.1}"));
        canvas.data("time-right", &format!("{right:.1}"));
        canvas.data("time-top", &format!("{top:.1}"));
        canvas.data("time-bottom", &format!("{foot:.1}"));
        canvas.data("time-from-s", &self.time.from.to_string());
        canvas.data("time-to-s", &self.time.to.to_string());
        if self.time.decades {
            canvas.data("time-decades", "");
        }
        canvas.open("class=\"cursor\" display=\"none\"");
        canvas.moving_line("cursor-line", [0.0, top, 0.0, foot]);
        canvas.close();
    }

    fn frames(&self, (left, right): (f64, f64), top: f64, size: Size) -> Vec<Frame<'_>> {
        let plot = |top: f64, bottom: f64| Plot {
            left,
            right,
            top,
            bottom,
        };
        let mut frames: Vec<Frame> = Vec::new();
        let (mut at, mut first_class) = (top, 0);
        for (nth, traces) in self.volts.iter().enumerate() {
            let tall = if nth == 0 {
                size.pick(220.0, 180.0)
            } else {
                LOW
            };
            let bottom = at + tall;
            let (mut low, high) = range(traces.iter());
            if let Some(band) = self.band.as_ref().filter(|_| nth == 0)
                && band.from < low
                && low - band.from < 3.0 * height((low, high))
            {
                low = band.from;
            }
            let room = (0.12 * (high - low)).max(0.5 * (LEAST_VOLTS - (high - low)));
            frames.push(Frame {
                plot: plot(at, bottom),
                scale: Scale::new((low - room, high + room), (bottom, at)),
                counts: Counts::of(2.0, "V"),
                traces,
                first_class,
            });
            first_class += traces.len();
            at = bottom + GAP;
        }
        if !self.amps.is_empty() {
            frames.push(self.amps_frame(plot(at, at + LOW)));
        }
        frames
    }

    fn amps_frame(&self, plot: Plot) -> Frame<'_> {
        let (low, high) = range(self.amps.iter());
        let (low, high) = (low.min(0.0), high.max(0.0));
        let usual = self.cut_peak().and_then(|_| self.usual_amps());
        let high = usual.map_or(high, |usual| 1.4 * usual).max(low + 1e-9);
        let room = 0.08 * (high - low);
        let below = if low < 0.0 { low - room } else { low };
        Frame {
            plot,
            scale: Scale::new((below, high + room), (plot.bottom, plot.top)),
            counts: Counts::of(high.max(-low), "A"),
            traces: &self.amps,
            first_class: 0,
        }
    }

    fn draw_time(&self, canvas: &mut Canvas, frames: &[Frame]) {
        for (nth, frame) in frames.iter().enumerate() {
            let (mut ticks, words) = self.time.ticks(&frame.plot);
            if nth + 1 < frames.len() {
                for (x, _) in &ticks {
                    let y = frame.plot.bottom;
                    canvas.line("tick", [*x, y, *x, y + 5.0]);
                }
                ticks.clear();
            }
            frame.plot.foot(canvas, &ticks);
            if nth + 1 == frames.len() {
                frame.plot.words_below(canvas, &words);
            }
        }
    }

    fn draw_traces(&self, canvas: &mut Canvas, frame: &Frame, size: Size) {
        let plot = &frame.plot;
        let mut ends = Vec::new();
        for (nth, trace) in frame.traces.iter().enumerate() {
            let place = |(t, v): &(f64, f64)| {
                let y = frame.scale.at(*v).clamp(plot.top, plot.bottom);
                (self.time.at(*t, (plot.left, plot.right)), y)
            };
            let points: Vec<(f64, f64)> = trace.points.iter().map(place).collect();
            let class = CLASSES[(frame.first_class + nth) % MOST_TRACES];
            canvas.polyline(class, &thinned(&points));
            if let Some(&end) = points.last() {
                ends.push((end, trace.name.as_str()));
            }
        }
        if size == Size::Narrow {
            return;
        }
        let wanted: Vec<f64> = ends.iter().map(|e| e.0.1).collect();
        let heights = vec![15.5; ends.len()];
        let places = spread(&wanted, &heights, (plot.top - 6.0, plot.bottom + 8.0));
        for (((x, y), name), at) in ends.into_iter().zip(places) {
            canvas.line("leader", [x, y, plot.right + 8.0, at]);
            let name = cut(name, "direct", NAMES - 16.0);
            canvas.text("direct", Anchor::Start, plot.right + 12.0, at + 4.0, &name);
        }
    }

    /// Samples of the traces with their names.
    fn draw_key(&self, canvas: &mut Canvas, size: Size) {
        let volts = self.volts.iter().flatten().enumerate();
        let volts = volts.map(|(nth, t)| (CLASSES[nth % MOST_TRACES], t.name.clone()));
        let amps = self.amps.iter().enumerate();
        let amps = amps.map(|(nth, t)| {
            let words = format!("current of {}", t.name);
            (CLASSES[nth % MOST_TRACES], words)
        });
        let all: Vec<(&str, String)> = volts.chain(amps).collect();
        let all: Vec<(&str, &str)> = all.iter().map(|(c, n)| (*c, n.as_str())).collect();
        key(canvas, &all, (8.0, size.width() - 6.0));
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

    fn name_peak(&self, canvas: &mut Canvas, frame: &Frame) {
        let Some((secs, amps)) = self.cut_peak() else {
            return;
        };
        let plot = &frame.plot;
        let words = typeset(&format!("the peak is {}", figure(amps, Unit::Ampere)));
        let x = self.time.at(secs, (plot.left, plot.right));
        let places = around((x, plot.top + 12.0), plot);
        if !canvas.text_where_free("said", &places, &words) {
            canvas.below("label", &words);
        }
    }

    fn draw_lowest(&self, canvas: &mut Canvas, frame: &Frame, size: Size) {
        let Some((secs, lowest)) = self.lowest.filter(|l| l.0 <= self.time.to) else {
            return;
        };
        let plot = &frame.plot;
        let (x, y) = (
            self.time.at(secs, (plot.left, plot.right)),
            frame.scale.at(lowest).clamp(plot.top, plot.bottom),
        );
        canvas.dot("lowest", x, y);
        let volts = solved(lowest, Unit::Volt);
        let words = match size {
            Size::Wide => format!("lowest {volts} at {}", duration(secs)),
            Size::Narrow => format!("lowest {volts}"),
        };
        let words = typeset(&words);
        if !canvas.text_where_free("said", &around((x, y), plot), &words) {
            canvas.below("label", &words);
        }
    }
}

/// Places round a point of a plot, the nearest first.
fn around((x, y): (f64, f64), plot: &Plot) -> Vec<(Anchor, f64, f64)> {
    let mut places = Vec::new();
    for away in [8.0, 20.0, 60.0, 130.0] {
        for dy in [18.0, -10.0, 34.0, -28.0, 50.0, -46.0, 4.0] {
            let at = y + dy;
            if at - 11.0 < plot.top || plot.bottom - 4.0 < at {
                continue;
            }
            let behind = (Anchor::Start, x + away, at);
            let before = (Anchor::End, x - away, at);
            let both = [behind, before];
            let both = both.into_iter().filter(|(anchor, x, _)| match anchor {
                Anchor::Start => *x < plot.right - 60.0,
                _ => plot.left + 60.0 < *x,
            });
            places.extend(both);
        }
    }
    places
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_decades_are_round() {
        let words = |power: i32| decade_words(10f64.powi(power));
        assert_eq!(words(-8), "10 ns");
        assert_eq!(words(-6), "1 µs");
        assert_eq!(words(-3), "1 ms");
        assert_eq!(words(0), "1 s");
        assert_eq!(words(2), "100 s");
        assert_eq!(words(4), "10000 s");
    }
}
