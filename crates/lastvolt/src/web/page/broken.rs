//! What is wrong with the files, above the last review that could be made of them.

use lastvolt_input::{Diagnostic, Severity, Text};
use maud::{Markup, html};

use crate::text::diagnostic;
use crate::text::number::count;
use crate::text::paint::Paint;
use crate::web::desk::Edition;

/// Problems that are shown in full; the rest is counted.
const SHOWN: usize = 20;

/// The state of the files: problems where there are some.
pub(super) fn state(now: &Edition) -> Markup {
    if let Some(broken) = &now.broken {
        let errors = broken
            .problems
            .iter()
            .filter(|p| p.severity == Severity::Error)
            .count();
        return html! {
            section.broken role="alert" aria-labelledby="broken" {
                h2 #broken { "The files cannot be read: " (count(errors, "error")) }
                @if now.sound.is_some() {
                    p { "Below, greyed, is the last edition that could be read. It comes back to life when the files can be read again." }
                } @else {
                    p { "There is no earlier edition to show. The page appears once the files can be read." }
                }
                (problems(&broken.problems, &broken.texts))
            }
        };
    }
    let slips = now
        .sound
        .as_ref()
        .map(|s| (&s.family.slips, &s.family.texts));
    match slips {
        Some((slips, texts)) if !slips.is_empty() => html! {
            details.slips {
                summary { span.mark.note { "slips" } (count(slips.len(), "place")) " in the files that look like slips" }
                (problems(slips, texts))
            }
        },
        _ => html! {},
    }
}

/// Problems as the command line shows them, each with its place.
pub(crate) fn problems(problems: &[Diagnostic], texts: &[Text]) -> Markup {
    let more = problems.len().saturating_sub(SHOWN);
    html! {
        ol.problems {
            @for problem in problems.iter().take(SHOWN) {
                li {
                    pre tabindex="0" { (diagnostic::text(std::slice::from_ref(problem), texts, Paint::Plain).trim_end()) }
                }
            }
        }
        @if 0 < more { p { (more) " more are not shown here; " code { "lastvolt check" } " lists all." } }
    }
}
