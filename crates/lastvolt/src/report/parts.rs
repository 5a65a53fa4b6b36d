//! The walk through the parts of a board: what each is, what it does, what it carries.

use lastvolt_core::circuit::{CellDrive, Circuit, PartPoint, Point, Situation};
use lastvolt_core::device::{Channel, Loss, Regulator, Setpoint, Topology};
use lastvolt_core::model::{Board, Device, Family, Part, Profile};
use lastvolt_core::quantity::Unit;
use lastvolt_core::review::BoardReview;
use maud::{Markup, html};

use crate::report::Input;
use crate::report::board::{is_source, mode_words};
use crate::text::number::{figure, nominal, percent, plural};

pub(super) fn walk(input: &Input, board: &Board, review: &BoardReview) -> Markup {
    let burst = heaviest(input.family, board, input.family.profiles.first()).map(|found| found.2);
    html! {
        h3 { "Walk through board " (board.name) }
        div.table { table {
            thead { tr {
                th { "part" } th { "what it does" } th { "nets" }
                th.n { "at rest" } th.n { "in the worst burst" } th.n { "drop then" }
            } }
            tbody { @for part in &board.parts {
                @let rest = review.usual.part(&part.name);
                @let worst = burst.as_ref().and_then(|p| p.part(&part.name));
                tr {
                    td { span.ref { (part.name) } }
                    td.w { (purpose(board, part)) (capacitor(input, board, part)) (mode(worst.or(rest))) }
                    td { (nets(board, part)) }
                    td.n { @if let Some(p) = rest { (figure(p.amps, Unit::Ampere)) } }
                    td.n { @if let Some(p) = worst { (figure(p.amps, Unit::Ampere)) } }
                    td.n { @if let Some(p) = worst.filter(|_| !is_source(&part.device)) { (figure(p.volts, Unit::Volt)) } }
                }
            } }
        } }
        p.quiet { "Fresh cells at the usual ambient; the worst burst is the step of a task with the lowest rail." }
    }
}

/// The solved step of a task with the lowest rail, fresh: task, situation and point.
pub(super) fn heaviest(
    family: &Family,
    board: &Board,
    profile: Option<&Profile>,
) -> Option<(String, Situation, Point)> {
    let names = [board.name.clone()];
    let circuit = Circuit::new(family, &names).ok()?;
    let profile = profile?;
    let base = Situation::usual(family, &names, Some(profile));
    let rail = family.connector.rail()?;
    let steps = profile
        .tasks
        .iter()
        .flat_map(|t| t.steps.iter().map(|s| (&t.name, s)));
    let points = steps.filter_map(|(task, step)| {
        let mut situation = base.clone();
        for (load, state) in &step.set {
            if situation.states.contains_key(load) {
                situation.states.insert(load.clone(), state.clone());
            }
        }
        let point = circuit.solve(&situation, &CellDrive::Rested, None).ok()?;
        Some((task.clone(), situation, point))
    });
    let level = |p: &Point| p.net(rail).unwrap_or(0.0);
    points.min_by(|a, b| level(&a.2).total_cmp(&level(&b.2)))
}

fn nets(board: &Board, part: &Part) -> String {
    let each = part.pins.iter().map(|pin| {
        let net = board.net_of(pin).unwrap_or("open");
        format!("{} {net}", pin.name)
    });
    each.collect::<Vec<_>>().join(", ")
}

fn mode(point: Option<&PartPoint>) -> Markup {
    html! {
        @if let Some(point) = point {
            @if let Some(mode) = point.mode { " It is " (mode_words(mode)) "." }
            @if let Some(amps) = point.inductor_amps.filter(|_| point.mode.is_some()) {
                " Its inductor or switch carries " (figure(amps, Unit::Ampere)) "."
            }
        }
    }
}

/// What a part is and does, from its kind and its connections.
pub(super) fn purpose(board: &Board, part: &Part) -> String {
    let net = |pin: &str| {
        part.pin(pin)
            .and_then(|(_, p)| board.net_of(p))
            .unwrap_or("nothing")
    };
    match &part.device {
        Device::Cell(cell) => format!(
            "{} of {} feed the board: {} each.",
            plural(cell.series as f64, "cell"),
            part.origin
                .model
                .as_deref()
                .unwrap_or(&cell.model.chemistry),
            figure(cell.model.charge.si() / 3600.0, Unit::Ampere).replace('A', "Ah"),
        ),
        Device::Supply(s) => format!(
            "Feeds the board from outside with {} behind {}.",
            figure(s.open_circuit.si(), Unit::Volt),
            figure(s.resistance.si(), Unit::Ohm)
        ),
        Device::Resistor(r) => {
            format!(
                "{} between {} and {}.",
                nominal(r.value.si(), Unit::Ohm),
                first(board, part),
                second(board, part)
            )
        }
        Device::Capacitor(c) => format!(
            "{} across {}.",
            nominal(c.value.si(), Unit::Farad),
            first(board, part)
        ),
        Device::Inductor(l) => format!(
            "{} with {} of winding, for the converter's switch.",
            nominal(l.value.si(), Unit::Henry),
            nominal(l.winding.si(), Unit::Ohm)
        ),
        Device::Diode(_) => format!(
            "Lets current pass from {} to {} only.",
            net("anode"),
            net("cathode")
        ),
        Device::Led(_) => format!("Indicator between {} and {}.", net("anode"), net("cathode")),
        Device::Fet(fet) if fet.channel == Channel::P => format!(
            "Series transistor from {} to {}; its gate on {} turns it on while the source lies well above.",
            net("drain"),
            net("source"),
            net("gate")
        ),
        Device::Fet(_) => format!(
            "Transistor from {} to {}, gate on {}.",
            net("drain"),
            net("source"),
            net("gate")
        ),
        Device::Switch(s) => {
            let names: Vec<&str> = s.positions.iter().map(|p| p.name.as_str()).collect();
            let label = s
                .label
                .as_deref()
                .map(|l| format!("Marked {l}. "))
                .unwrap_or_default();
            format!("{label}Positions {}.", names.join(", "))
        }
        Device::Fuse(f) => format!("Fuse of {}.", figure(f.resistance.si(), Unit::Ohm)),
        Device::Regulator(u) => regulator(u),
        Device::Load(name) => format!("Connects load {name}."),
        Device::TestPoint => "Place to measure.".to_owned(),
    }
}

fn first(board: &Board, part: &Part) -> String {
    part.pins
        .first()
        .and_then(|p| board.net_of(p))
        .unwrap_or("nothing")
        .to_owned()
}

fn second(board: &Board, part: &Part) -> String {
    part.pins
        .get(1)
        .and_then(|p| board.net_of(p))
        .unwrap_or("nothing")
        .to_owned()
}

fn regulator(u: &Regulator) -> String {
    let kind = match u.topology {
        Topology::Linear => "Linear regulator",
        Topology::Buck => "Step-down converter",
        Topology::Boost => "Step-up converter",
        Topology::BuckBoost => "Step-up/down converter",
    };
    let to = match u.setpoint {
        Setpoint::Output(v) => format!("to {}", figure(v.si(), Unit::Volt)),
        Setpoint::Reference(v) => format!("by a reference of {}", figure(v.si(), Unit::Volt)),
    };
    let loss = match &u.loss {
        Loss::Share { share, path } if u.topology != Topology::Linear => {
            format!(
                ", losing {} and {} of path",
                percent(share.si()),
                figure(path.si(), Unit::Ohm)
            )
        }
        _ => String::new(),
    };
    format!("{kind} {to}{loss}.")
}

/// What a bypass capacitor carries: the edges of a burst, or all of it.
fn capacitor(input: &Input, board: &Board, part: &Part) -> String {
    let Device::Capacitor(c) = &part.device else {
        return String::new();
    };
    let ohms: f64 = board
        .parts
        .iter()
        .filter_map(|p| match &p.device {
            Device::Cell(cell) => Some(cell.model.resistance.at(0.0) * cell.series as f64),
            _ => None,
        })
        .fold(0.0, f64::max);
    let steps = input
        .family
        .profiles
        .first()
        .into_iter()
        .flat_map(|p| &p.tasks)
        .flat_map(|t| &t.steps);
    let longest = steps.map(|s| s.span_ns).max().unwrap_or(0) as f64 * 1e-9;
    if ohms == 0.0 || longest == 0.0 {
        return String::new();
    }
    let farads = c.value.si() * c.bias.as_ref().map_or(1.0, |b| b.at(3.0));
    let tau = ohms * farads;
    let carries = if tau < longest / 5.0 {
        "it carries edges, and the cell carries the burst"
    } else {
        "it carries part of the burst"
    };
    format!(
        " Behind {} of fresh cell it settles in {}, the longest step takes {}: {carries}.",
        figure(ohms, Unit::Ohm),
        figure(3.0 * tau, Unit::Second),
        figure(longest, Unit::Second)
    )
}

/// Parts as they would be ordered.
pub(super) fn list(board: &Board) -> Markup {
    html! {
        h3 { "Parts of board " (board.name) }
        div.table { table {
            thead { tr { th { "part" } th { "kind" } th { "model" } th { "note" } } }
            tbody { @for part in &board.parts { tr {
                td { span.ref { (part.name) } }
                td { (part.kind.word()) }
                td { (part.origin.model.as_deref().unwrap_or("")) }
                td { @if part.origin.class { "a class of parts; choose one and enter its figures" } }
            } } }
        } }
    }
}
