//! `open-pin`: is every pin connected or said to be open, does every net join something, does no
//! part lie across one net?
//!
//! An unconnected control pin is left to `floating-control`.

use crate::model::{Board, Device, Kind, Part, Pin};
use crate::review::anatomy::control_pins;
use crate::review::rules::Rule;
use crate::review::{Evidence, Finding, RuleId, Severity};

pub(super) struct OpenPin;

impl Rule for OpenPin {
    fn id(&self) -> RuleId {
        "open-pin"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let mut out = Vec::new();
        for part in &e.board.parts {
            for pin in &part.pins {
                if is_control(e.board, part, pin) {
                    continue;
                }
                match pin.net {
                    None if !pin.declared_open => out.push(open(e, self.id(), part, pin)),
                    Some(net) if alone(e, net) => out.push(lonely(e, self.id(), part, pin, net)),
                    _ => {}
                }
            }
            if let Some(net) = across_one_net(part) {
                out.push(shorted(e, self.id(), part, net));
            }
        }
        out
    }
}

fn is_control(board: &Board, part: &Part, pin: &Pin) -> bool {
    control_pins(board)
        .iter()
        .any(|c| c.part.name == part.name && c.pin.name == pin.name)
}

/// Whether a net has one pin only and is neither on the connector nor at a load.
fn alone(e: &Evidence, net: usize) -> bool {
    let name = e.net_name(net);
    let pins = e.board.parts.iter().flat_map(|p| &p.pins);
    let count = pins.filter(|p| p.net == Some(net)).count();
    let loads = e.family.loads_of(e.board);
    let at_load = loads
        .iter()
        .any(|l| l.plus == name || l.minus == name || l.drives.iter().any(|d| d.net == name));
    count == 1 && !at_load && !e.family.connector.pins.contains(&name)
}

/// The net that all pins of a part are on, where that makes the part pointless.
fn across_one_net(part: &Part) -> Option<usize> {
    let meant = matches!(part.kind, Kind::TestPoint | Kind::Load);
    let (first, rest) = part.pins.split_first()?;
    let net = first.net.filter(|_| !meant && !rest.is_empty())?;
    // A transistor with drain and source on one net is as pointless as a resistor across one.
    let power: Vec<&Pin> = match part.device {
        Device::Fet(_) => part.pins.iter().filter(|p| p.name != "gate").collect(),
        Device::Regulator(_) | Device::LoadSwitch(_) | Device::IdealDiode(_) => {
            let main = |p: &&Pin| matches!(p.name.as_str(), "in" | "out");
            part.pins.iter().filter(main).collect()
        }
        _ => part.pins.iter().collect(),
    };
    power.iter().all(|p| p.net == Some(net)).then_some(net)
}

fn open(e: &Evidence, rule: RuleId, part: &Part, pin: &Pin) -> Finding {
    Finding {
        aspect: "unconnected",
        at: Some(pin.name.clone()),
        says: format!("{}.{} is connected to nothing.", part.name, pin.name),
        remedy: format!(
            "connect it, or say that it is meant: open = [\"{}\"]",
            pin.name
        ),
        ..named(e, rule, part, pin)
    }
}

fn lonely(e: &Evidence, rule: RuleId, part: &Part, pin: &Pin, net: usize) -> Finding {
    let net = e.net_name(net);
    Finding {
        aspect: "lonely",
        at: Some(pin.name.clone()),
        says: format!(
            "{}.{} is the only pin on net {net}, which therefore joins nothing.",
            part.name, pin.name
        ),
        remedy: "look for a misspelt net name, or declare the pin open".to_owned(),
        nets: vec![net],
        ..named(e, rule, part, pin)
    }
}

/// A finding whose parts name one pin, so that two pins of one part are two findings.
fn named(e: &Evidence, rule: RuleId, part: &Part, pin: &Pin) -> Finding {
    let mut finding = e.finding(rule, Severity::Fix, &[&part.name]);
    finding.at = Some(pin.name.clone());
    finding
}

fn shorted(e: &Evidence, rule: RuleId, part: &Part, net: usize) -> Finding {
    let net = e.net_name(net);
    Finding {
        aspect: "across-one-net",
        says: format!("{} has both ends on net {net} and does nothing.", part.name),
        remedy: "connect it where it belongs, or take it off the board".to_owned(),
        nets: vec![net],
        ..e.finding(rule, Severity::Fix, &[&part.name])
    }
}
