//! The cells of a board as states in time, and what drives them.

use std::collections::BTreeMap;

use crate::circuit::NoPoint;
use crate::device::{CellModel, CellState, Charging};
use crate::numerics::math;
use crate::numerics::relax::Relax;
use crate::time::port::{Answer, Group, Port, Reading, Stopper};
use crate::time::ripple::{Ripple, ripples};
use crate::time::schedule::{Regime, Schedule};

/// Cells with the energy that has gone where.
#[derive(Debug, Clone)]
pub(crate) struct State {
    pub(crate) cells: Vec<CellState>,
    /// Energy by line: five for each cell part, then parts, then loads by state.
    pub(crate) joules: Vec<f64>,
    /// Charge given by each cell part, without self-discharge.
    pub(crate) coulombs: Vec<f64>,
}

impl State {
    fn zip(&self, other: &Self, f: impl Fn(f64, f64) -> f64) -> Self {
        let mix = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| f(*a, *b)).collect();
        let cells = self.cells.iter().zip(&other.cells).map(|(a, b)| CellState {
            depth: f(a.depth, b.depth),
            imbalance: f(a.imbalance, b.imbalance),
            branch_volts: mix(&a.branch_volts, &b.branch_volts),
            aged: f(a.aged, b.aged),
        });
        Self {
            cells: cells.collect(),
            joules: mix(&self.joules, &other.joules),
            coulombs: mix(&self.coulombs, &other.coulombs),
        }
    }

    /// The difference of two states.
    pub(crate) fn minus(&self, other: &Self) -> Self {
        self.zip(other, |a, b| a - b)
    }

    /// This state and a number of slopes.
    pub(crate) fn plus(&self, slope: &Self, times: f64) -> Self {
        self.zip(slope, |a, b| a + times * b)
    }

    /// Largest difference in depth, imbalance and (as tenths of a volt) branch voltage.
    pub(crate) fn largest_difference(&self, other: &Self) -> f64 {
        let mut worst: f64 = 0.0;
        for cell in &self.minus(other).cells {
            worst = worst.max(cell.depth.abs()).max(cell.imbalance.abs());
            for volts in &cell.branch_volts {
                worst = worst.max(0.1 * volts.abs());
            }
        }
        worst
    }
}

/// Lines of the ledger that each cell part has of its own.
pub(crate) const CELL_LINES: [&str; 5] = [
    "resistance",
    "polarisation",
    "activation",
    "mixing",
    "self-discharge",
];

/// What drives the cells at one instant, averaged over the tasks of a regime.
#[derive(Debug, Clone)]
pub(crate) struct Flow {
    /// Mean current of each cell part.
    amps: Vec<f64>,
    /// Mean current that lowers the charge: charging a primary cell does not raise it.
    drawn_amps: Vec<f64>,
    /// Mean of R0 times the current of each cell part.
    drop_volts: Vec<f64>,
    /// Power by line.
    watts: Vec<f64>,
}

/// The ripple that tasks put on each cell part: a value for every joint state.
#[derive(Debug, Clone)]
pub(crate) struct Wave {
    /// By joint state: added to each branch voltage and to the imbalance, mean and at the end.
    pub(crate) branch: Vec<Vec<Ripple>>,
    pub(crate) imbalance: Vec<Ripple>,
}

/// Result of asking for a flow: the board may have stopped.
pub(crate) type Flowing = Result<Flow, Stopped>;

/// Why there is no flow.
#[derive(Debug, Clone)]
pub(crate) enum Stopped {
    /// A joint state does not run.
    Joint {
        joint: usize,
        short_volts: f64,
        what: Stopper,
    },
    /// No operating point.
    NoPoint(NoPoint),
}

impl From<NoPoint> for Stopped {
    fn from(value: NoPoint) -> Self {
        Self::NoPoint(value)
    }
}

/// Everything that does not change along a life.
pub(crate) struct Bank<'a, 'c, 'f> {
    pub(crate) groups: Vec<Group<'f>>,
    pub(crate) schedule: &'a Schedule,
    pub(crate) port: &'a Port<'c, 'f>,
    /// State of every load between tasks.
    pub(crate) base_states: &'a BTreeMap<String, String>,
    /// Line of each part, then of each load in each joint state.
    pub(crate) lines: Lines,
}

/// Names of the ledger's lines and where each power of a reading goes.
#[derive(Debug, Clone)]
pub(crate) struct Lines {
    pub(crate) names: Vec<String>,
    /// By joint state: the line of each power of a reading.
    pub(crate) place: Vec<Vec<usize>>,
}

impl Bank<'_, '_, '_> {
    pub(crate) fn fresh(&self) -> State {
        State {
            cells: self
                .groups
                .iter()
                .map(|g| g.cell.model.rested(0.0))
                .collect(),
            joules: vec![0.0; self.lines.names.len()],
            coulombs: vec![0.0; self.groups.len()],
        }
    }

    pub(crate) fn stored_joules(&self, cells: &[CellState]) -> f64 {
        let each = self.groups.iter().zip(cells);
        each.map(|(g, s)| g.cell.model.stored_joules(s) * g.cell.series as f64)
            .sum()
    }

    /// Depth of the most used cell.
    pub(crate) fn depth(&self, cells: &[CellState]) -> f64 {
        cells.iter().map(|c| c.depth).fold(0.0, f64::max)
    }

    /// Reads a joint state; a board that stops is told apart from one without a point.
    pub(crate) fn read(
        &self,
        port: &Port,
        joint: usize,
        cells: &[CellState],
    ) -> Result<Reading, Stopped> {
        match port.read(joint, &self.groups, cells)? {
            Answer::Runs(reading) => Ok(reading),
            Answer::Stops { short_volts, what } => Err(Stopped::Joint {
                joint,
                short_volts,
                what,
            }),
        }
    }

    /// The ripple of every joint state of a regime, for each cell part.
    pub(crate) fn waves(
        &self,
        regime: &Regime,
        cells: &[CellState],
        port: &Port,
    ) -> Result<Vec<Wave>, Stopped> {
        let base = self.read(port, 0, cells)?;
        let mut waves: Vec<Wave> = self.groups.iter().map(|g| self.still(g)).collect();
        for &task in &regime.active {
            let timed = &self.schedule.tasks[task];
            let mut spans = Vec::new();
            let mut excess: Vec<Vec<f64>> = vec![Vec::new(); self.groups.len()];
            for &(span, joint) in &timed.steps {
                let reading = self.read(port, joint, cells)?;
                spans.push((span, joint));
                for (k, list) in excess.iter_mut().enumerate() {
                    list.push(reading.amps[k] - base.amps[k]);
                }
            }
            for (k, wave) in waves.iter_mut().enumerate() {
                let model = &self.groups[k].cell.model;
                add_task(
                    wave,
                    model,
                    &cells[k],
                    port.celsius(),
                    timed.every_secs,
                    &spans,
                    &excess[k],
                );
            }
        }
        self.finish_waves(&mut waves, regime);
        Ok(waves)
    }

    fn still(&self, group: &Group) -> Wave {
        let none = Ripple {
            mean: 0.0,
            end: 0.0,
        };
        let joints = self.schedule.joints.len();
        let branches = group.cell.model.polarisation.len();
        Wave {
            branch: vec![vec![none; branches]; joints],
            imbalance: vec![none; joints],
        }
    }

    /// The base carries what is left of each mean; a coincidence has the ripples of its steps.
    fn finish_waves(&self, waves: &mut [Wave], regime: &Regime) {
        let shares = self.schedule.shares(regime);
        for wave in waves {
            for n in 0..wave.branch[0].len() {
                let sum: f64 = shares[1..]
                    .iter()
                    .map(|&(j, w)| w * wave.branch[j][n].mean)
                    .sum();
                wave.branch[0][n].mean = if shares[0].1 > 0.0 {
                    -sum / shares[0].1
                } else {
                    0.0
                };
            }
            for (at, joint) in self.schedule.joints.iter().enumerate() {
                if joint.steps.len() < 2 {
                    continue;
                }
                for &(task, step) in &joint.steps {
                    let single = self.schedule.tasks[task].steps[step].1;
                    for n in 0..wave.branch[0].len() {
                        wave.branch[at][n].end += wave.branch[single][n].end;
                    }
                    wave.imbalance[at].end += wave.imbalance[single].end;
                }
            }
        }
    }

    /// The mean drive of a regime.
    pub(crate) fn flow(&self, regime: &Regime, cells: &[CellState]) -> Flowing {
        let waves = self.waves(regime, cells, self.port)?;
        let groups = self.groups.len();
        let mut flow = Flow {
            amps: vec![0.0; groups],
            drawn_amps: vec![0.0; groups],
            drop_volts: vec![0.0; groups],
            watts: vec![0.0; self.lines.names.len()],
        };
        for (joint, share) in self.schedule.shares(regime) {
            let rippled = self.rippled(cells, &waves, joint, |r| r.mean, false);
            let reading = self.read(self.port, joint, &rippled)?;
            for (power, &line) in reading.watts.iter().zip(&self.lines.place[joint]) {
                flow.watts[line] += share * power;
            }
            self.add_cells(&mut flow, share, &rippled, &reading.amps);
        }
        self.add_inner(&mut flow, cells);
        Ok(flow)
    }

    /// Cells with a ripple added to their branches and, for margins, to the imbalance.
    pub(crate) fn rippled(
        &self,
        cells: &[CellState],
        waves: &[Wave],
        joint: usize,
        pick: impl Fn(&Ripple) -> f64,
        wells: bool,
    ) -> Vec<CellState> {
        let mut cells = cells.to_vec();
        for (cell, wave) in cells.iter_mut().zip(waves) {
            for (v, ripple) in cell.branch_volts.iter_mut().zip(&wave.branch[joint]) {
                *v += pick(ripple);
            }
            if wells {
                cell.imbalance += pick(&wave.imbalance[joint]);
            }
        }
        cells
    }

    fn add_cells(&self, flow: &mut Flow, share: f64, cells: &[CellState], amps: &[f64]) {
        for (k, group) in self.groups.iter().enumerate() {
            let (model, i, n) = (&group.cell.model, amps[k], group.cell.series as f64);
            let x = model.surface(cells[k].depth, cells[k].imbalance);
            let ohms = model.resistance_ohms(x, self.port.celsius(), cells[k].aged);
            let branches: f64 = cells[k].branch_volts.iter().sum();
            flow.amps[k] += share * i;
            let drawn = if model.charging == Charging::Primary {
                i.max(0.0)
            } else {
                i
            };
            flow.drawn_amps[k] += share * drawn;
            flow.drop_volts[k] += share * ohms * i;
            let lines = &mut flow.watts[k * CELL_LINES.len()..];
            lines[0] += share * n * ohms * i * i;
            lines[1] += share * n * branches * i;
            lines[2] += share * n * model.activation_volts(i).0 * i;
            // What goes into a primary cell becomes heat: it does not come back.
            lines[0] += share * n * model.open_circuit_volts(x).0 * (drawn - i);
        }
    }

    /// Mixing of the wells and self-discharge.
    fn add_inner(&self, flow: &mut Flow, cells: &[CellState]) {
        for (k, group) in self.groups.iter().enumerate() {
            let (model, s, n) = (&group.cell.model, &cells[k], group.cell.series as f64);
            let celsius = self.port.celsius();
            let (q, c, rate) = (
                model.charge.si(),
                model.available(),
                model.rate_per_sec(celsius),
            );
            let x = model.surface(s.depth, s.imbalance);
            let ex = model.open_circuit_volts(x).0;
            let ez = model.open_circuit_volts(s.depth - c * s.imbalance).0;
            let own = q * model.self_discharge_per_sec(celsius);
            let lines = &mut flow.watts[k * CELL_LINES.len()..];
            lines[3] = n * c * (1.0 - c) * q * rate * s.imbalance * (ez - ex);
            lines[4] = n * own * (c * ex + (1.0 - c) * ez);
        }
    }

    /// One step of a regime: the state and flow at its end, and the error estimate in shares.
    ///
    /// Collocation with the drive quadratic through start, middle and end of the step; depth, wells
    /// and branches follow it exactly.
    pub(crate) fn step(
        &self,
        regime: &Regime,
        start: &State,
        first: &Flow,
        span: f64,
    ) -> Result<(State, Flow, f64), Stopped> {
        let (mut mid, mut end) = (first.clone(), first.clone());
        let (mut mid_cells, mut end_cells) = (start.cells.clone(), start.cells.clone());
        let mut settled = false;
        for _ in 0..MOST_ROUNDS {
            let before = end.amps.clone();
            for k in 0..self.groups.len() {
                self.advance(
                    k,
                    &start.cells[k],
                    [first, &mid, &end],
                    span,
                    &mut mid_cells[k],
                    &mut end_cells[k],
                );
            }
            mid = self.flow(regime, &mid_cells)?;
            end = self.flow(regime, &end_cells)?;
            let moved = before.iter().zip(&end.amps);
            if moved
                .clone()
                .all(|(a, b)| (a - b).abs() <= 1e-10 * b.abs() + 1e-18)
            {
                settled = true;
                break;
            }
        }
        let simpson = |f: f64, m: f64, e: f64| span / 6.0 * (f + 4.0 * m + e);
        let mut state = State {
            cells: end_cells,
            ..start.clone()
        };
        for (line, joules) in state.joules.iter_mut().enumerate() {
            *joules += simpson(first.watts[line], mid.watts[line], end.watts[line]);
        }
        for (k, coulombs) in state.coulombs.iter_mut().enumerate() {
            *coulombs += simpson(first.amps[k], mid.amps[k], end.amps[k]);
        }
        let error = if settled {
            self.error(first, &mid, &end, span)
        } else {
            f64::MAX
        };
        Ok((state, end, error))
    }

    /// Difference between Simpson's rule and the trapezoid, as a share of the charge or energy.
    fn error(&self, first: &Flow, mid: &Flow, end: &Flow, span: f64) -> f64 {
        let gap =
            |f: f64, m: f64, e: f64| (span / 6.0 * (f + 4.0 * m + e) - span / 2.0 * (f + e)).abs();
        let mut worst: f64 = 0.0;
        for (k, group) in self.groups.iter().enumerate() {
            let q = group.cell.model.charge.si();
            worst = worst.max(gap(first.amps[k], mid.amps[k], end.amps[k]) / q);
            let volts = group.cell.model.open_circuit.at(0.0).abs().max(0.1);
            let lines = k * CELL_LINES.len()..(k + 1) * CELL_LINES.len();
            for line in lines {
                let joules = gap(first.watts[line], mid.watts[line], end.watts[line]);
                worst = worst.max(joules / (q * volts * group.cell.series as f64));
            }
        }
        worst
    }

    fn advance(
        &self,
        k: usize,
        start: &CellState,
        flows: [&Flow; 3],
        span: f64,
        mid: &mut CellState,
        end: &mut CellState,
    ) {
        let (model, celsius) = (&self.groups[k].cell.model, self.port.celsius());
        let (q, c) = (model.charge.si(), model.available());
        let own = model.self_discharge_per_sec(celsius);
        let drawn = flows.map(|f| f.drawn_amps[k]);
        let depth = Relax::new(0.0, span).advance(start.depth, drawn.map(|i| i / q + own));
        let wells = Relax::new(model.rate_per_sec(celsius), span);
        let imbalance = wells.advance(start.imbalance, drawn.map(|i| i / (c * q)));
        let ageing = model.ageing.as_per_sec() * math::exp2((celsius - 20.0) / 10.0);
        for (at, to) in [&mut *mid, &mut *end].into_iter().enumerate() {
            to.depth = depth[at];
            to.imbalance = imbalance[at];
            to.aged = start.aged + ageing * span * if at == 0 { 0.5 } else { 1.0 };
        }
        for (n, branch) in model.polarisation.iter().enumerate() {
            let tau = branch.time.as_secs();
            let ratio = model.branch_ratio(n, celsius);
            let drive = flows.map(|f| ratio * f.drop_volts[k] / tau);
            let volts = Relax::new(1.0 / tau, span).advance(start.branch_volts[n], drive);
            mid.branch_volts[n] = volts[0];
            end.branch_volts[n] = volts[1];
        }
    }

    /// Longest step in which no cell passes a point of its tables or too much of its charge.
    pub(crate) fn longest_step(&self, cells: &[CellState], flow: &Flow) -> f64 {
        let mut longest = f64::MAX;
        for (k, group) in self.groups.iter().enumerate() {
            let model = &group.cell.model;
            let own = model.self_discharge_per_sec(self.port.celsius());
            let rate = flow.drawn_amps[k] / model.charge.si() + own;
            if rate <= 0.0 {
                continue;
            }
            let room = knot_room(model, &cells[k]) + 1e-10;
            longest = longest.min(room.min(MOST_DEPTH) / rate);
        }
        longest
    }
}

impl Bank<'_, '_, '_> {
    /// Surface depth left to the next point of a cell's tables.
    pub(crate) fn knot_room(&self, cells: &[CellState]) -> f64 {
        let each = self.groups.iter().zip(cells);
        each.map(|(g, c)| knot_room(&g.cell.model, c))
            .fold(f64::MAX, f64::min)
    }
}

fn knot_room(model: &CellModel, cell: &CellState) -> f64 {
    let x = model.surface(cell.depth, cell.imbalance);
    let knots = model.open_circuit.points().chain(model.resistance.points());
    let ahead = knots.map(|p| p.0 - x).filter(|room| *room > 1e-9);
    ahead.fold(f64::MAX, f64::min)
}

fn add_task(
    wave: &mut Wave,
    model: &CellModel,
    cell: &CellState,
    celsius: f64,
    period: f64,
    steps: &[(f64, usize)],
    excess: &[f64],
) {
    let x = model.surface(cell.depth, cell.imbalance);
    let ohms = model.resistance_ohms(x, celsius, cell.aged);
    for (n, branch) in model.polarisation.iter().enumerate() {
        let scale = model.branch_ratio(n, celsius) * ohms;
        let drives: Vec<_> = steps
            .iter()
            .zip(excess)
            .map(|(s, i)| (s.0, scale * i))
            .collect();
        let found = ripples(branch.time.as_secs(), period, &drives);
        for (&(_, joint), ripple) in steps.iter().zip(found) {
            wave.branch[joint][n] = ripple;
        }
    }
    let rate = model.rate_per_sec(celsius);
    if rate > 0.0 && model.available() < 1.0 {
        let scale = 1.0 / (model.available() * model.charge.si() * rate);
        let drives: Vec<_> = steps
            .iter()
            .zip(excess)
            .map(|(s, i)| (s.0, scale * i))
            .collect();
        let found = ripples(1.0 / rate, period, &drives);
        for (&(_, joint), ripple) in steps.iter().zip(found) {
            wave.imbalance[joint] = ripple;
        }
    }
}

/// Rounds in which the flows of a step must settle.
const MOST_ROUNDS: usize = 25;
/// Largest share of the charge drawn in one step.
const MOST_DEPTH: f64 = 0.01;
