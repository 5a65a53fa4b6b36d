//! A first guess of a circuit's voltages: what its sources and regulators promise.
//!
//! Cells and supplies stand at their open voltage, outputs of regulators at their set voltage, and
//! every other net at the level of the nearest of these through resistors, diodes and transistors. A
//! guess with a step across a small resistance would ask a regulator for more than it can give, and
//! lead to the far side of its fold.

use crate::circuit::build::System;
use crate::circuit::element::Element;
use crate::circuit::netlist::Net;
use crate::circuit::regulation::RegulatorTerms;
use crate::device::Topology;

/// Where an output is guessed to be that is not sensed through a plain divider.
const TYPICAL_RAIL_VOLTS: f64 = 3.0;
/// Share of the highest source that an output below its input is guessed to keep: any drop at all
/// shows the regulator giving and not idle.
const BELOW_INPUT: f64 = 0.98;

/// The guess, one value an unknown; currents are guessed to be zero.
pub(crate) fn promise(system: &System) -> Vec<f64> {
    let mut x = vec![0.0; system.unknowns];
    let mut levels = vec![None; system.nets];
    let top = place_sources(system, &mut levels);
    place_outputs(system, top, &mut levels);
    spread(system, &mut levels);
    let named = system.netlist.nets.len();
    for (net, level) in levels.iter().enumerate() {
        // Open pins stay at zero where nothing leads to them.
        let rest = if net < named { top } else { 0.0 };
        x[net] = level.unwrap_or(rest);
    }
    x
}

/// Puts positive sources at their open voltage; gives the highest.
fn place_sources(system: &System, levels: &mut [Option<f64>]) -> f64 {
    let mut top: f64 = 0.0;
    for (_, element) in &system.elements {
        let (plus, volts) = match element {
            Element::Cells { plus, cells, .. } => {
                (plus, cells.iter().map(|c| c.sign * c.emf_volts).sum())
            }
            Element::Source { plus, volts, .. } | Element::Supply { plus, volts, .. } => {
                (plus, *volts)
            }
            _ => continue,
        };
        if volts > 0.0 {
            put(levels, plus.net, volts);
            top = top.max(volts);
        }
    }
    top
}

fn place_outputs(system: &System, top: f64, levels: &mut [Option<f64>]) {
    for (_, element) in &system.elements {
        if let Element::Regulator(terms) = element
            && terms.on
        {
            let set = terms.set_volts;
            let is_fed_back = terms.sense.net != terms.power_out.net;
            if is_fed_back {
                put(levels, terms.sense.net, set);
            }
            let output = if is_fed_back {
                divided(system, terms)
            } else {
                set
            };
            let output = reachable(terms, output, top);
            let shared = levels.get(terms.power_out.net).copied().flatten();
            // Of several on one rail the highest carries it.
            put(
                levels,
                terms.power_out.net,
                shared.map_or(output, |s| s.max(output)),
            );
        }
    }
}

/// The output at which a divider between output and ground puts the set voltage on the sensing pin.
pub(crate) fn divided(system: &System, terms: &RegulatorTerms) -> f64 {
    let (sense, output, ground) = (terms.sense.net, terms.power_out.net, terms.gnd.net);
    let between = |far: Net| -> f64 {
        let elements = system.elements.iter().map(|(_, element)| match element {
            Element::Conductance { a, b, siemens } => {
                let joins = [(a.net, b.net), (b.net, a.net)].contains(&(sense, far));
                if joins { *siemens } else { 0.0 }
            }
            _ => 0.0,
        });
        elements.sum()
    };
    let (upper, lower) = (between(output), between(ground));
    if upper > 0.0 {
        terms.set_volts * (1.0 + lower / upper)
    } else {
        terms.set_volts.max(TYPICAL_RAIL_VOLTS)
    }
}

/// An output no higher than the topology allows.
fn reachable(terms: &RegulatorTerms, output: f64, top: f64) -> f64 {
    match terms.device.topology {
        Topology::Linear | Topology::Buck => output.min(BELOW_INPUT * top),
        Topology::Boost | Topology::BuckBoost => output,
    }
}

/// Takes each level one net further, until nothing is left that a path leads to.
fn spread(system: &System, levels: &mut [Option<f64>]) {
    loop {
        let known = levels.to_vec();
        let mut moved = false;
        for (_, element) in &system.elements {
            let Some((a, b)) = ends(element) else {
                continue;
            };
            for (from, to) in [(a, b), (b, a)] {
                let level = known.get(from).copied().flatten();
                if level.is_some() && known.get(to) == Some(&None) {
                    levels[to] = level;
                    moved = true;
                }
            }
        }
        if !moved {
            return;
        }
    }
}

/// The nets that an element joins without lifting one above the other by design.
fn ends(element: &Element) -> Option<(Net, Net)> {
    match element {
        Element::Conductance { siemens, .. } if *siemens == 0.0 => None,
        Element::Conductance { a, b, .. }
        | Element::Branch { a, b, .. }
        | Element::Pass { a, b, .. } => Some((a.net, b.net)),
        Element::Diode { anode, cathode, .. } => Some((anode.net, cathode.net)),
        Element::Channel { drain, source, .. } => Some((drain.net, source.net)),
        _ => None,
    }
}

fn put(levels: &mut [Option<f64>], net: Net, value: f64) {
    // Ground is not among the nets.
    if let Some(level) = levels.get_mut(net) {
        *level = Some(value);
    }
}
