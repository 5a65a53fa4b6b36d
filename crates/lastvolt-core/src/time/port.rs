//! What a board draws from its cells in each joint state of the loads.
//!
//! A board with one cell part is tabulated against the voltage at the cell's terminals. Boards with
//! several cell parts are solved directly, each point from the last one.

use crate::circuit::{CellDrive, Circuit, Mode, NoPoint, Point, Situation};
use crate::model::Device;
use crate::quantity::Temperature;
use crate::time::panel::Source;
use crate::time::schedule::Schedule;
use crate::time::site::{Seen, Site};
use crate::time::table::{Meets, Node, Solve, Stopped, Table, Through};

/// What the board does at one instant.
#[derive(Debug, Clone, Default)]
pub(crate) struct Reading {
    /// Discharge current of each cell part.
    pub(crate) amps: Vec<f64>,
    /// Voltage of one cell of each part at its terminals.
    pub(crate) cell_volts: Vec<f64>,
    /// Power taken by each part, then by each load (cell parts count their contacts only); then the
    /// voltage of each load and of the main rail.
    pub(crate) data: Vec<f64>,
}

/// Why there is no such instant.
#[derive(Debug, Clone)]
pub(crate) enum Halt {
    /// The board stops: by how many volts it misses, and what gives up.
    Stops { short_volts: f64, what: Stopped },
    /// No operating point.
    NoPoint(NoPoint),
}

impl From<NoPoint> for Halt {
    fn from(value: NoPoint) -> Self {
        Self::NoPoint(value)
    }
}

/// A board with its cells taken out, at one ambient.
pub(crate) struct Port<'c, 'f> {
    board: Bare<'c, 'f>,
    /// One table a joint state where there is one cell part.
    tables: Vec<Table>,
    /// Whether that is so.
    is_tabulated: bool,
}

/// The circuit with what is known of its joint states.
struct Bare<'c, 'f> {
    circuit: &'c Circuit<'f>,
    /// One situation a joint state.
    situations: Vec<Situation>,
    /// Places of the cell parts among all parts.
    cell_parts: Vec<usize>,
    part_count: usize,
    rail: Option<String>,
    /// What ran with fresh cells, one entry a joint state.
    fresh: Vec<Option<Fresh>>,
    warm: Vec<Option<Point>>,
    solved: usize,
    /// Voltages of the cells at which no operating point was found.
    unsolved: usize,
}

/// What runs with fresh cells.
#[derive(Debug, Clone)]
struct Fresh {
    modes: Vec<Option<Mode>>,
    awake: Vec<bool>,
}

impl<'c, 'f> Port<'c, 'f> {
    pub(crate) fn new(
        circuit: &'c Circuit<'f>,
        base: &Situation,
        schedule: &Schedule,
        ambient: Temperature,
        sites: &[Site],
    ) -> Self {
        let situations = schedule.joints.iter().map(|joint| {
            let mut situation = base.clone();
            situation.ambient = ambient;
            situation.states.extend(joint.set.clone());
            situation
        });
        let situations: Vec<Situation> = situations.collect();
        let joints = situations.len();
        let parts = circuit.parts();
        let is_cell = |at: &usize| matches!(parts[*at].1.device, Device::Cell(_));
        let tables = match sites {
            [site] => {
                let high = fresh_volts(site).max(supply_volts(circuit)) * 1.02 + 0.01;
                (0..joints).map(|_| Table::new(high)).collect()
            }
            _ => Vec::new(),
        };
        Self {
            is_tabulated: sites.len() == 1,
            tables,
            board: Bare {
                circuit,
                situations,
                cell_parts: (0..parts.len()).filter(is_cell).collect(),
                part_count: parts.len(),
                rail: circuit.family().connector.rail().map(str::to_owned),
                fresh: vec![None; joints],
                warm: vec![None; joints],
                solved: 0,
                unsolved: 0,
            },
        }
    }

    /// Operating points solved so far.
    pub(crate) fn solved(&self) -> usize {
        self.board.solved
    }

    /// Voltages of the cells at which no operating point was found.
    pub(crate) fn unsolved(&self) -> usize {
        self.board.unsolved
    }

    /// Whether an answer is cheap.
    pub(crate) fn is_tabulated(&self) -> bool {
        self.is_tabulated
    }

    /// How many of a reading's data are powers.
    pub(crate) fn powers(&self) -> usize {
        self.board.part_count + self.board.circuit.loads().len()
    }

    /// What happens in a joint state with the cells as they are.
    pub(crate) fn read(
        &mut self,
        joint: usize,
        sites: &[Site],
        seen: &[Seen],
        through: Through,
        out: &mut Reading,
    ) -> Result<(), Halt> {
        let ([site], [cell]) = (sites, seen) else {
            return self.board.read(joint, sites, seen, through, out);
        };
        let board = &mut self.board;
        let fresh = fresh_volts(site);
        let mut solve = |volts: f64| board.node(joint, volts, fresh);
        read_table(
            &mut self.tables[joint],
            site,
            cell,
            through,
            &mut solve,
            out,
        )
    }

    /// The point of a joint state at a voltage of the terminals, between those of its table.
    pub(crate) fn node_at(
        &mut self,
        joint: usize,
        volts: f64,
        site: &Site,
    ) -> Result<Node, NoPoint> {
        let board = &mut self.board;
        let fresh = fresh_volts(site);
        self.tables[joint].at(volts, &mut |volts| board.node(joint, volts, fresh))
    }

    /// Tables of the same range with nothing in them.
    pub(crate) fn empty_tables(&self) -> Vec<Table> {
        self.tables.iter().map(Table::emptied).collect()
    }

    /// The solved point of a joint state with the cells as they are.
    pub(crate) fn point(
        &mut self,
        joint: usize,
        sites: &[Site],
        seen: &[Seen],
    ) -> Result<Point, NoPoint> {
        let drive = states(sites, seen);
        // The points of a table have other unknowns.
        let warm = if self.is_tabulated {
            None
        } else {
            self.board.warm[joint].as_ref()
        };
        self.board.solved += 1;
        let situation = &self.board.situations[joint];
        self.board.circuit.solve(situation, &drive, warm)
    }
}

/// Where a cell meets a table of the board.
pub(crate) fn read_table(
    table: &mut Table,
    site: &Site,
    cell: &Seen,
    through: Through,
    solve: &mut Solve,
    out: &mut Reading,
) -> Result<(), Halt> {
    let series = site.series as f64;
    let source = Source {
        volts: series * (cell.open_volts - cell.branches_volts),
        ohms: series * cell.ohms,
        series,
        model: site.model,
    };
    match table.meet(&source, through, solve)? {
        Meets::Never(short_volts, what) => Err(Halt::Stops { short_volts, what }),
        Meets::At(meeting) => {
            out.amps.clear();
            out.amps.push(meeting.amps);
            out.cell_volts.clear();
            out.cell_volts.push(meeting.volts / series);
            table.read(&meeting, &mut out.data);
            Ok(())
        }
    }
}

/// Highest voltage of a site, all its cells in series.
fn fresh_volts(site: &Site) -> f64 {
    let open = site.model.open_circuit.points().map(|p| p.1);
    open.fold(0.05_f64, f64::max) * site.series as f64
}

/// Highest voltage of a supply, which may push current into a cell.
fn supply_volts(circuit: &Circuit) -> f64 {
    let parts = circuit.parts();
    let open = parts.iter().filter_map(|(_, part)| match &part.device {
        Device::Supply(supply) => Some(supply.open_circuit.si()),
        _ => None,
    });
    open.fold(0.0, f64::max)
}

fn states(sites: &[Site], seen: &[Seen]) -> CellDrive {
    let each = sites.iter().zip(seen);
    CellDrive::States(each.map(|(site, s)| vec![s.state(); site.series]).collect())
}

impl Bare<'_, '_> {
    fn solve(&mut self, joint: usize, drive: &CellDrive) -> Result<Point, NoPoint> {
        self.solved += 1;
        let warm = self.warm[joint].as_ref();
        self.circuit.solve(&self.situations[joint], drive, warm)
    }

    /// One point of a table.
    fn node(&mut self, joint: usize, volts: f64, fresh: f64) -> Result<Node, NoPoint> {
        if self.fresh[joint].is_none() {
            let point = self.solve(joint, &CellDrive::Terminals(vec![fresh]))?;
            self.remember(joint, &point);
            self.warm[joint] = Some(point);
        }
        let drive = CellDrive::Terminals(vec![volts]);
        let Ok(point) = self.solve(joint, &drive) else {
            // Fresh cells have a point, so what follows them down to here is known: the board is
            // taken to stop, and the answer says so.
            self.unsolved += 1;
            return Ok(self.dead(volts));
        };
        let amps = self
            .cell_parts
            .first()
            .map_or(0.0, |&at| point.parts[at].amps);
        let mut data = self.data(&point);
        if let Some(&at) = self.cell_parts.first() {
            data[at] += volts * amps;
        }
        let stopped = self.stopped(joint, &point);
        let node = Node {
            volts,
            source_watts: volts * amps,
            powers: self.part_count + point.loads.len(),
            data,
            modes: point.parts.iter().map(|p| p.mode).collect(),
            awake: point.loads.iter().map(|l| l.awake).collect(),
            stopped,
        };
        if stopped.is_none() {
            self.warm[joint] = Some(point);
        }
        Ok(node)
    }

    /// A point of a table at which the board does not run.
    fn dead(&self, volts: f64) -> Node {
        let loads = self.circuit.loads().len();
        Node {
            volts,
            source_watts: 0.0,
            powers: self.part_count + loads,
            data: vec![0.0; self.part_count + 2 * loads + 1],
            modes: Vec::new(),
            awake: Vec::new(),
            stopped: Some(Stopped::Cell),
        }
    }

    /// Solves directly with several cell parts.
    fn read(
        &mut self,
        joint: usize,
        sites: &[Site],
        seen: &[Seen],
        through: Through,
        out: &mut Reading,
    ) -> Result<(), Halt> {
        if self.fresh[joint].is_none() {
            let rested = sites.iter();
            let rested = rested
                .map(|s| vec![s.model.rested(0.0); s.series])
                .collect();
            let point = self.solve(joint, &CellDrive::States(rested))?;
            self.remember(joint, &point);
        }
        let point = self.solve(joint, &states(sites, seen))?;
        let stopped = self.stopped(joint, &point);
        if let (Some(what), Through::Stops) = (stopped, through) {
            let short_volts = 1e-3;
            return Err(Halt::Stops { short_volts, what });
        }
        out.amps.clear();
        out.cell_volts.clear();
        out.data = self.data(&point);
        for ((site, cell), &at) in sites.iter().zip(seen).zip(&self.cell_parts) {
            let amps = point.parts[at].amps;
            let act = site.model.activation_volts(amps).0;
            let volts = cell.open_volts - cell.branches_volts - amps * cell.ohms - act;
            out.amps.push(amps);
            out.cell_volts.push(volts);
            out.data[at] += volts * amps * site.series as f64;
        }
        self.warm[joint] = Some(point);
        Ok(())
    }

    /// Powers of parts and loads, then the rails.
    fn data(&self, point: &Point) -> Vec<f64> {
        let mut data: Vec<f64> = point.parts.iter().map(|p| p.watts).collect();
        data.extend(point.loads.iter().map(|l| l.watts));
        data.extend(point.loads.iter().map(|l| l.volts));
        data.push(self.rail.as_ref().and_then(|r| point.net(r)).unwrap_or(0.0));
        data
    }

    fn remember(&mut self, joint: usize, point: &Point) {
        self.fresh[joint] = Some(Fresh {
            modes: point.parts.iter().map(|p| p.mode).collect(),
            awake: point.loads.iter().map(|l| l.awake).collect(),
        });
    }

    /// What has given up compared with fresh cells.
    fn stopped(&self, joint: usize, point: &Point) -> Option<Stopped> {
        let fresh = self.fresh[joint].as_ref()?;
        let converter = point.parts.iter().zip(&fresh.modes);
        let converter = converter
            .enumerate()
            .find(|(_, (part, first))| has_fallen(part.mode) && !has_fallen(**first));
        if let Some((at, _)) = converter {
            return Some(Stopped::Converter(at));
        }
        let mut loads = point.loads.iter().zip(&fresh.awake);
        let asleep = loads.position(|(load, first)| !load.awake && *first);
        asleep.map(Stopped::Load)
    }
}

fn has_fallen(mode: Option<Mode>) -> bool {
    matches!(
        mode,
        Some(Mode::Off | Mode::Collapsed | Mode::Start | Mode::Hiccup)
    )
}
