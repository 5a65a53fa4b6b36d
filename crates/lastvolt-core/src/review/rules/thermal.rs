//! `thermal`: does a part get hotter than it bears, or turn more power into heat than it is rated for?
//!
//! The most that a part dissipates for long is looked for over every position, fresh and tired cells,
//! the hottest ambient, the steps that last and the promised current.
//!
//! # Formula
//! ```text
//! T = ambient + R_th P
//! ```
//! | part | note | fix | stop |
//! | --- | --- | --- | --- |
//! | resistor, share of its rating | above 0.6 | above 1 | above 2 |
//! | Zener diode, share of its rated power | above 0.6 | above 1 | above 2 |
//! | diode, fuse, load switch, ideal diode: share of its rated current | fuse above 0.75 | above 1 | above 2 |
//! | resettable fuse: share of the current that it holds | above 0.75 | above 1 | |
//! | stated `thermal` and `hottest` | within 10 K | | above |
//! | nothing stated | hot in a small package | | |
//!
//! A chip resistor bears its rating up to 70 degC and nothing at 155 degC (common practice). A light-emitting
//! diode above its current belongs to `indicator`.

use crate::model::{Device, Part};
use crate::quantity::Unit;
use crate::review::evidence::Warm;
use crate::review::rules::Rule;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

/// Share of its rated power that a resistor is used at: 50 to 60 % (common practice).
const RESISTOR_SHARE: f64 = 0.6;
/// Share of its rated current that a fuse carries for good: 75 % (common practice).
const FUSE_SHARE: f64 = 0.75;
/// Share of its rated current that a diode is chosen for: 75 % (common practice).
const DIODE_SHARE: f64 = 0.75;
/// Beyond this multiple of a rating it is not a matter of life but of days.
const FAR_BEYOND: f64 = 2.0;
/// Ambient up to which a chip resistor bears its rated power, and where it bears none.
const RATED_AT_CELSIUS: f64 = 70.0;
const NOTHING_AT_CELSIUS: f64 = 155.0;
/// Distance that parts keep from their highest temperature: 10 K in gentle use (System Reliability Center
/// part derating).
const KEPT_KELVIN: f64 = 10.0;
/// A small package on a small board: about 250 K/W for three to six pins (common practice).
const SMALL_PACKAGE_KELVIN_PER_WATT: f64 = 250.0;
/// What most junctions bear (common practice).
const USUAL_HOTTEST_CELSIUS: f64 = 125.0;

pub(super) struct Thermal;

impl Rule for Thermal {
    fn id(&self) -> RuleId {
        "thermal"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let mut out = Vec::new();
        for warm in e.warmest() {
            let Some(part) = e.board.part(&warm.part) else {
                continue;
            };
            let found = rated_power(e, self.id(), part, &warm)
                .or_else(|| hot(e, self.id(), part, &warm))
                .or_else(|| rated_current(e, self.id(), part, &warm))
                .or_else(|| perhaps(e, self.id(), part, &warm));
            out.extend(found);
        }
        out
    }
}

fn ambient(e: &Evidence) -> f64 {
    e.family.requirement.ambient.high.as_celsius()
}

/// With what the worst point comes about.
fn drawn(warm: &Warm) -> &'static str {
    if warm.promised {
        " with the promised current drawn"
    } else {
        ""
    }
}

/// A finding at the worst point of a part.
fn about(e: &Evidence, rule: RuleId, severity: Severity, warm: &Warm) -> Finding {
    Finding {
        situation: Some(warm.situation.clone()),
        ..e.finding(rule, severity, &[&warm.part])
    }
}

fn rated_power(e: &Evidence, rule: RuleId, part: &Part, warm: &Warm) -> Option<Finding> {
    let range = NOTHING_AT_CELSIUS - RATED_AT_CELSIUS;
    let (rated, kept, basis) = match &part.device {
        Device::Resistor(r) => (
            r.rated?.as_watts(),
            ((NOTHING_AT_CELSIUS - ambient(e)) / range).clamp(0.0, 1.0),
            "common practice: rated power holds to 70 degC, 50 to 60 % of it in use",
        ),
        // From which temperature on it falls is in its data sheet and not in these files.
        Device::Zener(z) => (
            z.rated_power?.as_watts(),
            1.0,
            "rated power of the part, at its lowest breakdown where one is stated; common practice: 50 to 60 % of it in use",
        ),
        _ => return None,
    };
    let allowed = rated * kept;
    let (limit, severity) = if FAR_BEYOND * allowed < warm.watts {
        (allowed, Severity::Stop)
    } else if allowed < warm.watts {
        (allowed, Severity::Fix)
    } else if RESISTOR_SHARE * allowed < warm.watts {
        (RESISTOR_SHARE * allowed, Severity::Note)
    } else {
        return None;
    };
    let needed = warm.watts / (RESISTOR_SHARE * kept.max(0.01));
    Some(Finding {
        aspect: "power",
        measured: Some(Figure::new(warm.watts, Unit::Watt)),
        limit: Some(Figure::new(limit, Unit::Watt)),
        says: format!(
            "{} turns {} into heat{}, {} of its rated {}.",
            part.name,
            words::figure(warm.watts, Unit::Watt),
            drawn(warm),
            words::percent(warm.watts / rated),
            words::figure(rated, Unit::Watt)
        ),
        remedy: format!(
            "take one rated {} or more, or share the power among several",
            words::figure(next_rating(needed), Unit::Watt)
        ),
        basis: basis.to_owned(),
        ..about(e, rule, severity, warm)
    })
}

/// The next rated power that the trade offers (common practice).
fn next_rating(watts: f64) -> f64 {
    const RATINGS: [f64; 10] = [0.063, 0.1, 0.125, 0.25, 0.5, 0.75, 1.0, 2.0, 3.0, 5.0];
    let found = RATINGS.into_iter().find(|r| watts <= *r);
    found.unwrap_or(watts.ceil())
}

/// A part whose thermal resistance and highest temperature are stated.
fn hot(e: &Evidence, rule: RuleId, part: &Part, warm: &Warm) -> Option<Finding> {
    let thermal = part.heat.thermal?.as_kelvin_per_watt();
    let hottest = part.heat.hottest?.as_celsius();
    let at = ambient(e) + thermal * warm.watts.max(0.0);
    let (limit, severity) = if hottest < at {
        (hottest, Severity::Stop)
    } else if hottest - KEPT_KELVIN < at {
        (hottest - KEPT_KELVIN, Severity::Note)
    } else {
        return None;
    };
    let room = hottest - KEPT_KELVIN - ambient(e);
    let remedy = if 0.0 < room {
        format!(
            "bring its thermal resistance to {} or less, or the power to {} or less",
            words::figure(room / warm.watts, Unit::KelvinPerWatt),
            words::figure(room / thermal, Unit::Watt)
        )
    } else {
        "take a part that bears the ambient".to_owned()
    };
    Some(Finding {
        aspect: "temperature",
        measured: Some(Figure::new(at, Unit::Celsius)),
        limit: Some(Figure::new(limit, Unit::Celsius)),
        says: format!(
            "{} gets {} hot at an ambient of {}: it turns {} into heat{}; it bears {}.",
            part.name,
            words::figure(at, Unit::Celsius),
            words::figure(ambient(e), Unit::Celsius),
            words::figure(warm.watts, Unit::Watt),
            drawn(warm),
            words::figure(hottest, Unit::Celsius)
        ),
        remedy,
        basis: "thermal resistance and highest temperature stated for the part; 10 K kept: System Reliability Center part derating".to_owned(),
        ..about(e, rule, severity, warm)
    })
}

/// A rated current is where its maker found the part hot enough.
fn rated_current(e: &Evidence, rule: RuleId, part: &Part, warm: &Warm) -> Option<Finding> {
    let (rated, kept, chosen) = match &part.device {
        Device::Diode(d) => (d.rated_current?.as_amps(), 1.0, DIODE_SHARE),
        Device::Fuse(f) => (f.rated?.as_amps(), FUSE_SHARE, FUSE_SHARE),
        Device::Ptc(p) => (p.hold?.as_amps(), FUSE_SHARE, FUSE_SHARE),
        Device::LoadSwitch(s) => (s.rated?.as_amps(), 1.0, DIODE_SHARE),
        Device::IdealDiode(d) => (d.rated?.as_amps(), 1.0, DIODE_SHARE),
        _ => return None,
    };
    // One that trips takes no harm, but the board stops.
    let (trips, verb) = match &part.device {
        Device::Ptc(_) => (true, "holds"),
        _ => (false, "is rated"),
    };
    let (limit, severity) = if FAR_BEYOND * rated < warm.amps && !trips {
        (rated, Severity::Stop)
    } else if rated < warm.amps {
        (rated, Severity::Fix)
    } else if kept * rated < warm.amps {
        (kept * rated, Severity::Note)
    } else {
        return None;
    };
    Some(Finding {
        aspect: "current",
        measured: Some(Figure::new(warm.amps, Unit::Ampere)),
        limit: Some(Figure::new(limit, Unit::Ampere)),
        says: format!(
            "{} carries {} for long{}; it {verb} {}.",
            part.name,
            words::amps(warm.amps),
            drawn(warm),
            words::amps(rated)
        ),
        remedy: format!(
            "take one that {verb} {} or more",
            words::amps(warm.amps / chosen)
        ),
        basis: format!(
            "{} current of the part, 75 % of it for good (common practice)",
            if trips { "hold" } else { "rated" }
        ),
        ..about(e, rule, severity, warm)
    })
}

/// A semiconductor without stated figures that would be too hot in a small package.
fn perhaps(e: &Evidence, rule: RuleId, part: &Part, warm: &Warm) -> Option<Finding> {
    let warms = matches!(
        part.device,
        Device::Regulator(_)
            | Device::Fet(_)
            | Device::Diode(_)
            | Device::Zener(_)
            | Device::LoadSwitch(_)
            | Device::IdealDiode(_)
    );
    let thermal = part.heat.thermal.map(|k| k.as_kelvin_per_watt());
    let hottest = part.heat.hottest.map(|t| t.as_celsius());
    if !warms || (thermal.is_some() && hottest.is_some()) {
        return None;
    }
    let thermal = thermal.unwrap_or(SMALL_PACKAGE_KELVIN_PER_WATT);
    let hottest = hottest.unwrap_or(USUAL_HOTTEST_CELSIUS);
    let at = ambient(e) + thermal * warm.watts;
    (hottest < at).then(|| Finding {
        aspect: "not-stated",
        measured: Some(Figure::new(warm.watts, Unit::Watt)),
        limit: Some(Figure::new(
            ((hottest - ambient(e)) / thermal).max(0.0),
            Unit::Watt,
        )),
        says: format!(
            "{} turns {} into heat{}; with {} at an ambient of {} it would be {} hot.",
            part.name,
            words::figure(warm.watts, Unit::Watt),
            drawn(warm),
            words::figure(thermal, Unit::KelvinPerWatt),
            words::figure(ambient(e), Unit::Celsius),
            words::figure(at, Unit::Celsius)
        ),
        remedy: format!(
            "state its `thermal` and `hottest`; up to {} it needs {} or less",
            words::figure(hottest, Unit::Celsius),
            words::figure(
                ((hottest - ambient(e)) / warm.watts).max(0.0),
                Unit::KelvinPerWatt
            )
        ),
        basis: "common practice: 250 K/W for a small package, 125 degC for a junction".to_owned(),
        ..about(e, rule, Severity::Note, warm)
    })
}

#[cfg(test)]
mod tests {
    use super::next_rating;

    #[test]
    fn ratings_are_those_that_are_sold() {
        assert_eq!(next_rating(0.05), 0.063);
        assert_eq!(next_rating(0.11), 0.125);
        assert_eq!(next_rating(7.2), 8.0);
    }
}
