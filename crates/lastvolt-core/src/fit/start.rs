//! Where a fit starts: a cell of another size scaled to the data, and descents from several places.

use super::predict::predict;
use super::{Drive, Test, Value};
use crate::device::CellModel;
use crate::numerics::math;
use crate::numerics::table::Table;
use crate::quantity::{Charge, Current, Resistance, Spread};

/// A cell `factor` times as large: so much more charge and current at the same voltage.
fn sized(cell: &CellModel, factor: f64) -> CellModel {
    let mut out = cell.clone();
    out.charge = Spread::exactly(Charge::from_coulombs(cell.charge.si() * factor));
    let ohms: Vec<_> = cell
        .resistance
        .points()
        .map(|(x, y)| (x, y / factor))
        .collect();
    out.resistance = Table::new(&ohms).unwrap_or_else(|_| cell.resistance.clone());
    if let Some(activation) = &mut out.activation {
        activation.current = Current::from_amps(activation.current.as_amps() * factor);
    }
    if let Some(film) = &mut out.film {
        film.resistance = Resistance::from_ohms(film.resistance.as_ohms() / factor);
        film.burn_off = Charge::from_coulombs(film.burn_off.as_coulombs() * factor);
    }
    out
}

/// The cell made so much larger or smaller that it gives what the fitted services of tests say, in the
/// middle: so much more charge and current at the same voltage.
#[must_use]
pub fn scaled(cell: &CellModel, tests: &[Test]) -> CellModel {
    let mut cell = cell.clone();
    if let Some(temperature) = &mut cell.temperature {
        // A cell that states no shift may have one.
        temperature
            .open_circuit
            .resize(temperature.celsius.len(), 0.0);
    }
    // A cell that gave all it had at the last row of a log would be empty there, with no slope to follow.
    const GIVEN_BY_LOG: f64 = 0.9;
    let given = given_by_logs(tests).map(|q| q / GIVEN_BY_LOG);
    let mut size = given.map_or(1.0, |q| q / cell.charge.si());
    for _ in 0..6 {
        let now = sized(&cell, size);
        let mut off: Vec<f64> = tests.iter().flat_map(|t| service_off(&now, t)).collect();
        if off.is_empty() {
            break;
        }
        off.sort_by(f64::total_cmp);
        let middle = off[off.len() / 2].clamp(-2.0, 2.0);
        size *= math::exp(middle);
        if middle.abs() < 1e-3 {
            break;
        }
    }
    sized(&cell, size)
}

/// By how much, as a logarithm, each fitted service was longer than a cell says.
fn service_off(cell: &CellModel, test: &Test) -> Vec<f64> {
    if matches!(test.drive, Drive::Log(_)) {
        return Vec::new();
    }
    let pairs = test.readings.iter().zip(predict(cell, test));
    pairs
        .filter(|(r, _)| r.fitted && matches!(r.value, Value::Service { .. }))
        .map(|(reading, said)| {
            let read = reading.value.figure();
            math::ln(read / said.value.max(read * 1e-3))
        })
        .collect()
}

/// The number of units, or 1 where all that is fitted is of one: nothing tells it from a middle.
pub(super) fn told_apart(tests: &[Test], units: usize) -> usize {
    if fitted_units(tests).len() < 2 {
        1
    } else {
        units
    }
}

/// Units of which there is a reading that is fitted, in order.
pub(super) fn fitted_units(tests: &[Test]) -> Vec<usize> {
    let fitted = tests.iter().filter(|t| t.is_fitted());
    let mut units: Vec<usize> = fitted.map(|t| t.unit).collect();
    units.sort_unstable();
    units.dedup();
    units
}

/// Whether tests say what time on the shelf does: one was made on a cell that had lain.
///
/// A discharge that takes years is no such test: what heat and a current of microamperes do to it is
/// not one rate.
pub(super) fn shows_shelf(tests: &[Test]) -> bool {
    let aged = |t: &Test| t.age.as_secs() > 0.0 && t.is_fitted();
    tests.iter().any(aged)
}

/// The largest charge that a log took out.
fn given_by_logs(tests: &[Test]) -> Option<f64> {
    let given = tests.iter().filter_map(|t| t.drive.logged_charge());
    let given = given.map(|charge| charge.as_coulombs());
    given.max_by(f64::total_cmp).filter(|q| *q > 0.0)
}

/// Turns from which descent number `n` begins; the first begins at the starting cell.
///
/// The others lie on a Kronecker sequence with the roots of primes (H. Niederreiter, "Random number
/// generation and quasi-Monte Carlo methods", 1992), so that they are the same in every run.
pub(super) fn begin(knobs: usize, n: usize) -> Vec<f64> {
    const REACH: f64 = 0.8;
    if n == 0 {
        return vec![0.0; knobs];
    }
    let mut prime = 1_u32;
    let mut turns = Vec::with_capacity(knobs);
    for _ in 0..knobs {
        prime = next_prime(prime);
        #[expect(clippy::cast_precision_loss, reason = "a small count")]
        let at = n as f64 * f64::from(prime).sqrt();
        turns.push(REACH * (2.0 * (at - at.floor()) - 1.0));
    }
    turns
}

fn next_prime(after: u32) -> u32 {
    let is_prime = |n: u32| {
        (2..n)
            .take_while(|d| d * d <= n)
            .all(|d| !n.is_multiple_of(d))
    };
    let mut n = after + 1;
    while !is_prime(n) {
        n += 1;
    }
    n
}
