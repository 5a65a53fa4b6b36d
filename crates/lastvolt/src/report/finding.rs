//! One finding as a block, and as a line that leads to it.

use maud::{Markup, html};

use crate::report::typeset::typeset;
use crate::text::check::measure;
use crate::text::matrix::situation_words;
use crate::view::FindingView;

/// The block of the finding at this place of the document.
pub(super) fn block(at: usize, finding: &FindingView) -> Markup {
    html! {
        article class={ "finding " (finding.severity) } id=(anchor(at)) {
            h4 {
                (mark(finding))
                (finding.rule)
                span.where { "board " bdi { (finding.board) } ", " (finding.parts.join(", ")) }
            }
            p { (typeset(&finding.says)) }
            dl {
                @if let Some(measured) = &finding.measured {
                    dt { "figures" } dd { (typeset(&measure(measured, finding.limit.as_ref()))) }
                }
                @if let Some(situation) = &finding.situation {
                    dt { "when" }
                    dd {
                        (typeset(&situation_words(situation)))
                        @if 1 < finding.situations { " (the worst of " (finding.situations) " situations)" }
                    }
                }
                @if let Some(reason) = &finding.accepted { dt { "accepted because" } dd dir="auto" { (reason) } }
                @if !finding.remedy.is_empty() { dt { "remedy" } dd { (typeset(&finding.remedy)) } }
                dt { "basis" } dd { (finding.basis) "; figures: " (sure(finding.confidence)) }
                @if !finding.also.is_empty() { dt { "also" } dd { (finding.also.join(", ")) } }
                dt { "place" } dd { code { (finding.place()) } }
            }
        }
    }
}

/// A finding in a line that leads to its block.
pub(super) fn line(at: usize, finding: &FindingView) -> Markup {
    html! {
        (mark(finding))
        a href={ "#" (anchor(at)) } { (finding.rule) }
        ": " (typeset(&finding.says))
    }
}

/// Severity in a word, and whether the files accept it.
pub(super) fn mark(finding: &FindingView) -> Markup {
    html! {
        span class={ "mark " (finding.severity) } { (finding.severity) }
        @if finding.accepted.is_some() { span.mark.accepted { "accepted" } }
    }
}

/// Where the block of the finding at this place of the document is.
pub(super) fn anchor(at: usize) -> String {
    format!("finding-{}", at + 1)
}

/// How sure figures are, in words.
pub(super) fn sure(confidence: &str) -> &'static str {
    match confidence {
        "data-sheet" => "from data sheets or the files",
        "typical" => "typical of the class",
        _ => "from memory",
    }
}
