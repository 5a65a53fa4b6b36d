//! One finding as a block.

use lastvolt_core::model::Confidence;
use lastvolt_core::review::Finding;
use maud::{Markup, html};

use crate::report::Input;
use crate::text::number::figure;

pub(super) fn block(input: &Input, finding: &Finding) -> Markup {
    let severity = finding.severity.word();
    let place = (input.place)(finding);
    html! {
        div class={ "finding " (severity) } {
            h4 { span.word { (severity) } (finding.rule) ", board " (finding.board) ", " (finding.parts.join(", ")) }
            p { (finding.says) }
            dl {
                @if let Some(measured) = finding.measured {
                    dt { "computed" } dd { (figure(measured.value, measured.unit)) }
                }
                @if let Some(limit) = finding.limit {
                    dt { "against" } dd { (figure(limit.value, limit.unit)) }
                }
                @if !finding.remedy.is_empty() { dt { "remedy" } dd { (finding.remedy) } }
                dt { "basis" } dd { (finding.basis) " (figures: " (confidence(finding.confidence)) ")" }
                @if finding.situations > 0 { dt { "situations" } dd { (finding.situations) } }
                dt { "place" } dd { code { (place) } }
            }
        }
    }
}

/// How sure figures are, in words.
pub(super) fn confidence(confidence: Confidence) -> &'static str {
    match confidence {
        Confidence::DataSheet => "data sheet",
        Confidence::Typical => "typical of the class",
        Confidence::Memory => "from memory",
    }
}

/// How sure figures are, as documents say it.
pub(super) fn confidence_key(confidence: Confidence) -> &'static str {
    match confidence {
        Confidence::DataSheet => "data-sheet",
        Confidence::Typical => "typical",
        Confidence::Memory => "memory",
    }
}
