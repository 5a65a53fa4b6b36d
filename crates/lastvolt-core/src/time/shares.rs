//! Where the voltage between the open cell and a load is lost at one instant.
//!
//! From the rested cell at its depth down: the wells (open-circuit voltage at the depth less that at
//! the surface), resistance, polarisation, activation, film and contacts of the cell, then
//! the parts on the path that carries the current to the load and back. A converter counts as what its output lies
//! below its input, so a step-up counts negative; all shares together are the open-circuit voltage
//! less the load's. In a waveform the cell gives less than the burst takes while capacitors give the
//! rest: by how much less it drops for that is said beside the shares.

use crate::circuit::{Circuit, Point, Situation};
use crate::model::{Device, Part};
use crate::time::engine::Engine;
use crate::time::site::Seen;
use crate::time::swing::Moment;

/// Name of what capacitors spare the cell at that instant; negative, beside the shares of the drop.
pub(crate) const BYPASS: &str = "bypass";
/// What they spare counts from here.
const LEAST_BYPASS_VOLTS: f64 = 1e-5;

/// A conducting connection between two nets.
struct Link {
    part: String,
    nets: [usize; 2],
    /// How hard it is to go through: currents of the size of the cell's are easy.
    weight: f64,
}

/// Shares of the drop from the open cell to a pair of nets, for the cell part that feeds most.
pub(crate) fn shares(
    circuit: &Circuit,
    situation: &Situation,
    engine: &Engine,
    (seen, point): (&[Seen], &Point),
    moment: Option<&Moment>,
    ends: (&str, &str),
) -> Vec<(String, f64)> {
    let sites = engine.sites().iter().zip(seen);
    let fed = sites.filter_map(|(site, cell)| Some((site, cell, point.part(&site.name)?.amps)));
    let Some((site, cell, amps)) = fed.max_by(|a, b| a.2.total_cmp(&b.2)) else {
        return Vec::new();
    };
    let n = site.series as f64;
    let settled = amps;
    let amps = moment
        .and_then(|m| m.cell_amps(&site.name))
        .unwrap_or(settled);
    let activation = |amps: f64| n * site.model.activation_volts(amps).0;
    let name = |what: &str| format!("{}:{what}", site.name);
    let rested = site.model.open_circuit_volts(cell.depth).0 + site.shift_volts;
    let (branches_volts, film_ohms) = match moment.and_then(|m| m.film(&site.name)) {
        Some((volts, film)) => (volts, site.model.film_ohms(film)),
        None => (cell.branches_volts, cell.film_ohms),
    };
    let mut shares = vec![
        (name("wells"), n * (rested - cell.open_volts)),
        (name("resistance"), n * amps * cell.ohms),
        (name("polarisation"), n * branches_volts),
        (name("activation"), activation(amps)),
        (name("film"), n * amps * film_ohms),
        (name("contacts"), n * amps * site.contact_ohms),
    ];
    // What the cell does not have to give while capacitors do.
    let ohms = n * (cell.series_ohms() + site.contact_ohms);
    let spared = (settled - amps) * ohms + activation(settled) - activation(amps);
    // A board that has given up at its settled end takes a current that compares with nothing.
    let runs = point.loads.iter().all(|l| l.awake);
    if runs && spared.abs() > LEAST_BYPASS_VOLTS {
        shares.push((BYPASS.to_owned(), -spared));
    }
    let [board] = circuit.boards() else {
        return shares;
    };
    let volts: Vec<f64> = board
        .nets
        .iter()
        .map(|n| {
            let then = moment.and_then(|m| m.net(n));
            then.or_else(|| point.net(n)).unwrap_or(0.0)
        })
        .collect();
    let links = links(&board.parts, situation, point, amps);
    if let Some(part) = board.part(&site.name) {
        let net = |name: &str| board.nets.iter().position(|n| n == name);
        let ends = [
            (part.net("plus"), net(ends.0)),
            (net(ends.1), part.net("minus")),
        ];
        for (from, to) in ends {
            let (Some(from), Some(to)) = (from, to) else {
                continue;
            };
            for (part, a, b) in path(&links, board.nets.len(), from, to) {
                add(&mut shares, part, volts[a] - volts[b]);
            }
        }
    }
    shares.retain(|s| s.1 != 0.0);
    shares
}

fn add(shares: &mut Vec<(String, f64)>, part: String, volts: f64) {
    match shares.iter_mut().find(|s| s.0 == part) {
        Some(share) => share.1 += volts,
        None => shares.push((part, volts)),
    }
}

fn links(parts: &[Part], situation: &Situation, point: &Point, cell_amps: f64) -> Vec<Link> {
    let mut links = Vec::new();
    for part in parts {
        let Some(at) = point.part(&part.name) else {
            continue;
        };
        for (a, b) in pairs(part, situation) {
            let nets = (part.pins.get(a), part.pins.get(b));
            let (Some(from), Some(to)) = (nets.0.and_then(|p| p.net), nets.1.and_then(|p| p.net))
            else {
                continue;
            };
            let carried = |pin: usize| at.pin_amps.get(pin).map_or(0.0, |i| i.abs());
            let amps = carried(a).min(carried(b)).max(1e-6 * cell_amps.abs());
            links.push(Link {
                part: part.name.clone(),
                nets: [from, to],
                weight: if amps > 0.0 {
                    1.0 + cell_amps.abs() / amps
                } else {
                    1.0
                },
            });
        }
    }
    links
}

/// Pairs of pins between which a part carries current.
fn pairs(part: &Part, situation: &Situation) -> Vec<(usize, usize)> {
    match &part.device {
        Device::Resistor(_)
        | Device::Inductor(_)
        | Device::Diode(_)
        | Device::Led(_)
        | Device::Fuse(_)
        | Device::Ptc(_)
        | Device::Zener(_)
        | Device::LoadSwitch(_)
        | Device::IdealDiode(_)
        | Device::Fet(_) => vec![(0, 1)],
        Device::Switch(switch) => {
            let named = situation.positions.get(&part.name);
            let position = named
                .and_then(|p| switch.position(p))
                .unwrap_or(switch.usual);
            let closed = switch.positions.get(position);
            closed.map_or_else(Vec::new, |p| p.closed.clone())
        }
        Device::Regulator(_) => {
            let pins = ["in", "sw", "sw1", "sw2", "out"];
            let pins: Vec<usize> = pins.iter().filter_map(|p| Some(part.pin(p)?.0)).collect();
            let first = pins.iter().enumerate();
            let rest = first.flat_map(|(k, &a)| pins[k + 1..].iter().map(move |&b| (a, b)));
            rest.collect()
        }
        _ => Vec::new(),
    }
}

/// The lightest way from one net to another: parts with the nets before and after them.
fn path(links: &[Link], nets: usize, from: usize, to: usize) -> Vec<(String, usize, usize)> {
    let mut cost = vec![f64::INFINITY; nets];
    let mut step: Vec<Option<(usize, usize)>> = vec![None; nets];
    cost[from] = 0.0;
    // Bellman and Ford: as many rounds as there are nets settle every way.
    for _ in 0..nets {
        for (at, link) in links.iter().enumerate() {
            for (a, b) in [(link.nets[0], link.nets[1]), (link.nets[1], link.nets[0])] {
                if cost[a] + link.weight < cost[b] {
                    cost[b] = cost[a] + link.weight;
                    step[b] = Some((at, a));
                }
            }
        }
    }
    let mut way = Vec::new();
    let mut net = to;
    while let Some((at, before)) = step[net].filter(|_| net != from && way.len() <= nets) {
        way.push((links[at].part.clone(), before, net));
        net = before;
    }
    way.reverse();
    way
}
