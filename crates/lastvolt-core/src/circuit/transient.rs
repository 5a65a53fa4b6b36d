//! A circuit in time: a frame of equations with states, and what trips it from one frame to the next.
//!
//! Loads reset, come out of reset and boot; regulators come on, fall off, pass through and reach
//! regulation. Each of these is a trip with a margin that falls through zero; between trips the frame
//! stays as it is.

use crate::circuit::build::{Flags, Owner, System};
use crate::circuit::element::{Element, volts};
use crate::circuit::frame::{Frame, Surroundings, cell_part_of};
use crate::circuit::gated::{LOCKOUT_HYSTERESIS_VOLTS, enable_level, level};
use crate::circuit::netlist::Net;
use crate::circuit::operate::{Detail, settle};
use crate::circuit::regulation::RegulatorTerms;
use crate::circuit::shelf::Shelf;
use crate::circuit::{CellDrive, Circuit, NoPoint, Situation};
use crate::device::{CellState, Topology};
use crate::model::Device;

/// Something that changes the equations.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Trip {
    /// A load falls below its reset threshold.
    Reset(usize),
    /// A load comes out of reset.
    Release(usize),
    /// A regulator, load switch or ideal diode comes on; a detector lets its output go.
    On(usize),
    /// One falls off; a detector pulls its output low.
    Off(usize),
    /// A step-up converter lets its input through.
    Passes(usize),
    /// A step-up converter switches again.
    Switches(usize),
    /// A regulator that came on reaches its output voltage.
    Regulates(usize),
    /// A converter asks for more than its input can give.
    Collapses(usize),
}

/// A circuit at one instant.
pub(crate) struct Transient<'c, 'f> {
    circuit: &'c Circuit<'f>,
    pub(crate) situation: Situation,
    flags: Flags,
    /// One entry a part: came on and has not been in regulation since.
    starting: Vec<bool>,
    aged: Vec<f64>,
    /// Newton steps of frames that are gone.
    newton_before: usize,
    pub(crate) frame: Frame<'c, 'f>,
    pub(crate) y: Vec<f64>,
    pub(crate) rates: Vec<f64>,
}

/// Share of its output within which a regulator counts as regulating.
const REGULATING: f64 = 0.01;
/// Shares of the input voltage up to which a step-up converter precharges its output, and below which
/// it does so again.
const PRECHARGED: f64 = 0.9;
const PRECHARGES_BELOW: f64 = 0.8;
/// How far below its set voltage a step-up converter that passes switches again, and how near to it
/// one that switches passes, as shares.
const SWITCHES_BELOW: f64 = 2e-3;
const PASSES_FROM: f64 = 5e-4;
const PASSES_BY_VOLTS: f64 = 5e-3;

impl<'c, 'f> Transient<'c, 'f> {
    /// A circuit that has settled in a situation, its cells in the given states.
    pub(crate) fn settled(
        circuit: &'c Circuit<'f>,
        situation: &Situation,
        cells: &[Vec<CellState>],
    ) -> Result<Self, NoPoint> {
        let drive = CellDrive::States(cells.to_vec());
        let (mut shelf, detail) = (Shelf::default(), Detail::Bare);
        let settled = settle(
            &circuit.netlist,
            situation,
            &drive,
            &mut shelf,
            None,
            detail,
        )?;
        let (x, system) = (&settled.solution.x, &settled.kept.system);
        let mut flags = settled.kept.flags.clone();
        flags.idle.fill(false);
        let mut new = Self::with_flags(circuit, situation, flags, cells)?;
        let inductor_amps = |part: usize| {
            let branches = system.elements.iter();
            let mut own = branches.filter(|(owner, _)| *owner == Owner::Part(part));
            let branch = own.find_map(|(_, element)| match element {
                Element::Branch { i, .. } => Some(x[*i]),
                _ => None,
            });
            branch.unwrap_or(0.0)
        };
        new.y = new.frame.rest(x, inductor_amps, cells);
        let mut guess = vec![0.0; new.frame.x.len()];
        guess[..x.len()].copy_from_slice(x);
        new.frame.rest_answers(&guess, &mut new.y);
        new.fit(&guess)?;
        Ok(new)
    }

    /// A circuit without any charge outside its cells, everything off.
    pub(crate) fn discharged(
        circuit: &'c Circuit<'f>,
        situation: &Situation,
        cells: &[Vec<CellState>],
    ) -> Result<Self, NoPoint> {
        let netlist = &circuit.netlist;
        let parts = netlist.parts.len();
        let loads = netlist.loads.iter();
        let flags = Flags {
            on: vec![false; parts],
            pass: vec![false; parts],
            idle: vec![false; parts],
            awake: loads.map(|l| l.load.reset.is_none()).collect(),
            boot_amps: vec![None; netlist.loads.len()],
            load_scale: 1.0,
        };
        let mut new = Self::with_flags(circuit, situation, flags, cells)?;
        new.y = new.frame.empty(cells);
        let guess = vec![0.0; new.frame.x.len()];
        new.fit(&guess)?;
        Ok(new)
    }

    fn with_flags(
        circuit: &'c Circuit<'f>,
        situation: &Situation,
        flags: Flags,
        cells: &[Vec<CellState>],
    ) -> Result<Self, NoPoint> {
        let aged = cells.iter().map(|s| s.first().map_or(0.0, |s| s.aged));
        let aged: Vec<f64> = aged.collect();
        let starting = vec![false; flags.on.len()];
        let frame = frame(circuit, situation, &flags, &starting, &aged)?;
        Ok(Self {
            circuit,
            situation: situation.clone(),
            flags,
            starting,
            aged,
            newton_before: 0,
            y: vec![0.0; frame.states],
            rates: vec![0.0; frame.states],
            frame,
        })
    }

    /// Puts capacitors at given voltages: places of parts, voltages from first to second pin.
    pub(crate) fn charge(&mut self, volts: &[(usize, f64)]) -> Result<(), NoPoint> {
        for store in &self.frame.stores {
            if let Some((_, volts)) = volts.iter().find(|(part, _)| *part == store.part) {
                store.charge(*volts, &mut self.y);
            }
        }
        let guess = self.frame.x.clone();
        self.fit(&guess)
    }

    /// Voltages of all capacitors: places of parts, voltages from first to second pin.
    pub(crate) fn charges(&self) -> Vec<(usize, f64)> {
        let stores = self.frame.stores.iter();
        stores
            .filter_map(|s| Some((s.part, s.level(&self.y)?)))
            .collect()
    }

    fn fit(&mut self, guess: &[f64]) -> Result<(), NoPoint> {
        if self.frame.fit(guess, &self.y, &mut self.rates) {
            return Ok(());
        }
        Err(NoPoint::NotConverged {
            net: self.circuit.netlist.ground.clone(),
            residual: f64::MAX,
        })
    }

    /// Goes on in another situation of the same boards: other load states or switch positions.
    pub(crate) fn enter(&mut self, situation: &Situation) -> Result<(), NoPoint> {
        self.situation = situation.clone();
        self.rebuild()
    }

    /// Puts a load into a stretch of its boot sequence, or ends it.
    pub(crate) fn boot(&mut self, load: usize, amps: Option<f64>) -> Result<(), NoPoint> {
        self.flags.boot_amps[load] = amps;
        self.rebuild()
    }

    /// New equations for the same states.
    fn rebuild(&mut self) -> Result<(), NoPoint> {
        let new = self.new_frame()?;
        let guess = new.carried(&self.frame);
        self.newton_before += self.frame.newton_steps;
        self.frame = new;
        self.fit(&guess)
    }

    fn new_frame(&self) -> Result<Frame<'c, 'f>, NoPoint> {
        frame(
            self.circuit,
            &self.situation,
            &self.flags,
            &self.starting,
            &self.aged,
        )
    }

    /// Lets a trip happen.
    pub(crate) fn apply(&mut self, trip: Trip) -> Result<(), NoPoint> {
        match trip {
            Trip::Reset(load) => {
                self.flags.awake[load] = false;
                self.flags.boot_amps[load] = None;
            }
            Trip::Release(load) => self.flags.awake[load] = true,
            Trip::On(part) => {
                self.flags.on[part] = true;
                let device = &self.circuit.netlist.parts[part].part.device;
                self.starting[part] = matches!(device, Device::Regulator(_));
            }
            Trip::Off(part) | Trip::Collapses(part) => {
                self.flags.on[part] = false;
                self.flags.pass[part] = false;
                self.starting[part] = false;
                self.frame.forget_answer(part, &mut self.y);
            }
            Trip::Passes(part) => self.flags.pass[part] = true,
            Trip::Switches(part) => {
                self.flags.pass[part] = false;
                self.frame.forget_answer(part, &mut self.y);
            }
            Trip::Regulates(part) => {
                self.starting[part] = false;
                self.frame.land_answer(part, &mut self.y);
            }
        }
        self.rebuild()
    }

    /// The converter that takes most power, which is the one that falls when there is not enough.
    pub(crate) fn hungriest(&self) -> Option<usize> {
        let inputs = self.frame.regulators().filter_map(|(part, terms)| {
            let (_, volts, amps) = terms.constant_power_input(&self.frame.x)?;
            Some((volts * amps, part))
        });
        let most = inputs.max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
        most.map(|(_, part)| part)
    }

    /// Everything that can trip, with margins at given unknowns; the order is the same in a frame.
    pub(crate) fn trips(&self, x: &[f64], out: &mut Vec<(Trip, f64)>) {
        out.clear();
        for (at, placed) in self.circuit.netlist.loads.iter().enumerate() {
            let (Some(reset), Some(plus), Some(minus)) =
                (&placed.load.reset, placed.plus, placed.minus)
            else {
                continue;
            };
            let level = volts(x, plus) - volts(x, minus);
            out.push(if self.flags.awake[at] {
                (Trip::Reset(at), level - reset.below.as_volts())
            } else {
                (Trip::Release(at), reset.release.as_volts() - level)
            });
        }
        for (part, placed) in self.circuit.netlist.parts.iter().enumerate() {
            if let Some(level) = level(placed, x) {
                out.push(if self.flags.on[part] {
                    let margin = level.stays_volts.min(level.enable + 1.0);
                    (Trip::Off(part), margin)
                } else {
                    (Trip::On(part), (-level.comes_volts).max(1.0 - level.enable))
                });
            }
        }
        for (part, terms) in self.frame.regulators() {
            if !terms.on {
                out.push((Trip::On(part), self.to_coming_on(part, terms, x)));
                continue;
            }
            out.push((Trip::Off(part), self.to_falling_off(part, terms, x)));
            if self.starting[part] {
                let near =
                    REGULATING * terms.answer.map_or(1.0, |a| a.out_per_sense) * terms.set_volts;
                out.push((Trip::Regulates(part), terms.error_volts(x) - near));
            }
            if terms.device.topology == Topology::Boost {
                out.push(if terms.pass {
                    (Trip::Switches(part), to_switching(terms, x))
                } else {
                    (Trip::Passes(part), to_passing(terms, x))
                });
            }
        }
    }

    fn to_coming_on(&self, part: usize, terms: &RegulatorTerms, x: &[f64]) -> f64 {
        let device = terms.device;
        let input = volts(x, terms.supply.net) - volts(x, terms.gnd.net);
        let stop = device.runs_down_to.as_volts();
        let start = device.start_volts(0.0);
        let needed = start
            .max(stop + LOCKOUT_HYSTERESIS_VOLTS.min(stop / 10.0))
            .max(1e-3);
        let enable = self.enable(part, terms, x);
        (needed - input).max(1.0 - enable)
    }

    fn to_falling_off(&self, part: usize, terms: &RegulatorTerms, x: &[f64]) -> f64 {
        let input = volts(x, terms.supply.net) - volts(x, terms.gnd.net);
        let stop = terms.device.runs_down_to.as_volts();
        (input - stop).min(self.enable(part, terms, x) + 1.0)
    }

    /// Whether a trip is a converter that loses its input, and not one that is switched off.
    pub(crate) fn loses_input(&self, trip: Trip) -> bool {
        let Trip::Off(part) = trip else {
            return matches!(trip, Trip::Collapses(_));
        };
        let mut regulators = self.frame.regulators();
        let own = regulators.find(|(at, _)| *at == part);
        own.is_some_and(|(_, terms)| self.enable(part, terms, &self.frame.x) > -1.0)
    }

    /// Level of the enable pin: -1 where it lets a regulator go off, 1 where it lets it come on.
    /// Without an enable input 1.
    fn enable(&self, part: usize, terms: &RegulatorTerms, x: &[f64]) -> f64 {
        let placed = &self.circuit.netlist.parts[part];
        enable_level(placed, terms.device.enable.as_ref(), x)
    }

    /// Whether a regulator has come on and not been in regulation since.
    pub(crate) fn is_starting(&self, part: usize) -> bool {
        self.starting[part]
    }

    /// Whether a load is out of reset and has booted.
    pub(crate) fn is_up(&self, load: usize) -> bool {
        self.flags.awake[load] && self.flags.boot_amps[load].is_none()
    }

    /// Voltage across a load.
    pub(crate) fn load_volts(&self, load: usize, x: &[f64]) -> Option<f64> {
        let placed = &self.circuit.netlist.loads[load];
        Some(volts(x, placed.plus?) - volts(x, placed.minus?))
    }

    /// Number of nets that people know; they come first among the unknowns.
    pub(crate) fn known_nets(&self) -> usize {
        self.circuit.netlist.nets.len()
    }

    /// Place of a net.
    pub(crate) fn net(&self, name: &str) -> Option<Net> {
        self.circuit.netlist.nets.iter().position(|n| n == name)
    }

    /// Current that each cell part gives.
    pub(crate) fn cell_amps(&self, x: &[f64], out: &mut Vec<f64>) {
        out.clear();
        let netlist = &self.circuit.netlist;
        for (at, placed) in netlist.parts.iter().enumerate() {
            if matches!(placed.part.device, Device::Cell(_)) {
                let store = self.frame.stores.iter().find(|s| s.part == at);
                out.push(store.map_or(0.0, |s| x[s.i]));
            }
        }
    }

    /// Current that each supply gives.
    pub(crate) fn supply_amps(&self, x: &[f64], out: &mut Vec<f64>) {
        out.clear();
        for (at, placed) in self.circuit.netlist.parts.iter().enumerate() {
            if matches!(placed.part.device, Device::Supply(_)) {
                let elements = self.frame.system.elements.iter();
                let own = elements.filter(|(owner, _)| *owner == Owner::Part(at));
                let amps = own.map(|(_, element)| match element {
                    Element::Supply { i, .. } | Element::Source { i, .. } => x[*i],
                    _ => 0.0,
                });
                out.push(amps.sum());
            }
        }
    }

    /// Current that all sources give: cells and supplies.
    pub(crate) fn source_amps(&self, x: &[f64]) -> f64 {
        let mut amps = Vec::new();
        self.cell_amps(x, &mut amps);
        let cells: f64 = amps.iter().sum();
        self.supply_amps(x, &mut amps);
        cells + amps.iter().sum::<f64>()
    }

    /// Newton steps taken so far.
    pub(crate) fn newton_steps(&self) -> usize {
        self.newton_before + self.frame.newton_steps
    }

    /// States of the cells, one entry a cell part.
    pub(crate) fn cells(&self) -> Vec<Vec<CellState>> {
        let netlist = &self.circuit.netlist;
        let count = cell_part_of(netlist, netlist.parts.len());
        let mut out = vec![Vec::new(); count];
        for store in &self.frame.stores {
            let states = store.cell_states(&self.y);
            if !states.is_empty() {
                out[cell_part_of(netlist, store.part)] = states;
            }
        }
        out
    }
}

fn frame<'c, 'f>(
    circuit: &'c Circuit<'f>,
    situation: &Situation,
    flags: &Flags,
    starting: &[bool],
    aged: &[f64],
) -> Result<Frame<'c, 'f>, NoPoint> {
    let system = System::new(&circuit.netlist, situation, &CellDrive::Rested, flags)?;
    let around = Surroundings {
        celsius: situation.ambient.as_celsius(),
        aged,
    };
    Ok(Frame::new(system, around, starting))
}

/// Input and output of a step-up converter, and its output sensed, against its ground.
fn step_up_volts(terms: &RegulatorTerms, x: &[f64]) -> (f64, f64, f64) {
    let above = |net: Net| volts(x, net) - volts(x, terms.gnd.net);
    (
        above(terms.power_in.net) - terms.device.pass_diode.as_volts(),
        above(terms.power_out.net),
        above(terms.sense.net),
    )
}

/// Passing starts to charge an output far below the input, or because the input alone holds it up.
fn to_passing(terms: &RegulatorTerms, x: &[f64]) -> f64 {
    let (input, output, sense) = step_up_volts(terms, x);
    let charges = output - PRECHARGES_BELOW * input;
    let drop = terms.device.dropout.si() * x[terms.io];
    let is_up = terms.set_volts * (1.0 - PASSES_FROM) - sense;
    let is_below = output - (input - drop) + PASSES_BY_VOLTS;
    charges.min(is_up.max(is_below))
}

/// Switching starts once the output is charged and not held up by the input alone.
fn to_switching(terms: &RegulatorTerms, x: &[f64]) -> f64 {
    let (input, output, sense) = step_up_volts(terms, x);
    let falls = sense - terms.set_volts * (1.0 - SWITCHES_BELOW);
    falls.max(PRECHARGED * input - output)
}
