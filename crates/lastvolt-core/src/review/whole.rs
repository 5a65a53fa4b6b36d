//! A family as a whole, as the rules look at it.

use crate::model::{Family, Profile};
use crate::review::{Finding, RuleId, Severity};

/// All boards of a family side by side.
pub struct Whole<'a> {
    /// The family.
    pub family: &'a Family,
    /// What the loads do, as far as it is judged.
    pub profile: Option<&'a Profile>,
}

impl Whole<'_> {
    /// A finding about a part of a board, still without words and figures.
    #[must_use]
    pub fn finding(&self, rule: RuleId, severity: Severity, board: &str, part: &str) -> Finding {
        let found = self.family.board(board).and_then(|b| b.part(part));
        let confidence = found.map(|p| p.origin.confidence);
        Finding {
            parts: vec![part.to_owned()],
            ..Finding::about(rule, severity, board, confidence)
        }
    }
}
