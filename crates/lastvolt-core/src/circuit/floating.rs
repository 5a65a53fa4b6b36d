//! Control pins whose level nothing decides.
//!
//! A pin floats when its net is an island, or when more than 100 Mohm lies between it and whatever
//! gives it a level, and the worst leakage at the high ambient moves it from one logic level to the
//! other. The pin's own leakage is not part of the equations, so it pulls neither way there.

use crate::circuit::element::volts;
use crate::circuit::netlist::{GROUND, PlacedPart};
use crate::circuit::operate::Settled;
use crate::device::{Enable, Fet, Regulator};
use crate::model::Device;
use crate::numerics::math;

/// Resistance from which a pull is none: the insulation of an ordinary board (common practice).
const NO_PULL_OHMS: f64 = 1e8;
/// Leakage assumed at a gate without stated leakage (typical of the class; from memory).
const GATE_LEAK_AMPS: f64 = 1e-9;

/// Thresholds and leakage of a control pin.
struct Control {
    slot: usize,
    /// Pins that the level is measured against.
    against: usize,
    low_volts: f64,
    high_volts: f64,
    leak_amps: f64,
}

/// Names `REF.pin` of the floating control pins.
pub(crate) fn floating(settled: &Settled, hot_celsius: f64) -> Vec<String> {
    let warm = math::exp2((hot_celsius - 25.0) / 10.0).max(1.0);
    let mut found = Vec::new();
    let roots = settled.kept.system.islands();
    for placed in &settled.kept.system.netlist.parts {
        for control in controls(placed) {
            if floats(settled, placed, &control, warm, &roots) {
                let pin = placed
                    .part
                    .pins
                    .get(control.slot)
                    .map_or("", |p| p.name.as_str());
                found.push(format!("{}.{pin}", placed.name));
            }
        }
    }
    found
}

fn floats(
    settled: &Settled,
    placed: &PlacedPart,
    control: &Control,
    warm: f64,
    roots: &[usize],
) -> bool {
    let Some(net) = placed.nets[control.slot] else {
        return true;
    };
    if net == GROUND {
        return false;
    }
    let ground = roots[roots.len() - 1];
    if roots[net] != ground || settled.solution.pinned.contains(&net) {
        return true;
    }
    let Some(ohms) = settled
        .kept
        .system
        .transfer_ohms(&settled.solution, net, net)
    else {
        return true;
    };
    if ohms <= NO_PULL_OHMS {
        return false;
    }
    let x = &settled.solution.x;
    let reference = placed.nets[control.against].map_or(0.0, |n| volts(x, n));
    let level = volts(x, net) - reference;
    let swing = ohms * control.leak_amps * warm;
    level - swing <= control.low_volts && control.high_volts <= level + swing
}

fn controls(placed: &PlacedPart) -> Vec<Control> {
    match &placed.part.device {
        Device::Fet(fet) => vec![gate(fet)],
        Device::Regulator(regulator) => regulator_controls(placed, regulator),
        Device::LoadSwitch(switch) => enable(placed, switch.enable.as_ref()).into_iter().collect(),
        _ => Vec::new(),
    }
}

/// Pins of a transistor: drain, source, gate.
fn gate(fet: &Fet) -> Control {
    let threshold = fet.threshold.si();
    let leak_amps = fet.gate_leakage.map_or(GATE_LEAK_AMPS, |l| l.high());
    Control {
        slot: 2,
        against: 1,
        low_volts: -threshold,
        high_volts: threshold,
        leak_amps,
    }
}

fn enable(placed: &PlacedPart, enable: Option<&Enable>) -> Option<Control> {
    let (slot, enable) = (placed.part.pin("enable")?.0, enable?);
    Some(Control {
        slot,
        against: 2,
        low_volts: enable.low.as_volts(),
        high_volts: enable.high.as_volts(),
        leak_amps: enable.leakage.high(),
    })
}

fn regulator_controls(placed: &PlacedPart, regulator: &Regulator) -> Vec<Control> {
    let slot = |name: &str| placed.part.pin(name).map(|(slot, _)| slot);
    let mut found = Vec::from_iter(enable(placed, regulator.enable.as_ref()));
    if let Some(slot) = slot("fb") {
        let set = regulator.setpoint_volts();
        let leak_amps = regulator.bias.high();
        found.push(Control {
            slot,
            against: 2,
            low_volts: set,
            high_volts: set,
            leak_amps,
        });
    }
    found
}
