//! How far a board is from not meeting a need, in the worst joint state that can occur.

use crate::circuit::NoPoint;
use crate::time::engine::{Engine, Instant};
use crate::time::port::Halt;
use crate::time::table::Stopped;

/// The need that is nearest to failing.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Margin {
    /// In volts (or, for an empty cell, in shares of its charge); negative once the need fails.
    pub(crate) volts: f64,
    pub(crate) need: Need,
    /// The joint state, and its place among the worst of the mix.
    pub(crate) joint: usize,
    pub(crate) place: usize,
}

/// What fails.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Need {
    /// A load (by place) falls below its working range.
    Low(usize),
    /// A load (by place) rises above its working range.
    High(usize),
    /// The board stops.
    Running(Stopped),
    /// The available well of a cell part (by place) is empty.
    Charge(usize),
}

impl Engine<'_, '_, '_> {
    /// The lowest margin over the joint states that occur in a mix, each at the end of its steps.
    pub(crate) fn margin(
        &mut self,
        mix: usize,
        states: &[f64],
        cold: bool,
    ) -> Result<Margin, NoPoint> {
        let mut worst = Margin {
            volts: f64::INFINITY,
            need: Need::Charge(0),
            joint: 0,
            place: 0,
        };
        if !cold {
            self.volts = None;
        }
        for place in 0..self.schedule.mixes[mix].worst.len() {
            let joint = self.schedule.mixes[mix].worst[place];
            let (volts, need) = match self.look(mix, Instant::End(place), joint, states, cold) {
                Ok(()) => {
                    if !cold {
                        self.note_volts(joint);
                    }
                    self.nearest(joint)
                }
                // A board that stops has no margin, however little it misses.
                Err(Halt::Stops { short_volts, what }) => {
                    (-short_volts.max(1e-12), Need::Running(what))
                }
                Err(Halt::NoPoint(error)) => return Err(error),
            };
            if volts < worst.volts {
                worst = Margin {
                    volts,
                    need,
                    joint,
                    place,
                };
            }
        }
        Ok(worst)
    }

    /// The nearest need at the instant that was looked at last.
    fn nearest(&self, joint: usize) -> (f64, Need) {
        let mut found = (f64::INFINITY, Need::Charge(0));
        let mut offer = |volts: f64, need: Need| {
            if volts < found.0 {
                found = (volts, need);
            }
        };
        let rails = &self.reading.data[self.ports.powers()..];
        for &(load, from, to) in &self.needs[joint] {
            offer(rails[load] - from, Need::Low(load));
            offer(to - rails[load], Need::High(load));
        }
        for (k, seen) in self.seen.iter().enumerate() {
            offer(1.0 - seen.surface, Need::Charge(k));
        }
        found
    }

    /// Notes cell and rail voltage at base load, and the lowest of each over the worst joint states.
    fn note_volts(&mut self, joint: usize) {
        let cells = self.reading.cell_volts.iter().copied();
        let cell = cells.fold(f64::INFINITY, f64::min);
        let rail = self.reading.data.last().copied().unwrap_or(0.0);
        let volts = self.volts.get_or_insert([cell, rail, cell, rail]);
        if joint == 0 {
            (volts[0], volts[1]) = (cell, rail);
        }
        (volts[2], volts[3]) = (volts[2].min(cell), volts[3].min(rail));
    }
}
