//! The title of a part in a schematic: its designator, what it is, and what its pins connect to, in full.

use lastvolt_core::device::{Position, Switch};
use lastvolt_core::model::{Board, Device, Kind, Part};

use crate::draw::schematic::symbol::values;
use crate::report::typeset;
use crate::text::number::listed;

/// Designator, kind, value and connections of a part.
pub(crate) fn title(board: &Board, part: &Part) -> String {
    let values = values(part).into_iter().filter(|v| !v.is_empty());
    let values: Vec<String> = values.map(|v| typeset(&v)).collect();
    let head = [part.name.clone(), noun(part.kind).to_owned()];
    let head: Vec<String> = head.into_iter().chain(values).collect();
    let pins = part.pins.iter().map(|pin| match board.net_of(pin) {
        Some(net) => format!("{} on {net}", pin.name),
        None => format!("{} open", pin.name),
    });
    let pins: Vec<String> = pins.collect();
    let head = head.join(", ").replace(", ±", " ±");
    let mut text = format!("{head}: {}.", pins.join(", "));
    if let Device::Switch(switch) = &part.device {
        text += &positions(part, switch);
    }
    text
}

/// Designator, kind, value and nets of a part, shorter, as the name of a link.
pub(crate) fn spoken(board: &Board, part: &Part) -> String {
    let values = values(part).into_iter().filter(|v| !v.is_empty());
    let values = values.map(|v| typeset(&v));
    let head = [part.name.clone(), noun(part.kind).to_owned()];
    let head: Vec<String> = head.into_iter().chain(values).collect();
    let net = |at: usize| {
        let net = part.pins.get(at).and_then(|pin| board.net_of(pin));
        net.unwrap_or("nothing")
    };
    let nets = match part.pins.as_slice() {
        [_, _] => format!("from {} to {}", net(0), net(1)),
        pins => {
            let pins = pins.iter().enumerate();
            let pins: Vec<String> = pins
                .map(|(at, pin)| format!("{} on {}", pin.name, net(at)))
                .collect();
            listed(&pins)
        }
    };
    format!("{}, {nets}", head.join(", ").replace(", ±", " ±"))
}

/// What each position joins, and in which one the part is drawn.
fn positions(part: &Part, switch: &Switch) -> String {
    let pin = |at: usize| part.pins.get(at).map_or("", |p| p.name.as_str());
    let position = |p: &Position| {
        let pairs = p.closed.iter();
        let pairs: Vec<String> = pairs
            .map(|&(a, b)| format!("{} with {}", pin(a), pin(b)))
            .collect();
        match pairs.as_slice() {
            [] => format!("{} joins nothing", p.name),
            pairs => format!("{} joins {}", p.name, listed(pairs)),
        }
    };
    let all: Vec<String> = switch.positions.iter().map(position).collect();
    let usual = switch.positions.get(switch.usual);
    let usual = usual.map_or_else(String::new, |u| format!(" Drawn in {}.", u.name));
    format!(" {}.{usual}", all.join("; "))
}

fn noun(kind: Kind) -> &'static str {
    match kind {
        Kind::Cell => "cell",
        Kind::Supply => "supply from outside",
        Kind::Resistor => "resistor",
        Kind::Capacitor => "capacitor",
        Kind::Inductor => "inductor",
        Kind::Diode => "diode",
        Kind::Zener => "Zener diode",
        Kind::Led => "LED",
        Kind::PFet => "p-channel transistor",
        Kind::NFet => "n-channel transistor",
        Kind::Switch => "switch",
        Kind::Jumper => "jumper",
        Kind::Fuse => "fuse",
        Kind::Ptc => "resettable fuse",
        Kind::Ldo => "linear regulator",
        Kind::Buck => "step-down converter",
        Kind::Boost => "step-up converter",
        Kind::BuckBoost => "step-up/down converter",
        Kind::Detector => "voltage detector",
        Kind::LoadSwitch => "load switch",
        Kind::IdealDiode => "ideal diode",
        Kind::Load => "load",
        Kind::TestPoint => "test point",
    }
}
