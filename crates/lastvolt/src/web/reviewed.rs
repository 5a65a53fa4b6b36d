//! The review of one edition, worked out beside everything else and kept as pieces of pages.

use std::sync::Arc;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use lastvolt_core::model::Family;
use lastvolt_core::progress::Progress;
use lastvolt_core::review;
use lastvolt_core::review::Finding;
use maud::{Markup, PreEscaped};

use crate::report::{self, Pieces};
use crate::scope;
use crate::view::{Document, FindingView};
use crate::web::desk::{Desk, Sound};
use crate::web::news::News;
use crate::web::setting::path;

/// How often pages hear how far the work is.
const PAUSE: Duration = Duration::from_millis(150);

/// The review as far as pages show it.
pub(crate) struct Reviewed {
    /// The findings for people, cautions at the end.
    pub(crate) views: Vec<FindingView>,
    /// The same as the model has them, in the same order.
    pub(crate) findings: Vec<Finding>,
    /// Pieces of pages.
    pub(crate) pieces: Pieces,
    /// What the reader should know.
    pub(crate) warnings: Vec<String>,
}

impl Reviewed {
    /// Findings for people with those of the model behind them; no cautions.
    pub(crate) fn pairs(&self) -> impl Iterator<Item = (&FindingView, &Finding)> {
        self.views
            .iter()
            .zip(&self.findings)
            .filter(|(v, _)| !v.is_caution())
    }

    /// Findings about a board, or about parts of it in a stack, with their places; no cautions.
    pub(crate) fn about<'s>(
        &'s self,
        board: &'s str,
    ) -> impl Iterator<Item = (usize, &'s FindingView)> {
        let all = self.views.iter().enumerate();
        all.filter(move |(_, f)| f.board == board && !f.is_caution())
    }

    /// Number of findings that stop a build, that want a fix, and of notes, about a board.
    pub(crate) fn weights(&self, board: &str) -> [usize; 3] {
        let of = |severity| {
            let found = self.about(board);
            found
                .filter(|(_, f)| f.severity == severity && f.counts())
                .count()
        };
        ["stop", "fix", "note"].map(of)
    }
}

/// Tells pages how far the review is, and stops it once there is a newer edition.
struct Told<'a> {
    desk: &'a Desk,
    number: u64,
    told: Mutex<(f64, Option<Instant>)>,
}

impl Progress for Told<'_> {
    fn at(&self, done: f64) {
        let Ok(mut told) = self.told.lock() else {
            return;
        };
        let furthest = told.0.max(done.clamp(0.0, 1.0));
        let now = Instant::now();
        let due = told.1.is_none_or(|then| PAUSE <= now - then);
        *told = (furthest, if due { Some(now) } else { told.1 });
        if due {
            self.desk.tell(News::Reviewing {
                number: self.number,
                done: furthest,
            });
        }
    }

    fn cancelled(&self) -> bool {
        self.desk.newest() != self.number
    }
}

/// Reviews the family of an edition and tells the pages.
pub(crate) fn work(desk: &Arc<Desk>, sound: &Sound) {
    let told = Told {
        desk,
        number: sound.number,
        told: Mutex::new((0.0, None)),
    };
    // A fault in a rule must not take the desk with it.
    let worked = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| reviewed(sound, &told)));
    if told.cancelled() {
        return;
    }
    let answer = worked.unwrap_or_else(|_| {
        Err("the review met a fault of the program; please report this".to_owned())
    });
    let _ = sound.reviewed.set(answer);
    desk.tell(News::Reviewed {
        number: sound.number,
    });
}

fn reviewed(sound: &Sound, progress: &dyn Progress) -> Result<Reviewed, String> {
    let family = &sound.family;
    let found = review::review(&family.model, None, progress).map_err(|why| why.to_string())?;
    if progress.cancelled() {
        return Err("a newer edition is there".to_owned());
    }
    let judged = family.model.profiles.first();
    let waves = report::waves(&family.model, &found, judged);
    let (view, slips) = report::view(family, &found, &waves, None, None);
    let mut warnings = scope::warnings(&family.model, judged);
    warnings.extend(slips);
    let views = view.findings.clone();
    let document = Document::new(&family.digest, warnings.clone(), view);
    let mut pieces = report::pieces(&report::Input {
        family: &family.model,
        review: &found,
        document: &document,
        waves: &waves,
        profile: judged,
    });
    let ways = Ways::new(&family.model, &views);
    pieces.each(|markup| *markup = ways.mend(markup));
    let mut left = found.findings;
    let mut findings = Vec::with_capacity(left.len());
    for view in &views {
        let at = left.iter().position(|f| f.id() == view.id);
        findings.extend(at.map(|at| left.remove(at)));
    }
    Ok(Reviewed {
        findings,
        views,
        pieces,
        warnings,
    })
}

/// Where the anchors of the report lead on the desk.
struct Ways {
    to: Vec<(String, String)>,
}

impl Ways {
    fn new(family: &Family, views: &[FindingView]) -> Self {
        let quoted = |anchor: &str| format!("href=\"#{anchor}\"");
        let href = |link: &str| format!("href=\"{}\"", link.replace('&', "&amp;"));
        let boards = family.boards.iter().map(|board| {
            let own = path(std::slice::from_ref(&board.name));
            (quoted(&report::anchor(&board.name)), href(&own))
        });
        let findings = views.iter().enumerate().map(|(at, view)| {
            (
                quoted(&format!("finding-{}", at + 1)),
                href(&finding_link(view)),
            )
        });
        Self {
            to: boards.chain(findings).collect(),
        }
    }

    fn mend(&self, markup: &Markup) -> Markup {
        let mut text = markup.0.clone();
        if text.contains("href=\"#") {
            for (from, to) in &self.to {
                if text.contains(from.as_str()) {
                    text = text.replace(from.as_str(), to);
                }
            }
        }
        PreEscaped(text)
    }
}

/// The page that shows a finding, with the boards that it is about.
pub(crate) fn finding_link(view: &FindingView) -> String {
    let mut query = form_urlencoded::Serializer::new(String::new());
    // The second of two boards of a kind has no page of its own.
    let found = view
        .situation
        .as_ref()
        .filter(|s| !s.boards.iter().any(|b| b.contains('(')));
    let boards = found.map_or_else(|| vec![view.board.clone()], |s| s.boards.clone());
    if let Some(situation) = found {
        for (name, position) in situation.positions.iter() {
            query.append_pair("set", &format!("{name}={position}"));
        }
        for name in &situation.reversed {
            query.append_pair("reverse", name);
        }
        for name in &situation.absent {
            query.append_pair("absent", name);
        }
    }
    query.append_pair("select", &format!("finding:{}", view.id));
    format!("{}?{}", path(&boards), query.finish())
}
