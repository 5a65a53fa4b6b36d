//! The review as one page: opens offline, needs no script, prints.
//!
//! The page says the same as the document beside it. Every text of the user passes the escaping of
//! the templates; figures are set by [`mod@typeset`].

mod assumptions;
mod board;
mod budget;
mod burst;
mod bypass;
pub(crate) mod circuit;
mod closing;
mod comparison;
mod contents;
mod document;
mod finding;
mod life;
mod notice;
mod opening;
pub(crate) mod order;
mod output;
mod pieces;
pub(crate) mod positions;
mod purpose;
mod running;
mod summary;
mod together;
mod typeset;
mod unchecked;
mod values;
pub(crate) mod verdict;
mod walk;
mod waves;

pub(crate) use document::view;
pub(crate) use life::pictures::bands as working_bands;
pub(crate) use life::spread::block as units_block;
pub(crate) use pieces::{BoardPiece, Pieces, finding_block, finding_mark, part_words, pieces};
pub(crate) use typeset::{anchor, slug, typeset};
pub(crate) use waves::{BoardWaves, no_wave_words, waves};

use lastvolt_core::model::{Family, Profile};
use lastvolt_core::review::Review;
use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::draw::STYLE;
use crate::text::direction::{isolates, turns};
use crate::view::{Document, FindingView, ReviewView, RunView};

/// What the page is made from.
pub(crate) struct Input<'a> {
    /// The family.
    pub(crate) family: &'a Family,
    /// What was worked out.
    pub(crate) review: &'a Review,
    /// The same as a document.
    pub(crate) document: &'a Document<ReviewView>,
    /// The waveforms of each board.
    pub(crate) waves: &'a [BoardWaves<'a>],
    /// The profile that findings judge.
    pub(crate) profile: Option<&'a Profile>,
}

impl Input<'_> {
    /// Name of the ground net.
    fn ground(&self) -> &str {
        self.family.connector.ground_net()
    }

    /// Findings of a board with their places in the document, cautions left out.
    fn findings<'s>(&'s self, board: &'s str) -> impl Iterator<Item = (usize, &'s FindingView)> {
        let all = self.document.body.findings.iter().enumerate();
        all.filter(move |(_, f)| f.board == board && !f.is_caution())
    }

    /// Runs of a board.
    fn runs<'s>(&'s self, board: &'s str) -> impl Iterator<Item = &'s RunView> {
        self.document
            .body
            .runs
            .iter()
            .filter(move |r| r.board == board)
    }
}

/// Sections before and behind the boards, as far as they are there.
fn sections(input: &Input) -> [Vec<contents::Entry>; 2] {
    let mut before = Vec::new();
    let found = input.document.body.findings.iter();
    if found.clone().any(|f| f.severity == "stop" && f.counts()) {
        before.push(("stops", "What stops a build"));
    }
    before.push(("sign", "Review and approval"));
    before.push(("comparison", "The boards side by side"));
    let mut behind = Vec::new();
    if together::has(input) {
        behind.push(("together", "Boards plugged together"));
    }
    behind.push(("cautions", "Cautions for label and manual"));
    behind.push(("not-checked", "What was not checked"));
    behind.push(("assumptions", "Assumptions"));
    if closing::has_models(input) {
        behind.push(("models", "Models and their sources"));
    }
    behind.push(("files", "Files and versions"));
    [before, behind]
}

/// The page.
pub(crate) fn html(input: &Input) -> String {
    let boards = board::pages(input);
    let [before, behind] = sections(input);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { "Circuit review: " (input.family.name) }
                style { (PreEscaped(STYLE)) (PreEscaped(include_str!("report/page.css"))) (PreEscaped(running::style(input))) }
            }
            body {
                a.skip href="#main" { "Skip to the findings" }
                (opening::header(input))
                main #main {
                    (opening::stops(input))
                    (opening::sign())
                    (comparison::section(input))
                    (contents::contents(input, &before, &boards, &behind))
                    @for board in &boards { (board.section()) }
                    (together::section(input))
                    (closing::cautions(input))
                    (unchecked::section(input))
                    (closing::assumptions(input))
                    (closing::models(input))
                    (closing::files(input))
                }
                (closing::footer(input))
            }
        }
    };
    let page = page.into_string();
    // A name cannot turn the direction of what follows it; those that isolate close with their paragraph.
    page.chars()
        .filter(|&c| (c == '\n' || !c.is_control()) && (isolates(c) || !turns(c)))
        .collect()
}

/// A table that scrolls sideways where the page is too narrow for it; its caption names it for those who
/// come to it without seeing it.
fn table(caption: &str, head: &Markup, body: &Markup) -> Markup {
    named("table", caption, head, body)
}

/// A table whose rows become cards where the page is too narrow for them; every cell says what it holds.
fn cards(caption: &str, head: &Markup, body: &Markup) -> Markup {
    named("table cards", caption, head, body)
}

fn named(class: &str, caption: &str, head: &Markup, body: &Markup) -> Markup {
    html! {
        div class=(class) tabindex="0" role="group" aria-label=(caption) {
            table { caption { span.hidden { (caption) } } thead { (head) } tbody { (body) } }
        }
    }
}
