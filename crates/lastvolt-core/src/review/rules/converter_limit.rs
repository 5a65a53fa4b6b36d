//! `converter-limit`: does a converter reach its switch limit, its dropout or its fold at the lowest input
//! that it must work from, or saturate its inductor there or at its highest input?
//!
//! Looked at is the heaviest joint load state at the low ambient, at the depth of the required life, or
//! just before the end where that comes sooner, with supplies at their lowest voltage. The current of a
//! step-down converter ripples most at its highest input: its peak is looked at with fresh cells and
//! supplies at their highest too.
//!
//! # Formula
//! ```text
//! I_peak = I_L + dI/2     dI of device/power_stage.rs with the least inductance and frequency
//! ```
//!
//! # References
//! TI SLVA372 eq. 2 and 4, SLVA477B eq. 2 and 4, SLVA535B eq. 5 to 9; saturation from 1.2 times the peak:
//! common practice.

use crate::circuit::{Mode, Point, Situation};
use crate::model::Family;
use crate::quantity::{Quantity, Unit};
use crate::review::evidence::power::Working;
use crate::review::rules::{Rule, brown_out};
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

/// Room between peak and saturation that is usually left (common practice, 1.2 to 1.3).
const SATURATION_ROOM: f64 = 1.2;
/// Share of the charge left from which an end is not that of an empty cell.
const STRANDED: f64 = 0.15;
/// Depths at which peaks are looked at, as shares of the depth of the required life: at the last of them
/// the converter may no longer run at all.
const SHARES: [f64; 5] = [1.0, 0.9, 0.75, 0.5, 0.0];
/// Resistors up to this value stand between a converter and its load as a filter.
const FILTER_OHMS: f64 = 50.0;
const BASIS: &str = "TI SLVA372 eq. 2 and 4, SLVA477B eq. 2 and 4, SLVA535B eq. 5 to 9";

pub(super) struct ConverterLimit;

impl Rule for ConverterLimit {
    fn id(&self) -> RuleId {
        "converter-limit"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let low = e.lowest_supplies();
        let mut found = given_out(e, self.id(), &low);
        let named: Vec<String> = found.iter().flat_map(|f| f.parts.clone()).collect();
        let peaks = peaks(e, self.id(), &low).into_iter();
        found.extend(peaks.filter(|f| !f.parts.iter().any(|p| named.contains(p))));
        found
    }
}

/// Converters that no longer hold their output where a load still needs it.
fn given_out(e: &Evidence, rule: RuleId, low: &Family) -> Vec<Finding> {
    let (depth, reached) = e.promised_depth();
    // With fresh cells `brown-out` says so where the load is told; a supply at its lowest is told here.
    if (e.board.has_cell() && brown_out::explains(e) && depth <= 0.0)
        || !asks_for_more(e, depth, reached)
    {
        return Vec::new();
    }
    let ambients = [
        e.family.requirement.ambient.usual,
        e.family.requirement.ambient.low,
    ];
    let mut out: Vec<Finding> = Vec::new();
    for ambient in ambients {
        let situation = e.heaviest(depth, ambient);
        let Some(point) = e.point_in(low, &situation) else {
            continue;
        };
        let short = short_nets(e, &situation, &point);
        if short.is_empty() {
            continue;
        }
        for at in e.working(&point) {
            let known = out.iter().any(|f| f.parts[0] == at.part.name);
            let starves = || starves(e, &point, &at, &short);
            if let (Some(what), false) = (limit_of(at.mode), known)
                && starves()
            {
                out.push(mode_finding(e, rule, &situation, &at, what));
            }
        }
    }
    out
}

/// Nets of the loads that fall short.
fn short_nets(e: &Evidence, situation: &Situation, point: &Point) -> Vec<usize> {
    let short = e.shortfalls(situation, point);
    let loads = e.family.loads_of(e.board).into_iter();
    let lacking = loads.filter(|load| short.iter().any(|s| s.load == load.name));
    let nets = lacking.filter_map(|load| e.board.nets.iter().position(|n| *n == load.plus));
    nets.collect()
}

/// Whether a converter feeds a load that falls short, directly or through another that lacks input.
fn starves(e: &Evidence, point: &Point, at: &Working, short: &[usize]) -> bool {
    let Some(output) = at.part.net("out") else {
        return false;
    };
    let mut fed = e.charged_from(output, FILTER_OHMS, &|_| true);
    let working = e.working(point);
    for _ in &working {
        for next in working.iter().filter(|next| next.part.name != at.part.name) {
            let (Some(input), Some(output)) = (next.part.net("in"), next.part.net("out")) else {
                continue;
            };
            // One at its own limit does not fall short for want of input.
            if fed[input] && !fed[output] && next.mode != Mode::Limit {
                let more = e.charged_from(output, FILTER_OHMS, &|_| true);
                fed.iter_mut().zip(more).for_each(|(net, m)| *net |= m);
            }
        }
    }
    short.iter().any(|net| fed[*net])
}

/// Whether what gives out is not simply an empty cell after a life that is long enough.
fn asks_for_more(e: &Evidence, depth: f64, reached: bool) -> bool {
    let stranded = e.life().is_none_or(|l| STRANDED < 1.0 - l.end.depth);
    let required = e.family.requirement.life.is_some() || depth <= 0.0;
    reached || (stranded && required)
}

fn limit_of(mode: Mode) -> Option<&'static str> {
    match mode {
        Mode::Limit => Some("is at its current limit"),
        Mode::Dropout => Some("is in dropout"),
        Mode::Collapsed => Some("asks for more power than the source can give and falls off"),
        Mode::Hiccup => Some("falls off and starts again and again"),
        _ => None,
    }
}

fn mode_finding(
    e: &Evidence,
    rule: RuleId,
    situation: &Situation,
    at: &Working,
    what: &str,
) -> Finding {
    let limit = at.device.limit.map(|l| l.low());
    let remedy = match (at.mode, limit) {
        (Mode::Limit, Some(limit)) => format!(
            "take a converter with a limit well above {}, or lower the burst to what {} allow",
            words::amps(at.inductor_amps.max(limit)),
            words::amps(limit)
        ),
        (Mode::Dropout, _) => {
            "take a converter that also steps up, a lower output, or less resistance before it".to_owned()
        }
        _ => "lower the resistance between the cell and the converter, or carry the burst with a larger \
              capacitor behind it"
            .to_owned(),
    };
    Finding {
        aspect: at.mode.word(),
        situation: Some(situation.clone()),
        measured: Some(Figure::new(at.in_volts, Unit::Volt)),
        says: format!(
            "At its lowest input {} {what}: {} in, {} out, with every load in its hungriest state at {} and \
             depth {}; a load falls short.",
            at.part.name,
            words::volts(at.in_volts),
            words::volts(at.out_volts),
            words::figure(situation.ambient.si(), Unit::Celsius),
            words::percent(situation.depth)
        ),
        remedy,
        basis:
            "operating point of the converter: limit, dropout and fold as in docs/theory/circuit.md"
                .to_owned(),
        ..e.finding(rule, Severity::Fix, &[&at.part.name])
    }
}

/// Peaks of the inductor current against saturation and the least switch limit: for each converter the
/// largest of those at its lowest and at its highest input.
fn peaks(e: &Evidence, rule: RuleId, low: &Family) -> Vec<Finding> {
    let mut tops: Vec<Top> = Vec::new();
    let lowest = lowest_inputs(e, low);
    let deepest = lowest
        .iter()
        .flat_map(|(s, p)| e.working(p).into_iter().map(move |w| (s, w)));
    let mut seen: Vec<&str> = Vec::new();
    for (situation, at) in deepest {
        if at.mode == Mode::Run && !seen.contains(&at.part.name.as_str()) {
            seen.push(&at.part.name);
            keep(&mut tops, situation, at);
        }
    }
    for (situation, point) in &e.highest_inputs() {
        for at in e.working(point) {
            keep(&mut tops, situation, at);
        }
    }
    let each = tops.iter();
    each.filter_map(|top| peak_findings(e, rule, &top.situation, &top.at))
        .collect()
}

/// Points of the heaviest situation from the deepest on.
fn lowest_inputs(e: &Evidence, low: &Family) -> Vec<(Situation, Point)> {
    let (depth, _) = e.promised_depth();
    let ambient = e.family.requirement.ambient.low;
    let shares: &[f64] = if e.board.has_cell() { &SHARES } else { &[0.0] };
    let each = shares.iter().filter_map(|share| {
        let situation = e.heaviest(share * depth, ambient);
        let point = e.point_in(low, &situation)?;
        Some((situation, point))
    });
    each.collect()
}

/// Where the inductor of a converter peaks highest.
struct Top<'a> {
    situation: Situation,
    at: Working<'a>,
    peak_amps: f64,
}

/// Keeps the largest peak of a converter that runs.
fn keep<'a>(tops: &mut Vec<Top<'a>>, situation: &Situation, at: Working<'a>) {
    let Some(peak_amps) = peak(&at).filter(|_| at.mode == Mode::Run) else {
        return;
    };
    let known = tops.iter().position(|top| top.at.part.name == at.part.name);
    let top = Top {
        situation: situation.clone(),
        at,
        peak_amps,
    };
    match known {
        None => tops.push(top),
        Some(known) if tops[known].peak_amps < peak_amps => tops[known] = top,
        Some(_) => {}
    }
}

fn peak(at: &Working) -> Option<f64> {
    Some(at.inductor_amps + at.stage()?.ripple_amps() / 2.0)
}

fn peak_findings(
    e: &Evidence,
    rule: RuleId,
    situation: &Situation,
    at: &Working,
) -> Option<Finding> {
    let stage = at.stage()?;
    let (coil, inductor) = at.inductor?;
    let peak = peak(at)?;
    let says = |against: String| {
        format!(
            "At {} in and {} out the inductor of {} carries {} on average and peaks at {} ({} of ripple at the \
             least inductance and frequency); {against}.",
            words::volts(at.in_volts),
            words::volts(at.out_volts),
            at.part.name,
            words::amps(at.inductor_amps),
            words::amps(peak),
            words::amps(stage.ripple_amps())
        )
    };
    let finding = |aspect, severity, limit: f64, against, remedy, parts: &[&str]| Finding {
        aspect,
        situation: Some(situation.clone()),
        measured: Some(Figure::new(peak, Unit::Ampere)),
        limit: Some(Figure::new(limit, Unit::Ampere)),
        says: says(against),
        remedy,
        basis: BASIS.to_owned(),
        ..e.finding(rule, severity, parts)
    };
    if let Some(limit) = at.device.limit.map(|l| l.low()).filter(|l| *l < peak) {
        let against = format!("the switch limit may be {}", words::amps(limit));
        let remedy = limit_remedy(at, limit, peak, stage.ripple_amps());
        let parts = [at.part.name.as_str(), coil.name.as_str()];
        return Some(finding(
            "peak",
            Severity::Fix,
            limit,
            against,
            remedy,
            &parts,
        ));
    }
    let saturation = inductor.saturation?.as_amps();
    let parts = [coil.name.as_str(), at.part.name.as_str()];
    let remedy = format!(
        "take an inductor that saturates above {} ({SATURATION_ROOM} times the peak, common practice)",
        words::amps(SATURATION_ROOM * peak)
    );
    if saturation < peak {
        let against = format!("it saturates at {}", words::amps(saturation));
        return Some(finding(
            "saturation",
            Severity::Fix,
            saturation,
            against,
            remedy,
            &parts,
        ));
    }
    if saturation < SATURATION_ROOM * peak {
        let against = format!(
            "it saturates at {}, which leaves little room",
            words::amps(saturation)
        );
        return Some(finding(
            "room",
            Severity::Note,
            saturation,
            against,
            remedy,
            &parts,
        ));
    }
    None
}

/// A larger inductance where the ripple is what is too much, a larger converter otherwise.
fn limit_remedy(at: &Working, limit: f64, peak: f64, ripple: f64) -> String {
    let left = limit - at.inductor_amps;
    let henries = at.inductor.map(|i| i.1.value.si());
    match henries {
        Some(henries) if 0.2 * at.inductor_amps < left => format!(
            "take an inductance of at least {} where the converter allows it, or a converter with a limit \
             above {}",
            words::figure(henries * ripple / 2.0 / left, Unit::Henry),
            words::amps(peak)
        ),
        _ => format!(
            "take a converter whose least limit is above {}, or lower the burst",
            words::amps(SATURATION_ROOM * peak)
        ),
    }
}
