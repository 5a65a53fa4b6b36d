//! What is wrong with the text of a family: plain data, rendered by whoever shows it.
//!
//! Problems are collected by a [`Sink`] with file number and byte range; lines and columns are worked
//! out once at the end, in one walk over each text, so that many problems on one long line stay cheap.

use std::cell::RefCell;
use std::collections::BTreeSet;
use std::ops::Range;

use crate::Text;
use crate::place::{Place, Spot, places};

/// How much a diagnostic weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// The family is readable, but this looks like a slip.
    Warning,
    /// The family cannot be read.
    Error,
}

impl Severity {
    /// The word that outputs use.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Warning => "warning",
            Self::Error => "error",
        }
    }
}

/// One thing that is wrong with the text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Diagnostic {
    /// Stable name of the kind of problem, in kebab case.
    pub code: &'static str,
    /// How much it weighs.
    pub severity: Severity,
    /// Name of the file, relative to the family's folder.
    pub file: String,
    /// Bytes of the file that are wrong.
    pub span: Range<usize>,
    /// Line of the first byte, from 1.
    pub line: usize,
    /// Column of the first byte, from 1, in characters.
    pub column: usize,
    /// What was found and what was expected.
    pub says: String,
    /// A few words to stand under the caret.
    pub label: String,
    /// What to do about it, in words.
    pub proposal: Option<String>,
    /// Text that may replace the span as it is.
    pub patch: Option<String>,
    /// Other places that belong to the problem.
    pub related: Vec<Related>,
}

/// Another place that belongs to a problem.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Related {
    /// Where.
    pub place: Place,
    /// A few words to stand under it.
    pub label: String,
}

impl Diagnostic {
    /// A problem of a file as a whole, which may have no readable text.
    #[must_use]
    pub fn of_file(code: &'static str, file: &str, says: String) -> Self {
        Self {
            code,
            severity: Severity::Error,
            file: file.to_owned(),
            span: 0..0,
            line: 1,
            column: 1,
            says,
            label: String::new(),
            proposal: None,
            patch: None,
            related: Vec::new(),
        }
    }
}

/// A problem before its line and column are known.
#[derive(Debug, Clone)]
pub(crate) struct Problem {
    code: &'static str,
    severity: Severity,
    at: Spot,
    says: String,
    label: String,
    proposal: Option<String>,
    patch: Option<String>,
    related: Vec<(Spot, String)>,
}

impl Problem {
    /// An error at a place.
    pub(crate) fn new(code: &'static str, at: Spot, says: impl Into<String>) -> Self {
        Self {
            code,
            severity: Severity::Error,
            at,
            says: says.into(),
            label: String::new(),
            proposal: None,
            patch: None,
            related: Vec::new(),
        }
    }

    /// A slip that does not keep the family from being read.
    pub(crate) fn warning(mut self) -> Self {
        self.severity = Severity::Warning;
        self
    }

    /// Words under the caret.
    pub(crate) fn label(mut self, label: impl Into<String>) -> Self {
        self.label = label.into();
        self
    }

    /// What to do about it.
    pub(crate) fn proposal(mut self, proposal: impl Into<String>) -> Self {
        self.proposal = Some(proposal.into());
        self
    }

    /// Text that may replace the place as it is.
    pub(crate) fn patch(mut self, patch: impl Into<String>) -> Self {
        self.patch = Some(patch.into());
        self
    }

    /// Moves the problem to a place if it stands in the given file.
    pub(crate) fn move_from(&mut self, file: usize, to: &Spot) {
        if self.at.file == file {
            self.at = to.clone();
            self.patch = None;
        }
        self.related.retain(|r| r.0.file != file);
    }

    /// Another place that belongs to the problem.
    pub(crate) fn related(mut self, at: Spot, label: impl Into<String>) -> Self {
        self.related.push((at, label.into()));
        self
    }
}

/// Most problems that one reading lists.
const MOST_PROBLEMS: usize = 1000;

/// Codes of problems that may be mere consequences of text that could not be parsed.
const CONSEQUENCES: [&str; 7] = [
    "missing-key",
    "missing-pin",
    "missing-model",
    "no-setpoint",
    "unknown-name",
    "empty-board",
    "not-on-connector",
];

/// Collects problems.
#[derive(Debug, Default)]
pub(crate) struct Sink {
    problems: RefCell<Vec<Problem>>,
}

impl Sink {
    /// Takes one problem.
    pub(crate) fn add(&self, problem: Problem) {
        self.problems.borrow_mut().push(problem);
    }

    /// Number of problems so far.
    pub(crate) fn len(&self) -> usize {
        self.problems.borrow().len()
    }

    /// Every problem once, in the order of files and places, with line and column.
    pub(crate) fn finish(self, texts: &[Text]) -> Vec<Diagnostic> {
        let mut problems = self.problems.into_inner();
        let unreadable = problems
            .iter()
            .any(|p| matches!(p.code, "toml-syntax" | "file-too-large" | "missing-board"));
        if unreadable {
            problems.retain(|p| !CONSEQUENCES.contains(&p.code));
        }
        problems.sort_by_key(|p| p.at.order());
        let mut seen = BTreeSet::new();
        problems.retain(|p| {
            // A model is read once a part that uses it, and its problems come up each time.
            let many = p.code.starts_with("missing-");
            let says = many.then(|| p.says.clone());
            seen.insert((p.code, p.at.order(), says))
        });
        let more = problems.len().saturating_sub(MOST_PROBLEMS);
        problems.truncate(MOST_PROBLEMS);

        let spots: Vec<Spot> = problems
            .iter()
            .flat_map(|p| std::iter::once(&p.at).chain(p.related.iter().map(|r| &r.0)))
            .cloned()
            .collect();
        let mut found = places(texts, &spots).into_iter();
        let mut diagnostics: Vec<Diagnostic> = problems
            .into_iter()
            .filter_map(|problem| diagnostic(problem, &mut found))
            .collect();
        if more > 0
            && let Some(last) = diagnostics.last()
        {
            let says = format!("{more} more problems are not listed");
            diagnostics.push(Diagnostic::of_file(
                "more-problems",
                &last.file.clone(),
                says,
            ));
        }
        diagnostics
    }
}

fn diagnostic(problem: Problem, found: &mut impl Iterator<Item = Place>) -> Option<Diagnostic> {
    let place = found.next()?;
    let related = problem
        .related
        .into_iter()
        .filter_map(|(_, label)| found.next().map(|place| Related { place, label }))
        .collect();
    Some(Diagnostic {
        code: problem.code,
        severity: problem.severity,
        file: place.file,
        span: place.span,
        line: place.line,
        column: place.column,
        says: problem.says,
        label: problem.label,
        proposal: problem.proposal,
        patch: problem.patch,
        related,
    })
}
