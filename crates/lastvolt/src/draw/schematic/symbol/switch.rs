//! Switches and jumpers in their usual position or as they are set, with the name of the position in which each contact is
//! closed.

use lastvolt_core::device::Switch;
use lastvolt_core::model::{Kind, Part};

use super::boxes;
use super::clear::is_free;
use super::pen::{Growth, Pen};
use super::poles::{common, is_joined, joined_in, poles, usually_joined};
use crate::draw::lettering::{Letters, width};
use crate::draw::schematic::sheet::{STEP, Side, Symbol, TextRole};
use crate::draw::svg::shortened;

/// Where a blade is hinged and where it lands, and the size of a contact.
const HINGE: f64 = -13.0;
const LANDING: f64 = 13.0;
const CONTACT: f64 = 2.5;
/// Where the name of a throw ends, clear of the cross of an open pin, and its most characters.
const NAME_ENDS: f64 = 25.0;
const MOST: usize = 10;
/// Room for a name beside the line of a contact.
const ROOM: f64 = 60.0;

/// In which position a switch is drawn.
#[derive(Debug, Clone, Copy)]
pub(super) struct Drawn {
    position: usize,
    /// Whether the others have room too, so that nothing moves when it is set otherwise.
    roomy: bool,
}

/// A symbol a pole: in the usual position, or in one that is set and with room for the others.
pub(super) fn symbols(part: &Part, switch: &Switch, set: Option<usize>) -> Vec<Symbol> {
    let drawn = Drawn {
        position: set.unwrap_or(switch.usual),
        roomy: set.is_some(),
    };
    let poles = poles(part, switch);
    let draw = |pins: &Vec<usize>| pole(part, switch, pins, drawn);
    poles.iter().map(draw).collect()
}

fn pole(part: &Part, switch: &Switch, pins: &[usize], drawn: Drawn) -> Symbol {
    match (pins, common(switch, pins)) {
        ([a, b], Some(_)) => contact(part, switch, (*a, *b), drawn),
        (_, Some(common)) => {
            let throws: Vec<usize> = pins.iter().copied().filter(|p| *p != common).collect();
            changeover(switch, common, &throws, drawn)
        }
        // Where the position has a line of its own beside the box, it is not said in it.
        _ if drawn.roomy => boxes::halves(part, pins, ""),
        _ => {
            let usual = switch.positions.get(switch.usual);
            boxes::halves(part, pins, usual.map_or("", |p| p.name.as_str()))
        }
    }
}

/// A contact between two pins.
fn contact(part: &Part, switch: &Switch, (a, b): (usize, usize), drawn: Drawn) -> Symbol {
    let mut pen = Pen::default();
    pen.pin(a, (-3, 0), Side::Left);
    pen.pin(b, (3, 0), Side::Right);
    pen.leads(LANDING + CONTACT);
    pen.ring((HINGE, 0.0), CONTACT);
    pen.ring((LANDING, 0.0), CONTACT);
    let joined = is_joined(switch, drawn.position, a, b);
    let ways = [joined, !joined];
    for closed in ways.into_iter().take(1 + usize::from(drawn.roomy)) {
        let look = Look {
            closed,
            now: closed == joined,
        };
        if part.kind == Kind::Jumper {
            bridge(&mut pen, look);
        } else {
            blade(&mut pen, look);
        }
        if switch.returns.is_some() {
            button(&mut pen, look);
        }
    }
    let name = named(&joined_in(switch, a, b), ROOM);
    let below = Growth::Toward(Side::Down);
    pen.text(&name, TextRole::Pin, below, (0.0, 5.0));
    pen.done()
}

/// A contact as it is drawn.
#[derive(Clone, Copy)]
struct Look {
    closed: bool,
    /// Whether it stands so now; else it only takes the room.
    now: bool,
}

fn blade(pen: &mut Pen, Look { closed, now }: Look) {
    let ends = if closed {
        [(HINGE + CONTACT, 0.0), (LANDING - CONTACT, 0.0)]
    } else {
        [(HINGE + 2.2, -1.2), (LANDING - 2.0, -13.0)]
    };
    pen.line_where(now, &ends);
}

/// A jumper is a cap over two pins; off, it is drawn lifted and broken.
fn bridge(pen: &mut Pen, Look { closed, now }: Look) {
    let (low, high) = if closed {
        (-CONTACT, -8.0)
    } else {
        (-8.0, -13.0)
    };
    let cap = [(HINGE, low), (HINGE, high), (LANDING, high), (LANDING, low)];
    if closed {
        pen.line_where(now, &cap);
    } else {
        pen.dashes_where(now, &cap);
    }
}

/// The sign of a switch that springs back: a button on a broken line to the blade.
fn button(pen: &mut Pen, Look { closed, now }: Look) {
    let (blade, top) = if closed { (0.0, -14.0) } else { (-7.0, -18.0) };
    pen.dashes_where(now, &[(0.0, blade), (0.0, top)]);
    let cap = [(-5.0, top + 4.0), (-5.0, top), (5.0, top), (5.0, top + 4.0)];
    pen.line_where(now, &cap);
}

/// A contact that leads one pin to one of several.
fn changeover(switch: &Switch, common: usize, throws: &[usize], drawn: Drawn) -> Symbol {
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
        let now = is_joined(switch, drawn.position, common, *pin);
        if now || drawn.roomy {
            pen.line_where(now, &swung(LANDING, y));
        }
    }
    let on_none = |position: usize| {
        let mut throws = throws.iter();
        !throws.any(|pin| is_joined(switch, position, common, *pin))
    };
    let now = on_none(drawn.position);
    if now || (drawn.roomy && (0..switch.positions.len()).any(on_none)) {
        // Between the first two.
        pen.line_where(now, &swung(LANDING - 2.0, STEP));
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
        (1..=most.min(MOST)).rev().find_map(|letters| {
            let says = named(names, width(&"m".repeat(letters), 9.0, Letters::Mono) + 0.1);
            let wide = width(&says, TextRole::Pin.size(), Letters::Mono);
            let away = if side == Side::Up { -4.0 } else { 4.0 };
            let hold = (NAME_ENDS - wide / 2.0, y + away);
            let mut trial = Pen::default();
            trial.text(&says, TextRole::Pin, Growth::Toward(side), hold);
            let free = trial
                .texts()
                .iter()
                .all(|t| is_free(t, pen.strokes(), pen.texts()));
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
