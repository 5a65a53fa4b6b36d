//! Efficiency of converters at solved points, with their inductors drawn.

use super::*;
use crate::device::{Resistor, Setpoint, Supply, WhenOff};
use crate::model::{Ambient, Confidence, Connector, Heat, Kind, Origin, Pin, Requirement};
use crate::progress::Silent;
use crate::quantity::{
    Current, Fraction, Frequency, Inductance, Quantity, Resistance, Spread, Voltage,
};

fn exactly<Q: Quantity>(value: f64) -> Spread<Q> {
    Spread::exactly(Q::from_si(value))
}

const PATH_OHMS: f64 = 0.2;
const SHARE: f64 = 0.04;
const QUIESCENT_AMPS: f64 = 5e-3;

/// A large own current, which has no part in the efficiency of the power stage.
fn converter(topology: Topology, out_volts: f64) -> Device {
    Device::Regulator(Box::new(Regulator {
        topology,
        setpoint: Setpoint::Output(exactly::<Voltage>(out_volts)),
        bias: exactly::<Current>(0.0),
        quiescent_in: exactly::<Current>(QUIESCENT_AMPS),
        quiescent_out: exactly::<Current>(QUIESCENT_AMPS),
        shutdown: exactly::<Current>(0.0),
        loss: Loss::Share {
            share: exactly::<Fraction>(SHARE),
            path: exactly::<Resistance>(PATH_OHMS),
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
    }))
}

fn part(name: &str, kind: Kind, pins: &[(&str, usize)], device: Device) -> Part {
    let pins = pins.iter().map(|&(pin, net)| Pin {
        name: pin.to_owned(),
        net: Some(net),
        declared_open: false,
    });
    Part {
        name: name.to_owned(),
        kind,
        pins: pins.collect(),
        device,
        heat: Heat::default(),
        origin: Origin {
            model: None,
            source: None,
            confidence: Confidence::DataSheet,
            class: false,
            cautions: Vec::new(),
        },
    }
}

/// A supply on `VIN`, a converter to `VDD` with a lossless inductor, and a resistor there.
fn parts(topology: Topology, in_volts: f64, out_volts: f64, out_amps: f64) -> Vec<Part> {
    let [ground, input, switch, output] = [0, 1, 2, 3];
    let coil_end = if topology == Topology::Boost {
        input
    } else {
        output
    };
    let kind = if topology == Topology::Boost {
        Kind::Boost
    } else {
        Kind::Buck
    };
    let supply = Device::Supply(Supply {
        open_circuit: exactly::<Voltage>(in_volts),
        resistance: exactly::<Resistance>(0.0),
        limit: None,
        sinks: false,
        port: None,
        cable: None,
    });
    let coil = Device::Inductor(Inductor {
        value: exactly::<Inductance>(4.7e-6),
        winding: exactly::<Resistance>(0.0),
        saturation: None,
        rated: None,
    });
    let load = Device::Resistor(Resistor {
        value: exactly::<Resistance>(out_volts / out_amps),
        rated: None,
    });
    let pins = [
        ("in", input),
        ("out", output),
        ("gnd", ground),
        ("sw", switch),
    ];
    vec![
        part(
            "J1",
            Kind::Supply,
            &[("plus", input), ("minus", ground)],
            supply,
        ),
        part("U1", kind, &pins, converter(topology, out_volts)),
        part(
            "L1",
            Kind::Inductor,
            &[("1", switch), ("2", coil_end)],
            coil,
        ),
        part("R1", Kind::Resistor, &[("1", output), ("2", ground)], load),
    ]
}

fn family(parts: Vec<Part>) -> Family {
    let nets = ["GND", "VIN", "SW", "VDD"].map(str::to_owned).to_vec();
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
        loads: Vec::new(),
        profiles: Vec::new(),
        boards: vec![Board {
            name: "board".to_owned(),
            title: "board".to_owned(),
            nets,
            parts,
            loads: Vec::new(),
        }],
        accepts: Vec::new(),
    }
}

fn check(topology: Topology, in_volts: f64, out_volts: f64) {
    let out_amps = 0.1;
    let family = family(parts(topology, in_volts, out_volts, out_amps));
    let e = Evidence::new(&family, "board", None, &Silent).expect("a board");
    let point = e.point(&e.usual()).expect("a point");
    let all = e.working(&point);
    let at = all.first().expect("a converter");
    assert!(
        (at.out_amps / out_amps - 1.0).abs() < 1e-6,
        "{}",
        at.out_amps
    );
    // What is lost in the stage: a share of the output and the path of the inductor current.
    let given = out_volts * out_amps;
    let lost = SHARE * given + PATH_OHMS * at.inductor_amps * at.inductor_amps;
    let efficiency = at.stage().expect("a stage").efficiency;
    let wanted = given / (given + lost);
    assert!(
        (efficiency - wanted).abs() < 2e-3,
        "{efficiency} against {wanted}"
    );
    assert!(0.6 < wanted && wanted < 0.97);
}

#[test]
fn law_a_step_up_takes_its_power_through_the_inductor() {
    check(Topology::Boost, 1.5, 3.0);
}

#[test]
fn law_a_step_down_gives_its_power_through_the_inductor() {
    check(Topology::Buck, 3.6, 1.8);
}
