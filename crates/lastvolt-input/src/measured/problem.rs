//! Problems of tables: collected a file at a time, the same complaint at a few rows and then counted.

use std::collections::BTreeMap;
use std::ops::Range;

use crate::Text;
use crate::diagnostic::{Diagnostic, Related, Severity};
use crate::place::{Spot, places};
use crate::quantity::QuantityError;

/// Rows at which the same complaint is listed; further ones are counted.
const LISTED: usize = 3;

/// What is wrong inside one field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Slip {
    /// Stable name of the kind of problem.
    pub(super) code: &'static str,
    /// Bytes of the field.
    pub(super) at: Range<usize>,
    /// What was found and what was expected.
    pub(super) says: String,
    /// A few words to stand under the caret.
    pub(super) label: String,
    /// What to do about it.
    pub(super) proposal: Option<String>,
    /// Text that may replace the bytes.
    pub(super) patch: Option<Box<str>>,
}

impl Slip {
    pub(super) fn new(code: &'static str, at: Range<usize>, says: impl Into<String>) -> Self {
        Self {
            code,
            at,
            says: says.into(),
            label: String::new(),
            proposal: None,
            patch: None,
        }
    }

    pub(super) fn label(mut self, label: impl Into<String>) -> Self {
        self.label = label.into();
        self
    }

    pub(super) fn proposal(mut self, proposal: impl Into<String>) -> Self {
        self.proposal = Some(proposal.into());
        self
    }

    /// Proposes to write `text` in place of the bytes.
    pub(super) fn write(mut self, text: &str) -> Self {
        self.proposal = Some(format!("write `{text}`"));
        self.patch = Some(text.into());
        self
    }

    /// The same further to the right.
    pub(super) fn shifted(mut self, by: usize) -> Self {
        self.at = self.at.start + by..self.at.end + by;
        self
    }
}

impl From<QuantityError> for Slip {
    fn from(error: QuantityError) -> Self {
        Self {
            code: error.code,
            at: error.at,
            says: error.says,
            label: error.label.to_owned(),
            proposal: error.proposal,
            patch: error.patch.map(Into::into),
        }
    }
}

/// One problem of a table.
#[derive(Debug, Clone)]
pub(super) struct Complaint {
    slip: Slip,
    severity: Severity,
    file: usize,
    related: Option<(Spot, String)>,
}

impl Complaint {
    /// Something that makes the figures unusable.
    pub(super) fn error(file: usize, slip: Slip) -> Self {
        Self {
            slip,
            severity: Severity::Error,
            file,
            related: None,
        }
    }

    /// Something worth knowing.
    pub(super) fn notice(file: usize, slip: Slip) -> Self {
        Self {
            severity: Severity::Warning,
            ..Self::error(file, slip)
        }
    }

    /// Another place that belongs to it.
    pub(super) fn related(mut self, at: Range<usize>, label: impl Into<String>) -> Self {
        self.related = Some((Spot::new(self.file, at), label.into()));
        self
    }
}

/// What the same complaint has in common: file, code and the words under the caret.
type Kind = (usize, &'static str, String);

/// Collects problems.
#[derive(Debug, Default)]
pub(super) struct Complaints {
    listed: Vec<Complaint>,
    /// Where the last listed of a kind stands, and how many there are.
    kinds: BTreeMap<Kind, (usize, usize)>,
    errors: usize,
}

impl Complaints {
    /// Takes one problem.
    pub(super) fn add(&mut self, complaint: Complaint) {
        self.errors += usize::from(complaint.severity == Severity::Error);
        let slip = &complaint.slip;
        let kind = (complaint.file, slip.code, slip.label.clone());
        let entry = self.kinds.entry(kind).or_insert((0, 0));
        entry.1 += 1;
        if entry.1 <= LISTED {
            entry.0 = self.listed.len();
            self.listed.push(complaint);
        }
    }

    /// Whether a further problem of a kind would be listed, not only counted.
    pub(super) fn has_room(&self, file: usize, code: &'static str, label: &str) -> bool {
        let known = self.kinds.get(&(file, code, label.to_owned()));
        known.is_none_or(|(_, count)| *count < LISTED)
    }

    /// Number of errors so far.
    pub(super) fn errors(&self) -> usize {
        self.errors
    }

    /// Every problem in the order of files and places, with line and column.
    pub(super) fn finish(mut self, texts: &[Text]) -> Vec<Diagnostic> {
        for (last, count) in self.kinds.values() {
            if LISTED < *count
                && let Some(complaint) = self.listed.get_mut(*last)
            {
                let more = count - LISTED;
                let places = if more == 1 { "place" } else { "places" };
                let text = format!("; {more} more {places} of this kind");
                complaint.slip.says.push_str(&text);
            }
        }
        let order = |c: &Complaint| (c.file, c.slip.at.start, c.slip.at.end);
        self.listed.sort_by_key(order);
        let spots: Vec<Spot> = self.listed.iter().flat_map(spots).collect();
        let mut found = places(texts, &spots).into_iter();
        let mut diagnostics = Vec::with_capacity(self.listed.len());
        for complaint in self.listed {
            let Some(place) = found.next() else { break };
            let related = complaint.related.and_then(|(_, label)| {
                let place = found.next()?;
                Some(Related { place, label })
            });
            diagnostics.push(Diagnostic {
                code: complaint.slip.code,
                severity: complaint.severity,
                file: place.file,
                span: place.span,
                line: place.line,
                column: place.column,
                says: complaint.slip.says,
                label: complaint.slip.label,
                proposal: complaint.slip.proposal,
                patch: complaint.slip.patch.map(Into::into),
                related: related.into_iter().collect(),
            });
        }
        diagnostics
    }
}

fn spots(complaint: &Complaint) -> impl Iterator<Item = Spot> {
    let own = Spot::new(complaint.file, complaint.slip.at.clone());
    std::iter::once(own).chain(complaint.related.iter().map(|r| r.0.clone()))
}
