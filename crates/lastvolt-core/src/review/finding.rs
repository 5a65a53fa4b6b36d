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

impl Figure {
    /// A value in a unit.
    #[must_use]
    pub const fn new(value: f64, unit: Unit) -> Self {
        Self { value, unit }
    }
}

/// One finding.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Which rule says it.
    pub rule: RuleId,
    /// How much it weighs.
    pub severity: Severity,
    /// Tells apart what one rule can say about the same parts; empty where it says one thing only.
    pub aspect: &'static str,
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
    /// Why the files accept it, where they do.
    pub accepted: Option<String>,
    /// Rules that found the same cause and are not listed for it on their own.
    pub also: Vec<RuleId>,
}

impl Finding {
    /// A finding about a board, still without parts, words and figures.
    #[must_use]
    pub fn about(
        rule: RuleId,
        severity: Severity,
        board: &str,
        confidence: Option<Confidence>,
    ) -> Self {
        Self {
            rule,
            severity,
            aspect: "",
            board: board.to_owned(),
            parts: Vec::new(),
            at: None,
            nets: Vec::new(),
            situation: None,
            situations: 1,
            measured: None,
            limit: None,
            says: String::new(),
            remedy: String::new(),
            basis: "common practice".to_owned(),
            confidence: confidence.unwrap_or(Confidence::DataSheet),
            accepted: None,
            also: Vec::new(),
        }
    }

    /// Whether it is a warning for label and manual, which is listed apart and counted nowhere.
    #[must_use]
    pub fn is_caution(&self) -> bool {
        self.rule == super::rules::CAUTIONS
    }

    /// A name that stays the same over unrelated edits: rule, board, parts, pin and aspect, and nothing
    /// of figures, wording or place in the text.
    #[must_use]
    pub fn id(&self) -> String {
        let mut id = format!("{}/{}", self.rule, self.board);
        if !self.parts.is_empty() {
            id = format!("{id}/{}", self.parts.join("+"));
        }
        if let Some(at) = &self.at {
            id = format!("{id}.{at}");
        }
        if !self.aspect.is_empty() {
            id = format!("{id}/{}", self.aspect);
        }
        id
    }
}
