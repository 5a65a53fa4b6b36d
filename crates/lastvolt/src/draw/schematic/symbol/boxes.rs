//! Parts that are drawn as a box with the names of their pins inside: regulators, detectors, load
//! switches, ideal diodes, and whatever has no symbol of its own. And the test point.

use lastvolt_core::device::Topology;
use lastvolt_core::model::Part;

use super::pen::{Growth, Pen};
use crate::draw::lettering::{Letters, width};
use crate::draw::schematic::names;
use crate::draw::schematic::sheet::{STEP, Side, Symbol, TextRole};
use crate::draw::svg::shortened;

/// Least half width of a box, in steps.
const LEAST_HALF: i32 = 5;
/// Steps from one row of pins to the next where a text stands between them, and where none does.
const WIDE_ROW: i32 = 3;
const ROW: i32 = 2;
/// Most characters of a pin's name.
const MOST: usize = 12;
/// Paper between a name and the frame, in pixels.
const INSET: f64 = 4.0;

/// Which pins leave a box where, as places in the part's list of pins.
#[derive(Default)]
struct Sides {
    left: Vec<usize>,
    right: Vec<usize>,
    bottom: Vec<usize>,
    top: Vec<(usize, i32)>,
}

pub(super) fn regulator(part: &Part, topology: Topology) -> Symbol {
    plain(
        part,
        match topology {
            Topology::Linear => "linear",
            Topology::Buck => "step-down",
            Topology::Boost => "step-up",
            Topology::BuckBoost => "step-up/down",
        },
    )
}

/// A box with a word inside that says what it does.
pub(super) fn plain(part: &Part, word: &str) -> Symbol {
    boxed(part, &sides(part), word)
}

/// A box with the first half of some pins to the left and the others to the right.
pub(super) fn halves(part: &Part, pins: &[usize], word: &str) -> Symbol {
    let (left, right) = pins.split_at(pins.len().div_ceil(2));
    let sides = Sides {
        left: left.to_vec(),
        right: right.to_vec(),
        ..Sides::default()
    };
    boxed(part, &sides, word)
}

pub(super) fn test_point() -> Symbol {
    let mut pen = Pen::default();
    pen.pin(0, (0, 0), Side::Down);
    pen.line(&[(0.0, 0.0), (0.0, -6.0)]);
    pen.ring((0.0, -10.0), 4.0);
    pen.done()
}

/// The places of pins by the names that their kind gives them.
fn sides(part: &Part) -> Sides {
    let mut sides = Sides::default();
    let mut rest = Vec::new();
    for (at, pin) in part.pins.iter().enumerate() {
        match pin.name.as_str() {
            "in" => sides.left.insert(0, at),
            "enable" => sides.left.push(at),
            "out" => sides.right.insert(0, at),
            "fb" => sides.right.push(at),
            "gnd" if sides.bottom.is_empty() => sides.bottom.push(at),
            "sw" | "sw1" if sides.top.is_empty() => sides.top.push((at, -2)),
            "sw2" => sides.top.push((at, 2)),
            _ => rest.push(at),
        }
    }
    for at in rest {
        if sides.left.len() <= sides.right.len() {
            sides.left.push(at);
        } else {
            sides.right.push(at);
        }
    }
    sides
}

fn boxed(part: &Part, sides: &Sides, word: &str) -> Symbol {
    let names: Vec<&str> = part.pins.iter().map(|p| p.name.as_str()).collect();
    let names = names::apart(&names, MOST);
    let name = |pin: usize| names.get(pin).cloned().unwrap_or_default();
    let word = shortened(word, 18);
    let half = half_width(sides, &name, &word);
    let edge = f64::from(half) * STEP;
    let rows = sides.left.len().max(sides.right.len());
    let lines: Vec<&str> = match rows {
        0 | 1 => word.split(' ').collect(),
        _ => vec![word.as_str()],
    };
    let last_row = row(rows.saturating_sub(1));
    let bottom = match (sides.bottom.is_empty(), rows) {
        (true, 0 | 1) if 1 < lines.len() => 4,
        (true, 0 | 1) => 3,
        (true, _) => last_row + 2,
        (false, 0 | 1) if 1 < lines.len() => 5,
        (false, 0 | 1) => 4,
        (false, _) => last_row + 2,
    };
    let top = if sides.top.is_empty() { -14.0 } else { -20.0 };
    let foot = f64::from(bottom) * STEP;
    let mut pen = Pen::default();
    pen.frame([-edge, top, edge, foot]);
    for (at, line) in (0_i16..).zip(&lines) {
        let from_middle = f64::from(2 * at + 1) - lines.len() as f64;
        let y = 15.0 + from_middle * 6.0;
        pen.text(line, TextRole::Value, Growth::About, (0.0, y));
    }
    let mut put = |pin: usize, at: (i32, i32), side: Side| {
        pen.pin(pin, at, side);
        let end = (f64::from(at.0) * STEP, f64::from(at.1) * STEP);
        let inner = STEP + INSET;
        let (corner, hold, inward) = match side {
            Side::Left => ((-edge, end.1), (end.0 + inner, end.1), Side::Right),
            Side::Right => ((edge, end.1), (end.0 - inner, end.1), Side::Left),
            Side::Up => ((end.0, top), (end.0, end.1 + inner), Side::Down),
            Side::Down => ((end.0, foot), (end.0, end.1 - inner), Side::Up),
        };
        pen.line(&[end, corner]);
        pen.text(&name(pin), TextRole::Pin, Growth::Toward(inward), hold);
    };
    for (at, pin) in sides.left.iter().enumerate() {
        put(*pin, (-half - 1, row(at)), Side::Left);
    }
    for (at, pin) in sides.right.iter().enumerate() {
        put(*pin, (half + 1, row(at)), Side::Right);
    }
    for pin in &sides.bottom {
        put(*pin, (0, bottom + 1), Side::Down);
    }
    for (pin, x) in &sides.top {
        put(*pin, (*x, -3), Side::Up);
    }
    pen.done()
}

/// The first two rows leave room for the word between them.
fn row(at: usize) -> i32 {
    match i32::try_from(at).unwrap_or(i32::MAX / 8) {
        0 => 0,
        at => WIDE_ROW + (at - 1) * ROW,
    }
}

/// Half the width that the names and the word take, in steps.
fn half_width(sides: &Sides, name: &impl Fn(usize) -> String, word: &str) -> i32 {
    let of = |pins: &[usize]| {
        let widths = pins
            .iter()
            .map(|p| width(&name(*p), TextRole::Pin.size(), Letters::Mono));
        widths.fold(0.0, f64::max)
    };
    let word = width(word, TextRole::Value.size(), Letters::Mono) + 2.0 * INSET;
    let names = of(&sides.left) + of(&sides.right) + 4.0 * INSET;
    let mut half = LEAST_HALF;
    while f64::from(2 * half) * STEP < word.max(names) {
        half += 1;
    }
    half
}
