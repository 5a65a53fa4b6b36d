//! How lives differ from unit to unit: lives of many units whose cells are drawn from the stated spread,
//! and how long a share of them lasts.
//!
//! What is not drawn is typical in every unit: parts, loads, the ambient. Equations, sources and what is
//! left out: docs/theory/chance.md.

mod draw;
mod quantile;

pub use draw::{Quantity, UNITS, Varied};
pub use quantile::{Promise, promise};

use rayon::prelude::*;

use crate::chance::draw::{Draw, cells};
use crate::progress::Silent;
use crate::time::{Bursts, Life, LifeRequest, Prepared};

/// Largest relative difference between a followed and a settled life for which one stands for the other
/// but for their ratio.
const MOST_APART: f64 = 0.1;

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
}

/// The lives of [`UNITS`] units, where the life of a typical one lasts and ends and the spread of a cell is
/// stated.
///
/// `typical` is the life of the typical unit for this request with bursts followed. Units take bursts at
/// their settled ends, and their lives are scaled by the ratio of the two for the typical unit; where those
/// differ by more than a tenth bursts are followed in every unit.
/// `confidence` is the share of units that a promise must hold for.
#[must_use]
pub fn spread(
    request: &LifeRequest,
    typical: &Life,
    confidence: Option<f64>,
) -> Option<LifeSpread> {
    let board = request.family.board(request.board)?;
    let draw = Draw::new(board)?;
    let followed = typical.life_secs.filter(|secs| 0.0 < *secs)?;
    let settled = LifeRequest {
        bursts: Bursts::Settled,
        ..request.clone()
    };
    let mut prepared = Prepared::new(settled);
    let mean = prepared.life(&Silent).ok()?.life_secs;
    let ratio = mean.filter(|secs| 0.0 < *secs).map(|secs| followed / secs);
    let near = ratio.filter(|ratio| (ratio - 1.0).abs() <= MOST_APART);
    let (prepared, scale) = near.map_or_else(
        || (Prepared::new(request.clone()), 1.0),
        |ratio| (prepared, ratio),
    );
    let models = cells(board);
    let units = draw.units().into_par_iter();
    let lives: Option<Vec<f64>> = units
        .map_init(
            || prepared.clone(),
            |prepared, unit| {
                let changed = draw.models(&models, &unit);
                let life = prepared.life_with(&changed, &Silent).ok()?;
                Some(life.life_secs.map_or(f64::INFINITY, |secs| scale * secs))
            },
        )
        .collect();
    let mut lives_secs = lives?;
    lives_secs.sort_by(f64::total_cmp);
    Some(LifeSpread {
        promise: confidence.and_then(|share| promise(&lives_secs, share)),
        lives_secs,
        varied: draw.varied,
    })
}
