//! Draws a symbol stroke by stroke and works out what it covers.

use crate::draw::lettering::{Letters, width};
use crate::draw::schematic::sheet::{
    Area, Place, STEP, Side, Spot, Stroke, Symbol, Terminal, Text, TextRole,
};
use crate::draw::svg::Anchor;

/// Paper that stays free about strokes, in pixels.
const MARGIN: f64 = 3.0;
/// How far letters reach above and below their base line, and where their middle is, as shares of
/// their size. Common fonts of one width stay within.
const ABOVE: f64 = 0.8;
const BELOW: f64 = 0.25;
const MIDDLE: f64 = 0.35;

/// To which side of its hold a text grows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Growth {
    Toward(Side),
    /// About its hold.
    About,
}

/// A symbol under way.
#[derive(Default)]
pub(super) struct Pen {
    strokes: Vec<Stroke>,
    terminals: Vec<Terminal>,
    texts: Vec<Text>,
}

/// A place from its figures.
pub(super) fn place((x, y): (f64, f64)) -> Place {
    Place { x, y }
}

fn places(points: &[(f64, f64)]) -> Vec<Place> {
    points.iter().copied().map(place).collect()
}

impl Pen {
    /// Two pins at the left and at the right end.
    pub(super) fn two_ends() -> Self {
        let mut pen = Self::default();
        pen.pin(0, (-3, 0), Side::Left);
        pen.pin(1, (3, 0), Side::Right);
        pen
    }

    /// The wires of a symbol with two ends, up to its body at so many pixels either side.
    pub(super) fn leads(&mut self, half: f64) {
        self.line(&[(-30.0, 0.0), (-half, 0.0)]);
        self.line(&[(half, 0.0), (30.0, 0.0)]);
    }

    pub(super) fn pin(&mut self, pin: usize, (x, y): (i32, i32), side: Side) {
        let at = Spot { x, y };
        self.terminals.push(Terminal { pin, at, side });
    }

    pub(super) fn line(&mut self, points: &[(f64, f64)]) {
        self.strokes.push(Stroke::Line(places(points)));
    }

    pub(super) fn dashes(&mut self, points: &[(f64, f64)]) {
        self.strokes.push(Stroke::Dashes(places(points)));
    }

    /// Room for a line that is not drawn now.
    pub(super) fn keep(&mut self, points: &[(f64, f64)]) {
        self.strokes.push(Stroke::Room(places(points)));
    }

    /// A line, or room for it.
    pub(super) fn line_where(&mut self, drawn: bool, points: &[(f64, f64)]) {
        if drawn {
            self.line(points);
        } else {
            self.keep(points);
        }
    }

    /// A broken line, or room for it.
    pub(super) fn dashes_where(&mut self, drawn: bool, points: &[(f64, f64)]) {
        if drawn {
            self.dashes(points);
        } else {
            self.keep(points);
        }
    }

    /// A closed shape that lets the paper through.
    pub(super) fn outline(&mut self, corners: &[(f64, f64)]) {
        let corners = places(corners);
        let filled = false;
        self.strokes.push(Stroke::Shape { corners, filled });
    }

    /// A closed shape full of ink.
    pub(super) fn ink(&mut self, corners: &[(f64, f64)]) {
        let corners = places(corners);
        let filled = true;
        self.strokes.push(Stroke::Shape { corners, filled });
    }

    pub(super) fn frame(&mut self, [left, top, right, bottom]: [f64; 4]) {
        self.outline(&[(left, top), (right, top), (right, bottom), (left, bottom)]);
    }

    pub(super) fn ring(&mut self, centre: (f64, f64), radius: f64) {
        self.strokes.push(Stroke::Ring {
            centre: place(centre),
            radius,
            filled: false,
        });
    }

    pub(super) fn bows(&mut self, from: (f64, f64), to: (f64, f64), count: u8) {
        let (from, to) = (place(from), place(to));
        self.strokes.push(Stroke::Bows { from, to, count });
    }

    /// A plus sign that looks the same however it is turned.
    pub(super) fn plus(&mut self, (x, y): (f64, f64)) {
        self.plus_where(true, (x, y));
    }

    /// A plus sign, or room for it.
    pub(super) fn plus_where(&mut self, drawn: bool, (x, y): (f64, f64)) {
        self.line_where(drawn, &[(x - 3.0, y), (x + 3.0, y)]);
        self.line_where(drawn, &[(x, y - 3.0), (x, y + 3.0)]);
    }

    /// The head of an arrow with its tip at a place, coming from a direction.
    pub(super) fn arrow_head(&mut self, tip: (f64, f64), from: (f64, f64), length: f64) {
        let (dx, dy) = (from.0 - tip.0, from.1 - tip.1);
        let far = dx.hypot(dy).max(1e-9);
        let (ux, uy) = (dx / far * length, dy / far * length);
        let base = (tip.0 + ux, tip.1 + uy);
        let half = 0.45;
        let corner = |s: f64| (base.0 - s * half * uy, base.1 + s * half * ux);
        self.ink(&[tip, corner(1.0), corner(-1.0)]);
    }

    pub(super) fn text(&mut self, says: &str, role: TextRole, growth: Growth, hold: (f64, f64)) {
        self.texts
            .push(set(says.to_owned(), role, growth, place(hold)));
    }

    pub(super) fn strokes(&self) -> &[Stroke] {
        &self.strokes
    }

    pub(super) fn texts(&self) -> &[Text] {
        &self.texts
    }

    pub(super) fn done(self) -> Symbol {
        let mut symbol = Symbol {
            strokes: self.strokes,
            terminals: self.terminals,
            texts: self.texts,
            body: Area {
                left: 0.0,
                top: 0.0,
                right: 0.0,
                bottom: 0.0,
            },
        };
        symbol.body = covered(&symbol);
        symbol
    }
}

/// A text that grows to a side of its hold.
pub(super) fn set(says: String, role: TextRole, growth: Growth, hold: Place) -> Text {
    let size = role.size();
    let (anchor, down) = match growth {
        Growth::Toward(Side::Right) => (Anchor::Start, MIDDLE),
        Growth::Toward(Side::Left) => (Anchor::End, MIDDLE),
        Growth::Toward(Side::Down) => (Anchor::Middle, ABOVE),
        Growth::Toward(Side::Up) => (Anchor::Middle, -BELOW),
        Growth::About => (Anchor::Middle, MIDDLE),
    };
    let at = Place {
        x: hold.x,
        y: hold.y + down * size,
    };
    Text {
        says,
        role,
        at,
        anchor,
    }
}

/// Height of the middle of a text.
pub(super) fn middle_of(text: &Text) -> f64 {
    text.at.y - MIDDLE * text.role.size()
}

/// The room that a text takes.
pub(crate) fn room(text: &Text) -> Area {
    let size = text.role.size();
    let wide = width(&text.says, size, Letters::Mono);
    let left = match text.anchor {
        Anchor::Start => text.at.x,
        Anchor::Middle => text.at.x - wide / 2.0,
        Anchor::End => text.at.x - wide,
    };
    Area {
        left,
        top: text.at.y - ABOVE * size,
        right: left + wide,
        bottom: text.at.y + BELOW * size,
    }
}

/// Corners of what a stroke reaches, without the width of its line.
pub(super) fn reach(stroke: &Stroke) -> Vec<Place> {
    match stroke {
        Stroke::Line(points) | Stroke::Dashes(points) | Stroke::Room(points) => points.clone(),
        Stroke::Shape { corners, .. } => corners.clone(),
        Stroke::Ring { centre, radius, .. } => [-1.0, 1.0]
            .map(|s| Place {
                x: centre.x + s * radius,
                y: centre.y + s * radius,
            })
            .to_vec(),
        Stroke::Bows { from, to, count } => {
            let n = 2.0 * f64::from((*count).max(1));
            // A quarter turn to the left of the way, as y points down.
            let (dx, dy) = ((to.y - from.y) / n, (from.x - to.x) / n);
            let bulge = |p: &Place| Place {
                x: p.x + dx,
                y: p.y + dy,
            };
            vec![*from, *to, bulge(from), bulge(to)]
        }
    }
}

/// What a symbol covers: up to its terminals where it has some on a side, else a little beyond its strokes.
pub(super) fn covered(symbol: &Symbol) -> Area {
    let ends = symbol.terminals.iter().map(|t| Place {
        x: f64::from(t.at.x) * STEP,
        y: f64::from(t.at.y) * STEP,
    });
    let strokes = symbol.strokes.iter().flat_map(reach);
    let drawn = bounds(ends.chain(strokes)).unwrap_or(Area {
        left: 0.0,
        top: 0.0,
        right: 0.0,
        bottom: 0.0,
    });
    let has = |side| symbol.terminals.iter().any(|t| t.side == side);
    let beyond = |side| if has(side) { 0.0 } else { MARGIN };
    let drawn = Area {
        left: drawn.left - beyond(Side::Left),
        top: drawn.top - beyond(Side::Up),
        right: drawn.right + beyond(Side::Right),
        bottom: drawn.bottom + beyond(Side::Down),
    };
    let all = symbol.texts.iter().map(room).fold(drawn, |a, b| Area {
        left: a.left.min(b.left),
        top: a.top.min(b.top),
        right: a.right.max(b.right),
        bottom: a.bottom.max(b.bottom),
    });
    Area {
        left: -outward(-all.left),
        top: -outward(-all.top),
        right: outward(all.right),
        bottom: outward(all.bottom),
    }
}

/// The next whole pixel, what comes from rounding left aside.
fn outward(pixels: f64) -> f64 {
    (pixels - 1e-6).ceil()
}

fn bounds(places: impl Iterator<Item = Place>) -> Option<Area> {
    places.fold(None, |area: Option<Area>, p| {
        let a = area.unwrap_or(Area {
            left: p.x,
            top: p.y,
            right: p.x,
            bottom: p.y,
        });
        Some(Area {
            left: a.left.min(p.x),
            top: a.top.min(p.y),
            right: a.right.max(p.x),
            bottom: a.bottom.max(p.y),
        })
    })
}
