//! Many operating points of one situation: what only the cells change is set up once.

use crate::circuit::operate::{Detail, Settled, settle};
use crate::circuit::shelf::Shelf;
use crate::circuit::{CellDrive, Circuit, Figures, NoPoint, Point, Situation};

/// Solves one situation of a circuit with one cell drive after the other.
#[derive(Debug)]
pub struct Solver<'c, 'f> {
    circuit: &'c Circuit<'f>,
    situation: Situation,
    shelf: Shelf<'c, 'f>,
}

impl<'c, 'f> Solver<'c, 'f> {
    pub(super) fn new(circuit: &'c Circuit<'f>, situation: Situation) -> Self {
        Self {
            circuit,
            situation,
            shelf: Shelf::default(),
        }
    }

    /// The situation.
    #[must_use]
    pub fn situation(&self) -> &Situation {
        &self.situation
    }

    /// Solves with these cells into `out`, starting from `near`, the figures of a point nearby.
    ///
    /// # Errors
    /// See [`Circuit::solve`]; `out` is then as it was.
    pub fn solve(
        &mut self,
        cells: &CellDrive,
        near: Option<&Figures>,
        out: &mut Figures,
    ) -> Result<(), NoPoint> {
        let start = near.map(|near| near.unknowns.as_slice());
        self.solve_from(cells, start, out)
    }

    /// Solves from where `out` stands.
    ///
    /// # Errors
    /// See [`Circuit::solve`]; `out` is then as it was.
    pub fn follow(&mut self, cells: &CellDrive, out: &mut Figures) -> Result<(), NoPoint> {
        let start = std::mem::take(&mut out.unknowns);
        let solved = self.solve_from(cells, Some(&start), out);
        if solved.is_err() {
            out.unknowns = start;
        }
        solved
    }

    fn settle(
        &mut self,
        cells: &CellDrive,
        start: Option<&[f64]>,
    ) -> Result<Settled<'c, 'f>, NoPoint> {
        let (netlist, detail) = (&self.circuit.netlist, Detail::Explained);
        let shelf = &mut self.shelf;
        settle(netlist, &self.situation, cells, shelf, start, detail)
    }

    /// Solves with these cells, from the unknowns of a point nearby.
    pub(crate) fn solve_from(
        &mut self,
        cells: &CellDrive,
        start: Option<&[f64]>,
        out: &mut Figures,
    ) -> Result<(), NoPoint> {
        let settled = self.settle(cells, start)?;
        out.fill(&self.circuit.netlist, &settled);
        self.shelf.put(settled.kept);
        Ok(())
    }

    /// Solves with these cells into a point with names.
    ///
    /// # Errors
    /// See [`Circuit::solve`].
    pub fn point(&mut self, cells: &CellDrive, near: Option<&Figures>) -> Result<Point, NoPoint> {
        let start = near.map(|near| near.unknowns.as_slice());
        let settled = self.settle(cells, start)?;
        let point = self.circuit.point(&settled, cells);
        self.shelf.put(settled.kept);
        Ok(point)
    }

    /// Solves with these cells as if nothing had been solved before.
    pub(crate) fn alone(
        &self,
        cells: &CellDrive,
        near: Option<&Figures>,
    ) -> Result<Point, NoPoint> {
        let start = near.map(|near| near.unknowns.as_slice());
        self.circuit.solve_from(&self.situation, cells, start)
    }

    /// Notes that what has been set up so far is what every solution begins with.
    pub(crate) fn begin_here(&mut self) {
        self.shelf.begin_here();
    }

    /// Forgets what was set up since, so that the last digits of a solution do not hang on what was
    /// solved before it.
    pub(crate) fn begin(&mut self) {
        self.shelf.begin();
    }
}
