//! Which low-battery threshold gives the notice that is wanted, for every voltage that firmware could
//! watch, and how far it goes wrong in cold and heat.
//!
//! # Formula
//! ```text
//! t_n       = end - wanted notice                         at the usual ambient
//! threshold = least of V(t) for t <= t_n                  so nothing crosses it earlier
//! notice    = end - first t with V(t) < threshold         at each ambient with its own life
//! ```
//! A signal tells nothing where it falls by less than 10 mV between the threshold and its lowest.
//! Between the instants of a trace the voltage is a monotone cubic (see `numerics::table`).

use crate::circuit::NoPoint;
use crate::model::{Board, Family, Kind};
use crate::numerics::table::Table;
use crate::progress::{Piece, Progress};
use crate::quantity::Temperature;
use crate::time::{Climate, Life, LifeRequest, RailTrace, Trace, life};

/// Least fall that a firmware's converter tells apart: some three counts of 10 bits at a reference of
/// about 3 V (common practice).
pub const RESOLVED_VOLTS: f64 = 0.010;

/// What firmware could watch to warn in time.
#[derive(Debug, Clone, PartialEq)]
pub struct Notice {
    /// What the requirement asks for.
    pub wanted_secs: f64,
    /// Low, usual and high ambient.
    pub ambients: [Temperature; 3],
    /// Run time at these ambients, where it ends.
    pub life_secs: [Option<f64>; 3],
    /// One a voltage; empty where the life is shorter than the wanted notice.
    pub signals: Vec<Signal>,
    /// Place of the signal that serves best, where one tells.
    pub best: Option<usize>,
}

/// A voltage that firmware could watch.
#[derive(Debug, Clone, PartialEq)]
pub struct Signal {
    /// Whose voltage.
    pub node: Node,
    /// When it is looked at.
    pub when: When,
    /// The net where it is measured.
    pub net: String,
    /// Warn below this voltage.
    pub threshold_volts: f64,
    /// The voltage that would give the wanted notice at low, usual and high ambient, where one does.
    pub needed_volts: [Option<f64>; 3],
    /// Notice had with the threshold at low, usual and high ambient, where the life ends there; zero
    /// where the end comes without a warning.
    pub notice_secs: [Option<f64>; 3],
    /// How far the signal still falls below the threshold at the usual ambient.
    pub fall_volts: f64,
    /// How much earlier a threshold higher by [`RESOLVED_VOLTS`] warns at the usual ambient.
    pub step_secs: f64,
    /// Instant before the wanted one at which the signal stood lower than then, where it did.
    pub lower_before_secs: Option<f64>,
    /// Distance of the instants of the trace around the warning.
    pub trace_secs: f64,
    /// Whether the threshold can be told.
    pub tells: bool,
}

/// Whose voltage is watched.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Node {
    /// The main rail.
    Rail,
    /// The terminals of the cells.
    Cell,
}

/// When a voltage is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum When {
    /// In base states.
    Rest,
    /// At the lowest instant of the worst burst.
    Burst,
}

impl Signal {
    /// The name that outputs use.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match (self.node, self.when) {
            (Node::Rail, When::Rest) => "rail-at-rest",
            (Node::Rail, When::Burst) => "rail-in-burst",
            (Node::Cell, When::Rest) => "cell-at-rest",
            (Node::Cell, When::Burst) => "cell-in-burst",
        }
    }
}

impl Notice {
    /// Notice reached at the usual ambient with the signal that serves best.
    #[must_use]
    pub fn reached_secs(&self) -> Option<f64> {
        self.signals.get(self.best?)?.notice_secs[USUAL]
    }
}

/// Place of the usual ambient.
const USUAL: usize = 1;

/// Which thresholds give the notice that the requirement asks for; none where it asks for none or the
/// board has no end. `usual` is the life of the request at the usual ambient.
#[must_use]
pub fn notice(request: &LifeRequest, usual: &Life, progress: &dyn Progress) -> Option<Notice> {
    let wanted_secs = request.family.requirement.notice?.as_secs();
    usual.life_secs?;
    let ambient = &request.family.requirement.ambient;
    let other = |at: usize, ambient: Temperature| -> Result<Option<Life>, NoPoint> {
        let ambient = Climate::Steady(ambient);
        if ambient == request.ambient {
            return Ok(None);
        }
        let request = LifeRequest {
            ambient,
            ..request.clone()
        };
        life(&request, &Piece::new(progress, at, 2)).map(Some)
    };
    // Without a point in the cold or in the heat no threshold is known to serve there.
    let low = other(0, ambient.low).ok()?;
    let high = other(1, ambient.high).ok()?;
    if progress.cancelled() {
        return None;
    }
    let lives = [
        low.as_ref().unwrap_or(usual),
        usual,
        high.as_ref().unwrap_or(usual),
    ];
    let nodes = nodes(request.family, request.family.board(request.board)?);
    let signals = signals(&nodes, &lives, wanted_secs);
    Some(Notice {
        wanted_secs,
        ambients: [ambient.low, request.ambient.mean(), ambient.high],
        life_secs: lives.map(|l| l.life_secs),
        best: best(&signals, wanted_secs),
        signals,
    })
}

/// A node with its net and the number of cells in series that its voltage is of.
type Place = (Node, String, f64);

/// The main rail, and the plus of the cells where that is another net.
fn nodes(family: &Family, board: &Board) -> Vec<Place> {
    let mut nodes = Vec::new();
    let rail = family.connector.rail();
    if let Some(rail) = rail.filter(|r| board.nets.iter().any(|n| n == r)) {
        nodes.push((Node::Rail, rail.to_owned(), 1.0));
    }
    let cells = board.parts.iter().filter(|p| p.kind == Kind::Cell);
    let cells: Vec<_> = cells.collect();
    // The trace keeps the lowest of several cell parts, which is no one net's.
    if let [part] = cells.as_slice()
        && let crate::model::Device::Cell(cell) = &part.device
        && let Some(net) = part.net("plus").and_then(|n| board.nets.get(n))
        && Some(net.as_str()) != rail
    {
        nodes.push((Node::Cell, net.clone(), cell.series as f64));
    }
    nodes
}

fn signals(nodes: &[Place], lives: &[&Life; 3], wanted_secs: f64) -> Vec<Signal> {
    let each = nodes.iter().flat_map(|node| {
        let whens = [When::Rest, When::Burst].into_iter();
        whens.filter_map(move |when| signal(node, when, lives, wanted_secs))
    });
    each.collect()
}

fn signal(node: &Place, when: When, lives: &[&Life; 3], wanted_secs: f64) -> Option<Signal> {
    let curves = lives.map(|life| Curve::new(life, node.0, when, node.2));
    let usual = curves[USUAL].as_ref()?;
    let at_secs = usual.end_secs - wanted_secs;
    if at_secs < 0.0 {
        return None;
    }
    let (threshold_volts, lower_before_secs) = usual.lowest_until(at_secs);
    let warns = |volts: f64| usual.first_below(volts).unwrap_or(usual.end_secs);
    let fall_volts = threshold_volts - usual.lowest();
    let needed_volts = curves.each_ref().map(|curve| {
        let curve = curve.as_ref()?;
        let at_secs = curve.end_secs - wanted_secs;
        (0.0 <= at_secs).then(|| curve.lowest_until(at_secs).0)
    });
    let notice_secs = curves.each_ref().map(|curve| {
        let curve = curve.as_ref()?;
        let warns = curve.first_below(threshold_volts);
        Some(warns.map_or(0.0, |secs| curve.end_secs - secs))
    });
    Some(Signal {
        node: node.0,
        when,
        net: node.1.clone(),
        threshold_volts,
        needed_volts,
        notice_secs,
        fall_volts,
        step_secs: warns(threshold_volts) - warns(threshold_volts + RESOLVED_VOLTS),
        lower_before_secs,
        trace_secs: usual.distance_at(at_secs),
        tells: RESOLVED_VOLTS <= fall_volts,
    })
}

/// The signal that warns soon enough at every ambient, and of those the least too soon.
fn best(signals: &[Signal], wanted_secs: f64) -> Option<usize> {
    let rank = |signal: &Signal| {
        let had = signal.notice_secs.iter().flatten().copied();
        let least = had.clone().fold(f64::INFINITY, f64::min).min(wanted_secs);
        (least, had.fold(0.0, f64::max))
    };
    let mut best: Option<(usize, (f64, f64))> = None;
    for (at, signal) in signals.iter().enumerate().filter(|(_, s)| s.tells) {
        let (least, most) = rank(signal);
        // Within a thousandth they are equal, and the first stands.
        let serves_better = best.is_none_or(|(_, (soon, late))| {
            let apart = 1e-3 * wanted_secs;
            soon + apart < least || ((soon - least).abs() <= apart && most + apart < late)
        });
        if serves_better {
            best = Some((at, (least, most)));
        }
    }
    best.map(|b| b.0)
}

/// A voltage over one life.
struct Curve {
    secs: Vec<f64>,
    volts: Vec<f64>,
    smooth: Table,
    end_secs: f64,
}

impl Curve {
    fn new(life: &Life, node: Node, when: When, series: f64) -> Option<Self> {
        let end_secs = life.life_secs?;
        let Trace {
            time_secs,
            cell,
            rail,
            ..
        } = &life.trace;
        let trace: &RailTrace = match node {
            Node::Rail => rail,
            Node::Cell => cell,
        };
        let volts = match when {
            When::Rest => &trace.rest_volts,
            When::Burst => &trace.lowest_volts,
        };
        let volts: Vec<f64> = volts.iter().map(|v| series * v).collect();
        let points = time_secs.iter().copied().zip(volts.iter().copied());
        let points: Vec<(f64, f64)> = points.collect();
        Some(Self {
            smooth: Table::new(&points).ok()?,
            secs: time_secs.clone(),
            volts,
            end_secs,
        })
    }

    fn lowest(&self) -> f64 {
        self.volts.iter().copied().fold(f64::INFINITY, f64::min)
    }

    /// The lowest voltage up to an instant, and when that was where it was before it.
    fn lowest_until(&self, secs: f64) -> (f64, Option<f64>) {
        let mut lowest = (self.smooth.at(secs), None);
        for (t, v) in self.secs.iter().zip(&self.volts) {
            if *t < secs && *v < lowest.0 {
                lowest = (*v, Some(*t));
            }
        }
        lowest
    }

    /// The first instant below a voltage.
    fn first_below(&self, volts: f64) -> Option<f64> {
        let after = self.volts.iter().position(|v| *v < volts)?;
        let Some(before) = after.checked_sub(1) else {
            return Some(self.secs[0]);
        };
        let (mut low, mut high) = (self.secs[before], self.secs[after]);
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            if self.smooth.at(middle) < volts {
                high = middle;
            } else {
                low = middle;
            }
        }
        Some(high)
    }

    /// How far apart the instants around one are.
    fn distance_at(&self, secs: f64) -> f64 {
        let after = self.secs.iter().position(|t| secs <= *t);
        match after {
            Some(after) if 0 < after => self.secs[after] - self.secs[after - 1],
            _ => 0.0,
        }
    }
}

#[cfg(test)]
#[path = "notice_tests.rs"]
mod tests;
