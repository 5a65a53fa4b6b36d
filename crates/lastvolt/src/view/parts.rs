//! The document of `parts`: models of the catalog with their figures and curves.

mod curves;
mod figures;

use lastvolt_input::{CatalogEntry, SeenRange};
use serde::Serialize;

use crate::view::{Named, Num, confidence_word};

pub(crate) use figures::{Figures, Shown, Value as ShownValue};

/// Models of the catalog or of a family.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct PartsView {
    /// The models in the order of the files.
    pub(crate) entries: Vec<PartView>,
}

/// One model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct PartView {
    /// Its name.
    pub(crate) name: String,
    /// The kind of part it is a model of.
    pub(crate) kind: &'static str,
    /// Whether it is a class of parts and not one that can be bought.
    pub(crate) class: bool,
    /// What it is, in a line.
    pub(crate) summary: String,
    /// Where its figures come from.
    pub(crate) source: String,
    /// Documents that its figures come from, one by one.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) sources: Vec<String>,
    /// How sure they are.
    pub(crate) confidence: &'static str,
    /// Ranges of its figures over real parts, as they are written.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) seen: Vec<SeenView>,
    /// What published figures leave open.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) thin: Option<String>,
    /// What to beware of.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) cautions: Vec<String>,
    /// Its figures, group by group.
    pub(crate) figures: Figures,
    /// Its curves, where they are asked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) curves: Vec<CurveView>,
}

/// The range of a figure over real parts.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct SeenView {
    /// Which figure.
    pub(crate) figure: String,
    /// The lowest, as written.
    pub(crate) low: String,
    /// The highest, as written.
    pub(crate) high: String,
}

/// Some lines over the same axes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct CurveView {
    /// Its name, which stays the same.
    pub(crate) name: &'static str,
    /// What it shows, in words.
    #[serde(skip)]
    pub(crate) title: String,
    /// The axis across.
    pub(crate) x: AxisView,
    /// The axis upwards.
    pub(crate) y: AxisView,
    /// The lines.
    pub(crate) lines: Vec<LineView>,
}

/// One axis: the column of the lines that it shows.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct AxisView {
    /// The column, which ends in its unit.
    pub(crate) column: &'static str,
    /// What it is, in words.
    pub(crate) says: &'static str,
    /// How it is drawn.
    pub(crate) scale: ScaleView,
    /// What it is measured in.
    #[serde(skip)]
    pub(crate) unit: lastvolt_core::quantity::Unit,
}

/// How an axis is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum ScaleView {
    /// Equal steps.
    Linear,
    /// Equal factors.
    Logarithmic,
}

/// One line, or points that stand apart.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct LineView {
    /// What it is.
    pub(crate) label: String,
    /// Whether its points stand apart, as a data sheet states them.
    pub(crate) stated: bool,
    /// Its points, a column for each axis.
    pub(crate) points: Named<Vec<Num>>,
}

fn seen(range: &SeenRange) -> SeenView {
    SeenView {
        figure: range.figure.clone(),
        low: range.low.clone(),
        high: range.high.clone(),
    }
}

impl LineView {
    /// Its points across and upwards.
    pub(crate) fn xy(&self) -> Vec<(f64, f64)> {
        match self.points.0.as_slice() {
            [(_, x), (_, y)] => x.iter().map(|v| v.0).zip(y.iter().map(|v| v.0)).collect(),
            _ => Vec::new(),
        }
    }
}

impl PartView {
    /// The document of a model; its curves only where they are asked for.
    pub(crate) fn new(entry: &CatalogEntry, with_curves: bool) -> Self {
        let device = entry.device.as_ref();
        Self {
            name: entry.name.clone(),
            kind: entry.kind.word(),
            class: entry.class,
            summary: entry.summary.clone(),
            source: entry.source.clone(),
            sources: entry.sources.clone(),
            confidence: confidence_word(entry.confidence),
            seen: entry.seen.iter().map(seen).collect(),
            thin: entry.thin.clone(),
            cautions: entry.cautions.clone(),
            figures: figures::figures(device, &entry.facts),
            curves: match device {
                Some(device) if with_curves => curves::curves(device),
                _ => Vec::new(),
            },
        }
    }
}
