//! `deep-discharge`: are strings, rechargeable or leak-prone cells left connected below their end
//! voltage?
//!
//! The terminals are held at voltages below the end voltage, one after the other, and the running board
//! is solved in its base states: down to where does it serve its loads, and down to where does it take
//! more than a cell loses by itself? A lone primary lithium cell may be run to its end.
//!
//! # References
//! Cells at different charge in a string drive the weakest to zero and beyond, and it leaks (Energizer,
//! questions and answers); makers ask for flat cells to be removed (Rayovac, Varta).

use crate::circuit::Situation;
use crate::device::{Cell, Charging};
use crate::model::Part;
use crate::quantity::Unit;
use crate::review::evidence::cells::{CellString, leaks, slow_amps};
use crate::review::rules::Rule;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

/// Below nine tenths of the end voltage a cell counts as too deep; what is nearer is within the spread
/// of what makers call the end: 0.9 V or 1.0 V of a nickel cell, 0.8 V or 0.9 V of an alkaline one. In
/// twentieths, which are also the steps down from there, to a tenth.
const DEEP_TWENTIETHS: u32 = 18;
const LAST_TWENTIETHS: u32 = 2;
/// Where a primary string still works at this share of its end voltage, one of two cells holds the board
/// up with the other at zero: 2 x 0.6 x 0.8 V are what an alkaline cell alone has near its end.
const FAR_SHARE: f64 = 0.6;

pub(super) struct DeepDischarge;

impl Rule for DeepDischarge {
    fn id(&self) -> RuleId {
        "deep-discharge"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let cells = e.cells();
        let found = cells.filter_map(|(part, cell)| {
            let string = e.string(part).filter(|s| s.is_told_at(part, cell))?;
            let depth = deep(e, part, cell, &string)?;
            Some(finding(e, self.id(), cell, (&string, depth)))
        });
        found.collect()
    }
}

/// How far down a cell part is discharged.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Deep {
    end_volts: f64,
    /// The lowest voltage a cell at which the loads still work, if they do below the end.
    serves_volts: Option<f64>,
    /// The lowest at which the board still takes more than a cell loses by itself, and that current.
    takes_volts: f64,
    takes_amps: f64,
}

/// Whether this rule says that a cell part is run too deep while the board works.
pub(super) fn speaks(e: &Evidence, part: &Part, cell: &Cell) -> bool {
    let severity = e.string(part).and_then(|string| {
        let deep = deep(e, part, cell, &string)?;
        Some(severity(cell, &string, deep))
    });
    severity == Some(Severity::Fix)
}

fn deep(e: &Evidence, part: &Part, cell: &Cell, string: &CellString) -> Option<Deep> {
    let model = &cell.model;
    let rechargeable = model.charging == Charging::Rechargeable;
    if !(rechargeable || 1 < string.count() || leaks(model)) {
        return None;
    }
    let end_volts = model.limits.end?.as_volts();
    let slow = slow_amps(model);
    let mut deep: Option<Deep> = None;
    let mut serves = true;
    for twentieths in (LAST_TWENTIETHS..=DEEP_TWENTIETHS).rev() {
        let share = f64::from(twentieths) / 20.0;
        let Some(take) = e.take_at(&part.name, share * end_volts) else {
            break;
        };
        serves &= take.serves;
        // A board that works on goes there in the end, however little it takes.
        if take.amps <= if serves { 0.0 } else { slow } {
            break;
        }
        let before = deep.and_then(|d| d.serves_volts);
        deep = Some(Deep {
            end_volts,
            serves_volts: if serves {
                Some(take.cell_volts)
            } else {
                before
            },
            takes_volts: take.cell_volts,
            takes_amps: take.amps,
        });
    }
    deep
}

fn severity(cell: &Cell, string: &CellString, deep: Deep) -> Severity {
    let rechargeable = cell.model.charging == Charging::Rechargeable;
    let far = |volts: f64| 1 < string.count() && volts <= FAR_SHARE * deep.end_volts;
    match deep.serves_volts {
        Some(volts) if rechargeable || far(volts) => Severity::Fix,
        _ => Severity::Note,
    }
}

fn finding(
    e: &Evidence,
    rule: RuleId,
    cell: &Cell,
    (string, deep): (&CellString, Deep),
) -> Finding {
    let name = string.named();
    let rechargeable = cell.model.charging == Charging::Rechargeable;
    let runs = match deep.serves_volts {
        Some(volts) => format!(
            "the board goes on running down to {} a cell",
            words::volts(volts)
        ),
        None => "the loads have stopped by then".to_owned(),
    };
    let why = if rechargeable {
        "A rechargeable cell takes lasting harm from that"
    } else if 1 < string.count() {
        "The weakest cell of the string is driven through zero by the others and may leak or vent"
    } else {
        "A cell that is drained so far may leak"
    };
    Finding {
        situation: Some(Situation {
            depth: 1.0,
            ..e.usual()
        }),
        measured: Some(Figure::new(
            deep.serves_volts.unwrap_or(deep.takes_volts),
            Unit::Volt,
        )),
        limit: Some(Figure::new(deep.end_volts, Unit::Volt)),
        says: format!(
            "Nothing takes {name} off at the end voltage of {} a cell: {runs}, and at {} a cell it still takes {}. {why}.",
            words::volts(deep.end_volts),
            words::volts(deep.takes_volts),
            words::amps(deep.takes_amps)
        ),
        remedy: format!(
            "switch the supply off by a voltage detector at {}, or let firmware switch everything off there",
            words::volts(string.end_volts())
        ),
        basis:
            "end voltage stated for the cell; Energizer, Rayovac and Varta on flat and mixed cells"
                .to_owned(),
        ..e.finding(rule, severity(cell, string, deep), &string.names())
    }
}
