//! Drawings of the example's boards and of small ones: rails are straight, wires keep out of bodies,
//! nothing is dropped.

use lastvolt_core::model::{Board, Family};

use super::place::graph::Graph;
use super::sheet::{Area, Side};
use super::words::example;
use super::{Schematic, schematic};

fn coin() -> (Family, Board) {
    let family = example();
    let board = family
        .board("coin")
        .expect("a board of the example")
        .clone();
    (family, board)
}

fn net(board: &Board, name: &str) -> usize {
    board.nets.iter().position(|n| n == name).expect("a net")
}

/// Straight pieces of all wires, as areas without width, with their nets.
fn lines(of: &Schematic) -> Vec<(usize, Area)> {
    let groups = of
        .wires
        .nets
        .iter()
        .flat_map(|w| w.groups.iter().map(|g| (w.net, g)));
    groups
        .flat_map(|(net, group)| {
            let pairs = group.wires.iter().flat_map(|w| w.windows(2));
            pairs.map(move |p| {
                let (a, b) = (p[0].min(p[1]).place(), p[0].max(p[1]).place());
                let area = Area {
                    left: a.x.min(b.x),
                    top: a.y.min(b.y),
                    right: a.x.max(b.x),
                    bottom: a.y.max(b.y),
                };
                (net, area)
            })
        })
        .collect()
}

#[test]
fn every_part_is_drawn_once_a_piece_whatever_the_board() {
    let family = example();
    for board in &family.boards {
        let drawn = schematic(&family, board, None);
        let mut pieces: Vec<usize> = drawn.plan.placed.iter().map(|p| p.piece).collect();
        pieces.sort_unstable();
        let all: Vec<usize> = (0..drawn.pieces.len()).collect();
        assert_eq!(pieces, all, "{}", board.name);
    }
}

#[test]
fn a_rail_runs_straight_from_the_protection_to_the_connector() {
    let (family, board) = coin();
    let drawn = schematic(&family, &board, None);
    let rail = net(&board, "VDD");
    let interface = drawn.plan.interface.as_ref().expect("a connector");
    let at = interface
        .pins
        .iter()
        .find(|p| p.0 == "VDD")
        .expect("a pin")
        .2;
    let level = at.place().y;
    let own = lines(&drawn).into_iter().filter(|(n, _)| *n == rail);
    let level_lines = own.filter(|(_, a)| a.left < a.right);
    assert!(level_lines.clone().count() > 2);
    assert!(
        level_lines
            .into_iter()
            .all(|(_, a)| a.top == level && a.bottom == level)
    );
}

#[test]
fn what_shunts_the_rail_hangs_upright_under_it() {
    let (family, board) = coin();
    let drawn = schematic(&family, &board, None);
    for name in ["C1", "C2", "R1", "DS1", "BT1"] {
        let placed = drawn.plan.placed.iter();
        let mut placed = placed.filter(|p| board.parts[drawn.pieces[p.piece].part].name == name);
        let of = placed.next().expect("a part in its place");
        let sides: Vec<Side> = of.symbol.terminals.iter().map(|t| t.side).collect();
        assert!(
            sides.contains(&Side::Up) && sides.contains(&Side::Down),
            "{name}: {sides:?}"
        );
    }
}

#[test]
fn wires_keep_out_of_bodies_and_texts() {
    let family = example();
    for board in &family.boards {
        let drawn = schematic(&family, board, None);
        for placed in &drawn.plan.placed {
            let mut areas = placed.text_areas();
            areas.push(placed.body());
            for (net, line) in lines(&drawn) {
                let line = line.grown(0.5);
                let through = areas.iter().any(|a| line.meets(a.grown(-0.5)));
                assert!(!through, "{}: {}", board.name, board.nets[net]);
            }
        }
    }
}

#[test]
fn a_board_without_parts_or_source_is_drawn() {
    let (family, mut board) = coin();
    board.parts.retain(|p| p.name != "BT1");
    let without_source = schematic(&family, &board, None);
    assert_eq!(
        without_source.plan.placed.len(),
        without_source.pieces.len()
    );
    board.parts.clear();
    let empty = schematic(&family, &board, None);
    assert!(empty.alone().contains("class=\"connector\""));
}

#[test]
fn in_rows_every_pin_has_its_name_or_its_ground() {
    let (family, board) = coin();
    let pieces = super::symbol::pieces(&board);
    let ground = Some(net(&board, "GND"));
    let graph = Graph::new(&board, &pieces, ground);
    let plan = super::place::rows(
        &graph,
        &family.connector.pins,
        &super::place::Wish::default(),
    );
    let wires = super::route::route(&graph, &plan);
    assert!(wires.failed.is_empty());
    let groups: Vec<_> = wires.nets.iter().flat_map(|w| &w.groups).collect();
    assert!(
        groups
            .iter()
            .all(|g| g.name.is_some() || g.ground.is_some())
    );
    let pins: usize = pieces.iter().map(|p| p.symbol.terminals.len()).sum();
    let at_connector = family
        .connector
        .pins
        .iter()
        .filter(|p| board.nets.contains(p))
        .count();
    assert_eq!(groups.len(), pins + at_connector);
}

#[test]
fn names_of_files_are_short_and_differ_without_regard_to_case() {
    let (mut family, board) = coin();
    let named = |name: String| Board {
        name,
        ..board.clone()
    };
    family.boards = vec![named("Coin".to_owned()), named("coin".to_owned())];
    let file = |at: usize| super::file_name(&family, &[&family.boards[at]]).to_lowercase();
    assert_ne!(file(0), file(1));
    family.boards = (0..12)
        .map(|n| named(format!("{n}{}", " ".repeat(62))))
        .collect();
    let all: Vec<&Board> = family.boards.iter().collect();
    let together = super::file_name(&family, &all);
    assert!(together.len() <= 200, "{together}");
    let mut each: Vec<String> = all
        .iter()
        .map(|b| super::file_name(&family, &[b]))
        .collect();
    assert!(each.iter().all(|n| n.len() <= 200));
    each.sort();
    each.dedup();
    assert_eq!(each.len(), 12);
}

#[test]
fn a_voltage_that_has_no_room_at_one_stub_stands_at_the_next() {
    let (family, board) = coin();
    let told: Vec<Option<String>> = board.nets.iter().map(|_| Some("3 V".to_owned())).collect();
    let pieces = super::symbol::pieces(&board);
    let graph = Graph::new(&board, &pieces, Some(net(&board, "GND")));
    let plan = super::place::rows(
        &graph,
        &family.connector.pins,
        &super::place::Wish::default(),
    );
    let wires = super::route::route(&graph, &plan);
    let labels = super::labels::labels(&graph, &wires, &told, false).all;
    let rail = net(&board, "VDD");
    // The room under and above the first name is taken away.
    let first = labels.iter().find(|l| l.net == rail).expect("a name");
    let mut crowded = wires.clone();
    let room = super::place::text_area(&first.name);
    for far in [-13.0, 13.0] {
        crowded.taken.push(room.shifted(0.0, far));
    }
    let labels = super::labels::labels(&graph, &crowded, &told, false).all;
    let told = labels.iter().filter(|l| l.net == rail && l.value.is_some());
    assert_eq!(told.count(), 1);
}

#[test]
fn ids_of_pieces_and_nets_are_apart_from_those_of_other_boards_and_parts() {
    let family = example();
    let board = family.board("coin").expect("a board");
    let svg = schematic(&family, board, None).alone();
    assert!(svg.contains("id=\"board-coin.net.VDD\""));
    assert!(svg.contains("id=\"board-coin.part.R1\""));
    // Nothing that a name is made into has a dot.
    assert!(!crate::report::anchor("coin.net.VDD").contains('.'));
}

#[test]
fn a_ladder_of_very_many_rungs_is_placed() {
    let (_, mut board) = coin();
    let resistor = board.parts.iter().find(|p| p.name == "R1");
    let resistor = resistor.expect("a resistor").clone();
    let ground = net(&board, "GND");
    let mut last = net(&board, "VDD");
    for rung in 0..400 {
        let next = board.nets.len();
        board.nets.push(format!("L{rung}"));
        for (name, nets) in [("RS", [last, next]), ("RP", [next, ground])] {
            let mut part = resistor.clone();
            part.name = format!("{name}{rung}");
            for (pin, net) in part.pins.iter_mut().zip(nets) {
                pin.net = Some(net);
            }
            board.parts.push(part);
        }
        last = next;
    }
    let pieces = super::symbol::pieces(&board);
    let graph = Graph::new(&board, &pieces, Some(ground));
    let pins = ["VDD".to_owned(), "GND".to_owned()];
    let wish = super::place::Wish {
        label: vec![4; board.nets.len()],
        ..super::place::Wish::default()
    };
    let plan = super::place::plan(&graph, &pins, &wish);
    assert_eq!(plan.placed.len(), pieces.len());
}
