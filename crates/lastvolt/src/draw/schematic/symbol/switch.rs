//! Switches and jumpers in their usual position, with the name of the position in which each contact is
//! closed.

use lastvolt_core::device::Switch;
use lastvolt_core::model::{Kind, Part};

use super::boxes;
use super::pen::{Growth, Pen, reach, room};
use super::poles::{common, joined_in, poles, usually_joined};
use crate::draw::lettering::{Letters, width};
use crate::draw::schematic::sheet::{Area, Place, STEP, Side, Stroke, Symbol, Text, TextRole};
use crate::draw::svg::shortened;

/// Where a blade is hinged and where it lands, and the size of a contact.
const HINGE: f64 = -13.0;
const LANDING: f64 = 13.0;
const CONTACT: f64 = 2.5;
/// Room for a name beside the line of a contact.
const ROOM: f64 = 60.0;

/// A symbol a pole.
pub(super) fn symbols(part: &Part, switch: &Switch) -> Vec<Symbol> {
    let poles = poles(part, switch);
    let draw = |pins: &Vec<usize>| pole(part, switch, pins);
    poles.iter().map(draw).collect()
}

fn pole(part: &Part, switch: &Switch, pins: &[usize]) -> Symbol {
    match (pins, common(switch, pins)) {
        ([a, b], Some(_)) => contact(part, switch, *a, *b),
        (_, Some(common)) => {
            let throws: Vec<usize> = pins.iter().copied().filter(|p| *p != common).collect();
            changeover(switch, common, &throws)
        }
        _ => {
            let usual = switch.positions.get(switch.usual);
            boxes::halves(part, pins, usual.map_or("", |p| p.name.as_str()))
        }
    }
}

/// A contact between two pins.
fn contact(part: &Part, switch: &Switch, a: usize, b: usize) -> Symbol {
    let mut pen = Pen::default();
    pen.pin(a, (-3, 0), Side::Left);
    pen.pin(b, (3, 0), Side::Right);
    pen.leads(LANDING + CONTACT);
    pen.ring((HINGE, 0.0), CONTACT);
    pen.ring((LANDING, 0.0), CONTACT);
    let closed = usually_joined(switch, a, b);
    if part.kind == Kind::Jumper {
        bridge(&mut pen, closed);
    } else {
        blade(&mut pen, closed);
    }
    if switch.returns.is_some() {
        button(&mut pen, closed);
    }
    let name = named(&joined_in(switch, a, b), ROOM);
    let below = Growth::Toward(Side::Down);
    pen.text(&name, TextRole::Pin, below, (0.0, 5.0));
    pen.done()
}

fn blade(pen: &mut Pen, closed: bool) {
    if closed {
        pen.line(&[(HINGE + CONTACT, 0.0), (LANDING - CONTACT, 0.0)]);
    } else {
        pen.line(&[(HINGE + 2.2, -1.2), (LANDING - 2.0, -13.0)]);
    }
}

/// A jumper is a cap over two pins; off, it is drawn lifted and broken.
fn bridge(pen: &mut Pen, closed: bool) {
    if closed {
        let (low, high) = (-CONTACT, -8.0);
        pen.line(&[(HINGE, low), (HINGE, high), (LANDING, high), (LANDING, low)]);
    } else {
        let (low, high) = (-8.0, -13.0);
        pen.dashes(&[(HINGE, low), (HINGE, high), (LANDING, high), (LANDING, low)]);
    }
}

/// The sign of a switch that springs back: a button on a broken line to the blade.
fn button(pen: &mut Pen, closed: bool) {
    let (blade, top) = if closed { (0.0, -14.0) } else { (-7.0, -18.0) };
    pen.dashes(&[(0.0, blade), (0.0, top)]);
    pen.line(&[(-5.0, top + 4.0), (-5.0, top), (5.0, top), (5.0, top + 4.0)]);
}

/// A contact that leads one pin to one of several.
fn changeover(switch: &Switch, common: usize, throws: &[usize]) -> Symbol {
    let mut pen = Pen::default();
    pen.pin(common, (-3, 0), Side::Left);
    pen.line(&[(-30.0, 0.0), (HINGE - CONTACT, 0.0)]);
    pen.ring((HINGE, 0.0), CONTACT);
    // The usual throw lies level with the common pin, so that a rail runs straight through.
    let is_usual = |pin: &usize| usually_joined(switch, common, *pin);
    let usual = throws.iter().position(is_usual);
    let first = usual.unwrap_or(0);
    let others = (0..throws.len()).filter(|at| *at != first);
    let rows: Vec<usize> = std::iter::once(first).chain(others).collect();
    let rows: Vec<(usize, i32)> = rows
        .iter()
        .map(|at| throws[*at])
        .zip((0..).step_by(2))
        .collect();
    for (pin, row) in &rows {
        let y = f64::from(*row) * STEP;
        pen.pin(*pin, (3, *row), Side::Right);
        pen.ring((LANDING, y), CONTACT);
        pen.line(&[(LANDING + CONTACT, y), (30.0, y)]);
        if is_usual(pin) {
            pen.line(&swung(LANDING, y));
        }
    }
    if usual.is_none() {
        // Between the first two.
        pen.line(&swung(LANDING - 2.0, STEP));
    }
    if switch.returns.is_some() {
        pen.dashes(&[(-4.0, -14.0), (-4.0, 0.0)]);
        pen.line(&[(-9.0, -10.0), (-9.0, -14.0), (1.0, -14.0), (1.0, -10.0)]);
    }
    for (pin, row) in rows {
        let y = f64::from(row) * STEP;
        name_throw(&mut pen, &joined_in(switch, common, pin), y);
    }
    pen.done()
}

/// A blade from the edge of its hinge to the edge of a contact.
fn swung(x: f64, y: f64) -> [(f64, f64); 2] {
    let (dx, dy) = (x - HINGE, y);
    let far = dx.hypot(dy);
    let (ux, uy) = (dx / far * CONTACT, dy / far * CONTACT);
    [(HINGE + ux, uy), (x - ux, y - uy)]
}

/// The name stands above or below the line of its throw, where more of it has room.
fn name_throw(pen: &mut Pen, names: &[&str], y: f64) {
    let sides = if y <= 0.0 {
        [Side::Up, Side::Down]
    } else {
        [Side::Down, Side::Up]
    };
    let candidate = |side: Side| {
        let most = names.join("/").chars().count();
        (1..=most.min(11)).rev().find_map(|letters| {
            let says = named(names, width(&"m".repeat(letters), 9.0, Letters::Mono) + 0.1);
            let wide = width(&says, TextRole::Pin.size(), Letters::Mono);
            let away = if side == Side::Up { -4.0 } else { 4.0 };
            let hold = (30.0 - wide / 2.0, y + away);
            let mut trial = Pen::default();
            trial.text(&says, TextRole::Pin, Growth::Toward(side), hold);
            let free = trial.texts().iter().all(|t| is_free(pen, t));
            free.then_some((letters, says, hold))
        })
    };
    let found = sides.map(candidate);
    let letters = |at: usize| found[at].as_ref().map_or(0, |f| f.0);
    let best = usize::from(letters(0) < letters(1));
    if let Some((_, says, hold)) = &found[best] {
        let growth = Growth::Toward(sides[best]);
        pen.text(says, TextRole::Pin, growth, *hold);
    }
}

/// Names of positions in so many pixels.
fn named(names: &[&str], room: f64) -> String {
    let letter = width("m", TextRole::Pin.size(), Letters::Mono);
    let mut most = 0;
    while f64::from(most + 1) * letter <= room {
        most += 1;
    }
    shortened(&names.join("/"), usize::try_from(most).unwrap_or(1))
}

/// Whether a text meets no stroke and no other text.
fn is_free(pen: &Pen, text: &Text) -> bool {
    let taken = room(text);
    let texts = pen.texts().iter();
    pen.strokes().iter().all(|s| !crosses(s, taken)) && texts.map(room).all(|r| !meet(r, taken))
}

fn meet(a: Area, b: Area) -> bool {
    a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom
}

/// Whether the pieces of a stroke enter an area; sampled a pixel apart.
fn crosses(stroke: &Stroke, area: Area) -> bool {
    let inside = |p: Place| {
        area.left - 1.0 < p.x
            && p.x < area.right + 1.0
            && area.top - 1.0 < p.y
            && p.y < area.bottom + 1.0
    };
    let corners = reach(stroke);
    let along = |w: &[Place]| {
        (0..=60).any(|n| {
            let t = f64::from(n) / 60.0;
            inside(Place {
                x: w[0].x + t * (w[1].x - w[0].x),
                y: w[0].y + t * (w[1].y - w[0].y),
            })
        })
    };
    corners.windows(2).any(along)
}
