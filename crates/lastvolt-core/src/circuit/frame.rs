//! A circuit with its stores between two events: one system of equations, stage by stage.
//!
//! Elements give their currents as in a static point; stores (see `store`) and the answers of
//! regulators add what their states demand. Capacitors have a series resistance and regulators an
//! answer of finite speed, so that every unknown follows from the states: the system is of index 1.

use crate::circuit::build::{Owner, System};
use crate::circuit::element::{Element, Sink, Tap};
use crate::circuit::netlist::{GROUND, Net, Netlist};
use crate::circuit::promise::divided;
use crate::circuit::regulation::{Answer, RegulatorTerms};
use crate::circuit::store::{Store, StoreLaw, Trickling, allowed_volts};
use crate::device::CellState;
use crate::model::Device;
use crate::numerics::sparse::Sparse;
use crate::numerics::stiff::Stages;

/// Moves of a net and of other unknowns at which a stage counts as solved; Newton's next move would
/// be smaller by orders.
const SETTLED_VOLTS: f64 = 1e-7;
const SETTLED_AMPS: f64 = 1e-8;
const SETTLED_SHARE: f64 = 1e-6;
/// Largest move, over what counts as settled, that factors found elsewhere may make: 10 mV.
const TRUSTED: f64 = 1e5;
/// Share of the last move up to which they serve again.
const SHRINKS: f64 = 0.1;
/// Size up to which a move may be the last, 10 uV, where the one after it is foretold to be small; and
/// by how much that may be more.
const NEARLY: f64 = 100.0;
const SHRINK_MARGIN: f64 = 10.0;
/// Newton steps of a stage, and of a point after an event.
const STAGE_ROUNDS: usize = 12;
const RESTART_ROUNDS: usize = 60;
/// Conductance that an answer's loop is made for at least, so that it never stands still.
const LEAST_ANSWER_SIEMENS: f64 = 1e-3;
/// Resistance up to which a switch or a fuse joins a capacitor to a regulator's output.
const NEAR_OHMS: f64 = 1.0;

/// The equations between two events.
pub(crate) struct Frame<'c, 'f> {
    pub(crate) system: System<'c, 'f>,
    pub(crate) stores: Vec<Store<'f>>,
    /// Place of each regulator among the elements, with the place of its state.
    answers: Vec<(usize, usize)>,
    /// Number of states.
    pub(crate) states: usize,
    pinned: Vec<Net>,
    /// How many of them stand for islands; the rest were not determined at a point.
    islands: usize,
    /// The unknowns solved last.
    pub(crate) x: Vec<f64>,
    /// The unknowns at the stages of the step taken last.
    pub(crate) stages: Vec<(f64, Vec<f64>)>,
    /// The unknowns at the start of the step.
    opening: Vec<f64>,
    jacobian: Sparse,
    /// How much smaller a move was than the one before it, at last.
    shrinks: f64,
    /// The theta for which the factors of the Jacobian were found.
    factored: Option<f64>,
    residual: Vec<f64>,
    move_by: Vec<f64>,
    spare: Vec<f64>,
    /// Newton steps taken.
    pub(crate) newton_steps: usize,
}

/// What is settled for a whole waveform.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Surroundings<'a> {
    pub(crate) celsius: f64,
    /// Growth of the resistance by age of each cell part.
    pub(crate) aged: &'a [f64],
}

impl<'c, 'f> Frame<'c, 'f> {
    /// Takes over a system in which cells and inductors are static elements.
    pub(crate) fn new(
        mut system: System<'c, 'f>,
        around: Surroundings,
        is_starting: &[bool],
    ) -> Self {
        let mut stores = Vec::new();
        let elements = std::mem::take(&mut system.elements);
        for (owner, element) in elements {
            match remembered(&system, owner, element, around) {
                Ok(store) => stores.push(store),
                Err(element) => system.elements.push((owner, element)),
            }
        }
        add_capacitors(&mut system, &mut stores);
        let mut states = 0;
        for store in &mut stores {
            store.at = states;
            states += store.len();
        }
        let mut frame = Self {
            answers: Vec::new(),
            states,
            pinned: Vec::new(),
            islands: 0,
            x: vec![0.0; system.unknowns],
            stages: Vec::new(),
            opening: vec![0.0; system.unknowns],
            jacobian: Sparse::zeros(system.unknowns),
            shrinks: 1.0,
            factored: None,
            move_by: vec![0.0; system.unknowns],
            residual: vec![0.0; system.unknowns],
            spare: Vec::with_capacity(system.unknowns),
            newton_steps: 0,
            stores,
            system,
        };
        frame.add_answers(is_starting);
        let joined: Vec<(Net, Net)> = frame.stores.iter().map(|s| (s.a.net, s.b.net)).collect();
        frame.pinned = frame.system.pins_for_islands(&joined);
        frame.islands = frame.pinned.len();
        frame
    }

    /// Gives every regulator an answer and a state.
    fn add_answers(&mut self, is_starting: &[bool]) {
        let mut answers = Vec::new();
        for at in 0..self.system.elements.len() {
            if let (Owner::Part(part), Element::Regulator(terms)) = &self.system.elements[at] {
                let answer = self.answer(terms, is_starting[*part]);
                answers.push((at, answer));
            }
        }
        for (at, answer) in answers {
            if let (_, Element::Regulator(terms)) = &mut self.system.elements[at] {
                terms.answer = Some(answer);
                self.answers.push((at, self.states));
                self.states += 1;
            }
        }
    }

    fn answer(&self, terms: &RegulatorTerms, starting: bool) -> Answer {
        let secs = terms.device.response_secs();
        let out_volts = if terms.sense.net == terms.power_out.net {
            terms.set_volts
        } else {
            divided(&self.system, terms)
        };
        let farads = self.at_output(terms).map(|(store, _)| match &store.law {
            StoreLaw::Capacitor { device, .. } => device.farads_at(out_volts),
            _ => 0.0,
        });
        Answer {
            farads: farads.sum::<f64>().max(LEAST_ANSWER_SIEMENS * secs),
            secs,
            out_per_sense: out_volts / terms.set_volts,
            known_amps: 0.0,
            theta: 0.0,
            starting,
        }
    }

    /// Stores between the output of a regulator and its ground, and whether their first pin is at the
    /// output.
    fn at_output(&self, terms: &RegulatorTerms) -> impl Iterator<Item = (&Store<'f>, bool)> {
        let near = self.near(terms);
        let (out, gnd) = (near(terms.power_out.net), near(terms.gnd.net));
        self.stores.iter().filter_map(move |store| {
            let (a, b) = (near(store.a.net), near(store.b.net));
            let across = a != b && [a, b].contains(&out) && [a, b].contains(&gnd);
            across.then_some((store, a == out))
        })
    }

    /// A regulator that reaches its output goes on with what the output takes besides its capacitors:
    /// a start is controlled, and does not overshoot by what the limit let it give.
    pub(crate) fn land_answer(&self, part: usize, y: &mut [f64]) {
        for &(at, state) in &self.answers {
            if let (Owner::Part(own), Element::Regulator(terms)) = &self.system.elements[at]
                && *own == part
            {
                let into = self.at_output(terms).map(|(store, first)| {
                    let amps = self.x[store.i];
                    if first { amps } else { -amps }
                });
                y[state] = (self.x[terms.io] - into.sum::<f64>()).max(0.0);
            }
        }
    }

    /// Groups nets that contacts and channels join closely.
    fn near(&self, terms: &RegulatorTerms) -> impl Fn(Net) -> usize + use<> {
        let ground = self.system.nets;
        let key = move |net: Net| if net == GROUND { ground } else { net };
        let mut group: Vec<usize> = (0..=ground).collect();
        let (input, out) = (key(terms.power_in.net), key(terms.power_out.net));
        for (_, element) in &self.system.elements {
            let (a, b) = match element {
                Element::Branch { a, b, ohms, .. } if *ohms < NEAR_OHMS => (a, b),
                Element::Pass { a, b, .. } => (a, b),
                Element::Channel { drain, source, .. } => (drain, source),
                _ => continue,
            };
            let (a, b) = (group[key(a.net)], group[key(b.net)]);
            let joins_input = [a, b].contains(&group[input]) && [a, b].contains(&group[out]);
            if a != b && !joins_input {
                for g in &mut group {
                    if *g == a {
                        *g = b;
                    }
                }
            }
        }
        move |net| group[key(net)]
    }

    /// All regulators with the places of their parts.
    pub(crate) fn regulators(&self) -> impl Iterator<Item = (usize, &RegulatorTerms<'f>)> {
        self.answers
            .iter()
            .filter_map(|&(at, _)| match &self.system.elements[at] {
                (Owner::Part(part), Element::Regulator(terms)) => Some((*part, &**terms)),
                _ => None,
            })
    }

    /// States of rest in a solved static point: its unknowns, the current of each inductor part and
    /// the states of each cell part.
    pub(crate) fn rest(
        &self,
        x: &[f64],
        inductor_amps: impl Fn(usize) -> f64,
        cells: &[Vec<CellState>],
    ) -> Vec<f64> {
        let mut y = self.empty(cells);
        for store in &self.stores {
            store.rest(x, inductor_amps(store.part), &mut y);
        }
        y
    }

    /// States with everything discharged but the cells.
    pub(crate) fn empty(&self, cells: &[Vec<CellState>]) -> Vec<f64> {
        let mut y = vec![0.0; self.states];
        for store in &self.stores {
            if let Some(states) = cells.get(cell_part_of(self.system.netlist, store.part)) {
                store.place_cells(states, &mut y);
            }
        }
        y
    }

    /// The unknowns that carry over from a frame with other elements; what is new is zero.
    pub(crate) fn carried(&self, old: &Frame) -> Vec<f64> {
        let mut x = vec![0.0; self.x.len()];
        x[..self.system.nets].copy_from_slice(&old.x[..self.system.nets]);
        for store in &self.stores {
            if let Some(before) = old.stores.iter().find(|s| s.part == store.part) {
                x[store.i] = old.x[before.i];
            }
        }
        let mut rest: Vec<&(Owner, Element)> = old.system.elements.iter().collect();
        for (owner, element) in &self.system.elements {
            if let Some(at) = rest
                .iter()
                .position(|(o, e)| o == owner && is_alike(e, element))
            {
                let before = rest.remove(at);
                let pairs = element.own_unknowns().into_iter();
                for (to, from) in pairs.zip(before.1.own_unknowns()) {
                    x[to] = old.x[from];
                }
            }
        }
        x
    }

    /// Lets the answers of all regulators rest at the unknowns solved last.
    pub(crate) fn rest_answers(&self, x: &[f64], y: &mut [f64]) {
        for &(at, state) in &self.answers {
            if let (_, Element::Regulator(terms)) = &self.system.elements[at] {
                y[state] = terms.resting_integral(x);
            }
        }
    }

    /// Forgets what a regulator's answer has summed up.
    pub(crate) fn forget_answer(&self, part: usize, y: &mut [f64]) {
        for &(at, state) in &self.answers {
            if self.system.elements[at].0 == Owner::Part(part) {
                y[state] = 0.0;
            }
        }
    }

    /// Solves the point that fits given states and fills in their rates; `guess` opens the search.
    pub(crate) fn fit(&mut self, guess: &[f64], y: &[f64], rates: &mut Vec<f64>) -> bool {
        rates.resize(self.states, 0.0);
        let mut held = y.to_vec();
        let take = guess.len().min(self.x.len());
        self.x[..take].copy_from_slice(&guess[..take]);
        let start = self.x.clone();
        if !self.newton(y, 0.0, None, RESTART_ROUNDS) {
            self.x.copy_from_slice(&start);
            if !self.creep(y) {
                return false;
            }
        }
        self.settle(y, 0.0, &mut held, rates);
        true
    }

    /// Holds every net near where it was, less and less.
    fn creep(&mut self, y: &[f64]) -> bool {
        let mut siemens = 10.0;
        while siemens > 1e-13 {
            let level = self.x.clone();
            if !self.newton(y, 0.0, Some((siemens, &level)), RESTART_ROUNDS) {
                self.x.copy_from_slice(&level);
                siemens *= 10.0;
                if siemens > 1e6 {
                    return false;
                }
                continue;
            }
            siemens /= 4.0;
        }
        self.newton(y, 0.0, None, RESTART_ROUNDS)
    }

    fn fill(&mut self, known: &[f64], theta: f64, hold: Option<(f64, &[f64])>) {
        self.residual.fill(0.0);
        self.jacobian.clear();
        let mut rows = Rows {
            residual: &mut self.residual,
            jacobian: &mut self.jacobian,
        };
        for (_, element) in &self.system.elements {
            element.eval(&self.x, &mut rows);
        }
        for store in &self.stores {
            store.eval(&self.x, known, theta, &mut rows);
        }
        if let Some((siemens, level)) = hold {
            for (net, level) in level.iter().take(self.system.nets).enumerate() {
                let amps = siemens * (self.x[net] - level);
                rows.row(net, amps, &[(net, siemens)]);
            }
        }
        for &net in &self.pinned {
            self.jacobian.scale_row(net, 0.0);
            self.jacobian.add(net, net, 1.0);
            self.residual[net] = self.x[net];
        }
    }

    fn newton(
        &mut self,
        known: &[f64],
        theta: f64,
        hold: Option<(f64, &[f64])>,
        rounds: usize,
    ) -> bool {
        for &(at, state) in &self.answers {
            if let (_, Element::Regulator(terms)) = &mut self.system.elements[at]
                && let Some(answer) = &mut terms.answer
            {
                (answer.known_amps, answer.theta) = (known[state], theta);
            }
        }
        // What was not determined at another point may be at this one.
        if self.pinned.len() > self.islands {
            self.pinned.truncate(self.islands);
            self.factored = None;
        }
        // The last factors serve while what they move is small and shrinks fast.
        let mut trusted = if self.factored == Some(theta) && hold.is_none() {
            TRUSTED
        } else {
            0.0
        };
        let mut before = f64::INFINITY;
        for _ in 0..rounds {
            self.newton_steps += 1;
            self.fill(known, theta, hold);
            let mut size = f64::INFINITY;
            if trusted > 0.0 {
                self.solve_move();
                size = self.size_of_move();
            }
            let mut limited = false;
            if size > trusted {
                self.factored = None;
                match self.jacobian.factor() {
                    Ok(()) => {}
                    // A net that nothing determines at this point.
                    Err(column) if column < self.system.nets && !self.pinned.contains(&column) => {
                        self.pinned.push(column);
                        trusted = 0.0;
                        continue;
                    }
                    Err(_) => return false,
                }
                self.factored = hold.is_none().then_some(theta);
                self.solve_move();
                if self.move_by.iter().any(|m| !m.is_finite()) {
                    return false;
                }
                limited = self.system.limit(&self.x, &mut self.move_by);
                size = self.size_of_move();
            }
            for (x, m) in self.x.iter_mut().zip(&self.move_by) {
                *x += m;
            }
            if before.is_finite() {
                self.shrinks = (size / before).min(1.0);
            }
            // What is nearly settled is left where the next move would be far smaller.
            let next = size * self.shrinks * SHRINK_MARGIN;
            if !limited && (size <= 1.0 || (size <= NEARLY && next <= 1.0 && hold.is_none())) {
                return true;
            }
            before = if limited { f64::INFINITY } else { size };
            trusted = if limited || hold.is_some() {
                0.0
            } else {
                TRUSTED.min(SHRINKS * size)
            };
        }
        false
    }

    /// The move that the last factors give for the residual as it is.
    fn solve_move(&mut self) {
        self.move_by.clear();
        self.move_by.extend(self.residual.iter().map(|f| -f));
        self.jacobian.solve(&mut self.move_by, &mut self.spare);
    }

    /// The largest move over what counts as settled.
    fn size_of_move(&self) -> f64 {
        let nets = self.system.nets;
        let moves = self.move_by.iter().zip(&self.x).enumerate();
        let sizes = moves.map(|(at, (m, x))| {
            let allowed = if at < nets {
                SETTLED_VOLTS
            } else {
                SETTLED_AMPS + SETTLED_SHARE * x.abs()
            };
            m.abs() / allowed
        });
        sizes.fold(0.0, |most, size| {
            if size.is_nan() {
                f64::INFINITY
            } else {
                most.max(size)
            }
        })
    }

    /// Starts a stage from the curve through the start of the step and the stages before it.
    fn foretell(&mut self, share: f64) {
        let Some((last, rest)) = self.stages.split_last() else {
            self.opening.copy_from_slice(&self.x);
            return;
        };
        let to_last = share / last.0;
        for (k, x) in self.x.iter_mut().enumerate() {
            let (start, end) = (self.opening[k], last.1[k]);
            *x = start + to_last * (end - start);
            if let [first, ..] = rest {
                // What the first stage lies beside the straight line bends it.
                let line = start + first.0 / last.0 * (end - start);
                let bend = share * (share - last.0) / (first.0 * (first.0 - last.0));
                *x += bend * (first.1[k] - line);
            }
        }
    }

    fn settle(&self, known: &[f64], theta: f64, y: &mut [f64], f: &mut [f64]) {
        for store in &self.stores {
            store.settle(&self.x, known, theta, y, f);
        }
        for &(at, state) in &self.answers {
            if let (_, Element::Regulator(terms)) = &self.system.elements[at] {
                (y[state], f[state]) = terms.integral(&self.x);
            }
        }
    }
}

impl Stages for Frame<'_, '_> {
    fn stage(
        &mut self,
        share: f64,
        known: &[f64],
        theta: f64,
        y: &mut [f64],
        f: &mut [f64],
    ) -> bool {
        self.foretell(share);
        if !self.newton(known, theta, None, STAGE_ROUNDS) {
            return false;
        }
        self.settle(known, theta, y, f);
        self.stages.push((share, self.x.clone()));
        true
    }

    fn error(&self, error: &[f64], y: &[f64]) -> f64 {
        let stores = self.stores.iter().map(|s| s.error(error, y));
        let answers = self.answers.iter().map(|&(at, state)| {
            let (_, Element::Regulator(terms)) = &self.system.elements[at] else {
                return 0.0;
            };
            // What an error of the integral would move the output by.
            let siemens = terms.answer.map_or(1.0, |a| 2.0 * a.farads / a.secs);
            error[state].abs() / siemens / allowed_volts(0.0)
        });
        // What is not a number is no small error.
        let each = stores.chain(answers);
        each.fold(0.0, |worst, e| {
            if e.is_nan() {
                f64::INFINITY
            } else {
                worst.max(e)
            }
        })
    }
}

/// The store that stands for an element, or the element back where it remembers nothing.
fn remembered<'f>(
    system: &System<'_, 'f>,
    owner: Owner,
    element: Element<'f>,
    around: Surroundings,
) -> Result<Store<'f>, Element<'f>> {
    let Owner::Part(part) = owner else {
        return Err(element);
    };
    match (element, &system.netlist.parts[part].part.device) {
        (
            Element::Cells {
                plus,
                minus,
                cells,
                contact_ohms,
                i,
            },
            _,
        ) => {
            let cell_part = cell_part_of(system.netlist, part);
            let aged = around.aged.get(cell_part).copied().unwrap_or(0.0);
            let cells = cells
                .iter()
                .map(|c| Trickling::new(c, around.celsius, aged));
            let cells = cells.collect();
            Ok(Store {
                part,
                a: plus,
                b: minus,
                i,
                at: 0,
                law: StoreLaw::Cells {
                    cells,
                    contact_ohms,
                },
            })
        }
        (Element::Branch { a, b, ohms, i }, Device::Inductor(l))
            if l.value.si() > 0.0 && !is_switched(system, a, b) =>
        {
            let henries = l.value.si();
            Ok(Store {
                part,
                a,
                b,
                i,
                at: 0,
                law: StoreLaw::Inductor { henries, ohms },
            })
        }
        (element, _) => Err(element),
    }
}

fn is_alike(a: &Element, b: &Element) -> bool {
    std::mem::discriminant(a) == std::mem::discriminant(b)
}

/// Place of a part among the cell parts of a circuit.
pub(crate) fn cell_part_of(netlist: &Netlist, part: usize) -> usize {
    let before = netlist.parts[..part].iter();
    before
        .filter(|p| matches!(p.part.device, Device::Cell(_)))
        .count()
}

/// Whether an inductor belongs to a converter, whose averaged equations hold its current already.
fn is_switched(system: &System, a: Tap, b: Tap) -> bool {
    let on = |net: Net| [a.net, b.net].contains(&net);
    system.netlist.parts.iter().any(|placed| {
        let wired = |name: &str| {
            let slot = placed.part.pin(name).map(|(slot, _)| slot);
            slot.and_then(|slot| placed.nets.get(slot).copied().flatten())
        };
        matches!(placed.part.device, Device::Regulator(_))
            && ["sw", "sw1", "sw2"]
                .iter()
                .any(|pin| wired(pin).is_some_and(on))
    })
}

/// The plates of every capacitor, beside its leakage.
fn add_capacitors<'f>(system: &mut System<'_, 'f>, stores: &mut Vec<Store<'f>>) {
    let netlist = system.netlist;
    for (part, placed) in netlist.parts.iter().enumerate() {
        let Device::Capacitor(device) = &placed.part.device else {
            continue;
        };
        let net = |slot: usize| placed.nets.get(slot).copied().flatten();
        let (Some(a), Some(b)) = (net(0), net(1)) else {
            continue;
        };
        if device.value.si() <= 0.0 || a == b {
            continue;
        }
        let i = system.unknowns;
        system.unknowns += 1;
        stores.push(Store {
            part,
            a: Tap { slot: 0, net: a },
            b: Tap { slot: 1, net: b },
            i,
            at: 0,
            law: StoreLaw::Capacitor {
                device,
                ohms: device.series_ohms(),
            },
        });
    }
}

/// Residual and Jacobian on their way.
struct Rows<'a> {
    residual: &'a mut [f64],
    jacobian: &'a mut Sparse,
}

impl Sink for Rows<'_> {
    fn current(&mut self, _slot: usize, net: Net, amps: f64, slopes: &[(usize, f64)]) {
        if net != GROUND {
            self.row(net, amps, slopes);
        }
    }

    fn row(&mut self, row: usize, value: f64, slopes: &[(usize, f64)]) {
        self.residual[row] += value;
        // A slope that is zero here may be none elsewhere: it keeps its place in the elimination.
        for &(column, slope) in slopes {
            if column != GROUND {
                self.jacobian.add(row, column, slope);
            }
        }
    }
}
