//! What a block is there for, in one or two plain sentences made of the values of the board.

use crate::circuit::{Mode, Situation};
use crate::device::{Reversal, Topology};
use crate::model::{Device, Kind};
use crate::review::blocks::figures::Moments;
use crate::review::blocks::regulated::regulator;
use crate::review::blocks::{Block, BlockKind};
use crate::review::legend::LIT_FROM_AMPS;
use crate::review::words;

/// Positions of a situation that are not the usual ones, as `S1 at off and JP1 at fitted`.
pub(super) fn positions(m: &Moments, situation: &Situation) -> String {
    let usual = m.e.usual().positions;
    let moved = situation.positions.iter();
    let moved = moved.filter(|(k, v)| usual.get(*k) != Some(*v));
    let each: Vec<String> = moved.map(|(k, v)| format!("{k} at {v}")).collect();
    words::join(&each)
}

/// The verb for one part or for several.
fn verb(block: &Block, one: &'static str, many: &'static str) -> &'static str {
    if 1 < block.parts.len() { many } else { one }
}

/// What a regulator is doing, in words.
fn mode_words(mode: Mode) -> &'static str {
    match mode {
        Mode::Off => "is off",
        Mode::Start => "is unable to start",
        Mode::Run => "regulates",
        Mode::Limit => "is at its current limit",
        Mode::Dropout => "is in dropout",
        Mode::Pass => "passes its input on",
        Mode::Collapsed => "is collapsed",
        Mode::Hiccup => "starts and falls off again",
        Mode::On => "is on",
        Mode::BodyDiode => "conducts through its body diode only",
        Mode::Released => "lets its output go",
        Mode::Detects => "holds its output low",
    }
}

/// The sentences of a block.
pub(super) fn purpose(m: &Moments, block: &Block) -> String {
    let nets = words::join(&block.nets);
    let parts = words::join(&block.parts);
    match block.kind {
        BlockKind::Source => source(m, block),
        BlockKind::ReverseProtection => protection(m, block),
        BlockKind::Limiter => format!("{parts} limits what flows between {nets}."),
        BlockKind::Clamp => format!("{parts} limits the voltage of {nets}."),
        BlockKind::Isolation => isolation(m, block),
        BlockKind::PowerSwitch => switch(m, block),
        BlockKind::Filter => format!("{parts} keeps fast currents apart between {nets}."),
        BlockKind::Converter => converter(m, block),
        BlockKind::EnableControl => {
            let what = block.title.trim_start_matches("Control of ");
            let level = m
                .rest
                .as_ref()
                .and_then(|r| r.point.net(block.nets.first()?));
            let level = level.map_or_else(String::new, |v| {
                format!(" In the usual position it lies at {}.", words::volts(v))
            });
            format!(
                "{parts} {} the level of {what}.{level}",
                verb(block, "decides", "decide")
            )
        }
        BlockKind::Bypass => format!(
            "{parts} {} the edges of load steps on {nets}.",
            verb(block, "carries", "carry")
        ),
        BlockKind::Bulk => format!(
            "{parts} {} charge on {nets}, so that the source need not give the peaks alone.",
            verb(block, "stores", "store")
        ),
        BlockKind::Indicator => indicator(m, block),
        BlockKind::Measurement => match block.nets.as_slice() {
            [middle, top] => {
                format!(
                    "{parts} {} a part of the voltage of {top} available on {middle}.",
                    verb(block, "makes", "make")
                )
            }
            _ => format!("{parts} is a place to measure {nets}."),
        },
        BlockKind::OwnLoad => format!(
            "{parts} {} current from {nets} whenever it is up.",
            verb(block, "takes", "take")
        ),
        BlockKind::Interface => interface(m, block),
    }
}

fn source(m: &Moments, block: &Block) -> String {
    let Some(part) = block.parts.first().and_then(|n| m.part(n)) else {
        return String::new();
    };
    let net = words::join(&block.nets);
    match &part.device {
        Device::Cell(cell) => {
            let model = part.origin.model.as_deref().unwrap_or("cell");
            let many = match cell.series {
                1 => format!("one {model}"),
                n => format!("{n} {model} in series"),
            };
            let holder = match cell.holder.reversed {
                Reversal::Possible => "The holder takes a cell either way round",
                Reversal::Blocked => "The holder keeps a reversed cell out",
                Reversal::NoContact => "A reversed cell touches nothing in the holder",
                Reversal::Short => "The holder shorts a reversed cell",
            };
            let charge = cell.model.charge.si() / 3.6;
            format!(
                "{} is {many} with {charge:.0} mAh and feeds {net}. {holder}.",
                part.name
            )
        }
        Device::Supply(s) => format!(
            "{} feeds {net} from outside: {} behind {}.",
            part.name,
            words::volts(s.open_circuit.si()),
            words::ohms(s.resistance.si())
        ),
        _ => String::new(),
    }
}

fn protection(m: &Moments, block: &Block) -> String {
    let Some(first) = block.parts.first().and_then(|n| m.part(n)) else {
        return "No part is needed: the holder lets no current flow into a cell that is the wrong way round."
            .to_owned();
    };
    let name = &first.name;
    match first.kind {
        Kind::PFet => {
            let outward = m.e.board.parts.iter().any(|p| {
                p.kind == Kind::Cell
                    && p.net("plus").is_some()
                    && p.net("plus") == first.net("source")
            });
            let diode = if outward {
                "Its body diode points at the cell and conducts when the cell is backwards"
            } else {
                "Its body diode starts the board, then the channel takes over; with the cell backwards both block"
            };
            format!("{name} lies in series with the cell, its gate held at ground. {diode}.")
        }
        Kind::NFet => format!(
            "{name} lies in the return of the cell, its gate held at the cell's plus; with the cell backwards it blocks."
        ),
        Kind::Diode if block.nets.len() == 1 => match block.parts.get(1) {
            Some(fuse) => format!("With the cell backwards {name} conducts and {fuse} opens."),
            None => format!(
                "With the cell backwards {name} conducts and limits what reaches {}; nothing opens the circuit.",
                words::join(&block.nets)
            ),
        },
        _ => format!("{name} lets current out of the cell and none back."),
    }
}

fn isolation(m: &Moments, block: &Block) -> String {
    let parts = words::join(&block.parts);
    let diodes = m.parts(block).all(|p| p.kind == Kind::Diode);
    match block.nets.as_slice() {
        [from @ .., to] if diodes => format!(
            "{parts} lets current pass from {} to {to} and none back, so that no other source feeds what is behind.",
            words::join(from)
        ),
        nets => format!(
            "{parts} blocks current between {} both ways while switched off.",
            words::join(nets)
        ),
    }
}

fn switch(m: &Moments, block: &Block) -> String {
    let Some(part) = block.parts.first().and_then(|n| m.part(n)) else {
        return String::new();
    };
    let net = |at: usize| {
        let pin = part.pins.get(at);
        pin.and_then(|p| m.e.board.net_of(p)).unwrap_or("nothing")
    };
    let mut out = match &part.device {
        Device::Switch(s) => {
            let each = s.positions.iter().map(|p| {
                let joined = p
                    .closed
                    .iter()
                    .map(|&(a, b)| format!("{} with {}", net(a), net(b)));
                let joined: Vec<String> = joined.collect();
                match joined.as_slice() {
                    [] => format!("{} joins nothing", p.name),
                    _ => format!("{} joins {}", p.name, words::join(&joined)),
                }
            });
            format!("{}: {}.", part.name, each.collect::<Vec<_>>().join("; "))
        }
        _ => format!(
            "{} joins {} while its gate says so.",
            part.name,
            words::join(&block.nets)
        ),
    };
    if let Some(rest) = block.parts.get(1..).filter(|r| !r.is_empty()) {
        let rest = words::join(rest);
        out.push_str(&format!(" {rest} empties what is cut off."));
    }
    out
}

fn converter(m: &Moments, block: &Block) -> String {
    let kinds = [Kind::Ldo, Kind::Buck, Kind::Boost, Kind::BuckBoost];
    let Some(part) = m.first(block, &kinds) else {
        return String::new();
    };
    let Some(u) = regulator(part) else {
        return String::new();
    };
    let kind = match u.topology {
        Topology::Linear => "a linear regulator",
        Topology::Buck => "a step-down converter",
        Topology::Boost => "a step-up converter",
        Topology::BuckBoost => "a step-up/down converter",
    };
    let net = |pin: &str| part.net(pin).map_or_else(String::new, |n| m.e.net_name(n));
    let set = m.set_volts(part);
    let set = set.map_or_else(String::new, |v| format!(" at {}", words::volts(v)));
    let mut out = format!(
        "{} is {kind} that makes {}{set} from {}.",
        part.name,
        net("out"),
        net("in")
    );
    let rest = m.rest.as_ref().and_then(|r| r.point.part(&part.name));
    if let Some(mode) = rest.and_then(|p| p.mode) {
        let mode = mode_words(mode);
        out.push_str(&format!(" In the usual position it {mode} at rest."));
    }
    out
}

fn indicator(m: &Moments, block: &Block) -> String {
    let lamps: Vec<String> = m
        .parts(block)
        .filter(|p| p.kind == Kind::Led)
        .map(|p| p.name.clone())
        .collect();
    let lamp = words::join(&lamps);
    let first = lamps.first().map(|l| (l, m.brightest(l)));
    let Some((name, Some((situation, amps)))) = first else {
        return format!("{lamp} is a lamp.");
    };
    let resistors = m.parts(block).filter(|p| p.kind == Kind::Resistor);
    let resistor = resistors.into_iter().find(|r| {
        m.part(name).is_some_and(|led| {
            let nets: Vec<_> = led.pins.iter().filter_map(|p| p.net).collect();
            r.pins
                .iter()
                .filter_map(|p| p.net)
                .any(|n| nets.contains(&n))
        })
    });
    let by = resistor.map_or_else(String::new, |r| format!(", set by {}", r.name));
    let usual = m
        .rest
        .as_ref()
        .and_then(|r| r.point.part(name))
        .map_or(0.0, |p| p.amps);
    if amps < LIT_FROM_AMPS {
        return format!("{lamp} stays dark in every situation that was solved.");
    }
    let when = if LIT_FROM_AMPS <= usual {
        "It is lit at rest in the usual positions".to_owned()
    } else if situation.positions == m.e.usual().positions {
        "It is dark at rest and lit while firmware asks for it".to_owned()
    } else {
        format!(
            "It is dark in the usual positions and lit with {}",
            positions(m, &situation)
        )
    };
    format!("{lamp} is a lamp with {}{by}. {when}.", words::amps(amps))
}

fn interface(m: &Moments, block: &Block) -> String {
    if block.nets.is_empty() {
        return "Nothing of this board reaches the connector.".to_owned();
    }
    let promises = m.e.family.connector.promises.iter().filter_map(|p| {
        let (low, high) = p.band?;
        let current = p.current.map_or_else(String::new, |a| {
            format!(" and {}", words::amps(a.as_amps()))
        });
        Some(format!(
            "{} to {}{current} on {}",
            words::volts(low.as_volts()),
            words::volts(high.as_volts()),
            p.pin
        ))
    });
    let promises: Vec<String> = promises.collect();
    let promised = if promises.is_empty() {
        "The family promises no band on it.".to_owned()
    } else {
        format!("The family promises {}.", words::join(&promises))
    };
    let mut pins = block.nets.clone();
    pins.push("ground".to_owned());
    format!(
        "The board meets what it feeds on {}. {promised}",
        words::join(&pins)
    )
}
