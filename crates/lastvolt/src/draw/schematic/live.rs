//! A drawing that lives in a page: laid out once with room for all that changes, every part and net a link,
//! every figure a text of its own that scripts may write anew.
//!
//! Texts carry `data-reading` with their name: `net:VDD`, `part:R1:current`, `part:R1:loss`, `part:U1:mode`,
//! `load:beacon:current`. Links carry `data-pick` with what they choose: `part:R1`, `net:VDD`, `load:beacon`;
//! the chosen one has the class `chosen` and `aria-current="true"`.

#[cfg(test)]
mod proof;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;
use std::fmt::Write;

use lastvolt_core::circuit::Situation;
use lastvolt_core::model::{Board, Device};

use super::labels::Label;
use super::place::{Placed, text_area};
use super::render::{self, Pen, n};
use super::set::{Set, fitted};
use super::sheet::{Area, Place, Reading, Text, TextRole};
use super::{Schematic, words};
use crate::draw::svg::escape;
use crate::text::number::listed;

/// What stands for a figure that is not known.
pub(super) const UNKNOWN: &str = "\u{2012}";
/// Least room to point at, in pixels.
const TARGET: f64 = 24.0;
/// Distance of the frame of what is chosen.
const FRAME: f64 = 1.0;
/// Parts that the name of a net's link counts out.
const MOST_PARTS: usize = 6;

/// What a drawing shows and where its links lead.
pub(crate) struct Live<'a> {
    /// Positions, cells put in backwards, sources taken out: drawn as they are set.
    pub(crate) situation: &'a Situation,
    /// Texts of readings by their names; where one is absent a dash stands.
    pub(crate) texts: &'a BTreeMap<String, String>,
    /// Where the link of what can be chosen leads.
    pub(crate) href: &'a dyn Fn(&str) -> String,
    /// What is chosen.
    pub(crate) chosen: Option<&'a str>,
}

/// Names of a board's nets and parts in its circuit.
#[derive(Debug, Clone)]
pub(super) struct Named {
    nets: Vec<Subject>,
    parts: Vec<Subject>,
}

/// Something that is read and chosen.
#[derive(Debug, Clone)]
struct Subject {
    key: String,
    /// The name of its link.
    spoken: String,
    /// Its word as far as the situation says it.
    word: Option<String>,
    /// Classes of how it is set.
    look: &'static str,
}

impl Named {
    /// The names of a board that has its own loads as parts.
    pub(super) fn new(set: &Set, board: &Board) -> Self {
        let net = |(at, name): (usize, &String)| {
            let on = board.parts.iter();
            let on = on.filter(|p| p.pins.iter().any(|pin| pin.net == Some(at)));
            let on: Vec<&str> = on.map(|p| p.name.as_str()).collect();
            Subject {
                key: format!("net:{}", set.net(name)),
                spoken: format!("net {name}, {}", joins(&on)),
                word: None,
                look: "",
            }
        };
        let parts = board.parts.iter().map(|part| Subject {
            key: set.key(part),
            spoken: words::spoken(board, part),
            word: set.word(part),
            look: match &part.device {
                Device::Cell(_) | Device::Supply(_) if set.is_absent(&part.name) => " absent",
                Device::Cell(cell) if set.turned(&part.name, cell).any() => " reversed",
                _ => "",
            },
        });
        Self {
            nets: board.nets.iter().enumerate().map(net).collect(),
            parts: parts.collect(),
        }
    }

    /// Classes of a part, each after a space.
    pub(super) fn look(&self, part: usize) -> &'static str {
        self.parts.get(part).map_or("", |p| p.look)
    }
}

/// What a net joins, some parts by name.
fn joins(parts: &[&str]) -> String {
    match parts {
        [] => "joins nothing".to_owned(),
        parts if parts.len() <= MOST_PARTS => format!("joins {}", listed(parts)),
        parts => {
            let (named, more) = parts.split_at(MOST_PARTS - 1);
            format!("joins {} and {} more", named.join(", "), more.len())
        }
    }
}

/// A board whose switches count as usual where they are set, for words about it.
pub(super) fn as_set(set: &Set, board: &Board) -> Board {
    let mut out = board.clone();
    for part in &mut out.parts {
        if let Device::Switch(switch) = &mut part.device {
            switch.usual = set.position(&part.name, switch);
        }
    }
    out
}

/// A drawing with the names of what changes in it.
#[derive(Clone, Copy)]
pub(super) struct With<'a> {
    pub(super) live: &'a Live<'a>,
    pub(super) named: &'a Named,
}

impl With<'_> {
    /// A line beside a part as it says now, with the attribute that names it; none for what never changes.
    pub(super) fn part_text(self, text: &Text, part: usize) -> Option<(Text, String)> {
        let TextRole::Reading(reading) = text.role else {
            return None;
        };
        let of = self.named.parts.get(part)?;
        Some(
            self.live
                .reading(text, &of.key, reading, of.word.as_deref()),
        )
    }

    /// The voltage of a net as it is now.
    pub(super) fn net_text(self, text: &Text, net: usize) -> (Text, String) {
        let key = self.named.nets.get(net).map_or("", |s| s.key.as_str());
        self.live.said(text, key, None)
    }

    /// Begins the link of a pin of the connector to its net.
    pub(super) fn open_pin(self, net: usize, frame: Area, at: Place, out: &mut String) {
        let Some(of) = self.named.nets.get(net) else {
            return;
        };
        // The net itself can be reached by keyboard.
        self.live.open(&of.key, &of.spoken, " tabindex=\"-1\"", out);
        let row = Area {
            left: frame.left,
            top: at.y - 10.0,
            right: frame.right,
            bottom: at.y + 10.0,
        };
        rect("hit", row, out);
    }
}

impl Live<'_> {
    /// Begins a link.
    pub(super) fn open(&self, key: &str, spoken: &str, more: &str, out: &mut String) {
        let (class, current) = if self.chosen == Some(key) {
            (" chosen", " aria-current=\"true\"")
        } else {
            ("", "")
        };
        let _ = writeln!(
            out,
            "<a class=\"pick{class}\" href=\"{}\" data-pick=\"{}\" aria-label=\"{}\"{current}{more}>",
            escape(&(self.href)(key)),
            escape(key),
            escape(spoken),
        );
    }

    /// A reading as it is now, with the attribute that names it.
    pub(super) fn reading(
        &self,
        text: &Text,
        of: &str,
        reading: Reading,
        word: Option<&str>,
    ) -> (Text, String) {
        let what = match reading {
            Reading::Mode => "mode",
            Reading::Current => "current",
            Reading::Loss => "loss",
        };
        let word = word.filter(|_| reading == Reading::Mode);
        let (mut text, more) = self.said(text, &format!("{of}:{what}"), word);
        if reading == Reading::Mode {
            text.says = fitted(&text.says);
        }
        (text, more)
    }

    /// A text with what is known under a name, else a word, else a dash.
    pub(super) fn said(&self, text: &Text, key: &str, word: Option<&str>) -> (Text, String) {
        let known = self.texts.get(key).map(String::as_str);
        let text = Text {
            says: known.or(word).unwrap_or(UNKNOWN).to_owned(),
            ..text.clone()
        };
        (text, format!(" data-reading=\"{}\"", escape(key)))
    }
}

/// All groups of a drawing: parts in the order of the file, each a link, then nets, then the connector.
pub(super) fn body(of: &Schematic, shift: Place, with: With) -> String {
    let pen = Pen {
        x: shift.x,
        y: shift.y,
    };
    let mut out = String::new();
    for (at, part) in with.named.parts.iter().enumerate() {
        with.live.open(&part.key, &part.spoken, "", &mut out);
        let placed = of.plan.placed.iter();
        for placed in placed.filter(|p| of.pieces[p.piece].part == at) {
            render::part(of, placed, pen, Some(with), &mut out);
        }
        out.push_str("</a>\n");
    }
    for wiring in &of.wires.nets {
        let Some(net) = with.named.nets.get(wiring.net) else {
            continue;
        };
        with.live.open(&net.key, &net.spoken, "", &mut out);
        render::net(of, wiring, pen, Some(with), &mut out);
        out.push_str("</a>\n");
    }
    render::connector(of, pen, Some(with), &mut out);
    out
}

/// Room to point at about a piece and about its lines, and the frame that shows that it is chosen.
pub(super) fn part_hits(placed: &Placed, own: Pen, out: &mut String) {
    let body = placed.symbol.body.shifted(own.x, own.y);
    rect("hit", at_least(body), out);
    let lines = placed.texts.iter().map(text_area).reduce(Area::with);
    if let Some(lines) = lines {
        rect("hit", lines.shifted(own.x, own.y), out);
    }
    rect("frame", body.grown(FRAME), out);
}

/// Room to point at about the name of a net.
pub(super) fn label_hit(label: &Label, pen: Pen, out: &mut String) {
    let name = text_area(&label.name);
    let value = label.value.iter().map(text_area);
    let all = value.fold(name, Area::with);
    rect("hit", at_least(all.shifted(pen.x, pen.y)), out);
}

/// An area grown to what a finger can meet.
fn at_least(area: Area) -> Area {
    let across = (0.5 * (TARGET - (area.right - area.left))).max(0.0);
    let down = (0.5 * (TARGET - (area.bottom - area.top))).max(0.0);
    Area {
        left: area.left - across,
        top: area.top - down,
        right: area.right + across,
        bottom: area.bottom + down,
    }
}

pub(super) fn rect(class: &str, area: Area, out: &mut String) {
    let _ = writeln!(
        out,
        "<rect class=\"{class}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>",
        n(area.left),
        n(area.top),
        n(area.right - area.left),
        n(area.bottom - area.top)
    );
}
