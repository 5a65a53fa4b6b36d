//! Lives of units whose cells differ.

use lastvolt_core::chance::{LifeSpread, Varied};
use schemars::JsonSchema;
use serde::Serialize;

use crate::view::{Num, nums};

/// Lives of many units of one board.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct SpreadView {
    /// How many units were drawn.
    pub(crate) units: usize,
    /// Lives that were computed for them; the others are read off a surface through these.
    pub(crate) solved: usize,
    /// Run times of those that end within 100 years, the shortest first.
    pub(crate) lives_s: Vec<Num>,
    /// Share of units that a promise must hold for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) confidence: Option<Num>,
    /// The run time that this share reaches.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) promise_s: Option<Num>,
    /// Its standard error; absent where lives beside it have no end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) standard_error_s: Option<Num>,
    /// What differs from unit to unit; all else is typical.
    pub(crate) varied: Vec<VariedView>,
}

/// A quantity that differs.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct VariedView {
    /// The cell part.
    pub(crate) part: String,
    /// `charge` or `resistance`.
    pub(crate) quantity: &'static str,
    /// One standard deviation as a share of the typical figure.
    pub(crate) share: Num,
}

impl From<&LifeSpread> for SpreadView {
    fn from(spread: &LifeSpread) -> Self {
        let promise = spread.promise.as_ref().and_then(|p| p.as_ref().ok());
        let lives = spread.lives_secs.iter().copied();
        let ended: Vec<f64> = lives.filter(|secs| secs.is_finite()).collect();
        Self {
            units: spread.lives_secs.len(),
            solved: spread.solved,
            lives_s: nums(&ended),
            confidence: promise.map(|p| Num(p.confidence)),
            promise_s: promise.map(|p| Num(p.secs)),
            standard_error_s: promise.and_then(|p| p.standard_error_secs).map(Num),
            varied: spread.varied.iter().map(VariedView::from).collect(),
        }
    }
}

impl From<&Varied> for VariedView {
    fn from(varied: &Varied) -> Self {
        Self {
            part: varied.part.clone(),
            quantity: varied.quantity.word(),
            share: Num(varied.share),
        }
    }
}
