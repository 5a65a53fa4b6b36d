//! Solves the equations of a circuit with fixed flags by Newton steps, with continuation where plain
//! steps do not get there. Nothing is added to the final equations.
//!
//! # References
//! C. W. Ho, A. E. Ruehli and P. A. Brennan, "The modified nodal approach to network analysis",
//! IEEE Trans. Circuits Syst. 22 (1975); L. Qi and J. Sun, "A nonsmooth version of Newton's method",
//! Math. Programming 58 (1993).

use crate::circuit::build::{Owner, System};
use crate::circuit::element::{Element, Sink};
use crate::circuit::netlist::{GROUND, Net};
use crate::numerics::linear::Matrix;
use crate::numerics::math;
use crate::numerics::sparse::Sparse;

/// A solution of the equations.
#[derive(Debug, Clone)]
pub(crate) struct Solution {
    pub(crate) x: Vec<f64>,
    pub(crate) steps: usize,
    /// Nets that stand for islands and are held at 0 V.
    pub(crate) pinned: Vec<Net>,
}

/// Why there is none.
#[derive(Debug, Clone)]
pub(crate) enum Failure {
    /// The unknown in this column is not determined.
    Singular(usize),
    /// Steps did not settle; the row that disagrees most and by how much.
    Unsettled(usize, f64),
}

/// Largest move of a net in one step.
const STEP_VOLTS: f64 = 2.0;
/// Moves below these count as settled.
const SETTLED_VOLTS: f64 = 1e-11;
const SETTLED_AMPS: f64 = 1e-14;
const SETTLED_SHARE: f64 = 1e-10;
/// A step this many times larger than what counts as settled may be the last but one.
const NEARLY_SETTLED: f64 = 1e5;

/// Jacobian and residual at a point.
#[derive(Debug)]
struct Assembly {
    f: Vec<f64>,
    j: Sparse,
    nets: usize,
}

/// Room for the Newton steps of a system, kept from one solution to the next.
#[derive(Debug)]
pub(crate) struct Work {
    assembly: Assembly,
    move_by: Vec<f64>,
    spare: Vec<f64>,
    dead_ends: Vec<DeadEnd>,
}

/// A way to a solution that leads nowhere.
#[derive(Debug)]
struct DeadEnd {
    way: Way,
    from: Vec<f64>,
    pinned: Vec<Net>,
    failure: Failure,
}

/// How a solution is looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    Plain,
    Creep,
}

impl Work {
    pub(crate) fn new(system: &System) -> Self {
        Self {
            assembly: Assembly::new(system),
            move_by: vec![0.0; system.unknowns],
            spare: Vec::with_capacity(system.unknowns),
            dead_ends: Vec::new(),
        }
    }

    /// Forgets which ways led nowhere: the equations change.
    pub(crate) fn forget_dead_ends(&mut self) {
        self.dead_ends.clear();
    }

    /// Takes the present order of elimination as the one to return to.
    pub(crate) fn keep_order(&mut self) {
        self.assembly.j.keep_order();
    }

    /// Makes what follows independent of what was solved since the order was kept.
    pub(crate) fn return_to_order(&mut self) {
        self.assembly.j.return_to_order();
    }

    /// Puts the step into `move_by` that the last factors give for the equations as assembled.
    fn step(&mut self) {
        self.move_by.clear();
        self.move_by.extend(self.assembly.f.iter().map(|f| -f));
        self.assembly.j.solve(&mut self.move_by, &mut self.spare);
    }
}

impl Sink for Assembly {
    fn current(&mut self, _slot: usize, net: Net, amps: f64, slopes: &[(usize, f64)]) {
        if net != GROUND {
            self.row(net, amps, slopes);
        }
    }

    fn row(&mut self, row: usize, value: f64, slopes: &[(usize, f64)]) {
        self.f[row] += value;
        // A slope that is zero here may be none elsewhere: it keeps its place in the elimination.
        for &(column, slope) in slopes {
            if column != GROUND {
                self.j.add(row, column, slope);
            }
        }
    }
}

impl Assembly {
    fn new(system: &System) -> Self {
        let n = system.unknowns;
        Self {
            f: vec![0.0; n],
            j: Sparse::zeros(n),
            nets: system.nets,
        }
    }

    fn fill(&mut self, system: &System, x: &[f64], pinned: &[Net], hold: Option<(f64, &[f64])>) {
        self.f.fill(0.0);
        self.j.clear();
        for (_, element) in &system.elements {
            element.eval(x, self);
        }
        if let Some((siemens, level)) = hold {
            for net in 0..self.nets {
                self.f[net] += siemens * (x[net] - level[net]);
                self.j.add(net, net, siemens);
            }
        }
        // The currents into an island sum to zero, so one of its rows says nothing new.
        for &net in pinned {
            self.j.scale_row(net, 0.0);
            self.j.add(net, net, 1.0);
            self.f[net] = x[net];
        }
    }
}

impl System<'_, '_> {
    /// One net of each island, to be held at 0 V; `more` are pairs of nets that are joined besides.
    pub(crate) fn pins_for_islands(&self, more: &[(Net, Net)]) -> Vec<Net> {
        let roots = self.islands_joined(more);
        let ground = roots[self.nets];
        let mut seen = vec![ground];
        let mut pinned = Vec::new();
        for (net, &root) in roots[..self.nets].iter().enumerate() {
            if !seen.contains(&root) {
                seen.push(root);
                pinned.push(net);
            }
        }
        pinned
    }

    /// Solves from a start, by plain steps or by whichever continuation works; `islands` are the
    /// nets of [`System::pins_for_islands`].
    pub(crate) fn solve(
        &self,
        start: Option<&[f64]>,
        islands: &[Net],
        work: &mut Work,
    ) -> Result<Solution, Failure> {
        let fitting = start.filter(|s| s.len() == self.unknowns);
        self.solve_by(islands, work, |pinned, work, steps| {
            self.attempt(fitting, pinned, work, steps)
        })
    }

    /// Solves by plain steps from a start near the solution, or not at all.
    pub(crate) fn solve_near(
        &self,
        start: &[f64],
        islands: &[Net],
        work: &mut Work,
    ) -> Result<Solution, Failure> {
        self.solve_by(islands, work, |pinned, work, steps| {
            let x = self.newton(start.to_vec(), pinned, None, WARM_STEPS, work, steps)?;
            if self.has_run_away(&x, pinned, work) {
                return Err(Failure::Unsettled(0, f64::MAX));
            }
            Ok(x)
        })
    }

    fn solve_by(
        &self,
        islands: &[Net],
        work: &mut Work,
        attempt: impl Fn(&[Net], &mut Work, &mut usize) -> Result<Vec<f64>, Failure>,
    ) -> Result<Solution, Failure> {
        let mut pinned = islands.to_vec();
        let mut steps = 0;
        for _ in 0..=self.nets {
            match attempt(&pinned, work, &mut steps) {
                Ok(x) => {
                    return match self.net_held_by_force(&x, &pinned, work) {
                        None => Ok(Solution { x, steps, pinned }),
                        Some(net) => Err(Failure::Singular(net)),
                    };
                }
                // A net that no equation determines is an island that only shows at this point.
                Err(Failure::Singular(column))
                    if column < self.nets && !pinned.contains(&column) =>
                {
                    pinned.push(column);
                }
                Err(failure) => return Err(failure),
            }
        }
        Err(Failure::Singular(0))
    }

    /// A pinned net that takes current, so that it is no island after all.
    fn net_held_by_force(&self, x: &[f64], pinned: &[Net], work: &mut Work) -> Option<Net> {
        if pinned.is_empty() {
            return None;
        }
        work.assembly.fill(self, x, &[], None);
        let is_forced = |net: &&Net| work.assembly.f[**net].abs() > HELD_AMPS;
        pinned.iter().find(is_forced).copied()
    }

    fn attempt(
        &self,
        start: Option<&[f64]>,
        pinned: &[Net],
        work: &mut Work,
        steps: &mut usize,
    ) -> Result<Vec<f64>, Failure> {
        // A solution on the wrong side of a converter's fold counts only where there is no other.
        let mut other_root = None;
        let mut is_wanted = |x: &Vec<f64>, work: &mut Work| {
            let wanted = !self.has_run_away(x, pinned, work);
            if !wanted {
                other_root.get_or_insert_with(|| x.clone());
            }
            wanted
        };
        if let Some(start) = start
            && let Ok(x) = self.newton(start.to_vec(), pinned, None, WARM_STEPS, work, steps)
            && is_wanted(&x, work)
        {
            return Ok(x);
        }
        let zero = vec![0.0; self.unknowns];
        let first = self.go(Way::Plain, zero.clone(), pinned, work, steps);
        if let Ok(x) = &first
            && is_wanted(x, work)
        {
            return first;
        }
        let from = start.map_or(zero.clone(), <[f64]>::to_vec);
        let mut last = Err(Failure::Singular(0));
        for from in [from, zero] {
            last = self.go(Way::Creep, from, pinned, work, steps);
            if let Ok(x) = &last
                && is_wanted(x, work)
            {
                return last;
            }
        }
        match (other_root, last, first) {
            (Some(x), ..) => Ok(x),
            (None, Err(Failure::Unsettled(..)), Err(Failure::Singular(column))) => {
                Err(Failure::Singular(column))
            }
            (None, last, _) => last,
        }
    }

    /// Goes a way from a start, unless it is known to lead nowhere: a circuit without a solution is asked
    /// for one again and again before something in it falls off.
    fn go(
        &self,
        way: Way,
        from: Vec<f64>,
        pinned: &[Net],
        work: &mut Work,
        steps: &mut usize,
    ) -> Result<Vec<f64>, Failure> {
        let is_this = |d: &&DeadEnd| d.way == way && d.pinned == pinned && d.from == from;
        if let Some(known) = work.dead_ends.iter().find(is_this) {
            return Err(known.failure.clone());
        }
        let start = from.clone();
        let gone = match way {
            Way::Plain => self.newton(start, pinned, None, PLAIN_STEPS, work, steps),
            Way::Creep => self.creep(start, pinned, work, steps),
        };
        if let Err(failure) = &gone {
            work.dead_ends.push(DeadEnd {
                way,
                from,
                pinned: pinned.to_vec(),
                failure: failure.clone(),
            });
        }
        gone
    }

    /// Whether a converter sits on the far root of its power balance: past its own fold, or where
    /// more current into its input would raise it, which no source of positive resistance holds.
    fn has_run_away(&self, x: &[f64], pinned: &[Net], work: &mut Work) -> bool {
        let mut factored = None;
        self.elements.iter().any(|(_, element)| {
            let Element::Regulator(terms) = element else {
                return false;
            };
            let Some((net, volts, amps)) = terms.constant_power_input(x) else {
                return false;
            };
            if terms.has_run_away(volts, amps) {
                return true;
            }
            let is_factored = *factored.get_or_insert_with(|| {
                work.assembly.fill(self, x, pinned, None);
                work.assembly.j.factor().is_ok()
            });
            if !is_factored || net == GROUND {
                return false;
            }
            work.move_by.fill(0.0);
            work.move_by[net] = 1.0;
            work.assembly.j.solve(&mut work.move_by, &mut work.spare);
            // Seen from a stiff source this is zero but for rounding.
            work.move_by[net] < -FAR_ROOT * volts / amps
        })
    }

    /// Whether a converter is at or past its own fold.
    fn is_past_a_fold(&self, x: &[f64]) -> bool {
        self.elements.iter().any(|(_, element)| match element {
            Element::Regulator(terms) => terms
                .constant_power_input(x)
                .is_some_and(|(_, volts, amps)| terms.has_run_away(volts, amps)),
            _ => false,
        })
    }

    /// Follows the circuit as if every net had a capacitor, with longer and longer time steps, then
    /// solves the equations as they are.
    fn creep(
        &self,
        mut x: Vec<f64>,
        pinned: &[Net],
        work: &mut Work,
        steps: &mut usize,
    ) -> Result<Vec<f64>, Failure> {
        let mut siemens = 10.0;
        for at in 0..CREEP_STEPS {
            let level = x.clone();
            let before = *steps;
            match self.newton(
                x.clone(),
                pinned,
                Some((siemens, &level)),
                HELD_STEPS,
                work,
                steps,
            ) {
                // A step so long that it lands on the far root is taken again, shorter.
                Ok(next) if siemens < 1e5 && self.is_past_a_fold(&next) => siemens *= 8.0,
                Ok(next) => {
                    x = next;
                    siemens /= 3.0;
                    if siemens < 1e-13 {
                        break;
                    }
                    if siemens < 1e-3
                        && let Ok(found) =
                            self.newton(x.clone(), pinned, None, WARM_STEPS, work, steps)
                        && !self.has_run_away(&found, pinned, work)
                    {
                        return Ok(found);
                    }
                }
                // Equations that contradict each other at the start do so with any capacitors on the nets.
                Err(Failure::Singular(column)) if at == 0 && *steps == before + 1 => {
                    return Err(Failure::Singular(column));
                }
                Err(failure) => {
                    siemens *= 8.0;
                    if siemens > 1e7 {
                        return Err(failure);
                    }
                }
            }
        }
        self.newton(x, pinned, None, PLAIN_STEPS, work, steps)
    }

    fn newton(
        &self,
        mut x: Vec<f64>,
        pinned: &[Net],
        hold: Option<(f64, &[f64])>,
        most: usize,
        work: &mut Work,
        steps: &mut usize,
    ) -> Result<Vec<f64>, Failure> {
        let mut size = f64::INFINITY;
        for _ in 0..most {
            *steps += 1;
            work.assembly.fill(self, &x, pinned, hold);
            if size <= NEARLY_SETTLED {
                // The factors of a step this small are as good as those here.
                work.step();
                if self.size_of(&x, &work.move_by) <= 1.0 {
                    add(&mut x, &work.move_by);
                    return Ok(x);
                }
            }
            work.assembly.j.factor().map_err(Failure::Singular)?;
            work.step();
            if work.move_by.iter().any(|m| !m.is_finite()) {
                return Err(Failure::Unsettled(0, f64::MAX));
            }
            let limited = self.limit(&x, &mut work.move_by);
            add(&mut x, &work.move_by);
            size = if limited {
                f64::INFINITY
            } else {
                self.size_of(&x, &work.move_by)
            };
        }
        work.assembly.fill(self, &x, pinned, hold);
        let f = &work.assembly.f;
        let worst = (0..self.unknowns)
            .max_by(|&a, &b| f[a].abs().total_cmp(&f[b].abs()))
            .unwrap_or(0);
        let residual = f.get(worst).map_or(0.0, |f| f.abs());
        // Rounding of large currents can keep the last digits moving; the equations decide.
        let holds = size <= 1.0 || residual < 1e-13;
        if holds {
            Ok(x)
        } else {
            Err(Failure::Unsettled(worst, residual))
        }
    }

    /// Keeps nets from jumping and junctions from overflowing; says whether it cut anything.
    pub(crate) fn limit(&self, x: &[f64], move_by: &mut [f64]) -> bool {
        let largest = move_by[..self.nets]
            .iter()
            .fold(0.0_f64, |m, v| m.max(v.abs()));
        let mut limited = false;
        if largest > STEP_VOLTS {
            let share = STEP_VOLTS / largest;
            for m in move_by.iter_mut() {
                *m *= share;
            }
            limited = true;
        }
        for &(u, nvt, saturation) in &self.junctions {
            let (old, new) = (x[u], x[u] + move_by[u]);
            if (new - old).abs() <= 2.0 * nvt {
                continue;
            }
            let critical = nvt * math::ln(nvt / (std::f64::consts::SQRT_2 * saturation));
            if new > critical {
                let cut = if old > 0.0 {
                    let arg = 1.0 + (new - old) / nvt;
                    if arg > 0.0 {
                        old + nvt * math::ln(arg)
                    } else {
                        critical
                    }
                } else {
                    nvt * math::ln((new / nvt).max(1.0))
                };
                move_by[u] = cut - old;
                limited = true;
            }
        }
        limited
    }

    /// The largest move over what counts as settled.
    fn size_of(&self, x: &[f64], move_by: &[f64]) -> f64 {
        let mut size: f64 = 0.0;
        for (at, (x, by)) in x.iter().zip(move_by).enumerate() {
            let floor = if at < self.nets {
                SETTLED_VOLTS
            } else {
                SETTLED_AMPS
            };
            let by = by.abs() / (floor + SETTLED_SHARE * x.abs());
            if by.is_nan() {
                return f64::INFINITY;
            }
            size = size.max(by);
        }
        size
    }

    /// How much a net's voltage moves for one ampere pushed into another, at a solution.
    pub(crate) fn transfer_ohms(&self, solution: &Solution, into: Net, seen: Net) -> Option<f64> {
        let jacobian = self.factored(&solution.x, &solution.pinned)?;
        self.ohms_seen(&jacobian, into, seen)
    }

    /// The factored Jacobian at a point.
    fn factored(&self, x: &[f64], pinned: &[Net]) -> Option<Matrix> {
        let mut assembly = Assembly::new(self);
        assembly.fill(self, x, pinned, None);
        let mut jacobian = assembly.j.to_dense();
        jacobian.factor().ok()?;
        Some(jacobian)
    }

    fn ohms_seen(&self, jacobian: &Matrix, into: Net, seen: Net) -> Option<f64> {
        let mut b = vec![0.0; self.unknowns];
        *b.get_mut(into)? = 1.0;
        jacobian.solve(&mut b);
        b.get(seen).copied()
    }

    /// Currents into every pin of every owner, as the elements give them.
    pub(crate) fn pin_currents(&self, x: &[f64], mut take: impl FnMut(Owner, usize, Net, f64)) {
        struct Pins<'a> {
            owner: Owner,
            take: &'a mut dyn FnMut(Owner, usize, Net, f64),
        }
        impl Sink for Pins<'_> {
            fn current(&mut self, slot: usize, net: Net, amps: f64, _slopes: &[(usize, f64)]) {
                (self.take)(self.owner, slot, net, amps);
            }

            fn row(&mut self, _row: usize, _value: f64, _slopes: &[(usize, f64)]) {}
        }
        for (owner, element) in &self.elements {
            element.eval(
                x,
                &mut Pins {
                    owner: *owner,
                    take: &mut take,
                },
            );
        }
    }
}

fn add(x: &mut [f64], move_by: &[f64]) {
    for (x, by) in x.iter_mut().zip(move_by) {
        *x += by;
    }
}

/// Current into a pinned net from which it is not rounding.
const HELD_AMPS: f64 = 1e-9;
/// Share of a converter's own input resistance from which a negative one is not rounding.
const FAR_ROOT: f64 = 1e-6;
/// Steps allowed from a start that should be near.
const WARM_STEPS: usize = 30;
/// Steps allowed from anywhere.
const PLAIN_STEPS: usize = 80;
/// Steps allowed while nets are held.
const HELD_STEPS: usize = 25;
/// Time steps of a continuation.
const CREEP_STEPS: usize = 160;
