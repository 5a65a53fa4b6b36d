//! Whether everything of a board is in its drawing: each part, each pin once, the connector.

use std::collections::BTreeMap;

use super::netlist::Netlist;
use super::picture::Picture;

/// What a drawing leaves out, shows twice or makes up.
pub(super) fn faults(netlist: &Netlist, picture: &Picture) -> Vec<String> {
    let mut out = picture.faults.clone();
    parts(netlist, picture, &mut out);
    pins(netlist, picture, &mut out);
    connector(netlist, picture, &mut out);
    let boards = picture.pieces.iter().map(|p| &p.board);
    let boards = boards.chain(picture.nets.iter().map(|n| &n.board));
    for board in boards.chain(picture.connectors.iter().map(|c| &c.board)) {
        if *board != netlist.board {
            out.push(format!("something of a board {board:?}"));
        }
    }
    out
}

/// Whether a text shows a name, whole or with a gap.
pub(super) fn shows(text: &str, name: &str) -> bool {
    match text.split_once('…') {
        None => text == name,
        Some((head, tail)) => {
            let long = 2 < text.chars().count() && head.len() + tail.len() < name.len();
            long && name.starts_with(head) && name.ends_with(tail)
        }
    }
}

fn parts(netlist: &Netlist, picture: &Picture, out: &mut Vec<String>) {
    for part in &netlist.parts {
        let drawn = |at: usize| picture.pieces[at].part == *part;
        if !(0..picture.pieces.len()).any(drawn) {
            out.push(format!("part {part} is not drawn"));
            continue;
        }
        let pieces = (0..picture.pieces.len()).filter(|at| drawn(*at)).count();
        let mut texts = picture.texts.iter().filter(|t| t.class.contains("ref"));
        let named = texts.any(|t| {
            // Pieces of a part may be told apart behind its name.
            let piece = 1 < pieces && t.says.starts_with(&format!("{part}."));
            t.piece.is_some_and(drawn) && (piece || shows(&t.says, part))
        });
        if !named {
            out.push(format!("part {part} does not show its designator"));
        }
    }
    for piece in &picture.pieces {
        if !netlist.parts.contains(&piece.part) {
            out.push(format!("a part {:?} that no file has", piece.part));
        }
    }
}

fn pins(netlist: &Netlist, picture: &Picture, out: &mut Vec<String>) {
    let mut drawn: BTreeMap<(&str, &str), usize> = BTreeMap::new();
    for piece in &picture.pieces {
        for (name, _) in &piece.terminals {
            *drawn.entry((&piece.part, name)).or_default() += 1;
        }
    }
    for pin in &netlist.pins {
        match drawn.remove(&(pin.part.as_str(), pin.name.as_str())) {
            Some(1) => {}
            n => out.push(format!(
                "pin {}.{} is drawn {} times",
                pin.part,
                pin.name,
                n.unwrap_or(0)
            )),
        }
    }
    for (part, pin) in drawn.keys() {
        out.push(format!("a pin {part}.{pin} that no file has"));
    }
}

fn connector(netlist: &Netlist, picture: &Picture, out: &mut Vec<String>) {
    let [connector] = &picture.connectors[..] else {
        let n = picture.connectors.len();
        out.push(format!("{n} connectors"));
        return;
    };
    let mut drawn: Vec<&str> = connector.terminals.iter().map(|t| t.0.as_str()).collect();
    let mut wanted: Vec<&str> = netlist.connector.iter().map(String::as_str).collect();
    drawn.sort_unstable();
    wanted.sort_unstable();
    if drawn != wanted {
        out.push(format!("the connector has {drawn:?}, not {wanted:?}"));
    }
}
