//! The document of `review`: everything that the report shows.

use lastvolt_core::review::{BudgetColumn, Power};
use schemars::JsonSchema;
use serde::Serialize;

use crate::view::{
    AmbientView, BlockView, CoverageView, FiguresView, FindingView, LegendView, MatrixView, Num,
    OutputView, PointView, RunView, SituationView, SpreadView,
};

/// A whole review.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct ReviewView {
    /// Name of the family.
    pub(crate) family: String,
    /// Day that the document bears, where one was given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) date: Option<String>,
    /// The files that were read, in the order of reading.
    pub(crate) files: Vec<FileView>,
    /// Name of the profile that findings judge, where the family has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) profile: Option<String>,
    /// What was looked at for the findings.
    pub(crate) coverage: CoverageView,
    /// Run time that is asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) required_life_s: Option<Num>,
    /// Share of units that the run time is asked of, where one is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) required_share: Option<Num>,
    /// The findings, the weightiest first.
    pub(crate) findings: Vec<FindingView>,
    /// Every run, boards and profiles in file order.
    pub(crate) runs: Vec<RunView>,
    /// Every board in file order.
    pub(crate) boards: Vec<BoardView>,
}

/// A file that was read.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct FileView {
    /// Its name, relative to the family's folder.
    pub(crate) name: String,
    /// Digest of its bytes, SHA-256 in hexadecimal digits.
    pub(crate) sha256: String,
}

/// Something that the results of a board rest on and that no file states for the part at hand.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct AssumptionView {
    /// `memory`: figures of a model from memory; `default`: not stated, something stands in its place;
    /// `class`: figures of a class of parts; `typical`: figures typical of a class; `no-limits`: one
    /// figure without its lowest and highest.
    #[schemars(extend("enum" = ["memory", "default", "class", "typical", "no-limits"]))]
    pub(crate) basis: &'static str,
    /// Names of parts or loads.
    pub(crate) parts: Vec<String>,
    /// Key of the figure as in the files; absent where all figures of a model are meant.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) key: Option<String>,
    /// What it is.
    pub(crate) what: String,
    /// What holds.
    pub(crate) stands: String,
    /// What it feeds.
    pub(crate) feeds: &'static str,
}

/// One board.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct BoardView {
    /// Its name.
    pub(crate) name: String,
    /// Its title.
    pub(crate) title: String,
    /// Its solved points: the usual situation, then the heaviest step of a task.
    pub(crate) points: Vec<BoardPointView>,
    /// What its waveforms come to: its worst task, then switching on.
    pub(crate) waves: Vec<WaveView>,
    /// Its functional blocks.
    pub(crate) blocks: Vec<BlockView>,
    /// Parts in no block.
    pub(crate) unplaced: Vec<String>,
    /// What each position of each switch does.
    pub(crate) legend: Vec<LegendView>,
    /// The judged life at the lowest, usual and highest ambient; empty for a board without cells.
    pub(crate) ambients: Vec<AmbientView>,
    /// Lives of units whose cells differ, where the cells state by how much.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) spread: Option<SpreadView>,
    /// Switch positions and reversed cells.
    pub(crate) matrix: MatrixView,
    /// What the rails can give.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) output: Option<OutputView>,
    /// What takes the cells' current while nothing happens.
    pub(crate) leakage: Vec<LeakView>,
    /// Parts list.
    pub(crate) parts: Vec<ListedView>,
    /// What the results rest on without its being stated, the least sure first.
    pub(crate) assumptions: Vec<AssumptionView>,
}

/// A solved point of a board.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct BoardPointView {
    /// `base` or `burst`.
    pub(crate) what: &'static str,
    /// The task whose step it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) task: Option<String>,
    /// The point.
    #[serde(flatten)]
    pub(crate) point: PointView,
}

/// What a waveform comes to; `burst` gives all of it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct WaveView {
    /// `burst` or `start`.
    pub(crate) what: &'static str,
    /// The task that runs.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) task: Option<String>,
    /// The situation.
    pub(crate) situation: SituationView,
    /// What it comes to.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    pub(crate) figures: Option<FiguresView>,
    /// Why it could not be followed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) fails: Option<String>,
}

/// One state of the board at one ambient.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct LeakView {
    /// `low`, `usual` or `high`.
    pub(crate) ambient: &'static str,
    /// Whether the board is switched on.
    pub(crate) on: bool,
    /// The situation.
    pub(crate) situation: SituationView,
    /// Current of all cells, typical figures.
    pub(crate) typical_a: Num,
    /// Current of all cells, largest figures.
    pub(crate) most_a: Num,
    /// What each part or load takes of it.
    pub(crate) rows: Vec<LeakRowView>,
}

/// What one part takes.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct LeakRowView {
    /// Name of the part or load.
    pub(crate) part: String,
    /// With typical figures.
    pub(crate) typical_a: Num,
    /// With the largest figures.
    pub(crate) most_a: Num,
}

/// One line of the parts list.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct ListedView {
    /// Reference designator.
    pub(crate) part: String,
    /// Kind of part.
    pub(crate) kind: &'static str,
    /// Its value, in words; behind the name of a model what a part of it is bought for.
    pub(crate) value: String,
    /// What it is rated for, where that is stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) rated: Option<String>,
    /// Name of its model, where one is used.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) model: Option<String>,
    /// Whether the model is a class and not a part that can be bought.
    pub(crate) class: bool,
    /// Where its figures come from.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) source: Option<String>,
    /// How sure its figures are.
    pub(crate) confidence: &'static str,
}

impl From<&BudgetColumn> for LeakView {
    fn from(column: &BudgetColumn) -> Self {
        Self {
            ambient: column.which,
            on: column.power == Power::On,
            situation: (&column.situation).into(),
            typical_a: Num(column.typical_amps),
            most_a: Num(column.most_amps),
            rows: column
                .rows
                .iter()
                .map(|r| LeakRowView {
                    part: r.name.clone(),
                    typical_a: Num(r.typical_amps),
                    most_a: Num(r.most_amps),
                })
                .collect(),
        }
    }
}
