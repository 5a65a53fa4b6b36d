//! From tasks and switches to the stretches of a waveform.

use crate::circuit::{CellDrive, Circuit, Situation};
use crate::model::{Device, Task};
use crate::time::burst::Stretch;

/// Share of its voltage in the usual positions below which a rail counts as switched off.
const OFF: f64 = 0.1;

/// One occurrence of a task on a circuit, quiet before and after it.
#[must_use]
pub fn plan_of_task(circuit: &Circuit, task: &Task, lead_ns: u64, tail_ns: u64) -> Vec<Stretch> {
    let loads = circuit.loads();
    let mut plan = Vec::new();
    if lead_ns > 0 {
        plan.push(Stretch::quiet(lead_ns));
    }
    for step in &task.steps {
        let named = step.set.iter().flat_map(|(load, state)| {
            let own = loads.iter().filter(move |(_, l)| l.name == *load);
            own.map(move |(name, _)| (name.clone(), state.clone()))
        });
        plan.push(Stretch {
            span_ns: step.span_ns,
            states: named.collect(),
            positions: Vec::new(),
        });
    }
    plan.push(Stretch::quiet(tail_ns));
    plan
}

/// The switch position that takes the voltage off the rail, where there is one: switch and position.
#[must_use]
pub fn off_position(circuit: &Circuit, situation: &Situation) -> Option<(String, String)> {
    let rail = circuit.family().connector.rail()?;
    let volts = |situation: &Situation| {
        let point = circuit.solve(situation, &CellDrive::Rested, None).ok()?;
        point.net(rail)
    };
    let usual = volts(situation)?;
    for (name, part) in circuit.parts() {
        let Device::Switch(switch) = &part.device else {
            continue;
        };
        for position in &switch.positions {
            let mut other = situation.clone();
            other.positions.insert(name.clone(), position.name.clone());
            if volts(&other).is_some_and(|v| v < OFF * usual) {
                return Some((name, position.name.clone()));
            }
        }
    }
    None
}
