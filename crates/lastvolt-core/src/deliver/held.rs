//! Whether a rail is held at a solved point.

use crate::circuit::{Circuit, Point, Situation, Stress, stresses};
use crate::deliver::limit::{Bound, Limit};
use crate::deliver::rig::Question;
use crate::model::Device;

/// Share of its unloaded voltage that a rail may leave where nothing else needs it (common practice).
pub(super) const SAG_SHARE: f64 = 0.05;
/// Share of a voltage that is rounding.
const ROUNDING: f64 = 1e-9;
/// What counts as stress by current; voltages are not the added current's doing.
const BY_CURRENT: [&str; 4] = ["current", "contact current", "saturation", "power"];

/// What must hold on a rail at one depth and ambient.
#[derive(Debug, Clone, Default)]
pub(super) struct Needs {
    /// Loads that ran with fresh cells.
    pub(super) loads: Vec<String>,
    /// The promised band.
    pub(super) band: Option<(f64, f64)>,
    /// The unloaded voltage, where nothing else needs the rail.
    pub(super) unloaded_volts: Option<f64>,
    /// The point without anything added.
    pub(super) unloaded: Option<Point>,
    /// Stresses by current without anything added: part, quantity, share.
    pub(super) stresses: Vec<(String, &'static str, f64)>,
}

/// What is not held.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Miss {
    /// A load leaves its working range.
    Load(String),
    /// The rail leaves its band.
    Band(String),
    /// The rail sags.
    Sag(String),
    /// A part is worked beyond its rating; whether it is a cell.
    Rating { part: String, is_cell: bool },
    /// The rail has no voltage.
    NotPowered,
    /// No operating point.
    NoPoint,
}

impl Miss {
    pub(super) fn bound(&self) -> Bound {
        match self {
            Self::Load(name) => Bound::new(Limit::WorkingRange, name),
            Self::Band(rail) => Bound::new(Limit::PromiseBand, rail),
            Self::Sag(rail) => Bound::new(Limit::Sag, rail),
            Self::Rating {
                part,
                is_cell: true,
            } => Bound::new(Limit::CellRating, part),
            Self::Rating { part, .. } => Bound::new(Limit::PartRating, part),
            Self::NotPowered => Bound::bare(Limit::NotPowered),
            Self::NoPoint => Bound::bare(Limit::NoPoint),
        }
    }
}

/// Stresses by current at a point: part, quantity, share.
pub(super) fn by_current(
    circuit: &Circuit,
    situation: &Situation,
    point: &Point,
) -> Vec<(String, &'static str, f64)> {
    let all = stresses(circuit, situation, point).into_iter();
    let ours = all.filter(|s| BY_CURRENT.contains(&s.quantity));
    ours.map(|s: Stress| (s.part, s.quantity, s.share))
        .collect()
}

/// What a point misses, if anything.
pub(super) fn miss(
    question: Question,
    rail: &str,
    needs: &Needs,
    circuit: &Circuit,
    situation: &Situation,
    point: &Point,
) -> Option<Miss> {
    for (name, load) in circuit.loads() {
        if !needs.loads.contains(&name) {
            continue;
        }
        let Some(at) = point.load(&name) else {
            continue;
        };
        let state = situation.states.get(&name).and_then(|s| load.state(s));
        let range = load.working_in(state.unwrap_or(0));
        let inside = range.is_none_or(|r| within(at.volts, r.from.as_volts(), r.to.as_volts()));
        if !at.awake || !inside {
            return Some(Miss::Load(name));
        }
    }
    let volts = point.net(rail).unwrap_or(0.0);
    if let Some((from, to)) = needs.band
        && !within(volts, from, to)
    {
        return Some(Miss::Band(rail.to_owned()));
    }
    if let Some(unloaded) = needs.unloaded_volts
        && !within(
            volts,
            (1.0 - SAG_SHARE) * unloaded,
            (1.0 + SAG_SHARE) * unloaded,
        )
    {
        return Some(Miss::Sag(rail.to_owned()));
    }
    rating(question, needs, circuit, situation, point)
}

fn within(volts: f64, from: f64, to: f64) -> bool {
    from * (1.0 - ROUNDING) <= volts && volts <= to * (1.0 + ROUNDING)
}

/// A part that the added current works beyond its rating.
fn rating(
    question: Question,
    needs: &Needs,
    circuit: &Circuit,
    situation: &Situation,
    point: &Point,
) -> Option<Miss> {
    let parts = circuit.parts();
    let is_cell = |name: &str| {
        let part = parts.iter().find(|(n, _)| n == name);
        part.is_some_and(|(_, p)| matches!(p.device, Device::Cell(_)))
    };
    for (part, quantity, share) in by_current(circuit, situation, point) {
        let own = needs
            .stresses
            .iter()
            .find(|s| s.0 == part && s.1 == quantity);
        let is_ours = own.is_none_or(|s| s.2 < share);
        let is_cell = is_cell(&part);
        // A moment is held against the pulse rating.
        if 1.0 < share && is_ours && !(is_cell && question.is_brief()) {
            return Some(Miss::Rating { part, is_cell });
        }
    }
    let pulses = parts.iter().filter(|_| question.is_brief());
    for (name, part) in pulses {
        if let Device::Cell(cell) = &part.device
            && let Some(pulse) = cell.model.limits.pulse.or(cell.model.limits.continuous)
            && pulse.as_amps() * (1.0 + ROUNDING) < point.part(name).map_or(0.0, |p| p.amps)
        {
            let (part, is_cell) = (name.clone(), true);
            return Some(Miss::Rating { part, is_cell });
        }
    }
    None
}
