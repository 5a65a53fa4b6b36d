//! What firmware could watch to warn in time, as a block of the page.

use maud::{Markup, html};

use crate::report::board::Section;
use crate::report::table;
use crate::report::typeset::typeset;
use crate::text::notice::{needed_words, notice_words, sentence, when_words};
use crate::text::number::{celsius, solved};
use crate::view::RunView;
use lastvolt_core::quantity::Unit;

/// The block of a run; nothing where no notice is asked for.
pub(super) fn part(s: &Section, run: &RunView) -> Markup {
    let family = s.input.family;
    let Some(sentence) = sentence(run, family) else {
        return html! {};
    };
    let ambient = &family.requirement.ambient;
    let ambients = [ambient.low, ambient.usual, ambient.high].map(|a| celsius(a.as_celsius()));
    let head = html! {
        tr {
            th { "watch" } th.n { "warn below" }
            @for ambient in &ambients { th.n { (typeset(&format!("notice at {ambient}"))) } }
            th.n { (typeset(&format!("right at {} / {}", ambients[0], ambients[2]))) }
            th { "remarks" }
        }
    };
    let body = html! {
        @for watch in &run.watch {
            tr {
                th scope="row" { code { (watch.net) } " " (when_words(watch)) }
                td.n { (typeset(&solved(watch.threshold_v.0, Unit::Volt))) }
                @for notice in [watch.notice_low_s, watch.notice_usual_s, watch.notice_high_s] {
                    td.n { @if watch.tells { (typeset(&notice_words(notice))) } }
                }
                td.n { @if watch.tells { (typeset(&needed_words(watch))) } }
                td.w { (typeset(&watch.says)) }
            }
        }
    };
    html! {
        h4 { "Low-battery warning" }
        p { (typeset(&sentence)) }
        @if !run.watch.is_empty() {
            (table("Thresholds that firmware could watch", &head, &body))
            p.quiet {
                "Each threshold is the voltage at the wanted notice before the end at the usual ambient, or the "
                "lowest one before that. What falls by less than 10 mV from there cannot be told: some three "
                "counts of a 10-bit converter at a reference of about 3 V (common practice). Cell voltages are "
                "those at the terminals of the whole string; contacts take their share of a burst."
            }
        }
    }
}
