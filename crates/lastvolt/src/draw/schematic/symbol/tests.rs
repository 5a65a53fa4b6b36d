//! What holds for every symbol in every position; and a sheet of all of them to look at.

mod sheet_of_all;

use lastvolt_core::device::Channel;
use lastvolt_core::model::{Board, Device, Kind};
use lastvolt_input::{Text as Source, read};

use super::{pieces, room};
use crate::draw::schematic::sheet::{Area, Piece, Place, STEP, Side, Stroke, Symbol, TextRole};

const FAMILY: &str = r#"
[family]
name   = "Fixture"
boards = ["board.toml"]
[requirement]
ambient = { low = "0 degC", usual = "20 degC", high = "40 degC" }
[connector]
pins = ["A", "GND"]
[loads.siren.states]
quiet = "2 uA"
[profiles.day]
base = { siren = "quiet" }
"#;

/// The only board of a family with one siren.
pub(super) fn board(text: &str) -> Board {
    let source = |name: &str, text: &str| Source {
        name: name.to_owned(),
        text: text.to_owned(),
    };
    let loaded = read(&[source("family.toml", FAMILY), source("board.toml", text)]);
    let family = loaded.family.unwrap_or_else(|| {
        panic!("the fixture has problems: {:#?}", loaded.problems);
    });
    family.boards[0].clone()
}

pub(super) fn every_kind() -> Board {
    board(include_str!("tests/every-kind.toml"))
}

/// Every piece in its eight positions.
pub(super) fn positions(symbol: &Symbol) -> Vec<Symbol> {
    let turned = (0..4).map(|n| symbol.turned(n));
    turned.flat_map(|s| [s.mirrored(), s]).collect()
}

fn names(board: &Board, piece: &Piece) -> String {
    format!("{} piece {}", board.parts[piece.part].name, piece.piece)
}

#[test]
fn the_fixture_has_every_kind() {
    let board = every_kind();
    for kind in Kind::ALL {
        let has = board.parts.iter().any(|p| p.kind == kind);
        assert!(has, "{kind:?} is missing in the fixture");
    }
}

#[test]
fn every_pin_is_in_exactly_one_piece() {
    let board = every_kind();
    let pieces = pieces(&board);
    for (at, part) in board.parts.iter().enumerate() {
        let of_part = pieces.iter().filter(|p| p.part == at);
        let terminals = of_part.flat_map(|p| &p.symbol.terminals);
        let mut pins: Vec<usize> = terminals.map(|t| t.pin).collect();
        pins.sort_unstable();
        let all: Vec<usize> = (0..part.pins.len()).collect();
        assert_eq!(pins, all, "{}", part.name);
    }
}

#[test]
fn terminals_stand_on_the_edge_that_their_wire_leaves() {
    let board = every_kind();
    for piece in pieces(&board) {
        for symbol in positions(&piece.symbol) {
            for t in &symbol.terminals {
                let (x, y) = (f64::from(t.at.x) * STEP, f64::from(t.at.y) * STEP);
                let b = symbol.body;
                let (edge, at) = match t.side {
                    Side::Left => (b.left, x),
                    Side::Right => (b.right, x),
                    Side::Up => (b.top, y),
                    Side::Down => (b.bottom, y),
                };
                assert_eq!(edge, at, "{} {t:?}", names(&board, &piece));
                assert!(b.left <= x && x <= b.right && b.top <= y && y <= b.bottom);
            }
        }
    }
}

#[test]
fn no_two_terminals_share_a_place() {
    let board = every_kind();
    for piece in pieces(&board) {
        let mut spots: Vec<_> = piece.symbol.terminals.iter().map(|t| t.at).collect();
        let n_terminals = spots.len();
        spots.sort_unstable();
        spots.dedup();
        assert_eq!(spots.len(), n_terminals, "{}", names(&board, &piece));
    }
}

fn within(inner: Area, outer: Area) -> bool {
    outer.left <= inner.left + 1e-6
        && inner.right <= outer.right + 1e-6
        && outer.top <= inner.top + 1e-6
        && inner.bottom <= outer.bottom + 1e-6
}

#[test]
fn texts_and_strokes_stay_inside_however_the_symbol_is_turned() {
    let board = every_kind();
    for piece in pieces(&board) {
        for symbol in positions(&piece.symbol) {
            for text in &symbol.texts {
                let inside = within(room(text), symbol.body);
                assert!(inside, "{} {text:?}", names(&board, &piece));
            }
            for place in symbol.strokes.iter().flat_map(super::pen::reach) {
                let dot = Area {
                    left: place.x,
                    top: place.y,
                    right: place.x,
                    bottom: place.y,
                };
                let inside = within(dot, symbol.body);
                assert!(inside, "{} {place:?}", names(&board, &piece));
            }
        }
    }
}

/// Whether two symbols are the same but for rounding.
fn alike(a: &Symbol, b: &Symbol) -> bool {
    let near = |a: f64, b: f64| (a - b).abs() < 1e-6;
    let places = |s: &Symbol| -> Vec<_> { s.strokes.iter().flat_map(super::pen::reach).collect() };
    let strokes = places(a)
        .iter()
        .zip(places(b))
        .all(|(p, q)| near(p.x, q.x) && near(p.y, q.y));
    let texts = a.texts.iter().zip(&b.texts).all(|(p, q)| {
        p.says == q.says && p.anchor == q.anchor && near(p.at.x, q.at.x) && near(p.at.y, q.at.y)
    });
    a.terminals == b.terminals && a.body == b.body && strokes && texts
}

#[test]
fn four_quarters_and_two_mirrors_change_nothing() {
    let board = every_kind();
    for piece in pieces(&board) {
        let symbol = &piece.symbol;
        // Where texts are shortened by a quarter, it is two halves that change nothing.
        let short = symbol.turned(1).texts != super::turn::unshortened(symbol).texts;
        let step = if short { 2 } else { 1 };
        let four = (0..4 / step).fold(symbol.clone(), |s, _| s.turned(step));
        let same = [
            four,
            symbol.turned(4),
            symbol.mirrored().mirrored(),
            symbol.mirrored().turned(2).mirrored().turned(2),
        ];
        for (at, other) in same.iter().enumerate() {
            assert!(alike(symbol, other), "{} {at}", names(&board, &piece));
        }
        assert!(!alike(symbol, &symbol.turned(1)), "a quarter changes it");
    }
}

#[test]
fn texts_of_symbols_do_not_meet_in_their_usual_positions() {
    let board = every_kind();
    for piece in pieces(&board) {
        for symbol in positions(&piece.symbol) {
            for (at, text) in symbol.texts.iter().enumerate() {
                for other in &symbol.texts[at + 1..] {
                    let (a, b) = (room(text), room(other));
                    let apart = a.right <= b.left + 1e-6
                        || b.right <= a.left + 1e-6
                        || a.bottom <= b.top + 1e-6
                        || b.bottom <= a.top + 1e-6;
                    assert!(apart, "{}: {text:?} {other:?}", names(&board, &piece));
                }
            }
        }
    }
}

#[test]
fn lines_are_short_and_begin_with_the_designator() {
    let board = every_kind();
    for piece in pieces(&board) {
        let part = &board.parts[piece.part];
        let (role, first) = &piece.lines[0];
        assert_eq!(*role, TextRole::Designator);
        assert!(first.starts_with(&part.name), "{first}");
        for (_, line) in &piece.lines {
            let n = line.chars().count();
            assert!(0 < n && n <= 14, "{line}");
        }
    }
    let line = |name: &str| {
        let piece = pieces(&board);
        let mut of = piece.iter().filter(|p| board.parts[p.part].name == name);
        of.next().map(|p| p.lines.clone()).unwrap_or_default()
    };
    assert_eq!(line("R1")[1].1, "10\u{a0}kΩ");
    assert_eq!(line("R1")[2].1, "±1\u{a0}%");
    assert_eq!(line("C1")[1].1, "22\u{a0}µF");
    assert_eq!(line("C1")[2].1, "6.3\u{a0}V");
    assert_eq!(line("U2")[1].1, "boost-ultra-");
    assert_eq!(line("U2")[2].1, "low-quiescent");
    assert_eq!(line("BT2")[1].1, "2 × LR03");
    assert_eq!(line("J1")[1].1, "5\u{a0}V USB");
    assert_eq!(line("S2")[0].1, "S2.A");
}

#[test]
fn poles_of_a_switch_are_what_its_positions_join() {
    let board = every_kind();
    let pins = |name: &str| -> Vec<Vec<usize>> {
        let all = pieces(&board);
        let of = all.iter().filter(|p| board.parts[p.part].name == name);
        of.map(|p| p.symbol.terminals.iter().map(|t| t.pin).collect())
            .collect()
    };
    // The common pin comes first, then the usual throw.
    assert_eq!(pins("S1"), [vec![1, 0, 2]]);
    assert_eq!(pins("S2"), [vec![0, 1, 2], vec![3, 4]]);
    assert_eq!(pins("S4"), [vec![0, 2, 1, 3, 4]]);
    assert_eq!(pins("S5"), [vec![0, 1, 2, 3]]);
}

#[test]
fn bars_of_diodes_follow_from_their_forward_voltage() {
    let board = every_kind();
    let bar = |name: &str| {
        let all = pieces(&board);
        let piece = all.iter().find(|p| board.parts[p.part].name == name);
        let strokes = &piece.expect("a piece").symbol.strokes;
        let lines = strokes.iter().map(|s| match s {
            Stroke::Line(points) => points.len(),
            _ => 0,
        });
        lines.max()
    };
    assert_eq!(bar("D1"), Some(2));
    assert_eq!(bar("D2"), Some(6));
    assert_eq!(bar("D3"), Some(3));
}

#[test]
fn the_usual_throw_lies_level_with_the_common_pin() {
    let board = every_kind();
    for piece in pieces(&board) {
        let part = &board.parts[piece.part];
        let lastvolt_core::model::Device::Switch(switch) = &part.device else {
            continue;
        };
        let [common, rest @ ..] = piece.symbol.terminals.as_slice() else {
            continue;
        };
        let level: Vec<usize> = rest.iter().filter(|t| t.at.y == 0).map(|t| t.pin).collect();
        let closed = &switch.positions[switch.usual].closed;
        let closed: Vec<usize> = closed
            .iter()
            .filter_map(|&(a, b)| match common.pin {
                c if c == a => Some(b),
                c if c == b => Some(a),
                _ => None,
            })
            .collect();
        // The one pole of the fixture that has no common pin is a box.
        if !closed.is_empty() && part.name != "S5" {
            assert_eq!(level, closed, "{}", names(&board, &piece));
        }
    }
}

/// Where the terminal of a pin of this name stands.
fn terminal(board: &Board, piece: &Piece, symbol: &Symbol, name: &str) -> Option<Place> {
    let pins = &board.parts[piece.part].pins;
    let mut all = symbol.terminals.iter();
    let found = all.find(|t| pins[t.pin].name == name)?;
    Some(found.at.place())
}

fn far(a: Place, b: Place) -> f64 {
    (a.x - b.x).hypot(a.y - b.y)
}

fn middle(points: &[Place]) -> Place {
    let n = points.len() as f64;
    Place {
        x: points.iter().map(|p| p.x).sum::<f64>() / n,
        y: points.iter().map(|p| p.y).sum::<f64>() / n,
    }
}

/// The corner that is opposite to the shortest side of a hollow triangle.
fn tip(symbol: &Symbol) -> Option<Place> {
    symbol.strokes.iter().find_map(|s| match s {
        Stroke::Shape {
            corners,
            filled: false,
        } if corners.len() == 3 => {
            let side = |at: usize| far(corners[(at + 1) % 3], corners[(at + 2) % 3]);
            (0..3)
                .min_by(|a, b| side(*a).total_cmp(&side(*b)))
                .map(|at| corners[at])
        }
        _ => None,
    })
}

#[test]
fn tips_of_diodes_point_to_the_cathode_however_the_symbol_is_turned() {
    let board = every_kind();
    let mut seen = 0;
    for piece in pieces(&board) {
        let (from, to) = match &board.parts[piece.part].device {
            Device::Diode(_) | Device::Zener(_) | Device::Led(_) => ("anode", "cathode"),
            Device::Fet(f) if f.channel == Channel::N => ("source", "drain"),
            Device::Fet(_) => ("drain", "source"),
            _ => continue,
        };
        for symbol in positions(&piece.symbol) {
            let tip = tip(&symbol).expect("a triangle");
            let at = |name| terminal(&board, &piece, &symbol, name).expect("a pin");
            let points = far(tip, at(to)) < far(tip, at(from));
            assert!(points, "{}", names(&board, &piece));
            seen += 1;
        }
    }
    assert!(5 * 8 <= seen, "{seen}");
}

#[test]
fn the_plus_of_a_source_is_at_its_plus_pin_however_it_is_turned() {
    let board = every_kind();
    let mut seen = 0;
    for piece in pieces(&board) {
        let device = &board.parts[piece.part].device;
        for symbol in positions(&piece.symbol) {
            let at = |name| terminal(&board, &piece, &symbol, name);
            let nearest = |marks: &[Place], to: Place| {
                let all = marks.iter().map(|m| far(*m, to));
                all.fold(f64::INFINITY, f64::min)
            };
            let (plus, minus): (Vec<Place>, Vec<Place>) = match device {
                Device::Cell(_) => {
                    let plates = |least: f64, most: f64| -> Vec<Place> {
                        let long = symbol.strokes.iter().filter_map(|s| match s {
                            Stroke::Line(p) if p.len() == 2 => Some(p),
                            _ => None,
                        });
                        let long = long.filter(|p| (least..most).contains(&far(p[0], p[1])));
                        long.map(|p| middle(p)).collect()
                    };
                    (plates(25.0, 27.0), plates(11.9, 12.1))
                }
                Device::Supply(_) => {
                    let says = |sign: &str| -> Vec<Place> {
                        let of = symbol.texts.iter().filter(|t| t.says == sign);
                        of.map(|t| {
                            let r = room(t);
                            Place {
                                x: f64::midpoint(r.left, r.right),
                                y: f64::midpoint(r.top, r.bottom),
                            }
                        })
                        .collect()
                    };
                    (says("+"), says("\u{2212}"))
                }
                _ => continue,
            };
            assert!(!plus.is_empty() && !minus.is_empty());
            for (pin, near, other) in [("plus", &plus, &minus), ("minus", &minus, &plus)] {
                let pin = at(pin).expect("a pin");
                let right = nearest(near, pin) < nearest(other, pin);
                assert!(right, "{}", names(&board, &piece));
            }
            seen += 1;
        }
    }
    assert!(2 * 8 <= seen);
}

#[test]
fn a_pole_with_a_spare_pin_has_no_common_one() {
    let mut board = every_kind();
    let switch = board.parts.iter_mut().find(|p| p.name == "S1");
    let part = switch.expect("a switch");
    let Device::Switch(device) = &mut part.device else {
        panic!("a switch");
    };
    for position in &mut device.positions {
        position.closed.retain(|j| *j == (0, 1) || *j == (1, 0));
    }
    let Device::Switch(device) = &part.device else {
        panic!("a switch");
    };
    assert!(device.positions.iter().any(|p| !p.closed.is_empty()));
    let poles = super::poles::poles(part, device);
    assert_eq!(poles, [vec![0, 1, 2]]);
    assert_eq!(super::poles::common(device, &poles[0]), None);
    assert_eq!(super::poles::common(device, &[0, 1]), Some(0));
}
