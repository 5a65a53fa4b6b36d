//! How lives differ from unit to unit: lives of many units whose cells are drawn from the stated spread,
//! and how long a share of them lasts.
//!
//! What is not drawn is typical in every unit: parts, loads, the ambient. Equations, sources and what is
//! left out: docs/theory/chance.md.

mod draw;
mod none;
mod quantile;
mod surface;

pub use draw::{Quantity, UNITS, Varied};
pub use none::{NoPromise, NoSpread};
pub use quantile::{Promise, promise};

use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

use crate::chance::draw::{Draw, cells};
use crate::chance::surface::{Surface, nodes};
use crate::circuit::NoPoint;
use crate::device::CellModel;
use crate::progress::{Progress, Silent};
use crate::time::{Bursts, Life, Prepared};

/// Largest relative difference between a followed and a settled life for which one stands for the other
/// but for their ratio: from there on what capacitors carry of a burst may weigh so much that the ratio
/// hangs on the cell (chosen; the boards of the example family lie within 0.05).
const MOST_APART: f64 = 0.1;
/// How far a surface may miss a life, as a share of it: a tenth of the usual spread of cells.
const MOST_MISSED: f64 = 5e-3;

/// Lives of many units of one board under one profile.
#[derive(Debug, Clone, PartialEq)]
pub struct LifeSpread {
    /// Run time of each unit in seconds, the shortest first; infinite where nothing ends it within
    /// 100 years.
    pub lives_secs: Vec<f64>,
    /// How long the asked share of units lasts, or why that is not known; none where no share is asked
    /// for.
    pub promise: Option<Result<Promise, NoPromise>>,
    /// What differs from unit to unit.
    pub varied: Vec<Varied>,
    /// Lives that were computed for them, that of the typical unit included.
    pub solved: usize,
}

/// The lives of [`UNITS`] units.
///
/// `typical` is the life of the typical unit for what is prepared, with bursts followed. Units take bursts at
/// their settled ends, and their lives are scaled by the ratio of the two for the typical unit; where those
/// differ by more than a tenth bursts are followed in every unit.
///
/// Lives are read off a surface through a few of them. Where that misses the shortest or the longest unit
/// by more than 0.5 %, the life of every unit is computed.
/// `confidence` is the share of units that a promise must hold for.
///
/// # Errors
/// See [`NoSpread`].
pub fn spread(
    prepared: &Prepared,
    typical: &Life,
    confidence: Option<f64>,
) -> Result<LifeSpread, NoSpread> {
    spread_while(prepared, typical, confidence, &Silent)
}

/// As [`spread`], told how far it is and stopped on the way.
///
/// # Errors
/// See [`NoSpread`].
pub fn spread_while(
    prepared: &Prepared,
    typical: &Life,
    confidence: Option<f64>,
    progress: &dyn Progress,
) -> Result<LifeSpread, NoSpread> {
    let request = prepared.request();
    let board = request.family.board(request.board);
    let board = board.ok_or_else(|| NoPoint::Unknown {
        what: format!("board {}", request.board),
    })?;
    let draw = Draw::new(board)?;
    let followed_secs = typical.life_secs.ok_or(NoSpread::TypicalNeverEnds)?;
    if followed_secs <= 0.0 {
        return Err(NoSpread::TypicalEndsAtOnce);
    }
    let count = Count::new(progress);
    let models = cells(board);
    let mut lives = Lives::new((prepared, followed_secs), &draw, models, &count)?;
    let units = draw.units();
    let mut lives_secs = match lives.off_surface(&units)? {
        Some(found) => found,
        None => {
            count.want(units.len());
            lives.computed(&units)?
        }
    };
    lives_secs.sort_by(f64::total_cmp);
    Ok(LifeSpread {
        promise: confidence.map(|share| promise(&lives_secs, share)),
        lives_secs,
        solved: lives.solved,
        varied: draw.varied,
    })
}

/// How many lives are computed of those that are wanted; the whole is told.
struct Count<'a> {
    whole: &'a dyn Progress,
    done: AtomicUsize,
    wanted: AtomicUsize,
}

impl<'a> Count<'a> {
    fn new(whole: &'a dyn Progress) -> Self {
        Self {
            whole,
            done: AtomicUsize::new(0),
            wanted: AtomicUsize::new(0),
        }
    }

    fn want(&self, more: usize) {
        self.wanted.fetch_add(more, Ordering::Relaxed);
    }

    fn one(&self) {
        let done = self.done.fetch_add(1, Ordering::Relaxed) + 1;
        let wanted = self.wanted.load(Ordering::Relaxed).max(done);
        #[expect(clippy::cast_precision_loss, reason = "counts are far below 2^52")]
        self.whole.at(done as f64 / wanted as f64);
    }
}

/// Each life by itself tells nothing.
impl Progress for Count<'_> {
    fn at(&self, _done: f64) {}

    fn cancelled(&self) -> bool {
        self.whole.cancelled()
    }
}

/// Lives of units of one board.
struct Lives<'a> {
    draw: &'a Draw,
    count: &'a Count<'a>,
    prepared: Prepared<'a>,
    models: Vec<CellModel>,
    /// What a life is multiplied by.
    scale: f64,
    typical_secs: f64,
    solved: usize,
}

impl<'a> Lives<'a> {
    fn new(
        (prepared, typical_secs): (&Prepared<'a>, f64),
        draw: &'a Draw,
        models: Vec<CellModel>,
        count: &'a Count<'a>,
    ) -> Result<Self, NoSpread> {
        count.want(3 + nodes(draw).len());
        let mut settled = prepared.clone().taking(Bursts::Settled);
        let settled_secs = settled.life(count)?.life_secs;
        if count.cancelled() {
            return Err(NoSpread::Stopped);
        }
        count.one();
        let settled_secs = settled_secs.filter(|secs| 0.0 < *secs);
        let scale = settled_secs.map(|secs| typical_secs / secs);
        let near = scale.filter(|scale| (scale - 1.0).abs() <= MOST_APART);
        let (prepared, scale) = near.map_or_else(
            || (prepared.clone().taking(Bursts::Followed), 1.0),
            |scale| (settled, scale),
        );
        Ok(Self {
            draw,
            count,
            prepared,
            models,
            scale,
            typical_secs,
            solved: 1,
        })
    }

    /// The lives of units, computed side by side; infinite where nothing ends one.
    fn computed(&mut self, units: &[Vec<f64>]) -> Result<Vec<f64>, NoSpread> {
        let count = self.count;
        let life = |prepared: &mut Prepared, unit: &Vec<f64>| -> Result<f64, NoSpread> {
            if count.cancelled() {
                return Err(NoSpread::Stopped);
            }
            let changed = self.draw.models(&self.models, unit);
            let life = prepared.life_with(&changed, count)?;
            count.one();
            let secs = life.life_secs.map(|secs| self.scale * secs);
            Ok(secs.unwrap_or(f64::INFINITY))
        };
        let lives = units.par_iter();
        let lives: Vec<_> = lives.map_init(|| self.prepared.clone(), life).collect();
        self.solved += units.len();
        if count.cancelled() {
            return Err(NoSpread::Stopped);
        }
        // In index order, so that of several that fail the same one is named on any number of threads.
        lives.into_iter().collect()
    }

    /// The same off a surface; none where it misses one of the outermost units.
    fn off_surface(&mut self, units: &[Vec<f64>]) -> Result<Option<Vec<f64>>, NoSpread> {
        let nodes = nodes(self.draw);
        if units.len() <= nodes.len() + 2 {
            return Ok(None);
        }
        let lives = self.computed(&nodes)?;
        let Some(surface) = Surface::new(self.typical_secs, &nodes, &lives) else {
            return Ok(None);
        };
        let found: Vec<f64> = units.iter().map(|unit| surface.secs(unit)).collect();
        let by_life = |&a: &usize, &b: &usize| found[a].total_cmp(&found[b]);
        let places = || 0..units.len();
        let (Some(least), Some(most)) = (places().min_by(by_life), places().max_by(by_life)) else {
            return Ok(None);
        };
        let outermost = [units[least].clone(), units[most].clone()];
        let computed = self.computed(&outermost)?;
        let meets = |(place, secs): (usize, &f64)| meets(found[place], *secs);
        let met = [least, most].into_iter().zip(&computed).all(meets);
        Ok(met.then_some(found))
    }
}

/// Whether a life off the surface stands for the computed one; one that is no number does not.
fn meets(found_secs: f64, computed_secs: f64) -> bool {
    (found_secs / computed_secs - 1.0).abs() <= MOST_MISSED
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_life_that_is_no_number_meets_nothing() {
        assert!(meets(1.004, 1.0));
        assert!(!meets(1.006, 1.0));
        assert!(!meets(f64::NAN, 1.0));
        assert!(!meets(1.0, f64::INFINITY));
    }
}
