//! The review as one page: opens offline, needs no script, prints.

mod board;
mod document;
mod finding;
mod parts;
pub(crate) mod verdict;

pub(crate) use document::view;

use lastvolt_core::model::Family;
use lastvolt_core::review::{BoardReview, Finding, Review, Severity};
use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::draw::bars::{LifeBar, lives};
use crate::text::number::{celsius, count, duration, percent};

/// What the page is made from.
pub(crate) struct Input<'a> {
    pub(crate) family: &'a Family,
    pub(crate) review: &'a Review,
    pub(crate) digest: &'a str,
    pub(crate) tool: &'a str,
    pub(crate) warnings: &'a [String],
    /// Where a finding points: `file.toml:line:column`.
    pub(crate) place: &'a dyn Fn(&Finding) -> String,
}

/// The page.
pub(crate) fn html(input: &Input) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { "Circuit review: " (input.family.name) }
                style { (PreEscaped(include_str!("report/style.css"))) }
            }
            body {
                (head(input))
                (contents(input))
                (comparison(input))
                @for board in &input.review.boards { (board::section(input, board)) }
                (cautions(input))
                (models(input))
                (not_checked(input))
            }
        }
    };
    page.into_string()
}

fn head(input: &Input) -> Markup {
    let stops = of_severity(input, Severity::Stop);
    html! {
        p.quiet { "Circuit review of battery supply boards" }
        h1 { (input.family.name) }
        p.lead { (count(input.review.boards.len(), "board")) ": " (summary(input)) }
        ul.verdicts {
            @for board in &input.review.boards {
                li { a href={ "#board-" (board.board) } { (board.board) } ": " (verdict(input, board)) }
            }
        }
        @for warning in input.warnings { p.quiet { (warning) } }
        @if !stops.is_empty() {
            h3 { "What stops a build" }
            @for finding in stops { (finding::block(input, finding)) }
        }
    }
}

fn summary(input: &Input) -> String {
    let n = |severity| of_severity(input, severity).len();
    let (stop, fix, note) = (n(Severity::Stop), n(Severity::Fix), n(Severity::Note));
    let word = |n: usize, word: &str| {
        if n == 0 {
            format!("nothing to {word}")
        } else {
            format!("{n} to {word}")
        }
    };
    format!(
        "{}, {}, {} worth knowing.",
        word(stop, "stop at"),
        word(fix, "fix"),
        note
    )
}

fn of_severity<'a>(input: &'a Input, severity: Severity) -> Vec<&'a Finding> {
    let all = input.review.findings.iter();
    all.filter(|f| f.severity == severity && f.rule != "cautions")
        .collect()
}

/// The verdict on a board in one sentence.
fn verdict(input: &Input, board: &BoardReview) -> String {
    let n = |severity| {
        of_severity(input, severity)
            .iter()
            .filter(|f| f.board == board.board)
            .count()
    };
    let mut text = match (n(Severity::Stop), n(Severity::Fix)) {
        (0, 0) => "sound".to_owned(),
        (0, fix) => format!("works, with {} to fix", count(fix, "thing")),
        (stop, _) => format!("do not build, {} to stop at", count(stop, "thing")),
    };
    if let Some(life) = board.lives.first().map(|l| &l.life) {
        match life.life_secs {
            Some(secs) => {
                text.push_str(&format!("; runs {}", duration(secs)));
                if let Some(required) = input.family.requirement.life {
                    let required = required.as_secs();
                    let word = if secs < required {
                        "short of"
                    } else {
                        "which meets"
                    };
                    text.push_str(&format!(", {word} the {} required", duration(required)));
                }
            }
            None if life.ledger.is_empty() => text.push_str("; fed from outside, no cell to empty"),
            None => text.push_str("; nothing ends it within 100 years"),
        }
    }
    text + "."
}

fn contents(input: &Input) -> Markup {
    html! {
        nav #contents aria-label="Contents" {
            ul {
                li { a href="#comparison" { "The boards side by side" } }
                @for board in &input.review.boards {
                    li { a href={ "#board-" (board.board) } { "Board " (board.board) } }
                }
                li { a href="#cautions" { "Cautions" } }
                li { a href="#models" { "Models and their sources" } }
                li { a href="#not-checked" { "What was not checked" } }
            }
        }
    }
}

fn comparison(input: &Input) -> Markup {
    let required = input.family.requirement.life.map(|l| l.as_secs());
    let ambient = &input.family.requirement.ambient;
    let bars: Vec<LifeBar> = input.review.boards.iter().filter_map(bar).collect();
    html! {
        h2 #comparison { "The boards side by side" }
        figure {
            (PreEscaped(lives(&bars, required)))
            figcaption {
                "Run time at the usual " (celsius(ambient.usual.as_celsius())) " in the first profile. "
                "The dashed upright in a bar is the age from which one night at "
                (celsius(ambient.low.as_celsius())) " ends it."
            }
        }
    }
}

fn bar(board: &BoardReview) -> Option<LifeBar> {
    let life = &board.lives.first()?.life;
    let note = match life.life_secs {
        Some(secs) => format!("{}, {}", duration(secs), life.end.cause.word()),
        None if life.ledger.is_empty() => "fed from outside".to_owned(),
        None => "no end within 100 years".to_owned(),
    };
    let cold_secs = life.cold_night.map(|c| c.time_secs);
    Some(LifeBar {
        name: board.board.clone(),
        secs: life.life_secs,
        cold_secs,
        note,
    })
}

fn cautions(input: &Input) -> Markup {
    let cautions: Vec<&Finding> = input
        .review
        .findings
        .iter()
        .filter(|f| f.rule == "cautions")
        .collect();
    html! {
        h2 #cautions { "Cautions" }
        ul.cautions {
            @for caution in cautions {
                li { strong { (caution.board) ": " } (caution.says) " " (caution.remedy) " " span.quiet { "(" (caution.basis) ")" } }
            }
        }
        p {
            "This review is a computed estimate. It does not replace local codes, the data sheets of the "
            "makers, licensed practice or the requirements of the authority that has jurisdiction."
        }
    }
}

fn models(input: &Input) -> Markup {
    let mut rows: Vec<(String, String, String, &str)> = Vec::new();
    for board in &input.family.boards {
        for part in &board.parts {
            let Some(model) = &part.origin.model else {
                continue;
            };
            let users = format!("{} {}", board.name, part.name);
            match rows.iter_mut().find(|r| r.0 == *model) {
                Some(row) => row.1 = format!("{}, {users}", row.1),
                None => rows.push((
                    model.clone(),
                    users,
                    part.origin
                        .source
                        .clone()
                        .unwrap_or_else(|| "written in the family".to_owned()),
                    finding::confidence(part.origin.confidence),
                )),
            }
        }
    }
    html! {
        h2 #models { "Models and their sources" }
        p { "A class of parts stands for many and cannot be bought: put the figures of the part you fit into its place." }
        div.table { table {
            thead { tr { th { "model" } th { "used by" } th { "confidence" } th { "source" } } }
            tbody { @for (model, users, source, confidence) in &rows {
                tr { td { code { (model) } } td { (users) } td { (confidence) } td.w { (source) } }
            } }
        } }
    }
}

fn not_checked(input: &Input) -> Markup {
    let confidence = input.family.requirement.confidence;
    html! {
        h2 #not-checked { "What was not checked" }
        ul {
            li { "Layout, loop areas, vias, thermal paths and mechanics." }
            li { "Electrostatic discharge, electromagnetic emission and immunity, the antenna." }
            li { "Waveforms within a burst: each burst is taken as settled, without the help of capacitors." }
            li { "Time on the shelf and months of different temperature: lives run at one temperature, with one cold night on top." }
            li { "Boards plugged onto each other, except where a rule says so." }
            @if let Some(confidence) = confidence {
                li { "The spread of units: figures are typical; the " (percent(confidence.as_share())) " asked for is not yet proven." }
            }
        }
        p.small-print { "Made by " (input.tool) " from input " code { (input.digest) } "." }
    }
}
