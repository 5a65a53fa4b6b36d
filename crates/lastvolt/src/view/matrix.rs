//! The document of `matrix`: every switch position and reversed cell.

use lastvolt_core::circuit::{Matrix, MatrixCase};
use schemars::JsonSchema;
use serde::Serialize;

use crate::view::{Named, Num, SituationView};

/// All solved situations.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct MatrixView {
    /// Number of situations solved.
    pub(crate) solved: usize,
    /// The situations.
    pub(crate) cases: Vec<CaseView>,
}

/// One solved situation.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct CaseView {
    /// The situation.
    pub(crate) situation: SituationView,
    /// First connector pin minus ground pin.
    pub(crate) rail_v: Num,
    /// Whether every load is in its working range.
    pub(crate) powered: bool,
    /// Current of each cell part, discharge positive.
    pub(crate) cells: Named<Num>,
    /// Stresses above half of a rating.
    pub(crate) stressed: Vec<StressView>,
    /// Cells that are charged.
    pub(crate) charged: Vec<String>,
    /// Control pins and nets without a defined level.
    pub(crate) floating: Vec<String>,
}

/// One stress.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct StressView {
    /// The part or load.
    pub(crate) part: String,
    /// What is worked.
    pub(crate) quantity: String,
    /// Share of the rating.
    pub(crate) share: Num,
}

impl MatrixView {
    /// The document of a solved matrix.
    pub(crate) fn new(matrix: &Matrix) -> Self {
        let solved = matrix.cases.iter().filter(|c| c.point.is_ok());
        let cases: Vec<CaseView> = solved.map(CaseView::new).collect();
        Self {
            solved: cases.len(),
            cases,
        }
    }

    /// One document of several matrices.
    pub(crate) fn joined<'m>(matrices: impl Iterator<Item = &'m Matrix>) -> Self {
        let views = matrices.map(Self::new);
        let cases: Vec<CaseView> = views.flat_map(|view| view.cases).collect();
        Self {
            solved: cases.len(),
            cases,
        }
    }

    /// What the reader should know: what was left out, and situations without an operating point.
    pub(crate) fn warnings(matrix: &Matrix) -> Vec<String> {
        let mut warnings = matrix.warnings.clone();
        for case in &matrix.cases {
            if let Err(why) = &case.point {
                let situation = SituationView::from(&case.situation);
                let what = crate::text::matrix::situation_words(&situation);
                warnings.push(format!("no operating point with {what}: {why}"));
            }
        }
        warnings
    }
}

impl CaseView {
    fn new(case: &MatrixCase) -> Self {
        Self {
            situation: (&case.situation).into(),
            rail_v: Num(case.rail_volts),
            powered: case.powered,
            cells: case
                .cells
                .iter()
                .map(|(name, amps)| (name.clone(), Num(*amps)))
                .collect(),
            stressed: case
                .stressed
                .iter()
                .map(|s| StressView {
                    part: s.part.clone(),
                    quantity: s.quantity.to_owned(),
                    share: Num(s.share),
                })
                .collect(),
            charged: case.charged.clone(),
            floating: case.floating.clone(),
        }
    }
}
