//! Boards drawn together: each board as its file says, and the pins of one name joined at the side.

use std::fs;
use std::path::Path;

use super::netlist::{self, Netlist, Pin};
use super::picture::{Connector, Picture, Piece};
use super::shapes::{Area, Point};
use super::{joins, room, whole};
use crate::program::{Folder, example, run};

/// What is wrong with the drawing of all boards of a family on one connector.
fn faults(name: &str, family: &Path) -> Vec<String> {
    let out = Folder::new(&format!("schematic-{name}-together"));
    let dir = family.to_str().expect("UTF-8");
    run(&["schematic", dir, "--together", "--out", out.arg()]).expect(0);
    let boards = netlist::boards(family);
    let mut files = fs::read_dir(out.path()).expect("a folder");
    let file = files.next().expect("a drawing").expect("a file").path();
    assert!(files.next().is_none(), "one drawing");
    let svg = fs::read_to_string(file).expect("the drawing");
    let picture = Picture::read(&svg);
    let mut faults = picture.faults.clone();
    faults.extend(room::faults(&picture));
    for netlist in &boards {
        let own = own(&picture, &netlist.board);
        faults.extend(whole::faults(netlist, &own));
        faults.extend(joins::faults(netlist, &own));
    }
    let (netlist, side) = side(&boards, &picture);
    faults.extend(joins::faults(&netlist, &side));
    faults
}

/// What of a drawing is of one board.
fn own(picture: &Picture, board: &str) -> Picture {
    let kept: Vec<usize> = (0..picture.pieces.len())
        .filter(|at| picture.pieces[*at].board == board)
        .collect();
    let mut out = Picture {
        view: picture.view,
        pieces: kept.iter().map(|at| picture.pieces[*at].clone()).collect(),
        ..Picture::default()
    };
    let nets = picture.nets.iter().filter(|n| n.board == board);
    out.nets.extend(nets.cloned());
    let connectors = picture.connectors.iter().filter(|c| c.board == board);
    out.connectors.extend(connectors.cloned());
    for text in &picture.texts {
        let piece = kept.iter().position(|at| Some(*at) == text.piece);
        if let Some(piece) = piece {
            let mut text = text.clone();
            text.piece = Some(piece);
            out.texts.push(text);
        }
    }
    out
}

/// The side at which the boards are joined: their connectors as parts, and the wires between them.
fn side(boards: &[Netlist], picture: &Picture) -> (Netlist, Picture) {
    let mut netlist = Netlist {
        board: String::new(),
        parts: Vec::new(),
        pins: Vec::new(),
        connector: Vec::new(),
        ground: boards[0].ground.clone(),
    };
    let mut side = Picture::default();
    let joins = picture.nets.iter().filter(|n| n.board.is_empty());
    side.nets.extend(joins.cloned());
    for board in boards {
        let connectors = picture.connectors.iter();
        let connector = connectors.clone().find(|c| c.board == board.board);
        let terminals = connector.map(|c: &Connector| c.terminals.clone());
        let mut piece = Piece {
            part: board.board.clone(),
            board: String::new(),
            terminals: Vec::new(),
            body: Area::NONE,
            crosses: Vec::new(),
            edges: Vec::new(),
        };
        for (net, at) in terminals.into_iter().flatten() {
            let there = board.pins.iter().any(|p| p.net.as_ref() == Some(&net));
            if !there || net == board.ground {
                continue;
            }
            netlist.pins.push(Pin {
                part: board.board.clone(),
                name: net.clone(),
                net: Some(net.clone()),
            });
            piece.terminals.push((net.clone(), leaves(&side, &net, at)));
        }
        side.pieces.push(piece);
    }
    (netlist, side)
}

/// Where the wire of a net leaves a connector at the height of a pin; the pin itself where none does.
fn leaves(side: &Picture, net: &str, pin: Point) -> Point {
    let nets = side.nets.iter().filter(|n| n.name == net);
    let corners = nets.flat_map(|n| n.wires.iter().flatten());
    let level = corners.filter(|p| p.y == pin.y && pin.x <= p.x);
    level.min().copied().unwrap_or(pin)
}

#[test]
fn the_boards_of_the_example_are_drawn_together() {
    let faults = faults("example", &example());
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn unusual_boards_are_drawn_together() {
    let fixture = include_str!("../../drawings/unusual.toml");
    let folder = super::written("schematic-unusual-stack", fixture);
    let faults = faults("unusual", folder.path());
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn a_board_that_is_not_joined_is_found() {
    let drawing = |wires: &str| {
        format!(
            "<svg class=\"schematic\" role=\"img\" viewBox=\"0 0 300 200\"><title>t</title><desc>d</desc>\
             <g class=\"connector\" data-board=\"a\" data-terminals=\"VDD 100 40\"/>\
             <g class=\"connector\" data-board=\"b\" data-terminals=\"VDD 100 140\"/>\
             <g class=\"join\" id=\"stack-net-VDD\" data-net=\"VDD\">{wires}</g></svg>"
        )
    };
    let board = |name: &str| Netlist {
        board: name.to_owned(),
        parts: vec!["R1".to_owned()],
        pins: vec![Pin {
            part: "R1".to_owned(),
            name: "1".to_owned(),
            net: Some("VDD".to_owned()),
        }],
        connector: vec!["VDD".to_owned()],
        ground: "GND".to_owned(),
    };
    let boards = [board("a"), board("b")];
    let judged = |wires: &str| {
        let (netlist, side) = side(&boards, &Picture::read(&drawing(wires)));
        joins::faults(&netlist, &side).join("\n")
    };
    let whole = "<path class=\"wire\" d=\"M130 40H160V140H130\"/>";
    assert_eq!(judged(whole), "");
    let short = judged("<path class=\"wire\" d=\"M130 40H160V120H130\"/>");
    assert!(short.contains("net VDD is in 2 pieces"), "{short}");
}
