//! A netlist as a chain of calls, and parts with few figures, so that a test reads like a drawing.
//!
//! Every figure that a test does not give is absent or zero: no tolerance, no leakage, no wells.

use lastvolt_core::circuit::{CellDrive, Circuit, NoPoint, Point, Situation};
use lastvolt_core::device::{
    Action, Capacitor, CellModel, Channel, Diode, Fet, Led, Loss, Position, Regulator, Supply,
    Switch, Topology,
};
use lastvolt_core::model::{
    Board, Confidence, Device, Family, Heat, Kind, Law, Load, Origin, Part, Pin,
};
use lastvolt_core::quantity::{Capacitance, Current, Fraction, Power, Resistance, Spread, Voltage};

use crate::kit;

pub(crate) fn volts(value: f64) -> Spread<Voltage> {
    Spread::exactly(Voltage::from_volts(value))
}

pub(crate) fn amps(value: f64) -> Spread<Current> {
    Spread::exactly(Current::from_amps(value))
}

pub(crate) fn ohms(value: f64) -> Spread<Resistance> {
    Spread::exactly(Resistance::from_ohms(value))
}

/// A board under construction; nets come into being when they are first named.
#[derive(Debug, Clone)]
pub(crate) struct Netlist(Board);

impl Netlist {
    pub(crate) fn new(name: &str) -> Self {
        Self(Board {
            name: name.to_owned(),
            title: name.to_owned(),
            nets: Vec::new(),
            parts: Vec::new(),
            loads: Vec::new(),
        })
    }

    pub(crate) fn board(self) -> Board {
        self.0
    }

    /// Any part: its pins with their nets in the order of the kind. The net `-` is an open pin.
    pub(crate) fn part(
        mut self,
        name: &str,
        kind: Kind,
        device: Device,
        pins: &[(&str, &str)],
    ) -> Self {
        let pins = pins
            .iter()
            .map(|(pin, net)| Pin {
                name: (*pin).to_owned(),
                net: (*net != "-").then(|| self.net(net)),
                declared_open: *net == "-",
            })
            .collect();
        self.0.parts.push(Part {
            name: name.to_owned(),
            kind,
            pins,
            device,
            heat: Heat::default(),
            origin: Origin {
                model: None,
                source: None,
                confidence: Confidence::DataSheet,
                class: false,
                cautions: Vec::new(),
            },
        });
        self
    }

    pub(crate) fn resistor(self, name: &str, value: f64, a: &str, b: &str) -> Self {
        let pins = [("1", a), ("2", b)];
        self.part(name, Kind::Resistor, kit::resistor(value), &pins)
    }

    pub(crate) fn capacitor(self, name: &str, device: Capacitor, a: &str, b: &str) -> Self {
        let pins = [("1", a), ("2", b)];
        self.part(name, Kind::Capacitor, Device::Capacitor(device), &pins)
    }

    pub(crate) fn inductor(self, name: &str, winding: f64, a: &str, b: &str) -> Self {
        let pins = [("1", a), ("2", b)];
        self.part(name, Kind::Inductor, kit::inductor(4.7e-6, winding), &pins)
    }

    pub(crate) fn diode(self, name: &str, device: Diode, anode: &str, cathode: &str) -> Self {
        let pins = [("anode", anode), ("cathode", cathode)];
        self.part(name, Kind::Diode, Device::Diode(device), &pins)
    }

    pub(crate) fn led(self, name: &str, junction: Diode, anode: &str, cathode: &str) -> Self {
        let device = Led {
            junction,
            visible_from: None,
        };
        let pins = [("anode", anode), ("cathode", cathode)];
        self.part(name, Kind::Led, Device::Led(device), &pins)
    }

    /// A transistor between nets drain, source, gate.
    pub(crate) fn fet(self, name: &str, device: Fet, [drain, source, gate]: [&str; 3]) -> Self {
        let kind = match device.channel {
            Channel::N => Kind::NFet,
            Channel::P => Kind::PFet,
        };
        let pins = [("drain", drain), ("source", source), ("gate", gate)];
        self.part(name, kind, Device::Fet(device), &pins)
    }

    /// A string of cells in a holder without resistance that lets cells in either way round.
    pub(crate) fn cell(self, name: &str, model: CellModel, series: usize, plus: &str) -> Self {
        let pins = [("plus", plus), ("minus", "GND")];
        self.part(name, Kind::Cell, kit::cell(model, series), &pins)
    }

    /// A supply against ground that takes no current back.
    pub(crate) fn supply(self, name: &str, open_circuit: f64, resistance: f64, plus: &str) -> Self {
        let device = Supply {
            open_circuit: volts(open_circuit),
            resistance: ohms(resistance),
            limit: None,
            sinks: false,
            port: None,
            cable: None,
        };
        let pins = [("plus", plus), ("minus", "GND")];
        self.part(name, Kind::Supply, Device::Supply(device), &pins)
    }

    /// A switch of one pole that is closed in `on` and open in `off`, usually `on`.
    pub(crate) fn switch(self, name: &str, contact: f64, a: &str, b: &str) -> Self {
        let position = |name: &str, closed: &[(usize, usize)]| Position {
            name: name.to_owned(),
            closed: closed.to_vec(),
            means: None,
        };
        let device = Switch {
            label: None,
            positions: vec![position("on", &[(0, 1)]), position("off", &[])],
            usual: 0,
            returns: None,
            action: Action::BreakFirst,
            contact: ohms(contact),
            rated: None,
            least: None,
        };
        let pins = [("1", a), ("2", b)];
        self.part(name, Kind::Switch, Device::Switch(device), &pins)
    }

    /// A regulator between the nets given for its pins.
    pub(crate) fn regulator(self, name: &str, device: Regulator, pins: &[(&str, &str)]) -> Self {
        let kind = match device.topology {
            Topology::Linear => Kind::Ldo,
            Topology::Buck => Kind::Buck,
            Topology::Boost => Kind::Boost,
            Topology::BuckBoost => Kind::BuckBoost,
        };
        self.part(name, kind, Device::Regulator(Box::new(device)), pins)
    }

    /// A load of the board's own against ground, with one state `on`.
    pub(crate) fn load(mut self, name: &str, law: Law, plus: &str) -> Self {
        self.net(plus);
        self.net("GND");
        self.0.loads.push(load(name, law, plus));
        self
    }

    fn net(&mut self, name: &str) -> usize {
        if let Some(at) = self.0.nets.iter().position(|n| n == name) {
            return at;
        }
        self.0.nets.push(name.to_owned());
        self.0.nets.len() - 1
    }
}

/// A load against ground with one state `on`, without working range or reset.
pub(crate) fn load(name: &str, law: Law, plus: &str) -> Load {
    Load {
        name: name.to_owned(),
        working: None,
        ..kit::load_on(plus, vec![("on", law)])
    }
}

pub(crate) fn constant_amps(value: f64) -> Law {
    Law::Current(amps(value))
}

pub(crate) fn constant_watts(value: f64) -> Law {
    Law::Power(Spread::exactly(Power::from_watts(value)))
}

/// Boards on a connector of VDD and GND at 25 degC, with loads of their own only.
pub(crate) fn family(boards: Vec<Board>) -> Family {
    kit::family(boards, Vec::new())
}

/// The operating point of one board in its usual situation.
pub(crate) fn solve(netlist: Netlist) -> Result<Point, NoPoint> {
    solve_with(netlist, |_| {})
}

/// The operating point of one board in a changed situation.
pub(crate) fn solve_with(
    netlist: Netlist,
    change: impl FnOnce(&mut Situation),
) -> Result<Point, NoPoint> {
    solve_stack(vec![netlist.board()], change)
}

/// The operating point of boards on one connector.
pub(crate) fn solve_stack(
    boards: Vec<Board>,
    change: impl FnOnce(&mut Situation),
) -> Result<Point, NoPoint> {
    let family = family(boards);
    let names: Vec<String> = family.boards.iter().map(|b| b.name.clone()).collect();
    let circuit = Circuit::new(&family, &names).expect("the boards are there");
    let mut situation = Situation::usual(&family, &names, None);
    change(&mut situation);
    circuit.solve(&situation, &CellDrive::Rested, None)
}

/// A cell of constant open-circuit voltage and resistance, 1 Ah.
pub(crate) fn plain_cell(open_circuit_volts: f64, resistance_ohms: f64) -> CellModel {
    kit::cell_model(
        3600.0,
        &[(0.0, open_circuit_volts)],
        &[(0.0, resistance_ohms)],
    )
}

/// A transistor with a threshold at 250 uA and on-resistances against gate voltage.
pub(crate) fn fet(channel: Channel, threshold: f64, on_resistance: &[(f64, f64)]) -> Fet {
    let point = |&(v, r): &(f64, f64)| (Voltage::from_volts(v), ohms(r));
    Fet {
        channel,
        threshold: volts(threshold),
        threshold_at: Current::from_amps(250e-6),
        on_resistance: on_resistance.iter().map(point).collect(),
        off_leakage: None,
        gate_leakage: None,
        rated_drain_source: None,
        rated_gate_source: None,
    }
}

/// A share of the output power and a resistance in the path of the inductor current.
pub(crate) fn losses(share: f64, path_ohms: f64) -> Loss {
    Loss::Share {
        share: Spread::exactly(Fraction::from_share(share)),
        path: ohms(path_ohms),
    }
}

/// A capacitor without dielectric, leakage or rating.
pub(crate) fn plain_capacitor(farads: f64) -> Capacitor {
    Capacitor {
        value: Spread::exactly(Capacitance::from_farads(farads)),
        dielectric: None,
        rated: None,
        series_resistance: ohms(0.0),
        leakage: None,
        bias: None,
    }
}

/// Asserts that two figures agree within a share of the second.
#[track_caller]
pub(crate) fn assert_close(got: f64, expected: f64, share: f64) {
    assert!(
        (got - expected).abs() <= share * expected.abs(),
        "{got} against {expected}, off by {:.3e}",
        got / expected - 1.0
    );
}
