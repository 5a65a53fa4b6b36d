//! What stands at an instant of the waveform that is shown: the voltages and currents that are drawn.

use std::collections::BTreeMap;

use lastvolt_core::quantity::Unit;
use lastvolt_core::time::Waveform;
use serde::Serialize;

use crate::draw::traces::{MOST_TRACES, volts};
use crate::report::typeset;
use crate::text::number::solved;
use crate::text::told::{first_at, last_at};
use crate::web::burst::section::Shown;
use crate::web::burst::stretch::instant_words;
use crate::web::server::Asked;

/// What stands at an instant.
#[derive(Debug, Serialize)]
pub(crate) struct At {
    /// Texts by their names.
    readings: BTreeMap<String, String>,
    /// For those who listen.
    spoken: String,
}

/// One figure beside the picture.
pub(super) struct Reading {
    pub(super) key: String,
    pub(super) name: String,
    pub(super) text: String,
}

/// What stands at a share of the picture; none where nothing is drawn.
pub(crate) fn at(asked: &Asked, share: f64) -> Option<At> {
    let shown = Shown::new(asked).ok()?;
    let readings = readings(&shown, share);
    Some(At {
        spoken: spoken(&readings),
        readings: readings.into_iter().map(|r| (r.key, r.text)).collect(),
    })
}

/// The instant at a share of the picture, and all that is drawn there.
pub(super) fn readings(shown: &Shown, share: f64) -> Vec<Reading> {
    let secs = shown.stretch.at(share);
    let wave = &shown.followed().wave;
    let mut out = vec![Reading {
        key: "time".to_owned(),
        name: "at".to_owned(),
        text: typeset(&instant_words(secs, shown.stretch)),
    }];
    for name in drawn_nets(shown) {
        let values = wave.nets.iter().find(|n| n.0 == name);
        out.extend(values.map(|(_, volts)| Reading {
            key: format!("net:{name}"),
            text: typeset(&solved(value(wave, volts, secs), Unit::Volt)),
            name,
        }));
    }
    let sources = wave.cells.iter().chain(&wave.supplies).take(MOST_TRACES);
    out.extend(sources.map(|(name, amps)| Reading {
        key: format!("part:{name}"),
        name: format!("current of {name}"),
        text: typeset(&solved(value(wave, amps, secs), Unit::Ampere)),
    }));
    out
}

/// All of it in a sentence.
pub(super) fn spoken(readings: &[Reading]) -> String {
    let each = readings.iter().map(|r| format!("{} {}", r.name, r.text));
    each.collect::<Vec<_>>().join(", ")
}

/// The nets that the picture draws.
fn drawn_nets(shown: &Shown) -> Vec<String> {
    let wave = &shown.followed().wave;
    let reach = if shown.stretch.decades {
        (shown.stretch.from, shown.stretch.to)
    } else {
        (shown.stretch.from.min(0.0), shown.end())
    };
    let frames = volts(&shown.asked.circuit, wave, reach);
    frames.into_iter().flatten().map(|t| t.name).collect()
}

/// A value between two instants that are kept; at a jump the one after it.
fn value(wave: &Waveform, values: &[f64], secs: f64) -> f64 {
    let (before, after) = (last_at(wave, secs), first_at(wave, secs));
    let last = values.len().saturating_sub(1);
    let (a, b) = (before.min(last), after.max(before).min(last));
    let (Some(&from), Some(&to)) = (values.get(a), values.get(b)) else {
        return 0.0;
    };
    let span = wave.time_secs[b] - wave.time_secs[a];
    let share = if span > 0.0 {
        ((secs - wave.time_secs[a]) / span).clamp(0.0, 1.0)
    } else {
        0.0
    };
    from + share * (to - from)
}
