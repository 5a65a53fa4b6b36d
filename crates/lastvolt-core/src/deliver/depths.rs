//! At which depths the output of a board is asked for.

use crate::model::{Board, Family};
use crate::time::{Life, Trace};

/// Depths that are always looked at.
const GRID: [f64; 10] = [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9];
/// Depths nearer than this to one of the grid are that one.
const NEAR: f64 = 1e-3;

/// The depth that the cells must still deliver at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LifeDepth {
    /// Depth of the most used cell.
    pub depth: f64,
    /// Whether the required life is reached; otherwise it is the depth at which the life ends.
    pub is_required_life: bool,
}

/// The depth at the end of the required life, or where the life ends before that or none is
/// required, at its end.
#[must_use]
pub fn life_depth(family: &Family, life: &Life) -> Option<LifeDepth> {
    let required = family.requirement.life.map(|t| t.as_secs());
    let ends = life.life_secs.unwrap_or(f64::INFINITY);
    if let Some(required) = required.filter(|r| *r <= ends) {
        let depth = depth_at(&life.trace, required)?;
        return Some(LifeDepth {
            depth,
            is_required_life: true,
        });
    }
    life.life_secs.map(|_| LifeDepth {
        depth: life.end.depth,
        is_required_life: false,
    })
}

/// Straight between the instants of a trace.
fn depth_at(trace: &Trace, secs: f64) -> Option<f64> {
    let next = trace.time_secs.iter().position(|t| secs <= *t)?;
    let Some(before) = next.checked_sub(1) else {
        return trace.depth.first().copied();
    };
    let (t0, t1) = (trace.time_secs[before], trace.time_secs[next]);
    let (d0, d1) = (trace.depth[before], trace.depth[next]);
    Some(d0 + (d1 - d0) * (secs - t0) / (t1 - t0))
}

/// Depths to ask for: tenths and the given one; fresh only for a board without cells.
#[must_use]
pub fn depths(board: &Board, life: Option<LifeDepth>) -> Vec<f64> {
    if !board.has_cell() {
        return vec![0.0];
    }
    let mut depths = GRID.to_vec();
    if let Some(life) = life
        && GRID.iter().all(|d| NEAR < (d - life.depth).abs())
    {
        depths.push(life.depth.clamp(0.0, 1.0));
        depths.sort_by(f64::total_cmp);
    }
    depths
}
