//! What a reversed cell can do to the parts around it, and the supply that stands for another board.

use std::collections::BTreeSet;

use crate::circuit::{Circuit, Point, Situation, stresses};
use crate::device::Supply;
use crate::model::{Confidence, Device, Family, Heat, Kind, Origin, Part, Pin};
use crate::quantity::{Resistance, Spread, Unit, Voltage};
use crate::review::{Evidence, Figure, words};

/// Name of the supply that stands for another board where the family has none.
const RAIL_SUPPLY: &str = "(supply on the rail)";

/// What goes wrong, before it is known in which situation.
pub(super) struct Wrong {
    pub(super) part: String,
    pub(super) says: String,
    pub(super) measured: Figure,
    pub(super) limit: Figure,
    /// Whether it destroys or endangers.
    pub(super) hazard: bool,
}

/// Stresses beyond their rating that the forward point does not have.
pub(super) fn overstressed(
    circuit: &Circuit,
    situation: &Situation,
    forward: &Point,
    point: &Point,
) -> Vec<Wrong> {
    let upright = Situation {
        reversed: BTreeSet::new(),
        ..situation.clone()
    };
    let sound = stresses(circuit, &upright, forward);
    let mut out = Vec::new();
    for stress in stresses(circuit, situation, point) {
        let before = sound
            .iter()
            .find(|s| s.part == stress.part && s.quantity == stress.quantity);
        if stress.share <= 1.0 || before.is_some_and(|s| 1.0 < s.share) {
            continue;
        }
        let unit = unit_of(stress.quantity);
        out.push(Wrong {
            says: format!(
                "{} sees a {} of {} against {}",
                stress.part,
                stress.quantity,
                words::figure(stress.value, unit),
                words::figure(stress.rating, unit)
            ),
            part: stress.part,
            measured: Figure::new(stress.value, unit),
            limit: Figure::new(stress.rating, unit),
            hazard: true,
        });
    }
    out
}

fn unit_of(quantity: &str) -> Unit {
    match quantity {
        q if q.ends_with("current") || q == "saturation" => Unit::Ampere,
        "power" => Unit::Watt,
        _ => Unit::Volt,
    }
}

/// The family with an ideal supply on the board's rail, at the voltage that the rail has anyway.
pub(super) fn with_rail_supply(e: &Evidence) -> Option<(Family, f64)> {
    let rail = e.family.connector.rail()?;
    let ground = e.family.connector.ground_net();
    let usual = e.point(&e.usual())?;
    let volts = usual.net(rail)? - usual.net(ground).unwrap_or(0.0);
    if volts <= 0.0 {
        return None;
    }
    let mut family = e.family.clone();
    let board = family.boards.iter_mut().find(|b| b.name == e.board.name)?;
    let pin = |name: &str, net: &str| {
        Some(Pin {
            name: name.to_owned(),
            net: Some(board.nets.iter().position(|n| n == net)?),
            declared_open: false,
        })
    };
    let pins = vec![pin("plus", rail)?, pin("minus", ground)?];
    board.parts.push(Part {
        name: RAIL_SUPPLY.to_owned(),
        kind: Kind::Supply,
        pins,
        device: Device::Supply(Supply {
            open_circuit: Spread::exactly(Voltage::from_volts(volts)),
            resistance: Spread::exactly(Resistance::from_ohms(0.0)),
            limit: None,
            sinks: true,
            port: None,
            cable: None,
        }),
        heat: Heat::default(),
        origin: Origin {
            model: None,
            source: None,
            confidence: Confidence::DataSheet,
            class: false,
        },
    });
    Some((family, volts))
}
