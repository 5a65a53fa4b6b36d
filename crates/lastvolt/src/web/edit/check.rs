//! What is wrong with values as typed: the problems that the command line shows, each beside its field.

use std::ops::Range;

use lastvolt_input::{Diagnostic, Severity, Text};
use maud::{Markup, html};
use serde_json::{Map, Value, json};

use super::ask::{Ask, Outcome, Typed};
use super::quote::unwritten;
use super::splice::{parse, span};
use crate::cli::load::sha256;
use crate::web::page::problems;

/// Most problems that belong to no field and are shown.
const MOST_ELSEWHERE: usize = 5;

/// The answer to values as typed, against the texts that they would change.
pub(super) fn answer(ask: &Ask, texts: &[Text], known: &[Diagnostic]) -> Value {
    let outcome = ask.outcome(texts);
    let found = fresh(&outcome.loaded.problems, known);
    let mut fields = Map::new();
    let mut invalid: Vec<&str> = outcome.refused.iter().map(|r| r.0.as_str()).collect();
    for typed in &ask.changes {
        let own = beside(ask, &outcome, typed, &found);
        let place = place(ask, &outcome, typed);
        let is_wrong = |p: &&Diagnostic| {
            p.severity == Severity::Error && place.as_ref().is_some_and(|at| is_at(ask, p, at))
        };
        invalid.extend(found.iter().any(is_wrong).then_some(typed.id.as_str()));
        fields.insert(typed.id.clone(), json!(own.into_string()));
    }
    json!({
        "valid": outcome.is_sound(),
        "stale": !ask.is_current(texts),
        "base": digest(texts, &ask.file),
        "fields": fields,
        "invalid": invalid,
        "elsewhere": elsewhere(ask, &outcome, &found).into_string(),
    })
}

/// The digest of a file.
pub(super) fn digest(texts: &[Text], file: &str) -> Option<String> {
    let text = texts.iter().find(|t| t.name == file)?;
    Some(sha256(&text.text))
}

/// Errors, and slips that are new.
fn fresh<'d>(found: &'d [Diagnostic], known: &[Diagnostic]) -> Vec<&'d Diagnostic> {
    let is_known = |problem: &Diagnostic| {
        let same = |k: &Diagnostic| k.code == problem.code && k.says == problem.says;
        problem.severity == Severity::Warning && known.iter().any(same)
    };
    found.iter().filter(|p| !is_known(p)).collect()
}

/// Where a value stands in the changed file.
fn place(ask: &Ask, outcome: &Outcome, typed: &Typed) -> Option<Range<usize>> {
    let document = parse(outcome.text(&ask.file)?).ok()?;
    span(document.as_table(), &typed.path)
}

/// Whether a problem is about what stands at a place of the changed file.
fn is_at(ask: &Ask, problem: &Diagnostic, place: &Range<usize>) -> bool {
    problem.file == ask.file && place.start <= problem.span.start && problem.span.end <= place.end
}

/// What is wrong with one value.
fn beside(ask: &Ask, outcome: &Outcome, typed: &Typed, found: &[&Diagnostic]) -> Markup {
    let refused = outcome.refused.iter().filter(|r| r.0 == typed.id);
    let place = place(ask, outcome, typed);
    let own = found
        .iter()
        .filter(|p| place.as_ref().is_some_and(|at| is_at(ask, p, at)));
    html! {
        @for (_, why) in refused { p.edit-problem { span.mark.stop { "error" } (why) } }
        @for problem in own { (one(ask, outcome, typed, problem)) }
    }
}

/// One problem of a value in words, with its proposal; what can be taken over at once is a button.
fn one(ask: &Ask, outcome: &Outcome, typed: &Typed, problem: &Diagnostic) -> Markup {
    let fill = patched(ask, outcome, typed, problem);
    let weight = match problem.severity {
        Severity::Error => "stop",
        Severity::Warning => "note",
    };
    html! {
        p.edit-problem {
            span class={ "mark " (weight) } { (problem.severity.word()) }
            (problem.says)
            span.edit-place { " " code { (problem.file) ":" (problem.line) ":" (problem.column) } " " (problem.code) }
            @if let Some(proposal) = &problem.proposal { span.edit-proposal { (proposal) } }
            @if let Some(fill) = fill {
                button type="button" data-fill=(fill) data-for=(typed.id) { "Put " (fill) }
            }
        }
    }
}

/// What the field would hold with the patch of a problem made.
fn patched(ask: &Ask, outcome: &Outcome, typed: &Typed, problem: &Diagnostic) -> Option<String> {
    let patch = problem.patch.as_ref()?;
    let text = outcome.text(&ask.file)?;
    let (head, tail) = (
        text.get(..problem.span.start)?,
        text.get(problem.span.end..)?,
    );
    let changed = format!("{head}{patch}{tail}");
    let document = parse(&changed).ok()?;
    let place = span(document.as_table(), &typed.path)?;
    Some(unwritten(changed.get(place)?))
}

/// Problems that belong to no field of the form.
fn elsewhere(ask: &Ask, outcome: &Outcome, found: &[&Diagnostic]) -> Markup {
    let places: Vec<Range<usize>> = ask
        .changes
        .iter()
        .filter_map(|typed| place(ask, outcome, typed))
        .collect();
    let other: Vec<Diagnostic> = found
        .iter()
        .filter(|p| !places.iter().any(|at| is_at(ask, p, at)))
        .map(|p| (*p).clone())
        .collect();
    let whole = outcome.refused.iter().filter(|r| r.0.is_empty());
    html! {
        @for (_, why) in whole { p.edit-problem { span.mark.stop { "error" } (why) } }
        @if !other.is_empty() {
            p { "With this value something else in the files is not right:" }
            (problems(&other[..other.len().min(MOST_ELSEWHERE)], &outcome.texts))
        }
    }
}
