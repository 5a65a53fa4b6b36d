//! What is said of a life once it is over: cause, shares of the fatal drop, ledger, trace, error.

use crate::circuit::{CellDrive, Circuit, NoPoint, Point, Situation};
use crate::device::Capacitor;
use crate::model::{Device, Kind};
use crate::time::margin::{Margin, Need};
use crate::time::run::Run;
use crate::time::{Cause, End, Life, Trace};

/// How the way ended.
pub(crate) enum Ending {
    /// A need is not met; with a cause where it is known already.
    Failed(Box<Margin>, Option<Cause>),
    /// Nothing ended it.
    None,
}

/// Uncertainty of a voltage from tables and the static treatment of bursts.
const VOLTS_UNCERTAIN: f64 = 1e-3;
/// Share of the life that integration may be wrong by.
const TIME_UNCERTAIN: f64 = 2e-5;
/// A load below this share of its lowest working voltage is not connected to anything.
const NOT_POWERED_SHARE: f64 = 0.2;

/// A board that no cell feeds never ends.
pub(crate) fn without_cell(circuit: &Circuit, situation: &Situation) -> Result<Life, NoPoint> {
    let point = circuit.solve(situation, &CellDrive::Rested, None)?;
    let loads = circuit.loads();
    let low = loads.iter().zip(&point.loads).find(|((name, load), at)| {
        let state = situation
            .states
            .get(name)
            .and_then(|s| load.state(s))
            .unwrap_or(0);
        load.working_in(state)
            .is_some_and(|w| at.volts < w.from.as_volts())
    });
    let mut end = End {
        cause: Cause::NoEnd,
        load: None,
        state: None,
        task: None,
        net: None,
        net_volts: None,
        cell_volts: None,
        depth: 0.0,
        shares: Vec::new(),
    };
    let mut life_secs = None;
    if let Some(((name, load), at)) = low {
        end.cause = Cause::NotPowered;
        end.load = Some(name.clone());
        end.state = situation.states.get(name).cloned();
        end.net = Some(load.plus.clone());
        end.net_volts = Some(at.volts);
        life_secs = Some(0.0);
    }
    Ok(Life {
        positions: situation.positions.clone(),
        life_secs,
        error_secs: 0.0,
        end,
        ledger: Vec::new(),
        ledger_error: 0.0,
        mean_cell_amps: 0.0,
        cold_night: None,
        trace: Trace::default(),
        points_solved: 1,
        warnings: Vec::new(),
    })
}

/// A need that is not met from the start by connection rather than by a tired cell.
pub(crate) fn at_start(run: &Run, first: &Margin) -> Result<Option<Cause>, NoPoint> {
    if first.volts >= 0.0 {
        return Ok(None);
    }
    if matches!(first.need, Need::High(_)) {
        return Ok(Some(Cause::OverVoltage));
    }
    let rested = run.bank.port.point(0, &run.bank.groups, &run.state.cells)?;
    let dead = run.loads.iter().zip(&rested.loads).any(|((_, load), at)| {
        load.working
            .is_some_and(|w| at.volts < NOT_POWERED_SHARE * w.from.as_volts())
    });
    Ok(dead.then_some(Cause::NotPowered))
}

/// Puts the answer together.
pub(crate) fn finish(run: Run, ending: Ending) -> Result<Life, NoPoint> {
    let (ledger, ledger_error) = ledger(&run);
    let cells = &run.state.cells;
    let mut end = End {
        cause: Cause::NoEnd,
        load: None,
        state: None,
        task: None,
        net: None,
        net_volts: None,
        cell_volts: None,
        depth: run.bank.depth(cells),
        shares: Vec::new(),
    };
    let mut life_secs = None;
    if let Ending::Failed(margin, cause) = &ending {
        life_secs = Some(run.time_secs);
        describe(&run, margin, *cause, &mut end)?;
    }
    let coulombs = run.state.coulombs.iter().copied().fold(0.0, f64::max);
    let mut warnings = run.bank.schedule.warnings.clone();
    warnings.extend(capacitor_warning(&run));
    let cold_points = run.cold.map_or(0, |p| p.solved());
    Ok(Life {
        positions: run.situation.positions.clone(),
        life_secs,
        error_secs: life_secs.map_or(0.0, |_| error_secs(&run)),
        end,
        ledger,
        ledger_error,
        mean_cell_amps: if run.time_secs > 0.0 {
            coulombs / run.time_secs
        } else {
            0.0
        },
        cold_night: run.cold_night,
        points_solved: run.bank.port.solved() + cold_points,
        warnings,
        trace: run.trace,
    })
}

fn ledger(run: &Run) -> (Vec<(String, f64)>, f64) {
    let names = run.bank.lines.names.iter();
    let mut ledger: Vec<(String, f64)> = names
        .zip(&run.state.joules)
        .filter(|(_, joules)| **joules != 0.0)
        .map(|(name, joules)| (name.clone(), *joules))
        .collect();
    for (group, cell) in run.bank.groups.iter().zip(&run.state.cells) {
        let left = group.cell.model.stored_joules(cell) * group.cell.series as f64;
        ledger.push((format!("{}:left", group.name), left));
    }
    let start = run.bank.stored_joules(&run.bank.fresh().cells);
    let sum: f64 = ledger.iter().map(|l| l.1).sum();
    let error = if start > 0.0 {
        (start - sum).abs() / start
    } else {
        0.0
    };
    (ledger, error)
}

/// Voltage uncertainty over the slope of the margin, the interval of the tasks, integration.
fn error_secs(run: &Run) -> f64 {
    let slope = run.last_slope.abs();
    let by_voltage = if slope > 0.0 {
        VOLTS_UNCERTAIN / slope
    } else {
        0.0
    };
    let interval = run
        .bank
        .schedule
        .tasks
        .iter()
        .map(|t| t.every_secs)
        .fold(0.0, f64::max);
    by_voltage.min(run.time_secs)
        + interval.min(run.time_secs)
        + run.time_secs * (TIME_UNCERTAIN + run.leapt_error)
}

fn describe(
    run: &Run,
    margin: &Margin,
    cause: Option<Cause>,
    end: &mut End,
) -> Result<(), NoPoint> {
    let joint = &run.bank.schedule.joints[margin.joint];
    end.cause = cause.unwrap_or(match &margin.need {
        Need::Low(_) => Cause::BrownOut,
        Need::High(_) => Cause::OverVoltage,
        Need::Converter(_) => Cause::ConverterStopped,
        Need::Charge(_) => Cause::Empty,
    });
    let point = run
        .bank
        .port
        .point(margin.joint, &run.bank.groups, &margin.cells)?;
    if let Need::Low(at) | Need::High(at) = &margin.need {
        let (name, load) = &run.loads[*at];
        end.load = Some(name.clone());
        end.net = Some(load.plus.clone());
        let state = run.bank.state_of(margin.joint, name, load);
        end.state = load.states.get(state).map(|s| s.name.clone());
        let solved = point.loads.get(*at).map(|l| l.volts);
        end.net_volts = margin.reading.as_ref().map(|r| r.rails[*at]).or(solved);
    } else {
        end.net = run.circuit.family().connector.rail().map(str::to_owned);
        end.net_volts = end.net.as_ref().and_then(|n| point.net(n));
    }
    let task = joint
        .steps
        .first()
        .map(|(task, _)| run.bank.schedule.tasks[*task].name.clone());
    end.task = task;
    let read = margin
        .reading
        .as_ref()
        .map(|r| r.cell_volts.iter().copied().fold(f64::MAX, f64::min));
    end.cell_volts = read.or_else(|| cell_volts(run, margin, &point));
    end.shares = shares(run, margin, &point);
    Ok(())
}

/// Lowest terminal voltage of a cell at a solved point.
fn cell_volts(run: &Run, margin: &Margin, point: &Point) -> Option<f64> {
    let each = run
        .bank
        .groups
        .iter()
        .zip(&margin.cells)
        .filter_map(|(group, cell)| {
            let amps = point.part(&group.name)?.amps;
            Some(
                group
                    .cell
                    .model
                    .terminal_volts(cell, amps, run.bank.port.celsius())
                    .0,
            )
        });
    each.min_by(f64::total_cmp)
}

/// Where the voltage from the open cell to the load is lost, for the first cell part.
fn shares(run: &Run, margin: &Margin, point: &Point) -> Vec<(String, f64)> {
    let (Some(group), Some(cell)) = (run.bank.groups.first(), margin.cells.first()) else {
        return Vec::new();
    };
    let Some(amps) = point.part(&group.name).map(|p| p.amps) else {
        return Vec::new();
    };
    let (model, n) = (&group.cell.model, group.cell.series as f64);
    let x = model.surface(cell.depth, cell.imbalance);
    let celsius = run.bank.port.celsius();
    let name = |what: &str| format!("{}:{what}", group.name);
    let open = model.open_circuit_volts(cell.depth).0;
    let mut shares = vec![
        (name("wells"), n * (open - model.open_circuit_volts(x).0)),
        (
            name("resistance"),
            n * amps * model.resistance_ohms(x, celsius, cell.aged),
        ),
        (
            name("polarisation"),
            n * cell.branch_volts.iter().sum::<f64>(),
        ),
        (name("activation"), n * model.activation_volts(amps).0),
        (name("contacts"), n * amps * group.cell.holder.contact.si()),
    ];
    shares.extend(path_drops(run, &group.name, point));
    shares.retain(|s| s.1 != 0.0);
    shares
}

/// Drops of the parts that carry the cell's current, one after the other from its positive end.
fn path_drops(run: &Run, cell: &str, point: &Point) -> Vec<(String, f64)> {
    let Some(board) = run.circuit.boards().first() else {
        return Vec::new();
    };
    let Some(amps) = point.part(cell).map(|p| p.amps.abs()) else {
        return Vec::new();
    };
    let level = |net: usize| {
        board
            .nets
            .get(net)
            .and_then(|n| point.net(n))
            .unwrap_or(0.0)
    };
    let mut at = board.part(cell).and_then(|p| p.net("plus"));
    let mut passed = vec![cell.to_owned()];
    let mut drops = Vec::new();
    while let Some(net) = at {
        let next = board.parts.iter().find_map(|part| {
            let solved = point
                .part(&part.name)
                .filter(|_| !passed.contains(&part.name))?;
            let pins = || part.pins.iter().zip(&solved.pin_amps);
            let carries = |i: f64| 0.5 * amps < i && amps > 0.0;
            let enters = pins().any(|(pin, i)| pin.net == Some(net) && carries(*i));
            let leaves = pins().find(|(_, i)| carries(-**i))?.0.net?;
            let passes = PASSING.contains(&part.kind) && enters;
            passes.then(|| (part.name.clone(), leaves))
        });
        at = next.map(|(name, to)| {
            drops.push((name.clone(), (level(net) - level(to)).abs()));
            passed.push(name);
            to
        });
    }
    drops
}

/// Kinds that pass a current on with a drop.
const PASSING: [Kind; 8] = [
    Kind::PFet,
    Kind::NFet,
    Kind::Switch,
    Kind::Jumper,
    Kind::Fuse,
    Kind::Diode,
    Kind::Inductor,
    Kind::Resistor,
];

/// Bursts are taken as static; a large capacitor would help, and the reader should know.
fn capacitor_warning(run: &Run) -> Option<String> {
    let spans = run
        .bank
        .schedule
        .tasks
        .iter()
        .flat_map(|t| &t.steps)
        .map(|s| s.0);
    let shortest = spans.fold(f64::MAX, f64::min);
    let group = run.bank.groups.first()?;
    let cell = run.state.cells.first()?;
    let model = &group.cell.model;
    let ohms = model.resistance_ohms(cell.depth, run.bank.port.celsius(), cell.aged);
    let ohms = ohms * group.cell.series as f64;
    let parts = run.circuit.parts();
    let largest = parts
        .iter()
        .filter_map(|(name, part)| match &part.device {
            Device::Capacitor(Capacitor { value, .. }) => Some((name, value.si())),
            _ => None,
        })
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    (ohms * largest.1 > shortest / 20.0).then(|| {
        format!(
            "bursts are taken without the help of capacitors; {} would carry part of the shortest one",
            largest.0
        )
    })
}

impl Run<'_, '_, '_> {
    /// Notes the voltages of this instant, at least a depth apart from the last one noted.
    pub(crate) fn sample(&mut self, regime: usize, apart: f64) -> Result<(), NoPoint> {
        let depth = self.bank.depth(&self.state.cells);
        let last = self.trace.depth.last().copied();
        if last.is_some_and(|last| depth - last < apart) {
            return Ok(());
        }
        let Some((rest, lowest)) = self.voltages(regime)? else {
            return Ok(());
        };
        self.trace.time_secs.push(self.time_secs);
        self.trace.depth.push(depth);
        self.trace.cell.rest_volts.push(rest.0);
        self.trace.cell.lowest_volts.push(lowest.0);
        self.trace.rail.rest_volts.push(rest.1);
        self.trace.rail.lowest_volts.push(lowest.1);
        Ok(())
    }

    /// Cell and rail at base load and at their lowest over the joint states.
    fn voltages(&self, regime: usize) -> Result<Option<Pair>, NoPoint> {
        use crate::time::bank::Stopped;
        let regime = &self.bank.schedule.regimes[regime];
        let port = self.bank.port;
        let waves = match self.bank.waves(regime, &self.state.cells, port) {
            Ok(waves) => waves,
            Err(Stopped::NoPoint(error)) => return Err(error),
            Err(Stopped::Joint { .. }) => return Ok(None),
        };
        let mut rest = None;
        let mut lowest = (f64::MAX, f64::MAX);
        for joint in self.bank.schedule.occurring(regime) {
            let cells = self
                .bank
                .rippled(&self.state.cells, &waves, joint, |r| r.end, true);
            let reading = match self.bank.read(port, joint, &cells) {
                Ok(reading) => reading,
                Err(Stopped::NoPoint(error)) => return Err(error),
                Err(Stopped::Joint { .. }) => continue,
            };
            let cell = reading.cell_volts.iter().copied().fold(f64::MAX, f64::min);
            let rail = reading.rails.last().copied().unwrap_or(0.0);
            rest = rest.or((joint == 0).then_some((cell, rail)));
            lowest = (lowest.0.min(cell), lowest.1.min(rail));
        }
        Ok(rest.map(|rest| (rest, lowest)))
    }
}

/// Cell and rail voltage, at rest and at their lowest.
type Pair = ((f64, f64), (f64, f64));
