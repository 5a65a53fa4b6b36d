//! The document of `point`: every voltage, current and loss in one situation.

use lastvolt_core::circuit::{Circuit, PartPoint, Point, Situation};
use lastvolt_core::model::Part;
use schemars::JsonSchema;
use serde::Serialize;

use crate::view::{Named, Num, SituationView};

/// One solved situation.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct PointView {
    /// The situation.
    pub(crate) situation: SituationView,
    /// Voltage of every net against ground.
    pub(crate) nets: Named<Num>,
    /// Every part.
    pub(crate) parts: Named<PartView>,
    /// Every load.
    pub(crate) loads: Named<LoadView>,
    /// Control pins and nets without a defined level.
    pub(crate) floating: Vec<String>,
    /// Largest sum of currents into any net.
    pub(crate) kcl_residual_a: Num,
    /// Converters asked for more than their source can give.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) folds: Vec<FoldView>,
}

/// One part.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct PartView {
    /// Current into the first pin; out of plus for cells and supplies.
    pub(crate) current_a: Num,
    /// Voltage from first to second pin; output to ground for regulators.
    pub(crate) voltage_v: Num,
    /// Absorbed power, negative for sources.
    pub(crate) power_w: Num,
    /// Current into each pin.
    pub(crate) pins: Named<Num>,
    /// What a regulator is doing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) mode: Option<&'static str>,
}

/// One load.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct LoadView {
    /// Current it takes.
    pub(crate) current_a: Num,
    /// Voltage across it.
    pub(crate) voltage_v: Num,
    /// Power it takes.
    pub(crate) power_w: Num,
    /// Whether it is out of reset.
    pub(crate) awake: bool,
}

/// One converter that has fallen off.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct FoldView {
    /// Name of the converter.
    pub(crate) part: String,
    /// Share of the load that the source could still carry.
    pub(crate) load_share: Num,
    /// The most power that the source can give into the converter.
    pub(crate) most_w: Num,
}

impl PointView {
    /// The document of a solved point.
    pub(crate) fn new(circuit: &Circuit, situation: &Situation, point: &Point) -> Self {
        let parts = circuit.parts();
        let part = |solved: &PartPoint| {
            let part = parts.iter().find(|(name, _)| *name == solved.name);
            (
                solved.name.clone(),
                PartView::new(part.map(|p| p.1), solved),
            )
        };
        Self {
            situation: situation.into(),
            nets: point
                .nets
                .iter()
                .map(|n| (n.name.clone(), Num(n.volts)))
                .collect(),
            parts: point.parts.iter().map(part).collect(),
            loads: point
                .loads
                .iter()
                .map(|l| {
                    let load = LoadView {
                        current_a: Num(l.amps),
                        voltage_v: Num(l.volts),
                        power_w: Num(l.watts),
                        awake: l.awake,
                    };
                    (l.name.clone(), load)
                })
                .collect(),
            floating: point.floating.clone(),
            kcl_residual_a: Num(point.kcl_residual_amps),
            folds: point
                .folds
                .iter()
                .map(|f| FoldView {
                    part: f.part.clone(),
                    load_share: Num(f.load_share),
                    most_w: Num(f.most_watts),
                })
                .collect(),
        }
    }
}

impl PartView {
    fn new(part: Option<&Part>, solved: &PartPoint) -> Self {
        let pins = part.map(|p| p.pins.as_slice()).unwrap_or_default();
        Self {
            current_a: Num(solved.amps),
            voltage_v: Num(solved.volts),
            power_w: Num(solved.watts),
            pins: pins
                .iter()
                .zip(&solved.pin_amps)
                .map(|(pin, &amps)| (pin.name.clone(), Num(amps)))
                .collect(),
            mode: solved.mode.map(|m| m.word()),
        }
    }
}
