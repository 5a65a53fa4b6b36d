//! A situation, the same object in every document.

use lastvolt_core::circuit::{History, Situation};
use schemars::JsonSchema;
use serde::Serialize;

use crate::view::{Named, Num};

/// One fully stated condition.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct SituationView {
    /// Names of the boards plugged together.
    pub(crate) boards: Vec<String>,
    /// Position of every switch and jumper.
    pub(crate) positions: Named<String>,
    /// Cells put in backwards.
    pub(crate) reversed: Vec<String>,
    /// State of every load.
    pub(crate) states: Named<String>,
    /// Temperature around the boards.
    pub(crate) ambient_c: Num,
    /// Share of the charge that is drawn.
    pub(crate) depth: Num,
    /// Depth of the cells of single boards, where they differ.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) depths: Vec<DrawnView>,
    /// Cells and supplies that are not there.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) absent: Vec<String>,
    /// `cold` or `running`.
    pub(crate) history: &'static str,
}

/// Depth of the cells of one board or cell part.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct DrawnView {
    /// The board, or the cell part where a board has several.
    pub(crate) name: String,
    /// Share of the charge that is drawn.
    pub(crate) depth: Num,
}

impl From<(&String, &f64)> for DrawnView {
    fn from((name, depth): (&String, &f64)) -> Self {
        Self {
            name: name.clone(),
            depth: Num(*depth),
        }
    }
}

impl From<&Situation> for SituationView {
    fn from(s: &Situation) -> Self {
        let named = |map: &std::collections::BTreeMap<String, String>| {
            map.iter().map(|(k, v)| (k.clone(), v.clone())).collect()
        };
        Self {
            boards: s.boards.clone(),
            positions: named(&s.positions),
            reversed: s.reversed.iter().cloned().collect(),
            states: named(&s.states),
            ambient_c: Num(s.ambient.as_celsius()),
            depth: Num(s.depth),
            depths: s.depths.iter().map(DrawnView::from).collect(),
            absent: s.absent.iter().cloned().collect(),
            history: match s.history {
                History::Cold => "cold",
                History::Running => "running",
            },
        }
    }
}
