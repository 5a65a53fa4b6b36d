//! What boards on one connector share: a column for each pin that is joined, and the loads at the right.

use std::fmt::Write;

use lastvolt_core::model::{Family, Load};

use super::Floor;
use crate::draw::lettering::{Letters, width};
use crate::draw::schematic::live::{Live, rect};
use crate::draw::schematic::set::{WIDEST, longest};
use crate::draw::schematic::sheet::{Area, Place, Reading, STEP, Text, TextRole};
use crate::draw::schematic::{EDGE, names, render};
use crate::draw::svg::{Anchor, escape};
use crate::text::number::listed;

/// Distance of two columns, and least distance of the loads from the last one, in pixels.
const COLUMN: f64 = 2.0 * STEP;
const APART: f64 = 6.0 * STEP;
/// Distance of two pins of a load.
const ROW: f64 = 2.0 * STEP;
/// Least difference in height of two level wires that could meet.
const CLEAR: f64 = 4.0;
/// Distance of a name from its column and from its wire.
const NAME: f64 = 8.0;
const ABOVE: f64 = 4.0;
/// Distance of two lines of text.
const LINE: f64 = 13.0;
/// The readings of a load.
const READINGS: [Reading; 3] = [Reading::Mode, Reading::Current, Reading::Loss];
/// Most characters of a name.
const MOST: usize = 18;

/// Wires of one pin.
struct Column {
    name: String,
    /// Its name as it is drawn.
    shown: String,
    x: f64,
    /// Heights at which boards meet it.
    stubs: Vec<f64>,
    /// Heights at which loads meet it.
    taps: Vec<f64>,
}

impl Column {
    fn heights(&self) -> impl Iterator<Item = f64> {
        self.stubs.iter().chain(&self.taps).copied()
    }

    /// From where to where it goes.
    fn span(&self) -> (f64, f64) {
        let first = self.heights().fold(f64::INFINITY, f64::min);
        (first, self.heights().fold(f64::NEG_INFINITY, f64::max))
    }

    /// Heights at which three ends of wires and more meet.
    fn junctions(&self) -> Vec<f64> {
        let (first, last) = self.span();
        let level = |y: f64| self.heights().filter(|h| (h - y).abs() < 0.5).count();
        let upright = |y: f64| usize::from(first < y) + usize::from(y < last);
        let mut meet: Vec<f64> = self.heights().collect();
        meet.sort_by(f64::total_cmp);
        meet.dedup_by(|a, b| (*a - *b).abs() < 0.5);
        meet.retain(|y| 3 <= level(*y) + upright(*y));
        meet
    }
}

/// A pin of a load.
struct Pin {
    label: String,
    net: String,
    y: f64,
}

/// A load in its place.
struct Frame {
    name: String,
    /// Its name as it is drawn.
    shown: String,
    title: String,
    top: f64,
    width: f64,
    /// Room of the readings under it.
    readings: f64,
    pins: Vec<Pin>,
}

impl Frame {
    fn bottom(&self) -> f64 {
        self.top + ROW * self.pins.len() as f64
    }
}

/// Everything right of the connectors.
pub(super) struct Shared {
    edge: f64,
    ground: String,
    columns: Vec<Column>,
    frames: Vec<Frame>,
    /// Left edge of the loads.
    left: f64,
    /// Where the outermost column is.
    last: f64,
    /// Pins of the connector with their names as they are drawn.
    shown: Vec<(String, String)>,
    /// Whether readings have room.
    roomy: bool,
    /// Whether the columns say their names.
    is_named: bool,
}

impl Shared {
    pub(super) fn new(
        family: &Family,
        floors: &[Floor],
        loads: &[&Load],
        edge: f64,
        roomy: bool,
    ) -> Self {
        let ground = family.connector.ground_net().to_owned();
        let pins: Vec<&str> = family.connector.pins.iter().map(String::as_str).collect();
        let shown = pins.iter().map(|p| (*p).to_owned());
        let shown: Vec<_> = shown.zip(names::apart(&pins, MOST)).collect();
        let mut columns = columns(family, floors, loads, &shown);
        // Right of everything that is drawn.
        let reach = |f: &Floor| f.corner.x + f.drawn.size().0 - EDGE;
        let outer = floors.iter().map(reach).fold(edge, f64::max).ceil();
        // The first pin gets the outermost column, so that loads reach it without crossing others.
        for (at, column) in columns.iter_mut().rev().enumerate() {
            column.x = outer + COLUMN * (at + 1) as f64;
        }
        let last = columns.iter().map(|c| c.x).fold(outer, f64::max);
        let named = columns.iter().map(|c| net_width(&c.shown));
        let mut named = named.fold(0.0, f64::max) + NAME + COLUMN;
        let mut apart = APART;
        if roomy && floors.len() == 1 {
            // The pins of one connector say the names.
            (named, apart) = (0.0, 4.0 * STEP);
        }
        // The first load is level with the first pin of the first board that is joined.
        let first = columns.iter().flat_map(|c| c.stubs.iter().copied());
        let first = first.fold(f64::INFINITY, f64::min);
        let mut top = if first.is_finite() {
            first - STEP
        } else {
            APART
        };
        let mut shared = Self {
            edge,
            ground,
            columns,
            frames: Vec::new(),
            left: last + named.max(apart).ceil(),
            last,
            shown,
            roomy,
            is_named: !roomy || 1 < floors.len(),
        };
        let called: Vec<&str> = loads.iter().map(|l| l.name.as_str()).collect();
        for (load, called) in loads.iter().zip(names::apart(&called, MOST)) {
            top = shared.place(load, called, top);
        }
        shared
    }

    /// Names of the pins at which boards are joined.
    pub(super) fn joined(&self) -> Vec<&str> {
        let several = self.columns.iter().filter(|c| 1 < c.stubs.len());
        several.map(|c| c.name.as_str()).collect()
    }

    /// Puts a load below the last one; gives where the next may begin.
    fn place(&mut self, load: &Load, shown: String, top: f64) -> f64 {
        let mut pins = vec![("+".to_owned(), load.plus.clone())];
        let label = |net: &String| {
            let known = self.shown.iter().find(|(name, _)| name == net);
            known.map_or_else(|| net.clone(), |(_, shown)| shown.clone())
        };
        let driven = load.drives.iter();
        pins.extend(driven.map(|d| (label(&d.net), d.net.clone())));
        pins.push(("\u{2212}".to_owned(), load.minus.clone()));
        // Level with a wire of its own net a pin may be, with that of another it may not.
        let meets = |top: f64| {
            pins.iter().zip(1_u32..).any(|((_, net), row)| {
                let y = top + ROW * f64::from(row) - STEP;
                let others = self.columns.iter().filter(|c| c.name != *net);
                let mut taken = others.flat_map(|c| &c.stubs);
                taken.any(|t| (t - y).abs() < CLEAR)
            })
        };
        let mut top = top;
        // Boards lie at any height against each other, so that there may be no room beside their pins;
        // there always is below them all.
        let stubs = self.columns.iter().flat_map(|c| c.stubs.iter().copied());
        let below = stubs.fold(top, f64::max) + ROW;
        while meets(top) && top < below {
            top += STEP / 2.0;
        }
        let pins: Vec<Pin> = pins
            .into_iter()
            .enumerate()
            .map(|(row, (label, net))| Pin {
                label,
                net,
                y: top + ROW * (row + 1) as f64 - STEP,
            })
            .collect();
        for pin in &pins {
            let column = self.columns.iter_mut().find(|c| c.name == pin.net);
            if let Some(column) = column {
                column.taps.push(pin.y);
            }
        }
        let bottom = top + ROW * pins.len() as f64;
        let labels = pins
            .iter()
            .map(|p| width(&p.label, TextRole::Pin.size(), Letters::Mono));
        let labels = labels.fold(0.0, f64::max) + 16.0;
        let named = width(&shown, TextRole::Designator.size(), Letters::Mono);
        let states = load.states.iter().map(|s| s.name.as_str());
        let words = longest(states.chain([WIDEST]));
        self.frames.push(Frame {
            title: title(load),
            name: load.name.clone(),
            shown,
            top,
            width: labels.max(named).max(4.0 * STEP).ceil(),
            readings: if self.roomy { net_width(&words) } else { 0.0 },
            pins,
        });
        bottom + 4.0 * STEP + if self.roomy { 4.0 * STEP } else { 0.0 }
    }

    /// Draws all; gives how far it reaches to the right and down.
    pub(super) fn draw(&self, live: Option<&Live>, out: &mut String) -> (f64, f64) {
        for column in &self.columns {
            self.column(column, live, out);
        }
        let mut right = self.columns.iter().map(|c| c.x).fold(self.edge, f64::max);
        let mut bottom = 0.0_f64;
        for load in &self.frames {
            self.load(load, live, out);
            right = right.max(self.left + load.width.max(load.readings));
            let under = if self.roomy { 3.0 * LINE } else { 0.0 };
            bottom = bottom.max(load.bottom() + under + 2.0 * STEP);
        }
        (right, bottom)
    }

    fn column(&self, column: &Column, live: Option<&Live>, out: &mut String) {
        let name = escape(&column.name);
        let key = format!("net:{}", column.name);
        if let Some(live) = live {
            // Each board has the net as a link of its own.
            let spoken = format!("net {} of all boards", column.name);
            live.open(&key, &spoken, " tabindex=\"-1\"", out);
        }
        let id = render::cleaned(&column.name);
        let _ = writeln!(
            out,
            "<g class=\"join\" id=\"stack.net.{id}\" data-net=\"{name}\">\n<title>{name} of all boards</title>"
        );
        let x = render::n(column.x);
        let level = |from: f64, y: f64| {
            let (from, y) = (render::n(from), render::n(y));
            format!("M{from} {y} H{x}")
        };
        let stubs = column.stubs.iter().map(|y| level(self.edge, *y));
        let taps = column.taps.iter().map(|y| level(self.left, *y));
        let mut wires: Vec<String> = stubs.chain(taps).collect();
        let (first, last) = column.span();
        if first < last {
            let (first, last) = (render::n(first), render::n(last));
            wires.push(format!("M{x} {first} V{last}"));
        }
        for d in wires {
            if live.is_some() {
                let _ = writeln!(out, "<path class=\"hit\" d=\"{d}\"/>");
            }
            let _ = writeln!(out, "<path class=\"wire\" d=\"{d}\"/>");
        }
        for y in column.junctions().into_iter().map(render::n) {
            let _ = writeln!(
                out,
                "<circle class=\"junction\" cx=\"{x}\" cy=\"{y}\" r=\"3\"/>"
            );
        }
        if let Some(y) = column.taps.first().filter(|_| self.is_named) {
            let _ = writeln!(
                out,
                "<text class=\"net-name\" data-at=\"{} {}\" x=\"{}\" y=\"{}\">{}</text>",
                render::n(self.last),
                render::n(*y),
                render::n(self.last + NAME),
                render::n(y - ABOVE),
                escape(&column.shown)
            );
        }
        out.push_str("</g>\n");
        if live.is_some() {
            out.push_str("</a>\n");
        }
    }

    /// Under a load its state, its current and its power.
    fn readings(&self, load: &Frame, live: &Live, out: &mut String) {
        let key = format!("load:{}", load.name);
        let word = live.situation.states.get(&load.name).map(String::as_str);
        let lines = READINGS.into_iter().zip(1_u32..);
        for (reading, line) in lines {
            let y = load.bottom() + LINE * f64::from(line) + 1.0;
            let line = text(TextRole::Reading(reading), (self.left, y));
            let (line, more) = live.reading(&line, &key, reading, word);
            render::write_text(&line, ORIGIN, &more, out);
        }
        let area = Area {
            left: self.left,
            top: load.top - 2.0 * LINE + 8.0,
            right: self.left + load.width.max(load.readings),
            bottom: load.bottom() + 3.0 * LINE + 4.0,
        };
        rect("hit", area, out);
        let body = Area {
            top: load.top,
            right: self.left + load.width,
            bottom: load.bottom(),
            ..area
        };
        rect("frame", body.grown(3.0), out);
    }

    fn load(&self, load: &Frame, live: Option<&Live>, out: &mut String) {
        if let Some(live) = live {
            live.open(&format!("load:{}", load.name), &load.title, "", out);
        }
        let (left, top) = (self.left, load.top);
        let high = ROW * load.pins.len() as f64;
        let terminals = load
            .pins
            .iter()
            .map(|p| format!("{} {left} {}", escape(&p.net), p.y));
        let terminals: Vec<String> = terminals.collect();
        let _ = writeln!(
            out,
            "<g class=\"load\" id=\"stack.load.{}\" data-load=\"{}\" data-terminals=\"{}\" data-body=\"{left} {top} {} {}\">\n<title>{}</title>\n<rect class=\"sym\" x=\"{left}\" y=\"{top}\" width=\"{}\" height=\"{high}\"/>\n<text class=\"ref\" x=\"{left}\" y=\"{}\">{}</text>",
            render::cleaned(&load.name),
            escape(&load.name),
            terminals.join(";"),
            left + load.width,
            top + high,
            escape(&load.title),
            load.width,
            top - 5.0,
            escape(&load.shown),
        );
        for pin in &load.pins {
            let y = pin.y;
            let _ = writeln!(
                out,
                "<text class=\"pin\" x=\"{}\" y=\"{}\">{}</text>",
                left + 6.0,
                y + 3.0,
                escape(&pin.label)
            );
            if pin.net == self.ground {
                let x = left - 2.0 * STEP;
                let foot = y + STEP;
                let _ = writeln!(out, "<path class=\"wire\" d=\"M{left} {y} H{x} V{foot}\"/>");
                render::sign(Place { x, y: foot }, out);
            } else if self.columns.iter().all(|c| c.name != pin.net) {
                render::cross(Place { x: left, y }, out);
            }
        }
        if let Some(live) = live {
            self.readings(load, live, out);
        }
        out.push_str("</g>\n");
        if live.is_some() {
            out.push_str("</a>\n");
        }
    }
}

/// Places here are those of the drawing.
const ORIGIN: render::Pen = render::Pen { x: 0.0, y: 0.0 };

/// A text that says nothing yet.
fn text(role: TextRole, (x, y): (f64, f64)) -> Text {
    Text {
        says: String::new(),
        role,
        at: Place { x, y },
        anchor: Anchor::Start,
    }
}

/// Room that the name of a net takes.
fn net_width(name: &str) -> f64 {
    width(name, TextRole::Net.size(), Letters::Mono)
}

/// A column for each pin that two boards have, or one board and a load.
fn columns(
    family: &Family,
    floors: &[Floor],
    loads: &[&Load],
    shown: &[(String, String)],
) -> Vec<Column> {
    let ground = family.connector.ground_net();
    let on_load = |name: &str| {
        loads
            .iter()
            .any(|l| l.plus == name || l.minus == name || l.drives.iter().any(|d| d.net == name))
    };
    let names = shown.iter().filter(|(name, _)| *name != ground);
    names
        .filter_map(|(name, shown)| {
            let pins = floors.iter().flat_map(Floor::pins);
            let stubs: Vec<f64> = pins.filter(|(n, _)| n == name).map(|(_, y)| y).collect();
            let wanted = 1 < stubs.len() || (!stubs.is_empty() && on_load(name));
            wanted.then(|| Column {
                name: name.clone(),
                shown: shown.clone(),
                x: 0.0,
                stubs,
                taps: Vec::new(),
            })
        })
        .collect()
}

fn title(load: &Load) -> String {
    let mut text = format!(
        "{}, load between {} and {}",
        load.name, load.plus, load.minus
    );
    let driven: Vec<&str> = load.drives.iter().map(|d| d.net.as_str()).collect();
    if !driven.is_empty() {
        let _ = write!(text, "; its firmware drives {}", listed(&driven));
    }
    text + "."
}
