//! The electrical circuit of one or more boards: assembled, put into a situation, solved.

mod build;
mod bypass;
mod element;
mod figures;
mod floating;
mod frame;
mod gated;
mod islands;
mod matrix;
mod netlist;
mod newton;
mod operate;
mod overload;
mod pass;
mod point;
mod promise;
mod regulation;
mod shelf;
mod situation;
mod solver;
mod store;
mod stress;
mod transient;

pub(crate) use operate::Detail;

pub use figures::Figures;
pub use matrix::{Matrix, MatrixCase, all_powered, case, matrix, matrix_at};
pub use point::{Fold, LoadPoint, Mode, NetPoint, NoPoint, PartPoint, Point};
pub use situation::{History, Situation};
pub use solver::Solver;
pub use stress::{Stress, WRONG_WAY_VOLTS, stresses};

pub(crate) use transient::{Transient, Trip};

use crate::circuit::build::Owner;
use crate::circuit::element::volts;
use crate::circuit::netlist::Netlist;
use crate::circuit::operate::{Settled, settle};
use crate::circuit::shelf::Shelf;
use crate::device::CellState;
use crate::model::{Board, Device, Family, Load, Part};

/// The boards of a family joined at their connector, ready to be solved in any situation.
///
/// With one board, parts and nets keep their names; with several, they are `board/NAME` except for
/// the nets of the connector.
#[derive(Debug)]
pub struct Circuit<'f> {
    family: &'f Family,
    boards: Vec<&'f Board>,
    netlist: Netlist<'f>,
}

/// What stands for the cells of a circuit, one entry a cell part in circuit order.
#[derive(Debug, Clone, PartialEq)]
pub enum CellDrive {
    /// Rested cells at the depth of the situation.
    Rested,
    /// The given states: for each cell part its cells in series, in order.
    States(Vec<Vec<CellState>>),
    /// Ideal sources of the given voltage at the terminals of each cell part, contacts inside.
    Terminals(Vec<f64>),
}

impl<'f> Circuit<'f> {
    /// Joins the boards of these names.
    ///
    /// # Errors
    /// The name of a board that the family does not have.
    pub fn new(family: &'f Family, boards: &[String]) -> Result<Self, String> {
        let found: Result<Vec<_>, _> = boards
            .iter()
            .map(|b| family.board(b).ok_or_else(|| b.clone()))
            .collect();
        let boards = found?;
        let netlist = Netlist::new(family, &boards);
        Ok(Self {
            family,
            boards,
            netlist,
        })
    }

    /// The family.
    #[must_use]
    pub fn family(&self) -> &'f Family {
        self.family
    }

    /// The boards.
    #[must_use]
    pub fn boards(&self) -> &[&'f Board] {
        &self.boards
    }

    /// Names and parts in circuit order (the order of [`Point::parts`]); a part that attaches a load
    /// is seen as that load.
    #[must_use]
    pub fn parts(&self) -> Vec<(String, &'f Part)> {
        self.netlist
            .parts
            .iter()
            .map(|p| (p.name.clone(), p.part))
            .collect()
    }

    /// Names of the nets in circuit order, without ground.
    #[must_use]
    pub fn net_names(&self) -> Vec<String> {
        self.netlist.nets.clone()
    }

    /// Names of the cell parts in circuit order.
    #[must_use]
    pub fn cell_names(&self) -> Vec<String> {
        let parts = self.netlist.parts.iter();
        let cells = parts.filter(|p| matches!(p.part.device, Device::Cell(_)));
        cells.map(|p| p.name.clone()).collect()
    }

    /// Names of the supplies in circuit order.
    #[must_use]
    pub fn supply_names(&self) -> Vec<String> {
        let parts = self.netlist.parts.iter();
        let supplies = parts.filter(|p| matches!(p.part.device, Device::Supply(_)));
        supplies.map(|p| p.name.clone()).collect()
    }

    /// Names and loads in circuit order (the order of [`Point::loads`]).
    #[must_use]
    pub fn loads(&self) -> Vec<(String, &'f Load)> {
        self.netlist
            .loads
            .iter()
            .map(|l| (l.name.clone(), l.load))
            .collect()
    }

    /// Place of a net in circuit order (the order of [`Point::nets`] and [`Figures::net_volts`]).
    #[must_use]
    pub fn net_place(&self, name: &str) -> Option<usize> {
        self.netlist.nets.iter().position(|net| net == name)
    }

    /// Solves one situation. `warm` is a point of a neighbouring situation to start from.
    ///
    /// Floating control pins are looked for with rested cells only: along a life they would be the
    /// same at every instant.
    ///
    /// # Errors
    /// See [`NoPoint`]. A converter past its fold is not an error: it is switched off with
    /// [`Mode::Collapsed`] and listed in [`Point::folds`].
    pub fn solve(
        &self,
        situation: &Situation,
        cells: &CellDrive,
        warm: Option<&Point>,
    ) -> Result<Point, NoPoint> {
        self.solve_from(situation, cells, warm.map(|p| p.unknowns.as_slice()))
    }

    fn solve_from(
        &self,
        situation: &Situation,
        cells: &CellDrive,
        start: Option<&[f64]>,
    ) -> Result<Point, NoPoint> {
        let mut shelf = Shelf::default();
        let detail = Detail::Explained;
        let settled = settle(&self.netlist, situation, cells, &mut shelf, start, detail)?;
        Ok(self.point(&settled, cells))
    }

    /// A solver for many points of one situation.
    #[must_use]
    pub fn solver(&self, situation: Situation) -> Solver<'_, 'f> {
        Solver::new(self, situation)
    }

    fn point(&self, settled: &Settled, cells: &CellDrive) -> Point {
        let mut point = self.report(settled);
        if matches!(cells, CellDrive::Rested) {
            let hot = self.family.requirement.ambient.high.as_celsius();
            point.floating = floating::floating(settled, hot);
        }
        point
    }

    /// As [`Self::solve`], for searches that ask for many points: floating pins are not looked for.
    pub(crate) fn solve_in(
        &self,
        detail: Detail,
        situation: &Situation,
        cells: &CellDrive,
        warm: Option<&Point>,
    ) -> Result<Point, NoPoint> {
        let start = warm.map(|p| p.unknowns.as_slice());
        let mut shelf = Shelf::default();
        let settled = settle(&self.netlist, situation, cells, &mut shelf, start, detail)?;
        Ok(self.report(&settled))
    }

    /// Voltages and currents of a settled circuit.
    fn report(&self, settled: &Settled) -> Point {
        let x = &settled.solution.x;
        let list = &self.netlist;
        let mut part_amps: Vec<Vec<f64>> =
            list.parts.iter().map(|p| vec![0.0; p.nets.len()]).collect();
        let mut load_amps: Vec<Vec<f64>> = list
            .loads
            .iter()
            .map(|l| vec![0.0; 2 + l.drives.len()])
            .collect();
        let mut part_watts = vec![0.0; list.parts.len()];
        let mut load_watts = vec![0.0; list.loads.len()];
        let mut sums = vec![0.0; settled.kept.system.nets + 1];
        settled
            .kept
            .system
            .pin_currents(x, |owner, slot, net, amps| {
                let (pins, watts) = match owner {
                    Owner::Part(at) => (&mut part_amps[at], &mut part_watts[at]),
                    Owner::Load(at) => (&mut load_amps[at], &mut load_watts[at]),
                };
                if let Some(pin) = pins.get_mut(slot) {
                    *pin += amps;
                }
                *watts += volts(x, net) * amps;
                let last = sums.len() - 1;
                sums[net.min(last)] += amps;
            });
        let nets = list.nets.iter().enumerate();
        let mut nets: Vec<NetPoint> = nets
            .map(|(at, name)| NetPoint {
                name: name.clone(),
                volts: x[at],
            })
            .collect();
        nets.push(NetPoint {
            name: list.ground.clone(),
            volts: 0.0,
        });
        let parts = (0..list.parts.len())
            .map(|at| self.part_point(settled, at, &part_amps[at], part_watts[at]))
            .collect();
        let loads = (0..list.loads.len())
            .map(|at| self.load_point(settled, at, load_amps[at][0], load_watts[at]))
            .collect();
        Point {
            nets,
            parts,
            loads,
            floating: Vec::new(),
            folds: settled.folds.clone(),
            kcl_residual_amps: sums.iter().fold(0.0_f64, |m, v| m.max(v.abs())),
            newton_steps: settled.steps,
            unknowns: x.clone(),
        }
    }

    fn part_point(&self, settled: &Settled, at: usize, pin_amps: &[f64], watts: f64) -> PartPoint {
        let placed = &self.netlist.parts[at];
        let x = &settled.solution.x;
        let level = |slot: usize| {
            placed
                .nets
                .get(slot)
                .copied()
                .flatten()
                .map_or(0.0, |n| volts(x, n))
        };
        let (first, second) = match &placed.part.device {
            Device::Regulator(_) | Device::Detector(_) => (1, 2),
            _ => (0, 1),
        };
        let is_source = matches!(placed.part.device, Device::Cell(_) | Device::Supply(_));
        let amps = pin_amps.first().copied().unwrap_or(0.0);
        let alone = placed.nets.len() < 2;
        let inductor_amps = settled
            .kept
            .system
            .elements
            .iter()
            .find_map(|(owner, element)| match element {
                element::Element::Regulator(t) if *owner == Owner::Part(at) => {
                    Some(t.reported_inductor_amps(x))
                }
                _ => None,
            });
        PartPoint {
            name: placed.name.clone(),
            amps: if is_source { -amps } else { amps },
            volts: level(first) - if alone { 0.0 } else { level(second) },
            watts,
            pin_amps: pin_amps.to_vec(),
            mode: settled.modes[at],
            inductor_amps,
        }
    }

    fn load_point(&self, settled: &Settled, at: usize, amps: f64, watts: f64) -> LoadPoint {
        let placed = &self.netlist.loads[at];
        let x = &settled.solution.x;
        let level = |net: Option<usize>| net.map_or(0.0, |n| volts(x, n));
        LoadPoint {
            name: placed.name.clone(),
            amps,
            volts: level(placed.plus) - level(placed.minus),
            watts,
            awake: settled.kept.flags.awake[at],
        }
    }
}
