//! What keeps a rail from giving more, told from the last point that held and the first that did not.

use crate::circuit::{Circuit, Mode, PartPoint, Point};
use crate::deliver::held::Miss;
use crate::deliver::rig::{ADDED, Question};
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

/// Least growth of a regulator's current, as a share of the added one, from which it carries it.
const CARRIES: f64 = 0.1;

/// The points between which something binds.
pub(super) struct Path<'p> {
    pub(super) question: Question,
    /// Nothing added.
    pub(super) unloaded: Option<&'p Point>,
    /// The last that holds, where there is one.
    pub(super) good: Option<&'p Point>,
    /// The first that misses, where there is one.
    pub(super) bad: Option<&'p Point>,
}

/// What binds between a point that holds and one that misses.
pub(super) fn bound(path: &Path, circuit: &Circuit, miss: &Miss) -> Bound {
    if let Miss::Rating { .. } | Miss::NotPowered = miss {
        return miss.bound();
    }
    let by_part = supply_limit(path, circuit).or_else(|| regulator_limit(path, circuit));
    by_part.unwrap_or_else(|| miss.bound())
}

fn supply_limit(path: &Path, circuit: &Circuit) -> Option<Bound> {
    let parts = circuit.parts();
    parts.into_iter().find_map(|(name, part)| {
        let Device::Supply(supply) = &part.device else {
            return None;
        };
        let limit = supply.limit?.si();
        let reaches = |p: &Point| p.part(&name).is_some_and(|s| AT_LIMIT * limit <= s.amps);
        let is_at = path.good.is_some_and(reaches) || path.bad.is_some_and(reaches);
        is_at.then(|| Bound::new(Limit::SupplyLimit, &name))
    })
}

/// The regulator that gives up, the nearest to the reason first.
fn regulator_limit(path: &Path, circuit: &Circuit) -> Option<Bound> {
    let mut found: Option<Bound> = None;
    for (name, part) in circuit.parts() {
        let Device::Regulator(device) = &part.device else {
            continue;
        };
        if !path.carries(&name) {
            continue;
        }
        let before = path.good.and_then(|p| p.part(&name));
        let after = path.bad.and_then(|p| p.part(&name));
        let limit_amps = device.limit.map(|l| l.si());
        let limit = gives_up(path.question, device.topology, limit_amps, before, after);
        if let Some(limit) = limit
            && found.as_ref().is_none_or(|f| rank(limit) < rank(f.limit))
        {
            found = Some(Bound::new(limit, &name));
        }
    }
    found
}

impl Path<'_> {
    /// Whether a regulator carries the added current rather than something beside it.
    fn carries(&self, name: &str) -> bool {
        let amps = |p: &Point| p.part(name).and_then(|p| p.inductor_amps);
        let (Some(unloaded), Some(good)) = (self.unloaded, self.good) else {
            return true;
        };
        let added = good.load(ADDED).map_or(0.0, |l| l.amps);
        let grown = amps(good).unwrap_or(0.0) - amps(unloaded).unwrap_or(0.0);
        // Where next to nothing is added yet, nothing can be told.
        added < LEAST_AMPS || CARRIES * added <= grown
    }
}

/// Added currents below this tell nothing.
const LEAST_AMPS: f64 = 1e-6;

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
