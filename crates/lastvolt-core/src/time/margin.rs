//! How far a board is from not meeting a need, in the worst joint state that can occur.

use crate::circuit::NoPoint;
use crate::time::engine::{Engine, Instant};
use crate::time::port::Halt;
use crate::time::swing::At;
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

/// The static end of a joint state.
#[derive(Debug, Clone, Copy)]
struct End {
    joint: usize,
    place: usize,
    /// What a burst that is followed may put right: loads that fall low, a board that stops.
    low: (f64, Need),
    /// What it does not change: loads that rise high, cells that are empty.
    other: (f64, Need),
    /// Lowest cell, and the rail where the board runs.
    cell_volts: f64,
    rail_volts: Option<f64>,
}

impl Engine<'_, '_, '_> {
    /// The lowest margin over the joint states that occur in a mix, each at the end of its steps, with
    /// what following its burst adds to that.
    pub(crate) fn margin(
        &mut self,
        mix: usize,
        states: &[f64],
        cold: bool,
    ) -> Result<Margin, NoPoint> {
        self.set_lags(mix, states, cold);
        let mut ends = Vec::with_capacity(self.schedule.mixes[mix].worst.len());
        for place in 0..self.schedule.mixes[mix].worst.len() {
            ends.push(self.static_end(mix, place, states, cold)?);
        }
        let bursts = self.bursts(mix, &ends, states, cold);
        if !cold {
            self.note_volts(&ends, &bursts);
        }
        let mut worst = Margin {
            volts: f64::INFINITY,
            need: Need::Charge(0),
            joint: 0,
            place: 0,
        };
        for (end, beyond) in ends.iter().zip(&bursts) {
            for (volts, need) in [(end.low.0 + beyond, end.low.1), end.other] {
                if volts < worst.volts {
                    worst = Margin {
                        volts,
                        need,
                        joint: end.joint,
                        place: end.place,
                    };
                }
            }
        }
        Ok(worst)
    }

    fn static_end(
        &mut self,
        mix: usize,
        place: usize,
        states: &[f64],
        cold: bool,
    ) -> Result<End, NoPoint> {
        let joint = self.schedule.mixes[mix].worst[place];
        let looked = self.look(mix, Instant::End(place), joint, states, cold);
        let mut end = End {
            joint,
            place,
            low: (f64::INFINITY, Need::Charge(0)),
            other: (f64::INFINITY, Need::Charge(0)),
            cell_volts: f64::INFINITY,
            rail_volts: None,
        };
        for (k, seen) in self.seen.iter().enumerate() {
            nearer(&mut end.other, 1.0 - seen.surface, Need::Charge(k));
            let inner = seen.open_volts - seen.branches_volts;
            end.cell_volts = end.cell_volts.min(inner);
        }
        match looked {
            Ok(()) => {
                let rails = &self.reading.data[self.ports.powers()..];
                for &(load, from, to) in &self.needs[joint] {
                    nearer(&mut end.low, rails[load] - from, Need::Low(load));
                    nearer(&mut end.other, to - rails[load], Need::High(load));
                }
                let cells = self.reading.cell_volts.iter().copied();
                end.cell_volts = cells.fold(f64::INFINITY, f64::min);
                end.rail_volts = rails.last().copied();
            }
            // A board that stops has no margin, however little it misses.
            Err(Halt::Stops { short_volts, what }) => {
                end.low = (-short_volts.max(1e-12), Need::Running(what));
            }
            Err(Halt::NoPoint(error)) => return Err(error),
        }
        Ok(end)
    }

    /// What following the burst of each end adds to its margin; all ends of one burst share that of
    /// the worst.
    fn bursts(&mut self, mix: usize, ends: &[End], states: &[f64], cold: bool) -> Vec<f64> {
        let mut beyond = vec![0.0; ends.len()];
        if !self.has_swings {
            return beyond;
        }
        let of = |this: &Self, end: &End| this.swings.of_joint(end.joint);
        let mut order: Vec<&End> = ends.iter().filter(|e| e.low.0.is_finite()).collect();
        order.sort_by(|a, b| a.low.0.total_cmp(&b.low.0));
        let mut done: Vec<usize> = Vec::new();
        let mut floor = f64::INFINITY;
        for worst in order {
            let Some(burst) = of(self, worst).filter(|b| !done.contains(b)) else {
                continue;
            };
            done.push(burst);
            let at = At {
                margin_volts: worst.low.0,
                cell_volts: worst.cell_volts,
                stops: worst.rail_volts.is_none(),
            };
            let swing = self.swing(mix, burst, at, states, (cold, floor));
            floor = floor.min(at.margin_volts + swing);
            for (end, beyond) in ends.iter().zip(&mut beyond) {
                if of(self, end) == Some(burst) {
                    *beyond = swing;
                }
            }
        }
        beyond
    }

    /// Notes cell and rail voltage at base load, and the lowest of each over the worst joint states.
    fn note_volts(&mut self, ends: &[End], bursts: &[f64]) {
        self.volts = None;
        for (end, beyond) in ends.iter().zip(bursts) {
            let Some(rail) = end.rail_volts else { continue };
            let cell = end.cell_volts;
            let volts = self.volts.get_or_insert([cell, rail, cell, rail]);
            if end.joint == 0 {
                (volts[0], volts[1]) = (cell, rail);
            }
            (volts[2], volts[3]) = (volts[2].min(cell), volts[3].min(rail + beyond));
        }
    }
}

fn nearer(nearest: &mut (f64, Need), volts: f64, need: Need) {
    if volts < nearest.0 {
        *nearest = (volts, need);
    }
}
