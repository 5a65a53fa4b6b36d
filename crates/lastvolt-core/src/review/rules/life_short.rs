//! `life-short`: does the board live as long as it is required to, at the usual ambient, or through
//! the calendar where one is given, and through one cold night?
//!
//! Quiet where no life is required, and where `brown-out` already says why the charge that is there
//! cannot be used.

use crate::quantity::{DAY_SECS, Unit};
use crate::review::rules::{Rule, brown_out};
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};
use crate::time::{Calendar, Cause, Climate, Life};

pub(super) struct LifeShort;

impl Rule for LifeShort {
    fn id(&self) -> RuleId {
        "life-short"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let required = e.family.requirement.life.map(|t| t.as_secs());
        let (Some(required), Some(life)) = (required, e.life()) else {
            return Vec::new();
        };
        // Too much voltage from the start: `over-voltage` or `output-error` says why.
        let at_once = life.end.cause == Cause::OverVoltage;
        if at_once || brown_out::explains(e) {
            return Vec::new();
        }
        let secs = life.life_secs.unwrap_or(f64::INFINITY);
        if secs < required {
            return vec![usual(e, self.id(), life, secs, required)];
        }
        match life.cold_night {
            Some(night) if night.time_secs < required => {
                vec![cold(e, self.id(), night.time_secs, night.depth, required)]
            }
            _ => Vec::new(),
        }
    }
}

fn usual(e: &Evidence, rule: RuleId, life: &Life, secs: f64, required: f64) -> Finding {
    let ends = match life.end.cause {
        Cause::Empty => "with the cell empty".to_owned(),
        Cause::NotPowered => "at once: a load is not powered".to_owned(),
        cause => {
            let load = life.end.load.as_ref();
            let at = load.map_or(String::new(), |l| format!(" at {l}"));
            format!(
                "by {}{at} at depth {}",
                cause.word(),
                words::percent(life.end.depth)
            )
        }
    };
    let most = charge_coulombs(e) / required;
    let night = life.cold_night.map_or(String::new(), |n| {
        let when = words::span(n.time_secs);
        format!(" A night at the low ambient ends it from {when} on.")
    });
    let again = life.calendar.map_or(String::new(), again);
    let remedy = if secs <= 0.0 {
        "see what keeps the load from working when the cell is fresh".to_owned()
    } else if life.mean_cell_amps <= most {
        "see what ends it: the charge would last, what needs it stops before".to_owned()
    } else {
        format!(
            "bring the mean current of the cell below {} (now {}), or take a cell of {:.2} times the charge",
            words::amps(most),
            words::amps(life.mean_cell_amps),
            required / secs
        )
    };
    Finding {
        measured: Some(Figure::new(secs, Unit::Second)),
        says: format!(
            "The board lives {} of the required {} {} and ends {ends}.{again}{night}",
            words::span(secs),
            words::span(required),
            ambient(e)
        ),
        remedy,
        ..base(e, rule, required)
    }
}

fn cold(e: &Evidence, rule: RuleId, secs: f64, depth: f64, required: f64) -> Finding {
    let low = e.family.requirement.ambient.low.as_celsius();
    Finding {
        aspect: "cold-night",
        measured: Some(Figure::new(secs, Unit::Second)),
        says: format!(
            "From {} on, at depth {}, one night at {} ends it; required are {}.",
            words::span(secs),
            words::percent(depth),
            words::figure(low, Unit::Celsius),
            words::span(required)
        ),
        remedy: "take a cell with less resistance in the cold, lower the bursts, or carry them with a larger capacitor".to_owned(),
        ..base(e, rule, required)
    }
}

fn base(e: &Evidence, rule: RuleId, required: f64) -> Finding {
    let source = e.source_name().unwrap_or_default();
    Finding {
        situation: Some(e.usual()),
        limit: Some(Figure::new(required, Unit::Second)),
        basis: "requirement of the family; two-well model, Manwell and McGowan 1993".to_owned(),
        ..e.finding(rule, Severity::Fix, &[&source])
    }
}

/// Whether a board that fails in one season works again in another.
fn again(calendar: Calendar) -> String {
    let (Some(first), Some(end)) = (calendar.first_failure_secs, calendar.permanent_end_secs)
    else {
        return String::new();
    };
    if end - first < DAY_SECS {
        return String::new();
    }
    format!(
        " It works again later and is below need for {} in all, for the last time after {}.",
        words::span(calendar.below_need_secs),
        words::span(end)
    )
}

fn ambient(e: &Evidence) -> String {
    match Climate::usual(e.family) {
        Climate::Steady(at) => {
            format!("at {}", words::figure(at.as_celsius(), Unit::Celsius))
        }
        Climate::Calendar(_) => "through the months of its calendar".to_owned(),
    }
}

/// Charge of one cell of the first cell part.
fn charge_coulombs(e: &Evidence) -> f64 {
    e.cell().map_or(0.0, |(_, cell)| cell.model.charge.si())
}
