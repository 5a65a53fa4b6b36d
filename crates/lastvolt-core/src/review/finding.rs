//! One thing that a review has to say.

use crate::circuit::Situation;
use crate::model::Confidence;
use crate::quantity::Unit;

/// How much a finding weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Severity {
    /// Worth knowing.
    Note,
    /// Works, but not as promised.
    Fix,
    /// Do not build.
    Stop,
}

impl Severity {
    /// The word that outputs use.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Fix => "fix",
            Self::Stop => "stop",
        }
    }
}

/// Name of a rule, in kebab case.
pub type RuleId = &'static str;

/// A figure with its unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figure {
    /// The value in its unit.
    pub value: f64,
    /// The unit.
    pub unit: Unit,
}

/// One finding.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Which rule says it.
    pub rule: RuleId,
    /// How much it weighs.
    pub severity: Severity,
    /// Name of the board.
    pub board: String,
    /// Names of the parts concerned; the first is the place the finding points at.
    pub parts: Vec<String>,
    /// The pin or key of the first part that the finding points at, where one is to blame.
    pub at: Option<String>,
    /// Names of the nets concerned.
    pub nets: Vec<String>,
    /// The worst situation.
    pub situation: Option<Situation>,
    /// Number of situations concerned.
    pub situations: usize,
    /// What was computed.
    pub measured: Option<Figure>,
    /// What it is held against.
    pub limit: Option<Figure>,
    /// What is the matter, in one or two sentences with figures.
    pub says: String,
    /// What to do, with a value where one can be computed.
    pub remedy: String,
    /// Published source, or 'common practice'.
    pub basis: String,
    /// How sure the figures behind it are.
    pub confidence: Confidence,
}
