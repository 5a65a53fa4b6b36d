//! `hiccup`: near its end, does a board reset in a burst, recover and reset again?
//!
//! A load in reset takes next to nothing, so the cells recover, it starts and meets the same burst
//! again. Looked for from the end of the life on, first in settled points: the burst resets the load, and
//! from off it starts again. Then the burst is followed through the whole circuit.

use crate::circuit::{History, Situation};
use crate::quantity::Unit;
use crate::review::rules::Rule;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};
use crate::time::{HappeningKind, Occasion, Question, Waveform, deepest_task};

/// Depths to look at, as shares of what is left at the end of the life.
const SHARES: [f64; 7] = [0.0, 0.02, 0.1, 0.25, 0.5, 0.75, 0.95];
/// Bursts that are followed at most.
const MOST_FOLLOWED: usize = 2;

pub(super) struct Hiccup;

impl Rule for Hiccup {
    fn id(&self) -> RuleId {
        "hiccup"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        look(e, self.id()).into_iter().collect()
    }
}

/// A load that resets over and over.
struct Found {
    load: String,
    depth: f64,
    /// Voltage of the load's supply at rest.
    rest_volts: f64,
    /// The cell part that stands for all, and its voltage at rest.
    cell: String,
    cell_volts: f64,
    /// By how much that sags in the burst.
    sag_volts: f64,
}

fn look(e: &Evidence, rule: RuleId) -> Option<Finding> {
    let life = e.lasting_life()?;
    let loads = e.circuit().loads();
    if loads.iter().all(|(_, l)| l.reset.is_none()) {
        return None;
    }
    let mut followed = 0;
    let left = 1.0 - life.end.depth;
    for share in SHARES {
        let depth = life.end.depth + share * left;
        let Some(found) = settled(e, depth) else {
            continue;
        };
        followed += 1;
        if let Some(found) = confirmed(e, found) {
            return finding(e, rule, &found);
        }
        if MOST_FOLLOWED <= followed {
            break;
        }
    }
    None
}

/// Whether the hungriest joint state resets a load that starts again from off.
fn settled(e: &Evidence, depth: f64) -> Option<Found> {
    let base = Situation { depth, ..e.usual() };
    let burst = Situation {
        states: e.worst_states(),
        history: History::Running,
        ..base.clone()
    };
    let cold = Situation {
        history: History::Cold,
        ..base
    };
    let (down, up) = (e.point(&burst)?, e.point(&cold)?);
    let loads = e.circuit().loads();
    let load = loads.iter().find(|(name, load)| {
        let falls = down.load(name).is_some_and(|l| !l.awake);
        load.reset.is_some() && falls && up.load(name).is_some_and(|l| l.awake)
    });
    let (name, _) = load?;
    let (cell, _) = e.cell()?;
    Some(Found {
        load: name.clone(),
        depth,
        rest_volts: up.load(name)?.volts,
        cell: cell.name.clone(),
        cell_volts: up.part(&cell.name)?.volts,
        sag_volts: 0.0,
    })
}

/// Whether the burst, followed through the circuit, resets the load and lets it up again.
fn confirmed(e: &Evidence, found: Found) -> Option<Found> {
    let situation = Situation {
        depth: found.depth,
        ..e.usual()
    };
    let task = deepest_task(e.circuit(), &situation, e.profile?)?;
    let question = Question {
        circuit: e.circuit(),
        situation: &situation,
        cells: None,
        occasion: Occasion::Tasks(vec![task]),
        tail_ns: None,
    };
    let wave = e.follow("hiccup", &question)?;
    let lowest = lowest_volts(e, &wave, &found.cell)?;
    recovers(&wave, &found.load).then(|| Found {
        sag_volts: (found.cell_volts - lowest).max(0.0),
        ..found
    })
}

/// The lowest voltage that a cell part has at its terminals.
fn lowest_volts(e: &Evidence, wave: &Waveform, cell: &str) -> Option<f64> {
    let part = e.board.part(cell)?;
    let of = |pin: &str| {
        let name = e.net_name(part.net(pin)?);
        let net = wave.nets.iter().find(|(n, _)| *n == name);
        Some(net.map(|(_, volts)| volts))
    };
    let (plus, minus) = (of("plus")?, of("minus")?);
    // Ground is no net of a waveform.
    let volts = |net: Option<&Vec<f64>>, at: usize| net.map_or(0.0, |v| v[at]);
    let each = (0..wave.time_secs.len()).map(|at| volts(plus, at) - volts(minus, at));
    each.reduce(f64::min)
}

/// Whether a load resets and comes out of reset again.
fn recovers(wave: &Waveform, load: &str) -> bool {
    let of =
        |kind: HappeningKind| move |h: &&crate::time::Happening| h.kind == kind && h.name == load;
    let reset = wave.happenings.iter().find(of(HappeningKind::Reset));
    let last = wave.happenings.iter().rfind(of(HappeningKind::Release));
    let again = reset.zip(last);
    again.is_some_and(|(reset, release)| reset.time_secs < release.time_secs)
}

fn finding(e: &Evidence, rule: RuleId, found: &Found) -> Option<Finding> {
    let source = e.source_name()?;
    let begins = e.secs_at(found.depth)?;
    let required = e.family.requirement.life.map(|t| t.as_secs());
    let early = required.is_some_and(|secs| begins < secs);
    // What is left at the end of a life that was long enough is nothing to miss.
    let spent = 1.0 - found.depth < e.sensitivity.win_share;
    if spent && required.is_some() && !early {
        return None;
    }
    let load = &found.load;
    Some(Finding {
        situation: Some(Situation {
            depth: found.depth,
            states: e.worst_states(),
            ..e.usual()
        }),
        measured: Some(Figure::new(begins, Unit::Second)),
        limit: required.map(|secs| Figure::new(secs, Unit::Second)),
        says: format!(
            "From about {} on (depth {}) a burst resets {load}, the supply recovers to {}, {load} starts again, \
             and the next burst resets it again.",
            words::span(begins),
            words::percent(found.depth),
            words::volts(found.rest_volts)
        ),
        remedy: format!(
            "let firmware stop its bursts at a low-battery threshold, or switch the supply off by a voltage \
             detector whose hysteresis at {} is wider than the {} by which it recovers",
            found.cell,
            words::volts(found.sag_volts)
        ),
        basis: "reset thresholds of the load; common practice: hysteresis above the recovery"
            .to_owned(),
        ..e.finding(rule, Severity::Note, &[&source])
    })
}
