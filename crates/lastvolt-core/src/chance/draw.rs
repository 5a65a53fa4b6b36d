//! Units drawn from the spread that the cells of a board state.

use crate::chance::NoSpread;
use crate::device::CellModel;
use crate::model::{Board, Device};
use crate::numerics::normal::truncated;
use crate::numerics::sobol::{MOST_DIMENSIONS, sobol};
use crate::quantity::{Charge, Quantity as _, Spread};

/// How many units are drawn: a power of two, as the points want it.
pub const UNITS: usize = 64;

/// Standard deviations at which the normal distribution is cut off: makers sort out what lies beyond
/// (common practice).
pub(super) const CUT_OFF: f64 = 3.0;

/// Least factor on a quantity, where a spread is so wide that a unit would have none of it.
const LEAST_FACTOR: f64 = 0.1;

/// Least share that counts as a spread: below, lives differ by less than they are computed to, and the
/// logarithm of a factor by rounding alone.
const LEAST_SHARE: f64 = 1e-6;

/// What differs from unit to unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Varied {
    /// The cell part.
    pub part: String,
    /// What of it.
    pub quantity: Quantity,
    /// One standard deviation as a share of the typical figure.
    pub share: f64,
}

/// A quantity of a cell that differs from unit to unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// Its charge.
    Charge,
    /// Its resistance at every depth.
    Resistance,
}

impl Quantity {
    /// The word that outputs use.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Charge => "charge",
            Self::Resistance => "resistance",
        }
    }
}

/// What is drawn for each unit.
pub(super) struct Draw {
    pub(super) varied: Vec<Varied>,
    /// By quantity that varies: place of its cell part.
    places: Vec<usize>,
    points: Vec<Vec<f64>>,
}

/// The models of the cell parts of a board, in its order.
pub(super) fn cells(board: &Board) -> Vec<CellModel> {
    let parts = board.parts.iter();
    let cells = parts.filter_map(|part| match &part.device {
        Device::Cell(cell) => Some(cell.model.clone()),
        _ => None,
    });
    cells.collect()
}

impl Draw {
    /// What the cells of a board state.
    ///
    /// # Errors
    /// They state none, or too many to be drawn.
    pub(super) fn new(board: &Board) -> Result<Self, NoSpread> {
        let mut varied = Vec::new();
        let mut places = Vec::new();
        let parts = board.parts.iter();
        let cells = parts.filter(|part| matches!(part.device, Device::Cell(_)));
        for (place, part) in cells.enumerate() {
            let Device::Cell(cell) = &part.device else {
                continue;
            };
            let spread = &cell.model.spread;
            for (quantity, share) in [
                (Quantity::Charge, spread.charge.si()),
                (Quantity::Resistance, spread.resistance.si()),
            ] {
                if LEAST_SHARE <= share {
                    places.push(place);
                    varied.push(Varied {
                        part: part.name.clone(),
                        quantity,
                        share,
                    });
                }
            }
        }
        if varied.is_empty() {
            return Err(NoSpread::NotStated);
        }
        let count = varied.len();
        let most = MOST_DIMENSIONS;
        let points = sobol(count, UNITS).ok_or(NoSpread::TooMany { count, most })?;
        Ok(Self {
            varied,
            places,
            points,
        })
    }

    /// The factors of each unit, one a quantity that varies.
    ///
    /// Each quantity by itself takes the middles of as many equal shares of its distribution as there
    /// are units, each once.
    pub(super) fn units(&self) -> Vec<Vec<f64>> {
        let half = 0.5 / self.points.len() as f64;
        let deviations = |at: &f64| truncated(at + half, CUT_OFF);
        let points = self.points.iter();
        let units =
            points.map(|point| self.factors(&point.iter().map(deviations).collect::<Vec<_>>()));
        units.collect()
    }

    /// The factors of a unit that is so many standard deviations off, one figure a quantity that varies.
    pub(super) fn factors(&self, deviations: &[f64]) -> Vec<f64> {
        let each = self.varied.iter().zip(deviations);
        let factors = each.map(|(varied, off)| (1.0 + varied.share * off).max(LEAST_FACTOR));
        factors.collect()
    }

    /// The models of one unit.
    pub(super) fn models(&self, typical: &[CellModel], unit: &[f64]) -> Vec<CellModel> {
        let mut models = typical.to_vec();
        for ((varied, &place), &factor) in self.varied.iter().zip(&self.places).zip(unit) {
            let Some(model) = models.get_mut(place) else {
                continue;
            };
            match varied.quantity {
                Quantity::Charge => {
                    let charge = Charge::from_si(factor * model.charge.si());
                    model.charge = Spread::exactly(charge);
                }
                Quantity::Resistance => {
                    model.resistance = model.resistance.map(|_, ohms| factor * ohms);
                }
            }
        }
        models
    }
}
