//! What the rules about cells look at: cell parts, what a board takes from them at a given voltage,
//! and what firmware could watch.

use std::collections::BTreeMap;

use crate::circuit::{CellDrive, History, Point, Situation};
use crate::device::{Cell, CellModel, Charging};
use crate::model::{Ambient, Device, Part};
use crate::progress::Silent;
use crate::review::anatomy::ends;
use crate::review::evidence::FORGOTTEN_SECS;
use crate::review::{Evidence, words};
use crate::time::{Climate, LifeRequest, Notice, notice};

/// A board that takes less than this share of the charge in a month is as good as disconnected: cells
/// lose about as much by themselves (common practice: 2 to 3 % a year to 2 % a month).
const SLOW_SHARE: f64 = 0.01;

/// What a board takes from cells held at a voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Take {
    /// Voltage of each cell at its terminals.
    pub cell_volts: f64,
    /// Current of the cell part.
    pub amps: f64,
    /// Whether every load works in its base state.
    pub serves: bool,
}

/// Currents that differ by less than this share are those of one path: a tap between two cells of a
/// string takes little.
const SAME_PATH: f64 = 0.1;
/// The same for what stands between two cells of a string.
const SAME_CURRENT: f64 = 1e-6;

/// Cell parts in series.
pub(crate) struct CellString<'a>(Vec<(&'a Part, &'a Cell)>);

impl<'a> CellString<'a> {
    /// How many cells it has.
    pub(crate) fn count(&self) -> usize {
        self.0.iter().map(|(_, cell)| cell.series).sum()
    }

    /// Names of the cell parts.
    pub(crate) fn names(&self) -> Vec<&'a str> {
        self.0.iter().map(|(p, _)| p.name.as_str()).collect()
    }

    /// The names as a sentence has them.
    pub(crate) fn named(&self) -> String {
        let names: Vec<String> = self.0.iter().map(|(p, _)| p.name.clone()).collect();
        words::join(&names)
    }

    /// Voltage at which all of its cells have come to their end voltage.
    pub(crate) fn end_volts(&self) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "a handful of cells")]
        let each = self
            .0
            .iter()
            .map(|(_, c)| c.series as f64 * end_volts(&c.model));
        each.sum()
    }

    /// Whether what is to be said of a part is said there: of several alike at the first.
    pub(crate) fn is_told_at(&self, part: &Part, cell: &Cell) -> bool {
        let first = self.0.iter().find(|(_, c)| c.model == cell.model);
        first.is_some_and(|(p, _)| p.name == part.name)
    }
}

impl<'a> Evidence<'a> {
    /// The string that a cell part stands in, in the order of the board.
    pub(crate) fn string(&self, part: &Part) -> Option<CellString<'a>> {
        let cells: Vec<(&Part, &Cell)> = self.cells().collect();
        let own = cells.iter().position(|(p, _)| p.name == part.name)?;
        // With a supply plugged in the cells carry nothing.
        let situation = Situation {
            history: History::Running,
            absent: self.circuit().supply_names().into_iter().collect(),
            ..self.usual()
        };
        let point = self.point(&situation);
        let mut within = vec![own];
        let mut at = 0;
        while let Some(&from) = within.get(at) {
            at += 1;
            for (to, (other, _)) in cells.iter().enumerate() {
                if !within.contains(&to) && self.in_series(cells[from].0, other, point.as_deref()) {
                    within.push(to);
                }
            }
        }
        within.sort_unstable();
        Some(CellString(within.into_iter().map(|at| cells[at]).collect()))
    }

    /// Whether the plus of one cell part leads to the minus of the other, and one current flows.
    fn in_series(&self, one: &Part, other: &Part, point: Option<&Point>) -> bool {
        let amps = |name: &str| point.and_then(|p| p.part(name)).map_or(0.0, |p| p.amps);
        let (mine, theirs) = (amps(&one.name), amps(&other.name));
        let alike = (mine - theirs).abs() <= SAME_PATH * mine.abs().max(theirs.abs());
        let path = self.path_of(mine, point);
        let meets = |up: &Part, down: &Part| {
            let nets = up.net("plus").zip(down.net("minus"));
            nets.is_some_and(|(a, b)| path[a] == path[b])
        };
        alike && (meets(one, other) || meets(other, one))
    }

    /// For each net the lowest that parts with two pins and just this current join it to.
    fn path_of(&self, amps: f64, point: Option<&Point>) -> Vec<usize> {
        let mut root: Vec<usize> = (0..self.board.nets.len()).collect();
        for part in self.board.parts.iter().filter(|p| p.pins.len() == 2) {
            let solved = point.and_then(|p| p.part(&part.name));
            let same = solved.is_some_and(|p| {
                let difference = (p.amps.abs() - amps.abs()).abs();
                amps != 0.0 && difference <= SAME_CURRENT * amps.abs()
            });
            let is_source = matches!(part.device, Device::Cell(_) | Device::Supply(_));
            if let Some((a, b)) = ends(part).filter(|_| same && !is_source) {
                let (keep, drop) = (root[a].min(root[b]), root[a].max(root[b]));
                for r in root.iter_mut().filter(|r| **r == drop) {
                    *r = keep;
                }
            }
        }
        root
    }

    /// The cell parts, in the order of the board.
    pub(crate) fn cells(&self) -> impl Iterator<Item = (&'a Part, &'a Cell)> {
        self.board.parts.iter().filter_map(|p| match &p.device {
            Device::Cell(cell) => Some((p, &**cell)),
            _ => None,
        })
    }

    /// Depth of the cells when they are first used.
    pub(crate) fn start_depth(&self) -> f64 {
        let shelf = self.life().and_then(|l| l.shelf);
        shelf.map_or(0.0, |s| s.depth)
    }

    /// When the life reaches a depth; beyond its end at the mean pace.
    pub(crate) fn secs_at(&self, depth: f64) -> Option<f64> {
        let life = self.lasting_life()?;
        let (trace, end) = (&life.trace, life.life_secs?);
        let next = trace.depth.partition_point(|d| *d < depth);
        if let (Some(before), Some(&to)) = (next.checked_sub(1), trace.depth.get(next)) {
            let (from, start) = (trace.depth[before], trace.time_secs[before]);
            let share = (depth - from) / (to - from).max(f64::MIN_POSITIVE);
            return Some(start + share * (trace.time_secs[next] - start));
        }
        if next == 0 {
            return Some(0.0);
        }
        let start = self.start_depth();
        let drawn = (life.end.depth - start).max(f64::MIN_POSITIVE);
        Some(end * (depth - start) / drawn)
    }

    /// What the running board takes in base states with the terminals of one cell part held at this
    /// many volts a cell, and those of all others at the same share of their end voltage.
    pub(crate) fn take_at(&self, name: &str, cell_volts: f64) -> Option<Take> {
        let (_, own) = self.cells().find(|(p, _)| p.name == name)?;
        let share = cell_volts / end_volts(&own.model).max(f64::MIN_POSITIVE);
        #[expect(clippy::cast_precision_loss, reason = "a handful of cells")]
        let volts = self.cells().map(|(_, cell)| {
            let end = end_volts(&cell.model);
            cell.series as f64 * share * end
        });
        let drive = CellDrive::Terminals(volts.collect());
        // With a supply plugged in the cells carry nothing.
        let supplies = self.circuit().supply_names();
        let situation = Situation {
            history: History::Running,
            absent: supplies.into_iter().collect(),
            ..self.usual()
        };
        let point = self.circuit().solve(&situation, &drive, None).ok()?;
        Some(Take {
            cell_volts,
            amps: point.part(name)?.amps,
            serves: !self.circuit().loads().is_empty()
                && self.shortfalls(&situation, &point).is_empty(),
        })
    }

    /// What firmware could watch, at the usual ambient alone.
    pub(crate) fn usual_notice(&self) -> Option<Notice> {
        let life = self.lasting_life()?;
        let mut family = self.family.clone();
        let usual = family.requirement.ambient.usual;
        family.requirement.ambient = Ambient {
            low: usual,
            usual,
            high: usual,
            monthly: None,
        };
        let request = LifeRequest {
            family: &family,
            board: &self.board.name,
            profile: self.profile.map(|p| p.name.as_str()),
            ambient: Climate::Steady(usual),
            bursts: crate::time::Bursts::Followed,
            positions: BTreeMap::new(),
        };
        notice(&request, life, &Silent)
    }
}

/// The voltage at which a cell counts as empty: as stated, else that of its table.
fn end_volts(model: &CellModel) -> f64 {
    let stated = model.limits.end.map(|v| v.as_volts());
    stated.unwrap_or_else(|| model.open_circuit.at(1.0))
}

/// Current below which a board is as good as disconnected from a cell.
pub(crate) fn slow_amps(model: &CellModel) -> f64 {
    SLOW_SHARE * model.charge.si() / FORGOTTEN_SECS
}

/// Whether a cell leaks when it is discharged too deep: a primary cell with a water-based
/// electrolyte, which is every chemistry that is not a lithium one.
pub(crate) fn leaks(model: &CellModel) -> bool {
    let chemistry = model.chemistry.to_ascii_lowercase();
    let known = !chemistry.is_empty() && !chemistry.starts_with("li");
    known && model.charging == Charging::Primary
}
