//! The verdict on a board in one sentence.

use crate::text::life::{life_words, verdict as word};
use crate::text::number::{count, duration, listed, percent};
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
    let dead = judged(review, board).is_some_and(|run| run.life_s == Some(Num(0.0)));
    match weights(review, board) {
        (0, fix, _) if dead => format!("Does not run; {} to fix", count(fix, "thing")),
        (0, 0, _) if of_pairs(review, board) => {
            "No fault of its own; see boards plugged together".to_owned()
        }
        (0, 0, _) if accepts(review, board) => "No fault found but what is accepted".to_owned(),
        (0, 0, _) => "No fault found".to_owned(),
        (0, fix, _) => format!("Works, with {} to fix", count(fix, "thing")),
        (stop, _, _) => format!("Do not build: {} to stop at", count(stop, "thing")),
    }
}

/// Whether something to stop at or to fix is told with another board that this one is plugged together with.
fn of_pairs(review: &ReviewView, board: &str) -> bool {
    let others = review.findings.iter();
    let mut others = others.filter(|f| f.board != board && f.counts() && f.severity != "note");
    others.any(|f| {
        let boards = f.situation.as_ref().map(|s| &s.boards);
        boards.is_some_and(|boards| boards.iter().any(|b| b == board))
    })
}

/// The verdict on a board in one sentence: by the profile that findings judge.
pub(crate) fn verdict(review: &ReviewView, board: &str) -> String {
    let mut text = judgement(review, board);
    if let Some(run) = judged(review, board) {
        if run.ledger.is_empty() && run.end.cause == "no-end" {
            text.push_str("; fed from outside, no cell to empty");
        } else {
            text.push_str(&run_words(review, run));
            if let Some(required) = review.required_life_s {
                text.push_str(&held_words(review, run, required.0));
            }
        }
        for other in runs(review, board) {
            if other.profile != run.profile && other.life_s == Some(Num(0.0)) {
                let profile = other.profile.as_deref().unwrap_or("base states");
                text.push_str(&format!("; in profile {profile} it does not run"));
            }
        }
    }
    text.push('.');
    text
}

/// Whether a run holds what is asked for, and by what that is judged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Held {
    /// `short`, `ok`, or nothing where nothing is asked for.
    pub(crate) word: &'static str,
    /// The asked share of units, and how long it lasts, where that is what is judged.
    pub(crate) units: Option<(f64, f64)>,
    /// Whether a share of units is asked for, and yet only a typical one could be judged.
    pub(crate) typical: bool,
    /// The rule that has something to say against it though the life is long enough.
    pub(crate) see: Option<&'static str>,
}

impl Held {
    /// In a word or two.
    pub(crate) fn word(&self) -> String {
        match (self.word, self.see) {
            ("ok", Some(rule)) => format!("see {rule}"),
            ("ok", None) if self.typical => "met by a typical unit".to_owned(),
            ("ok", None) => "met".to_owned(),
            (word, _) => word.to_owned(),
        }
    }
}

/// Judges a run: by the life that the asked share of units reaches where it is known, else by that of a
/// typical unit.
pub(crate) fn held(review: &ReviewView, run: &RunView) -> Held {
    let required = review.required_life_s.map(|l| l.0);
    let own = review.boards.iter().find(|b| b.name == run.board);
    let spread = own.and_then(|b| b.spread.as_ref());
    let spread = spread.filter(|_| run.profile == review.profile);
    let units = spread.and_then(|s| Some((s.confidence?.0, s.promise_s?.0)));
    let word = word(run, required);
    let see = open(review, &run.board).filter(|_| run.profile == review.profile);
    match (units, required) {
        (Some((_, secs)), Some(required)) => Held {
            word: if secs < required { "short" } else { word },
            units,
            typical: false,
            see,
        },
        _ => Held {
            word,
            units: None,
            typical: required.is_some() && review.required_share.is_some(),
            see,
        },
    }
}

/// A rule about the life that is asked for with something to stop at or to fix.
fn open(review: &ReviewView, board: &str) -> Option<&'static str> {
    let own = review.findings.iter();
    let mut own = own.filter(|f| f.board == board && f.counts() && f.severity != "note");
    own.find(|f| matches!(f.rule, "life-short" | "shelf-limit"))
        .map(|f| f.rule)
}

/// Whether a run holds what is asked for, as it goes on behind its life.
fn held_words(review: &ReviewView, run: &RunView, required: f64) -> String {
    let asked = duration(required);
    let held = held(review, run);
    let short = held.word == "short";
    if let Some(rule) = held.see.filter(|_| !short) {
        return format!("; of the {asked} asked for see {rule}");
    }
    match held.units {
        Some((share, secs)) => format!(
            "; {} of units last {}, {} the {asked} asked for",
            percent(share),
            duration(secs),
            if short { "short of" } else { "which meets" }
        ),
        None if short => format!(", short of the {asked} asked for"),
        None if held.typical => format!("; a typical unit meets the {asked} asked for"),
        None => format!(", which meets the {asked} asked for"),
    }
}

/// Whether something to stop at or to fix is accepted on a board.
fn accepts(review: &ReviewView, board: &str) -> bool {
    let own = review.findings.iter().filter(|f| f.board == board);
    own.into_iter()
        .any(|f| f.accepted.is_some() && f.severity != "note")
}

fn run_words(review: &ReviewView, run: &RunView) -> String {
    let profile = run.profile.as_deref();
    let profile = profile.filter(|_| 1 < runs(review, &run.board).count());
    let profile = profile.map_or_else(String::new, |p| format!(" in profile {p}"));
    match run.life_s {
        None => format!("; nothing empties it within 100 years{profile}"),
        Some(life) if life.0 == 0.0 => format!("; it does not run{profile}"),
        Some(_) => {
            let life = life_words(run);
            let plugged = plugged(review, &run.board);
            let beyond = if beyond_shelf(review, &run.board) {
                ", longer than its cells keep"
            } else {
                ""
            };
            format!("; runs {life}{profile}{plugged}{beyond}")
        }
    }
}

/// What a board is fed from beside its cells, in the situation in which its life is followed.
fn plugged(review: &ReviewView, board: &str) -> String {
    let Some(view) = review.boards.iter().find(|b| b.name == board) else {
        return String::new();
    };
    let supplies = view.parts.iter().filter(|p| p.kind == "supply");
    let names: Vec<&str> = supplies.map(|p| p.part.as_str()).collect();
    match names.len() {
        0 => String::new(),
        1 => format!(" while {} is plugged in", names[0]),
        _ => format!(" while {} are plugged in", listed(&names)),
    }
}

/// Whether a note says that the life is longer than the shelf life of the cells.
fn beyond_shelf(review: &ReviewView, board: &str) -> bool {
    let mut own = review.findings.iter().filter(|f| f.board == board);
    own.any(|f| f.rule == "shelf-limit")
}

fn runs<'a>(review: &'a ReviewView, board: &str) -> impl Iterator<Item = &'a RunView> {
    review.runs.iter().filter(move |r| r.board == board)
}

/// The run of a board under the profile that findings judge.
fn judged<'a>(review: &'a ReviewView, board: &str) -> Option<&'a RunView> {
    let own = runs(review, board).find(|r| r.profile == review.profile);
    own.or_else(|| runs(review, board).next())
}
