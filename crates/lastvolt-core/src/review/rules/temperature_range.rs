//! `temperature-range`: does the stated ambient leave the range in which a part works as stated?
//!
//! The range is the one stated for the part, or, for a ceramic capacitor of class 2, the one that the
//! code of its dielectric names (EIA-198). Parts of one range make one finding. At the very end of its
//! range a part is inside.

use crate::model::{Heat, Part};
use crate::quantity::Unit;
use crate::review::rules::Rule;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

pub(super) struct TemperatureRange;

impl Rule for TemperatureRange {
    fn id(&self) -> RuleId {
        "temperature-range"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let ambient = &e.family.requirement.ambient;
        let (low, high) = (ambient.low.as_celsius(), ambient.high.as_celsius());
        let mut out = Vec::new();
        let mut said: Vec<Heat> = Vec::new();
        for part in &e.board.parts {
            let range = Heat {
                thermal: None,
                hottest: None,
                ..part.heat
            };
            if said.contains(&range) {
                continue;
            }
            said.push(range);
            let alike = |p: &&Part| {
                let same = (p.heat.lowest, p.heat.highest) == (range.lowest, range.highest);
                same && p.heat.by_code == range.by_code
            };
            let parts: Vec<&str> = e
                .board
                .parts
                .iter()
                .filter(alike)
                .map(|p| p.name.as_str())
                .collect();
            let lowest = range.lowest.map(|t| t.as_celsius());
            let highest = range.highest.map(|t| t.as_celsius());
            let cold = lowest.filter(|t| low < *t);
            let hot = highest.filter(|t| *t < high);
            out.extend(cold.map(|t| finding(e, self.id(), &parts, range, ("cold", low, t))));
            out.extend(hot.map(|t| finding(e, self.id(), &parts, range, ("hot", high, t))));
        }
        out
    }
}

/// The code of a dielectric that reaches a temperature (EIA-198), where there is one.
fn code(cold: bool, celsius: f64) -> Option<&'static str> {
    match (cold, celsius) {
        (true, at) if -55.0 <= at => Some("a code that begins with X: -55 degC"),
        (false, at) if at <= 85.0 => Some("X5R, which goes to 85 degC"),
        (false, at) if at <= 105.0 => Some("X6S, which goes to 105 degC"),
        (false, at) if at <= 125.0 => Some("X7R, which goes to 125 degC"),
        _ => None,
    }
}

fn finding(
    e: &Evidence,
    rule: RuleId,
    parts: &[&str],
    range: Heat,
    (aspect, at, limit): (&'static str, f64, f64),
) -> Finding {
    let mut situation = e.usual();
    let ambient = &e.family.requirement.ambient;
    let cold = aspect == "cold";
    situation.ambient = if cold { ambient.low } else { ambient.high };
    let names: Vec<String> = parts.iter().map(|p| (*p).to_owned()).collect();
    let (end, way) = if cold {
        ("down to", "colder")
    } else {
        ("up to", "hotter")
    };
    let named = words::join(&names);
    let what = match (range.by_code, parts.len()) {
        (true, _) => format!("The dielectric of {named} is specified"),
        (false, 1) => format!("{named} is specified"),
        (false, _) => format!("{named} are specified"),
    };
    let remedy = if let Some(code) = code(cold, at).filter(|_| range.by_code) {
        format!("take {code}")
    } else if range.by_code {
        format!(
            "take a type specified {end} {} and state its `operating`",
            words::figure(at, Unit::Celsius)
        )
    } else {
        format!(
            "take a type specified {end} {}, or keep the board from getting {way} than {}",
            words::figure(at, Unit::Celsius),
            words::figure(limit, Unit::Celsius)
        )
    };
    Finding {
        aspect,
        situation: Some(situation),
        measured: Some(Figure::new(at, Unit::Celsius)),
        limit: Some(Figure::new(limit, Unit::Celsius)),
        says: format!(
            "{what} {end} {}; the ambient goes {end} {}.",
            words::figure(limit, Unit::Celsius),
            words::figure(at, Unit::Celsius)
        ),
        remedy,
        basis: if range.by_code {
            "EIA-198: code of the dielectric".to_owned()
        } else {
            "range stated for the part".to_owned()
        },
        ..e.finding(rule, Severity::Fix, parts)
    }
}

#[cfg(test)]
mod tests {
    use super::code;

    #[test]
    fn no_code_is_offered_beyond_its_range() {
        assert!(code(true, -55.0).is_some_and(|c| c.contains('X')));
        assert_eq!(code(true, -56.0), None);
        assert!(code(false, 125.0).is_some_and(|c| c.starts_with("X7R")));
        assert_eq!(code(false, 126.0), None);
    }
}
