//! The text of a fitted model: where it comes from, what it misses, then its table.

use std::fmt::Write as _;

use lastvolt_core::device::{CellModel, Charging};
use lastvolt_core::fit::Property;
use lastvolt_core::model::{Confidence, Device};
use lastvolt_core::quantity::Unit;
use lastvolt_input::measured::Role;
use lastvolt_input::written::{cell_text, quote};
use lastvolt_input::{Text, family_models};

use super::{Job, gaps, inputs};
use crate::failure::Failure;
use crate::text::WIDTH;
use crate::text::number::{count, figure, listed};
use crate::text::parts::said;
use crate::text::table::wrapped;
use crate::view::{GapView, confidence_word};

/// How the text of a model begins; a file that begins so may be replaced.
pub(super) const FIRST_WORDS: &str = "# Fitted by lastvolt";

/// Samples from which on their spread is taken for that of the cell.
const SPREAD_FROM: usize = 3;

/// The text; it reads back as a cell.
pub(super) fn text(job: &Job<'_>, open: &[GapView], missed: &str) -> Result<String, Failure> {
    let mut model = job.fitted.model.clone();
    if SPREAD_FROM <= job.fitted.fitted_units.len() {
        model.spread = job.fitted.between;
    }
    let text = remarks(job, missed) + &cell_text(job.name, &head(job, open, &model), &model);
    let file = Text {
        name: "model.toml".to_owned(),
        text: text.clone(),
    };
    let back = family_models(&[file]).into_iter().next();
    match back.and_then(|entry| entry.device) {
        Some(Device::Cell(_)) => Ok(text),
        _ => Err(Failure::Fault(
            "the fitted model does not read back as a cell".to_owned(),
        )),
    }
}

/// Times that a cell may be larger or smaller than the one it is like.
const LARGEST_RATIO: f64 = 25.0;
/// What a model may miss, in volts and as a share, and still be one.
const MOST_MISSED: (f64, f64) = (0.3, 0.5);

/// Fails where the data cannot be of a cell like the one the fit began from.
pub(super) fn alike(job: &Job<'_>) -> Result<(), Failure> {
    let (own, like) = (&job.fitted.model, &job.like);
    let ratio = own.charge.si() / like.model.charge.si();
    if !(1.0 / LARGEST_RATIO..=LARGEST_RATIO).contains(&ratio) {
        let says = format!(
            "the data are of a cell of {}, {} of {}",
            said(own.charge.si(), Unit::Coulomb),
            if ratio > 1.0 {
                "many times the charge"
            } else {
                "a small part of the charge"
            },
            like.name
        );
        let proposal =
            "look at the units of current and time, or name a cell of that size".to_owned();
        return Err(Failure::of_option("charge-doubt", says, Some(proposal)));
    }
    let missed = &job.fitted.missed;
    if missed.volts > MOST_MISSED.0 || missed.share > MOST_MISSED.1 {
        let says = format!(
            "no cell like {} fits: what is left is {} and {:.0} % of amounts",
            like.name,
            figure(missed.volts, Unit::Volt),
            missed.share * 100.0
        );
        let proposal = "look at units and columns, leave out what is doubtful, or name another cell to begin from".to_owned();
        return Err(Failure::of_option("no-fit", says, Some(proposal)));
    }
    Ok(())
}

/// Fails where the fit ended at a cell that cannot be.
pub(super) fn possible(model: &CellModel) -> Result<(), Failure> {
    let Some((depth, volts)) = model.open_circuit.points().find(|p| p.1 <= 0.0) else {
        return Ok(());
    };
    let says = format!(
        "the fit ended at a cell that cannot be: {} at rest at depth {depth}",
        figure(volts, Unit::Volt)
    );
    let proposal =
        "end the logs at the voltage that the maker names as the end, and try more `--descents`, \
        or another cell to begin from"
            .to_owned();
    Err(Failure::of_option("no-such-cell", says, Some(proposal)))
}

/// What the reader of a fitted model should know.
pub(super) fn warnings(job: &Job<'_>) -> Vec<String> {
    let like = &job.like.name;
    let mut out = vec![format!(
        "limits, shelf life and cautions are those of {like}: they are the maker's to state, put in \
         those of the cell that is bought"
    )];
    if job.fitted.fitted_units.len() < SPREAD_FROM {
        out.push(format!(
            "the spread from cell to cell is that of {like}: it takes {SPREAD_FROM} samples to say another"
        ));
    }
    if !job.fitted.settled {
        out.push(
            "the best descent did not come to rest: the limits of the parameters say too much, and \
             more `--descents` or more data may give another cell"
                .to_owned(),
        );
    }
    let minimums = job.measured.minimums.len();
    if 0 < minimums {
        let them = count(minimums, "figure");
        out.push(format!(
            "{them} of what a standard asks for at least: not fitted and not shown"
        ));
    }
    out
}

/// Readings that were fitted, and those that were held back.
fn readings(job: &Job<'_>) -> (usize, usize) {
    let figures = || job.measured.origins.iter().filter(|o| o.reading.is_some());
    let fitted = figures().filter(|o| o.role == Role::Fit).count();
    (fitted, figures().count() - fitted)
}

/// What the model was fitted to, in a sentence.
pub(super) fn fitted_to(job: &Job<'_>) -> String {
    let (fitted, held) = readings(job);
    let tests = job.measured.tests.iter();
    let logs = tests.filter(|t| inputs::is_log(&t.drive)).count();
    let mut parts = Vec::new();
    if 0 < fitted {
        parts.push(count(fitted, "reading"));
    }
    if 0 < logs {
        parts.push(count(logs, "log"));
    }
    let held = match held {
        0 => String::new(),
        n => format!(", {n} more held back"),
    };
    format!("{} of {}{held}", listed(&parts), listed(job.files))
}

fn remarks(job: &Job<'_>, missed: &str) -> String {
    let mut lines = vec![
        format!("to {}.", fitted_to(job)),
        format!("Taken to miss {missed} (one standard deviation)."),
    ];
    let (inside, all) = inside(job);
    if 0 < all {
        lines.push(format!(
            "Of {} held back, {inside} lie inside of the 90 % interval.",
            count(all, "reading")
        ));
    }
    lines.push(format!(
        "Limits, shelf life, cautions and what the data do not say are those of {}; limits are the maker's to state.",
        job.like.name
    ));
    let mut out = String::new();
    let mut first = true;
    for line in lines {
        let lead = if first {
            FIRST_WORDS.trim_start_matches("# ")
        } else {
            ""
        };
        let text = format!("{lead} {line}");
        for line in wrapped(&text, WIDTH - 2) {
            let _ = writeln!(out, "# {line}");
        }
        first = false;
    }
    out
}

/// How many readings that were held back lie in their interval, and how many there are.
fn inside(job: &Job<'_>) -> (usize, usize) {
    let held = || job.fitted.comparisons.iter().filter(|c| !c.fitted);
    let inside = held().filter(|c| c.limits.0 <= c.measured && c.measured <= c.limits.1);
    (inside.count(), held().count())
}

fn head(job: &Job<'_>, open: &[GapView], model: &CellModel) -> Vec<(&'static str, String)> {
    let like = &job.like.name;
    let source = format!(
        "fitted to {}; limits, cautions and what the data do not say as {like}",
        fitted_to(job)
    );
    let mut head = vec![
        ("chemistry", quote(&model.chemistry)),
        ("source", quote(&source)),
        ("confidence", quote(confidence_word(confidence(job)))),
    ];
    if let Some(open) = gaps::sentence(open) {
        head.push((
            "thin",
            quote(&format!("as {like}, the data do not say: {open}")),
        ));
    }
    let mut cautions = job.like.cautions.clone();
    if job.like.model.charging != model.charging {
        // Nothing in a discharge says that a cell may be charged.
        cautions.push(match model.charging {
            Charging::Rechargeable => "Whether this cell may be charged is stated by hand: charge it only as its maker says, and not at all where he says nothing.".to_owned(),
            Charging::Primary => "This cell is stated as one that must not be charged.".to_owned(),
        });
    }
    if !cautions.is_empty() {
        let cautions: Vec<String> = cautions.iter().map(|c| quote(c)).collect();
        head.push((
            "cautions",
            format!("[\n    {},\n]", cautions.join(",\n    ")),
        ));
    }
    head
}

/// A sheet of one cell whose main figures it says is as sure as a data sheet; a log of one sample or
/// anything else is typical of its sort.
fn confidence(job: &Job<'_>) -> Confidence {
    let main = |p: &Property| {
        matches!(p, Property::Charge)
            || matches!(p, Property::OpenCircuit(d) | Property::Resistance(d) if (*d - 0.5).abs() < 0.26)
    };
    let mut main = job.fitted.pinned.iter().filter(|p| main(&p.property));
    let logs = job.measured.tests.iter().any(|t| inputs::is_log(&t.drive));
    if job.fitted.fitted_units.len() == 1 && !logs && main.all(|p| p.is_told()) {
        Confidence::DataSheet
    } else {
        Confidence::Typical
    }
}

#[cfg(test)]
mod tests {
    use lastvolt_core::numerics::table::Table;
    use lastvolt_input::catalog;

    use super::*;

    #[test]
    fn a_cell_that_stands_below_zero_at_rest_is_none() {
        let cells = catalog().into_iter().filter_map(|e| e.device);
        let mut cells = cells.filter_map(|d| match d {
            Device::Cell(cell) => Some(cell.model),
            _ => None,
        });
        let mut cell = cells.next().expect("a cell");
        assert!(possible(&cell).is_ok());
        cell.open_circuit = Table::new(&[(0.0, 3.0), (1.0, -0.5)]).expect("a table");
        assert!(possible(&cell).is_err());
    }
}
