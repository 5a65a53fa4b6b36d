//! `shelf-limit`: is a life longer than the cell keeps?
//!
//! # Formula
//! ```text
//! storage + life against the shelf life that the maker states
//! ```
//! A cell's shelf life ends with its seal, its electrolyte and its capacity within what the maker
//! warrants; the charge that a prediction still counts on may be there or not.

use crate::device::Charging;
use crate::quantity::Unit;
use crate::review::evidence::cells::CellString;
use crate::review::rules::Rule;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

pub(super) struct ShelfLimit;

impl Rule for ShelfLimit {
    fn id(&self) -> RuleId {
        "shelf-limit"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let Some(life) = e.life() else {
            return Vec::new();
        };
        let life_secs = life.life_secs.unwrap_or(f64::INFINITY);
        let cells = e.cells();
        let found = cells.filter_map(|(part, cell)| {
            let keeps = cell.model.shelf_life?.as_secs();
            let string = e.string(part).filter(|s| s.is_told_at(part, cell))?;
            let mut found = finding(e, self.id(), &string, life_secs, keeps)?;
            if cell.model.charging == Charging::Rechargeable {
                // It is charged again in between, which these files do not tell.
                found.severity = Severity::Note;
            }
            Some(found)
        });
        found.collect()
    }
}

fn finding(
    e: &Evidence,
    rule: RuleId,
    string: &CellString,
    life: f64,
    keeps: f64,
) -> Option<Finding> {
    let requirement = &e.family.requirement;
    let storage = requirement.storage.map_or(0.0, |t| t.as_secs());
    if storage + life <= keeps {
        // A life that is not reached in any case is the matter of `life-short`.
        return None;
    }
    let required = requirement.life.map(|t| t.as_secs());
    let relied_on = required.filter(|secs| keeps < storage + secs);
    let severity = if relied_on.is_some() {
        Severity::Fix
    } else {
        Severity::Note
    };
    let stored = if 0.0 < storage {
        format!("{} of storage and ", words::span(storage))
    } else {
        String::new()
    };
    let counted = relied_on.unwrap_or(life);
    let what = if relied_on.is_some() {
        "required"
    } else {
        "computed"
    };
    let span = if counted.is_finite() {
        words::span(counted)
    } else {
        "more than 100 years".to_owned()
    };
    let left = (keeps - storage).max(0.0);
    let remedy = if left <= 0.0 {
        format!(
            "store the cells for less than {}, or take one that keeps longer than that",
            words::span(keeps)
        )
    } else if relied_on.is_some() {
        format!(
            "plan a change of cells after {}, or take a cell that keeps for {}",
            words::span(left),
            words::span(storage + counted)
        )
    } else {
        format!(
            "promise no more than {} with one set of cells",
            words::span(left)
        )
    };
    Some(Finding {
        situation: Some(e.usual()),
        measured: (storage + counted)
            .is_finite()
            .then(|| Figure::new(storage + counted, Unit::Second)),
        limit: Some(Figure::new(keeps, Unit::Second)),
        says: format!(
            "{stored}{span} of {what} life are longer than {} keeps: its shelf life is {}.",
            string.named(),
            words::span(keeps)
        ),
        remedy,
        basis: "shelf life stated for the cell".to_owned(),
        ..e.finding(rule, severity, &string.names())
    })
}
