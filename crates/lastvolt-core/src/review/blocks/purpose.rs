//! What a block is there for, in one or two plain sentences made of the values of the board.

use crate::circuit::{Mode, Situation};
use crate::device::{Reversal, Topology};
use crate::model::{Device, Kind};
use crate::review::blocks::figures::Moments;
use crate::review::blocks::regulated::regulator;
use crate::review::blocks::{Block, BlockKind, lockout};
use crate::review::legend::LIT_FROM_AMPS;
use crate::review::{anatomy, words};

mod path;

/// Positions of a situation that are not the usual ones, as `S1 at off and JP1 at fitted`.
pub(super) fn positions(m: &Moments, situation: &Situation) -> String {
    let usual = m.e.usual().positions;
    let moved = situation.positions.iter();
    let moved = moved.filter(|(k, v)| usual.get(*k) != Some(*v));
    let each: Vec<String> = moved.map(|(k, v)| format!("{k} at {v}")).collect();
    words::join(&each)
}

/// The verb for one part or for several.
pub(super) fn verb(block: &Block, one: &'static str, many: &'static str) -> &'static str {
    if 1 < block.parts.len() { many } else { one }
}

/// What a regulator is doing, in words.
pub(super) fn mode_words(mode: Mode) -> &'static str {
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
        BlockKind::ReverseProtection => path::protection(m, block),
        BlockKind::Limiter => path::limiter(m, block),
        BlockKind::Clamp => path::clamp(m, block),
        BlockKind::Isolation => path::isolation(m, block),
        BlockKind::PowerSwitch => path::switch(m, block),
        BlockKind::Filter => format!("{parts} keeps fast currents apart between {nets}."),
        BlockKind::Converter => converter(m, block),
        BlockKind::EnableControl => control(m, block),
        BlockKind::Lockout => lockout::purpose(m, block).unwrap_or_default(),
        BlockKind::Bypass => format!(
            "{parts} {} the edges of load steps on {nets}.",
            verb(block, "carries", "carry")
        ),
        BlockKind::Bulk => format!(
            "{parts} {} charge on {nets}, so that the source need not give the peaks alone.",
            verb(block, "stores", "store")
        ),
        BlockKind::Indicator => indicator(m, block),
        BlockKind::Measurement if m.first(block, &[Kind::Detector]).is_some() => {
            lockout::purpose(m, block).unwrap_or_default()
        }
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

/// What gives a gate or an enable pin its level: one resistor, or several parts.
fn control(m: &Moments, block: &Block) -> String {
    let what = block.title.trim_start_matches("Control of ");
    let net = block.nets.first();
    let level = m.rest.as_ref().and_then(|r| r.point.net(net?));
    let level = level.map_or_else(String::new, |v| {
        format!(" In the usual position it lies at {}.", words::volts(v))
    });
    let pulls = anatomy::pulls(m.e.board);
    let pull = pulls
        .iter()
        .find(|p| [p.resistor.name.clone()] == *block.parts);
    if let Some(pull) = pull {
        let towards = m.e.net_name(pull.towards);
        return format!(
            "{} pulls {what} to {towards} while nothing else drives it.{level}",
            pull.resistor.name
        );
    }
    format!(
        "{} {} the level of {what}.{level}",
        words::join(&block.parts),
        verb(block, "decides", "decide")
    )
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
    let set = set.map_or_else(String::new, |v| format!(", set to {}", words::volts(v)));
    let mut out = format!(
        "{} is {kind} that makes {} from {}{set}.",
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
