//! Sentences for what lies in the way of the supply: protection, limits, isolation, switches.

use crate::device::{Blocking, LoadSwitch, Switch};
use crate::model::{Device, Kind, Part};
use crate::review::blocks::Block;
use crate::review::blocks::figures::Moments;
use crate::review::blocks::path::pair;
use crate::review::blocks::purpose::{mode_words, verb};
use crate::review::words;

/// What keeps a reversed cell from doing harm.
pub(super) fn protection(m: &Moments, block: &Block) -> String {
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
            // The gate follows whatever holds the rail, not the cell.
            let unless = match block.nets.last() {
                Some(rail) if !outward => format!(", unless another source holds {rail} up"),
                _ => String::new(),
            };
            format!(
                "{name} lies in series with the cell, its gate held at ground. {diode}{unless}."
            )
        }
        Kind::NFet => format!(
            "{name} lies in the return of the cell, its gate held at the cell's plus; with the cell backwards it blocks, unless another source holds that net up."
        ),
        Kind::Diode if block.nets.len() == 1 => match block.parts.get(1).and_then(|n| m.part(n)) {
            Some(fuse) if fuse.kind == Kind::Ptc => format!(
                "With the cell backwards {name} conducts, and {} warms up and lets little pass.",
                fuse.name
            ),
            Some(fuse) => format!(
                "With the cell backwards {name} conducts and {} opens.",
                fuse.name
            ),
            None => format!(
                "With the cell backwards {name} conducts and limits what reaches {}; nothing opens the circuit.",
                words::join(&block.nets)
            ),
        },
        _ => {
            let to = block.nets.last().cloned().unwrap_or_default();
            let drop = match first.kind {
                Kind::IdealDiode => ", with the small drop of a transistor",
                _ => "",
            };
            format!(
                "{name} lets current out of the cell and none back{drop}: a reversed cell drives nothing, and what else feeds {to} does not charge it."
            )
        }
    }
}

/// A fuse, one that resets itself, or a resistor.
pub(super) fn limiter(m: &Moments, block: &Block) -> String {
    let nets = words::join(&block.nets);
    let name = words::join(&block.parts);
    let Some(part) = block.parts.first().and_then(|n| m.part(n)) else {
        return String::new();
    };
    match &part.device {
        Device::Fuse(fuse) => {
            let rated = fuse.rated.map_or_else(
                || "too much flows".to_owned(),
                |a| format!("far more than {} flows", words::amps(a.as_amps())),
            );
            format!("{name} opens for good when {rated} between {nets}.")
        }
        Device::Ptc(ptc) => {
            let holds = ptc.hold.map_or_else(String::new, |a| {
                format!(" It carries {} without end.", words::amps(a.as_amps()))
            });
            let trips = ptc.trip.map_or_else(
                || "too much flows".to_owned(),
                |a| format!("more than {} flows", words::amps(a.as_amps())),
            );
            format!(
                "{name} warms up when {trips} between {nets} and then lets little pass, until it is without voltage and cool.{holds}"
            )
        }
        Device::Resistor(r) => format!(
            "{name}, {}, lies in series between {nets} and limits what flows.",
            words::ohms(r.value.si())
        ),
        _ => format!("{name} limits what flows between {nets}."),
    }
}

/// A diode that breaks through.
pub(super) fn clamp(m: &Moments, block: &Block) -> String {
    let (name, net) = (words::join(&block.parts), words::join(&block.nets));
    let zener = block.parts.first().and_then(|n| m.part(n));
    let Some((part, Device::Zener(zener))) = zener.map(|p| (p, &p.device)) else {
        return format!("{name} limits the voltage of {net}.");
    };
    let volts = words::volts(zener.breakdown.si());
    let ground = m.e.family.connector.ground_net();
    if part.net("anode").map(|n| m.e.net_name(n)).as_deref() == Some(ground) {
        format!(
            "{name} conducts when {net} rises to about {volts}, and when {net} is driven below {ground}."
        )
    } else {
        format!(
            "{name} conducts when {net} falls about {volts} below {ground}, and when {net} is above {ground}."
        )
    }
}

/// What keeps sources apart.
pub(super) fn isolation(m: &Moments, block: &Block) -> String {
    let parts = words::join(&block.parts);
    let one_way = |p: &Part| matches!(p.kind, Kind::Diode | Kind::IdealDiode);
    let diodes = m.parts(block).all(one_way);
    let first = block.parts.first().and_then(|n| m.part(n));
    let fets = m
        .parts(block)
        .filter(|p| matches!(p.device, Device::Fet(_)));
    match (block.nets.as_slice(), first) {
        ([from, to], _) if diodes => format!(
            "{parts} {} current pass from {from} to {to} and none back, so that what else feeds {to} feeds nothing into {from}.",
            verb(block, "lets", "let")
        ),
        ([from @ .., to], _) if diodes => format!(
            "{parts} let current pass from {} to {to} and none back: the {} of them feeds {to}, and none feeds another.",
            words::join(from),
            if from.len() == 2 { "higher" } else { "highest" }
        ),
        ([a, b], Some(fet)) if fets.count() == 1 => {
            let net = |pin: &str| fet.net(pin).map_or_else(String::new, |n| m.e.net_name(n));
            format!(
                "{} joins {a} and {b} while its gate on {} lies well below {}; otherwise only its body diode conducts, from {} to {}.",
                fet.name,
                net("gate"),
                net("source"),
                net("drain"),
                net("source")
            )
        }
        (nets, _) => format!(
            "{parts} block current between {} both ways while switched off.",
            words::join(nets)
        ),
    }
}

/// What joins the source to the rail, or the rail to what is fed now and then.
pub(super) fn switch(m: &Moments, block: &Block) -> String {
    let Some(part) = block.parts.first().and_then(|n| m.part(n)) else {
        return String::new();
    };
    let mut out = match &part.device {
        Device::Switch(s) => positions(m, part, s),
        Device::LoadSwitch(s) => load_switch(m, part, s),
        _ => fet(m, part),
    };
    if let Some(rest) = block.parts.get(1..).filter(|r| !r.is_empty()) {
        let verb = if rest.len() == 1 { "empties" } else { "empty" };
        let rest = words::join(rest);
        out.push_str(&format!(" {rest} {verb} what is cut off."));
    }
    out
}

/// What each position joins.
fn positions(m: &Moments, part: &Part, s: &Switch) -> String {
    let net = |at: usize| m.e.board.net_of(part.pins.get(at)?);
    let each = s.positions.iter().map(|p| {
        // A throw that leads nowhere joins nothing.
        let joined = p.closed.iter();
        let joined = joined.filter_map(|&(a, b)| Some(format!("{} with {}", net(a)?, net(b)?)));
        let joined: Vec<String> = joined.collect();
        match joined.as_slice() {
            [] => format!("{} joins nothing", p.name),
            _ => format!("{} joins {}", p.name, words::join(&joined)),
        }
    });
    format!("{}: {}.", part.name, each.collect::<Vec<_>>().join("; "))
}

fn fet(m: &Moments, part: &Part) -> String {
    let net = |pin: &str| part.net(pin).map_or_else(String::new, |n| m.e.net_name(n));
    let side = if part.kind == Kind::PFet {
        "below"
    } else {
        "above"
    };
    let ends: Vec<String> = pair(part).into_iter().map(|n| m.e.net_name(n)).collect();
    format!(
        "{} joins {} while its gate on {} lies well {side} {}.",
        part.name,
        words::join(&ends),
        net("gate"),
        net("source")
    )
}

fn load_switch(m: &Moments, part: &Part, s: &LoadSwitch) -> String {
    let net = |pin: &str| part.net(pin).map_or_else(String::new, |n| m.e.net_name(n));
    let (input, output) = (net("in"), net("out"));
    let when = match (&s.enable, part.net("enable")) {
        (Some(_), Some(enable)) if Some(enable) != part.net("in") => {
            format!("while {} is high", m.e.net_name(enable))
        }
        _ => format!("whenever {input} is up"),
    };
    let limit = s.limit.as_ref().map_or_else(String::new, |l| {
        format!(" and lets no more than {} pass", words::amps(l.si()))
    });
    let back = match s.reverse_blocking {
        Blocking::Never => {
            format!("A body diode leads from {output} back to {input} even while it is off")
        }
        Blocking::WhenOff => "Off, it blocks both ways".to_owned(),
        Blocking::Always => format!("Nothing flows from {output} back to {input}"),
    };
    let mode = m.rest.as_ref().and_then(|r| r.point.part(&part.name)?.mode);
    let mode = mode.map_or_else(String::new, |mode| {
        format!(" In the usual position it {} at rest.", mode_words(mode))
    });
    format!(
        "{} joins {input} to {output} {when}{limit}. {back}.{mode}",
        part.name
    )
}
