//! Symbols turned by quarters and mirrored. Texts stay upright: they keep what they hang on and the side
//! to which they grow from it.

use super::clear::cleared;
use super::pen::{Growth, covered, middle_of, room, set};
use crate::draw::schematic::sheet::{
    Place, STEP, Side, Spot, Stroke, Symbol, Terminal, Text, TextRole,
};
use crate::draw::svg::Anchor;

/// How far a pin's name may stand from the end of its wire, in pixels.
const NEAR: f64 = 20.0;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Move {
    /// A quarter to the right.
    Quarter,
    /// Left becomes right.
    Mirror,
}

impl Symbol {
    /// Turned to the right by so many quarters. Texts of boxes and of poles of many throws have less room
    /// where these stand on a side: there they are shortened.
    pub(crate) fn turned(&self, quarters: u8) -> Self {
        let turned = (0..quarters % 4).fold(self.clone(), |s, _| moved(&s, Move::Quarter));
        if quarters.is_multiple_of(2) || self.terminals.len() < 3 {
            return turned;
        }
        let mut cleared = cleared(turned);
        cleared.body = covered(&cleared);
        cleared
    }

    /// Left and right changed; two quarters more change top and bottom instead.
    pub(crate) fn mirrored(&self) -> Self {
        moved(self, Move::Mirror)
    }
}

/// A quarter to the right with all texts in full.
#[cfg(test)]
pub(super) fn unshortened(symbol: &Symbol) -> Symbol {
    moved(symbol, Move::Quarter)
}

impl Move {
    fn place(self, p: Place) -> Place {
        let (x, y) = match self {
            Self::Quarter => (-p.y, p.x),
            Self::Mirror => (-p.x, p.y),
        };
        Place { x, y }
    }

    fn spot(self, Spot { x, y }: Spot) -> Spot {
        let (x, y) = match self {
            Self::Quarter => (-y, x),
            Self::Mirror => (-x, y),
        };
        Spot { x, y }
    }

    fn side(self, side: Side) -> Side {
        match (self, side) {
            (Self::Quarter, Side::Left) => Side::Up,
            (Self::Quarter, Side::Up) | (Self::Mirror, Side::Left) => Side::Right,
            (Self::Quarter, Side::Right) => Side::Down,
            (Self::Quarter, Side::Down) | (Self::Mirror, Side::Right) => Side::Left,
            (Self::Mirror, other) => other,
        }
    }

    fn stroke(self, stroke: &Stroke) -> Stroke {
        let all = |places: &[Place]| places.iter().map(|p| self.place(*p)).collect();
        match stroke {
            Stroke::Line(points) => Stroke::Line(all(points)),
            Stroke::Dashes(points) => Stroke::Dashes(all(points)),
            Stroke::Room(points) => Stroke::Room(all(points)),
            Stroke::Shape { corners, filled } => Stroke::Shape {
                corners: all(corners),
                filled: *filled,
            },
            Stroke::Ring {
                centre,
                radius,
                filled,
            } => Stroke::Ring {
                centre: self.place(*centre),
                radius: *radius,
                filled: *filled,
            },
            Stroke::Bows { from, to, count } => {
                let (from, to) = (self.place(*from), self.place(*to));
                // A mirror changes left and right of the way; walking it backwards changes them again.
                let (from, to) = match self {
                    Self::Quarter => (from, to),
                    Self::Mirror => (to, from),
                };
                let count = *count;
                Stroke::Bows { from, to, count }
            }
        }
    }

    fn text(self, text: &Text, terminals: &[Terminal]) -> Text {
        let (growth, hold) = hanging(text, terminals);
        let growth = match growth {
            Growth::Toward(side) => Growth::Toward(self.side(side)),
            Growth::About => Growth::About,
        };
        set(text.says.clone(), text.role, growth, self.place(hold))
    }
}

fn moved(symbol: &Symbol, how: Move) -> Symbol {
    let terminal = |t: &Terminal| Terminal {
        pin: t.pin,
        at: how.spot(t.at),
        side: how.side(t.side),
    };
    let texts = symbol.texts.iter();
    let mut moved = Symbol {
        strokes: symbol.strokes.iter().map(|s| how.stroke(s)).collect(),
        terminals: symbol.terminals.iter().map(terminal).collect(),
        texts: texts.map(|t| how.text(t, &symbol.terminals)).collect(),
        body: symbol.body,
    };
    moved.body = covered(&moved);
    moved
}

/// What a text hangs on, and to which side it grows from there.
fn hanging(text: &Text, terminals: &[Terminal]) -> (Growth, Place) {
    let middle = middle_of(text);
    let x = text.at.x;
    match text.anchor {
        Anchor::Start => return (Growth::Toward(Side::Right), Place { x, y: middle }),
        Anchor::End => return (Growth::Toward(Side::Left), Place { x, y: middle }),
        Anchor::Middle => {}
    }
    let taken = room(text);
    let top = Place { x, y: taken.top };
    let bottom = Place { x, y: taken.bottom };
    let under = |side: Side, edge: f64| {
        terminals.iter().any(|t| {
            let (at_x, at_y) = (f64::from(t.at.x) * STEP, f64::from(t.at.y) * STEP);
            t.side == side && (at_x - x).abs() < 0.5 && (edge - at_y).abs() < NEAR
        })
    };
    if text.role != TextRole::Pin {
        (Growth::About, Place { x, y: middle })
    } else if under(Side::Up, taken.top) {
        (Growth::Toward(Side::Down), top)
    } else if under(Side::Down, taken.bottom) {
        (Growth::Toward(Side::Up), bottom)
    } else if 0.0 < taken.top {
        (Growth::Toward(Side::Down), top)
    } else if taken.bottom < 0.0 {
        (Growth::Toward(Side::Up), bottom)
    } else {
        (Growth::About, Place { x, y: middle })
    }
}
