//! What the commands answer, in the shape of the documents that leave the program.
//!
//! Every quantity is an SI number whose key ends in its unit (`_v _a _w _j _s _f _ohm`, `_c` for
//! degrees Celsius; models also have `_h _hz _kg _m _per_s` and `_share`). A key without a value is absent. A number that is not finite never leaves the
//! program: serialising it fails, and the command with it. JSON, text and report are made from the
//! same structs.

mod ambients;
mod burst;
mod check;
mod deliver;
mod fit;
mod life;
mod matrix;
mod notice;
mod number;
pub(crate) mod parts;
mod point;
mod restart;
mod review;
mod sarif;
mod situation;
mod spread;
mod walk;

use schemars::JsonSchema;
use serde::Serialize;

pub(crate) use ambients::AmbientView;
pub(crate) use burst::{BurstView, FiguresView};
pub(crate) use check::{CheckView, CoverageView, FigureView, FindingView, confidence_word};
pub(crate) use deliver::{KeptView, OutputRowView, OutputView};
pub(crate) use fit::{
    FitDocument, FitView, GapView, Measure, ParameterView, ReadingView, TestView,
};
pub(crate) use life::{EndView, LedgerView, LifeView, RunView};
pub(crate) use matrix::{CaseView, MatrixView};
pub(crate) use notice::WatchView;
pub(crate) use number::{Named, Num, nums};
pub(crate) use parts::{AxisView, CurveView, PartView, PartsView, ScaleView, Shown, ShownValue};
pub(crate) use point::PointView;
pub(crate) use restart::RestartView;
pub(crate) use review::{
    AssumptionView, BoardPointView, BoardView, FileView, LeakView, ListedView, ReviewView, WaveView,
};
pub(crate) use sarif::{SarifInput, SarifLog};
pub(crate) use situation::SituationView;
pub(crate) use spread::SpreadView;
#[cfg(test)]
pub(crate) use walk::LegendRowView;
pub(crate) use walk::{BlockFigureView, BlockView, BoardWalkView, LegendView, WalkView, blocks};

/// Version of the shape of every document.
pub(crate) const SCHEMA: u32 = 1;

/// Name and version of the program.
pub(crate) const TOOL: &str = concat!("lastvolt ", env!("CARGO_PKG_VERSION"));

/// A document: its head, then what the command answers.
#[derive(Debug, Clone, Serialize, JsonSchema)]
pub(crate) struct Document<T: Serialize> {
    /// Version of the shape.
    pub(crate) schema: u32,
    /// What wrote it.
    pub(crate) tool: &'static str,
    /// Digest of the files that were read.
    pub(crate) digest: String,
    /// What the reader should know.
    pub(crate) warnings: Vec<String>,
    /// The answer, its keys beside those of the head.
    #[serde(flatten)]
    pub(crate) body: T,
}

impl<T: Serialize> Document<T> {
    /// A document about the family of this digest.
    pub(crate) fn new(digest: &str, warnings: Vec<String>, body: T) -> Self {
        Self {
            schema: SCHEMA,
            tool: TOOL,
            digest: digest.to_owned(),
            warnings,
            body,
        }
    }
}
