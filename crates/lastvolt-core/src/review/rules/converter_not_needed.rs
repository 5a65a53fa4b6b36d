//! `converter-not-needed`: do the loads and the connector's promise hold without the converter, or does only
//! one load need it, and is life longer then?
//!
//! The life is computed with the converter, with a wire in its place, and, where one load alone needs it,
//! with the other loads before it.
//!
//! # Formula
//! With k = I_in / I_out of the converter without its own current I_q, and d the depth at the end:
//! ```text
//! life with = Q d1 / (k I + I_q)     without = Q d0 / I
//! break even   I = d0 I_q / (d1 - k d0)        I_q = I (d1/d0 - k)
//! ```

use crate::model::{Device, Family, Load};
use crate::quantity::Unit;
use crate::review::anatomy::joined;
use crate::review::evidence::power::Working;
use crate::review::rules::Rule;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};
use crate::time::{Cause, Life};

/// Share of the life from which a converter that shortens it is worth taking off where the required life is
/// missed: a quarter is more than what cells differ by.
const LARGE_WIN: f64 = 0.25;

pub(super) struct ConverterNotNeeded;

impl Rule for ConverterNotNeeded {
    fn id(&self) -> RuleId {
        "converter-not-needed"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        if e.lasting_life().is_none() {
            return Vec::new();
        }
        let Some(point) = e.point(&e.usual()) else {
            return Vec::new();
        };
        let all = e.working(&point).into_iter();
        all.filter_map(|at| look(e, self.id(), &at)).collect()
    }
}

/// Share of the life at which a load must work from the cell itself to be called free of the converter.
const HALF_WAY: f64 = 0.5;

/// The loads on an output, and those of them that do not work from the input.
struct Served<'a> {
    all: Vec<&'a Load>,
    needing: Vec<&'a Load>,
}

fn look(e: &Evidence, rule: RuleId, at: &Working) -> Option<Finding> {
    let fresh = served(e, at, 0.0)?;
    if fresh.needing.is_empty() && promise_kept(e, at) {
        let found = removed(e, rule, at, &fresh);
        if found.is_some() {
            return found;
        }
    }
    let served = served(e, at, HALF_WAY * e.life()?.end.depth)?;
    match served.needing.as_slice() {
        [one] if 1 < served.all.len() && !is_promised(e, at) => moved(e, rule, at, &served, one),
        _ => None,
    }
}

fn served<'e>(e: &Evidence<'e>, at: &Working, depth: f64) -> Option<Served<'e>> {
    let nets = e.joined_to(at.part.net("out")?);
    let on = |load: &&Load| {
        let net = e.board.nets.iter().position(|n| *n == load.plus);
        net.is_some_and(|net| nets[net])
    };
    let all: Vec<&Load> = e.family.loads_of(e.board).into_iter().filter(on).collect();
    if all.is_empty() {
        return None;
    }
    let bridged = e.without(at.part)?;
    let needing = all
        .iter()
        .copied()
        .filter(|l| !works(e, &bridged, l, depth));
    Some(Served {
        needing: needing.collect(),
        all,
    })
}

/// Whether a load works at a depth in another family, in every joint state.
fn works(e: &Evidence, family: &Family, load: &Load, depth: f64) -> bool {
    e.joint_states().into_iter().all(|states| {
        let situation = crate::circuit::Situation {
            states,
            depth,
            ..e.usual()
        };
        let Some(point) = e.point_in(family, &situation) else {
            return false;
        };
        let short = e.shortfalls(&situation, &point);
        let survives = load.survives.map_or(f64::INFINITY, |v| v.as_volts());
        let below = point.load(&load.name).is_some_and(|l| l.volts <= survives);
        below && !short.iter().any(|s| s.load == load.name)
    })
}

/// Promises on the output.
fn is_promised(e: &Evidence, at: &Working) -> bool {
    !bands(e, at).is_empty()
}

/// Names and bands of connector pins that are promised on the output.
fn bands(e: &Evidence, at: &Working) -> Vec<(String, f64, f64)> {
    let root = joined(e.board, &e.usual().positions);
    let out = at.part.net("out").map(|net| root[net]);
    let on = |pin: &str| {
        let net = e.board.nets.iter().position(|n| n == pin);
        net.map(|net| root[net]) == out && out.is_some()
    };
    let promises = e.family.connector.promises.iter();
    let banded = promises.filter(|p| on(&p.pin)).filter_map(|p| {
        let (from, to) = p.band?;
        Some((p.pin.clone(), from.as_volts(), to.as_volts()))
    });
    banded.collect()
}

/// Whether the promised bands hold without the converter, fresh at rest and in the heaviest burst at the
/// depth of the required life.
fn promise_kept(e: &Evidence, at: &Working) -> bool {
    let bands = bands(e, at);
    if bands.is_empty() {
        return true;
    }
    let Some(family) = e.without(at.part) else {
        return false;
    };
    let ambient = e.family.requirement.ambient.usual;
    let (depth, _) = e.promised_depth();
    let situations = [e.usual(), e.heaviest(depth, ambient)];
    situations.iter().all(|situation| {
        let point = e.point_in(&family, situation);
        point.is_some_and(|point| {
            let inside = |(pin, from, to): &(String, f64, f64)| {
                point.net(pin).is_some_and(|v| *from <= v && v <= *to)
            };
            bands.iter().all(inside)
        })
    })
}

/// Life with and without, where without is longer.
fn removed(e: &Evidence, rule: RuleId, at: &Working, served: &Served) -> Option<Finding> {
    let without = e.settled_life(&e.without(at.part)?)?;
    let with = e.settled_life(e.family)?;
    let won = won(e, &without)?;
    if matches!(without.end.cause, Cause::OverVoltage | Cause::NotPowered) {
        return None;
    }
    let names: Vec<String> = served.all.iter().map(|l| l.name.clone()).collect();
    Some(Finding {
        says: format!(
            "{} {} without {} too: {} with it, {} without. {}",
            words::join(&names),
            if names.len() == 1 { "works" } else { "work" },
            at.part.name,
            words::span(with.life_secs?),
            words::span(without.life_secs?),
            break_even(e, at, &with, &without)
        ),
        remedy: format!(
            "feed the loads from the input of {} directly, or take a converter whose own current is below the \
             break-even",
            at.part.name
        ),
        ..finding(e, rule, at, won)
    })
}

/// Life with the loads that do not need the converter before it.
fn moved(e: &Evidence, rule: RuleId, at: &Working, served: &Served, one: &Load) -> Option<Finding> {
    let input = e.net_name(at.part.net("in")?);
    let mut family = e.family.clone();
    let loads = &mut family.loads;
    let board = family.boards.iter_mut().find(|b| b.name == e.board.name)?;
    let mut others = Vec::new();
    for load in loads.iter_mut().chain(&mut board.loads) {
        if load.name != one.name && served.all.iter().any(|l| l.name == load.name) {
            load.plus.clone_from(&input);
            others.push(load.name.clone());
        }
    }
    let then = e.settled_life(&family)?;
    let won = won(e, &then)?;
    Some(Finding {
        aspect: "one-load",
        says: format!(
            "Only {} needs {}: with {} at its input the board lives {} instead of {}.",
            one.name,
            at.part.name,
            words::join(&others),
            words::span(then.life_secs?),
            words::span(e.settled_now()?)
        ),
        remedy: format!(
            "feed {} from net {input}, before {}",
            words::join(&others),
            at.part.name
        ),
        ..finding(e, rule, at, won)
    })
}

/// The share won, where it is worth saying.
fn won(e: &Evidence, then: &Life) -> Option<f64> {
    let won = then.life_secs? / e.settled_now()? - 1.0;
    (e.sensitivity.win_share < won).then_some(won)
}

fn finding(e: &Evidence, rule: RuleId, at: &Working, won: f64) -> Finding {
    let missed = e.reaches_requirement() == Some(false);
    let severity = if missed && LARGE_WIN < won {
        Severity::Fix
    } else {
        Severity::Note
    };
    Finding {
        measured: Some(Figure::new(won, Unit::Fraction)),
        limit: Some(Figure::new(e.sensitivity.win_share, Unit::Fraction)),
        basis: "the life computed both ways".to_owned(),
        ..e.finding(rule, severity, &[&at.part.name])
    }
}

/// Mean load current and own current at which both ways live the same.
fn break_even(e: &Evidence, at: &Working, with: &Life, without: &Life) -> String {
    let Some((ratio, own)) = ratio(e, at, with) else {
        return String::new();
    };
    let start = with.shelf.map_or(0.0, |s| s.depth);
    let (deep, shallow) = (with.end.depth - start, without.end.depth - start);
    let mean = without.mean_cell_amps;
    let gain = deep - ratio * shallow;
    if gain <= 0.0 || shallow <= 0.0 {
        return format!(
            "It takes {ratio:.2} times the current of its loads from the cell and reaches {} of the charge instead of \
             {}: it prolongs the life at no current.",
            words::percent(deep),
            words::percent(shallow)
        );
    }
    format!(
        "With its own {} it pays from a mean of {} on (now {}); at this mean from below {}.",
        words::amps(own),
        words::amps(shallow * own / gain),
        words::amps(mean),
        words::amps(mean * (deep / shallow - ratio))
    )
}

/// Input current a current of output in the heaviest state at half the life, and the own current at the input.
fn ratio(e: &Evidence, at: &Working, with: &Life) -> Option<(f64, f64)> {
    let ambient = e.family.requirement.ambient.usual;
    let point = e.point(&e.heaviest(0.5 * with.end.depth, ambient))?;
    let working = e.working(&point).into_iter();
    let then = working.into_iter().find(|w| w.part.name == at.part.name)?;
    let (step, own) = (then.step(), then.own_amps());
    let divider = crate::review::anatomy::dividers(e.board).into_iter();
    let divider = divider.filter(|d| d.regulator.name == at.part.name);
    let divided: f64 = divider
        .filter_map(|d| match (&d.upper.device, &d.lower.device) {
            (Device::Resistor(a), Device::Resistor(b)) => {
                Some(step * then.out_volts / (a.value.si() + b.value.si()))
            }
            _ => None,
        })
        .sum();
    let own = own + divided;
    let loaded = then.in_amps - own;
    (0.0 < loaded && 0.0 < then.out_amps).then(|| (loaded / then.out_amps, own))
}
