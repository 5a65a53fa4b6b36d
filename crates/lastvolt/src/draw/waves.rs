//! Waveforms: voltages over time, currents below, with what happens when.

mod frames;

#[cfg(test)]
mod window_tests;

use lastvolt_core::time::{Occasion, Waveform};

use crate::draw::curves::Band;
use crate::draw::size::{Size, both};
use crate::draw::traces::{MOST_TRACES, Trace, trace, volts};
use crate::report::typeset;
use crate::text::number::duration;
use crate::text::told::{Line, Told, task_names};

/// What a picture of a waveform shows.
pub(crate) struct WavePicture {
    title: String,
    description: String,
    time: Time,
    /// Voltages by frame: the rail first, with the nets at the sources or above them.
    volts: Vec<Vec<Trace>>,
    amps: Vec<Trace>,
    /// The narrowest working range.
    band: Option<Band>,
    moments: Vec<Moment>,
    /// When and at how many volts the rail is lowest.
    lowest: Option<(f64, f64)>,
    /// A stretch of time that scripts move in, with a line that follows the pointer.
    moves: bool,
}

/// The axis of time.
#[derive(Debug, Clone, Copy)]
struct Time {
    from: f64,
    to: f64,
    /// A start is over within microseconds and a boot takes tens of milliseconds: decades show both.
    decades: bool,
}

/// Least span of an axis of time; also of a wave that is over at once.
const LEAST_SECS: f64 = 1e-6;
/// Least stretch of time that is shown.
const LEAST_SPAN_SECS: f64 = 1e-9;

impl Time {
    /// An axis of decades from before the first event to the end.
    fn decades(first: f64, end: f64) -> Self {
        let from = 10f64.powf(first.log10().floor() - 1.0);
        Self {
            from: from.max(1e-2 * LEAST_SECS).min(1e-2 * end),
            to: end,
            decades: true,
        }
    }
}

fn rail_volts(wave: &Waveform) -> Option<&[f64]> {
    let rail = wave.rail.as_ref()?;
    let own = wave.nets.iter().find(|n| n.0 == *rail)?;
    Some(&own.1)
}

/// When a voltage has first gone a tenth of all that it ever goes.
fn onset(time_secs: &[f64], volts: &[f64]) -> Option<f64> {
    let start = *volts.first()?;
    let away = |v: &f64| (v - start).abs();
    let most = volts.iter().map(away).fold(0.0, f64::max);
    let after = time_secs.iter().zip(volts).filter(|(t, _)| **t > 0.0);
    let mut gone = after.filter(|(_, v)| 0.1 * most <= away(v));
    gone.next().map(|(t, _)| *t)
}

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
    let moments = lines.filter(|m| m.time_secs <= time.to).map(Moment::new);
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
        moments: moments.collect(),
        lowest: told.telling_lowest().map(|l| (l.time_secs, l.volts)),
        moves: false,
    }
}

/// From when to when the picture of what happens goes, and whether by decades.
pub(crate) fn usual(told: &Told) -> (f64, f64, bool) {
    let time = time_of(told, false);
    (time.from, time.to, time.decades)
}

/// The picture of what happens, with the same attributes as that of a stretch; on an axis of decades the
/// attribute `data-time-decades` is there too.
pub(crate) fn live(told: &Told) -> WavePicture {
    WavePicture {
        moves: true,
        ..picture(told, false)
    }
}

/// The picture of a stretch of a waveform on a straight axis of time, all its points in it; what it is read
/// by stands in attributes: `data-time-left` and `data-time-right` where it begins and ends, in pixels,
/// `data-time-from-s` and `data-time-to-s` when.
pub(crate) fn window(told: &Told, from_secs: f64, to_secs: f64) -> WavePicture {
    let whole = picture(told, true);
    let wave = &told.followed.wave;
    let end = wave.time_secs.last().copied().unwrap_or(0.0);
    let time = stretch((from_secs, to_secs), end);
    let ends = (time.from, time.to);
    // The same traces in every stretch; before the first instant all is as it is there.
    let reach = (time.from.min(0.0), end);
    let cut = |trace: Trace| trace.within(ends);
    let volts = volts(told.circuit, wave, reach);
    let amps = wave.cells.iter().chain(&wave.supplies).take(MOST_TRACES);
    let lines = told.lines_within(ends).into_iter();
    WavePicture {
        description: format!(
            "{} From {} to {}.",
            whole.description,
            typeset(&duration(time.from)),
            typeset(&duration(time.to))
        ),
        volts: volts
            .into_iter()
            .map(|frame| frame.into_iter().map(cut).collect())
            .collect(),
        amps: amps.map(|(n, a)| cut(trace(n, wave, a, reach))).collect(),
        moments: lines.map(Moment::new).collect(),
        lowest: whole.lowest.filter(|l| time.from <= l.0 && l.0 <= time.to),
        time,
        moves: true,
        ..whole
    }
}

/// An axis between two instants, inside of what was followed and not without length.
fn stretch((from, to): (f64, f64), end: f64) -> Time {
    let [from, to] = [from, to].map(|secs| if secs.is_finite() { secs } else { 0.0 });
    let (from, to) = (from.min(to), from.max(to));
    let end = end.max(LEAST_SECS);
    let least = LEAST_SPAN_SECS.max(1e-12 * end);
    let from = from.clamp(-0.04 * end, end - least);
    Time {
        from,
        to: to.min(end).max(from + least),
        decades: false,
    }
}

/// From shortly before the first edge to the end, or not so far where nothing more is to be seen.
fn time_of(told: &Told, whole: bool) -> Time {
    let wave = &told.followed.wave;
    let end = wave
        .time_secs
        .last()
        .copied()
        .unwrap_or(0.0)
        .max(LEAST_SECS);
    let events = wave.happenings.iter().map(|h| h.time_secs);
    if let Occasion::Start(_) = told.occasion {
        let events = events.chain(wave.good_secs).filter(|t| *t > 0.0);
        let first = events.reduce(f64::min);
        let first = first.or_else(|| onset(&wave.time_secs, rail_volts(wave)?));
        return Time::decades(first.unwrap_or(end), end);
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
fn band(told: &Told) -> Option<Band> {
    let mut found: Option<Band> = None;
    for (name, load) in told.circuit.loads() {
        if told.followed.wave.rail.as_ref() != Some(&load.plus) {
            continue;
        }
        for need in told.followed.wave.needs.iter().filter(|n| n.load == name) {
            let Some(range) = load.state(&need.state).and_then(|s| load.working_in(s)) else {
                continue;
            };
            let (from, to) = (range.from.as_volts(), range.to.as_volts());
            if found.as_ref().is_none_or(|f| f.from < from) {
                found = Some(Band::of(&format!("{name} in {}", need.state), (from, to)));
            }
        }
    }
    found
}

/// Something that happens at an instant.
struct Moment {
    class: &'static str,
    time_secs: f64,
    words: String,
}

impl Moment {
    fn new(line: Line) -> Self {
        Self {
            class: if line.is_edge { "edge" } else { "event" },
            time_secs: line.time_secs,
            words: line.words,
        }
    }
}

impl WavePicture {
    /// The picture for both widths of page.
    pub(crate) fn draw(&self) -> String {
        both(|size| self.canvas(size))
    }

    /// The picture as a file of its own.
    pub(crate) fn alone(&self) -> String {
        self.canvas(Size::Wide).finish_alone()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_start_without_events_begins_where_the_rail_rises() {
        let time_secs = [0.0, 1e-9, 1e-6, 2e-6, 1.0];
        assert_eq!(onset(&time_secs, &[0.0, 0.1, 1.0, 3.0, 3.0]), Some(1e-6));
        assert_eq!(onset(&time_secs, &[0.0, 0.0, 0.0, 0.0, 3.0]), Some(1.0));
        assert_eq!(onset(&[], &[]), None);
    }

    #[test]
    fn a_start_that_is_over_at_once_has_an_axis() {
        for end in [LEAST_SECS, 3e-6, 2.0] {
            for first in [1e-9, 1e-7, end] {
                let time = Time::decades(first, end);
                assert!(0.0 < time.from && time.from < time.to, "{time:?}");
            }
        }
    }

    #[test]
    fn a_stretch_lies_inside_and_has_a_length() {
        let asked = [
            (0.2, 0.4),
            (0.4, 0.2),
            (-9.0, 9.0),
            (5.0, 6.0),
            (0.3, 0.3),
            (f64::NAN, f64::INFINITY),
        ];
        for (from, to) in asked {
            let time = stretch((from, to), 1.0);
            assert!(time.from < time.to, "{time:?}");
            assert!(-0.04 <= time.from && time.to <= 1.0 + 1e-9, "{time:?}");
        }
        let time = stretch((0.2, 0.4), 1.0);
        assert_eq!((time.from, time.to), (0.2, 0.4));
    }
}
