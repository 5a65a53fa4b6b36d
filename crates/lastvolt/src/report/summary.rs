//! What a board comes to, in a box: life, end, verdict, how many findings.

use lastvolt_core::quantity::Unit;
use maud::{Markup, html};

use crate::report::board::Section;
use crate::report::typeset::typeset;
use crate::report::verdict::{held, judgement, weights};
use crate::text::ending::cause_words;
use crate::text::life::life_words;
use crate::text::number::{count, duration, figure, percent};
use crate::view::{ReviewView, RunView, SpreadView};

/// The part of a board's section.
pub(super) fn part(s: &Section) -> Markup {
    let body = &s.input.document.body;
    let (stop, fix, note) = weights(body, &s.board.name);
    let accepted = s.input.findings(&s.board.name);
    let accepted = accepted.filter(|(_, f)| f.accepted.is_some()).count();
    let standing = s.view.leakage.iter();
    let standing = standing.filter(|l| l.on && l.ambient == "usual");
    html! {
        dl.box {
            dt { "verdict" }
            dd { (judgement(body, &s.board.name)) }
            @for run in s.input.runs(&s.board.name) {
                dt { "life" @if let Some(p) = &run.profile { ", " bdi { (p) } } }
                dd { (typeset(&life(body, run))) }
                dt { "end" }
                dd { (cause_words(run)) }
            }
            @if let Some(secs) = s.view.spread.as_ref().and_then(promise) {
                dt { "units" }
                dd { (typeset(&secs)) }
            }
            @for column in standing {
                dt { "standing current" }
                dd { (typeset(&figure(column.typical_a.0, Unit::Ampere))) " from the cells at rest" }
            }
            dt { "findings" }
            dd {
                (stop) " to stop at, " (fix) " to fix, " (count(note, "note"))
                @if 0 < accepted { "; " (accepted) " accepted" }
            }
            dt { "parts" }
            dd { (count(s.board.parts.len(), "part")) ", " (count(s.board.nets.len(), "net")) }
        }
    }
}

/// How long the share of units lasts that the requirement names.
fn promise(spread: &SpreadView) -> Option<String> {
    let (share, secs) = (spread.confidence?, spread.promise_s?);
    Some(format!(
        "{} of them last {}, as far as their cells differ",
        percent(share.0),
        duration(secs.0)
    ))
}

/// Life against what is asked for.
fn life(review: &ReviewView, run: &RunView) -> String {
    let life = life_words(run);
    let Some(asked) = review.required_life_s.map(|l| duration(l.0)) else {
        return life;
    };
    let held = held(review, run);
    if let ("ok", Some(rule)) = (held.word, held.see) {
        return format!("{life}: of the {asked} asked for see {rule}");
    }
    match (held.word, held.units) {
        ("short", None) => format!("{life}: short of the {asked} asked for"),
        ("short", Some((share, _))) => format!(
            "{life} of a typical unit: {} of units fall short of the {asked} asked for",
            percent(share)
        ),
        (_, Some((share, _))) => {
            format!(
                "{life} of a typical unit: {} of units meet the {asked} asked for",
                percent(share)
            )
        }
        _ if held.typical => format!("{life}: a typical unit meets the {asked} asked for"),
        _ => format!("{life}: meets the {asked} asked for"),
    }
}
