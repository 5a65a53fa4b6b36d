//! The verdict on a board in one sentence.

use crate::text::life::{life_words, verdict as word};
use crate::text::number::{count, duration};
use crate::view::{BoardView, ReviewView};

/// The verdict on a board in one sentence.
pub(crate) fn verdict(review: &ReviewView, board: &BoardView) -> String {
    let of = |severity: &str| {
        let own = review.findings.iter().filter(|f| f.board == board.name);
        own.filter(|f| f.severity == severity && !f.is_caution())
            .count()
    };
    let (stop, fix) = (of("stop"), of("fix"));
    let mut text = match (stop, fix) {
        (0, 0) => "Sound".to_owned(),
        (0, fix) => format!("Works, with {} to fix", count(fix, "finding")),
        (stop, _) => format!("Do not build: {} to stop at", count(stop, "finding")),
    };
    let required = review.required_life_s.map(|l| l.0);
    let shortest = review
        .runs
        .iter()
        .filter(|r| r.board == board.name)
        .min_by(|a, b| {
            let life = |r: &crate::view::RunView| r.life_s.map_or(f64::INFINITY, |l| l.0);
            life(a).total_cmp(&life(b))
        });
    if let Some(run) = shortest {
        if run.ledger.is_empty() && run.end.cause == "no-end" {
            text.push_str("; fed from outside, no cell to empty");
        } else {
            text.push_str(&format!("; runs {}", life_words(run)));
            if let Some(required) = required {
                text.push_str(match word(run, Some(required)) {
                    "short" => ", short of the ",
                    _ => ", which meets the ",
                });
                text.push_str(&format!("{} asked for", duration(required)));
            }
        }
    }
    text.push('.');
    text
}
