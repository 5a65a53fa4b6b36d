//! What a change would do before it is saved: how long the boards last, and which findings come and go.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use lastvolt_core::model::Family;
use lastvolt_core::progress::Progress;
use lastvolt_core::review;
use lastvolt_core::time::{Bursts, Climate, Life, LifeRequest, life};
use lastvolt_input::SpanMap;
use maud::{Markup, html};

use super::ask::{Ask, Outcome};
use super::history::Edits;
use crate::report::{finding_mark, typeset};
use crate::text::ending::cause_word;
use crate::text::number::{count, duration, percent};
use crate::view::FindingView;
use crate::web::curve::LONG;
use crate::web::desk::Sound;
use crate::web::lives::{LifeKey, life_within};

/// Work that whoever asked for it can call off.
#[derive(Debug, Clone, Default)]
pub(super) struct Stop(Arc<AtomicBool>);

impl Stop {
    /// Calls the work off once this is dropped.
    pub(super) fn guard(&self) -> StopGuard {
        StopGuard(self.clone())
    }
}

impl Progress for Stop {
    fn at(&self, _done: f64) {}

    fn cancelled(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

/// Calls work off when whoever asked has gone.
pub(super) struct StopGuard(Stop);

impl Drop for StopGuard {
    fn drop(&mut self) {
        self.0.0.store(true, Ordering::Relaxed);
    }
}

/// Findings of boards of one edition.
pub(super) struct Known {
    number: u64,
    boards: Vec<String>,
    profile: Option<String>,
    found: Arc<Vec<FindingView>>,
}

/// A profile by name; the first where none is named or the name is not known.
fn profile(family: &Family, name: Option<&str>) -> Option<String> {
    let found = name.and_then(|name| family.profile(name));
    found.or(family.profiles.first()).map(|p| p.name.clone())
}

/// The life of a board of a family that is not saved yet.
pub(super) fn life_of(
    family: &Family,
    board: &str,
    wanted: Option<&str>,
    stop: &Stop,
) -> Result<Life, String> {
    let profile = profile(family, wanted);
    let request = LifeRequest {
        family,
        board,
        profile: profile.as_deref(),
        ambient: Climate::usual(family),
        positions: std::collections::BTreeMap::new(),
        bursts: Bursts::Followed,
    };
    life(&request, stop).map_err(|why| why.to_string())
}

/// How long the boards of the page last before and after.
pub(super) fn lives(sound: &Arc<Sound>, ask: &Ask, outcome: &Outcome, stop: &Stop) -> Markup {
    let Some(family) = &outcome.loaded.family else {
        return html! {};
    };
    let model = &sound.family.model;
    let boards = ask.boards.iter().filter(|b| model.board(b).is_some());
    html! {
        h4 { "Life" }
        dl.edit-lives {
            @for board in boards {
                dt { bdi { (board) } }
                dd { (life_line(sound, family, ask, board, stop)) }
            }
        }
    }
}

fn life_line(sound: &Arc<Sound>, family: &Family, ask: &Ask, board: &str, stop: &Stop) -> Markup {
    if family.board(board).is_none() {
        return html! { "This board would be gone." };
    }
    let key = LifeKey {
        board: board.to_owned(),
        profile: profile(&sound.family.model, ask.profile.as_deref()),
        ambient: None,
        positions: std::collections::BTreeMap::new(),
    };
    let Some(before) = life_within(sound, &key, LONG) else {
        return html! { "The life takes longer than can be waited for here." };
    };
    match (
        before.as_ref(),
        life_of(family, board, ask.profile.as_deref(), stop),
    ) {
        (Ok(before), Ok(after)) => html! { (typeset(&compared(before, &after))) },
        (Err(_), Ok(after)) => {
            let words = format!(
                "cannot be worked out now; {} with the change",
                lasts(&after)
            );
            html! { (typeset(&words)) }
        }
        (_, Err(why)) => html! { "cannot be worked out with the change: " (why) },
    }
}

/// Two lives in words.
fn compared(before: &Life, after: &Life) -> String {
    let mut words = format!("{} now, {} with the change", lasts(before), lasts(after));
    if let (Some(a), Some(b)) = (before.life_secs, after.life_secs) {
        words.push_str(&format!(
            ": {}",
            difference(a, b, before.error_secs.max(after.error_secs))
        ));
    }
    let (was, is) = (before.end.cause.word(), after.end.cause.word());
    if was != is {
        words.push_str(&format!(
            "; ends by {} and not by {}",
            cause_word(is),
            cause_word(was)
        ));
    }
    words
}

/// How long a life lasts.
pub(super) fn lasts(life: &Life) -> String {
    match life.life_secs {
        Some(secs) if 0.0 < secs => duration(secs),
        Some(_) => format!("no time at all ({})", cause_word(life.end.cause.word())),
        None => "no end within 100 years".to_owned(),
    }
}

/// The difference of two lives, or that there is none to speak of.
pub(super) fn difference(before: f64, after: f64, error: f64) -> String {
    let more = after - before;
    if more.abs() <= error.max(before * 1e-5) {
        return "no difference beyond the error of the estimate".to_owned();
    }
    let word = if 0.0 < more { "longer" } else { "shorter" };
    let share = if 0.0 < before {
        format!(", {}", percent((more / before).abs()))
    } else {
        String::new()
    };
    format!("{} {word}{share}", duration(more.abs()))
}

/// Findings of the boards of the page before and after.
pub(super) fn findings(
    sound: &Sound,
    edits: &Edits,
    ask: &Ask,
    outcome: &Outcome,
    stop: &Stop,
) -> Markup {
    let Some(family) = &outcome.loaded.family else {
        return html! {};
    };
    let before = known(sound, edits, ask, stop);
    let after = found(family, &outcome.loaded.spans, ask, stop);
    match (before, after) {
        (Ok(before), Ok(after)) => differing(&before, &after),
        (_, Err(why)) | (Err(why), _) => html! {
            h4 { "Findings" }
            p { "cannot be worked out: " (why) }
        },
    }
}

/// Findings as the files are, worked out once.
fn known(
    sound: &Sound,
    edits: &Edits,
    ask: &Ask,
    stop: &Stop,
) -> Result<Arc<Vec<FindingView>>, String> {
    if let Ok(known) = edits.known.lock()
        && let Some(known) = known.as_ref()
        && known.number == sound.number
        && known.boards == ask.boards
        && known.profile == ask.profile
    {
        return Ok(Arc::clone(&known.found));
    }
    let found = Arc::new(found(&sound.family.model, &sound.family.spans, ask, stop)?);
    if let Ok(mut known) = edits.known.lock()
        && !stop.cancelled()
    {
        *known = Some(Known {
            number: sound.number,
            boards: ask.boards.clone(),
            profile: ask.profile.clone(),
            found: Arc::clone(&found),
        });
    }
    Ok(found)
}

/// Findings of a family that has the boards of the page only: quicker than all of them.
fn found(
    family: &Family,
    spans: &SpanMap,
    ask: &Ask,
    stop: &Stop,
) -> Result<Vec<FindingView>, String> {
    let mut family = family.clone();
    family.boards.retain(|b| ask.boards.contains(&b.name));
    let profile = profile(&family, ask.profile.as_deref());
    let checked =
        review::checked(&family, profile.as_deref(), stop).map_err(|why| why.to_string())?;
    let found = checked.findings.iter().filter(|f| !f.is_caution());
    Ok(FindingView::all(found, spans))
}

/// What is gone, what is new and what weighs otherwise.
fn differing(before: &[FindingView], after: &[FindingView]) -> Markup {
    let is_in = |all: &[FindingView], one: &FindingView| all.iter().any(|f| f.id == one.id);
    let gone: Vec<_> = before.iter().filter(|f| !is_in(after, f)).collect();
    let new: Vec<_> = after.iter().filter(|f| !is_in(before, f)).collect();
    let was = |one: &FindingView| before.iter().find(|f| f.id == one.id);
    let weighs = |f: &&FindingView| was(f).is_some_and(|w| w.severity != f.severity);
    let other: Vec<_> = after.iter().filter(weighs).collect();
    let says =
        |f: &&FindingView| was(f).is_some_and(|w| w.severity == f.severity && w.says != f.says);
    let figures = after.iter().filter(says).count();
    html! {
        h4 { "Findings" }
        @if gone.is_empty() && new.is_empty() && other.is_empty() {
            p { "None comes or goes." }
        }
        ul.lines {
            @for finding in &gone { li { span.edit-change { "gone" } (line(finding)) } }
            @for finding in &new { li { span.edit-change { "new" } (line(finding)) } }
            @for finding in &other { li { span.edit-change { "weighs otherwise" } (line(finding)) } }
        }
        p.quiet { "Of the boards of this page; stacks and the family as a whole are looked at once it is saved." }
        @if 0 < figures { p.quiet { (count(figures, "finding")) " with other figures." } }
    }
}

fn line(finding: &FindingView) -> Markup {
    html! { (finding_mark(finding)) (finding.rule) ": " (typeset(&finding.says)) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn differences_are_told_as_far_as_they_are_known() {
        const DAY: f64 = 86_400.0;
        assert_eq!(
            difference(100.0 * DAY, 100.0 * DAY + 60.0, 3600.0),
            "no difference beyond the error of the estimate"
        );
        assert_eq!(
            difference(100.0 * DAY, 103.0 * DAY, 3600.0),
            "3 days longer, 3.0 %"
        );
        assert_eq!(
            difference(100.0 * DAY, 50.0 * DAY, 3600.0),
            "50 days shorter, 50 %"
        );
        assert_eq!(difference(0.0, 50.0 * DAY, 0.0), "50 days longer");
    }
}
