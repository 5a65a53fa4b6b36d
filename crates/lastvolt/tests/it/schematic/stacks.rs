//! Boards drawn together: each board as its file says, and the pins of one name joined at the side.

use std::fs;
use std::path::Path;

use super::apart::side;
use super::netlist::{self, Netlist, Pin};
use super::picture::Picture;
use super::{apart, joins};
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
    apart::faults(&boards, &Picture::read(&svg))
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
