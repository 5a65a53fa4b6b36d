//! The first page: what was reviewed, the verdict on every board, what stops a build.

use maud::{Markup, html};

use crate::report::typeset::{anchor, typeset};
use crate::report::verdict::{verdict, weights};
use crate::report::{Input, finding};
use crate::text::number::{celsius, count, duration, percent};
use crate::view::FindingView;

/// The head of the page: what was reviewed in short, and the verdict on every board.
pub(super) fn header(input: &Input) -> Markup {
    let body = &input.document.body;
    html! {
        header {
            p.kicker { "Circuit review of battery supply boards" }
            h1 dir="auto" { (input.family.name) }
            (reviewed(input))
            ul.verdicts {
                @for board in &body.boards {
                    li {
                        (mark(weights(body, &board.name)))
                        a href={ "#" (anchor(&board.name)) } { bdi { (board.name) } }
                        " " (typeset(&verdict(body, &board.name)))
                    }
                }
            }
            p.quiet { "By the rules of this version. What was " a href="#not-checked" { "not checked" } " stands at the end." }
        }
    }
}

/// The findings that stop a build, each in a line that leads to all of it.
pub(super) fn stops(input: &Input) -> Markup {
    let all = input.document.body.findings.iter().enumerate();
    let mut stops: Vec<Vec<(usize, &FindingView)>> = Vec::new();
    for found in all.filter(|(_, f)| f.severity == "stop" && f.counts()) {
        let cause = |f: &FindingView| (f.rule, f.remedy.clone());
        let like = stops.iter_mut().find(|s| cause(s[0].1) == cause(found.1));
        match like {
            Some(same) => same.push(found),
            None => stops.push(vec![found]),
        }
    }
    html! {
        @if !stops.is_empty() {
            section aria-labelledby="stops" {
                h2 #stops { "What stops a build" }
                ul.lines {
                    @for same in &stops {
                        @let (at, found) = same[0];
                        li {
                            "Board " bdi { (found.board) } ": " (finding::line(at, found))
                            @if 1 < same.len() {
                                " The same: "
                                @for (nth, (at, other)) in same.iter().skip(1).enumerate() {
                                    @if 0 < nth { ", " }
                                    a href={ "#" (finding::anchor(*at)) } { "board " bdi { (other.board) } }
                                    @if !other.parts.is_empty() { " (" (other.parts.join(", ")) ")" }
                                }
                                "."
                            }
                            @if !found.remedy.is_empty() { " " (typeset(&format!("Remedy: {}.", found.remedy))) }
                        }
                    }
                }
            }
        }
    }
}

/// A word for the state of a board, which colour only repeats.
fn mark((stop, fix, _): (usize, usize, usize)) -> Markup {
    let (class, word) = match (stop, fix) {
        (0, 0) => ("sound", "no fault"),
        (0, _) => ("fix", "fix"),
        _ => ("stop", "stop"),
    };
    html! { span class={ "mark " (class) } { (word) } }
}

/// What was reviewed, line by line.
fn reviewed(input: &Input) -> Markup {
    let body = &input.document.body;
    html! {
        dl.box {
            @for (what, said) in asked(input) { dt { (what) } dd { (typeset(&said)) } }
            @if let Some(judged) = &body.profile {
                dt { "profile judged" }
                dd {
                    bdi { (judged) }
                    @let others = input.family.profiles.iter().filter(|p| p.name != *judged);
                    @for other in others { ", beside it " bdi { (other.name) } }
                }
            }
            dt { "looked at" } dd {
                (covered(input))
                @if !input.document.body.coverage.left_out.is_empty() {
                    "; " a href="#not-checked" { "some were left out" }
                }
            }
            dt { "input" } dd { (input_words(input)) }
            @if let Some(date) = &body.date { dt { "date" } dd { (date) } }
        }
    }
}

/// From how many files the review was made, and where their digests stand.
fn input_words(input: &Input) -> Markup {
    html! {
        (count(input.document.body.files.len(), "file")) ", digest "
        a href="#files" { code { (short(&input.document.digest)) } }
    }
}

/// Digits that tell one state of the files from another.
const DIGEST: usize = 12;

/// The head of a digest, without the name of its method.
pub(super) fn short(digest: &str) -> &str {
    let digits = digest.rsplit(':').next().unwrap_or(digest);
    digits.get(..DIGEST).unwrap_or(digits)
}

/// What was asked for, line by line.
fn asked(input: &Input) -> Vec<(&'static str, String)> {
    let requirement = &input.family.requirement;
    let ambient = &requirement.ambient;
    let [low, usual, high] =
        [ambient.low, ambient.usual, ambient.high].map(|t| celsius(t.as_celsius()));
    let mut out = vec![("boards", count(input.review.boards.len(), "board"))];
    if let Some(life) = requirement.life {
        let share = requirement.confidence;
        let share = share.map(|s| format!(" in {} of units", percent(s.as_share())));
        let asked = format!("{}{}", duration(life.as_secs()), share.unwrap_or_default());
        out.push(("life asked for", asked));
    }
    if let Some(storage) = requirement.storage {
        out.push(("before that on a shelf", duration(storage.as_secs())));
    }
    if let Some(notice) = requirement.notice {
        out.push(("notice asked for", duration(notice.as_secs())));
    }
    out.push(("ambients", format!("{low}, usually {usual}, up to {high}")));
    out
}

/// How much was looked at for the findings.
fn covered(input: &Input) -> String {
    let coverage = &input.document.body.coverage;
    let pairs = match coverage.stacks {
        0 => String::new(),
        stacks => format!(" and {}", count(stacks, "pair")),
    };
    format!(
        "{} situations of {}{pairs}; {} of them solved, the others follow from those",
        grouped(coverage.covered),
        count(coverage.boards, "board"),
        grouped(coverage.solved)
    )
}

/// A large number in groups of three digits.
fn grouped(number: u64) -> String {
    let digits = number.to_string();
    let mut out = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if 0 < at && (digits.len() - at).is_multiple_of(3) {
            out.push('\u{202f}');
        }
        out.push(digit);
    }
    out
}

/// Lines for names, days and signatures.
pub(super) fn sign() -> Markup {
    let lines = ["Reviewed by", "Approved by"];
    html! {
        section.sign aria-labelledby="sign" {
            h2 #sign { "Review and approval" }
            @for line in lines {
                div { span { (line) } span { "Date" } span { "Signature" } }
            }
        }
    }
}
