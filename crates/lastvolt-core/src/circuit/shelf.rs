//! Systems of one situation, kept with their buffers from one solution to the next.

use crate::circuit::build::{Flags, System};
use crate::circuit::netlist::{Net, Netlist};
use crate::circuit::newton::{Failure, Solution, Work};
use crate::circuit::{CellDrive, NoPoint, Situation};

/// A system with everything that its solutions share.
#[derive(Debug)]
pub(crate) struct Kept<'c, 'f> {
    pub(crate) flags: Flags,
    pub(crate) system: System<'c, 'f>,
    /// Nets that stand for islands.
    islands: Vec<Net>,
    work: Work,
    /// Whether it belongs to what every solution begins with.
    is_first: bool,
}

/// The systems of one situation that have been solved, by their flags.
#[derive(Debug, Default)]
pub(crate) struct Shelf<'c, 'f> {
    kept: Vec<Kept<'c, 'f>>,
}

/// Systems on a shelf beside the first ones.
const MOST_KEPT: usize = 8;

impl<'c, 'f> Kept<'c, 'f> {
    fn new(system: System<'c, 'f>, flags: &Flags) -> Self {
        Self {
            flags: flags.clone(),
            islands: system.pins_for_islands(&[]),
            work: Work::new(&system),
            is_first: false,
            system,
        }
    }

    /// Solves from a start.
    pub(crate) fn solve(&mut self, start: &[f64]) -> Result<Solution, Failure> {
        self.system
            .solve(Some(start), &self.islands, &mut self.work)
    }

    /// Solves by plain steps from a start near the solution, or not at all.
    pub(crate) fn solve_near(&mut self, start: &[f64]) -> Result<Solution, Failure> {
        self.system.solve_near(start, &self.islands, &mut self.work)
    }
}

impl<'c, 'f> Shelf<'c, 'f> {
    /// Takes the system with these flags from the shelf, or makes it.
    pub(crate) fn take(
        &mut self,
        netlist: &'c Netlist<'f>,
        situation: &Situation,
        cells: &CellDrive,
        flags: &Flags,
    ) -> Result<Kept<'c, 'f>, NoPoint> {
        if let Some(at) = self.kept.iter().position(|kept| kept.flags == *flags) {
            let mut kept = self.kept.swap_remove(at);
            if kept.system.set_cells(situation, cells) {
                kept.islands = kept.system.pins_for_islands(&[]);
            }
            return Ok(kept);
        }
        let system = System::new(netlist, situation, cells, flags)?;
        Ok(Kept::new(system, flags))
    }

    /// Puts a system on the shelf, where there is room.
    pub(crate) fn put(&mut self, kept: Kept<'c, 'f>) {
        if kept.is_first || self.kept.len() < MOST_KEPT {
            self.kept.push(kept);
        }
    }

    /// Notes that the cells may have changed since the last question.
    pub(crate) fn begin_question(&mut self) {
        for kept in &mut self.kept {
            kept.work.forget_dead_ends();
        }
    }

    /// Notes that what is on the shelf now is what every solution begins with.
    pub(crate) fn begin_here(&mut self) {
        for kept in &mut self.kept {
            kept.is_first = true;
            kept.work.keep_order();
        }
    }

    /// Returns to what was noted, so that the last digits of a solution do not hang on what was
    /// solved before it.
    pub(crate) fn begin(&mut self) {
        self.kept.retain(|kept| kept.is_first);
        for kept in &mut self.kept {
            kept.work.return_to_order();
        }
    }
}
