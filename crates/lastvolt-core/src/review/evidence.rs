//! What the rules look at: one board of a family with its solved points, lives, matrix and leakage
//! budget. Everything is worked out when first asked for and kept, so that rules share it.

pub(crate) mod cells;
pub(crate) mod feed;
mod follow;
mod heat;
pub(crate) mod power;
mod survey;
mod win;
mod without;

pub(crate) use heat::Warm;

use std::cell::{OnceCell, RefCell};
use std::collections::BTreeMap;
use std::rc::Rc;

use crate::circuit::{
    CellDrive, Circuit, Matrix, MatrixCase, NoPoint, Point, Situation, Stress, matrix, stresses,
};
use crate::device::{Cell, Setpoint};
use crate::model::{Board, Device, Family, Kind, Law, Load, Part, Profile, WorkingRange};
use crate::progress::{Progress, Silent};
use crate::quantity::{DAY_SECS, Temperature};
use crate::review::anatomy::dividers;
use crate::review::budget::{Budget, budget};
use crate::review::situations::Survey;
use crate::review::{Finding, RuleId, Severity};
use crate::time::{Bursts, Climate, KnownPorts, Life, LifeRequest, Prepared, life_from};

/// What is worth saying.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sensitivity {
    /// Share of the life that removing a cause must win before the cause is worth a finding.
    pub win_share: f64,
}

impl Sensitivity {
    /// Five percent: less is within the spread of cells (common practice).
    pub const USUAL: Self = Self { win_share: 0.05 };
}

/// One board of a family and all that has been worked out about it.
pub struct Evidence<'a> {
    /// The family.
    pub family: &'a Family,
    /// The board.
    pub board: &'a Board,
    /// What the loads do.
    pub profile: Option<&'a Profile>,
    /// What is worth saying.
    pub sensitivity: Sensitivity,
    circuit: Circuit<'a>,
    progress: &'a dyn Progress,
    points: RefCell<BTreeMap<String, Result<Rc<Point>, NoPoint>>>,
    /// What the life at the usual ambient has solved of the board, which serves lives like it.
    known: RefCell<KnownPorts>,
    life: OnceCell<Result<Life, NoPoint>>,
    wins: RefCell<BTreeMap<String, Option<f64>>>,
    /// The life with settled bursts, against which others like it are compared.
    settled: OnceCell<Option<f64>>,
    matrix: OnceCell<Matrix>,
    budget: OnceCell<Budget>,
    high: OnceCell<Vec<HighPoint>>,
    survey: OnceCell<Survey>,
    /// What could not be worked out.
    unknown: RefCell<Vec<String>>,
}

/// A forward situation solved with every source and setting at its upper limit.
#[derive(Debug, Clone, PartialEq)]
pub struct HighPoint {
    /// The situation.
    pub situation: Situation,
    /// Its point.
    pub point: Point,
    /// Its stresses.
    pub stresses: Vec<Stress>,
}

/// A load that does not get the voltage it needs.
#[derive(Debug, Clone, PartialEq)]
pub struct Shortfall {
    /// The load.
    pub load: String,
    /// The state it is in.
    pub state: String,
    /// The voltage it gets.
    pub volts: f64,
    /// Whether it is out of reset; in reset it draws next to nothing and its voltage says little.
    pub awake: bool,
    /// Its working range in that state.
    pub range: WorkingRange,
}

impl<'a> Evidence<'a> {
    /// Evidence on one board; nothing is solved yet.
    ///
    /// # Errors
    /// A board or profile that the family does not have.
    pub fn new(
        family: &'a Family,
        board: &str,
        profile: Option<&'a Profile>,
        progress: &'a dyn Progress,
    ) -> Result<Self, NoPoint> {
        let unknown = |what: String| NoPoint::Unknown { what };
        let found = family.board(board);
        let found = found.ok_or_else(|| unknown(format!("board {board}")))?;
        let circuit = Circuit::new(family, &[board.to_owned()])
            .map_err(|what| unknown(format!("board {what}")))?;
        Ok(Self {
            family,
            board: found,
            profile,
            sensitivity: Sensitivity::USUAL,
            circuit,
            progress,
            points: RefCell::default(),
            known: RefCell::default(),
            life: OnceCell::new(),
            wins: RefCell::default(),
            settled: OnceCell::new(),
            matrix: OnceCell::new(),
            budget: OnceCell::new(),
            high: OnceCell::new(),
            survey: OnceCell::new(),
            unknown: RefCell::default(),
        })
    }

    /// The circuit of the board alone.
    #[must_use]
    pub fn circuit(&self) -> &Circuit<'a> {
        &self.circuit
    }

    /// The usual situation.
    #[must_use]
    pub fn usual(&self) -> Situation {
        Situation::usual(
            self.family,
            std::slice::from_ref(&self.board.name),
            self.profile,
        )
    }

    /// The point of a situation of the board alone, solved once.
    ///
    /// # Errors
    /// No operating point.
    pub fn solve(&self, situation: &Situation) -> Result<Rc<Point>, NoPoint> {
        let key = format!("{situation:?}");
        if let Some(known) = self.points.borrow().get(&key) {
            return known.clone();
        }
        // The same positions in the matrix are the nearest that is known.
        let near = self.matrix().cases.iter().find(|c| {
            c.situation.positions == situation.positions
                && c.situation.reversed == situation.reversed
        });
        let near = near.and_then(|c| c.point.as_ref().ok());
        let rested = &CellDrive::Rested;
        let solved = self.circuit.solve(situation, rested, near);
        let solved = solved.map(Rc::new);
        self.points.borrow_mut().insert(key, solved.clone());
        solved
    }

    /// The point of a situation, where there is one.
    #[must_use]
    pub fn point(&self, situation: &Situation) -> Option<Rc<Point>> {
        self.solve(situation).ok()
    }

    /// The life at the usual ambient.
    ///
    /// # Errors
    /// No operating point on the way.
    pub fn solved_life(&self) -> Result<&Life, &NoPoint> {
        let solved = self.life.get_or_init(|| {
            life_from(
                &self.request(self.family),
                &mut self.known.borrow_mut(),
                self.progress,
            )
        });
        solved.as_ref()
    }

    /// The life at the usual ambient, where it could be computed and a cell feeds the board.
    #[must_use]
    pub fn life(&self) -> Option<&Life> {
        self.solved_life().ok().filter(|_| self.board.has_cell())
    }

    /// The life, where it lasts longer than no time and ends.
    #[must_use]
    pub fn lasting_life(&self) -> Option<&Life> {
        let lasts = |l: &&Life| l.life_secs.is_some_and(|secs| 0.0 < secs);
        self.life().filter(lasts)
    }

    /// What lives of this board at the usual ambient share, with what its own life has solved of it.
    #[must_use]
    pub fn prepared(&self) -> Prepared<'a> {
        let request = usual_life(self.family, self.board, self.profile);
        Prepared::knowing(request, self.known.borrow().clone())
    }

    fn request<'f>(&'f self, family: &'f Family) -> LifeRequest<'f> {
        usual_life(family, self.board, self.profile)
    }

    /// Every switch position and reversed cell.
    #[must_use]
    pub fn matrix(&self) -> &Matrix {
        self.matrix.get_or_init(|| {
            let boards = [self.board.name.clone()];
            let solved = matrix(self.family, &boards, self.profile, &Silent);
            solved.unwrap_or(Matrix {
                solved: 0,
                cases: Vec::new(),
                warnings: Vec::new(),
            })
        })
    }

    /// The solved cases with every cell the right way round.
    pub fn forward(&self) -> impl Iterator<Item = (&MatrixCase, &Point)> {
        let cases = self.matrix().cases.iter();
        cases
            .filter(|c| c.situation.reversed.is_empty())
            .filter_map(|c| Some((c, c.point.as_ref().ok()?)))
    }

    /// The forward cases in whose positions switches stay by themselves.
    pub fn lasting(&self) -> impl Iterator<Item = (&MatrixCase, &Point)> {
        self.forward().filter(|(case, _)| {
            let positions = &case.situation.positions;
            self.board.parts.iter().all(|part| match &part.device {
                Device::Switch(s) => positions.get(&part.name).is_none_or(|p| s.lasts_in(p)),
                _ => true,
            })
        })
    }

    /// Every forward situation of the matrix with supplies, references and dividers at the limits
    /// that give the highest voltages.
    #[must_use]
    pub fn high(&self) -> &[HighPoint] {
        self.high.get_or_init(|| {
            let family = high_corner(self.family, self.board);
            let Ok(circuit) = Circuit::new(&family, std::slice::from_ref(&self.board.name)) else {
                return Vec::new();
            };
            let solved = self.forward().filter_map(|(case, near)| {
                let situation = case.situation.clone();
                let rested = &CellDrive::Rested;
                let point = circuit.solve(&situation, rested, Some(near)).ok()?;
                let stresses = stresses(&circuit, &situation, &point);
                Some(HighPoint {
                    situation,
                    point,
                    stresses,
                })
            });
            solved.collect()
        })
    }

    /// Positions other than the usual one in which no load is powered, between two positions of a
    /// switch left out. A board that powers nothing in its usual position is not off but at fault.
    pub fn off(&self) -> impl Iterator<Item = (&MatrixCase, &Point)> {
        let usual = self.usual();
        let works = self.point(&usual).is_some_and(|p| !self.unpowered(&p));
        self.forward().filter(move |(case, point)| {
            let settled = self.board.parts.iter().all(|part| match &part.device {
                Device::Switch(s) => case
                    .situation
                    .positions
                    .get(&part.name)
                    .is_some_and(|p| s.position(p).is_some()),
                _ => true,
            });
            let other = case.situation.positions != usual.positions;
            settled && works && other && self.unpowered(point)
        })
    }

    /// Whether every load is below half of what it works from.
    fn unpowered(&self, point: &Point) -> bool {
        self.circuit.loads().iter().all(|(name, load)| {
            let from = lowest_working(load).unwrap_or(1.0);
            point.load(name).is_none_or(|l| l.volts < 0.5 * from)
        })
    }

    /// The leakage budget.
    #[must_use]
    pub fn budget(&self) -> &Budget {
        self.budget.get_or_init(|| {
            if !self.board.has_cell() {
                return Budget::default();
            }
            // Of several positions that switch the board off, the one that drains most.
            let drain = |case: &MatrixCase| case.cells.iter().map(|c| c.1).sum::<f64>();
            let off = self.off().map(|(case, _)| case);
            let off = off.max_by(|a, b| drain(a).total_cmp(&drain(b)));
            let off = off.map(|case| case.situation.clone());
            budget(self.family, &self.usual(), off.as_ref())
        })
    }

    /// Joint load states that the profile can bring about: the base states, every step over them,
    /// and every load in its hungriest state at once.
    #[must_use]
    pub fn joint_states(&self) -> Vec<BTreeMap<String, String>> {
        let base = self.usual().states;
        let mut out = vec![base.clone()];
        let tasks = self.profile.map_or(&[][..], |p| &p.tasks);
        for step in tasks.iter().flat_map(|t| &t.steps) {
            let mut states = base.clone();
            let known = step.set.iter().filter(|(n, _)| base.contains_key(n));
            states.extend(known.cloned());
            if !out.contains(&states) {
                out.push(states);
            }
        }
        let hungriest = self.worst_states();
        if !out.contains(&hungriest) {
            out.push(hungriest);
        }
        out
    }

    /// Every load in its hungriest state of the profile.
    #[must_use]
    pub fn worst_states(&self) -> BTreeMap<String, String> {
        let mut hungriest = self.usual().states;
        let tasks = self.profile.map_or(&[][..], |p| &p.tasks);
        for (name, state) in tasks.iter().flat_map(|t| &t.steps).flat_map(|s| &s.set) {
            let Some(now) = hungriest.get_mut(name) else {
                continue;
            };
            // Three volts only serve to compare states of one load with each other.
            if self.state_amps(name, now, 3.0) < self.state_amps(name, state, 3.0) {
                now.clone_from(state);
            }
        }
        hungriest
    }

    /// What a load of this board takes in a state at a voltage.
    #[must_use]
    pub fn state_amps(&self, load: &str, state: &str, volts: f64) -> f64 {
        let loads = self.family.loads_of(self.board);
        let load = loads.iter().find(|l| l.name == load);
        let state = load.and_then(|l| l.states.iter().find(|s| s.name == state));
        state.map_or(0.0, |s| match s.law {
            Law::Current(amps) => amps.si(),
            Law::Resistance(ohms) => volts / ohms.si(),
            Law::Power(watts) => watts.si() / volts,
        })
    }

    /// Loads outside their working range at a point, below it or above it.
    #[must_use]
    pub fn shortfalls(&self, situation: &Situation, point: &Point) -> Vec<Shortfall> {
        let mut out = Vec::new();
        for (name, load) in self.circuit.loads() {
            let state = situation.states.get(&name).and_then(|s| load.state(s));
            let state = state.unwrap_or(0);
            let (Some(range), Some(solved)) = (load.working_in(state), point.load(&name)) else {
                continue;
            };
            let inside = range.from.as_volts() <= solved.volts
                && solved.volts <= range.to.as_volts()
                && solved.awake;
            if !inside {
                out.push(Shortfall {
                    load: name,
                    state: load.states[state].name.clone(),
                    volts: solved.volts,
                    awake: solved.awake,
                    range,
                });
            }
        }
        out
    }

    /// The first cell part.
    #[must_use]
    pub fn cell(&self) -> Option<(&'a Part, &'a Cell)> {
        self.board.parts.iter().find_map(|p| match &p.device {
            Device::Cell(cell) => Some((p, &**cell)),
            _ => None,
        })
    }

    /// Name of the part that stands for the whole board: its first source, else its first part.
    #[must_use]
    pub fn source_name(&self) -> Option<String> {
        let parts = &self.board.parts;
        let source = parts
            .iter()
            .find(|p| p.kind == Kind::Cell)
            .or_else(|| parts.iter().find(|p| p.kind == Kind::Supply))
            .or_else(|| parts.first());
        source.map(|p| p.name.clone())
    }

    /// The usual situation at the end of life, every load in its hungriest state.
    #[must_use]
    pub fn tired(&self) -> Option<Situation> {
        let depth = self.life()?.end.depth;
        Some(Situation {
            depth,
            states: self.worst_states(),
            ..self.usual()
        })
    }

    /// A finding about parts of this board, still without words and figures.
    #[must_use]
    pub fn finding(&self, rule: RuleId, severity: Severity, parts: &[&str]) -> Finding {
        let known = parts.iter().filter_map(|name| self.board.part(name));
        let least = known.map(|part| part.origin.confidence).min();
        Finding {
            parts: parts.iter().map(|p| (*p).to_owned()).collect(),
            ..Finding::about(rule, severity, &self.board.name, least)
        }
    }

    /// Names of nets of this board by place.
    #[must_use]
    pub fn net_name(&self, net: usize) -> String {
        self.board.nets.get(net).cloned().unwrap_or_default()
    }
}

/// The life of a board at the usual ambient with bursts followed.
fn usual_life<'f>(
    family: &'f Family,
    board: &'f Board,
    profile: Option<&'f Profile>,
) -> LifeRequest<'f> {
    LifeRequest {
        family,
        board: &board.name,
        profile: profile.map(|p| p.name.as_str()),
        ambient: Climate::usual(family),
        bursts: Bursts::Followed,
        positions: BTreeMap::new(),
    }
}

/// The family with supplies, references and dividers of a board at the limits that give the
/// highest voltages.
pub(super) fn high_corner(family: &Family, board: &Board) -> Family {
    let mut high = family.clone();
    let pairs = dividers(board);
    let divided = |name: &str| {
        let upper = pairs.iter().any(|d| d.upper.name == name);
        let lower = pairs.iter().any(|d| d.lower.name == name);
        (upper, lower)
    };
    let boards = high.boards.iter_mut().filter(|b| b.name == board.name);
    for part in boards.flat_map(|b| &mut b.parts) {
        match &mut part.device {
            Device::Supply(s) => {
                s.open_circuit.typ = s.open_circuit.max.unwrap_or(s.open_circuit.typ)
            }
            Device::Regulator(u) => match &mut u.setpoint {
                Setpoint::Output(v) | Setpoint::Reference(v) => v.typ = v.max.unwrap_or(v.typ),
            },
            Device::Resistor(r) => match divided(&part.name) {
                (true, false) => r.value.typ = r.value.max.unwrap_or(r.value.typ),
                (false, true) => r.value.typ = r.value.min.unwrap_or(r.value.typ),
                _ => {}
            },
            _ => {}
        }
    }
    high
}

/// Lowest voltage at which a load works in any of its states.
#[must_use]
pub(crate) fn lowest_working(load: &Load) -> Option<f64> {
    let ranges = (0..load.states.len()).filter_map(|s| load.working_in(s));
    ranges.map(|r| r.from.as_volts()).reduce(f64::min)
}

/// Factor on a leakage stated at 25 degC: it doubles every 10 K (common practice).
#[must_use]
pub(crate) fn leakage_factor(at: Temperature) -> f64 {
    crate::numerics::math::exp2((at.as_celsius() - 25.0) / 10.0)
}

/// A month, after which a cell put in the wrong way round or forgotten in a drawer should not be flat.
pub(crate) const FORGOTTEN_SECS: f64 = 30.0 * DAY_SECS;
