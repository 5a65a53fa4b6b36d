//! `converter-limit`: at the lowest input that it must work from, does a converter reach its switch limit,
//! its dropout, its fold, or saturate its inductor?
//!
//! Looked at is the heaviest joint load state at the low ambient, at the depth of the required life, or
//! just before the end where that comes sooner; supplies stand at their lowest voltage.
//!
//! # Formula
//! ```text
//! I_peak = I_L + dI/2     dI of device/power_stage.rs with the least inductance and frequency
//! ```
//!
//! # References
//! TI SLVA372 eq. 2 and 4, SLVA477B eq. 2 and 4, SLVA535B eq. 5 to 9; saturation from 1.2 times the peak:
//! common practice.

use crate::circuit::{Mode, Situation};
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
        if e.shortfalls(&situation, &point).is_empty() {
            continue;
        }
        for at in e.working(&point) {
            let known = out.iter().any(|f| f.parts[0] == at.part.name);
            if let (Some(what), false) = (limit_of(at.mode), known) {
                out.push(mode_finding(e, rule, &situation, &at, what));
            }
        }
    }
    out
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

/// Peaks of the inductor current against saturation and the least switch limit.
fn peaks(e: &Evidence, rule: RuleId, low: &Family) -> Vec<Finding> {
    let (depth, _) = e.promised_depth();
    let ambient = e.family.requirement.ambient.low;
    let shares: &[f64] = if e.board.has_cell() { &SHARES } else { &[0.0] };
    let mut out: Vec<Finding> = Vec::new();
    let mut seen: Vec<String> = Vec::new();
    for share in shares {
        let situation = e.heaviest(share * depth, ambient);
        let Some(point) = e.point_in(low, &situation) else {
            continue;
        };
        for at in e.working(&point) {
            if at.mode != Mode::Run || seen.contains(&at.part.name) {
                continue;
            }
            seen.push(at.part.name.clone());
            out.extend(peak_findings(e, rule, &situation, &at));
        }
    }
    out
}

fn peak_findings(
    e: &Evidence,
    rule: RuleId,
    situation: &Situation,
    at: &Working,
) -> Option<Finding> {
    let stage = at.stage()?;
    let (coil, inductor) = at.inductor?;
    let peak = at.inductor_amps + stage.ripple_amps() / 2.0;
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
