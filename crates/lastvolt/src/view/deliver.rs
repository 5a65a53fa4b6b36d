//! The document of `deliver`: what the rails of a board can give, by ambient and depth.

use lastvolt_core::deliver::{
    Bound, Deliver, LifeDepth, Need, Output, PromiseKept, RailOutput, Reach,
};
use schemars::JsonSchema;
use serde::Serialize;

use crate::view::{Named, Num};

/// What the main rail of a board can give; its other rails and further boards behind it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct OutputView {
    /// Name of the board.
    pub(crate) board: String,
    /// Name of the rail.
    pub(crate) rail: String,
    /// Name of the profile of the own loads, where the family has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) profile: Option<String>,
    /// Positions of switches and jumpers.
    pub(crate) positions: Named<String>,
    /// `stated`, or `within-5-percent` where nothing needs the rail.
    pub(crate) need: &'static str,
    /// The own loads' heaviest states, where the profile has tasks.
    #[serde(skip_serializing_if = "Named::is_empty")]
    pub(crate) heaviest: Named<String>,
    /// Depth at the end of the required life, or of the life where that is shorter.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) life_depth: Option<Num>,
    /// Whether that is the required life.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) required_life: Option<bool>,
    /// Ambient by ambient, depths rising.
    pub(crate) rows: Vec<OutputRowView>,
    /// How far a promised current is kept.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) promise: Option<PromiseView>,
    /// Other rails of the board.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) rails: Vec<OutputView>,
    /// Further boards that were asked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) others: Vec<OutputView>,
}

/// What is left for others at one ambient and depth, the own loads in base states.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct OutputRowView {
    /// Temperature around the board.
    pub(crate) ambient_c: Num,
    /// Share of the charge that is drawn.
    pub(crate) depth: Num,
    /// Already up, continuous.
    pub(crate) running_a: Num,
    /// From off into this current.
    pub(crate) starting_a: Num,
    /// What binds while running.
    pub(crate) limit: &'static str,
    /// The part, load or rail in which it does.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) limit_at: Option<String>,
    /// What binds at the start, where it gives less.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) starting_limit: Option<&'static str>,
    /// The part, load or rail in which it does.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) starting_limit_at: Option<String>,
    /// Already up, for a moment.
    pub(crate) burst_a: Num,
    /// Continuous, while the own loads may come to their heaviest states.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) beside_task_a: Option<Num>,
}

/// A promised current.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct PromiseView {
    /// The current.
    pub(crate) current_a: Num,
    /// One an ambient.
    pub(crate) kept: Vec<KeptView>,
}

/// How far a promise is kept; a depth is absent where fresh cells do not keep it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(crate) struct KeptView {
    /// Temperature around the board.
    pub(crate) ambient_c: Num,
    /// Kept from fresh down to here while running.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) running_depth: Option<Num>,
    /// Kept from fresh down to here at the start.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) starting_depth: Option<Num>,
    /// Whether both are the last depth that was looked at.
    pub(crate) throughout: bool,
}

impl OutputView {
    /// The document of one board; none where it has no rail.
    pub(crate) fn new(
        board: &str,
        profile: Option<&str>,
        life: Option<LifeDepth>,
        deliver: &Deliver,
    ) -> Option<Self> {
        let positions = deliver.positions.iter();
        let positions: Named<String> = positions.map(|(k, v)| (k.clone(), v.clone())).collect();
        let each = deliver.rails.iter().map(|rail| Self {
            board: board.to_owned(),
            profile: profile.map(str::to_owned),
            positions: positions.clone(),
            life_depth: life.map(|l| Num(l.depth)),
            required_life: life.map(|l| l.is_required_life),
            ..Self::of_rail(rail)
        });
        let mut rails: Vec<Self> = each.collect();
        if rails.is_empty() {
            return None;
        }
        let mut first = rails.remove(0);
        first.rails = rails;
        Some(first)
    }

    fn of_rail(rail: &RailOutput) -> Self {
        Self {
            board: String::new(),
            rail: rail.rail.clone(),
            profile: None,
            positions: Named(Vec::new()),
            need: match rail.need {
                Need::Stated => "stated",
                Need::Unstated => "within-5-percent",
            },
            heaviest: rail.heaviest.iter().cloned().collect(),
            life_depth: None,
            required_life: None,
            rows: rail.outputs.iter().map(OutputRowView::new).collect(),
            promise: rail.promise.as_ref().map(PromiseView::new),
            rails: Vec::new(),
            others: Vec::new(),
        }
    }

    /// This and what stands behind it, boards and rails in order.
    pub(crate) fn all(&self) -> Vec<&Self> {
        let mut all = vec![self];
        all.extend(self.rails.iter().flat_map(Self::all));
        all.extend(self.others.iter().flat_map(Self::all));
        all
    }

    /// The ambients in order.
    pub(crate) fn ambients(&self) -> Vec<f64> {
        let mut ambients: Vec<f64> = self.rows.iter().map(|r| r.ambient_c.0).collect();
        ambients.dedup();
        ambients
    }
}

impl OutputRowView {
    fn new(output: &Output) -> Self {
        let starting: Option<&Bound> = output.starting_limit.as_ref();
        Self {
            ambient_c: Num(output.ambient.as_celsius()),
            depth: Num(output.depth),
            running_a: Num(output.running_amps),
            starting_a: Num(output.starting_amps),
            limit: output.limit.limit.word(),
            limit_at: output.limit.at.clone(),
            starting_limit: starting.map(|b| b.limit.word()),
            starting_limit_at: starting.and_then(|b| b.at.clone()),
            burst_a: Num(output.burst_amps),
            beside_task_a: output.beside_task_amps.map(Num),
        }
    }
}

impl PromiseView {
    fn new(promise: &PromiseKept) -> Self {
        let depth = |reach: Reach| match reach {
            Reach::Nowhere => None,
            Reach::DownTo(depth) | Reach::Throughout(depth) => Some(Num(depth)),
        };
        let throughout = |reach: Reach| matches!(reach, Reach::Throughout(_));
        let kept = promise.kept.iter().map(|k| KeptView {
            ambient_c: Num(k.ambient.as_celsius()),
            running_depth: depth(k.running),
            starting_depth: depth(k.starting),
            throughout: throughout(k.running) && throughout(k.starting),
        });
        Self {
            current_a: Num(promise.amps),
            kept: kept.collect(),
        }
    }
}
