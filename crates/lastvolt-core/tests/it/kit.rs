//! Short ways to build families in tests.

use lastvolt_core::circuit::{CellDrive, Circuit, Point, Situation};
use lastvolt_core::device::{
    Action, Cell, CellModel, Channel, Diode, Enable, Fet, Holder, Inductor, Led, Loss, Position,
    Regulator, Resistor, Reversal, Setpoint, Supply, Switch, Topology, WhenOff,
};
use lastvolt_core::model::{
    Ambient, Board, Confidence, Connector, Device, Family, Heat, Kind, Law, Load, LoadState,
    Origin, Part, Pin, Requirement, WorkingRange,
};
use lastvolt_core::numerics::table::Table;
use lastvolt_core::quantity::{
    Charge, Current, Fraction, Frequency, Inductance, Quantity, Resistance, Spread, Temperature,
    Voltage,
};

/// A value without spread.
pub(crate) fn exactly<Q: Quantity>(value: f64) -> Spread<Q> {
    Spread::exactly(Q::from_si(value))
}

/// A cell with open-circuit and resistance tables and no other property.
pub(crate) fn cell_model(coulombs: f64, emf: &[(f64, f64)], ohms: &[(f64, f64)]) -> CellModel {
    CellModel::plain(
        exactly::<Charge>(coulombs),
        Table::new(emf).expect("rising"),
        Table::new(ohms).expect("rising"),
    )
}

pub(crate) fn cell(model: CellModel, series: usize) -> Device {
    let holder = Holder {
        contact: exactly::<Resistance>(0.0),
        reversed: Reversal::Possible,
    };
    Device::Cell(Box::new(Cell {
        model,
        series,
        holder,
    }))
}

/// A cell of constant voltage and resistance.
pub(crate) fn plain_cell(volts: f64, ohms: f64) -> Device {
    cell(cell_model(1000.0, &[(0.0, volts)], &[(0.0, ohms)]), 1)
}

pub(crate) fn resistor(ohms: f64) -> Device {
    Device::Resistor(Resistor {
        value: exactly::<Resistance>(ohms),
        rated: None,
    })
}

pub(crate) fn inductor(henries: f64, winding_ohms: f64) -> Device {
    Device::Inductor(Inductor {
        value: exactly::<Inductance>(henries),
        winding: exactly::<Resistance>(winding_ohms),
        saturation: None,
        rated: None,
    })
}

pub(crate) fn diode(forward: &[(f64, f64)]) -> Diode {
    Diode {
        forward: forward
            .iter()
            .map(|&(i, v)| (Current::from_amps(i), exactly::<Voltage>(v)))
            .collect(),
        leakage: None,
        leakage_at: None,
        rated_current: None,
        rated_reverse: None,
    }
}

pub(crate) fn led(forward: &[(f64, f64)]) -> Device {
    Device::Led(Led {
        junction: diode(forward),
        visible_from: None,
    })
}

/// A p-channel transistor with the figures of Vishay 70833 (typical).
pub(crate) fn p_fet() -> Device {
    let point = |v, r| (Voltage::from_volts(v), exactly::<Resistance>(r));
    Device::Fet(Fet {
        channel: Channel::P,
        threshold: exactly::<Voltage>(0.6),
        threshold_at: Current::from_amps(250e-6),
        on_resistance: vec![point(1.8, 0.087), point(2.5, 0.060), point(4.5, 0.044)],
        off_leakage: Some(exactly::<Current>(1e-7)),
        gate_leakage: None,
        rated_drain_source: None,
        rated_gate_source: None,
    })
}

pub(crate) fn supply(volts: f64, ohms: f64, limit_amps: f64) -> Device {
    Device::Supply(Supply {
        open_circuit: exactly::<Voltage>(volts),
        resistance: exactly::<Resistance>(ohms),
        limit: Some(exactly::<Current>(limit_amps)),
        sinks: false,
        port: None,
        cable: None,
    })
}

/// A switch with pins as given and positions as pairs of pin places.
pub(crate) fn switch(positions: &[(&str, &[(usize, usize)])]) -> Device {
    Device::Switch(Switch {
        label: None,
        positions: positions
            .iter()
            .map(|(name, closed)| Position {
                name: (*name).to_owned(),
                closed: closed.to_vec(),
                means: None,
            })
            .collect(),
        usual: 0,
        returns: None,
        action: Action::BreakFirst,
        contact: exactly::<Resistance>(0.05),
        rated: None,
        least: None,
    })
}

/// A regulator without losses or limits; change what a test needs.
pub(crate) fn regulator(topology: Topology, setpoint: Setpoint) -> Regulator {
    Regulator {
        topology,
        setpoint,
        bias: exactly::<Current>(0.0),
        quiescent_in: exactly::<Current>(0.0),
        quiescent_out: exactly::<Current>(0.0),
        shutdown: exactly::<Current>(0.0),
        loss: Loss::Share {
            share: exactly::<Fraction>(0.0),
            path: exactly::<Resistance>(0.0),
        },
        dropout: exactly::<Resistance>(0.1),
        pass_diode: Voltage::from_volts(0.0),
        dropout_ground: 0.0,
        frequency: Some(exactly::<Frequency>(1e6)),
        limit: None,
        start: Vec::new(),
        runs_down_to: Voltage::from_volts(0.3),
        survives: None,
        enable: None,
        when_off: WhenOff::Disconnects,
        reverse: WhenOff::Disconnects,
        response: None,
    }
}

pub(crate) fn enable(low: f64, high: f64, leak_amps: f64) -> Option<Enable> {
    Some(Enable {
        low: Voltage::from_volts(low),
        high: Voltage::from_volts(high),
        leakage: exactly::<Current>(leak_amps),
    })
}

/// A load on VDD with states of constant current, working from 2.0 to 3.6 V.
pub(crate) fn current_load(states: &[(&str, f64)]) -> Load {
    load_on(
        "VDD",
        states
            .iter()
            .map(|&(n, i)| (n, Law::Current(exactly(i))))
            .collect(),
    )
}

pub(crate) fn load_on(plus: &str, states: Vec<(&str, Law)>) -> Load {
    Load {
        name: "module".to_owned(),
        plus: plus.to_owned(),
        minus: "GND".to_owned(),
        working: Some(WorkingRange {
            from: Voltage::from_volts(2.0),
            to: Voltage::from_volts(3.6),
        }),
        survives: None,
        ripple: None,
        reset: None,
        states: states
            .into_iter()
            .map(|(name, law)| LoadState {
                name: name.to_owned(),
                law,
                working: None,
            })
            .collect(),
        drives: Vec::new(),
        on: None,
    }
}

/// Parts by name with kind, pins and their nets, and what they are made of.
pub(crate) type Parts<'a> = Vec<(&'a str, Kind, &'a [(&'a str, &'a str)], Device)>;

/// A board from parts with their pins and nets, in the order of the kind.
pub(crate) fn board(name: &str, parts: Parts<'_>) -> Board {
    let mut nets: Vec<String> = Vec::new();
    let mut placed = Vec::new();
    for (name, kind, pins, device) in parts {
        let pins = pins.iter().map(|&(pin, net)| {
            let at = nets.iter().position(|n| n == net).unwrap_or_else(|| {
                nets.push(net.to_owned());
                nets.len() - 1
            });
            Pin {
                name: pin.to_owned(),
                net: Some(at),
                declared_open: false,
            }
        });
        let pins = pins.collect();
        let origin = Origin {
            model: None,
            source: None,
            confidence: Confidence::DataSheet,
            class: false,
            cautions: Vec::new(),
        };
        placed.push(Part {
            name: name.to_owned(),
            kind,
            pins,
            device,
            heat: Heat::default(),
            origin,
        });
    }
    Board {
        name: name.to_owned(),
        title: name.to_owned(),
        nets,
        parts: placed,
        loads: Vec::new(),
    }
}

/// A family on the connector VDD, GND at 25 degC.
pub(crate) fn family(boards: Vec<Board>, loads: Vec<Load>) -> Family {
    let celsius = Temperature::from_celsius(25.0);
    Family {
        name: "test".to_owned(),
        requirement: Requirement {
            life: None,
            confidence: None,
            storage: None,
            notice: None,
            ambient: Ambient {
                low: celsius,
                usual: celsius,
                high: celsius,
                monthly: None,
            },
        },
        connector: Connector {
            pins: vec!["VDD".to_owned(), "GND".to_owned()],
            ground: 1,
            promises: Vec::new(),
        },
        loads,
        profiles: Vec::new(),
        boards,
        accepts: Vec::new(),
    }
}

/// The usual situation of boards of a family.
pub(crate) fn usual(family: &Family, boards: &[&str]) -> Situation {
    let names: Vec<String> = boards.iter().map(|b| (*b).to_owned()).collect();
    Situation::usual(family, &names, None)
}

/// Solves a situation and checks the laws that every point obeys.
pub(crate) fn solve(family: &Family, situation: &Situation) -> Point {
    let circuit = Circuit::new(family, &situation.boards).expect("boards of the family");
    let point = circuit
        .solve(situation, &CellDrive::Rested, None)
        .expect("an operating point");
    check_laws(&point);
    point
}

/// Currents into every net and absorbed powers sum to zero.
pub(crate) fn check_laws(point: &Point) {
    let largest = point
        .parts
        .iter()
        .flat_map(|p| &p.pin_amps)
        .fold(1e-9_f64, |m, i| m.max(i.abs()));
    assert!(
        point.kcl_residual_amps <= 1e-9 * largest + 1e-12,
        "currents sum to {} of {largest}",
        point.kcl_residual_amps
    );
    let watts: Vec<f64> = point
        .parts
        .iter()
        .map(|p| p.watts)
        .chain(point.loads.iter().map(|l| l.watts))
        .collect();
    let sum: f64 = watts.iter().sum();
    let turned: f64 = watts.iter().map(|w| w.abs()).sum();
    assert!(
        sum.abs() <= 1e-8 * turned + 1e-12,
        "powers sum to {sum} of {turned}"
    );
}
