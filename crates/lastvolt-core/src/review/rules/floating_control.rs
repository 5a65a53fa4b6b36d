//! `floating-control`: does every gate, enable and feedback pin have a level in every switch position?
//!
//! A pin counts as floating when it sits on an island or when more than 100 Mohm lies between it and
//! whatever gives it a level, and leakage alone decides which level that is. The solver tells; a pin
//! of a part that has no supply in that position is left out, since it decides nothing there.
//!
//! # References
//! TI SCBA004E, "Implications of Slow or Floating CMOS Inputs": no CMOS input may float.

use crate::circuit::{Point, Situation};
use crate::device::Setpoint;
use crate::model::Device;
use crate::numerics::eseries::Series;
use crate::quantity::Unit;
use crate::review::anatomy::{ControlPin, Role, control_pins, enable_of};
use crate::review::evidence::leakage_factor;
use crate::review::rules::Rule;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

/// Resistance from which a pull is none: the insulation of an ordinary board (common practice).
const NO_PULL_OHMS: f64 = 1e8;
/// Voltage below which a part has no supply.
const DEAD_VOLTS: f64 = 0.3;

pub(super) struct FloatingControl;

impl Rule for FloatingControl {
    fn id(&self) -> RuleId {
        "floating-control"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let controls = control_pins(e.board);
        let found = controls.iter().filter_map(|control| {
            let floats: Vec<&Situation> = e
                .forward()
                .filter(|(case, point)| {
                    let name = format!("{}.{}", control.part.name, control.pin.name);
                    case.floating.contains(&name) && alive(e, control, point)
                })
                .map(|(case, _)| &case.situation)
                .collect();
            let worst = floats.first()?;
            Some(finding(e, self.id(), control, worst, floats.len()))
        });
        found.chain(missing(e, self.id())).collect()
    }
}

/// Regulators and load switches whose data sheet has an enable or feedback input that the board leaves out.
fn missing(e: &Evidence, rule: RuleId) -> Vec<Finding> {
    let mut out = Vec::new();
    for part in &e.board.parts {
        let feedback = match &part.device {
            Device::Regulator(u) => matches!(u.setpoint, Setpoint::Reference(_)),
            _ => false,
        };
        let enable = (enable_of(part).is_some(), "enable");
        let feedback = (feedback, "fb");
        for (needed, pin) in [enable, feedback] {
            if !needed || part.pin(pin).is_some() {
                continue;
            }
            let name = &part.name;
            out.push(Finding {
                at: Some(pin.to_owned()),
                situation: Some(e.usual()),
                says: format!(
                    "{name} has a pin {pin} and the board connects it to nothing: leakage decides what {name} does."
                ),
                remedy: format!("connect {name}.{pin}"),
                basis: "TI SCBA004E".to_owned(),
                ..e.finding(rule, Severity::Stop, &[name])
            });
        }
    }
    out
}

/// Whether the part that the pin controls has a supply at this point.
pub(super) fn alive(e: &Evidence, control: &ControlPin, point: &Point) -> bool {
    let volts = |pin: &str| {
        let net = control.part.net(pin).map(|n| e.net_name(n));
        net.and_then(|n| point.net(&n)).unwrap_or(0.0)
    };
    match control.role {
        Role::Gate => DEAD_VOLTS < volts("drain").abs().max(volts("source").abs()),
        // Many converters feed themselves from whichever of input and output is higher.
        Role::Enable => DEAD_VOLTS < volts("in").abs().max(volts("out").abs()),
        Role::Feedback => DEAD_VOLTS < volts("in").abs(),
    }
}

fn finding(
    e: &Evidence,
    rule: RuleId,
    control: &ControlPin,
    worst: &Situation,
    count: usize,
) -> Finding {
    let pin = format!("{}.{}", control.part.name, control.pin.name);
    let net = control.pin.net.map(|n| e.net_name(n));
    let at = net.as_ref().map_or_else(
        || format!("{pin} is connected to nothing"),
        |net| format!("{pin} on net {net} has no defined level"),
    );
    let situation = positions(worst);
    let seen = match (count, situation.is_empty()) {
        (_, true) => String::new(),
        (1, false) => format!(" with {situation}"),
        (n, false) => format!(" in {n} positions, for one with {situation}"),
    };
    Finding {
        at: Some(control.pin.name.clone()),
        nets: net.into_iter().collect(),
        situation: Some(worst.clone()),
        situations: count,
        limit: Some(Figure::new(NO_PULL_OHMS, Unit::Ohm)),
        says: format!(
            "{at}{seen}: leakage decides whether {} is on.",
            control.part.name
        ),
        remedy: remedy(e, control),
        basis: "TI SCBA004E".to_owned(),
        ..e.finding(rule, Severity::Stop, &[&control.part.name])
    }
}

/// Positions of switches as `S1 = off, S2 = on`.
pub(super) fn positions(situation: &Situation) -> String {
    let each = situation.positions.iter();
    let each: Vec<String> = each.map(|(s, p)| format!("{s} = {p}")).collect();
    each.join(", ")
}

fn remedy(e: &Evidence, control: &ControlPin) -> String {
    let high = e.family.requirement.ambient.high;
    match (&control.part.device, control.role) {
        (Device::Regulator(_) | Device::LoadSwitch(_), Role::Enable) => {
            let Some(enable) = enable_of(control.part) else {
                return String::new();
            };
            let leak = enable.leakage.high() * leakage_factor(high);
            if leak <= 0.0 {
                return "tie the pin to its supply where the part is always on, or pull it to ground on the part's side of its switch".to_owned();
            }
            // Half of the threshold is left as margin against noise.
            let most = Series::E12.at_most((0.5 * enable.low.as_volts() / leak).min(1e6));
            format!(
                "tie the pin to its supply where the part is always on, or pull it to ground with {} or less on the part's side of its switch",
                words::ohms(most)
            )
        }
        (_, Role::Feedback) => "connect the feedback divider in every position".to_owned(),
        _ => "pull the gate to the source (off) or to its drive (on) with 100 kohm to 1 Mohm"
            .to_owned(),
    }
}
