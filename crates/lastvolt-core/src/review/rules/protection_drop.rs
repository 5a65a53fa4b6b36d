//! `protection-drop`: what does the part that protects against a reversed cell cost at the end of
//! life, and is its transistor still as far on as its data sheet specifies?
//!
//! A transistor, diode or fuse counts as protection where it carries most of a cell's current. It is
//! replaced by a wire and the life computed again. A gate voltage below the lowest for which the
//! data sheet states an on-resistance is said as `not-guaranteed-here`, whatever it costs.
//!
//! # References
//! TI SLVA139 (diodes and transistors against reversed batteries); the threshold voltage is stated
//! at a test current and is not an on-state (onsemi AND90146, Nexperia AN50001).

use crate::circuit::{Point, Situation};
use crate::device::Fet;
use crate::model::{Board, Change, Device, Part};
use crate::quantity::Unit;
use crate::review::rules::Rule;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

/// Share of a cell's current from which a part carries it.
const CARRIES: f64 = 0.5;

/// Share of the life that a series diode usually costs: a Schottky diode drops 0.3 V of the 3 V of two
/// cells (common practice). Up to there it is worth a word; beyond, it is worth a change.
const USUAL_PRICE: f64 = 0.1;

/// Part of the threshold from which the cost is computed and not only estimated.
const MAY_COST: f64 = 0.4;

pub(super) struct ProtectionDrop;

impl Rule for ProtectionDrop {
    fn id(&self) -> RuleId {
        "protection-drop"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let Some(tired) = e.tired().filter(|_| lasts(e)) else {
            return Vec::new();
        };
        let Some(point) = e.point(&tired) else {
            return Vec::new();
        };
        let parts = protections(e, &point).into_iter();
        let found = parts.filter_map(|part| {
            let cost = if may_cost(e, part, &point) {
                cost(e, part)
            } else {
                0.0
            };
            let weak = match &part.device {
                Device::Fet(fet) => below_specified(e, part, fet, &point),
                _ => None,
            };
            match weak {
                Some(gate) => Some(not_guaranteed(e, self.id(), part, &tired, gate, cost)),
                None if e.sensitivity.win_share < cost => {
                    Some(costly(e, self.id(), part, &tired, &point, cost))
                }
                None => None,
            }
        });
        found.collect()
    }
}

/// Whether there is a life to lose; without an end it counts as one.
fn lasts(e: &Evidence) -> bool {
    e.life()
        .is_some_and(|l| l.life_secs.is_none_or(|secs| 0.0 < secs))
}

/// Parts that carry most of the current of a cell.
fn protections<'a>(e: &Evidence<'a>, point: &Point) -> Vec<&'a Part> {
    let amps = |name: &str| point.part(name).map_or(0.0, |p| p.amps.abs());
    let cells = e.board.parts.iter();
    let cells = cells.filter(|p| matches!(p.device, Device::Cell(_)));
    let most = cells.map(|p| amps(&p.name)).fold(0.0, f64::max);
    let carries = |p: &&Part| CARRIES * most < amps(&p.name);
    let kinds = |p: &&Part| {
        matches!(
            p.device,
            Device::Fet(_) | Device::Diode(_) | Device::Fuse(_)
        )
    };
    e.board.parts.iter().filter(kinds).filter(carries).collect()
}

/// Whether a part may cost what is worth a finding: looked up on the way of the lowest rail voltage
/// before the end, so that the life is computed again only where it matters.
fn may_cost(e: &Evidence, part: &Part, point: &Point) -> bool {
    let Some(life) = e.life() else { return false };
    let Some(end) = life.life_secs else {
        return false;
    };
    let drop = point.part(&part.name).map_or(0.0, |p| p.volts.abs());
    // Behind a converter the rail stands still and the cell tells.
    let lowest = &life.trace.cell.lowest_volts;
    let cells = e.cell().map_or(1, |(_, cell)| cell.series);
    let Some(last) = lowest.last() else {
        return true;
    };
    #[expect(clippy::cast_precision_loss, reason = "cells are few")]
    let level = last + drop / cells as f64;
    let crossed = lowest.iter().rposition(|v| level <= *v);
    let since = crossed.map_or(0.0, |k| life.trace.time_secs[k]);
    MAY_COST * e.sensitivity.win_share * end < end - since
}

/// Share of the life that a wire in its place would win.
fn cost(e: &Evidence, part: &Part) -> f64 {
    let wire = Change::Bridge {
        board: e.board.name.clone(),
        part: part.name.clone(),
    };
    e.win(&[wire]).unwrap_or(0.0)
}

/// Gate voltage there is and gate voltage that is specified, where the first is lower.
fn below_specified(e: &Evidence, part: &Part, fet: &Fet, point: &Point) -> Option<(f64, f64)> {
    let volts = |pin: &str| {
        let net = part.net(pin).map(|n| e.net_name(n))?;
        point.net(&net)
    };
    let gate = (volts("gate")? - volts("source")?).abs();
    let specified = fet.specified_from()?.as_volts();
    // A life that ends exactly at the specified voltage is known to some millivolts only.
    (gate < specified - 5e-3).then_some((gate, specified))
}

/// Whether a diode also keeps other sources off the cell: those of its own board, or of boards that are
/// plugged on. A transistor with its gate to ground would not.
fn keeps_apart(e: &Evidence, part: &Part) -> bool {
    let sources = |board: &Board| {
        let feeds = |p: &&Part| matches!(p.device, Device::Cell(_) | Device::Supply(_));
        board.parts.iter().filter(feeds).count()
    };
    let others = e.family.boards.iter().filter(|b| b.name != e.board.name);
    let elsewhere = others.map(sources).sum::<usize>();
    matches!(part.device, Device::Diode(_)) && (1 < sources(e.board) || 0 < elsewhere)
}

fn not_guaranteed(
    e: &Evidence,
    rule: RuleId,
    part: &Part,
    tired: &Situation,
    (gate, specified): (f64, f64),
    cost: f64,
) -> Finding {
    let costs = if e.sensitivity.win_share < cost {
        format!(
            " With typical figures it already costs {} of the life.",
            words::percent(cost / (1.0 + cost))
        )
    } else {
        String::new()
    };
    Finding {
        aspect: "not-guaranteed-here",
        situation: Some(tired.clone()),
        measured: Some(Figure::new(gate, Unit::Volt)),
        limit: Some(Figure::new(specified, Unit::Volt)),
        says: format!(
            "Not guaranteed here: at the end of life the gate of {} has {}, and its data sheet states an \
             on-resistance from {} on.{costs}",
            part.name,
            words::volts(gate),
            words::volts(specified)
        ),
        remedy: format!(
            "take a transistor specified at {} or less, or protect by a holder that a reversed cell does not fit",
            words::volts((gate * 10.0).floor() / 10.0)
        ),
        basis: "data sheet of the transistor; TI SLVA139, Nexperia AN50001".to_owned(),
        ..e.finding(rule, Severity::Fix, &[&part.name])
    }
}

fn costly(
    e: &Evidence,
    rule: RuleId,
    part: &Part,
    tired: &Situation,
    point: &Point,
    cost: f64,
) -> Finding {
    let life = e.life().and_then(|l| l.life_secs).unwrap_or(0.0);
    let solved = point.part(&part.name);
    let (drop, amps) = solved.map_or((0.0, 0.0), |p| (p.volts.abs(), p.amps.abs()));
    let apart = keeps_apart(e, part);
    let severity = if e.reaches_requirement() != Some(false)
        && matches!(part.device, Device::Diode(_))
        && (apart || cost <= USUAL_PRICE)
    {
        Severity::Note
    } else {
        Severity::Fix
    };
    let remedy = match part.device {
        Device::Diode(_) if apart => {
            "it also keeps other sources off the cell: take a diode with a lower forward voltage, or a circuit that stands for one with some tens of millivolts"
        }
        Device::Diode(_) => {
            "take a p-channel transistor with its gate to ground, or a holder that a reversed cell does not fit"
        }
        Device::Fuse(_) => "take a fuse with less resistance",
        _ => "take a transistor with less on-resistance at this gate voltage",
    };
    Finding {
        situation: Some(tired.clone()),
        measured: Some(Figure::new(cost, Unit::Fraction)),
        limit: Some(Figure::new(e.sensitivity.win_share, Unit::Fraction)),
        says: format!(
            "{} drops {} at {} at the end of life; with a wire in its place the board would live {} longer ({}).",
            part.name,
            words::volts(drop),
            words::amps(amps),
            words::span(cost.min(1e3) * life),
            words::percent(cost)
        ),
        remedy: remedy.to_owned(),
        basis: "TI SLVA139".to_owned(),
        ..e.finding(rule, severity, &[&part.name])
    }
}
