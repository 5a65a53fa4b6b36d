//! A drawing of several boards taken apart: what is of each board, and the side at which they are joined.

use super::netlist::{Netlist, Pin};
use super::picture::{Connector, Picture, Piece};
use super::shapes::{Area, Point};
use super::{joins, room, whole};

/// What is wrong with a drawing of boards on one connector.
pub(super) fn faults(boards: &[Netlist], picture: &Picture) -> Vec<String> {
    let mut faults = picture.faults.clone();
    faults.extend(room::faults(picture));
    for netlist in boards {
        let own = own(picture, &netlist.board);
        faults.extend(whole::faults(netlist, &own));
        faults.extend(joins::faults(netlist, &own));
    }
    let (netlist, side) = side(boards, picture);
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
pub(super) fn side(boards: &[Netlist], picture: &Picture) -> (Netlist, Picture) {
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
