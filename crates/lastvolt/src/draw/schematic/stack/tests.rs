//! Stacks of the example's boards: wires are where the pins are, ids are there once.

use std::collections::BTreeSet;

use roxmltree::{Document, Node};

use super::stack;
use crate::draw::schematic::words::example;

fn drawing(names: &[&str]) -> String {
    let family = example();
    let boards: Vec<_> = names.iter().filter_map(|n| family.board(n)).collect();
    assert_eq!(boards.len(), names.len());
    stack(&family, &boards, None).alone()
}

fn classed<'a>(document: &'a Document, class: &str) -> Vec<Node<'a, 'a>> {
    let all = document.descendants();
    let has = |n: &Node| n.attribute("class") == Some(class);
    all.filter(has).collect()
}

/// Figures in a path of M, H and V: its corners.
fn corners(d: &str) -> Vec<(f64, f64)> {
    let (mut x, mut y) = (0.0, 0.0);
    let mut out = Vec::new();
    let mut tokens = d.split(' ');
    while let Some(token) = tokens.next() {
        let (letter, figure) = token.split_at(1);
        let figure: f64 = figure.parse().expect("a figure");
        match letter {
            "M" => {
                let other = tokens.next().expect("a height");
                (x, y) = (figure, other.parse().expect("a figure"));
            }
            "H" => x = figure,
            "V" => y = figure,
            other => panic!("{other} in {d}"),
        }
        out.push((x, y));
    }
    out
}

#[test]
fn ids_are_there_once_and_every_part_is_drawn() {
    let family = example();
    let names: Vec<&str> = family.boards.iter().map(|b| b.name.as_str()).collect();
    let svg = drawing(&names);
    let document = Document::parse(&svg).expect("well-formed");
    let ids: Vec<&str> = document
        .descendants()
        .filter_map(|n| n.attribute("id"))
        .collect();
    let once: BTreeSet<&str> = ids.iter().copied().collect();
    assert_eq!(ids.len(), once.len());
    let parts: BTreeSet<(&str, &str)> = classed(&document, "part")
        .iter()
        .filter_map(|n| Some((n.attribute("data-board")?, n.attribute("data-part")?)))
        .collect();
    let wanted: usize = family.boards.iter().map(|b| b.parts.len()).sum();
    assert_eq!(parts.len(), wanted);
    assert_eq!(classed(&document, "load").len(), 1);
}

#[test]
fn connectors_stand_in_one_line_and_pins_are_joined() {
    let svg = drawing(&["coin", "two-cell", "usb"]);
    let document = Document::parse(&svg).expect("well-formed");
    let connectors = classed(&document, "connector");
    assert_eq!(connectors.len(), 3);
    let right = |n: &Node| -> f64 {
        let body = n.attribute("data-body").expect("a body");
        body.split(' ')
            .nth(2)
            .and_then(|r| r.parse().ok())
            .expect("a figure")
    };
    let edge = right(&connectors[0]);
    let parts = classed(&document, "part");
    let outer = parts.iter().map(right).fold(edge, f64::max);
    let columns = classed(&document, "join");
    let columns = columns
        .iter()
        .flat_map(Node::children)
        .filter_map(|n| n.attribute("d"));
    let upright = columns
        .map(corners)
        .filter(|w| (w[0].0 - w[1].0).abs() < 1e-9);
    assert!(
        upright.map(|w| w[0].0).all(|x| outer < x),
        "columns stand right of the boards"
    );
    assert!(connectors.iter().all(|c| (right(c) - edge).abs() < 1e-9));
    let heights = |name: &str| -> Vec<f64> {
        let of = |n: &Node| {
            let terminals = n.attribute("data-terminals").expect("terminals");
            let pin = terminals
                .split(';')
                .find(|t| t.starts_with(&format!("{name} ")));
            pin.and_then(|p| p.split(' ').nth(2)?.parse().ok())
        };
        connectors.iter().filter_map(of).collect()
    };
    let joins = classed(&document, "join");
    let wires = |name: &str| -> Vec<Vec<(f64, f64)>> {
        let join = joins.iter().find(|j| j.attribute("data-net") == Some(name));
        let children = join.expect("a join").children();
        children
            .filter_map(|c| c.attribute("d"))
            .map(corners)
            .collect()
    };
    let from_edge = |name: &str| -> Vec<f64> {
        let all = wires(name).into_iter();
        let starts = all.map(|w| w[0]).filter(|p| (p.0 - edge).abs() < 1e-9);
        starts.map(|p| p.1).collect()
    };
    assert_eq!(from_edge("VDD"), heights("VDD"));
    // Only one of the three boards uses SIG, and the beacon drives it.
    assert_eq!(from_edge("SIG").len(), 1);
    assert_eq!(joins.len(), 2, "ground is joined by its sign");
}

#[test]
fn level_wires_of_two_pins_never_run_along_each_other() {
    let svg = drawing(&["coin", "one-cell", "two-cell", "usb"]);
    let document = Document::parse(&svg).expect("well-formed");
    let mut level: Vec<(String, f64, f64, f64)> = Vec::new();
    for join in classed(&document, "join") {
        let name = join.attribute("data-net").expect("a net").to_owned();
        for wire in join
            .children()
            .filter_map(|c| c.attribute("d"))
            .map(corners)
        {
            let ((x, y), (to, end)) = (wire[0], wire[1]);
            if (y - end).abs() < 1e-9 {
                level.push((name.clone(), y, x.min(to), x.max(to)));
            }
        }
    }
    assert!(4 < level.len());
    for (at, a) in level.iter().enumerate() {
        for b in level[at + 1..].iter().filter(|b| b.0 != a.0) {
            let apart = 3.0 < (a.1 - b.1).abs() || a.3 <= b.2 || b.3 <= a.2;
            assert!(apart, "{a:?} {b:?}");
        }
    }
}

#[test]
fn a_stack_says_what_is_joined() {
    let svg = drawing(&["coin", "usb"]);
    let document = Document::parse(&svg).expect("well-formed");
    let said = document.descendants().find(|n| n.has_tag_name("desc"));
    let said = said.and_then(|n| n.text()).expect("words");
    assert!(
        said.starts_with("coin and usb share ground and are joined at VDD. "),
        "{said}"
    );
    assert!(said.contains("beacon hangs between VDD and GND."), "{said}");
    assert!(
        said.contains("coin: BT1 feeds VDD through Q1 and S1."),
        "{said}"
    );
    assert!(
        said.contains("usb: J1 feeds VDD through U1 and D1."),
        "{said}"
    );
    assert!(said.chars().count() <= 600);
}
