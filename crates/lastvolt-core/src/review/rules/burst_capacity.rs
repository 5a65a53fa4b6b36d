//! `burst-capacity`: does the capacitor on the rail carry a whole burst, or its edges only?
//!
//! Said only where a burst ends the life and strands charge, for there more of it would change the end.
//!
//! # Formula
//! ```text
//! share carried = C (V_rest - V_min) / Q_burst      C to carry it all = Q_burst / (V_rest - V_min)
//! ```
//!
//! # References
//! TI SWRA349, "Coin cells and peak current draw", appendix A, with the cell's own share left out.

use crate::model::{Device, Task};
use crate::numerics::eseries::Series;
use crate::quantity::Unit;
use crate::review::rules::Rule;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};
use crate::time::Cause;

/// Share of a burst from which a capacitor carries the whole of it.
const WHOLE: f64 = 0.8;

pub(super) struct BurstCapacity;

impl Rule for BurstCapacity {
    fn id(&self) -> RuleId {
        "burst-capacity"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        look(e, self.id()).into_iter().collect()
    }
}

fn look(e: &Evidence, rule: RuleId) -> Option<Finding> {
    let life = e.lasting_life()?;
    if life.end.cause != Cause::BrownOut {
        return None;
    }
    let end = &life.end;
    if 1.0 - end.depth < e.sensitivity.win_share {
        // The burst strands next to nothing: no capacitor would change the end.
        return None;
    }
    let (load, state) = (end.load.as_ref()?, end.state.as_ref()?);
    let task = end.task.as_ref()?;
    let task = e.profile?.tasks.iter().find(|t| t.name == *task)?;
    let loads = e.family.loads_of(e.board);
    let load = loads.into_iter().find(|l| l.name == *load)?;
    let least = load.working_in(load.state(state)?)?.from.as_volts();
    let rest = *life.trace.rail.rest_volts.last()?;
    let net = e.board.nets.iter().position(|n| *n == load.plus)?;
    let (names, farads) = capacitors(e, net, rest);
    let first = names.first()?;
    let (coulombs, secs) = burst(e, task, rest);
    if rest <= least || coulombs <= 0.0 || farads <= 0.0 {
        return None;
    }
    let share = farads * (rest - least) / coulombs;
    if WHOLE < share {
        return None;
    }
    let need = Series::E6.at_least(coulombs / (rest - least));
    let parts: Vec<&str> = names.iter().map(String::as_str).collect();
    let holds = farads * (rest - least) / (coulombs / secs);
    Some(Finding {
        nets: vec![load.plus.clone()],
        measured: Some(Figure::new(share, Unit::Fraction)),
        limit: Some(Figure::new(WHOLE, Unit::Fraction)),
        says: format!(
            "{first} carries a part of a burst and not the whole: task {} takes {} of charge in {}; at the \
             end of the life {} left under bias give {} of that between {} and {}, which is gone after {}.",
            task.name,
            words::figure(coulombs, Unit::Coulomb),
            words::span(secs),
            words::farads(farads),
            words::percent(share),
            words::volts(rest),
            words::volts(least),
            words::span(holds)
        ),
        remedy: format!(
            "leave the burst to the cell, or fit {} that are left under bias behind the cell's resistance and look at its leakage",
            words::farads(need)
        ),
        basis: "TI SWRA349 appendix A".to_owned(),
        ..e.finding(rule, Severity::Note, &parts)
    })
}

/// Names of the capacitors from a net to ground and what they hold together at a voltage.
fn capacitors(e: &Evidence, net: usize, volts: f64) -> (Vec<String>, f64) {
    let ground = e.family.connector.ground_net();
    let ground = e.board.nets.iter().position(|n| n == ground);
    let mut names = Vec::new();
    let mut farads = 0.0;
    for part in &e.board.parts {
        let Device::Capacitor(c) = &part.device else {
            continue;
        };
        let on = |net: Option<usize>| part.pins.iter().any(|p| p.net == net && net.is_some());
        if on(Some(net)) && on(ground) {
            names.push(part.name.clone());
            farads += c.farads_at(volts);
        }
    }
    (names, farads)
}

/// Charge that one occurrence of a task takes at a voltage, and how long it lasts.
fn burst(e: &Evidence, task: &Task, volts: f64) -> (f64, f64) {
    let mut coulombs = 0.0;
    #[expect(clippy::cast_precision_loss, reason = "nanoseconds to seconds")]
    let secs = |ns: u64| ns as f64 * 1e-9;
    for step in &task.steps {
        let amps = step.set.iter().map(|(l, s)| e.state_amps(l, s, volts));
        coulombs += secs(step.span_ns) * amps.sum::<f64>();
    }
    (coulombs, secs(task.span_ns()))
}
