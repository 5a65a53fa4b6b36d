//! The document of `check`: findings with their place in the files.

use lastvolt_core::model::Confidence;
use lastvolt_core::quantity::Unit;
use lastvolt_core::review::rules::cautions::weight;
use lastvolt_core::review::situations::Coverage;
use lastvolt_core::review::{Figure, Finding};
use lastvolt_input::{Place, SpanMap};
use schemars::JsonSchema;
use serde::Serialize;

use crate::view::{Num, SituationView};

/// All findings.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct CheckView {
    /// The findings, the weightiest first.
    pub(crate) findings: Vec<FindingView>,
    /// What was looked at for them.
    pub(crate) coverage: CoverageView,
}

/// How many situations were covered, and how many solved for that.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct CoverageView {
    /// Boards, each alone.
    pub(crate) boards: usize,
    /// Pairs of boards.
    pub(crate) stacks: usize,
    /// Situations covered.
    pub(crate) covered: u64,
    /// Situations solved.
    pub(crate) solved: u64,
    /// What was left out, where there were too many.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) left_out: Vec<String>,
}

impl From<&Coverage> for CoverageView {
    fn from(coverage: &Coverage) -> Self {
        Self {
            boards: coverage.boards,
            stacks: coverage.stacks,
            covered: coverage.covered,
            solved: coverage.solved,
            left_out: coverage.left_out.clone(),
        }
    }
}

/// One finding.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct FindingView {
    /// A name that stays the same over unrelated edits.
    pub(crate) id: String,
    /// Which rule says it.
    pub(crate) rule: &'static str,
    /// `stop`, `fix` or `note`.
    #[schemars(extend("enum" = ["stop", "fix", "note"]))]
    pub(crate) severity: &'static str,
    /// Name of the board.
    pub(crate) board: String,
    /// Parts concerned.
    pub(crate) parts: Vec<String>,
    /// Nets concerned.
    pub(crate) nets: Vec<String>,
    /// The worst situation.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) situation: Option<SituationView>,
    /// Number of situations concerned.
    pub(crate) situations: usize,
    /// What was computed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) measured: Option<FigureView>,
    /// What it is held against.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) limit: Option<FigureView>,
    /// What is the matter.
    pub(crate) says: String,
    /// What to do.
    pub(crate) remedy: String,
    /// Published source, or 'common practice'.
    pub(crate) basis: String,
    /// `data-sheet`, `typical` or `memory`.
    #[schemars(extend("enum" = ["data-sheet", "typical", "memory"]))]
    pub(crate) confidence: &'static str,
    /// Why the files accept it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) accepted: Option<String>,
    /// Rules that found the same cause.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) also: Vec<&'static str>,
    /// File, relative to the family's folder.
    pub(crate) file: String,
    /// Line, from 1.
    pub(crate) line: usize,
    /// Column, from 1.
    pub(crate) column: usize,
    /// Bytes of the file that the finding points at.
    #[serde(skip)]
    pub(crate) span: std::ops::Range<usize>,
    /// Whether it is a caution, which is shown apart.
    #[serde(skip)]
    pub(crate) caution: bool,
    /// Place among the cautions, the gravest first.
    #[serde(skip)]
    pub(crate) order: usize,
}

/// A figure with its unit.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct FigureView {
    /// The value.
    pub(crate) value: Num,
    /// Symbol of its unit; `1` for a share.
    pub(crate) unit: &'static str,
    /// The unit itself, for text.
    #[serde(skip)]
    pub(crate) of: Unit,
}

impl FindingView {
    /// Where it stands in the files: `FILE:LINE:COLUMN`.
    pub(crate) fn place(&self) -> String {
        format!("{}:{}:{}", self.file, self.line, self.column)
    }

    /// The documents of findings in their order, the cautions behind all others, the gravest first.
    pub(crate) fn all<'f>(
        findings: impl IntoIterator<Item = &'f Finding>,
        spans: &SpanMap,
    ) -> Vec<Self> {
        let findings = findings.into_iter();
        let mut views: Vec<Self> = findings.map(|f| Self::new(f, spans)).collect();
        views.sort_by_key(|f| f.caution.then_some(f.order));
        views
    }

    /// The document of a finding, with its place in the files.
    fn new(finding: &Finding, spans: &SpanMap) -> Self {
        let part = finding.parts.first().map_or("", String::as_str);
        let place = spans
            .find(Some(&finding.board), part, finding.at.as_deref())
            .unwrap_or_else(|| Place {
                file: "family.toml".to_owned(),
                line: 1,
                column: 1,
                span: 0..0,
            });
        Self {
            id: finding.id(),
            rule: finding.rule,
            severity: finding.severity.word(),
            board: finding.board.clone(),
            parts: finding.parts.clone(),
            nets: finding.nets.clone(),
            situation: finding.situation.as_ref().map(Into::into),
            situations: finding.situations,
            measured: finding.measured.map(Into::into),
            limit: finding.limit.map(Into::into),
            says: finding.says.clone(),
            remedy: finding.remedy.clone(),
            basis: finding.basis.clone(),
            confidence: confidence_word(finding.confidence),
            accepted: finding.accepted.clone(),
            also: finding.also.clone(),
            file: place.file,
            line: place.line,
            column: place.column,
            span: place.span,
            caution: finding.is_caution(),
            order: weight(finding.aspect),
        }
    }

    /// Whether it is a caution, which is shown apart.
    pub(crate) fn is_caution(&self) -> bool {
        self.caution
    }

    /// Whether it counts: cautions and accepted findings do not.
    pub(crate) fn counts(&self) -> bool {
        !self.caution && self.accepted.is_none()
    }
}

impl From<Figure> for FigureView {
    fn from(figure: Figure) -> Self {
        Self {
            value: Num(figure.value),
            unit: match figure.unit {
                Unit::Fraction => "1",
                other => other.symbol(),
            },
            of: figure.unit,
        }
    }
}

/// The word for how sure figures are.
pub(crate) fn confidence_word(confidence: Confidence) -> &'static str {
    match confidence {
        Confidence::DataSheet => "data-sheet",
        Confidence::Typical => "typical",
        Confidence::Memory => "memory",
    }
}
