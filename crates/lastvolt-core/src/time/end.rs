//! What is said of a life once it is over: cause, shares of the fatal drop, ledger, error.

use crate::circuit::{CellDrive, Circuit, Mode, NoPoint, Point, Situation};
use crate::model::{Kind, Load};
use crate::time::engine::{Engine, Instant};
use crate::time::margin::{Margin, Need};
use crate::time::port::Halt;
use crate::time::run::Run;
use crate::time::shares::shares;
use crate::time::site::Seen;
use crate::time::swing::Moment;
use crate::time::table::Stopped;
use crate::time::{Cause, End, Life, Trace};

/// Uncertainty of a voltage at the end of a burst, from the tables of the port and from taking the
/// ripple of several tasks as the sum of their peaks.
pub(crate) const VOLTS_UNCERTAIN: f64 = 3e-4;
/// Share of the life that the interpolation of powers and the means over tasks may be wrong by.
const TIME_UNCERTAIN: f64 = 2e-5;
/// The same where the board is interpolated between temperatures.
const BLEND_UNCERTAIN: f64 = 4e-4;
/// A load below this share of its lowest working voltage is not connected to anything.
const NOT_POWERED_SHARE: f64 = 0.2;

/// Surface depth from which a cell that gives no more counts as empty.
const EMPTY: f64 = 0.999;

/// An end of which nothing is known yet.
fn no_end() -> End {
    End {
        cause: Cause::NoEnd,
        load: None,
        state: None,
        task: None,
        net: None,
        net_volts: None,
        cell_volts: None,
        depth: 0.0,
        shares: Vec::new(),
    }
}

/// A board that no cell feeds never ends; a load that it does not serve is said beside that.
pub(crate) fn without_cell(circuit: &Circuit, situation: &Situation) -> Result<Life, NoPoint> {
    let point = circuit.solve(situation, &CellDrive::Rested, None)?;
    let loads = circuit.loads();
    let unserved = loads.iter().zip(&point.loads).filter(|((name, load), at)| {
        let state = situation.states.get(name).and_then(|s| load.state(s));
        let working = load.working_in(state.unwrap_or(0));
        working.is_some_and(|w| !(w.from.as_volts()..=w.to.as_volts()).contains(&at.volts))
    });
    let warnings = unserved.map(|((name, load), at)| {
        format!(
            "no cell feeds this board, and {name} is outside its working range at {:.3} V on {}",
            at.volts, load.plus
        )
    });
    Ok(Life {
        positions: situation.positions.clone(),
        life_secs: None,
        error_secs: 0.0,
        end: no_end(),
        ledger: Vec::new(),
        ledger_error: 0.0,
        mean_cell_amps: 0.0,
        shelf: None,
        calendar: None,
        cold_night: None,
        trace: Trace::default(),
        points_solved: 1,
        bursts_followed: 0,
        warnings: warnings.collect(),
    })
}

/// A line below this share of the energy of fresh cells is rounding and not shown.
const SMALLEST_LINE: f64 = 1e-12;

/// Share of the mean current that may be missed without a word.
const MISSED_SHARE: f64 = 0.01;
/// What capacitors hold more than at the start is said from this share of the energy of the cells.
const LEAST_STORED_SHARE: f64 = 1e-5;

/// Puts the answer together.
pub(crate) fn finish(
    run: &mut Run,
    circuit: &Circuit,
    situation: &Situation,
    failed: Option<(Margin, usize)>,
) -> Result<Life, NoPoint> {
    let (ledger, ledger_error) = ledger(run);
    let mut end = no_end();
    let mut life_secs = None;
    let mut error_secs = 0.0;
    if let Some((margin, mix)) = failed {
        life_secs = Some(run.now.secs);
        error_secs = estimated_error(run, mix);
        describe(run, circuit, situation, &margin, mix, &mut end)?;
    }
    end.depth = run.engine.depth(&run.now.states);
    let mut warnings = run.engine.schedule.warnings.clone();
    let coulombs = run.now.coulombs.iter().copied();
    let coulombs = coulombs.fold(f64::NEG_INFINITY, f64::max);
    let mean_cell_amps = if run.now.secs > 0.0 {
        coulombs / run.now.secs
    } else {
        0.0
    };
    // The mean current is found from settled bursts, and these fade where the board cannot.
    let missed = run.engine.swings.missed_amps;
    let missed_share = missed / (missed + mean_cell_amps).max(f64::MIN_POSITIVE);
    error_secs = error_secs.max(missed_share * life_secs.unwrap_or(0.0));
    if missed_share > MISSED_SHARE {
        warnings.push(format!(
            "capacitors carry bursts that the settled board cannot: its mean current is not known, and up to {:.0} % of the run time may not be there",
            100.0 * missed_share
        ));
    }
    if run.engine.swings.is_static {
        warnings.push(
            "a burst could not be followed through the circuit: its settled end stands for it"
                .to_owned(),
        );
    }
    if run.engine.ports.unsolved() > 0 {
        warnings.push(
            "no operating point was found at some voltages of the cells; the board is taken to stop there"
                .to_owned(),
        );
    }
    if run.progress.cancelled() && life_secs.is_none() {
        warnings.push("stopped before the end was reached".to_owned());
    }
    Ok(Life {
        positions: situation.positions.clone(),
        life_secs,
        error_secs,
        end,
        ledger,
        ledger_error,
        mean_cell_amps,
        shelf: None,
        calendar: None,
        cold_night: run.cold_night,
        points_solved: run.engine.ports.solved(),
        bursts_followed: run.engine.swings.followed,
        warnings,
        trace: run.trace(),
    })
}

/// Lines of the ledger with what is left, and by how much they miss the energy at the start.
fn ledger(run: &Run) -> (Vec<(String, f64)>, f64) {
    let mut joules = run.now.joules.clone();
    // What small capacitors hold is below what their mean is known to: it belongs to the resistance
    // beside which it was found.
    let stored = run.engine.lines.stored;
    if joules[stored].abs() < LEAST_STORED_SHARE * run.full_joules && stored > 0 {
        joules[0] += std::mem::take(&mut joules[stored]);
    }
    let names = run.engine.lines.names.iter();
    let lines = names.zip(&joules);
    let mut ledger: Vec<(String, f64)> = lines
        .filter(|(_, joules)| joules.abs() > SMALLEST_LINE * run.full_joules)
        .map(|(name, joules)| (name.clone(), *joules))
        .collect();
    for site in run.engine.sites() {
        let left = site.stored_joules(&run.now.states);
        ledger.push((format!("{}:left", site.name), left));
    }
    let sum: f64 = ledger.iter().map(|l| l.1).sum();
    let full = run.full_joules;
    let error = if full > 0.0 {
        (full - sum).abs() / full
    } else {
        0.0
    };
    (ledger, error)
}

/// Steps of the integration, uncertain voltages, and the interval of the tasks: which occurrence is
/// the first to fail hangs on phases that are not known.
fn estimated_error(run: &Run, mix: usize) -> f64 {
    let secs = run.now.secs;
    let active = &run.engine.schedule.mixes[mix].active;
    let intervals = active
        .iter()
        .map(|&t| run.engine.schedule.tasks[t].every_secs);
    let interval = intervals.fold(0.0, f64::max);
    let depth = run.engine.depth(&run.now.states);
    let drawn = depth - run.start_depth;
    let by_steps = if drawn > 0.0 {
        run.depth_error / drawn * secs
    } else {
        0.0
    };
    let share = if run.engine.ports.is_blended() {
        TIME_UNCERTAIN + BLEND_UNCERTAIN
    } else {
        TIME_UNCERTAIN
    };
    // What a capacitor gives at the first and takes at the last burst is known to its time constant.
    let lags = run.engine.sites().iter();
    let lags = lags.filter_map(|site| site.lag_rate(&run.now.states));
    let by_capacitors = lags.map(|rate| 1.0 / rate).fold(0.0, f64::max);
    let by_events = (interval + run.phase_secs + run.voltage_secs + by_capacitors).min(secs);
    by_events + by_steps + share * secs
}

fn describe(
    run: &mut Run,
    circuit: &Circuit,
    situation: &Situation,
    margin: &Margin,
    mix: usize,
    end: &mut End,
) -> Result<(), NoPoint> {
    let engine = &mut run.engine;
    let states = &run.now.states;
    let is_fresh = run.now.secs <= 0.0;
    let place = Instant::End(margin.place);
    let runs = match engine.look(mix, place, margin.joint, states, false) {
        Ok(()) => true,
        Err(Halt::Stops { .. }) => false,
        Err(Halt::NoPoint(error)) => return Err(error),
    };
    let seen = engine.seen.clone();
    let point = engine.point(margin.joint, &seen)?;
    // What is dead between tasks is not connected; what only a burst pulls down is overloaded.
    let base = if is_fresh {
        Some(engine.point(0, &seen)?)
    } else {
        None
    };
    end.cause = cause(engine, margin, &point, base.as_ref());
    if let Some(at) = failing_load(margin).or_else(|| lowest_load(engine, margin.joint, &point)) {
        let (name, load) = &engine.loads[at];
        let state = engine.state_of(margin.joint, name, load);
        end.load = Some(name.clone());
        end.state = load.states.get(state).map(|s| s.name.clone());
        end.net = Some(load.plus.clone());
        let read = engine.reading.data.get(engine.ports.powers() + at).copied();
        let solved = point.loads.get(at).map(|l| l.volts);
        end.net_volts = if runs { read } else { solved };
        let ends = ends(circuit, margin, load);
        let (plus, minus) = (ends.0.as_str(), ends.1.as_str());
        end.shares = shares(
            circuit,
            situation,
            engine,
            (&seen, &point),
            None,
            (plus, minus),
        );
    }
    end.task = responsible_task(engine, margin);
    end.cell_volts = if runs {
        engine.reading.cell_volts.iter().copied().reduce(f64::min)
    } else {
        let sites = engine.sites().iter().zip(&seen);
        let volts = sites.filter_map(|(site, cell)| {
            let amps = point.part(&site.name)?.amps;
            let act = site.model.activation_volts(amps).0;
            Some(cell.open_volts - cell.branches_volts - amps * cell.series_ohms() - act)
        });
        volts.reduce(f64::min)
    };
    // A load that falls low does so in a waveform, with what capacitors and late regulators do.
    let is_burst = match margin.need {
        Need::Low(_) | Need::Running(Stopped::Load(_) | Stopped::Converter(_)) => true,
        Need::High(_) | Need::Charge(_) | Need::Running(Stopped::Cell) => false,
    };
    if is_burst && let Some(moment) = engine.fatal_moment(mix, margin.joint, &run.now.states) {
        describe_moment(
            engine,
            circuit,
            (margin, situation),
            (&seen, &point),
            &moment,
            end,
        );
    }
    Ok(())
}

/// Between which nets the fatal drop ends: at the load, or at the input of a converter that stops.
fn ends(circuit: &Circuit, margin: &Margin, load: &Load) -> (String, String) {
    let at_load = (load.plus.clone(), load.minus.clone());
    let (Need::Running(Stopped::Converter(at)), [board]) = (margin.need, circuit.boards()) else {
        return at_load;
    };
    let parts = circuit.parts();
    let net = |pin: &str| {
        let part = parts.get(at)?.1;
        part.net(pin).and_then(|n| board.nets.get(n)).cloned()
    };
    // The power of a step-up converter comes in through its inductor.
    let is_step_up = parts
        .get(at)
        .is_some_and(|(_, part)| part.kind == Kind::Boost);
    let input = net("sw").filter(|_| is_step_up).or_else(|| net("in"));
    input.zip(net("gnd")).unwrap_or(at_load)
}

/// The same from the instant of a waveform at which a load fared worst.
fn describe_moment(
    engine: &Engine,
    circuit: &Circuit,
    (margin, situation): (&Margin, &Situation),
    (seen, point): (&[Seen], &Point),
    moment: &Moment,
    end: &mut End,
) {
    let Some((name, load)) = engine.loads.get(moment.load) else {
        return;
    };
    end.load = Some(name.clone());
    end.state = Some(moment.state.clone());
    end.net = Some(load.plus.clone());
    end.net_volts = Some(moment.volts);
    let ends = ends(circuit, margin, load);
    let ends = (ends.0.as_str(), ends.1.as_str());
    let looked = (seen, point);
    end.shares = shares(circuit, situation, engine, looked, Some(moment), ends);
    let cells = engine.sites().iter().filter_map(|site| {
        let across = moment.across(circuit, &site.name)?;
        let amps = moment.cell_amps(&site.name)?;
        Some(across / site.series as f64 + amps * site.contact_ohms)
    });
    end.cell_volts = cells.reduce(f64::min).or(end.cell_volts);
}

/// Why a margin failed; `base` is the point between tasks where it failed with fresh cells.
fn cause(engine: &Engine, margin: &Margin, point: &Point, base: Option<&Point>) -> Cause {
    let is_dead = base.is_some_and(|base| {
        let mut needs = engine.needs[0].iter();
        needs.any(|&(load, from, _)| base.loads[load].volts < NOT_POWERED_SHARE * from)
    });
    let is_empty = engine.seen.iter().any(|seen| EMPTY <= seen.surface);
    match margin.need {
        Need::High(_) => Cause::OverVoltage,
        _ if is_dead => Cause::NotPowered,
        Need::Low(_) | Need::Running(Stopped::Load(_)) => Cause::BrownOut,
        Need::Running(Stopped::Converter(_)) => Cause::ConverterStopped,
        Need::Running(Stopped::Cell) if has_converter(point) => Cause::ConverterStopped,
        Need::Running(Stopped::Cell) if !is_empty => Cause::BrownOut,
        Need::Charge(_) | Need::Running(Stopped::Cell) => Cause::Empty,
    }
}

fn has_converter(point: &Point) -> bool {
    let is_converter = |mode: Mode| {
        !matches!(
            mode,
            Mode::On | Mode::BodyDiode | Mode::Released | Mode::Detects
        )
    };
    point.parts.iter().any(|p| p.mode.is_some_and(is_converter))
}

fn failing_load(margin: &Margin) -> Option<usize> {
    match margin.need {
        Need::Low(at) | Need::High(at) | Need::Running(Stopped::Load(at)) => Some(at),
        _ => None,
    }
}

/// The load that is nearest to failing when no load says so itself.
fn lowest_load(engine: &Engine, joint: usize, point: &Point) -> Option<usize> {
    let needs = engine.needs[joint].iter();
    let spare = needs.map(|&(load, from, _)| (load, point.loads[load].volts - from));
    let lowest = spare.min_by(|a, b| a.1.total_cmp(&b.1));
    lowest.map(|(load, _)| load)
}

/// The task whose step put the loads where they are: of the failing load, or the first.
fn responsible_task(engine: &Engine, margin: &Margin) -> Option<String> {
    let steps = &engine.schedule.joints[margin.joint].steps;
    let load = failing_load(margin).map(|at| &engine.loads[at].0);
    let own = steps.iter().find(|(task, _)| {
        let claims = &engine.schedule.tasks[*task].claims;
        load.is_none_or(|load| claims.contains(load))
    });
    let step = own.or(steps.first())?;
    Some(engine.schedule.tasks[step.0].name.clone())
}
