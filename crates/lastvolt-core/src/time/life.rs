//! The run time of a board: from fresh to the first instant at which a stated need is not met.

use std::collections::BTreeMap;

use crate::circuit::{Circuit, History, NoPoint, Situation};
use crate::model::{Device, Family, Profile};
use crate::progress::Progress;
use crate::quantity::Time;
use crate::time::climate::{Climate, Course};
use crate::time::end::{finish, without_cell};
use crate::time::engine::{CELL_LINES, Engine, Lines, Side};
use crate::time::ports::{KnownPorts, Ports};
use crate::time::run::{HORIZON_SECS, Run};
use crate::time::schedule::Schedule;
use crate::time::site::Site;
use crate::time::swing::Swings;

/// What is asked.
#[derive(Debug, Clone)]
pub struct LifeRequest<'a> {
    /// The family.
    pub family: &'a Family,
    /// Name of the board.
    pub board: &'a str,
    /// Name of the profile; none means base states for ever.
    pub profile: Option<&'a str>,
    /// Temperatures around the board.
    pub ambient: Climate<'a>,
    /// Positions of switches that differ from the usual.
    pub positions: BTreeMap<String, String>,
    /// How bursts are taken.
    pub bursts: Bursts,
}

/// How a life takes bursts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Bursts {
    /// Followed through the whole circuit where that matters.
    #[default]
    Followed,
    /// At their settled ends, capacitors beside the cell counted: quicker, to compare lives.
    Settled,
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Life {
    /// Positions that were used.
    pub positions: BTreeMap<String, String>,
    /// Run time in seconds; none where nothing ends within 100 years or no cell feeds the board.
    pub life_secs: Option<f64>,
    /// Estimated error of the run time in seconds.
    pub error_secs: f64,
    /// How it ends.
    pub end: End,
    /// What storage took before the start, where the requirement asks for it.
    pub shelf: Option<Shelf>,
    /// What a calendar of temperatures makes of it, where one was followed.
    pub calendar: Option<Calendar>,
    /// Energy by line in joules; their sum is the energy stored at the start of use.
    pub ledger: Vec<(String, f64)>,
    /// |U(0) - sum| / U(0).
    pub ledger_error: f64,
    /// Mean current of the most used cell over the life, without self-discharge.
    pub mean_cell_amps: f64,
    /// When one cold night would end it.
    pub cold_night: Option<ColdNight>,
    /// What happened on the way.
    pub trace: Trace,
    /// Operating points solved.
    pub points_solved: usize,
    /// Bursts followed through the whole circuit.
    pub bursts_followed: usize,
    /// What the reader should know about the method.
    pub warnings: Vec<String>,
}

/// Why a life ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Cause {
    /// A load falls below its working range.
    BrownOut,
    /// A cell is empty or at its end voltage.
    Empty,
    /// A converter stops.
    ConverterStopped,
    /// A load sees more than its working range.
    OverVoltage,
    /// A load is not powered at all.
    NotPowered,
    /// Nothing ends it.
    NoEnd,
}

/// How a life ends.
#[derive(Debug, Clone, PartialEq)]
pub struct End {
    /// Why.
    pub cause: Cause,
    /// The load whose need is not met.
    pub load: Option<String>,
    /// The state it is in then.
    pub state: Option<String>,
    /// The task that put it there.
    pub task: Option<String>,
    /// The net concerned.
    pub net: Option<String>,
    /// Its voltage.
    pub net_volts: Option<f64>,
    /// Terminal voltage of a cell, lowest of a string.
    pub cell_volts: Option<f64>,
    /// Depth of the most used cell.
    pub depth: f64,
    /// Where the fatal drop from open-circuit voltage to the load is lost, volts by name.
    pub shares: Vec<(String, f64)>,
}

/// What the time on the shelf has cost when the cells are first used.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shelf {
    /// Time on the shelf in seconds.
    pub secs: f64,
    /// Depth of the most used cell at the start of use.
    pub depth: f64,
    /// Energy that all cells together have lost.
    pub joules: f64,
}

/// The three answers of a calendar.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Calendar {
    /// The first instant at which a need is not met; none within 100 years.
    pub first_failure_secs: Option<f64>,
    /// Time after that in which a need is not met, until the permanent end.
    pub below_need_secs: f64,
    /// The instant after which some need is never met again; none within 100 years.
    pub permanent_end_secs: Option<f64>,
}

/// From when one night at the low ambient ends the life.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ColdNight {
    /// Time at the usual ambient in seconds.
    pub time_secs: f64,
    /// Depth of the most used cell then.
    pub depth: f64,
}

/// What happened on the way, one entry an instant.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Trace {
    /// Instants in seconds.
    pub time_secs: Vec<f64>,
    /// Depth of the most used cell.
    pub depth: Vec<f64>,
    /// Terminal voltage of a cell at base load and at the worst burst.
    pub cell: RailTrace,
    /// Voltage of the main rail at base load and at the worst burst.
    pub rail: RailTrace,
}

/// A voltage on the way.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct RailTrace {
    /// At base load.
    pub rest_volts: Vec<f64>,
    /// The lowest in the worst burst.
    pub lowest_volts: Vec<f64>,
}

impl Cause {
    /// The word that outputs use.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::BrownOut => "brown-out",
            Self::Empty => "empty",
            Self::ConverterStopped => "converter-stopped",
            Self::OverVoltage => "over-voltage",
            Self::NotPowered => "not-powered",
            Self::NoEnd => "no-end",
        }
    }
}

/// The run time of a board.
///
/// # Accuracy
/// See [`Life::error_secs`].
/// Equations and sources: docs/theory/life.md.
///
/// # Errors
/// No operating point where one is needed, or a name that the family does not have.
pub fn life(request: &LifeRequest, progress: &dyn Progress) -> Result<Life, NoPoint> {
    life_from(request, &mut KnownPorts::default(), progress)
}

/// [`life`] with what earlier lives of the same request found out.
pub(crate) fn life_from(
    request: &LifeRequest,
    known: &mut KnownPorts,
    progress: &dyn Progress,
) -> Result<Life, NoPoint> {
    let boards = [request.board.to_owned()];
    let unknown = |what: String| NoPoint::Unknown { what };
    let circuit =
        Circuit::new(request.family, &boards).map_err(|board| unknown(format!("board {board}")))?;
    let profile = match request.profile {
        None => None,
        Some(name) => {
            let found = request.family.profile(name);
            Some(found.ok_or_else(|| unknown(format!("profile {name}")))?)
        }
    };
    let situation = situation(request, &boards, profile);
    let loads = circuit.loads();
    let course = Course::new(request.ambient);
    let schedule = Schedule::new(profile, &loads, HORIZON_SECS, course.days);
    let sites = |celsius: &f64| sites(&circuit, &situation, *celsius);
    let by_temperature: Vec<Vec<Site>> = course.celsius.iter().map(sites).collect();
    let sites = &by_temperature[0];
    if sites.is_empty() {
        return without_cell(&circuit, &situation);
    }
    let low = request.family.requirement.ambient.low.as_celsius();
    let night = (low < course.celsius[0]).then_some(low);
    let lines = lines(&circuit, sites, &schedule, &situation.states);
    let celsius = &course.celsius;
    let ports = Ports::new(
        &circuit, &situation, &schedule, sites, celsius, night, known,
    );
    let sides = by_temperature.into_iter();
    let sides = sides.map(|sites| Side::new(sites, night, &schedule));
    let sides = sides.collect();
    let swings = Swings::new(&schedule, celsius, night);
    let mut engine = Engine::new(schedule, &circuit, &situation, lines, ports, sides, swings);
    engine.has_swings &= request.bursts == Bursts::Followed;
    let shelf_secs = request
        .family
        .requirement
        .storage
        .map_or(0.0, Time::as_secs);
    let mut run = Run::new(engine, course, shelf_secs, progress);
    let shelf = shelf(&run, shelf_secs);
    let mut failed = run.follow()?;
    let slow = run.slow_tasks(failed.is_some());
    if !slow.is_empty() {
        failed = run.follow_apart(&slow)?;
    }
    let mut answer = finish(&mut run, &circuit, &situation, failed)?;
    answer.shelf = shelf;
    if request.ambient.months().is_some() {
        let (calendar, warning) = run.after(answer.life_secs)?;
        answer.calendar = Some(calendar);
        answer.warnings.extend(warning);
        answer.points_solved = run.engine.ports.solved();
        answer.bursts_followed = run.engine.swings.followed;
    }
    Ok(answer)
}

/// What storage has cost by the start.
fn shelf(run: &Run, secs: f64) -> Option<Shelf> {
    let fresh = run.engine.stored_joules(&run.engine.shelved(0.0));
    (secs > 0.0).then_some(Shelf {
        secs,
        depth: run.start_depth,
        joules: fresh - run.full_joules,
    })
}

fn situation(request: &LifeRequest, boards: &[String], profile: Option<&Profile>) -> Situation {
    let mut situation = Situation::usual(request.family, boards, profile);
    situation.ambient = request.ambient.mean();
    situation.positions.extend(request.positions.clone());
    situation.history = History::Running;
    situation
}

/// The cell parts of a circuit.
fn sites<'f>(circuit: &Circuit<'f>, situation: &Situation, celsius: f64) -> Vec<Site<'f>> {
    let mut sites: Vec<Site> = Vec::new();
    for (name, part) in circuit.parts() {
        if let Device::Cell(cell) = &part.device {
            let first = sites.iter().map(Site::len).sum();
            sites.push(Site::new(name, cell, celsius, first));
        }
    }
    // With several cell parts the currents are solved for with the cells as they are.
    if let [site] = sites.as_mut_slice() {
        let volts = site.series as f64 * site.model.open_circuit.at(0.0);
        site.bypass_farads = circuit.bypass_farads(situation, volts).iter().sum();
    }
    sites
}

/// Names the ledger's lines and says where each power of a reading goes.
fn lines(
    circuit: &Circuit,
    sites: &[Site],
    schedule: &Schedule,
    base: &BTreeMap<String, String>,
) -> Lines {
    let own = |site: &Site| CELL_LINES.map(|line| format!("{}:{line}", site.name));
    let mut names: Vec<String> = sites.iter().flat_map(own).collect();
    let parts = circuit.parts();
    let first_part = names.len();
    names.extend(parts.iter().map(|(name, _)| name.clone()));
    let mut place = Vec::new();
    for joint in &schedule.joints {
        let mut to: Vec<usize> = (first_part..first_part + parts.len()).collect();
        for (name, load) in circuit.loads() {
            let first = load.states.first().map(|s| &s.name);
            let state = joint.set.get(&name).or_else(|| base.get(&name)).or(first);
            let line = format!("load:{name}:{}", state.map_or("", String::as_str));
            let at = names.iter().position(|n| *n == line).unwrap_or_else(|| {
                names.push(line);
                names.len() - 1
            });
            to.push(at);
        }
        place.push(to);
    }
    names.push("stored:capacitors".to_owned());
    let stored = names.len() - 1;
    Lines {
        names,
        place,
        stored,
    }
}
