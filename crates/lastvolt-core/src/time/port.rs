//! What a board draws from its cells in each joint state of the loads.
//!
//! A board with one cell part is tabulated against the voltage at the cell's terminals. Boards with
//! several cell parts are solved directly, each point from the last one.

use crate::circuit::{CellDrive, Circuit, Figures, Mode, NoPoint, Point, Situation, Solver};
use crate::device::{CellModel, CellState};
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

/// What of a reading is asked for; the rest of its data may be anything.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Wanted {
    Powers,
    Rails,
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
    known: &'c mut Known,
    /// Whether there are tables.
    is_tabulated: bool,
}

/// What a port finds out that holds for any state of its cells, kept for further lives of the same
/// board, schedule and ambient. Nothing in it hangs on what was asked before.
#[derive(Debug, Clone, Default)]
pub(crate) struct Known {
    /// One table a joint state where there is one cell part.
    tables: Vec<Table>,
    /// What ran with fresh cells, one entry a joint state.
    fresh: Vec<Option<Fresh>>,
}

/// The circuit with what is known of its joint states.
struct Bare<'c, 'f> {
    /// One a joint state.
    solvers: Vec<Solver<'c, 'f>>,
    /// Places of the cell parts among all parts.
    cell_parts: Vec<usize>,
    parts: usize,
    loads: usize,
    /// Place of the main rail among the nets.
    rail: Option<usize>,
    /// Whether the solver of a joint state begins with fresh cells.
    begun: Vec<bool>,
    /// The last point of each joint state at which the board ran.
    figures: Vec<Figures>,
    spare: Figures,
    solved: usize,
}

/// What runs with fresh cells.
#[derive(Debug, Clone)]
struct Fresh {
    modes: Vec<Option<Mode>>,
    awake: Vec<bool>,
    unknowns: Vec<f64>,
}

impl<'c, 'f> Port<'c, 'f> {
    pub(crate) fn new(
        circuit: &'c Circuit<'f>,
        base: &Situation,
        schedule: &Schedule,
        ambient: Temperature,
        sites: &[Site],
        known: &'c mut Known,
    ) -> Self {
        let solvers = schedule.joints.iter().map(|joint| {
            let mut situation = base.clone();
            situation.ambient = ambient;
            situation.states.extend(joint.set.clone());
            circuit.solver(situation)
        });
        let solvers: Vec<Solver> = solvers.collect();
        let joints = solvers.len();
        let parts = circuit.parts();
        let is_cell = |at: &usize| matches!(parts[*at].1.device, Device::Cell(_));
        known.begin(highest_volts(circuit, sites), joints);
        let rail = circuit.family().connector.rail();
        Self {
            is_tabulated: sites.len() == 1,
            known,
            board: Bare {
                solvers,
                cell_parts: (0..parts.len()).filter(is_cell).collect(),
                parts: parts.len(),
                loads: circuit.loads().len(),
                rail: rail.and_then(|rail| circuit.net_place(rail)),
                begun: vec![false; joints],
                figures: vec![Figures::default(); joints],
                spare: Figures::default(),
                solved: 0,
            },
        }
    }

    /// Operating points solved so far.
    pub(crate) fn solved(&self) -> usize {
        self.board.solved
    }

    /// Tables that come by voltages of the cells at which no operating point was found.
    pub(crate) fn unsolved(&self) -> usize {
        self.known.tables.iter().filter(|t| t.is_unsolved()).count()
    }

    /// Whether an answer is cheap.
    pub(crate) fn is_tabulated(&self) -> bool {
        self.is_tabulated
    }

    /// How many of a reading's data are powers.
    pub(crate) fn powers(&self) -> usize {
        self.board.parts + self.board.loads
    }

    /// What happens in a joint state with the cells as they are.
    pub(crate) fn read(
        &mut self,
        joint: usize,
        sites: &[Site],
        seen: &[Seen],
        through: Through,
        wanted: Wanted,
        out: &mut Reading,
    ) -> Result<(), Halt> {
        let ([site], [cell]) = (sites, seen) else {
            let fresh = &mut self.known.fresh[joint];
            return self.board.read(joint, (sites, seen), fresh, through, out);
        };
        let (board, fresh) = (&mut self.board, &mut self.known.fresh[joint]);
        let volts = fresh_volts(site);
        let mut solve =
            |at: f64, near: Option<&Node>| board.table_node(joint, at, near, fresh, volts);
        let table = &mut self.known.tables[joint];
        read_table(table, site, cell, (through, wanted), &mut solve, out)
    }

    /// The point of a joint state at a voltage of the terminals, between those of its table.
    pub(crate) fn node_at(
        &mut self,
        joint: usize,
        volts: f64,
        site: &Site,
    ) -> Result<Node, NoPoint> {
        let (board, fresh) = (&mut self.board, &mut self.known.fresh[joint]);
        let fresh_volts = fresh_volts(site);
        let mut solve =
            |at: f64, near: Option<&Node>| board.table_node(joint, at, near, fresh, fresh_volts);
        self.known.tables[joint].at(volts, &mut solve)
    }

    /// The solved point of a joint state with the cells as they are.
    pub(crate) fn point(
        &mut self,
        joint: usize,
        sites: &[Site],
        seen: &[Seen],
    ) -> Result<Point, NoPoint> {
        let drive = states(sites, seen);
        self.board.solved += 1;
        // The points of a table have other unknowns.
        let near = (!self.is_tabulated).then(|| &self.board.figures[joint]);
        self.board.solvers[joint].alone(&drive, near)
    }
}

/// Where a cell meets a table of the board.
pub(crate) fn read_table(
    table: &mut Table,
    site: &Site,
    cell: &Seen,
    (through, wanted): (Through, Wanted),
    solve: &mut Solve,
    out: &mut Reading,
) -> Result<(), Halt> {
    let series = site.series as f64;
    let inner_volts = cell.open_volts - cell.branches_volts;
    let source = match cell.lag_amps {
        // The capacitor holds the terminals where the current of the cells puts them.
        Some(amps) => {
            let drop = amps * cell.series_ohms() + site.model.activation_volts(amps).0;
            Source {
                volts: series * (inner_volts - drop),
                ohms: 0.0,
                series: 0.0,
                model: site.model,
            }
        }
        None => Source {
            volts: series * inner_volts,
            ohms: series * cell.series_ohms(),
            series,
            model: site.model,
        },
    };
    match table.meet(&source, through, solve)? {
        Meets::Never(short_volts, what) => Err(Halt::Stops { short_volts, what }),
        Meets::At(meeting) => {
            out.amps.clear();
            out.amps.push(meeting.amps);
            out.cell_volts.clear();
            out.cell_volts.push(meeting.volts / series);
            table.read(&meeting, wanted, &mut out.data);
            Ok(())
        }
    }
}

/// Highest voltage of the tables of a board, where it has tables.
pub(crate) fn highest_volts(circuit: &Circuit, sites: &[Site]) -> Option<f64> {
    match sites {
        [site] => Some(fresh_volts(site).max(supply_volts(circuit)) * 1.02 + 0.01),
        _ => None,
    }
}

/// Highest voltage of a site, all its cells in series.
fn fresh_volts(site: &Site) -> f64 {
    let open = site.model.open_circuit.points().map(|p| p.1);
    let shifts = site.model.temperature.iter().flat_map(|t| &t.open_circuit);
    let most_shift = shifts.fold(0.0_f64, |most, shift| most.max(*shift));
    (open.fold(0.05_f64, f64::max) + most_shift) * site.series as f64
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
    /// One point of a table, once fresh cells are known.
    fn table_node(
        &mut self,
        joint: usize,
        volts: f64,
        near: Option<&Node>,
        fresh: &mut Option<Fresh>,
        fresh_volts: f64,
    ) -> Result<Node, NoPoint> {
        if !self.begun[joint] {
            *fresh = Some(self.begin_fresh(joint, fresh_volts)?);
        }
        self.node(joint, volts, near, fresh.as_ref())
    }

    /// One point of a table. It hangs on its voltage, on `near` and on fresh cells alone.
    fn node(
        &mut self,
        joint: usize,
        volts: f64,
        near: Option<&Node>,
        fresh: Option<&Fresh>,
    ) -> Result<Node, NoPoint> {
        let first = fresh.map(|fresh| &fresh.unknowns);
        let start = near.map(|near| &near.unknowns).or(first);
        let start = start.map(Vec::as_slice);
        let drive = CellDrive::Terminals(vec![volts]);
        let solver = &mut self.solvers[joint];
        solver.begin();
        self.solved += 1;
        if solver.solve_from(&drive, start, &mut self.spare).is_err() {
            // Fresh cells have a point, so what follows them down to here is known: the board is
            // taken to stop, and the answer says so.
            return Ok(self.dead(volts));
        }
        let figures = &self.spare;
        let cell = self.cell_parts.first();
        let amps = cell.map_or(0.0, |&at| figures.part_amps[at]);
        let mut data = Vec::new();
        self.data(figures, &mut data);
        if let Some(&at) = cell {
            data[at] += volts * amps;
        }
        Ok(Node {
            volts,
            source_watts: volts * amps,
            powers: self.parts + self.loads,
            data,
            modes: figures.modes.clone(),
            awake: figures.awake.clone(),
            stopped: stopped(fresh, figures),
            unknowns: figures.unknowns.clone(),
        })
    }

    /// Solves with fresh cells, from which all points of a table begin.
    fn begin_fresh(&mut self, joint: usize, volts: f64) -> Result<Fresh, NoPoint> {
        self.solved += 1;
        let drive = CellDrive::Terminals(vec![volts]);
        let (solver, figures) = (&mut self.solvers[joint], &mut self.figures[joint]);
        solver.solve_from(&drive, None, figures)?;
        solver.begin_here();
        self.begun[joint] = true;
        Ok(Fresh::new(figures))
    }

    /// A point of a table at which the board does not run.
    fn dead(&self, volts: f64) -> Node {
        Node {
            volts,
            source_watts: 0.0,
            powers: self.parts + self.loads,
            data: vec![0.0; self.parts + 2 * self.loads + 1],
            modes: Vec::new(),
            awake: Vec::new(),
            stopped: Some(Stopped::Cell),
            unknowns: Vec::new(),
        }
    }

    /// Solves directly with several cell parts.
    fn read(
        &mut self,
        joint: usize,
        (sites, seen): (&[Site], &[Seen]),
        fresh: &mut Option<Fresh>,
        through: Through,
        out: &mut Reading,
    ) -> Result<(), Halt> {
        if fresh.is_none() {
            let rested = sites.iter();
            let rested = rested
                .map(|s| vec![fresh_state(s.model); s.series])
                .collect();
            let (solver, figures) = (&mut self.solvers[joint], &mut self.figures[joint]);
            self.solved += 1;
            solver.solve_from(&CellDrive::States(rested), None, figures)?;
            *fresh = Some(Fresh::new(figures));
        }
        let (solver, near) = (&mut self.solvers[joint], &self.figures[joint]);
        self.solved += 1;
        solver.solve(&states(sites, seen), Some(near), &mut self.spare)?;
        let stopped = stopped(fresh.as_ref(), &self.spare);
        if let (Some(what), Through::Stops) = (stopped, through) {
            let short_volts = 1e-3;
            return Err(Halt::Stops { short_volts, what });
        }
        std::mem::swap(&mut self.figures[joint], &mut self.spare);
        let figures = &self.figures[joint];
        out.amps.clear();
        out.cell_volts.clear();
        self.data(figures, &mut out.data);
        for ((site, cell), &at) in sites.iter().zip(seen).zip(&self.cell_parts) {
            let amps = figures.part_amps[at];
            let act = site.model.activation_volts(amps).0;
            let drop = amps * cell.series_ohms();
            let volts = cell.open_volts - cell.branches_volts - drop - act;
            out.amps.push(amps);
            out.cell_volts.push(volts);
            out.data[at] += volts * amps * site.series as f64;
        }
        Ok(())
    }

    /// Powers of parts and loads, then the rails.
    fn data(&self, figures: &Figures, out: &mut Vec<f64>) {
        out.clear();
        out.extend_from_slice(&figures.part_watts);
        out.extend_from_slice(&figures.load_watts);
        out.extend_from_slice(&figures.load_volts);
        let rail = self.rail.and_then(|rail| figures.net_volts.get(rail));
        out.push(rail.copied().unwrap_or(0.0));
    }
}

impl Fresh {
    fn new(figures: &Figures) -> Self {
        Self {
            modes: figures.modes.clone(),
            awake: figures.awake.clone(),
            unknowns: figures.unknowns.clone(),
        }
    }
}

impl Known {
    /// Begins a life; what does not fit its cells is forgotten.
    fn begin(&mut self, high: Option<f64>, joints: usize) {
        if !begin_tables(&mut self.tables, high, joints) {
            self.fresh = vec![None; joints];
        }
    }
}

/// Begins a life with tables, one a joint state; says whether they fit its cells and were kept.
pub(crate) fn begin_tables(tables: &mut Vec<Table>, high: Option<f64>, joints: usize) -> bool {
    let fits = |table: &Table| high == Some(table.high());
    if !tables.is_empty() && tables.len() == joints && tables.iter().all(fits) {
        tables.iter_mut().for_each(Table::begin);
        return true;
    }
    *tables = high.map_or(Vec::new(), |high| vec![Table::new(high); joints]);
    false
}

/// What has given up compared with fresh cells.
fn stopped(fresh: Option<&Fresh>, figures: &Figures) -> Option<Stopped> {
    let fresh = fresh?;
    let mut modes = figures.modes.iter().zip(&fresh.modes);
    if let Some(at) = modes.position(|(mode, first)| has_fallen(*mode) && !has_fallen(*first)) {
        return Some(Stopped::Converter(at));
    }
    let mut loads = figures.awake.iter().zip(&fresh.awake);
    let asleep = loads.position(|(awake, first)| !awake && *first);
    asleep.map(Stopped::Load)
}

/// A fresh cell. Its film is left out: what a board does without one is what it can do.
fn fresh_state(model: &CellModel) -> CellState {
    CellState {
        film: 0.0,
        ..model.rested(0.0)
    }
}

fn has_fallen(mode: Option<Mode>) -> bool {
    matches!(
        mode,
        Some(Mode::Off | Mode::Collapsed | Mode::Start | Mode::Hiccup)
    )
}
