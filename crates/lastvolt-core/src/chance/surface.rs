//! The life of a unit, read off a surface through a few lives.
//!
//! # Formula
//! ```text
//! ln L(u) = ln L(0) + sum_j q_j(u_j) + sum_{j<k} c_jk u_j u_k      u_j = ln(factor of quantity j)
//! ```
//! q_j is the parabola through 0 and what two lives give to both sides, c_jk what one more life adds, with
//! little charge and much resistance or both of their kind low. Where life is in proportion to a
//! quantity, the surface is exact.

use crate::chance::draw::{Draw, Quantity};
use crate::numerics::math;

/// Deviations at which the lives are computed: between them lie 95 % of a normal distribution, and with them
/// the shares that are asked for (chosen); beyond, the outermost units are checked one by one.
const NODE: f64 = 2.0;

/// A surface over the logarithms of the factors of a unit.
pub(super) struct Surface {
    typical: f64,
    /// By quantity: coefficients of u and u^2.
    parabolas: Vec<[f64; 2]>,
    /// By pair of quantities, in the order of [`pairs`].
    cross: Vec<f64>,
}

/// Factors of the units whose lives a surface goes through: two a quantity, low then high, and one a pair.
pub(super) fn nodes(draw: &Draw) -> Vec<Vec<f64>> {
    let count = draw.varied.len();
    let mut nodes = Vec::new();
    for quantity in 0..count {
        for deviations in [-NODE, NODE] {
            nodes.push(factors(draw, &[(quantity, deviations)]));
        }
    }
    for (one, other) in pairs(count) {
        let moved = [one, other].map(|quantity| (quantity, worse(draw, quantity)));
        nodes.push(factors(draw, &moved));
    }
    nodes
}

/// Deviations to the side that shortens a life.
fn worse(draw: &Draw, quantity: usize) -> f64 {
    match draw.varied[quantity].quantity {
        Quantity::Charge => -NODE,
        Quantity::Resistance => NODE,
    }
}

fn factors(draw: &Draw, moved: &[(usize, f64)]) -> Vec<f64> {
    let mut deviations = vec![0.0; draw.varied.len()];
    for &(quantity, by) in moved {
        deviations[quantity] = by;
    }
    draw.factors(&deviations)
}

fn pairs(count: usize) -> impl Iterator<Item = (usize, usize)> {
    (0..count).flat_map(move |one| (one + 1..count).map(move |other| (one, other)))
}

impl Surface {
    /// The surface through the life of the typical unit and those of the nodes; nothing where one of them
    /// has no end.
    pub(super) fn new(typical_secs: f64, nodes: &[Vec<f64>], lives_secs: &[f64]) -> Option<Self> {
        let all = lives_secs.iter().chain([&typical_secs]);
        if !all.into_iter().all(|secs| secs.is_finite() && 0.0 < *secs) {
            return None;
        }
        let count = nodes.first()?.len();
        let typical = math::ln(typical_secs);
        let rise = |at: usize| math::ln(lives_secs[at]) - typical;
        let logs = |at: usize, quantity: usize| math::ln(nodes[at][quantity]);
        let parabolas = (0..count).map(|quantity| {
            let (low, high) = (2 * quantity, 2 * quantity + 1);
            let (a, b) = (logs(low, quantity), logs(high, quantity));
            let (slope_a, slope_b) = (rise(low) / a, rise(high) / b);
            let bend = (slope_b - slope_a) / (b - a);
            [slope_a - bend * a, bend]
        });
        let mut surface = Self {
            typical,
            parabolas: parabolas.collect(),
            cross: vec![0.0; pairs(count).count()],
        };
        let cross = pairs(count).enumerate().map(|(k, (one, other))| {
            let at = 2 * count + k;
            let missed = math::ln(lives_secs[at]) - math::ln(surface.secs(&nodes[at]));
            missed / (logs(at, one) * logs(at, other))
        });
        surface.cross = cross.collect();
        Some(surface)
    }

    /// The life of a unit by its factors.
    pub(super) fn secs(&self, unit: &[f64]) -> f64 {
        let logs: Vec<f64> = unit.iter().map(|&factor| math::ln(factor)).collect();
        let mut sum = self.typical;
        for (u, [slope, bend]) in logs.iter().zip(&self.parabolas) {
            sum += u * (slope + bend * u);
        }
        for ((one, other), cross) in pairs(logs.len()).zip(&self.cross) {
            sum += cross * logs[one] * logs[other];
        }
        math::exp(sum)
    }
}
