//! The document of `walk`: boards block by block, and what the positions of their switches do.

use lastvolt_core::review::{Block, BlockFigure, Blocks, SwitchLegend};
use schemars::JsonSchema;
use serde::Serialize;

use crate::view::{FigureView, FindingView, Num};

/// A walk through boards.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct WalkView {
    /// Name of the family.
    pub(crate) family: String,
    /// One a board, in file order.
    pub(crate) boards: Vec<BoardWalkView>,
    /// The findings that the blocks name.
    pub(crate) findings: Vec<FindingView>,
}

/// A walk through one board.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct BoardWalkView {
    /// Its name.
    pub(crate) name: String,
    /// Its title.
    pub(crate) title: String,
    /// Its functional blocks.
    pub(crate) blocks: Vec<BlockView>,
    /// Parts in no block.
    pub(crate) unplaced: Vec<String>,
    /// What each position of each switch does.
    pub(crate) legend: Vec<LegendView>,
}

/// One functional block.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct BlockView {
    /// What it is for: `source`, `converter` and so on.
    pub(crate) kind: &'static str,
    /// A few words that tell it apart.
    pub(crate) title: String,
    /// What it does here.
    pub(crate) purpose: String,
    /// Its parts.
    pub(crate) parts: Vec<String>,
    /// What shows how it does.
    pub(crate) figures: Vec<BlockFigureView>,
    /// Names of the findings about it.
    pub(crate) findings: Vec<String>,
}

/// One figure of a block.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct BlockFigureView {
    /// What it is.
    pub(crate) label: String,
    /// The value and its unit.
    #[serde(flatten)]
    pub(crate) figure: FigureView,
    /// When it holds.
    pub(crate) situation: String,
}

/// What the positions of a switch do.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct LegendView {
    /// Name of the switch.
    pub(crate) part: String,
    /// What is printed beside it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) label: Option<String>,
    /// Its positions in file order.
    pub(crate) positions: Vec<LegendRowView>,
}

/// What one position does, the other switches in their usual positions.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct LegendRowView {
    /// The position.
    pub(crate) position: String,
    /// Whether it is the usual one.
    pub(crate) usual: bool,
    /// The rails.
    pub(crate) rails: Vec<LegendRailView>,
    /// Lamps that are lit.
    pub(crate) lit: Vec<String>,
    /// Loads that are powered.
    pub(crate) powered: Vec<String>,
    /// Loads that are not.
    pub(crate) unpowered: Vec<String>,
    /// Current of all cells and supplies.
    pub(crate) sources_a: Num,
    /// All this in a sentence.
    pub(crate) says: String,
    /// The few words that fit on a board.
    pub(crate) short: String,
}

/// A rail in one position.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct LegendRailView {
    /// Name of its net.
    pub(crate) net: String,
    /// Its voltage.
    pub(crate) voltage_v: Num,
    /// Whether it is up.
    pub(crate) up: bool,
}

/// The blocks of a board with the names of the findings about each.
///
/// A finding belongs to the block of the first of its parts; one about no part of the board belongs to
/// the interface.
pub(crate) fn blocks(board: &str, found: &Blocks, findings: &[FindingView]) -> Vec<BlockView> {
    let own = findings
        .iter()
        .filter(|f| f.board == board && !f.is_caution());
    let placed: Vec<(&FindingView, Option<&str>)> = own
        .map(|f| (f, f.parts.iter().find_map(|p| title_of(found, p))))
        .collect();
    let view = |block: &Block| BlockView {
        kind: block.kind.word(),
        title: block.title.clone(),
        purpose: block.purpose.clone(),
        parts: block.parts.clone(),
        figures: block.figures.iter().map(BlockFigureView::from).collect(),
        findings: placed
            .iter()
            .filter(|(f, title)| match title {
                Some(title) => *title == block.title,
                None => {
                    block.kind.word() == "interface"
                        && !f.parts.iter().any(|p| found.unplaced.contains(p))
                }
            })
            .map(|(f, _)| f.id.clone())
            .collect(),
    };
    found.blocks.iter().map(view).collect()
}

fn title_of<'b>(found: &'b Blocks, part: &str) -> Option<&'b str> {
    let base = part.split('.').next().unwrap_or(part);
    found
        .of(part)
        .or_else(|| found.of(base))
        .map(|b| b.title.as_str())
}

impl From<&BlockFigure> for BlockFigureView {
    fn from(figure: &BlockFigure) -> Self {
        let value = lastvolt_core::review::Figure::new(figure.value, figure.unit);
        Self {
            label: figure.label.clone(),
            figure: value.into(),
            situation: figure.situation.clone(),
        }
    }
}

impl From<&SwitchLegend> for LegendView {
    fn from(legend: &SwitchLegend) -> Self {
        let rows = legend.rows.iter().map(|row| LegendRowView {
            position: row.position.clone(),
            usual: row.usual,
            rails: row
                .rails
                .iter()
                .map(|r| LegendRailView {
                    net: r.net.clone(),
                    voltage_v: Num(r.volts),
                    up: r.up,
                })
                .collect(),
            lit: row.lit.clone(),
            powered: row.powered.clone(),
            unpowered: row.unpowered.clone(),
            sources_a: Num(row.source_amps),
            says: row.says(),
            short: row.short(),
        });
        Self {
            part: legend.part.clone(),
            label: legend.label.clone(),
            positions: rows.collect(),
        }
    }
}
