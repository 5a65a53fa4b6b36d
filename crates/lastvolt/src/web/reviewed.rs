//! The review of one edition, worked out beside everything else and kept as pieces of pages.

use std::sync::Arc;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use lastvolt_core::progress::Progress;
use lastvolt_core::review;
use lastvolt_core::review::Finding;

use crate::report::{self, Pieces};
use crate::scope;
use crate::view::{Document, FindingView};
use crate::web::desk::{Desk, Sound};
use crate::web::news::News;

/// How often pages hear how far the work is.
const PAUSE: Duration = Duration::from_millis(150);

/// The review as far as pages show it.
pub(crate) struct Reviewed {
    /// The findings as the model has them.
    pub(crate) findings: Vec<Finding>,
    /// The same for people, cautions at the end.
    pub(crate) views: Vec<FindingView>,
    /// Pieces of pages.
    pub(crate) pieces: Pieces,
    /// What the reader should know.
    pub(crate) warnings: Vec<String>,
}

impl Reviewed {
    /// The finding of the model behind one for people.
    pub(crate) fn finding(&self, view: &FindingView) -> Option<&Finding> {
        self.findings.iter().find(|f| f.id() == view.id)
    }

    /// Findings about a board, or about parts of it in a stack, with their places; no cautions.
    pub(crate) fn about<'s>(&'s self, board: &'s str) -> impl Iterator<Item = (usize, &'s FindingView)> {
        let all = self.views.iter().enumerate();
        all.filter(move |(_, f)| f.board == board && !f.is_caution())
    }

    /// Number of findings that stop a build, that want a fix, and of notes, about a board.
    pub(crate) fn weights(&self, board: &str) -> [usize; 3] {
        let of = |severity| {
            let found = self.about(board);
            found.filter(|(_, f)| f.severity == severity && f.counts()).count()
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
            self.desk.tell(News::Reviewing { number: self.number, done: furthest });
        }
    }

    fn cancelled(&self) -> bool {
        self.desk.now().number != self.number
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
    let answer = worked.unwrap_or_else(|_| Err("the review met a fault of the program; please report this".to_owned()));
    let _ = sound.reviewed.set(answer);
    desk.tell(News::Reviewed { number: sound.number });
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
    let pieces = report::pieces(&report::Input {
        family: &family.model,
        review: &found,
        document: &document,
        waves: &waves,
        profile: judged,
    });
    Ok(Reviewed {
        findings: found.findings,
        views,
        pieces,
        warnings,
    })
}
