//! A board with a constant-current load added on a rail, and its operating points.
//!
//! # Formula
//! ```text
//! settled cell: R = R0 (1 + sum r_n) + R_f phi(I)     v_n = r_n R0 I once a current I has flowed for long
//! ```

use std::collections::BTreeMap;

use crate::circuit::{CellDrive, Circuit, Detail, History, NoPoint, Point, Situation};
use crate::deliver::held::{Miss, Needs, by_current, miss};
use crate::deliver::limit::{Bound, Path, bound};
use crate::deliver::{BOOT, DeliverRequest, Need, with_boot};
use crate::device::{CellModel, CellState};
use crate::model::{Device, Family, Law, Load, LoadState, Profile};
use crate::quantity::{Current, Spread, Temperature};
use crate::time::{Days, HORIZON_SECS, Schedule};

/// Name of the added load and of its state. Brackets keep them apart from what files can name.
pub(super) const ADDED: &str = "(added)";
/// What flows where nothing is plugged on, in amperes: the insulation of a board (common practice).
/// With no current at all the voltage behind a regulator is anything.
const INSULATION_AMPS: f64 = 1e-8;
/// Below this a rail has no voltage.
const DEAD_VOLTS: f64 = 0.1;
/// Rounds in which settled films and their currents must agree, and to which drop.
const MOST_FILM_ROUNDS: usize = 12;
const FILM_VOLTS: f64 = 1e-6;

/// Which current is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Question {
    /// Already up, continuous.
    Running,
    /// Already up, for a moment.
    Burst,
    /// Continuous, with the own loads in their heaviest states for a moment.
    BesideTask,
    /// From off.
    Starting,
}

impl Question {
    /// Whether the cells are asked for a moment only.
    pub(super) fn is_brief(self) -> bool {
        matches!(self, Self::Burst | Self::BesideTask | Self::Starting)
    }
}

/// One point that is asked for.
struct Asked<'s> {
    question: Question,
    detail: Detail,
    family: &'s Family,
    situation: &'s Situation,
    cells: &'s CellDrive,
}

/// The board at one ambient and depth.
#[derive(Clone)]
pub(super) struct Rig<'a> {
    rail: &'a str,
    /// The board alone, with the added load.
    plain: Family,
    /// The same with the polarisation of the cells settled.
    settled: Family,
    base: Situation,
    heaviest: BTreeMap<String, String>,
    booting: BTreeMap<String, String>,
    promised_amps: Option<f64>,
    need: Need,
    needs: Needs,
}

impl<'a> Rig<'a> {
    pub(super) fn new(request: &DeliverRequest<'a>, rail: &'a str) -> Result<Self, NoPoint> {
        let profile = match request.profile {
            None => None,
            Some(name) => Some(request.family.profile(name).ok_or_else(|| {
                let what = format!("profile {name}");
                NoPoint::Unknown { what }
            })?),
        };
        let boards = [request.board.to_owned()];
        let mut base = Situation::usual(request.family, &boards, profile);
        base.positions.extend(request.positions.clone());
        let mut plain = with_boot(request.family);
        plain.boards.retain(|b| b.name == request.board);
        let (mut heaviest, mut booting) = (BTreeMap::new(), BTreeMap::new());
        if let Ok(circuit) = Circuit::new(&plain, &boards) {
            heaviest = heaviest_states(&circuit, profile, &base);
            let boots = circuit.loads().into_iter();
            let boots = boots.filter(|(_, load)| load.state(BOOT).is_some());
            booting = boots.map(|(name, _)| (name, BOOT.to_owned())).collect();
        }
        let promise = plain.connector.promises.iter().find(|p| p.pin == rail);
        let band = promise.and_then(|p| p.band);
        let promised_amps = promise.and_then(|p| p.current).map(|a| a.as_amps());
        let needs = Needs {
            band: band.map(|(from, to)| (from.as_volts(), to.as_volts())),
            ..Needs::default()
        };
        let ground = plain.connector.ground_net().to_owned();
        for board in &mut plain.boards {
            board.loads.push(added(rail, &ground));
        }
        Ok(Self {
            rail,
            settled: plain.clone(),
            plain,
            base,
            heaviest,
            booting,
            promised_amps,
            need: Need::Stated,
            needs,
        })
    }

    pub(super) fn rail(&self) -> &str {
        self.rail
    }

    /// Whether a cell has a passivation film.
    pub(super) fn has_film(&self) -> bool {
        let mut parts = self.plain.boards.iter().flat_map(|b| &b.parts);
        parts.any(|part| matches!(&part.device, Device::Cell(cell) if cell.model.film.is_some()))
    }

    pub(super) fn need(&self) -> Need {
        self.need
    }

    pub(super) fn positions(&self) -> BTreeMap<String, String> {
        self.base.positions.clone()
    }

    pub(super) fn promised_amps(&self) -> Option<f64> {
        self.promised_amps
    }

    /// The own loads' heaviest states, where tasks bring some about.
    pub(super) fn heaviest(&self) -> Vec<(String, String)> {
        let states = self.heaviest.iter();
        states.map(|(n, s)| (n.clone(), s.clone())).collect()
    }

    /// Goes to an ambient: what runs there with fresh cells must go on running.
    pub(super) fn set_ambient(&mut self, ambient: Temperature) -> Result<(), NoPoint> {
        self.base.ambient = ambient;
        self.settled = settled(&self.plain, ambient.as_celsius());
        self.base.depth = 0.0;
        set_added(&mut self.plain, 0.0);
        let circuit = Circuit::new(&self.plain, &self.base.boards);
        let circuit = circuit.map_err(|what| NoPoint::Unknown { what })?;
        let point = circuit.solve_in(Detail::Bare, &self.base, &CellDrive::Rested, None)?;
        self.needs.loads = runs(&circuit, &self.base, &point);
        let on_rail = |(name, load): &(String, &Load)| {
            load.plus == self.rail && self.needs.loads.contains(name)
        };
        let used = circuit.loads().iter().any(on_rail);
        self.need = if used || self.needs.band.is_some() {
            Need::Stated
        } else {
            Need::Unstated
        };
        Ok(())
    }

    /// Goes to a depth, and notes what the board does there with nothing added.
    pub(super) fn set_depth(&mut self, depth: f64) {
        self.base.depth = depth;
        self.needs.unloaded_volts = None;
        self.needs.stresses.clear();
        self.needs.unloaded = None;
        set_added(&mut self.settled, 0.0);
        let Ok(circuit) = Circuit::new(&self.settled, &self.base.boards) else {
            return;
        };
        if let Ok(point) = settled_point(&circuit, Detail::Bare, &self.base, None) {
            self.needs.stresses = by_current(&circuit, &self.base, &point);
            let unloaded = point.net(self.rail).unwrap_or(0.0);
            self.needs.unloaded_volts = (self.need == Need::Unstated).then_some(unloaded);
            self.needs.unloaded = Some(point);
        }
    }

    /// The operating point with a current added, where it holds; otherwise what binds.
    pub(super) fn look(
        &mut self,
        question: Question,
        detail: Detail,
        amps: f64,
        good: Option<&Point>,
    ) -> Result<Point, Bound> {
        set_added(&mut self.plain, amps);
        set_added(&mut self.settled, amps);
        let (plain, settled, base) = (&self.plain, &self.settled, &self.base);
        let asked = |family, situation, cells| Asked {
            question,
            detail,
            family,
            situation,
            cells,
        };
        let rested = &CellDrive::Rested;
        match question {
            Question::Running => self.judged(&asked(settled, base, rested), good),
            Question::Burst => self.judged(&asked(plain, base, rested), good),
            Question::Starting => {
                let mut cold = base.clone();
                cold.history = History::Cold;
                cold.states.extend(self.booting.clone());
                self.judged(&asked(plain, &cold, rested), good)
            }
            Question::BesideTask => {
                let running = Asked {
                    question: Question::Running,
                    ..asked(settled, base, rested)
                };
                let point = self.judged(&running, good)?;
                let cells = self.polarised(&point);
                let mut heavy = base.clone();
                heavy.states.extend(self.heaviest.clone());
                self.judged(&asked(plain, &heavy, &cells), good)?;
                Ok(point)
            }
        }
    }

    fn judged(&self, asked: &Asked, good: Option<&Point>) -> Result<Point, Bound> {
        let Asked {
            question,
            detail,
            family,
            situation,
            cells,
        } = *asked;
        let Ok(circuit) = Circuit::new(family, &situation.boards) else {
            return Err(Miss::NoPoint.bound());
        };
        let warm = good.filter(|_| question != Question::Starting);
        let point = if question == Question::Running {
            settled_point(&circuit, detail, situation, warm)
        } else {
            circuit.solve_in(detail, situation, cells, warm)
        };
        let Ok(point) = point else {
            let path = self.path(question, good, None);
            return Err(bound(&path, &circuit, &Miss::NoPoint));
        };
        let is_dead = point.net(self.rail).is_none_or(|v| v < DEAD_VOLTS);
        let missed = if is_dead && good.is_none() && self.needs.loads.is_empty() {
            Some(Miss::NotPowered)
        } else {
            miss(
                question,
                self.rail,
                &self.needs,
                &circuit,
                situation,
                &point,
            )
        };
        match missed {
            None => Ok(point),
            Some(miss) => Err(bound(
                &self.path(question, good, Some(&point)),
                &circuit,
                &miss,
            )),
        }
    }

    fn path<'p>(
        &'p self,
        question: Question,
        good: Option<&'p Point>,
        bad: Option<&'p Point>,
    ) -> Path<'p> {
        Path {
            question,
            unloaded: self.needs.unloaded.as_ref(),
            good,
            bad,
        }
    }

    /// The cells after the currents of a point have flowed for long.
    fn polarised(&self, point: &Point) -> CellDrive {
        let parts = self.plain.boards.iter().flat_map(|b| &b.parts);
        let celsius = self.base.ambient.as_celsius();
        let depth = self.base.depth;
        let states = parts.filter_map(|part| {
            let Device::Cell(cell) = &part.device else {
                return None;
            };
            let amps = point.part(&part.name).map_or(0.0, |p| p.amps);
            let mut state = cell.model.rested(depth);
            let ohms = cell.model.resistance_ohms(depth, celsius, 0.0);
            for (n, volts) in state.branch_volts.iter_mut().enumerate() {
                *volts = cell.model.branch_ratio(n, celsius) * ohms * amps;
            }
            state.film = cell.model.film_settled(amps, celsius);
            Some(vec![state; cell.series])
        });
        CellDrive::States(states.collect::<Vec<Vec<CellState>>>())
    }
}

/// The operating point with the branches settled in the resistance and the films where the currents
/// of the point leave them: found from none on, since what a film drops is bounded.
fn settled_point(
    circuit: &Circuit,
    detail: Detail,
    situation: &Situation,
    warm: Option<&Point>,
) -> Result<Point, NoPoint> {
    let parts = circuit.parts();
    let cells = parts.iter().filter_map(|(name, part)| match &part.device {
        Device::Cell(cell) => Some((name.as_str(), cell)),
        _ => None,
    });
    let cells: Vec<_> = cells.collect();
    if cells.iter().all(|(_, cell)| cell.model.film.is_none()) {
        return circuit.solve_in(detail, situation, &CellDrive::Rested, warm);
    }
    let celsius = situation.ambient.as_celsius();
    let mut films = vec![0.0; cells.len()];
    let mut found = None;
    for _ in 0..MOST_FILM_ROUNDS {
        let states = cells.iter().zip(&films).map(|((_, cell), film)| {
            let rested = cell.model.rested(situation.depth);
            vec![
                CellState {
                    film: *film,
                    ..rested
                };
                cell.series
            ]
        });
        let drive = CellDrive::States(states.collect());
        let point = circuit.solve_in(detail, situation, &drive, found.as_ref().or(warm))?;
        let mut moved_volts: f64 = 0.0;
        for ((name, cell), film) in cells.iter().zip(&mut films) {
            let amps = point.part(name).map_or(0.0, |p| p.amps);
            let before = std::mem::replace(film, cell.model.film_settled(amps, celsius));
            let ohms = cell.model.film_ohms((*film - before).abs());
            moved_volts = moved_volts.max(ohms * amps.abs());
        }
        let settled = moved_volts <= FILM_VOLTS;
        found = Some(point);
        if settled {
            break;
        }
    }
    found.ok_or(NoPoint::Unknown {
        what: ADDED.to_owned(),
    })
}

fn added(rail: &str, ground: &str) -> Load {
    Load {
        name: ADDED.to_owned(),
        plus: rail.to_owned(),
        minus: ground.to_owned(),
        working: None,
        survives: None,
        ripple: None,
        reset: None,
        states: vec![LoadState {
            name: ADDED.to_owned(),
            law: Law::Current(Spread::exactly(Current::from_amps(0.0))),
            working: None,
        }],
        drives: Vec::new(),
        on: None,
    }
}

fn set_added(family: &mut Family, amps: f64) {
    let amps = amps.max(INSULATION_AMPS);
    let loads = family.boards.iter_mut().flat_map(|b| &mut b.loads);
    for load in loads.filter(|l| l.name == ADDED) {
        load.states[0].law = Law::Current(Spread::exactly(Current::from_amps(amps)));
    }
}

/// The family with every cell's branches settled at an ambient.
fn settled(family: &Family, celsius: f64) -> Family {
    let mut settled = family.clone();
    for part in settled.boards.iter_mut().flat_map(|b| &mut b.parts) {
        if let Device::Cell(cell) = &mut part.device {
            let factor = 1.0 + ratios(&cell.model, celsius);
            cell.model.resistance = cell.model.resistance.map(|_, ohms| factor * ohms);
        }
    }
    settled
}

fn ratios(model: &CellModel, celsius: f64) -> f64 {
    let branches = 0..model.polarisation.len();
    branches.map(|n| model.branch_ratio(n, celsius)).sum()
}

/// Loads that are out of reset and not below their working range.
fn runs(circuit: &Circuit, situation: &Situation, point: &Point) -> Vec<String> {
    let loads = circuit.loads().into_iter();
    let running = loads.filter(|(name, load)| {
        let state = situation.states.get(name).and_then(|s| load.state(s));
        let range = load.working_in(state.unwrap_or(0));
        let at = point.load(name);
        at.is_some_and(|at| at.awake && range.is_some_and(|r| r.from.as_volts() <= at.volts))
    });
    running.map(|(name, _)| name).collect()
}

/// The joint states that tasks bring about in which the loads take most, at three volts: these only
/// serve to compare states with each other.
fn heaviest_states(
    circuit: &Circuit,
    profile: Option<&Profile>,
    base: &Situation,
) -> BTreeMap<String, String> {
    let loads = circuit.loads();
    let schedule = Schedule::new(profile, &loads, HORIZON_SECS, Days::Even);
    let amps = |set: &BTreeMap<String, String>| -> f64 {
        let each = loads.iter().map(|(name, load)| {
            let state = set.get(name).or_else(|| base.states.get(name));
            let state = state.and_then(|s| load.state(s)).unwrap_or(0);
            load.states.get(state).map_or(0.0, |s| match s.law {
                Law::Current(amps) => amps.si(),
                Law::Resistance(ohms) => 3.0 / ohms.si(),
                Law::Power(watts) => watts.si() / 3.0,
            })
        });
        each.sum()
    };
    let occurring = schedule.mixes.iter().flat_map(|m| &m.worst);
    let mut most = (amps(&BTreeMap::new()), BTreeMap::new());
    for joint in occurring.map(|&at| &schedule.joints[at]) {
        let sum = amps(&joint.set);
        if most.0 < sum {
            most = (sum, joint.set.clone());
        }
    }
    most.1
}
