//! From parts in a situation to elements with unknowns.

use crate::circuit::element::{CellTerms, Element, Tap};
use crate::circuit::netlist::{Net, Netlist, PlacedLoad, PlacedPart};
use crate::circuit::regulation::{OffPath, RegulatorTerms, body_diode, off_path};
use crate::circuit::{CellDrive, NoPoint, Situation};
use crate::device::{
    Cell, CellState, Channel, Fet, Regulator, Reversal, Supply, Switch, Topology, WhenOff,
};
use crate::model::{Device, Law, Level};
use crate::numerics::math;
use crate::quantity::{Current, Spread};

/// What is discrete in a circuit and is decided outside the Newton steps.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Flags {
    /// One entry a part; regulators use it, and the parts of `gated`.
    pub(crate) on: Vec<bool>,
    /// One entry a part: a step-up converter whose input lies above its output.
    pub(crate) pass: Vec<bool>,
    /// One entry a part: a regulator taken to give nothing because another holds its output.
    pub(crate) idle: Vec<bool>,
    /// One entry a load: out of reset.
    pub(crate) awake: Vec<bool>,
    /// One entry a load: the current of the boot sequence that it is in.
    pub(crate) boot_amps: Vec<Option<f64>>,
    /// Factor on all load currents.
    pub(crate) load_scale: f64,
}

/// Whose pins an element's slots are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Owner {
    Part(usize),
    Load(usize),
}

/// A circuit in a situation with its flags: equations ready to be solved.
#[derive(Debug)]
pub(crate) struct System<'c, 'f> {
    pub(crate) netlist: &'c Netlist<'f>,
    pub(crate) elements: Vec<(Owner, Element<'f>)>,
    /// Number of net voltages among the unknowns, hidden nets included; they come first.
    pub(crate) nets: usize,
    /// Number of unknowns.
    pub(crate) unknowns: usize,
    /// Place of the unknowns that are junction voltages, with their emission voltage and saturation current.
    pub(crate) junctions: Vec<(usize, f64, f64)>,
    /// Number of hidden nets: pins that no net is given for.
    hidden: usize,
    /// Places of the elements that stand for cell parts, in circuit order.
    cells: Vec<CellPlace>,
}

/// Where a cell part is among elements, parts and unknowns.
#[derive(Debug, Clone, Copy)]
struct CellPlace {
    element: usize,
    part: usize,
    i: usize,
}

/// Resistances below this are branches with their own current.
const BRANCH_OHMS: f64 = 10.0;
/// Resistance of a firmware pin that drives a net (typical of the class; from memory).
const DRIVER_OHMS: f64 = 50.0;
/// Share by which regulators on one rail differ at least: no two references are equal to the last
/// digit, and which of two equal ones carries the load is not determined otherwise.
const APART: f64 = 1e-7;
/// Conductance of a load in reset (common practice: some tens of nanoamperes at most).
const ASLEEP_SIEMENS: f64 = 1e-8;
/// Voltage below which the current of a load without stated reset fades.
const LOAD_FADES_BELOW_VOLTS: f64 = 0.5;

/// Switch nodes of a regulator, and the unknowns of their current and level.
type SwitchNodes = (Option<(Tap, Tap)>, Option<(usize, usize)>);

impl<'c, 'f> System<'c, 'f> {
    pub(crate) fn new(
        netlist: &'c Netlist<'f>,
        situation: &Situation,
        cells: &CellDrive,
        flags: &Flags,
    ) -> Result<Self, NoPoint> {
        let nets = netlist.nets.len();
        let mut system = Self {
            netlist,
            elements: Vec::new(),
            nets,
            unknowns: nets,
            junctions: Vec::new(),
            hidden: 0,
            cells: Vec::new(),
        };
        system.give_open_pins_nets();
        for (at, placed) in netlist.parts.iter().enumerate() {
            if let Device::Cell(cell) = &placed.part.device {
                system.add_cells(at, placed, cell, situation, cells);
            } else {
                system.add_part(at, placed, situation, flags)?;
            }
        }
        for (at, placed) in netlist.loads.iter().enumerate() {
            system.add_load(at, placed, situation, flags)?;
        }
        Ok(system)
    }

    /// Every pin without a net gets one of its own, except on switches, whose throws may be spare.
    fn give_open_pins_nets(&mut self) {
        for placed in &self.netlist.parts {
            self.hidden += placed.nets.iter().filter(|n| n.is_none()).count();
        }
        self.nets += self.hidden;
        self.unknowns = self.nets;
    }

    pub(super) fn tap(&self, part: usize, slot: usize) -> Tap {
        let net = self.netlist.parts[part].nets.get(slot).copied().flatten();
        Tap {
            slot,
            net: net.unwrap_or_else(|| self.hidden_net(part, slot)),
        }
    }

    fn hidden_net(&self, part: usize, slot: usize) -> Net {
        let open = |nets: &[Option<Net>]| nets.iter().filter(|n| n.is_none()).count();
        let before: usize = self.netlist.parts[..part]
            .iter()
            .map(|p| open(&p.nets))
            .sum();
        let nets = &self.netlist.parts[part].nets;
        self.netlist.nets.len() + before + open(&nets[..slot.min(nets.len())])
    }

    pub(super) fn unknown(&mut self) -> usize {
        self.unknowns += 1;
        self.unknowns - 1
    }

    pub(super) fn push(&mut self, owner: Owner, element: Element<'f>) {
        self.elements.push((owner, element));
    }

    pub(super) fn add_resistance(&mut self, part: usize, a: Tap, b: Tap, ohms: f64) {
        if ohms < BRANCH_OHMS {
            let i = self.unknown();
            self.push(Owner::Part(part), Element::Branch { a, b, ohms, i });
        } else {
            self.push(
                Owner::Part(part),
                Element::Conductance {
                    a,
                    b,
                    siemens: 1.0 / ohms,
                },
            );
        }
    }

    fn add_part(
        &mut self,
        at: usize,
        placed: &'c PlacedPart<'f>,
        situation: &Situation,
        flags: &Flags,
    ) -> Result<(), NoPoint> {
        let celsius = situation.ambient.as_celsius();
        let (a, b) = (self.tap(at, 0), self.tap(at, 1));
        match &placed.part.device {
            Device::Resistor(r) => self.add_resistance(at, a, b, r.value.si()),
            Device::Fuse(f) => self.add_resistance(at, a, b, f.resistance.si()),
            Device::Ptc(p) => self.add_resistance(at, a, b, p.resistance.si()),
            Device::Inductor(l) => {
                let i = self.unknown();
                let ohms = l.winding.si();
                self.push(Owner::Part(at), Element::Branch { a, b, ohms, i });
            }
            Device::Capacitor(c) => {
                let siemens = c.leak_siemens(celsius);
                self.push(Owner::Part(at), Element::Conductance { a, b, siemens });
            }
            Device::Diode(d) => self.add_junction(at, a, b, placed.junction(d, celsius)),
            Device::Zener(d) => {
                self.add_junction(at, a, b, d.forward(celsius));
                self.add_junction(at, b, a, d.reverse());
            }
            Device::Led(d) => {
                self.add_junction(at, a, b, placed.junction(&d.junction, celsius));
            }
            Device::Fet(fet) => self.add_fet(at, fet, celsius),
            Device::Supply(_) if situation.absent.contains(&placed.name) => {
                let i = self.unknown();
                let (plus, minus) = (a, b);
                self.push(Owner::Part(at), Element::Open { plus, minus, i });
            }
            Device::Supply(supply) => self.add_supply(at, a, b, supply),
            Device::Switch(switch) => self.add_switch(at, placed, switch, situation)?,
            Device::Regulator(device) => self.add_regulator(at, placed, device, celsius, flags),
            Device::Detector(d) => self.add_detector(at, d, flags),
            Device::LoadSwitch(d) => self.add_load_switch(at, d, celsius, flags),
            Device::IdealDiode(d) => self.add_ideal_diode(at, d, celsius, flags),
            Device::Cell(_) | Device::Load(_) | Device::TestPoint => {}
        }
        Ok(())
    }

    pub(super) fn add_junction(
        &mut self,
        part: usize,
        anode: Tap,
        cathode: Tap,
        junction: crate::device::Junction,
    ) {
        let u = self.unknown();
        self.junctions
            .push((u, junction.emission_volts, junction.saturation_amps));
        self.push(
            Owner::Part(part),
            Element::Diode {
                anode,
                cathode,
                junction,
                u,
            },
        );
    }

    /// Pins in the order drain, source, gate.
    fn add_fet(&mut self, part: usize, fet: &Fet, celsius: f64) {
        let (drain, source, gate) = (self.tap(part, 0), self.tap(part, 1), self.tap(part, 2));
        let law = fet.law(celsius);
        let sign = if fet.channel == Channel::P { -1.0 } else { 1.0 };
        let i = self.unknown();
        self.push(
            Owner::Part(part),
            Element::Channel {
                drain,
                source,
                gate,
                law,
                sign,
                i,
            },
        );
        let body = crate::device::Junction {
            saturation_amps: law.body_amps,
            emission_volts: law.body_volts,
            series_ohms: law.series_ohms.max(0.01),
            leak_siemens: 0.0,
        };
        let (anode, cathode) = if sign < 0.0 {
            (drain, source)
        } else {
            (source, drain)
        };
        self.add_junction(part, anode, cathode, body);
    }

    fn add_supply(&mut self, part: usize, plus: Tap, minus: Tap, supply: &Supply) {
        let (volts, ohms) = (supply.open_circuit.si(), supply.resistance.si());
        let limit_amps = supply.limit.map_or(f64::MAX, |l| l.si());
        let i = self.unknown();
        let element = if supply.sinks {
            Element::Source {
                plus,
                minus,
                volts,
                ohms,
                i,
            }
        } else {
            Element::Supply {
                plus,
                minus,
                volts,
                ohms,
                limit_amps,
                i,
            }
        };
        self.push(Owner::Part(part), element);
    }

    fn add_switch(
        &mut self,
        at: usize,
        placed: &PlacedPart,
        switch: &Switch,
        situation: &Situation,
    ) -> Result<(), NoPoint> {
        let ohms = switch.contact.si();
        let closed = match situation.positions.get(&placed.name) {
            None => switch.positions.get(switch.usual).map(|p| p.closed.clone()),
            Some(name) => switch.closed_in(name),
        };
        let unknown = || NoPoint::Unknown {
            what: format!(
                "position {} of {}",
                situation
                    .positions
                    .get(&placed.name)
                    .map_or("", String::as_str),
                placed.name
            ),
        };
        for (a, b) in closed.ok_or_else(unknown)? {
            let (a, b) = (self.tap(at, a), self.tap(at, b));
            let i = self.unknown();
            self.push(Owner::Part(at), Element::Branch { a, b, ohms, i });
        }
        Ok(())
    }

    fn add_cells(
        &mut self,
        at: usize,
        placed: &PlacedPart<'f>,
        cell: &'f Cell,
        situation: &Situation,
        drive: &CellDrive,
    ) {
        let place = CellPlace {
            element: self.elements.len(),
            part: at,
            i: self.unknown(),
        };
        let element = self.cells_in(place, placed, cell, situation, drive, self.cells.len());
        self.cells.push(place);
        self.push(Owner::Part(at), element);
    }

    /// Changes what stands for the cells and nothing else; says whether another kind of element does.
    pub(crate) fn set_cells(&mut self, situation: &Situation, drive: &CellDrive) -> bool {
        let netlist = self.netlist;
        let mut changed = false;
        for cell_part in 0..self.cells.len() {
            let place = self.cells[cell_part];
            if let (CellDrive::Terminals(given), Element::Source { volts, .. }) =
                (drive, &mut self.elements[place.element].1)
            {
                *volts = given.get(cell_part).copied().unwrap_or(0.0);
                continue;
            }
            let placed = &netlist.parts[place.part];
            if let Device::Cell(cell) = &placed.part.device {
                let element = self.cells_in(place, placed, cell, situation, drive, cell_part);
                let before = std::mem::replace(&mut self.elements[place.element].1, element);
                let kind = std::mem::discriminant(&before);
                changed |= kind != std::mem::discriminant(&self.elements[place.element].1);
            }
        }
        changed
    }

    /// The element that stands for a cell part.
    fn cells_in(
        &self,
        place: CellPlace,
        placed: &PlacedPart<'f>,
        cell: &'f Cell,
        situation: &Situation,
        drive: &CellDrive,
        cell_part: usize,
    ) -> Element<'f> {
        let CellPlace { part, i, .. } = place;
        let (plus, minus) = (self.tap(part, 0), self.tap(part, 1));
        let contact_ohms = cell.holder.contact.si() * cell.series as f64;
        let source = |volts: f64| Element::Source {
            plus,
            minus,
            volts,
            ohms: contact_ohms,
            i,
        };
        if let CellDrive::Terminals(volts) = drive {
            return source(volts.get(cell_part).copied().unwrap_or(0.0));
        }
        if situation.absent.contains(&placed.name) {
            return Element::Open { plus, minus, i };
        }
        let whole = situation.reversed.contains(&placed.name);
        let is_reversed = |k: usize| {
            whole
                || situation
                    .reversed
                    .contains(&format!("{}.{}", placed.name, k + 1))
        };
        let any = (0..cell.series).any(is_reversed);
        match cell.holder.reversed {
            Reversal::NoContact if any => return Element::Open { plus, minus, i },
            // The holder's contacts touch: the board sees a short where the cell should be.
            Reversal::Short if any => return source(0.0),
            _ => {}
        }
        let celsius = situation.ambient.as_celsius();
        let terms = (0..cell.series).map(|k| {
            let rested = || cell.model.rested(situation.depth_of(&placed.name));
            let state = match drive {
                CellDrive::States(states) => states
                    .get(cell_part)
                    .and_then(|s| s.get(k))
                    .cloned()
                    .unwrap_or_else(rested),
                _ => rested(),
            };
            cell_terms(cell, &state, celsius, is_reversed(k))
        });
        Element::Cells {
            plus,
            minus,
            cells: terms.collect(),
            contact_ohms,
            i,
        }
    }

    fn add_regulator(
        &mut self,
        at: usize,
        placed: &PlacedPart,
        device: &'f Regulator,
        celsius: f64,
        flags: &Flags,
    ) {
        let wired = |name: &str| placed.part.pin(name).filter(|(_, p)| p.net.is_some());
        let tap = |system: &Self, name: &str| wired(name).map(|(slot, _)| system.tap(at, slot));
        let (supply, out, gnd) = (self.tap(at, 0), self.tap(at, 1), self.tap(at, 2));
        let sw = tap(self, "sw");
        let power_in = if device.topology == Topology::Boost {
            sw
        } else {
            None
        }
        .unwrap_or(supply);
        let power_out = if device.topology == Topology::Buck {
            sw
        } else {
            None
        }
        .unwrap_or(out);
        let has_out = placed.nets.get(1).copied().flatten().is_some();
        let sense = tap(self, "fb").unwrap_or(if has_out { out } else { power_out });
        let (switch_nodes, inductor) = self.switch_nodes(at, placed, device);
        let (ip, io) = (self.unknown(), self.unknown());
        let terms = RegulatorTerms {
            device,
            set_volts: device.setpoint_volts() * (1.0 - APART * self.rank(at)),
            on: flags.on[at],
            pass: flags.pass[at],
            idle: flags.idle[at],
            supply,
            gnd,
            power_in,
            power_out,
            sense,
            switch_nodes,
            ip,
            io,
            inductor,
            answer: None,
        };
        self.push(Owner::Part(at), Element::Regulator(Box::new(terms)));
        if let Some(fb) = tap(self, "fb")
            && device.bias.si() != 0.0
        {
            let amps = device.bias.si() * math::exp2((celsius - 25.0) / 10.0);
            let drain = Element::Drain {
                a: fb,
                b: gnd,
                amps,
                fades_below_volts: 0.1,
            };
            self.push(Owner::Part(at), drain);
        }
        self.add_regulator_paths(at, device, celsius, flags, (power_in, power_out));
    }

    /// The way back from output to input, and the way through when off.
    fn add_regulator_paths(
        &mut self,
        at: usize,
        device: &Regulator,
        celsius: f64,
        flags: &Flags,
        (power_in, power_out): (Tap, Tap),
    ) {
        match device.reverse {
            WhenOff::Disconnects => {}
            WhenOff::BodyDiode => {
                self.add_junction(at, power_out, power_in, body_diode(device, celsius))
            }
            WhenOff::Passes => self.add_resistance(at, power_out, power_in, device.dropout.si()),
        }
        match off_path(device) {
            _ if flags.on[at] => {}
            OffPath::None => {}
            OffPath::Diode => {
                self.add_junction(at, power_in, power_out, body_diode(device, celsius))
            }
            OffPath::Ohms(ohms) => self.add_resistance(at, power_in, power_out, ohms),
        }
    }

    /// How many regulators of an earlier name share this one's output.
    fn rank(&self, at: usize) -> f64 {
        let output = |placed: &PlacedPart| placed.nets.get(1).copied().flatten();
        let own = &self.netlist.parts[at];
        let others = self.netlist.parts.iter().filter(|other| {
            matches!(other.part.device, Device::Regulator(_))
                && output(other).is_some()
                && output(other) == output(own)
                && other.name < own.name
        });
        others.count() as f64
    }

    fn switch_nodes(&mut self, at: usize, placed: &PlacedPart, device: &Regulator) -> SwitchNodes {
        let slot = |name: &str| placed.part.pin(name).filter(|(_, p)| p.net.is_some());
        if device.topology != Topology::BuckBoost {
            return (None, None);
        }
        let (Some((first, _)), Some((second, _))) = (slot("sw1"), slot("sw2")) else {
            return (None, None);
        };
        let nodes = (self.tap(at, first), self.tap(at, second));
        (Some(nodes), Some((self.unknown(), self.unknown())))
    }

    fn add_load(
        &mut self,
        at: usize,
        placed: &PlacedLoad<'f>,
        situation: &Situation,
        flags: &Flags,
    ) -> Result<(), NoPoint> {
        let load = placed.load;
        let wanted = situation.states.get(&placed.name);
        let state = match wanted {
            None => 0,
            Some(name) => load.state(name).ok_or_else(|| NoPoint::Unknown {
                what: format!("state {name} of {}", placed.name),
            })?,
        };
        let (Some(plus), Some(minus)) = (placed.plus, placed.minus) else {
            return Ok(());
        };
        let (plus, minus) = (
            Tap { slot: 0, net: plus },
            Tap {
                slot: 1,
                net: minus,
            },
        );
        let owner = Owner::Load(at);
        let boot = flags.boot_amps[at];
        let booting = boot.map(|amps| Law::Current(Spread::exactly(Current::from_amps(amps))));
        let Some(law) = booting.or(load.states.get(state).map(|s| s.law)) else {
            return Ok(());
        };
        if !flags.awake[at] {
            self.push(
                owner,
                Element::Conductance {
                    a: plus,
                    b: minus,
                    siemens: ASLEEP_SIEMENS,
                },
            );
            return Ok(());
        }
        let fades_below_volts = match (&load.reset, load.working_in(state)) {
            (Some(reset), _) => reset.below.as_volts(),
            (None, Some(working)) => working.from.as_volts() / 2.0,
            (None, None) => LOAD_FADES_BELOW_VOLTS,
        }
        .max(0.05);
        let scale = flags.load_scale;
        self.push(
            owner,
            Element::Load {
                plus,
                minus,
                law,
                scale,
                fades_below_volts,
            },
        );
        for (k, drive) in load.drives.iter().enumerate() {
            let level = match boot {
                Some(_) => Some(&drive.boot),
                None => drive.levels.get(state),
            };
            let to = match level {
                Some(Level::High) => plus,
                Some(Level::Low) => minus,
                _ => continue,
            };
            if let Some(net) = placed.drives[k] {
                let b = Tap { slot: 2 + k, net };
                let element = Element::Conductance {
                    a: to,
                    b,
                    siemens: 1.0 / DRIVER_OHMS,
                };
                self.push(owner, element);
            }
        }
        Ok(())
    }
}

fn cell_terms<'f>(
    cell: &'f Cell,
    state: &CellState,
    celsius: f64,
    reversed: bool,
) -> CellTerms<'f> {
    let model = &cell.model;
    let x = model.surface(state.depth, state.imbalance);
    CellTerms {
        model,
        emf_volts: model.open_circuit_volts(x).0 + model.shift_volts(celsius)
            - state.branch_volts.iter().sum::<f64>(),
        ohms: model.resistance_ohms(x, celsius, state.aged) + model.film_ohms(state.film),
        sign: if reversed { -1.0 } else { 1.0 },
    }
}
