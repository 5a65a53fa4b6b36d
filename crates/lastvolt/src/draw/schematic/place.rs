//! Pieces in their places, before any wire is drawn: where each symbol stands, how it is turned, where
//! its lines of text are, and which straight rails the wires should take.

pub(crate) mod graph;
mod hang;
mod lane;
mod rest;
mod series;
mod spine;

use crate::draw::schematic::sheet::{
    Area, Place, STEP, Side, Spot, Symbol, Terminal, Text, TextRole,
};
use crate::draw::svg::Anchor;
use graph::Graph;

/// Distance of the base lines of two lines of text, in pixels.
const LINE: f64 = 13.0;
/// Distance of a text from what it stands beside, in pixels.
const GAP: f64 = 5.0;

/// Longest line beside a piece that hangs, in letters, before it is broken.
const BREAK: usize = 8;

/// A piece in its place.
#[derive(Debug, Clone)]
pub(crate) struct Placed {
    /// Its place in the list of pieces.
    pub(crate) piece: usize,
    /// Its symbol as it is turned.
    pub(crate) symbol: Symbol,
    /// Where the symbol's origin is.
    pub(crate) at: Spot,
    /// The lines beside it, in pixels about its origin.
    pub(crate) texts: Vec<Text>,
}

/// Where the lines of a piece stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Beside {
    Right,
    /// Right of the body, under a pin that leaves to the right.
    RightLow,
    Above,
    /// Under the body, right of a pin that leaves downwards.
    BelowRight,
    /// Over the body, right of a pin that leaves upwards.
    AboveRight,
}

/// The pins that every board shares, at the right edge.
#[derive(Debug, Clone)]
pub(crate) struct Interface {
    /// The frame.
    pub(crate) area: Area,
    /// Name of each pin, its net where the board has it, and where its wire ends.
    pub(crate) pins: Vec<(String, Option<usize>, Spot)>,
    /// Their names as they are drawn.
    pub(crate) shown: Vec<String>,
}

/// A straight wire that a net should take where it is free.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Guide {
    pub(crate) net: usize,
    pub(crate) from: Spot,
    pub(crate) to: Spot,
}

/// Everything in its place.
#[derive(Debug, Clone, Default)]
pub(crate) struct Plan {
    pub(crate) placed: Vec<Placed>,
    pub(crate) interface: Option<Interface>,
    pub(crate) guides: Vec<Guide>,
    /// Pins that get a stub with the name of their net and no wire: placed piece and pin.
    pub(crate) stubs: Vec<(usize, usize)>,
    /// Room that wires leave to names.
    pub(crate) kept: Vec<Area>,
}

/// How the plan is made.
#[derive(Debug, Clone, Default)]
pub(crate) struct Wish {
    /// Steps more between neighbours.
    pub(crate) air: i32,
    /// Pieces that go below with named stubs.
    pub(crate) below: Vec<usize>,
    /// Room that the name of a net takes along its rail, in steps.
    pub(crate) label: Vec<i32>,
    /// Steps more between what hangs one below the other.
    pub(crate) drop: i32,
}

impl Placed {
    pub(crate) fn new(piece: usize, symbol: Symbol, lines: &[(TextRole, String)]) -> Self {
        let beside = Beside::of(&symbol);
        let narrow = matches!(beside, Beside::Right | Beside::RightLow);
        let broken = if narrow {
            broken(lines)
        } else {
            lines.to_vec()
        };
        let texts = beside.texts(&symbol, &broken);
        Self {
            piece,
            symbol,
            at: Spot { x: 0, y: 0 },
            texts,
        }
    }

    /// The same with all lines over it, where something stands under it.
    pub(crate) fn over(piece: usize, symbol: Symbol, lines: &[(TextRole, String)]) -> Self {
        let texts = Beside::of(&symbol).stacked(&symbol, lines);
        Self {
            texts,
            ..Self::new(piece, symbol, &[])
        }
    }

    /// The terminal of a pin, where it stands in the drawing.
    pub(crate) fn terminal(&self, pin: usize) -> Option<Terminal> {
        let of = self.symbol.terminals.iter().find(|t| t.pin == pin)?;
        Some(Terminal {
            at: self.at.plus(of.at.x, of.at.y),
            ..*of
        })
    }

    /// What its symbol covers in the drawing.
    pub(crate) fn body(&self) -> Area {
        self.symbol.body.moved(self.at)
    }

    /// What its lines cover in the drawing.
    pub(crate) fn text_areas(&self) -> Vec<Area> {
        let areas = self.texts.iter().map(|t| text_area(t).moved(self.at));
        areas.collect()
    }

    /// Body and lines together, about the origin.
    pub(crate) fn cell(&self) -> Area {
        let mut cell = self.symbol.body;
        for text in &self.texts {
            cell = cell.with(text_area(text));
        }
        cell
    }

    /// Steps from the origin to the left and to the right that body and lines take.
    pub(crate) fn sides(&self) -> (i32, i32) {
        let cell = self.cell();
        (steps(-cell.left), steps(cell.right))
    }
}

impl Beside {
    /// Where there is room beside a symbol.
    fn of(symbol: &Symbol) -> Self {
        let has = |side: Side| symbol.terminals.iter().any(|t| t.side == side);
        match (
            has(Side::Right),
            has(Side::Left),
            has(Side::Up),
            has(Side::Down),
        ) {
            (false, _, _, _) => Self::Right,
            (true, false, true, _) => Self::RightLow,
            (_, _, false, _) => Self::Above,
            (_, _, true, true) => Self::BelowRight,
            (_, _, true, false) => Self::AboveRight,
        }
    }

    fn texts(self, symbol: &Symbol, lines: &[(TextRole, String)]) -> Vec<Text> {
        // Over a body that leaves downwards nowhere there are the names, under it the readings.
        if self == Self::Above && symbol.terminals.iter().all(|t| t.side != Side::Down) {
            let is_reading = |l: &(TextRole, String)| matches!(l.0, TextRole::Reading(_));
            let (under, over): (Vec<_>, Vec<_>) = lines.iter().cloned().partition(is_reading);
            if !under.is_empty() {
                let mut texts = self.stacked(symbol, &over);
                texts.extend(Self::under(symbol, &under));
                return texts;
            }
        }
        self.stacked(symbol, lines)
    }

    /// Lines in the middle under a body.
    fn under(symbol: &Symbol, lines: &[(TextRole, String)]) -> Vec<Text> {
        let body = symbol.body;
        let x = f64::midpoint(body.left, body.right);
        let first = body.bottom + GAP + 9.0;
        down(lines, (x, first), Anchor::Middle)
    }

    fn stacked(self, symbol: &Symbol, lines: &[(TextRole, String)]) -> Vec<Text> {
        let count = lines.len() as f64;
        let body = symbol.body;
        let mid = f64::midpoint(body.left, body.right);
        let exit = |side: Side| {
            let x = symbol.terminals.iter().filter(|t| t.side == side);
            x.map(|t| t.at.x).max().unwrap_or(0)
        };
        let row = |side: Side| {
            let y = symbol.terminals.iter().filter(|t| t.side == side);
            y.map(|t| t.at.y).max().unwrap_or(0)
        };
        let (x, first, anchor) = match self {
            Self::Right => (
                body.right + GAP,
                f64::midpoint(body.top, body.bottom) - count * LINE / 2.0 + 10.0,
                Anchor::Start,
            ),
            Self::RightLow => (
                body.right + GAP,
                f64::from(row(Side::Right)) * STEP + 15.0,
                Anchor::Start,
            ),
            Self::Above => (mid, body.top - GAP - (count - 1.0) * LINE, Anchor::Middle),
            Self::BelowRight => (
                f64::from(exit(Side::Down)) * STEP + 15.0,
                body.bottom + 14.0,
                Anchor::Start,
            ),
            Self::AboveRight => (
                f64::from(exit(Side::Up)) * STEP + 15.0,
                body.top - GAP - (count - 1.0) * LINE,
                Anchor::Start,
            ),
        };
        down(lines, (x, first), anchor)
    }
}

/// Lines one below the other.
fn down(lines: &[(TextRole, String)], (x, first): (f64, f64), anchor: Anchor) -> Vec<Text> {
    let texts = lines.iter().enumerate().map(|(at, (role, says))| Text {
        says: says.clone(),
        role: *role,
        at: Place {
            x,
            y: first + at as f64 * LINE,
        },
        anchor,
    });
    texts.collect()
}

impl Spot {
    /// So many steps to the right and down.
    pub(crate) fn plus(self, x: i32, y: i32) -> Self {
        Self {
            x: self.x + x,
            y: self.y + y,
        }
    }

    /// One step to a side.
    pub(crate) fn beside(self, side: Side) -> Self {
        match side {
            Side::Left => self.plus(-1, 0),
            Side::Right => self.plus(1, 0),
            Side::Up => self.plus(0, -1),
            Side::Down => self.plus(0, 1),
        }
    }

    /// In pixels.
    pub(crate) fn place(self) -> Place {
        Place {
            x: f64::from(self.x) * STEP,
            y: f64::from(self.y) * STEP,
        }
    }
}

impl Area {
    /// Moved to a spot.
    pub(crate) fn moved(self, to: Spot) -> Self {
        let at = to.place();
        self.shifted(at.x, at.y)
    }

    /// Moved by pixels.
    pub(crate) fn shifted(self, x: f64, y: f64) -> Self {
        Self {
            left: self.left + x,
            top: self.top + y,
            right: self.right + x,
            bottom: self.bottom + y,
        }
    }

    /// The least area around both.
    pub(crate) fn with(self, other: Self) -> Self {
        Self {
            left: self.left.min(other.left),
            top: self.top.min(other.top),
            right: self.right.max(other.right),
            bottom: self.bottom.max(other.bottom),
        }
    }

    /// Larger by so much to each side.
    pub(crate) fn grown(self, by: f64) -> Self {
        Self {
            left: self.left - by,
            top: self.top - by,
            right: self.right + by,
            bottom: self.bottom + by,
        }
    }

    /// Whether two areas share more than an edge.
    pub(crate) fn meets(self, other: Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }
}

/// What a text covers at most.
pub(crate) fn text_area(text: &Text) -> Area {
    crate::draw::schematic::symbol::room(text)
}

/// Long lines broken where one thing ends and the next begins.
fn broken(lines: &[(TextRole, String)]) -> Vec<(TextRole, String)> {
    let mut out = Vec::new();
    for (role, line) in lines {
        if matches!(role, TextRole::Designator | TextRole::Reading(_)) {
            out.push((*role, line.clone()));
            continue;
        }
        let cut = line.find(", ").map(|at| (at, at + 2));
        let cut = cut.or_else(|| line.find(" ±").map(|at| (at, at + 1)));
        match cut.filter(|_| BREAK < line.chars().count()) {
            Some((end, next)) => {
                out.push((*role, line[..end].to_owned()));
                out.push((*role, line[next..].to_owned()));
            }
            None => out.push((*role, line.clone())),
        }
    }
    out
}

/// So many whole steps as hold these pixels.
pub(crate) fn steps(pixels: f64) -> i32 {
    (pixels / STEP).ceil() as i32
}

/// The symbol in the turn that has most points; boxes stand as they are.
pub(crate) fn oriented_by(symbol: &Symbol, rigid: bool, points: impl Fn(&Symbol) -> i32) -> Symbol {
    let mut best = symbol.clone();
    if rigid {
        return best;
    }
    let mirrored = symbol.mirrored();
    let mut most = points(&best);
    for base in [symbol, &mirrored] {
        for quarters in 0..4 {
            let turned = base.turned(quarters);
            let reached = points(&turned);
            if most < reached {
                (best, most) = (turned, reached);
            }
        }
    }
    best
}

/// Everything in its place by rule; what finds none by rule goes below.
pub(crate) fn plan(graph: &Graph, pins: &[String], wish: &Wish) -> Plan {
    let mut floor = lane::Floor::new(graph, pins, wish);
    floor.lay();
    floor.finish()
}

/// Every piece below each other in rows, each pin with a stub.
pub(crate) fn rows(graph: &Graph, pins: &[String], wish: &Wish) -> Plan {
    let mut floor = lane::Floor::new(graph, pins, wish);
    floor.lay_nothing();
    floor.finish()
}
