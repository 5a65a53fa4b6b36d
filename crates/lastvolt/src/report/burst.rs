//! The heaviest step of a profile on a board: the one that takes most from its sources.

use lastvolt_core::circuit::{CellDrive, Circuit, Point, Situation};
use lastvolt_core::model::{Board, Device, Family, Profile};

/// A solved step of a task.
pub(super) struct Burst {
    /// The task.
    pub(super) task: String,
    /// States of loads that the step sets: `beacon transmit`.
    pub(super) states: Vec<String>,
    /// How long the step lasts.
    pub(super) step_secs: f64,
    /// The situation.
    pub(super) situation: Situation,
    /// Its point, with fresh rested cells.
    pub(super) point: Point,
}

/// The step that takes the largest current from cells and supplies, fresh and at the usual ambient.
pub(super) fn heaviest(family: &Family, board: &Board, profile: Option<&Profile>) -> Option<Burst> {
    let names = [board.name.clone()];
    let circuit = Circuit::new(family, &names).ok()?;
    let profile = profile?;
    let base = Situation::usual(family, &names, Some(profile));
    let mut found: Option<(f64, Burst)> = None;
    for task in &profile.tasks {
        for step in &task.steps {
            let mut situation = base.clone();
            let mut states = Vec::new();
            for (load, state) in &step.set {
                if situation.states.contains_key(load) {
                    situation.states.insert(load.clone(), state.clone());
                    states.push(format!("{load} {state}"));
                }
            }
            if states.is_empty() {
                continue;
            }
            let Ok(point) = circuit.solve(&situation, &CellDrive::Rested, None) else {
                continue;
            };
            let amps = source_amps(board, &point);
            if found.as_ref().is_none_or(|(most, _)| *most < amps) {
                #[expect(clippy::cast_precision_loss, reason = "nanoseconds to seconds")]
                let step_secs = step.span_ns as f64 * 1e-9;
                let task = task.name.clone();
                let burst = Burst {
                    task,
                    states,
                    step_secs,
                    situation,
                    point,
                };
                found = Some((amps, burst));
            }
        }
    }
    found.map(|f| f.1)
}

/// Current that all cells and supplies give.
pub(super) fn source_amps(board: &Board, point: &Point) -> f64 {
    let sources = board
        .parts
        .iter()
        .filter(|p| matches!(p.device, Device::Cell(_) | Device::Supply(_)));
    sources
        .filter_map(|p| point.part(&p.name))
        .map(|p| p.amps)
        .sum()
}
