//! How lives differ from unit to unit: lives of many units whose cells are drawn from the stated spread,
//! and how long a share of them lasts.
//!
//! What is not drawn is typical in every unit: parts, loads, the ambient. Equations, sources and what is
//! left out: docs/theory/chance.md.

mod draw;
mod quantile;
mod surface;

pub use draw::{Quantity, UNITS, Varied};
pub use quantile::{Promise, promise};

use rayon::prelude::*;

use crate::chance::draw::{Draw, cells};
use crate::chance::surface::{Surface, nodes};
use crate::device::CellModel;
use crate::progress::Silent;
use crate::time::{Bursts, Life, LifeRequest, Prepared};

/// Largest relative difference between a followed and a settled life for which one stands for the other
/// but for their ratio.
const MOST_APART: f64 = 0.1;
/// How far a surface may miss a life, as a share of it: a tenth of the usual spread of cells.
const MOST_MISSED: f64 = 5e-3;

/// Lives of many units of one board under one profile.
#[derive(Debug, Clone, PartialEq)]
pub struct LifeSpread {
    /// Run time of each unit in seconds, the shortest first; infinite where nothing ends it within
    /// 100 years.
    pub lives_secs: Vec<f64>,
    /// How long the asked share of units lasts; none where no share is asked for, or where it is too
    /// near to all of them to be read off so many units.
    pub promise: Option<Promise>,
    /// What differs from unit to unit.
    pub varied: Vec<Varied>,
    /// Lives that were computed for them, that of the typical unit included.
    pub solved: usize,
}

/// The lives of [`UNITS`] units, where the life of a typical one lasts and ends and the spread of a cell is
/// stated.
///
/// `typical` is the life of the typical unit for this request with bursts followed. Units take bursts at
/// their settled ends, and their lives are scaled by the ratio of the two for the typical unit; where those
/// differ by more than a tenth bursts are followed in every unit.
///
/// Lives are read off a surface through a few of them. Where that misses the shortest or the longest unit
/// by more than 0.5 %, the life of every unit is computed.
/// `confidence` is the share of units that a promise must hold for.
#[must_use]
pub fn spread(
    request: &LifeRequest,
    typical: &Life,
    confidence: Option<f64>,
) -> Option<LifeSpread> {
    let board = request.family.board(request.board)?;
    let draw = Draw::new(board)?;
    let followed_secs = typical.life_secs.filter(|secs| 0.0 < *secs)?;
    let mut lives = Lives::new(request, &draw, cells(board), followed_secs)?;
    let units = draw.units();
    let mut lives_secs = match lives.off_surface(&units)? {
        Some(found) => found,
        None => lives.computed(&units)?,
    };
    lives_secs.sort_by(f64::total_cmp);
    Some(LifeSpread {
        promise: confidence.and_then(|share| promise(&lives_secs, share)),
        lives_secs,
        solved: lives.solved,
        varied: draw.varied,
    })
}

/// Lives of units of one board.
struct Lives<'a> {
    draw: &'a Draw,
    prepared: Prepared<'a>,
    models: Vec<CellModel>,
    /// What a life is multiplied by.
    scale: f64,
    typical_secs: f64,
    solved: usize,
}

impl<'a> Lives<'a> {
    fn new(
        request: &LifeRequest<'a>,
        draw: &'a Draw,
        models: Vec<CellModel>,
        typical_secs: f64,
    ) -> Option<Self> {
        let settled = LifeRequest {
            bursts: Bursts::Settled,
            ..request.clone()
        };
        let mut prepared = Prepared::new(settled);
        let settled_secs = prepared.life(&Silent).ok()?.life_secs;
        let settled_secs = settled_secs.filter(|secs| 0.0 < *secs);
        let scale = settled_secs.map(|secs| typical_secs / secs);
        let near = scale.filter(|scale| (scale - 1.0).abs() <= MOST_APART);
        let (prepared, scale) = near.map_or_else(
            || (Prepared::new(request.clone()), 1.0),
            |scale| (prepared, scale),
        );
        Some(Self {
            draw,
            prepared,
            models,
            scale,
            typical_secs,
            solved: 1,
        })
    }

    /// The lives of units, computed side by side; infinite where nothing ends one.
    fn computed(&mut self, units: &[Vec<f64>]) -> Option<Vec<f64>> {
        let life = |prepared: &mut Prepared, unit: &Vec<f64>| -> Option<f64> {
            let changed = self.draw.models(&self.models, unit);
            let life = prepared.life_with(&changed, &Silent).ok()?;
            let secs = life.life_secs.map(|secs| self.scale * secs);
            Some(secs.unwrap_or(f64::INFINITY))
        };
        let lives = units.par_iter();
        let lives = lives.map_init(|| self.prepared.clone(), life).collect();
        self.solved += units.len();
        lives
    }

    /// The same off a surface; none where it misses one of the outermost units.
    fn off_surface(&mut self, units: &[Vec<f64>]) -> Option<Option<Vec<f64>>> {
        let nodes = nodes(self.draw);
        if units.len() <= nodes.len() + 2 {
            return Some(None);
        }
        let lives = self.computed(&nodes)?;
        let Some(surface) = Surface::new(self.typical_secs, &nodes, &lives) else {
            return Some(None);
        };
        let found: Vec<f64> = units.iter().map(|unit| surface.secs(unit)).collect();
        let by_life = |&a: &usize, &b: &usize| found[a].total_cmp(&found[b]);
        let places = || 0..units.len();
        let (Some(least), Some(most)) = (places().min_by(by_life), places().max_by(by_life)) else {
            return Some(None);
        };
        let outermost = [units[least].clone(), units[most].clone()];
        let computed = self.computed(&outermost)?;
        let misses = |(place, secs): (usize, &f64)| MOST_MISSED < (found[place] / secs - 1.0).abs();
        let missed = [least, most].into_iter().zip(&computed).any(misses);
        Some((!missed).then_some(found))
    }
}
