//! How far a board is from not meeting a need, in the worst joint state that can occur.

use crate::device::CellState;
use crate::model::Load;
use crate::time::bank::{Bank, Stopped};
use crate::time::port::{Port, Reading, Stopper};
use crate::time::schedule::Regime;

/// The need that is nearest to failing.
#[derive(Debug, Clone)]
pub(crate) struct Margin {
    /// In volts (or, for an empty cell, in tenths of its charge); negative once the need fails.
    pub(crate) volts: f64,
    pub(crate) need: Need,
    /// The joint state.
    pub(crate) joint: usize,
    /// The instant, where the board runs.
    pub(crate) reading: Option<Reading>,
    /// The cells at that instant, bursts included.
    pub(crate) cells: Vec<CellState>,
}

/// What fails.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Need {
    /// A load (by place) falls below its working range.
    Low(usize),
    /// A load (by place) rises above its working range.
    High(usize),
    /// A converter stops.
    Converter(String),
    /// The available well of a cell part (by place) is empty.
    Charge(usize),
}

/// The lowest margin over the joint states that occur in a regime, each at the end of its step.
pub(crate) fn margin(
    bank: &Bank,
    port: &Port,
    regime: &Regime,
    cells: &[CellState],
    loads: &[(String, &Load)],
) -> Result<Margin, crate::circuit::NoPoint> {
    let waves = match bank.waves(regime, cells, port) {
        Ok(waves) => waves,
        Err(Stopped::NoPoint(error)) => return Err(error),
        Err(Stopped::Joint {
            joint,
            short_volts,
            what,
        }) => {
            return Ok(stopped(joint, short_volts, &what, cells));
        }
    };
    let mut worst: Option<Margin> = None;
    for joint in bank.schedule.occurring(regime) {
        let rippled = bank.rippled(cells, &waves, joint, |r| r.end, true);
        let found = match bank.read(port, joint, &rippled) {
            Ok(reading) => at_instant(bank, joint, reading, rippled, loads),
            Err(Stopped::NoPoint(error)) => return Err(error),
            Err(Stopped::Joint {
                joint,
                short_volts,
                what,
            }) => stopped(joint, short_volts, &what, &rippled),
        };
        if worst.as_ref().is_none_or(|w| found.volts < w.volts) {
            worst = Some(found);
        }
    }
    Ok(worst.unwrap_or_else(|| Margin {
        volts: f64::MAX,
        need: Need::Charge(0),
        joint: 0,
        reading: None,
        cells: cells.to_vec(),
    }))
}

/// The margin of a board that does not run.
pub(crate) fn stopped(
    joint: usize,
    short_volts: f64,
    what: &Stopper,
    cells: &[CellState],
) -> Margin {
    let need = match what {
        Stopper::Converter(name) => Need::Converter(name.clone()),
        Stopper::Load(at) => Need::Low(*at),
    };
    // A board that stops has no margin, however little it misses.
    let volts = -short_volts.max(1e-12);
    Margin {
        volts,
        need,
        joint,
        reading: None,
        cells: cells.to_vec(),
    }
}

fn at_instant(
    bank: &Bank,
    joint: usize,
    reading: Reading,
    cells: Vec<CellState>,
    loads: &[(String, &Load)],
) -> Margin {
    let mut volts = f64::MAX;
    let mut need = Need::Charge(0);
    let mut offer = |value: f64, what: Need| {
        if value < volts {
            volts = value;
            need = what;
        }
    };
    for (at, (name, load)) in loads.iter().enumerate() {
        let Some(working) = load.working_in(bank.state_of(joint, name, load)) else {
            continue;
        };
        offer(reading.rails[at] - working.from.as_volts(), Need::Low(at));
        offer(working.to.as_volts() - reading.rails[at], Need::High(at));
    }
    for (k, (group, cell)) in bank.groups.iter().zip(&cells).enumerate() {
        let x = group.cell.model.surface(cell.depth, cell.imbalance);
        offer(10.0 * (1.0 - x), Need::Charge(k));
    }
    Margin {
        volts,
        need,
        joint,
        reading: Some(reading),
        cells,
    }
}

impl Bank<'_, '_, '_> {
    /// Place of the state that a load is in.
    pub(crate) fn state_of(&self, joint: usize, name: &str, load: &Load) -> usize {
        let set = self.schedule.joints[joint].set.get(name);
        let state = set.or_else(|| self.base_states.get(name));
        state.and_then(|s| load.state(s)).unwrap_or(0)
    }
}
