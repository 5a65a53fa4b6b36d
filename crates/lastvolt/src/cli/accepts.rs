//! Accepts of the files that accept nothing.

use lastvolt_core::review::{Finding, idle_accepts};
use lastvolt_input::{Diagnostic, Severity};

use crate::cli::load::Family;
use crate::output::message;
use crate::text::diagnostic;
use crate::text::paint::Paint;

/// A warning for each accept that covers none of the findings of a whole family.
pub(super) fn idle(family: &Family, findings: &[Finding]) -> Vec<Diagnostic> {
    let idle = idle_accepts(&family.model, findings).into_iter();
    let places = idle.filter_map(|at| Some((at, family.spans.accept(at)?)));
    let warning = |(at, place): (usize, &lastvolt_input::Place)| {
        let accept = &family.model.accepts[at];
        let about = match accept.parts.as_slice() {
            [] => String::new(),
            parts => format!(" about {}", parts.join(", ")),
        };
        Diagnostic {
            severity: Severity::Warning,
            span: place.span.clone(),
            line: place.line,
            column: place.column,
            label: "accepts nothing".to_owned(),
            proposal: Some("remove it, or name the parts that the finding names".to_owned()),
            ..Diagnostic::of_file(
                "idle-accept",
                &place.file,
                format!("there is no finding of `{}`{about} to accept", accept.rule),
            )
        }
    };
    places.map(warning).collect()
}

/// Shows them to a person.
pub(super) fn show(family: &Family, idle: &[Diagnostic]) {
    if !idle.is_empty() {
        let paint = Paint::for_stderr();
        message(diagnostic::text(idle, &family.texts, paint).trim_end());
    }
}

/// The same in a line each, for documents.
pub(super) fn lines(idle: &[Diagnostic]) -> Vec<String> {
    let line = |d: &Diagnostic| format!("{}:{}:{}: {}", d.file, d.line, d.column, d.says);
    idle.iter().map(line).collect()
}
