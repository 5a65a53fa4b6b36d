//! The verdict on a board in one sentence.

use crate::text::life::{life_words, verdict as word};
use crate::text::number::{count, duration};
use crate::view::{Num, ReviewView, RunView};

/// Findings of a board by weight: to stop at, to fix, to know; accepted ones are left out.
pub(crate) fn weights(review: &ReviewView, board: &str) -> (usize, usize, usize) {
    let of = |severity: &str| {
        let own = review.findings.iter().filter(|f| f.board == board);
        own.filter(|f| f.severity == severity && f.counts()).count()
    };
    (of("stop"), of("fix"), of("note"))
}

/// What the findings on a board come to, without a full stop.
pub(crate) fn judgement(review: &ReviewView, board: &str) -> String {
    let dead = shortest(review, board).is_some_and(|run| run.life_s == Some(Num(0.0)));
    match weights(review, board) {
        (0, fix, _) if dead => format!("Does not run; {} to fix", count(fix, "thing")),
        (0, 0, _) if accepts(review, board) => "No fault found but what is accepted".to_owned(),
        (0, 0, _) => "No fault found".to_owned(),
        (0, fix, _) => format!("Works, with {} to fix", count(fix, "thing")),
        (stop, _, _) => format!("Do not build: {} to stop at", count(stop, "thing")),
    }
}

/// The verdict on a board in one sentence.
pub(crate) fn verdict(review: &ReviewView, board: &str) -> String {
    let mut text = judgement(review, board);
    let required = review.required_life_s.map(|l| l.0);
    if let Some(run) = shortest(review, board) {
        if run.ledger.is_empty() && run.end.cause == "no-end" {
            text.push_str("; fed from outside, no cell to empty");
        } else {
            text.push_str(&run_words(run));
            if let Some(required) = required {
                let meets = match word(run, Some(required)) {
                    "short" => "short of",
                    _ => "which meets",
                };
                text.push_str(&format!(", {meets} the {} asked for", duration(required)));
            }
        }
    }
    text.push('.');
    text
}

/// Whether something to stop at or to fix is accepted on a board.
fn accepts(review: &ReviewView, board: &str) -> bool {
    let own = review.findings.iter().filter(|f| f.board == board);
    own.into_iter()
        .any(|f| f.accepted.is_some() && f.severity != "note")
}

fn run_words(run: &RunView) -> String {
    match run.life_s {
        None => "; nothing empties it within 100 years".to_owned(),
        Some(life) if life.0 == 0.0 => "; it does not run".to_owned(),
        Some(_) => format!("; runs {}", life_words(run)),
    }
}

/// The run of a board that ends first.
pub(crate) fn shortest<'a>(review: &'a ReviewView, board: &str) -> Option<&'a RunView> {
    let life = |r: &RunView| r.life_s.map_or(f64::INFINITY, |l| l.0);
    let runs = review.runs.iter().filter(|r| r.board == board);
    runs.min_by(|a, b| life(a).total_cmp(&life(b)))
}
