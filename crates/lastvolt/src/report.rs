//! The review as one page: opens offline, needs no script, prints.
//!
//! The page says the same as the document beside it. Every text of the user passes the escaping of
//! the templates; figures are set by [`mod@typeset`].

mod board;
mod budget;
mod burst;
mod bypass;
mod closing;
mod comparison;
mod document;
mod finding;
mod life;
mod notice;
mod opening;
mod output;
mod positions;
mod purpose;
mod typeset;
pub(crate) mod verdict;
mod walk;
mod waves;

pub(crate) use document::view;
pub(crate) use typeset::{anchor, typeset};
pub(crate) use waves::{BoardWaves, waves};

use lastvolt_core::model::{Family, Profile};
use lastvolt_core::review::Review;
use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::draw::STYLE;
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

    /// Findings of a board, cautions left out.
    fn findings<'s>(&'s self, board: &'s str) -> impl Iterator<Item = &'s FindingView> {
        let all = self.document.body.findings.iter();
        all.filter(move |f| f.board == board && !f.is_caution())
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
                style { (PreEscaped(STYLE)) (PreEscaped(include_str!("report/page.css"))) }
            }
            body {
                (opening::header(input))
                main {
                    (comparison::section(input))
                    @for reviewed in &input.review.boards { (board::section(input, reviewed)) }
                    (closing::cautions(input))
                    (closing::models(input))
                    (closing::not_checked(input))
                }
                (closing::footer(input))
            }
        }
    };
    let page = page.into_string();
    page.chars()
        .filter(|c| !c.is_control() || *c == '\n')
        .collect()
}

/// A table that scrolls sideways where the page is too narrow for it.
fn table(head: &Markup, body: &Markup) -> Markup {
    html! {
        div.table tabindex="0" role="group" aria-label="Table" {
            table { thead { (head) } tbody { (body) } }
        }
    }
}
