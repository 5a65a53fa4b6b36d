//! Many lives of one board: what does not hang on its cells is solved once.

use crate::circuit::NoPoint;
use crate::device::CellModel;
use crate::model::{Device, Family};
use crate::progress::Progress;
use crate::time::life::{Bursts, Life, LifeRequest, life_from};
use crate::time::ports::KnownPorts;

/// A request whose lives share the tables of the board.
///
/// Every life is to the last digit what [`life()`](crate::time::life()) gives on its own, however many came
/// before it, except for [`Life::points_solved`], which counts what this life still had to solve.
#[derive(Debug, Clone)]
pub struct Prepared<'a> {
    request: LifeRequest<'a>,
    known: KnownPorts,
}

impl<'a> Prepared<'a> {
    /// Prepares a request; nothing is solved yet.
    #[must_use]
    pub fn new(request: LifeRequest<'a>) -> Self {
        Self {
            request,
            known: KnownPorts::default(),
        }
    }

    /// Prepares a request of which something is known already.
    pub(crate) fn knowing(request: LifeRequest<'a>, known: KnownPorts) -> Self {
        Self { request, known }
    }

    /// What was requested.
    #[must_use]
    pub fn request(&self) -> &LifeRequest<'a> {
        &self.request
    }

    /// The same with bursts taken another way: tables do not hang on that.
    #[must_use]
    pub fn taking(mut self, bursts: Bursts) -> Self {
        self.request.bursts = bursts;
        self
    }

    /// The life as requested.
    ///
    /// # Errors
    /// See [`life()`](crate::time::life()).
    pub fn life(&mut self, progress: &dyn Progress) -> Result<Life, NoPoint> {
        life_from(&self.request, &mut self.known, progress)
    }

    /// The life with other cells: one model for each cell part, in the order of the board; parts for
    /// which none is given keep their own.
    ///
    /// Cells of another highest voltage need tables of their own, which replace those at hand.
    ///
    /// # Errors
    /// See [`life()`](crate::time::life()).
    pub fn life_with(
        &mut self,
        cells: &[CellModel],
        progress: &dyn Progress,
    ) -> Result<Life, NoPoint> {
        let Some(family) = self.with_cells(cells) else {
            return self.life(progress);
        };
        let request = LifeRequest {
            family: &family,
            ..self.request.clone()
        };
        life_from(&request, &mut self.known, progress)
    }

    /// The family with its one board and other cells.
    fn with_cells(&self, cells: &[CellModel]) -> Option<Family> {
        let whole = self.request.family;
        let mut board = whole.board(self.request.board)?.clone();
        let parts = board.parts.iter_mut();
        let parts = parts.filter_map(|part| match &mut part.device {
            Device::Cell(cell) => Some(cell),
            _ => None,
        });
        for (cell, model) in parts.zip(cells) {
            cell.model = model.clone();
        }
        Some(Family {
            name: whole.name.clone(),
            requirement: whole.requirement.clone(),
            connector: whole.connector.clone(),
            loads: whole.loads.clone(),
            profiles: whole.profiles.clone(),
            boards: vec![board],
            accepts: Vec::new(),
        })
    }
}
