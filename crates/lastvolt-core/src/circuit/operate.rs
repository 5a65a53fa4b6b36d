//! The operating point: flags that depend on history are settled around the Newton solution.
//!
//! A circuit that is `running` starts with everything on and only lets things fall off; a `cold` one
//! starts with everything off and only lets things come on. What comes on and falls off again is
//! hiccup.

use crate::circuit::build::{Flags, Owner, System};
use crate::circuit::element::{Element, volts};
use crate::circuit::gated::{self, level};
use crate::circuit::netlist::Netlist;
use crate::circuit::newton::{Failure, Solution};
use crate::circuit::promise::promise;
use crate::circuit::regulation::{Active, RegulatorTerms};
use crate::circuit::shelf::{Kept, Shelf};
use crate::circuit::{CellDrive, Fold, History, Mode, NoPoint, Situation};
use crate::device::Topology;
use crate::model::Device;

/// A settled circuit.
pub(crate) struct Settled<'c, 'f> {
    pub(crate) kept: Kept<'c, 'f>,
    pub(crate) solution: Solution,
    /// One entry a part: what a regulator is doing.
    pub(crate) modes: Vec<Option<Mode>>,
    pub(crate) folds: Vec<Fold>,
    pub(crate) steps: usize,
}

pub(super) struct Operation<'c, 'f, 's> {
    pub(super) netlist: &'c Netlist<'f>,
    pub(super) situation: &'s Situation,
    cells: &'s CellDrive,
    pub(super) shelf: &'s mut Shelf<'c, 'f>,
    pub(super) flags: Flags,
    /// One entry a part: why a regulator stays off.
    fallen: Vec<Option<Mode>>,
    /// One entry a part: how often pass-through was changed.
    turns: Vec<usize>,
    pub(super) folds: Vec<Fold>,
    steps: usize,
    pub(super) detail: Detail,
}

/// How much is worked out about converters that fall off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Detail {
    /// What their source could still give.
    Explained,
    /// That they do.
    Bare,
    /// Nothing: only what plain steps from a near start find is a point.
    Near,
}

/// A change that a regulator's flags need.
struct Wish {
    at: usize,
    flag: Flag,
    urgency: f64,
}

/// What a regulator's flags should become.
#[derive(Debug, Clone, Copy)]
enum Flag {
    On,
    Off(Mode),
    Fold,
    Pass(bool),
}

/// What is changed first. Low inputs come between: by how far they fall short, as a share.
mod urgency {
    /// Decided by a control pin alone.
    pub(super) const NOT_ENABLED: f64 = f64::INFINITY;
    /// Pulls down the inputs of others.
    pub(super) const FOLDED: f64 = 1e9;
    /// Not a latch; the voltages mean nothing before it is settled.
    pub(super) const PASSING: f64 = 1e6;
    /// Only once nothing has to go; before what is fed through it comes on.
    pub(super) const LETTING_THROUGH: f64 = -0.5;
    /// Last of all.
    pub(super) const COMING_ON: f64 = -1.0;
}

/// How far an input falls short of what is needed, as a share of it.
fn shortfall(input: f64, needed: f64) -> f64 {
    ((needed - input) / needed).clamp(0.0, 1e3)
}

/// Settles the circuit in a situation; the shelf holds systems of this situation alone.
pub(crate) fn settle<'c, 'f>(
    netlist: &'c Netlist<'f>,
    situation: &Situation,
    cells: &CellDrive,
    shelf: &mut Shelf<'c, 'f>,
    warm: Option<&[f64]>,
    detail: Detail,
) -> Result<Settled<'c, 'f>, NoPoint> {
    shelf.begin_question();
    let running = situation.history == History::Running;
    let n = netlist.parts.len();
    let flags = Flags {
        on: vec![running; n],
        pass: vec![false; n],
        idle: vec![false; n],
        awake: netlist
            .loads
            .iter()
            .map(|l| running || l.load.reset.is_none())
            .collect(),
        boot_amps: vec![None; netlist.loads.len()],
        load_scale: 1.0,
    };
    let operation = Operation {
        netlist,
        situation,
        cells,
        shelf,
        flags,
        fallen: vec![None; n],
        turns: vec![0; n],
        folds: Vec::new(),
        steps: 0,
        detail,
    };
    operation.run(warm)
}

impl<'c, 'f> Operation<'c, 'f, '_> {
    fn run(mut self, warm: Option<&[f64]>) -> Result<Settled<'c, 'f>, NoPoint> {
        let mut moved: Option<Vec<f64>> = None;
        let mut start = warm;
        let most = 6 * (self.netlist.parts.len() + self.netlist.loads.len()) + 10;
        for _ in 0..most {
            let mut kept = self.kept()?;
            let mut solved = self.solve(&mut kept, start);
            if solved.is_err()
                && let Some((other, solution)) = self.solve_shared()
            {
                self.shelf.put(std::mem::replace(&mut kept, other));
                solved = Ok(solution);
            }
            match solved {
                Ok(solution) => {
                    if !self.change(&kept.system, &solution) {
                        return Ok(self.finish(kept, solution));
                    }
                    self.shelf.put(kept);
                    start = Some(moved.insert(solution.x));
                }
                Err(failure) if self.detail == Detail::Near => {
                    let none = self.no_point(&kept.system, &failure);
                    self.shelf.put(kept);
                    return Err(none);
                }
                Err(failure) => {
                    let fallen = self.fall(&kept.system, &failure);
                    self.shelf.put(kept);
                    fallen?;
                    start = None;
                }
            }
        }
        let net = self.netlist.ground.clone();
        Err(NoPoint::NotConverged {
            net,
            residual: f64::MAX,
        })
    }

    /// The system with the present flags, ready to be solved.
    pub(super) fn kept(&mut self) -> Result<Kept<'c, 'f>, NoPoint> {
        self.shelf
            .take(self.netlist, self.situation, self.cells, &self.flags)
    }

    /// Where several regulators hold one output, their equations contradict each other until it is
    /// known which of them give nothing: tries every choice that leaves one giving.
    fn solve_shared(&mut self) -> Option<(Kept<'c, 'f>, Solution)> {
        let on: Vec<usize> = (0..self.flags.on.len())
            .filter(|&at| self.flags.on[at])
            .filter(|&at| matches!(self.netlist.parts[at].part.device, Device::Regulator(_)))
            .collect();
        if on.len() < 2 || MOST_SHARING < on.len() {
            return None;
        }
        let mut found = None;
        for choice in 1..(1_usize << on.len()) - 1 {
            for (bit, &at) in on.iter().enumerate() {
                self.flags.idle[at] = choice >> bit & 1 == 1;
            }
            let Ok(mut kept) = self.kept() else { continue };
            if let Ok(solution) = self.solve(&mut kept, None) {
                let terms = |at: usize| terms_of(&kept.system, at);
                let rightly = |&at: &usize| terms(at).is_some_and(|t| t.idles_rightly(&solution.x));
                if on.iter().all(rightly) {
                    found = Some((kept, solution));
                    break;
                }
            }
            self.shelf.put(kept);
        }
        self.flags.idle.fill(false);
        found
    }

    /// Solves, from what regulators promise where there is no better start.
    pub(super) fn solve(
        &mut self,
        kept: &mut Kept,
        start: Option<&[f64]>,
    ) -> Result<Solution, Failure> {
        let start = start.filter(|start| start.len() == kept.system.unknowns);
        let detail = self.detail;
        let near = |kept: &mut Kept, start: &[f64]| match detail {
            Detail::Near => kept.solve_near(start),
            Detail::Bare | Detail::Explained => kept.solve(start),
        };
        let mut result = match start {
            Some(start) => near(kept, start),
            None => near(kept, &promise(&kept.system)),
        };
        if result.is_err() && start.is_some() {
            // Where a flag has just changed, the way from the old solution may lead nowhere.
            result = near(kept, &promise(&kept.system));
        }
        if let Ok(solution) = &result {
            self.steps += solution.steps;
        }
        result
    }

    /// Changes the flag that the solution contradicts most; says whether one was changed.
    ///
    /// Which one comes first decides what is left standing, so it must not hang on the order of the
    /// parts: urgency decides, and the name between equals.
    fn change(&mut self, system: &System, solution: &Solution) -> bool {
        let mut most: Option<Wish> = None;
        for (owner, element) in &system.elements {
            if let (Owner::Part(at), Element::Regulator(terms)) = (owner, element)
                && let Some(wish) = self.wish(*at, terms, &solution.x)
                && most.as_ref().is_none_or(|m| self.is_before(&wish, m))
            {
                most = Some(wish);
            }
        }
        for at in 0..self.netlist.parts.len() {
            if let Some(wish) = self.gated_wish(at, &solution.x)
                && most.as_ref().is_none_or(|m| self.is_before(&wish, m))
            {
                most = Some(wish);
            }
        }
        match most {
            Some(wish) => {
                self.grant(&wish);
                true
            }
            None => self.change_load(solution),
        }
    }

    fn is_before(&self, a: &Wish, b: &Wish) -> bool {
        let name = |wish: &Wish| &self.netlist.parts[wish.at].name;
        let by_urgency = b.urgency.total_cmp(&a.urgency);
        by_urgency.then_with(|| name(a).cmp(name(b))).is_lt()
    }

    /// What a regulator's flags should become at a solution that contradicts them.
    fn wish(&self, at: usize, terms: &RegulatorTerms, x: &[f64]) -> Option<Wish> {
        let input = volts(x, terms.supply.net) - volts(x, terms.gnd.net);
        let is_enabled = self.enabled(at, terms, x);
        let cold = self.situation.history == History::Cold;
        let wish = |flag, urgency| Some(Wish { at, flag, urgency });
        if !terms.on {
            if !cold || self.fallen[at].is_some() || !is_enabled || input <= 0.0 {
                return None;
            }
            let starts = input >= terms.device.start_volts(0.0);
            let flag = if starts {
                Flag::On
            } else {
                Flag::Off(Mode::Start)
            };
            return wish(flag, urgency::COMING_ON);
        }
        if !is_enabled {
            return wish(Flag::Off(Mode::Off), urgency::NOT_ENABLED);
        }
        if terms.active(x) == Active::Fold {
            return wish(Flag::Fold, urgency::FOLDED);
        }
        if let Some(passes) = self.pass_wish(at, terms, x) {
            return wish(Flag::Pass(passes), urgency::PASSING);
        }
        let lowest = terms.device.runs_down_to.as_volts();
        if input < lowest {
            return wish(Flag::Off(self.why_down()), shortfall(input, lowest));
        }
        let start = terms.device.start_volts(x[terms.io]);
        if cold && input < start {
            return wish(Flag::Off(Mode::Start), shortfall(input, start));
        }
        None
    }

    /// The same for a detector, load switch or ideal diode.
    fn gated_wish(&self, at: usize, x: &[f64]) -> Option<Wish> {
        let level = level(&self.netlist.parts[at], x)?;
        let wish = |flag, urgency| Some(Wish { at, flag, urgency });
        if !self.flags.on[at] {
            let cold = self.situation.history == History::Cold;
            let comes = level.enable >= 0.0 && level.comes_volts >= 0.0;
            let may = cold && self.fallen[at].is_none() && comes;
            return may.then_some(Wish {
                at,
                flag: Flag::On,
                urgency: urgency::LETTING_THROUGH,
            });
        }
        if level.enable < 0.0 {
            return wish(Flag::Off(Mode::Off), urgency::NOT_ENABLED);
        }
        let short = -level.stays_volts;
        (short > 0.0).then(|| Wish {
            at,
            flag: Flag::Off(self.why_down()),
            urgency: shortfall(level.off_volts - short, level.off_volts),
        })
    }

    fn grant(&mut self, wish: &Wish) {
        let at = wish.at;
        match wish.flag {
            Flag::On => self.flags.on[at] = true,
            Flag::Off(why) => self.switch_off(at, why),
            Flag::Fold => self.fold(at),
            Flag::Pass(passes) => {
                self.flags.pass[at] = passes;
                self.turns[at] += 1;
            }
        }
    }

    /// Why a regulator whose input is too low is off.
    pub(super) fn why_down(&self) -> Mode {
        if self.situation.history == History::Cold {
            Mode::Hiccup
        } else {
            Mode::Off
        }
    }

    pub(super) fn switch_off(&mut self, at: usize, why: Mode) {
        self.flags.on[at] = false;
        self.flags.pass[at] = false;
        self.fallen[at] = Some(why);
    }

    fn pass_wish(&self, at: usize, terms: &RegulatorTerms, x: &[f64]) -> Option<bool> {
        if terms.device.topology != Topology::Boost {
            return None;
        }
        let gnd = volts(x, terms.gnd.net);
        let (vp, vo) = (
            volts(x, terms.power_in.net) - gnd,
            volts(x, terms.power_out.net) - gnd,
        );
        let drop = terms.device.pass_diode.as_volts() + terms.device.dropout.si() * x[terms.io];
        let sense = volts(x, terms.sense.net) - gnd;
        let set = terms.set_volts;
        let passes = if terms.pass {
            sense > set * (1.0 - 1e-9)
        } else {
            vo < vp - drop - 1e-9
        };
        // At the edge both may be contradicted; passing is then the stable one.
        (passes != terms.pass && self.turns[at] < 3).then_some(passes)
    }

    fn enabled(&self, at: usize, terms: &RegulatorTerms, x: &[f64]) -> bool {
        let placed = &self.netlist.parts[at];
        let (Some(enable), Some((slot, pin))) = (&terms.device.enable, placed.part.pin("enable"))
        else {
            return true;
        };
        let Some(net) = pin.net.and(placed.nets.get(slot).copied().flatten()) else {
            return false;
        };
        let level = volts(x, net) - volts(x, terms.gnd.net);
        level >= f64::midpoint(enable.low.as_volts(), enable.high.as_volts())
    }

    /// Resets or releases the load whose voltage is furthest on the other side of its threshold.
    fn change_load(&mut self, solution: &Solution) -> bool {
        let running = self.situation.history == History::Running;
        let mut most: Option<(f64, usize)> = None;
        for (at, placed) in self.netlist.loads.iter().enumerate() {
            let (Some(reset), Some(plus), Some(minus)) =
                (&placed.load.reset, placed.plus, placed.minus)
            else {
                continue;
            };
            let v = volts(&solution.x, plus) - volts(&solution.x, minus);
            let (below, release) = (reset.below.as_volts(), reset.release.as_volts());
            let beyond = match (running, self.flags.awake[at]) {
                (true, true) if v < below => (below - v) / below,
                (false, false) if v >= release => (v - release) / release,
                _ => continue,
            };
            let name = |at: usize| &self.netlist.loads[at].name;
            let is_first = most.is_none_or(|(other, by)| {
                beyond > other || (beyond >= other && name(at) < name(by))
            });
            if is_first {
                most = Some((beyond, at));
            }
        }
        let Some((_, at)) = most else { return false };
        self.flags.awake[at] = !running;
        true
    }

    pub(super) fn no_point(&self, system: &System, failure: &Failure) -> NoPoint {
        let label = |unknown: usize| {
            if unknown < system.nets {
                self.netlist.net_label(unknown)
            } else {
                self.owner_of(system, unknown)
            }
        };
        match failure {
            Failure::Singular(column) => NoPoint::Singular {
                nets: vec![label(*column)],
            },
            Failure::Unsettled(row, residual) => NoPoint::NotConverged {
                net: label(*row),
                residual: *residual,
            },
        }
    }

    /// The part whose own unknown this is.
    fn owner_of(&self, system: &System, unknown: usize) -> String {
        let owner = system
            .elements
            .iter()
            .find(|(_, e)| e.own_unknowns().contains(&unknown));
        match owner {
            Some((Owner::Part(at), _)) => {
                format!("the current of {}", self.netlist.parts[*at].name)
            }
            Some((Owner::Load(at), _)) => {
                format!("the current of {}", self.netlist.loads[*at].name)
            }
            None => "a current".to_owned(),
        }
    }

    fn finish(self, kept: Kept<'c, 'f>, solution: Solution) -> Settled<'c, 'f> {
        let mut modes = vec![None; self.netlist.parts.len()];
        for (at, placed) in self.netlist.parts.iter().enumerate() {
            if matches!(placed.part.device, Device::Regulator(_)) {
                modes[at] = Some(match terms_of(&kept.system, at) {
                    Some(terms) if terms.on => mode_of(terms, &solution.x),
                    _ => self.fallen[at].unwrap_or(Mode::Off),
                });
            } else {
                modes[at] = gated::mode(&kept.system, at, kept.flags.on[at], &solution.x);
            }
        }
        Settled {
            kept,
            solution,
            modes,
            folds: self.folds,
            steps: self.steps,
        }
    }
}

/// Most regulators among which idle ones are looked for.
const MOST_SHARING: usize = 4;

pub(super) fn terms_of<'s, 'f>(
    system: &'s System<'_, 'f>,
    part: usize,
) -> Option<&'s RegulatorTerms<'f>> {
    system
        .elements
        .iter()
        .find_map(|(owner, element)| match element {
            Element::Regulator(terms) if *owner == Owner::Part(part) => Some(&**terms),
            _ => None,
        })
}

fn mode_of(terms: &RegulatorTerms, x: &[f64]) -> Mode {
    match terms.active(x) {
        _ if terms.pass => Mode::Pass,
        Active::Idle | Active::Feedback => Mode::Run,
        Active::Dropout => Mode::Dropout,
        Active::Limit => Mode::Limit,
        Active::Fold => Mode::Collapsed,
    }
}
