//! Until when in its life a board can be switched on again: from off, through inrush, start and boot.
//!
//! Starts are followed as waveforms with cells that have rested at the depth and with the age that the
//! life gives them. A board that starts where its life ends starts everywhere before; else the depth
//! from which on it does not is found by halving.

use crate::circuit::{Circuit, History, NoPoint, Situation};
use crate::device::{CellModel, CellState};
use crate::model::Device;
use crate::progress::Progress;
use crate::quantity::Temperature;
use crate::time::burst::{
    HappeningKind, NoWave, Occasion, Question, Waveform, off_position, rested,
};
use crate::time::site::SHELF_CELSIUS;
use crate::time::{Climate, Life, LifeRequest};

/// Halvings of the depth.
const HALVINGS: usize = 7;
/// The life ends at its last depth: a start is looked at just before.
const JUST_BEFORE: f64 = 0.999;

/// Until when a board can be switched on again.
#[derive(Debug, Clone, PartialEq)]
pub enum Restart {
    /// To the end of its life.
    Always,
    /// Not even with fresh cells.
    Never(Hang),
    /// Up to an instant of its life.
    Until {
        /// The instant in seconds.
        time_secs: f64,
        /// Depth of the most used cell then.
        depth: f64,
        /// What happens from then on.
        hang: Hang,
    },
}

/// What happens where a board does not start.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Hang {
    /// It starts, falls off and starts again; the load or part that does.
    Hiccup(String),
    /// This load never leaves reset.
    InReset(String),
    /// This converter comes on and never reaches its output.
    Converter(String),
    /// The rail stays below what this load needs.
    Low(String),
    /// No waveform could be followed.
    Unknown,
}

/// Until when a board can be switched on again, at the ambient of its life and in the cold.
#[derive(Debug, Clone, PartialEq)]
pub struct Restarts {
    /// At the ambient of the life, or the mean of its calendar.
    pub usual: Restart,
    /// The lowest ambient and the answer there, where it is lower.
    pub cold: Option<(Temperature, Restart)>,
}

/// Until when the board of a request can be switched on again, at the ambient of its life and at the
/// lowest; none where its life has no end or no start can be looked at.
#[must_use]
pub fn restarts(request: &LifeRequest, life: &Life, progress: &dyn Progress) -> Option<Restarts> {
    let usual = request.ambient.mean();
    let low = request.family.requirement.ambient.low;
    let at = |ambient: Temperature| restart(request, life, ambient, progress).ok()?;
    Some(Restarts {
        usual: at(usual)?,
        cold: (low < usual).then(|| Some((low, at(low)?))).flatten(),
    })
}

/// Until when the board of a request can be switched on again in a life that was computed for it, at
/// an ambient.
///
/// # Errors
/// A board or profile that the family does not have, or no point to begin from.
pub fn restart(
    request: &LifeRequest,
    life: &Life,
    ambient: Temperature,
    progress: &dyn Progress,
) -> Result<Option<Restart>, NoPoint> {
    let Some(life_secs) = life.life_secs.filter(|secs| *secs > 0.0) else {
        return Ok(None);
    };
    let boards = [request.board.to_owned()];
    let unknown = |what: String| NoPoint::Unknown { what };
    let circuit =
        Circuit::new(request.family, &boards).map_err(|board| unknown(format!("board {board}")))?;
    let profile = request
        .profile
        .and_then(|name| request.family.profile(name));
    let mut situation = Situation::usual(request.family, &boards, profile);
    situation.positions.extend(request.positions.clone());
    situation.ambient = ambient;
    situation.history = History::Cold;
    let starts = Starts {
        circuit: &circuit,
        situation,
        climate: request.ambient,
        life,
        progress,
    };
    let first = life.trace.depth.first().copied().unwrap_or(0.0);
    let last = first + JUST_BEFORE * (life.end.depth - first);
    let Some(mut hang) = starts.hang(last) else {
        return Ok(Some(Restart::Always));
    };
    if let Some(hang) = starts.hang(first) {
        // What could not be followed says nothing.
        return Ok((hang != Hang::Unknown).then_some(Restart::Never(hang)));
    }
    let (mut good, mut bad) = (first, last);
    for _ in 0..HALVINGS {
        let depth = f64::midpoint(good, bad);
        match starts.hang(depth) {
            Some(found) => (bad, hang) = (depth, found),
            None => good = depth,
        }
    }
    if hang == Hang::Unknown {
        return Ok(None);
    }
    Ok(Some(Restart::Until {
        time_secs: starts.secs_at(good).min(life_secs),
        depth: good,
        hang,
    }))
}

struct Starts<'a, 'f> {
    circuit: &'a Circuit<'f>,
    situation: Situation,
    climate: Climate<'a>,
    life: &'a Life,
    progress: &'a dyn Progress,
}

impl Starts<'_, '_> {
    /// What keeps the board from starting at a depth, if anything does.
    fn hang(&self, depth: f64) -> Option<Hang> {
        let mut situation = self.situation.clone();
        situation.depth = depth;
        let question = Question {
            circuit: self.circuit,
            situation: &situation,
            cells: Some(self.cells(depth)),
            occasion: Occasion::Start(off_position(self.circuit, &situation)),
            tail_ns: None,
        };
        match question.follow(self.progress) {
            Ok(followed) if followed.wave.good_secs.is_some() && followed.wave.hiccup.is_none() => {
                None
            }
            Ok(followed) => Some(hang_of(&followed.wave)),
            Err(NoWave::Oscillates { what, .. }) => Some(Hang::Hiccup(what)),
            Err(_) => Some(Hang::Unknown),
        }
    }

    /// Cells rested at a depth, as old as they are by then.
    fn cells(&self, depth: f64) -> Vec<Vec<CellState>> {
        let secs = self.secs_at(depth);
        let shelf_secs = self.life.shelf.map_or(0.0, |shelf| shelf.secs);
        let mut cells = rested(self.circuit, depth);
        let parts = self.circuit.parts().into_iter();
        let models = parts.filter_map(|(_, part)| match &part.device {
            Device::Cell(cell) => Some(&cell.model),
            _ => None,
        });
        for (states, model) in cells.iter_mut().zip(models) {
            for state in states {
                let shelf = model.ageing_per_sec(SHELF_CELSIUS) * shelf_secs;
                state.aged = shelf + self.ageing_per_sec(model) * secs;
            }
        }
        cells
    }

    /// Growth of the resistance per second in the life, over the months of its calendar.
    fn ageing_per_sec(&self, model: &CellModel) -> f64 {
        match self.climate.months() {
            None => model.ageing_per_sec(self.climate.mean().as_celsius()),
            Some(months) => {
                let each = months.celsius.iter().map(|c| model.ageing_per_sec(*c));
                each.sum::<f64>() / months.celsius.len() as f64
            }
        }
    }

    /// When the life reaches a depth.
    fn secs_at(&self, depth: f64) -> f64 {
        let trace = &self.life.trace;
        let next = trace.depth.partition_point(|d| *d <= depth);
        let end = self.life.life_secs.unwrap_or(0.0);
        let (Some(before), Some(&to)) = (next.checked_sub(1), trace.depth.get(next)) else {
            return if next == 0 { 0.0 } else { end };
        };
        let (from, start) = (trace.depth[before], trace.time_secs[before]);
        let share = if to > from {
            (depth - from) / (to - from)
        } else {
            0.0
        };
        start + share * (trace.time_secs[next] - start)
    }
}

/// What a start that never becomes good does.
fn hang_of(wave: &Waveform) -> Hang {
    let last = |kind: HappeningKind| wave.happenings.iter().rfind(|h| h.kind == kind);
    if wave.hiccup.is_some() {
        let falls = [
            HappeningKind::Collapses,
            HappeningKind::Off,
            HappeningKind::Reset,
        ];
        let fallen = falls.into_iter().find_map(last);
        return fallen.map_or(Hang::Unknown, |h| Hang::Hiccup(h.name.clone()));
    }
    let on = last(HappeningKind::On);
    let regulates = |name: &str| {
        let mut later = wave.happenings.iter();
        later.any(|h| h.kind == HappeningKind::Regulates && h.name == name)
    };
    if let Some(on) = on.filter(|h| !regulates(&h.name)) {
        return Hang::Converter(on.name.clone());
    }
    let spare = |n: &&crate::time::NeedSeen| n.lowest_volts - n.from_volts;
    let lowest = wave
        .needs
        .iter()
        .min_by(|a, b| spare(a).total_cmp(&spare(b)));
    let released = |load: &str| {
        let mut all = wave.happenings.iter();
        all.any(|h| h.kind == HappeningKind::Release && h.name == load)
    };
    match lowest {
        Some(need) if !released(&need.load) && has_reset(wave, &need.load) => {
            Hang::InReset(need.load.clone())
        }
        Some(need) => Hang::Low(need.load.clone()),
        None => Hang::Unknown,
    }
}

/// Whether a load that was never good was below its range all the time, as one in reset is.
fn has_reset(wave: &Waveform, load: &str) -> bool {
    let whole = wave.time_secs.last().copied().unwrap_or(0.0);
    let mut needs = wave.needs.iter();
    needs.any(|n| n.load == load && n.below_secs >= 0.999 * whole)
}
