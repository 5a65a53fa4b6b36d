//! One finding as a block.

use maud::{Markup, html};

use crate::report::typeset::typeset;
use crate::text::check::measure;
use crate::text::matrix::situation_words;
use crate::view::FindingView;

/// The block.
pub(super) fn block(finding: &FindingView) -> Markup {
    html! {
        article class={ "finding " (finding.severity) } {
            h4 {
                span class={ "mark " (finding.severity) } { (finding.severity) }
                @if finding.accepted.is_some() { span.mark.accepted { "accepted" } }
                (finding.rule)
                span.where { "board " (finding.board) ", " (finding.parts.join(", ")) }
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
                @if let Some(reason) = &finding.accepted { dt { "accepted because" } dd { (reason) } }
                @if !finding.remedy.is_empty() { dt { "remedy" } dd { (typeset(&finding.remedy)) } }
                dt { "basis" } dd { (finding.basis) "; figures: " (sure(finding.confidence)) }
                @if !finding.also.is_empty() { dt { "also" } dd { (finding.also.join(", ")) } }
                dt { "place" } dd { code { (finding.file) ":" (finding.line) ":" (finding.column) } }
            }
        }
    }
}

/// How sure figures are, in words.
pub(super) fn sure(confidence: &str) -> &'static str {
    match confidence {
        "data-sheet" => "from data sheets or the files",
        "typical" => "typical of the class",
        _ => "from memory",
    }
}
