//! The electrical circuit of one or more boards: assembled, put into a situation, solved.

mod matrix;
mod point;
mod situation;
mod stress;

pub use matrix::{Matrix, MatrixCase, all_powered, case, matrix};
pub use point::{Fold, LoadPoint, Mode, NetPoint, NoPoint, PartPoint, Point};
pub use situation::{History, Situation};
pub use stress::{Stress, WRONG_WAY_VOLTS, stresses};

use crate::device::CellState;
use crate::model::{Board, Family, Load, Part};

/// The boards of a family joined at their connector, ready to be solved in any situation.
///
/// With one board, parts and nets keep their names; with several, they are `board/NAME` except for
/// the nets of the connector.
#[derive(Debug)]
pub struct Circuit<'f> {
    family: &'f Family,
    boards: Vec<&'f Board>,
}

/// What stands for the cells of a circuit, one entry a cell part in circuit order.
#[derive(Debug, Clone, PartialEq)]
pub enum CellDrive {
    /// Rested cells at the depth of the situation.
    Rested,
    /// The given states: for each cell part its cells in series, in order.
    States(Vec<Vec<CellState>>),
    /// Ideal sources of the given voltage at the terminals of each cell part, contacts inside.
    Terminals(Vec<f64>),
}

impl<'f> Circuit<'f> {
    /// Joins the boards of these names.
    ///
    /// # Errors
    /// The name of a board that the family does not have.
    pub fn new(family: &'f Family, boards: &[String]) -> Result<Self, String> {
        let found: Result<Vec<_>, _> = boards
            .iter()
            .map(|b| family.board(b).ok_or_else(|| b.clone()))
            .collect();
        Ok(Self {
            family,
            boards: found?,
        })
    }

    /// The family.
    #[must_use]
    pub fn family(&self) -> &'f Family {
        self.family
    }

    /// The boards.
    #[must_use]
    pub fn boards(&self) -> &[&'f Board] {
        &self.boards
    }

    /// Names and parts in circuit order (the order of [`Point::parts`]).
    #[must_use]
    pub fn parts(&self) -> Vec<(String, &'f Part)> {
        unimplemented!("solver comes next")
    }

    /// Names and loads in circuit order (the order of [`Point::loads`]).
    #[must_use]
    pub fn loads(&self) -> Vec<(String, &'f Load)> {
        unimplemented!("solver comes next")
    }

    /// Solves one situation. `warm` is a point of a neighbouring situation to start from.
    ///
    /// # Errors
    /// See [`NoPoint`]. A converter past its fold is not an error: it is switched off with
    /// [`Mode::Collapsed`] and listed in [`Point::folds`].
    pub fn solve(
        &self,
        _situation: &Situation,
        _cells: &CellDrive,
        _warm: Option<&Point>,
    ) -> Result<Point, NoPoint> {
        unimplemented!("solver comes next")
    }
}
