//! What keeps a rail from giving more, told from the last point that held and the first that did not.

use crate::circuit::{Circuit, Mode, PartPoint, Point};
use crate::deliver::held::Miss;
use crate::deliver::rig::Question;
use crate::device::Topology;
use crate::model::Device;

/// What binds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Limit {
    /// A load leaves its working range, or resets.
    WorkingRange,
    /// The rail leaves the band that the connector promises.
    PromiseBand,
    /// The rail leaves 5 % of its unloaded voltage, and nothing else needs it.
    Sag,
    /// A regulator is at its current limit.
    ConverterLimit,
    /// The source cannot give the power that a converter asks for.
    Fold,
    /// A regulator's input is too low to hold its output.
    Dropout,
    /// A regulator's input falls below what it runs from.
    RegulatorStops,
    /// A regulator does not start, or starts and falls off again.
    DoesNotStart,
    /// A cell would give more than its maker allows.
    CellRating,
    /// A supply is at its current limit.
    SupplyLimit,
    /// A part would be worked beyond its rating.
    PartRating,
    /// The rail has no voltage in these positions.
    NotPowered,
    /// No operating point was found.
    NoPoint,
    /// Nothing up to 100 A.
    None,
}

impl Limit {
    /// The word that outputs use.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::WorkingRange => "working-range",
            Self::PromiseBand => "promise-band",
            Self::Sag => "sag",
            Self::ConverterLimit => "converter-limit",
            Self::Fold => "fold",
            Self::Dropout => "dropout",
            Self::RegulatorStops => "regulator-stops",
            Self::DoesNotStart => "does-not-start",
            Self::CellRating => "cell-rating",
            Self::SupplyLimit => "supply-limit",
            Self::PartRating => "part-rating",
            Self::NotPowered => "not-powered",
            Self::NoPoint => "no-point",
            Self::None => "none",
        }
    }
}

/// What binds, and in which part or load.
#[derive(Debug, Clone, PartialEq)]
pub struct Bound {
    /// What binds.
    pub limit: Limit,
    /// Name of the part, load or rail.
    pub at: Option<String>,
}

impl Bound {
    pub(super) fn new(limit: Limit, at: &str) -> Self {
        Self {
            limit,
            at: Some(at.to_owned()),
        }
    }

    pub(super) fn bare(limit: Limit) -> Self {
        Self { limit, at: None }
    }
}

/// Share of a current limit from which a part counts as being at it.
const AT_LIMIT: f64 = 0.995;

/// What binds between a point that holds, where there is one, and one that misses.
pub(super) fn bound(
    question: Question,
    circuit: &Circuit,
    good: Option<&Point>,
    bad: Option<&Point>,
    miss: &Miss,
) -> Bound {
    if let Miss::Rating { .. } | Miss::NotPowered = miss {
        return miss.bound();
    }
    let by_part =
        supply_limit(circuit, good, bad).or_else(|| regulator_limit(question, circuit, good, bad));
    by_part.unwrap_or_else(|| miss.bound())
}

fn supply_limit(circuit: &Circuit, good: Option<&Point>, bad: Option<&Point>) -> Option<Bound> {
    let parts = circuit.parts();
    parts.into_iter().find_map(|(name, part)| {
        let Device::Supply(supply) = &part.device else {
            return None;
        };
        let limit = supply.limit?.si();
        let reaches = |p: &Point| p.part(&name).is_some_and(|s| AT_LIMIT * limit <= s.amps);
        let is_at = good.is_some_and(reaches) || bad.is_some_and(reaches);
        is_at.then(|| Bound::new(Limit::SupplyLimit, &name))
    })
}

/// The regulator that gives up, the nearest to the reason first.
fn regulator_limit(
    question: Question,
    circuit: &Circuit,
    good: Option<&Point>,
    bad: Option<&Point>,
) -> Option<Bound> {
    let mut found: Option<Bound> = None;
    for (name, part) in circuit.parts() {
        let Device::Regulator(device) = &part.device else {
            continue;
        };
        let before = good.and_then(|p| p.part(&name));
        let after = bad.and_then(|p| p.part(&name));
        let limit_amps = device.limit.map(|l| l.si());
        let limit = gives_up(question, device.topology, limit_amps, before, after);
        if let Some(limit) = limit
            && found.as_ref().is_none_or(|f| rank(limit) < rank(f.limit))
        {
            found = Some(Bound::new(limit, &name));
        }
    }
    found
}

fn gives_up(
    question: Question,
    topology: Topology,
    limit_amps: Option<f64>,
    before: Option<&PartPoint>,
    after: Option<&PartPoint>,
) -> Option<Limit> {
    let mode = |p: Option<&PartPoint>| p.and_then(|p| p.mode);
    let ran = !matches!(mode(before), Some(Mode::Off | Mode::Start));
    let amps = before.and_then(|p| p.inductor_amps).unwrap_or(0.0);
    let is_at_limit = limit_amps.is_some_and(|limit| AT_LIMIT * limit <= amps);
    let stops = |cold: Limit, running: Limit| {
        if question == Question::Starting {
            cold
        } else {
            running
        }
    };
    match mode(after)? {
        Mode::Limit => Some(Limit::ConverterLimit),
        _ if is_at_limit => Some(Limit::ConverterLimit),
        Mode::Collapsed | Mode::Hiccup if topology != Topology::Linear => {
            Some(stops(Limit::DoesNotStart, Limit::Fold))
        }
        Mode::Start => Some(Limit::DoesNotStart),
        Mode::Off | Mode::Hiccup | Mode::Collapsed if ran => {
            Some(stops(Limit::DoesNotStart, Limit::RegulatorStops))
        }
        Mode::Dropout => Some(Limit::Dropout),
        _ => None,
    }
}

fn rank(limit: Limit) -> u8 {
    match limit {
        Limit::ConverterLimit => 0,
        Limit::Fold | Limit::DoesNotStart => 1,
        Limit::RegulatorStops => 2,
        _ => 3,
    }
}
