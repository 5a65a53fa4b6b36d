//! Drawings against the files that they are drawn from: everything is there, everything is joined as
//! the files say and not otherwise, nothing overlaps.
//!
//! The proof is apart from the code that draws: it reads the files that a user writes and the SVG that
//! the program writes, and nothing else.

mod apart;
mod joins;
mod netlist;
mod paths;
mod picture;
mod planted;
mod random;
mod room;
mod shapes;
mod stacks;
mod whole;

use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use lastvolt_input::Text;

use crate::awkward;
use crate::program::{Folder, example, run};
use crate::rules;
use netlist::Netlist;
use picture::Picture;

/// What is wrong with a drawing of a board.
fn judged(netlist: &Netlist, svg: &str) -> Vec<String> {
    let picture = Picture::read(svg);
    let mut out = whole::faults(netlist, &picture);
    out.extend(joins::faults(netlist, &picture));
    out.extend(room::faults(&picture));
    out
}

/// A board's name as it stands in the names of files: signs that file systems differ about are written
/// as their numbers.
fn cleaned(board: &str) -> String {
    let sign = |c: char| match c {
        c if c.is_ascii_alphanumeric() || c == '-' => c.to_string(),
        c => format!("_{:x}_", u32::from(c)),
    };
    board.chars().map(sign).collect()
}

/// Draws every board of a family and judges each; gives how many there were, and adds what is wrong.
fn drawn(name: &str, family: &Path, values: &str, wrong: &mut String) -> usize {
    let out = Folder::new(&format!("{name}-drawn"));
    let dir = family.to_str().expect("UTF-8");
    let ran = run(&["schematic", dir, "--out", out.arg(), "--values", values]);
    if ran.status != 0 {
        let _ = writeln!(
            wrong,
            "{name}: status {}\n{}{}",
            ran.status, ran.out, ran.err
        );
        return 0;
    }
    let boards = netlist::boards(family);
    for netlist in &boards {
        let file = format!("schematic-{}.svg", cleaned(&netlist.board));
        let file = out.path().join(file);
        let faults = match fs::read_to_string(&file) {
            Ok(svg) => judged(netlist, &svg),
            Err(e) => vec![format!("no file: {e}")],
        };
        if !faults.is_empty() {
            let _ = writeln!(wrong, "{name}, board {}:", netlist.board);
            // The first few say enough.
            for fault in faults.iter().take(8) {
                let _ = writeln!(wrong, "  {fault}");
            }
        }
    }
    boards.len()
}

#[test]
fn the_example_is_drawn_as_its_files_say() {
    let mut wrong = String::new();
    for values in ["rest", "none"] {
        let name = format!("schematic-example-{values}");
        assert_eq!(drawn(&name, &example(), values, &mut wrong), 4);
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn what_new_writes_is_drawn_as_its_files_say() {
    let folder = Folder::new("schematic-new");
    let family = folder.path().join("family");
    run(&["new", family.to_str().expect("UTF-8")]).expect(0);
    let mut wrong = String::new();
    assert!(0 < drawn("schematic-new", &family, "rest", &mut wrong));
    assert!(wrong.is_empty(), "{wrong}");
}

/// Writes the files of a fixture into a folder.
fn written(name: &str, fixture: &str) -> Folder {
    let folder = Folder::new(name);
    for text in rules::texts(fixture) {
        folder.write(&text.name, &text.text);
    }
    folder
}

#[test]
fn every_fixture_is_drawn_as_its_files_say() {
    let mut wrong = String::new();
    let suite = rules::suite();
    for (name, fixture) in &suite {
        let folder = written(&format!("schematic-{name}"), fixture);
        drawn(name, folder.path(), "rest", &mut wrong);
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn random_boards_are_boards_that_the_program_reads() {
    for number in 0..FAMILIES {
        let text = |(name, text)| Text { name, text };
        let texts: Vec<Text> = random::family(number).into_iter().map(text).collect();
        let (family, _) = rules::load(&format!("random {number}"), &texts);
        assert_eq!(family.boards.len(), random::BOARDS);
    }
}

#[test]
fn unusual_boards_are_drawn_as_their_files_say() {
    let folder = written(
        "schematic-unusual",
        include_str!("../drawings/unusual.toml"),
    );
    let mut wrong = String::new();
    let boards = drawn("unusual", folder.path(), "rest", &mut wrong);
    assert!(wrong.is_empty(), "{wrong}");
    assert_eq!(boards, 14);
}

#[test]
fn awkward_names_and_a_hundred_parts_are_drawn_as_their_files_say() {
    let folder = Folder::new("schematic-awkward");
    awkward::family(&folder);
    let mut wrong = String::new();
    let boards = drawn("awkward", folder.path(), "rest", &mut wrong);
    assert!(wrong.is_empty(), "{wrong}");
    assert_eq!(boards, 5);
}

/// How many families of random boards are drawn.
const FAMILIES: usize = 10;

#[test]
fn five_hundred_random_boards_are_drawn_as_their_files_say() {
    let mut wrong = String::new();
    let mut boards = 0;
    for number in 0..FAMILIES {
        let folder = Folder::new(&format!("schematic-random-{number}"));
        for (name, text) in random::family(number) {
            folder.write(&name, text);
        }
        let values = ["rest", "none"][number % 2];
        let name = format!("random {number}");
        boards += drawn(&name.replace(' ', "-"), folder.path(), values, &mut wrong);
    }
    assert!(wrong.is_empty(), "{wrong}");
    assert_eq!(boards, FAMILIES * random::BOARDS);
}
