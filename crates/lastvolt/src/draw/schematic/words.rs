//! What a schematic says, in words: what flows from where to where through what, for those who do not see
//! it; and the title of each part. Computed from the netlist; no name means anything.

mod groups;
mod titles;
mod ways;

#[cfg(test)]
mod tests;

#[cfg(test)]
pub(crate) use tests::example;

pub(crate) use titles::{spoken, title};

use std::collections::BTreeSet;

use lastvolt_core::model::{Board, Device, Family, Kind, Part};
use lastvolt_core::review::anatomy::dividers;

use crate::text::number::{count, listed};
use ways::Way;

/// Most characters of the words of one schematic.
const MOST: usize = 600;

/// What a board's schematic shows, in at most 600 characters.
pub(crate) fn words(family: &Family, board: &Board) -> String {
    let net = Nets::new(family, board);
    let mut told = Told::default();
    let sources = board.parts.iter().filter(|p| is_source(p));
    let ways: Vec<Way> = sources.map(|p| ways::way(&net, p)).collect();
    for way in &ways {
        told.way(&net, way);
    }
    let main = net.main(&ways);
    groups::across(&net, &main, &mut told);
    groups::rest(&net, &main, &mut told);
    told.positions(board);
    told.finish()
}

/// How the sources of a board feed its rails; empty where there are none.
pub(crate) fn supply(family: &Family, board: &Board) -> String {
    let net = Nets::new(family, board);
    let mut told = Told::default();
    for part in board.parts.iter().filter(|p| is_source(p)) {
        told.way(&net, &ways::way(&net, part));
    }
    told.sentences.join(" ")
}

fn is_source(part: &Part) -> bool {
    matches!(part.kind, Kind::Cell | Kind::Supply)
}

/// The nets of a board and what is asked of them.
struct Nets<'a> {
    board: &'a Board,
    ground: Option<usize>,
    /// Nets of the connector other than ground.
    rails: Vec<usize>,
}

impl<'a> Nets<'a> {
    fn new(family: &Family, board: &'a Board) -> Self {
        let place = |name: &str| board.nets.iter().position(|n| n == name);
        let connector = &family.connector;
        let pins = connector.pins.iter().enumerate();
        let rails = pins.filter(|(at, _)| *at != connector.ground);
        Self {
            board,
            ground: place(connector.ground_net()),
            rails: rails.filter_map(|(_, name)| place(name)).collect(),
        }
    }

    fn name(&self, net: usize) -> &'a str {
        self.board.nets.get(net).map_or("", String::as_str)
    }

    fn part(&self, at: usize) -> &'a str {
        self.board.parts.get(at).map_or("", |p| p.name.as_str())
    }

    /// Nets that are known by name after the ways are told.
    fn main(&self, ways: &[Way]) -> BTreeSet<usize> {
        let of_ways = ways.iter().flat_map(|w| w.nets.iter().copied());
        let known = self.rails.iter().copied().chain(self.ground);
        known.chain(of_ways).collect()
    }
}

/// Sentences so far, and which parts they are about.
#[derive(Default)]
struct Told {
    sentences: Vec<String>,
    parts: BTreeSet<usize>,
    left_out: usize,
}

impl Told {
    /// Adds a sentence while there is room, with some left for the last one.
    fn say(&mut self, sentence: String, parts: impl IntoIterator<Item = usize>) {
        let parts: BTreeSet<usize> = parts.into_iter().collect();
        let so_far: usize = self.sentences.iter().map(|s| s.chars().count() + 1).sum();
        if so_far + sentence.chars().count() + 40 <= MOST {
            self.sentences.push(sentence);
        } else {
            self.left_out += parts.difference(&self.parts).count();
        }
        self.parts.extend(parts);
    }

    fn way(&mut self, net: &Nets, way: &Way) {
        let source = net.part(way.source);
        let mut parts = vec![way.source];
        let mut steps = Vec::new();
        for at in &way.parts {
            parts.push(*at);
            let beside = self.beside(net, *at);
            let names: Vec<&str> = beside.iter().map(|b| net.part(*b)).collect();
            steps.push(match names.as_slice() {
                [] => net.part(*at).to_owned(),
                names => format!("{} (with {})", net.part(*at), listed(names)),
            });
            parts.extend(beside);
        }
        let through = match steps.as_slice() {
            [] => " directly".to_owned(),
            steps => format!(" through {}", listed(steps)),
        };
        let mut sentence = match way.end {
            Some(end) => format!("{source} feeds {}{through}", net.name(end)),
            None => match way.nets.first() {
                Some(plus) => format!("{source} feeds {}, which leads to no rail", net.name(*plus)),
                None => format!("{source} is not connected"),
            },
        };
        if !way.back.is_empty() {
            let names: Vec<&str> = way.back.iter().map(|p| net.part(*p)).collect();
            sentence += &format!("; its other end returns through {}", listed(&names));
            parts.extend(&way.back);
        }
        self.say(sentence + ".", parts);
    }

    /// Inductors and dividers of a regulator.
    fn beside(&self, net: &Nets, at: usize) -> Vec<usize> {
        let Some(part) = net.board.parts.get(at) else {
            return Vec::new();
        };
        if !matches!(part.device, Device::Regulator(_)) || self.parts.contains(&at) {
            return Vec::new();
        }
        let places = ["sw", "sw1", "sw2"].map(|pin| part.net(pin));
        let switched = |p: &Part| {
            let mut nets = p.pins.iter().map(|pin| pin.net);
            p.kind == Kind::Inductor && nets.any(|n| n.is_some() && places.contains(&n))
        };
        let divider = dividers(net.board).into_iter();
        let divider = divider
            .filter(|d| d.regulator.name == part.name)
            .flat_map(|d| [d.upper.name.as_str(), d.lower.name.as_str()]);
        let divider: Vec<&str> = divider.collect();
        let parts = net.board.parts.iter().enumerate();
        parts
            .filter(|(_, p)| switched(p) || divider.contains(&p.name.as_str()))
            .map(|(at, _)| at)
            .collect()
    }

    /// In which positions switches are drawn.
    fn positions(&mut self, board: &Board) {
        let drawn = board.parts.iter().filter_map(|p| match &p.device {
            Device::Switch(s) => s
                .positions
                .get(s.usual)
                .map(|usual| format!("{} in {}", p.name, usual.name)),
            _ => None,
        });
        let drawn: Vec<String> = drawn.collect();
        if !drawn.is_empty() {
            self.say(format!("Drawn with {}.", listed(&drawn)), []);
        }
    }

    fn finish(mut self) -> String {
        if 0 < self.left_out {
            let more = count(self.left_out, "part");
            self.sentences.push(format!("{more} more."));
        }
        if self.sentences.is_empty() {
            self.sentences.push("No parts.".to_owned());
        }
        self.sentences.join(" ")
    }
}
