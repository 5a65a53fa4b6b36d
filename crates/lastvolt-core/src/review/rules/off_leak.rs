//! `off-leak`: what drains the cells while the board is switched off?
//!
//! Every position in which no load is powered is solved with fresh cells at the usual ambient. The
//! drain is judged by the share of the charge that it takes over the time on the shelf. The typical
//! drain makes the finding, the largest is reported and alone makes a note.

use crate::quantity::{Unit, YEAR_SECS};
use crate::review::budget::{BudgetColumn, Power};
use crate::review::rules::Rule;
use crate::review::rules::floating_control::positions;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

/// Shelf time that is assumed where the family states none (common practice: a year in the trade).
const SHELF_SECS: f64 = YEAR_SECS;

pub(super) struct OffLeak;

impl Rule for OffLeak {
    fn id(&self) -> RuleId {
        "off-leak"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let columns = &e.budget().columns;
        let off = |which: &str| {
            columns
                .iter()
                .find(|c| c.power == Power::Off && c.which == which)
        };
        let (Some(usual), Some(high)) = (off("usual"), off("high")) else {
            return Vec::new();
        };
        finding(e, self.id(), usual, high).into_iter().collect()
    }
}

fn finding(
    e: &Evidence,
    rule: RuleId,
    usual: &BudgetColumn,
    high: &BudgetColumn,
) -> Option<Finding> {
    let (_, cell) = e.cell()?;
    let charge = cell.model.charge.si();
    let shelf = e.family.requirement.storage;
    let shelf = shelf.map_or(SHELF_SECS, |t| t.as_secs());
    let allowed = e.sensitivity.win_share * charge / shelf;
    let severity = if allowed < usual.typical_amps {
        Severity::Fix
    } else if allowed < usual.most_amps {
        Severity::Note
    } else {
        return None;
    };
    let measured = match severity {
        Severity::Fix => usual.typical_amps,
        _ => usual.most_amps,
    };
    let itself = charge
        * cell
            .model
            .self_discharge_per_sec(usual.ambient.as_celsius());
    let lasts = charge / (measured + itself);
    let mut rows: Vec<_> = usual.rows.iter().collect();
    rows.sort_by(|a, b| b.most_amps.total_cmp(&a.most_amps));
    let takes = |amps: f64| 0.2 * measured < amps;
    let amps = |r: &crate::review::BudgetRow| match severity {
        Severity::Fix => r.typical_amps,
        _ => r.most_amps,
    };
    let culprits: Vec<_> = rows.iter().filter(|r| takes(amps(r))).collect();
    let each: Vec<String> = culprits
        .iter()
        .map(|r| format!("{} {}", r.name, words::amps(amps(r))))
        .collect();
    let parts: Vec<&str> = culprits
        .iter()
        .map(|r| r.name.as_str())
        .filter(|n| e.board.part(n).is_some())
        .collect();
    let source = e.source_name()?;
    let parts = if parts.is_empty() {
        vec![source.as_str()]
    } else {
        parts
    };
    Some(Finding {
        situation: Some(usual.situation.clone()),
        situations: e.off().count(),
        measured: Some(Figure::new(measured, Unit::Ampere)),
        limit: Some(Figure::new(allowed, Unit::Ampere)),
        says: format!(
            "Switched off ({}) the cells still give {} (at most {}, and {} at {}): {}. \
             From fresh they are flat after {}; {} on the shelf take {} of the charge.",
            positions(&usual.situation),
            words::amps(usual.typical_amps),
            words::amps(usual.most_amps),
            words::amps(high.most_amps),
            words::figure(high.ambient.as_celsius(), Unit::Celsius),
            words::join(&each),
            words::span(lasts),
            words::span(shelf),
            words::percent(measured * shelf / charge)
        ),
        remedy: format!(
            "put {} behind the switch, or bring the drain below {}",
            words::join(&culprits.iter().map(|r| r.name.clone()).collect::<Vec<_>>()),
            words::amps(allowed)
        ),
        basis: "charge over the shelf time; common practice".to_owned(),
        ..e.finding(rule, severity, &parts)
    })
}
