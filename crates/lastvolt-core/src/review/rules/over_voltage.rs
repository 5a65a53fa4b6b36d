//! `over-voltage`: do fresh cells, a supply or a tolerance put a load or part above what it bears?
//!
//! Every forward switch position is solved with fresh cells, base states, and supplies, references
//! and dividers at the limits that give the most. Above what is survived is a stop, between the
//! working maximum and that a fix. Capacitors belong to `capacitor-rating`. Boards that are plugged
//! together are solved in the same way; what one of them has alone already is not said again.

mod stacked;

use crate::circuit::{Mode, Point, Situation, Stress, WRONG_WAY_VOLTS};
use crate::model::{Device, Load};
use crate::quantity::Unit;
use crate::review::rules::Rule;
use crate::review::rules::floating_control::positions;
use crate::review::rules::output_error::Output;
use crate::review::{Evidence, Figure, Finding, HighPoint, RuleId, Severity, Stack, words};

/// Drop between a source and a load that is put down to the path and not to another source.
const PATH_VOLTS: f64 = 0.3;

pub(super) struct OverVoltage;

impl Rule for OverVoltage {
    fn id(&self) -> RuleId {
        "over-voltage"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let mut out = Vec::new();
        for (name, load) in e.circuit().loads() {
            if let Some(found) = load_over(e, self.id(), &name, load) {
                add(&mut out, found);
            }
        }
        out.extend(parts_over(e, self.id()));
        out
    }

    fn look_at_stack(&self, s: &Stack) -> Vec<Finding> {
        stacked::over(s, self.id())
    }
}

/// What one load is held against.
struct Over {
    situation: Situation,
    volts: f64,
    limit: f64,
    severity: Severity,
}

fn load_over(e: &Evidence, rule: RuleId, name: &str, load: &Load) -> Option<Finding> {
    let survives = load.survives.map(|v| v.as_volts());
    let mut found: Vec<Over> = Vec::new();
    for high in e.high() {
        let volts = high.point.load(name).map_or(0.0, |l| l.volts);
        let state = high.situation.states.get(name).and_then(|s| load.state(s));
        let works = load.working_in(state.unwrap_or(0)).map(|r| r.to.as_volts());
        let (limit, severity) = match (survives, works) {
            (Some(limit), _) if limit < volts => (limit, Severity::Stop),
            (_, Some(limit)) if limit < volts => (limit, Severity::Fix),
            _ => continue,
        };
        found.push(Over {
            situation: high.situation.clone(),
            volts,
            limit,
            severity,
        });
    }
    let count = found.len();
    let usual = e.usual().positions;
    let in_usual = found.iter().filter(|o| o.situation.positions == usual);
    let usual_volts = in_usual.map(|o| o.volts).reduce(f64::max);
    let worst = found.into_iter().max_by(|a, b| {
        (a.severity, a.volts)
            .partial_cmp(&(b.severity, b.volts))
            .unwrap_or(std::cmp::Ordering::Equal)
    })?;
    let high = e.high().iter().find(|h| h.situation == worst.situation)?;
    let holder = holder(e, &high.point, worst.volts);
    let blamed: Vec<String> = match holder {
        // Set to what the load does not work at: `output-error` says so.
        Some(output) if output.is_set_wrong(e) => return None,
        Some(output) => output.set_by().iter().map(|n| (*n).to_owned()).collect(),
        None => e.source_name().into_iter().collect(),
    };
    let parts: Vec<&str> = blamed.iter().map(String::as_str).collect();
    let base = Finding {
        nets: vec![load.plus.clone()],
        situations: count,
        ..e.finding(rule, worst.severity, &parts)
    };
    Some(load_finding(e, name, worst, usual_volts, &blamed, base))
}

/// Puts a finding about a load with the one that blames the same parts, each load with its own
/// sentence; the load that is farthest above its limit comes first.
fn add(out: &mut Vec<Finding>, mut found: Finding) {
    let beyond = |f: &Finding| {
        let figures = f.measured.zip(f.limit);
        figures.map_or(0.0, |(measured, limit)| measured.value - limit.value)
    };
    let Some(known) = out.iter_mut().find(|k| k.id() == found.id()) else {
        out.push(found);
        return;
    };
    let heavier = known.severity < found.severity
        || known.severity == found.severity && beyond(known) < beyond(&found);
    if heavier {
        std::mem::swap(known, &mut found);
    }
    known.says = format!("{} {}", known.says, found.says);
    known.situations = known.situations.max(found.situations);
    for net in found.nets {
        if !known.nets.contains(&net) {
            known.nets.push(net);
        }
    }
}

/// The regulator that holds a voltage.
fn holder<'a>(e: &Evidence<'a>, point: &Point, volts: f64) -> Option<Output<'a>> {
    let mut outputs = e.board.parts.iter().filter_map(|p| Output::of(e, p));
    outputs.find(|output| {
        let solved = point.part(&output.part.name);
        solved.is_some_and(|p| {
            let holds = matches!(p.mode, Some(Mode::Run | Mode::Limit));
            holds && (p.volts - volts).abs() < PATH_VOLTS
        })
    })
}

fn load_finding(
    e: &Evidence,
    name: &str,
    worst: Over,
    usual_volts: Option<f64>,
    blamed: &[String],
    base: Finding,
) -> Finding {
    let what = match worst.severity {
        Severity::Stop => "survives",
        _ => "works up to",
    };
    let moved = worst.situation.positions != e.usual().positions;
    let place = match positions(&worst.situation) {
        place if place.is_empty() => String::new(),
        place => format!(" with {place}"),
    };
    let (usually, else_do) = match usual_volts {
        Some(volts) if moved => (
            format!(", and {} in the usual positions", words::volts(volts)),
            "",
        ),
        None if !place.is_empty() => (String::new(), ", or do without that position"),
        _ => (String::new(), ""),
    };
    Finding {
        aspect: "load",
        measured: Some(Figure::new(worst.volts, Unit::Volt)),
        limit: Some(Figure::new(worst.limit, Unit::Volt)),
        says: format!(
            "{name} gets up to {}{place}{usually}; it {what} {}.",
            words::volts(worst.volts),
            words::volts(worst.limit)
        ),
        remedy: format!(
            "lower what {} can give by {} or more{else_do}",
            words::join(blamed),
            words::volts(worst.volts - worst.limit)
        ),
        basis: "absolute maximum and working range of the load".to_owned(),
        situation: Some(worst.situation),
        ..base
    }
}

/// The worst of one stress of one part.
struct WorstStress<'h> {
    high: &'h HighPoint,
    stress: &'h Stress,
    count: usize,
}

/// Of each stress by voltage above its rating the worst, in the order in which they are met first.
fn worst_stresses<'h>(
    all: &'h [HighPoint],
    counts: impl Fn(&HighPoint, &Stress) -> bool,
) -> Vec<WorstStress<'h>> {
    let mut out: Vec<WorstStress> = Vec::new();
    for high in all {
        for stress in &high.stresses {
            let by_voltage = stress.quantity.contains("voltage") || is_wrong_way(stress);
            if !by_voltage || stress.share <= 1.0 || !counts(high, stress) {
                continue;
            }
            let known = out
                .iter_mut()
                .find(|w| w.stress.part == stress.part && w.stress.quantity == stress.quantity);
            let Some(known) = known else {
                out.push(WorstStress {
                    high,
                    stress,
                    count: 1,
                });
                continue;
            };
            known.count += 1;
            if known.stress.share < stress.share {
                (known.high, known.stress) = (high, stress);
            }
        }
    }
    out
}

/// Whether a part sees the polarity that it is not made for, and not one that it is rated for.
fn is_wrong_way(stress: &Stress) -> bool {
    stress.rating == WRONG_WAY_VOLTS && stress.quantity.contains("reverse")
}

/// What to do about a stress, and where its limit comes from; `or` is the other way out.
fn cure(stress: &Stress, or: &str) -> (String, String) {
    if is_wrong_way(stress) {
        return (
            "put what feeds it the right way round, or block the wrong polarity".to_owned(),
            "0.3 V of the wrong polarity at most (common practice)".to_owned(),
        );
    }
    (
        format!(
            "take a part rated for {} or more (three quarters used), or {or}",
            words::volts(stress.value / 0.75)
        ),
        "absolute maximum rating; share used after NASA EEE-INST-002, from memory".to_owned(),
    )
}

/// The finding on the worst stress of a part; `with` says what else it takes to come about.
fn told(worst: &WorstStress, with: &str, or: &str, base: Finding) -> Finding {
    let stress = worst.stress;
    let (remedy, basis) = cure(stress, or);
    Finding {
        aspect: stress.quantity,
        situation: Some(worst.high.situation.clone()),
        situations: worst.count,
        measured: Some(Figure::new(stress.value, Unit::Volt)),
        limit: Some(Figure::new(stress.rating, Unit::Volt)),
        says: format!(
            "{} sees {} of {}{with}; it {} {}.",
            stress.part,
            said(stress),
            words::volts(stress.value),
            bears(stress),
            words::volts(stress.rating)
        ),
        remedy,
        basis,
        ..base
    }
}

/// Stresses by voltage of anything but capacitors above the rating; of loads, the wrong polarity.
fn parts_over(e: &Evidence, rule: RuleId) -> Vec<Finding> {
    let counts = |_: &HighPoint, stress: &Stress| match e.board.part(&stress.part) {
        Some(part) => !matches!(part.device, Device::Capacitor(_)),
        None => is_wrong_way(stress),
    };
    let found = worst_stresses(e.high(), counts).into_iter().map(|worst| {
        let stress = worst.stress;
        let is_part = e.board.part(&stress.part).is_some();
        let source = e.source_name().filter(|_| !is_part);
        let blamed = source.as_deref().unwrap_or(&stress.part);
        let base = e.finding(rule, Severity::Stop, &[blamed]);
        told(&worst, "", "lower the voltage", base)
    });
    found.collect()
}

/// What a limit is: a rating, or what any part bears of the wrong polarity.
fn bears(stress: &Stress) -> &'static str {
    if is_wrong_way(stress) {
        "bears"
    } else {
        "is rated for"
    }
}

/// A quantity as a sentence has it.
fn said(stress: &Stress) -> &str {
    match stress.quantity {
        "output reversed" => "reverse voltage at its output",
        other => other,
    }
}
