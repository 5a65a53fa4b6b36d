//! What a board draws from its cells in each joint state of the loads.
//!
//! A board with one cell part is tabulated against the voltage at the cell's terminals: its currents
//! depend on nothing else, so depth and resistance of the cell do not enter. Powers are interpolated
//! in a straight line, so that the lines of the ledger add exactly, and the current is power by
//! voltage. Boards with several cell parts are solved directly.

use std::cell::Cell as Counter;

use crate::circuit::{CellDrive, Circuit, Mode, NoPoint, Point, Situation};
use crate::device::{Cell, CellModel, CellState};
use crate::model::Device;
use crate::quantity::Temperature;
use crate::time::schedule::Schedule;

/// Nodes of a table.
const NODES: usize = 40;
/// Lowest voltage of a table as a share of the highest.
const LOWEST_SHARE: f64 = 0.15;
/// Width to which a change of mode is located.
const EDGE_VOLTS: f64 = 1e-4;

/// Equal cells in series: one part.
#[derive(Debug)]
pub(crate) struct Group<'f> {
    pub(crate) name: String,
    pub(crate) cell: &'f Cell,
}

/// What the board does at one instant.
#[derive(Debug, Clone)]
pub(crate) struct Reading {
    /// Discharge current of each cell part.
    pub(crate) amps: Vec<f64>,
    /// Voltage of one cell of each part at its terminals.
    pub(crate) cell_volts: Vec<f64>,
    /// Power taken by each part, then by each load; cell parts count their contacts only.
    pub(crate) watts: Vec<f64>,
    /// Voltage of each load, then of the main rail.
    pub(crate) rails: Vec<f64>,
}

/// Whether there is such an instant.
#[derive(Debug, Clone)]
pub(crate) enum Answer {
    /// The board runs.
    Runs(Reading),
    /// It does not: by how many volts it misses, and what gave up.
    Stops { short_volts: f64, what: Stopper },
}

/// What gives up when a board stops.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Stopper {
    /// A converter, by name.
    Converter(String),
    /// A load in reset, by place.
    Load(usize),
}

/// A board with its cells taken out, at one ambient.
pub(crate) struct Port<'c, 'f> {
    circuit: &'c Circuit<'f>,
    celsius: f64,
    /// One situation a joint state.
    situations: Vec<Situation>,
    /// One table a joint state where there is one cell part.
    tables: Vec<Table>,
    part_count: usize,
    /// Places of the cell parts among all parts.
    cell_parts: Vec<usize>,
    rail: Option<String>,
    solved: Counter<usize>,
}

/// Nodes of falling voltage, all on the running branch.
#[derive(Debug, Default)]
struct Table {
    nodes: Vec<Node>,
    stopper: Option<Stopper>,
    /// Node found last, to look there first.
    hint: Counter<usize>,
}

#[derive(Debug, Clone)]
struct Node {
    volts: f64,
    /// Power out of the terminals.
    source_watts: f64,
    watts: Vec<f64>,
    rails: Vec<f64>,
    modes: Vec<Option<Mode>>,
    awake: Vec<bool>,
}

/// The cell parts of a circuit.
pub(crate) fn groups<'f>(circuit: &Circuit<'f>) -> Vec<Group<'f>> {
    let parts = circuit.parts().into_iter();
    parts
        .filter_map(|(name, part)| match &part.device {
            Device::Cell(cell) => Some(Group { name, cell }),
            _ => None,
        })
        .collect()
}

impl<'c, 'f> Port<'c, 'f> {
    /// Tabulates (or prepares) every joint state of a schedule at one ambient.
    pub(crate) fn new(
        circuit: &'c Circuit<'f>,
        base: &Situation,
        schedule: &Schedule,
        ambient: Temperature,
    ) -> Result<Self, NoPoint> {
        let situations = schedule.joints.iter().map(|joint| {
            let mut situation = base.clone();
            situation.ambient = ambient;
            situation.states.extend(joint.set.clone());
            situation
        });
        let parts = circuit.parts();
        let is_cell = |at: &usize| matches!(parts[*at].1.device, Device::Cell(_));
        let mut port = Self {
            circuit,
            celsius: ambient.as_celsius(),
            situations: situations.collect(),
            tables: Vec::new(),
            part_count: parts.len(),
            cell_parts: (0..parts.len()).filter(is_cell).collect(),
            rail: circuit.family().connector.rail().map(str::to_owned),
            solved: Counter::new(0),
        };
        let groups = groups(circuit);
        if let [group] = groups.as_slice() {
            for joint in 0..port.situations.len() {
                let table = port.tabulate(joint, group)?;
                port.tables.push(table);
            }
        }
        Ok(port)
    }

    pub(crate) fn celsius(&self) -> f64 {
        self.celsius
    }

    /// Operating points solved so far.
    pub(crate) fn solved(&self) -> usize {
        self.solved.get()
    }

    /// What happens in a joint state with the cells as they are.
    pub(crate) fn read(
        &self,
        joint: usize,
        groups: &[Group],
        cells: &[CellState],
    ) -> Result<Answer, NoPoint> {
        match (groups, cells) {
            ([group], [state]) => Ok(self.tables[joint].read(group, state, self.celsius)),
            _ => self.solve_directly(joint, groups, cells),
        }
    }

    /// The solved point of a joint state with the cells as they are.
    pub(crate) fn point(
        &self,
        joint: usize,
        groups: &[Group],
        cells: &[CellState],
    ) -> Result<Point, NoPoint> {
        let states = groups.iter().zip(cells);
        let states = states
            .map(|(g, s)| vec![s.clone(); g.cell.series])
            .collect();
        self.solved.set(self.solved.get() + 1);
        self.circuit
            .solve(&self.situations[joint], &CellDrive::States(states), None)
    }

    fn solve_directly(
        &self,
        joint: usize,
        groups: &[Group],
        cells: &[CellState],
    ) -> Result<Answer, NoPoint> {
        let point = self.point(joint, groups, cells)?;
        let node = self.node(0.0, &point);
        if let Some(what) = self.stopper(&node.modes, &node.awake, None) {
            return Ok(Answer::Stops {
                short_volts: 1e-3,
                what,
            });
        }
        let amps: Vec<f64> = self
            .cell_parts
            .iter()
            .map(|&at| point.parts[at].amps)
            .collect();
        let terminal = groups.iter().zip(cells).zip(&amps);
        let cell_volts: Vec<f64> = terminal
            .map(|((g, s), &i)| g.cell.model.terminal_volts(s, i, self.celsius).0)
            .collect();
        let mut watts = node.watts;
        for (k, group) in groups.iter().enumerate() {
            let taken = cell_volts[k] * amps[k] * group.cell.series as f64;
            watts[self.cell_parts[k]] += taken;
        }
        Ok(Answer::Runs(Reading {
            amps,
            cell_volts,
            watts,
            rails: node.rails,
        }))
    }

    fn tabulate(&self, joint: usize, group: &Group) -> Result<Table, NoPoint> {
        let open = group.cell.model.open_circuit.points().map(|p| p.1);
        let top = open.fold(0.1_f64, f64::max) * group.cell.series as f64 * 1.01;
        let step = top * (1.0 - LOWEST_SHARE) / (NODES - 1) as f64;
        let mut table = Table::default();
        let mut warm: Option<Point> = None;
        for k in 0..NODES {
            let volts = top - step * k as f64;
            let point = self.at_terminals(joint, volts, warm.as_ref())?;
            let node = self.node(volts, &point);
            let first = table.nodes.first();
            let stopper = first.and_then(|f| self.stopper(&node.modes, &node.awake, Some(f)));
            if let Some(previous) = table.nodes.last().cloned()
                && (stopper.is_some() || previous.modes != node.modes)
            {
                self.add_edge(joint, &previous, &node, &mut table)?;
            }
            if stopper.is_some() {
                table.stopper = stopper;
                break;
            }
            table.nodes.push(node);
            warm = Some(point);
        }
        Ok(table)
    }

    /// Locates a change between two nodes and adds the nodes on the running side of it.
    fn add_edge(
        &self,
        joint: usize,
        high: &Node,
        low: &Node,
        table: &mut Table,
    ) -> Result<(), NoPoint> {
        let (mut high, mut low) = (high.clone(), low.clone());
        while high.volts - low.volts > EDGE_VOLTS {
            let volts = f64::midpoint(high.volts, low.volts);
            let node = self.node(volts, &self.at_terminals(joint, volts, None)?);
            if node.modes == high.modes && node.awake == high.awake {
                high = node;
            } else {
                low = node;
            }
        }
        let first = table.nodes.first().cloned();
        let runs = self
            .stopper(&low.modes, &low.awake, first.as_ref())
            .is_none();
        let last_volts = table.nodes.last().map_or(f64::MAX, |n| n.volts);
        if high.volts < last_volts {
            table.nodes.push(high);
        }
        if runs {
            table.nodes.push(low);
        }
        Ok(())
    }

    fn at_terminals(
        &self,
        joint: usize,
        volts: f64,
        warm: Option<&Point>,
    ) -> Result<Point, NoPoint> {
        self.solved.set(self.solved.get() + 1);
        self.circuit.solve(
            &self.situations[joint],
            &CellDrive::Terminals(vec![volts]),
            warm,
        )
    }

    fn node(&self, volts: f64, point: &Point) -> Node {
        let amps = self
            .cell_parts
            .first()
            .map_or(0.0, |&at| point.parts[at].amps);
        let mut watts: Vec<f64> = point.parts.iter().map(|p| p.watts).collect();
        watts.extend(point.loads.iter().map(|l| l.watts));
        if let ([at], true) = (self.cell_parts.as_slice(), volts != 0.0) {
            watts[*at] += volts * amps;
        }
        let mut rails: Vec<f64> = point.loads.iter().map(|l| l.volts).collect();
        rails.push(self.rail.as_ref().and_then(|r| point.net(r)).unwrap_or(0.0));
        Node {
            volts,
            source_watts: volts * amps,
            watts,
            rails,
            modes: point.parts.iter().map(|p| p.mode).collect(),
            awake: point.loads.iter().map(|l| l.awake).collect(),
        }
    }

    /// What has given up compared with a first node, or at all where there is none.
    fn stopper(
        &self,
        modes: &[Option<Mode>],
        awake: &[bool],
        first: Option<&Node>,
    ) -> Option<Stopper> {
        let fallen = |mode: Option<Mode>| {
            matches!(
                mode,
                Some(Mode::Off | Mode::Collapsed | Mode::Start | Mode::Hiccup)
            )
        };
        let converter = (0..self.part_count).find(|&at| match first {
            Some(f) => fallen(modes[at]) && !fallen(f.modes[at]),
            None => modes[at] == Some(Mode::Collapsed),
        });
        if let Some(at) = converter {
            return Some(Stopper::Converter(self.circuit.parts()[at].0.clone()));
        }
        let asleep = (0..awake.len()).find(|&at| !awake[at] && first.is_some_and(|f| f.awake[at]));
        asleep.map(Stopper::Load)
    }
}

/// A string of cells seen from its terminals, its state worked in.
struct Source<'m> {
    model: &'m CellModel,
    series: f64,
    emf_volts: f64,
    ohms: f64,
}

impl<'m> Source<'m> {
    fn new(group: &'m Group, state: &CellState, celsius: f64) -> Self {
        let model = &group.cell.model;
        let x = model.surface(state.depth, state.imbalance);
        Self {
            model,
            series: group.cell.series as f64,
            emf_volts: model.open_circuit_volts(x).0 - state.branch_volts.iter().sum::<f64>(),
            ohms: model.resistance_ohms(x, celsius, state.aged),
        }
    }

    /// By how much the string's voltage under a power lies above a terminal voltage.
    fn excess(&self, volts: f64, watts: f64) -> f64 {
        let amps = watts / volts;
        let activation = self.model.activation_volts(amps).0;
        self.series * (self.emf_volts - self.ohms * amps - activation) - volts
    }

    /// Newton's steps to the meeting point between two voltages, for power and its slope by voltage.
    fn meet(&self, low: f64, high: f64, power: impl Fn(f64) -> (f64, f64)) -> Option<f64> {
        let mut volts = high;
        for _ in 0..12 {
            let (watts, slope) = power(volts);
            let amps = watts / volts;
            let (activation, activation_ohms) = self.model.activation_volts(amps);
            let value = self.series * (self.emf_volts - self.ohms * amps - activation) - volts;
            let amps_slope = (slope - amps) / volts;
            let fall = -self.series * (self.ohms + activation_ohms) * amps_slope - 1.0;
            let step = value / fall;
            volts -= step;
            if !(low - 1e-9..=high + 1e-9).contains(&volts) || fall >= 0.0 {
                return None;
            }
            if step.abs() <= 1e-10 {
                return Some(volts);
            }
        }
        None
    }
}

impl Table {
    /// Where the string's voltage under the board's current meets the terminal voltage, from the top.
    fn read(&self, group: &Group, state: &CellState, celsius: f64) -> Answer {
        let source = Source::new(group, state, celsius);
        let value = |at: usize| source.excess(self.nodes[at].volts, self.nodes[at].source_watts);
        // Above the meeting point the excess falls with the voltage, so a neighbour of the last one
        // found, with the signs right, is the first from the top.
        let hint = self.hint.get();
        for at in [hint, hint.wrapping_add(1), hint.wrapping_sub(1)] {
            if at > 0 && at < self.nodes.len() && value(at) >= 0.0 && value(at - 1) < 0.0 {
                self.hint.set(at);
                return Answer::Runs(self.between(&self.nodes[at - 1], &self.nodes[at], &source));
            }
        }
        let mut best = f64::MIN;
        for at in 0..self.nodes.len() {
            let value = value(at);
            best = best.max(value);
            if value >= 0.0 {
                self.hint.set(at);
                let above = &self.nodes[at.saturating_sub(1)];
                return Answer::Runs(self.between(above, &self.nodes[at], &source));
            }
        }
        let what = self
            .stopper
            .clone()
            .unwrap_or(Stopper::Converter(group.name.clone()));
        Answer::Stops {
            short_volts: -best,
            what,
        }
    }

    fn between(&self, high: &Node, low: &Node, source: &Source) -> Reading {
        let width = high.volts - low.volts;
        let share_at = |v: f64| {
            if width > 0.0 {
                (v - low.volts) / width
            } else {
                0.0
            }
        };
        let watts_at =
            |v: f64| low.source_watts + share_at(v) * (high.source_watts - low.source_watts);
        let slope = if width > 0.0 {
            (high.source_watts - low.source_watts) / width
        } else {
            0.0
        };
        let volts = source
            .meet(low.volts, high.volts, |v| (watts_at(v), slope))
            .unwrap_or_else(|| {
                solve_between(low.volts, high.volts, |v| source.excess(v, watts_at(v)))
            });
        let share = share_at(volts);
        let mix = |low: &[f64], high: &[f64]| {
            low.iter()
                .zip(high)
                .map(|(a, b)| a + share * (b - a))
                .collect::<Vec<f64>>()
        };
        Reading {
            amps: vec![watts_at(volts) / volts],
            cell_volts: vec![volts / source.series],
            watts: mix(&low.watts, &high.watts),
            rails: mix(&low.rails, &high.rails),
        }
    }
}

/// The root of a smooth function that is not negative at `low` and not positive at `high`.
fn solve_between(low: f64, high: f64, f: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (low, high);
    let (mut f_low, mut f_high) = (f(low), f(high));
    if f_low <= 0.0 || high <= low {
        return low;
    }
    for step in 0..60 {
        if high - low <= 1e-13 {
            break;
        }
        let mut x = low + (high - low) * f_low / (f_low - f_high);
        if step % 8 == 7 || !x.is_finite() || x <= low || high <= x {
            x = f64::midpoint(low, high);
        }
        let value = f(x);
        if value == 0.0 {
            return x;
        }
        // Halving the value that stays keeps the two ends moving (Illinois).
        if value > 0.0 {
            (low, f_low, f_high) = (x, value, f_high / 2.0);
        } else {
            (high, f_high, f_low) = (x, value, f_low / 2.0);
        }
        if value.abs() < 1e-13 {
            return x;
        }
    }
    f64::midpoint(low, high)
}
