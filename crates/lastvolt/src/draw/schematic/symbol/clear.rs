//! Whether a text of a symbol is clear of its strokes and of its other texts.

use super::pen::{reach, room};
use crate::draw::schematic::sheet::{Area, Place, Stroke, Symbol, Text};
use crate::draw::svg::shortened;

/// Paper about a text that no stroke enters, in pixels.
const PAPER: f64 = 1.0;

/// Whether a text meets no stroke and no other text.
pub(super) fn is_free(text: &Text, strokes: &[Stroke], texts: &[Text]) -> bool {
    let taken = room(text);
    strokes.iter().all(|s| !crosses(s, taken)) && texts.iter().all(|t| !room(t).meets(taken))
}

/// The symbol with its texts shortened until they are clear; those that cannot be are left out.
pub(super) fn cleared(symbol: Symbol) -> Symbol {
    let mut texts: Vec<Text> = Vec::new();
    for text in &symbol.texts {
        let n_letters = text.says.chars().count();
        let shorter = (1..=n_letters).rev().map(|n| Text {
            says: shortened(&text.says, n),
            ..text.clone()
        });
        texts.extend(
            shorter
                .into_iter()
                .find(|t| is_free(t, &symbol.strokes, &texts)),
        );
    }
    Symbol { texts, ..symbol }
}

/// Whether the pieces of a stroke enter an area; sampled closely.
fn crosses(stroke: &Stroke, area: Area) -> bool {
    let inside = |p: Place| {
        area.left - PAPER < p.x
            && p.x < area.right + PAPER
            && area.top - PAPER < p.y
            && p.y < area.bottom + PAPER
    };
    let mut corners = reach(stroke);
    if let Stroke::Shape { .. } = stroke {
        corners.extend(corners.first().copied());
    }
    let along = |w: &[Place]| {
        (0..=100).any(|n| {
            let t = f64::from(n) / 100.0;
            inside(Place {
                x: w[0].x + t * (w[1].x - w[0].x),
                y: w[0].y + t * (w[1].y - w[0].y),
            })
        })
    };
    corners.windows(2).any(along)
}
