//! What hangs on a net through wires, closed contacts and parts that conduct, in the direction in which
//! they pass, and what stands in the way.

use std::collections::BTreeMap;

use crate::circuit::Point;
use crate::device::{Blocking, Channel, Fet, LoadSwitch};
use crate::model::{Device, Part};
use crate::review::Evidence;
use crate::review::anatomy::{ends, joined, resistance};

/// Voltage that a transistor or diode may take from a source that feeds through it.
const PATH_VOLTS: f64 = 1.0;

/// What stands between two places.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Way {
    /// Resistance.
    pub(crate) ohms: f64,
    /// Inductance.
    pub(crate) henries: f64,
}

impl Way {
    /// Nothing.
    pub(crate) const NONE: Self = Self {
        ohms: 0.0,
        henries: 0.0,
    };

    fn of(ohms: f64) -> Self {
        Self { ohms, henries: 0.0 }
    }
}

/// A part that lets current pass from one net to another.
type Link = (usize, usize, Way);

impl Evidence<'_> {
    /// Which nets hang on a net through wires, closed contacts, and parts that conduct with little drop
    /// in the usual situation.
    pub(crate) fn fed_from(&self, net: usize) -> Vec<bool> {
        self.fed_through(net, &|_| true)
    }

    /// [`Self::fed_from`] through some of the parts only.
    pub(crate) fn fed_through(&self, net: usize, passes: &dyn Fn(&Part) -> bool) -> Vec<bool> {
        let usual = self.usual();
        let root = joined(self.board, &usual.positions);
        let mut fed: Vec<bool> = root.iter().map(|r| *r == root[net]).collect();
        let Some(point) = self.point(&usual) else {
            return fed;
        };
        let volts = |net: usize| point.net(&self.net_name(net)).unwrap_or(0.0);
        let parts = self.board.parts.iter().filter(|part| passes(part));
        let links: Vec<Link> = parts.flat_map(|part| conducting(part, &volts)).collect();
        loop {
            let next = links.iter().find(|&&(a, b, _)| {
                let drop = (volts(a) - volts(b)).abs();
                fed[a] && !fed[b] && drop < PATH_VOLTS && PATH_VOLTS < volts(a)
            });
            let Some(&(_, next, _)) = next else {
                return fed;
            };
            for (net, mark) in fed.iter_mut().enumerate() {
                *mark |= root[net] == root[next];
            }
        }
    }

    /// [`Self::fed_through`] through resistors of at most some ohms too.
    pub(crate) fn charged_from(
        &self,
        net: usize,
        most_ohms: f64,
        passes: &dyn Fn(&Part) -> bool,
    ) -> Vec<bool> {
        let mut fed = self.fed_through(net, passes);
        let grounds = self.grounds();
        loop {
            let next = self.board.parts.iter().find_map(|part| {
                let ohms = resistance(part).filter(|ohms| *ohms <= most_ohms)?;
                let (a, b) = ends(part)?;
                (0.0 < ohms && fed[a] != fed[b] && !grounds[a] && !grounds[b])
                    .then_some(if fed[a] { b } else { a })
            });
            let Some(next) = next else {
                return fed;
            };
            for (net, mark) in self.fed_through(next, passes).into_iter().enumerate() {
                fed[net] |= mark;
            }
        }
    }

    /// Least of what stands between a net and each of those that hang on it, in the usual situation;
    /// none where nothing leads there.
    pub(crate) fn ways_from(&self, net: usize, fed: &[bool]) -> Vec<Option<Way>> {
        let usual = self.usual();
        let Some(point) = self.point(&usual) else {
            return vec![None; fed.len()];
        };
        let mut links = self.links(&usual.positions, &point);
        links.retain(|&(a, b, _)| fed[a] && fed[b]);
        least_ways(&links, net, fed.len())
    }

    /// Resistance of the sources that push into a net at a point, side by side and with what stands in
    /// the way; infinite where none does.
    pub(crate) fn source_ohms(
        &self,
        positions: &BTreeMap<String, String>,
        point: &Point,
        net: usize,
        own_ohms: &dyn Fn(&Part) -> Option<f64>,
    ) -> f64 {
        let volts = |net: usize| point.net(&self.net_name(net)).unwrap_or(0.0);
        let grounds = self.grounds();
        let mut links = self.links(positions, point);
        for part in &self.board.parts {
            if let (Some(ohms), Some((a, b))) = (resistance(part), ends(part)) {
                links.push((a, b, Way::of(ohms)));
                links.push((b, a, Way::of(ohms)));
            }
        }
        // Nothing is pushed uphill, and ground leads nowhere.
        links.retain(|&(a, b, _)| {
            let drop = volts(a) - volts(b);
            -1e-3 < drop && drop < PATH_VOLTS && !grounds[a] && !grounds[b]
        });
        let mut siemens = 0.0;
        for part in &self.board.parts {
            if let (Some(own), Some(plus)) = (own_ohms(part), part.net("plus")) {
                let ways = least_ways(&links, plus, self.board.nets.len());
                if let Some(way) = ways[net] {
                    siemens += 1.0 / (own + way.ohms).max(1e-3);
                }
            }
        }
        1.0 / siemens
    }

    /// Every part that passes current in some positions, wires and contacts with what they have of
    /// resistance.
    fn links(&self, positions: &BTreeMap<String, String>, point: &Point) -> Vec<Link> {
        let volts = |net: usize| point.net(&self.net_name(net)).unwrap_or(0.0);
        let parts = self.board.parts.iter();
        let each = parts.flat_map(|part| {
            let mut links = conducting(part, &volts);
            for (a, b, way) in wires(part, positions) {
                links.extend([(a, b, way), (b, a, way)]);
            }
            links
        });
        each.collect()
    }
}

/// What a wire, winding, fuse or closed contact joins.
fn wires(part: &Part, positions: &BTreeMap<String, String>) -> Vec<Link> {
    let two = |way: Way| {
        let ends = ends(part).into_iter();
        ends.map(|(a, b)| (a, b, way)).collect()
    };
    match &part.device {
        Device::Fuse(f) => two(Way::of(f.resistance.low())),
        Device::Ptc(p) => two(Way::of(p.resistance.low())),
        Device::Inductor(l) => two(Way {
            ohms: l.winding.low(),
            henries: l.value.low(),
        }),
        Device::Resistor(r) if r.value.si() <= 0.0 => two(Way::NONE),
        Device::Switch(switch) => {
            let closed = positions.get(&part.name).and_then(|p| switch.closed_in(p));
            let net = |at: usize| part.pins.get(at).and_then(|p| p.net);
            let nets = closed.unwrap_or_default().into_iter();
            nets.filter_map(|(a, b)| Some((net(a)?, net(b)?, Way::of(switch.contact.low()))))
                .collect()
        }
        _ => Vec::new(),
    }
}

/// Where a transistor, diode or switch lets current pass at the voltages of a point: a diode from its
/// anode to its cathode only.
fn conducting(part: &Part, volts: &dyn Fn(usize) -> f64) -> Vec<Link> {
    let pair = |from: &str, to: &str| Some((part.net(from)?, part.net(to)?));
    let one = |pair: Option<(usize, usize)>, ohms: f64| -> Vec<Link> {
        let pair = pair.into_iter();
        pair.map(|(a, b)| (a, b, Way::of(ohms))).collect()
    };
    let both = |pair: Option<(usize, usize)>, ohms: f64| {
        let pairs = pair.into_iter().flat_map(|(a, b)| [(a, b), (b, a)]);
        let links: Vec<Link> = pairs.map(|(a, b)| (a, b, Way::of(ohms))).collect();
        links
    };
    match &part.device {
        Device::Diode(_) => one(pair("anode", "cathode"), 0.0),
        Device::IdealDiode(d) => one(pair("in", "out"), d.on_resistance.low()),
        Device::LoadSwitch(s) if is_on(part, s, volts) => match s.reverse_blocking {
            Blocking::Always => one(pair("in", "out"), s.on_resistance.low()),
            Blocking::Never | Blocking::WhenOff => both(pair("in", "out"), s.on_resistance.low()),
        },
        Device::Fet(fet) => {
            let ohms = fet.on_resistance.last().map_or(0.0, |point| point.1.low());
            match (channel_is_on(part, fet, volts), fet.channel) {
                (true, _) => both(pair("drain", "source"), ohms),
                (false, Channel::P) => one(pair("drain", "source"), 0.0),
                (false, Channel::N) => one(pair("source", "drain"), 0.0),
            }
        }
        _ => Vec::new(),
    }
}

/// Whether a load switch is not surely off.
fn is_on(part: &Part, switch: &LoadSwitch, volts: &dyn Fn(usize) -> f64) -> bool {
    let level = |pin: &str| part.net(pin).map_or(0.0, volts);
    switch.enable.as_ref().is_none_or(|enable| {
        let high = level("enable") - level("gnd");
        enable.low.as_volts() < high
    })
}

/// Whether the gate of a transistor is past its threshold against drain or source.
fn channel_is_on(part: &Part, fet: &Fet, volts: &dyn Fn(usize) -> f64) -> bool {
    let level = |pin: &str| part.net(pin).map_or(0.0, volts);
    let (gate, drain, source) = (level("gate"), level("drain"), level("source"));
    let drive = match fet.channel {
        Channel::N => gate - drain.min(source),
        Channel::P => drain.max(source) - gate,
    };
    fet.threshold.si() < drive
}

/// The ways of least resistance from a net.
fn least_ways(links: &[Link], net: usize, count: usize) -> Vec<Option<Way>> {
    let mut ways: Vec<Option<Way>> = vec![None; count];
    ways[net] = Some(Way::NONE);
    for _ in 0..count {
        let mut is_new = false;
        for &(a, b, way) in links {
            let Some(before) = ways[a] else {
                continue;
            };
            let then = Way {
                ohms: before.ohms + way.ohms,
                henries: before.henries + way.henries,
            };
            if ways[b].is_none_or(|known| then.ohms < known.ohms) {
                ways[b] = Some(then);
                is_new = true;
            }
        }
        if !is_new {
            break;
        }
    }
    ways
}
