//! Capacitors that are charged through a contact in the moment that it closes.

use crate::circuit::Situation;
use crate::device::Switch;
use crate::model::{Device, Part};
use crate::quantity::Unit;
use crate::review::anatomy::{ends, joined};
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

/// How long the rated current may flow for the same heat: a cold contact bears for a moment what it
/// bears for ever over a tenth of a second (from memory; data sheets of slide switches state none).
const CONTACT_SECS: f64 = 0.1;

/// What closing one contact does.
struct Surge {
    from: String,
    to: String,
    volts: f64,
    ohms: f64,
    farads: f64,
    parts: Vec<String>,
    situation: Situation,
}

impl Surge {
    fn square_amp_secs(&self) -> f64 {
        self.farads * self.volts * self.volts / (2.0 * self.ohms)
    }
}

/// The worst charging of capacitors through a contact, where it is more than the rating bears.
pub(super) fn inrush(e: &Evidence, rule: RuleId, part: &Part, switch: &Switch) -> Option<Finding> {
    let rated = switch.rated?.as_amps();
    let limit = rated * rated * CONTACT_SECS;
    let mut surges = surges(e, part, switch);
    surges.retain(|s| rated < s.volts / s.ohms && limit < s.square_amp_secs());
    let count = surges.len();
    let worst = surges
        .into_iter()
        .max_by(|a, b| a.square_amp_secs().total_cmp(&b.square_amp_secs()))?;
    let peak = worst.volts / worst.ohms;
    // The resistance in all that brings the integral down to what the contact bears.
    let needed = worst.farads * worst.volts * worst.volts / (2.0 * limit);
    let more = crate::numerics::eseries::Series::E24.at_least(needed - worst.ohms);
    Some(Finding {
        aspect: "inrush",
        nets: vec![worst.from.clone(), worst.to.clone()],
        situations: count,
        measured: Some(Figure::new(peak, Unit::Ampere)),
        limit: Some(Figure::new(rated, Unit::Ampere)),
        says: format!(
            "When {} joins {} to {}, {} ({}) is charged to {} through {}: {} at first and {} in all, \
             as much heat in the contact as its rated {} makes in {}; {} is what a cold contact bears.",
            part.name,
            worst.from,
            worst.to,
            words::join(&worst.parts),
            words::farads(worst.farads),
            words::volts(worst.volts),
            words::ohms(worst.ohms),
            words::amps(peak),
            words::figure(0.5 * worst.farads * worst.volts * worst.volts, Unit::Joule),
            words::amps(rated),
            words::span(worst.square_amp_secs() / (rated * rated)),
            words::span(CONTACT_SECS)
        ),
        remedy: format!(
            "put the store on the source's side of {}, or {} in series with it",
            part.name,
            words::ohms(more)
        ),
        basis: "I^2 t of charging a capacitor through a resistance; allowance from memory"
            .to_owned(),
        situation: Some(worst.situation),
        ..e.finding(rule, Severity::Fix, &[&part.name])
    })
}

/// Every contact that closes between a net that is up and one that is down.
fn surges(e: &Evidence, part: &Part, switch: &Switch) -> Vec<Surge> {
    let mut out = Vec::new();
    for (case, point) in e.forward() {
        let Some(here) = case.situation.positions.get(&part.name) else {
            continue;
        };
        let open = switch.closed_in(here).unwrap_or_default();
        for next in &switch.positions {
            for pair in next.closed.iter().filter(|c| !open.contains(c)) {
                let net = |at: usize| part.pins.get(at).and_then(|p| p.net);
                let (Some(a), Some(b)) = (net(pair.0), net(pair.1)) else {
                    continue;
                };
                let volts = |n: usize| point.net(&e.net_name(n)).unwrap_or(0.0);
                let (from, to) = if volts(a) < volts(b) { (b, a) } else { (a, b) };
                let mut then = case.situation.positions.clone();
                then.insert(part.name.clone(), next.name.clone());
                let before = Side::new(e, &case.situation.positions, to);
                let source = Side::new(e, &case.situation.positions, from);
                if before.nets == source.nets || before.feeds {
                    continue;
                }
                // What the source's side stores is at hand at once; then the source itself pushes.
                let (farads, esr) = (before.farads, before.ohms);
                let feed = if farads < source.farads {
                    source.ohms
                } else {
                    e.source_ohms(&case.situation.positions, point, from, &|p| own_ohms(e, p))
                };
                if farads <= 0.0 || !feed.is_finite() {
                    continue;
                }
                out.push(Surge {
                    from: e.net_name(from),
                    to: e.net_name(to),
                    volts: volts(from) - volts(to),
                    ohms: switch.contact.si() + esr + feed,
                    farads,
                    parts: before.parts,
                    situation: Situation {
                        positions: then,
                        ..case.situation.clone()
                    },
                });
            }
        }
    }
    out
}

/// What hangs on one side of an open contact.
struct Side {
    nets: Vec<usize>,
    farads: f64,
    /// Series resistance of the capacitors together.
    ohms: f64,
    /// Whether a source stands on it.
    feeds: bool,
    parts: Vec<String>,
}

impl Side {
    fn new(
        e: &Evidence,
        positions: &std::collections::BTreeMap<String, String>,
        net: usize,
    ) -> Self {
        let roots = joined(e.board, positions);
        let nets: Vec<usize> = (0..roots.len())
            .filter(|n| roots[*n] == roots[net])
            .collect();
        let (mut farads, mut siemens, mut feeds) = (0.0, 0.0, false);
        let mut parts = Vec::new();
        for part in &e.board.parts {
            let here = ends(part).is_some_and(|(a, b)| nets.contains(&a) != nets.contains(&b));
            if !here {
                continue;
            }
            match &part.device {
                Device::Capacitor(c) => {
                    farads += c.value.si();
                    siemens += 1.0 / c.series_ohms().max(1e-3);
                    parts.push(part.name.clone());
                }
                Device::Cell(_) | Device::Supply(_) => feeds = true,
                _ => {}
            }
        }
        Self {
            nets,
            farads,
            ohms: 1.0 / siemens,
            feeds,
            parts,
        }
    }
}

/// Resistance of a source: of fresh cells, which push most.
fn own_ohms(e: &Evidence, part: &Part) -> Option<f64> {
    match &part.device {
        Device::Cell(cell) => {
            #[expect(clippy::cast_precision_loss, reason = "a handful of cells")]
            let each = cell.series as f64;
            let celsius = e.family.requirement.ambient.usual.as_celsius();
            let one = cell.model.resistance_ohms(0.0, celsius, 0.0);
            Some(each * (one + cell.holder.contact.si()))
        }
        Device::Supply(s) => Some(s.resistance.si()),
        _ => None,
    }
}
