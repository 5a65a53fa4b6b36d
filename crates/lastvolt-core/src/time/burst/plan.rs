//! From tasks and switches to the stretches of a waveform.

use crate::circuit::{CellDrive, Circuit, Point, Situation};
use crate::model::{Device, Profile, Task};
use crate::time::burst::Stretch;

/// A rail below this is not powered.
const LEAST_RAIL_VOLTS: f64 = 0.1;
/// Share of its voltage in the usual positions below which a rail counts as switched off.
const OFF: f64 = 0.1;

/// How much lower a step must pull the rail to count as deeper than another that takes more current.
const SAME_VOLTS: f64 = 1e-4;

/// States that a step sets, with the loads under their names in the circuit.
fn states(circuit: &Circuit, set: &[(String, String)]) -> Vec<(String, String)> {
    let loads = circuit.loads();
    let named = set.iter().flat_map(|(load, state)| {
        let own = loads.iter().filter(move |(_, l)| l.name == *load);
        own.map(move |(name, _)| (name.clone(), state.clone()))
    });
    named.collect()
}

/// A step of a task in its place, in nanoseconds.
struct Piece {
    from: u64,
    to: u64,
    set: Vec<(String, String)>,
}

/// One occurrence of each task from the same instant on, then quiet. A task that claims a load of an
/// earlier one waits until that is over; others overlap.
#[must_use]
pub fn plan_of_tasks(circuit: &Circuit, tasks: &[&Task], tail_ns: u64) -> Vec<Stretch> {
    let mut pieces: Vec<Piece> = Vec::new();
    for task in tasks {
        let steps: Vec<Vec<(String, String)>> =
            task.steps.iter().map(|s| states(circuit, &s.set)).collect();
        let claims = |p: &&Piece| {
            let mut own = steps.iter().flatten().map(|(load, _)| load);
            own.any(|load| p.set.iter().any(|(other, _)| other == load))
        };
        let clashing = pieces.iter().filter(claims).map(|p| p.to);
        let mut at = clashing.max().unwrap_or(0);
        for (step, set) in task.steps.iter().zip(steps) {
            let to = at.saturating_add(step.span_ns);
            pieces.push(Piece { from: at, to, set });
            at = to;
        }
    }
    let mut instants: Vec<u64> = pieces.iter().flat_map(|p| [p.from, p.to]).collect();
    instants.sort_unstable();
    instants.dedup();
    let mut plan: Vec<Stretch> = instants
        .windows(2)
        .map(|w| {
            let under_way = pieces.iter().filter(|p| p.from <= w[0] && w[1] <= p.to);
            Stretch {
                span_ns: w[1] - w[0],
                states: under_way.flat_map(|p| p.set.iter().cloned()).collect(),
                positions: Vec::new(),
            }
        })
        .collect();
    plan.push(Stretch::quiet(tail_ns));
    plan
}

/// Whether a task sets any load of the circuit.
#[must_use]
pub fn concerns(circuit: &Circuit, task: &Task) -> bool {
    let mut steps = task.steps.iter();
    steps.any(|s| !states(circuit, &s.set).is_empty())
}

/// The task of a profile whose steps, if they lasted, would pull the rail lowest; of tasks that pull
/// it equally low, the one that takes most from the sources. None where no task sets a load of the
/// circuit.
#[must_use]
pub fn deepest_task<'p>(
    circuit: &Circuit,
    situation: &Situation,
    profile: &'p Profile,
) -> Option<&'p Task> {
    let mut tasks = profile.tasks.iter().filter(|t| concerns(circuit, t));
    let first = tasks.next()?;
    let mut found: Option<(f64, f64, &Task)> = None;
    for task in std::iter::once(first).chain(tasks) {
        for step in &task.steps {
            let mut during = situation.clone();
            during.states.extend(states(circuit, &step.set));
            let Ok(point) = circuit.solve(&during, &CellDrive::Rested, None) else {
                continue;
            };
            // A load that is held in reset there lets the rail up again: nothing pulls it lower.
            let resets = point.loads.iter().any(|l| !l.awake);
            let volts = if resets {
                -1.0
            } else {
                rail_volts(circuit, &point)
            };
            let amps = source_amps(circuit, &point);
            let deeper = found.is_none_or(|(lowest, most, _)| {
                volts < lowest - SAME_VOLTS || (volts < lowest + SAME_VOLTS && most < amps)
            });
            if deeper {
                found = Some((volts, amps, task));
            }
        }
    }
    Some(found.map_or(first, |f| f.2))
}

/// Voltage of the connector's rail, or of the first load where no connector has one.
fn rail_volts(circuit: &Circuit, point: &Point) -> f64 {
    let rail = circuit.family().connector.rail();
    let rail = rail.and_then(|net| point.net(net));
    let load = || point.loads.first().map(|l| l.volts);
    rail.or_else(load).unwrap_or(0.0)
}

/// Current that all cells and supplies give.
fn source_amps(circuit: &Circuit, point: &Point) -> f64 {
    let parts = circuit.parts().into_iter().zip(&point.parts);
    let sources =
        parts.filter(|((_, p), _)| matches!(p.device, Device::Cell(_) | Device::Supply(_)));
    sources.map(|(_, solved)| solved.amps).sum()
}

/// The switch position that takes the voltage off the rail, where there is one: switch and position.
#[must_use]
pub fn off_position(circuit: &Circuit, situation: &Situation) -> Option<(String, String)> {
    let rail = circuit.family().connector.rail()?;
    let volts = |situation: &Situation| {
        let point = circuit.solve(situation, &CellDrive::Rested, None).ok()?;
        point.net(rail)
    };
    // Without a voltage there is nothing to take off.
    let usual = volts(situation).filter(|volts| *volts > LEAST_RAIL_VOLTS)?;
    for (name, part) in circuit.parts() {
        let Device::Switch(switch) = &part.device else {
            continue;
        };
        for position in &switch.positions {
            let mut other = situation.clone();
            other.positions.insert(name.clone(), position.name.clone());
            let is_other = other.positions.get(&name) != situation.positions.get(&name);
            if is_other && volts(&other).is_some_and(|v| v < OFF * usual) {
                return Some((name, position.name.clone()));
            }
        }
    }
    None
}
