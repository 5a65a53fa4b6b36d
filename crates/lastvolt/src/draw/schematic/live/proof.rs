//! Drawings that live against the files that they are drawn from, with the widest texts that readings can
//! come to: everything is there, joined as the files say, and nothing overlaps. The proof is that of the
//! drawings that are files; it reads the files and the SVG and nothing else.

#[path = "../../../../tests/it/schematic/apart.rs"]
mod apart;
#[path = "../../../../tests/it/awkward/texts.rs"]
mod awkward;
#[path = "../../../../tests/it/schematic/joins.rs"]
mod joins;
#[path = "../../../../tests/it/schematic/netlist.rs"]
mod netlist;
#[path = "../../../../tests/it/schematic/paths.rs"]
mod paths;
#[path = "../../../../tests/it/schematic/picture.rs"]
mod picture;
#[path = "../../../../tests/it/schematic/random/mod.rs"]
mod random;
#[path = "../../../../tests/it/schematic/room.rs"]
mod room;
#[path = "../../../../tests/it/schematic/shapes.rs"]
mod shapes;
#[path = "../../../../tests/it/schematic/whole.rs"]
mod whole;

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use lastvolt_core::model::{Board, Family};

use super::tests::{otherwise, usual, widest};
use super::{BTreeMap, Live, Situation};
use crate::cli::load::load;
use crate::draw::schematic::{ground, stack, with_own_loads};
use picture::Picture;

/// A folder that is gone when it is no longer needed.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str, files: &[(String, String)]) -> Self {
        let own = format!("lastvolt-live-{}-{name}", std::process::id());
        let path = std::env::temp_dir().join(own);
        std::fs::create_dir_all(&path).expect("a folder");
        for (name, text) in files {
            std::fs::write(path.join(name), text).expect("a file");
        }
        Self(path)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn drawn(family: &Family, boards: &[&Board], situation: &Situation) -> String {
    let texts = widest(family, boards, situation);
    let live = Live {
        situation,
        texts: &texts,
        href: &|key| format!("?select={key}"),
        chosen: None,
    };
    stack::live(family, boards, &live).inside()
}

/// What must not move when something is set otherwise: bodies, wires, and where texts stand.
fn laid(svg: &str) -> Vec<String> {
    let kept = svg.lines().filter_map(|line| {
        if let Some((_, rest)) = line.split_once(" data-body=\"") {
            return rest.split('"').next().map(str::to_owned);
        }
        if line.contains("class=\"wire\"") {
            return Some(line.to_owned());
        }
        line.strip_prefix("<text ")
            .and_then(|rest| rest.split('>').next())
            .map(str::to_owned)
    });
    kept.collect()
}

/// The nets of boards that no reading tells.
fn untold(family: &Family, boards: &[&Board], svg: &str) -> BTreeSet<String> {
    let mut out = BTreeSet::new();
    for board in boards {
        let whole = with_own_loads(board);
        let ground = ground(family, &whole);
        for (at, net) in whole.nets.iter().enumerate() {
            let shared = family.connector.pins.contains(net) || boards.len() == 1;
            let name = match shared {
                true => net.clone(),
                false => format!("{}/{net}", board.name),
            };
            let there = whole.parts.iter();
            let mut there = there.filter(|p| p.pins.iter().any(|pin| pin.net == Some(at)));
            let read = svg.contains(&format!("data-reading=\"net:{name}\""));
            if Some(at) != ground && there.next().is_some() && !read {
                out.insert(name);
            }
        }
    }
    out
}

/// Adds what is wrong with boards drawn together, usually set and set otherwise.
fn judge(name: &str, dir: &Path, family: &Family, boards: &[&Board], wrong: &mut String) -> usize {
    let all = netlist::boards(dir);
    let names: Vec<String> = boards.iter().map(|b| b.name.clone()).collect();
    let netlists = all.into_iter().filter(|n| names.contains(&n.board));
    let netlists: Vec<netlist::Netlist> = netlists.collect();
    let usual = usual(family, &names);
    let mut svgs = Vec::new();
    for situation in [otherwise(family, boards, &usual), usual] {
        let svg = drawn(family, boards, &situation);
        let faults = apart::faults(&netlists, &Picture::read(&svg));
        // The first few say enough.
        for fault in faults.iter().take(6) {
            let _ = writeln!(wrong, "{name}, {}: {fault}", names.join(" + "));
        }
        svgs.push(svg);
    }
    if laid(&svgs[0]) != laid(&svgs[1]) {
        let _ = writeln!(wrong, "{name}, {}: moves when set", names.join(" + "));
    }
    untold(family, boards, &svgs[1]).len()
}

/// Judges each board of a folder alone; gives how many nets have no room for their voltage.
fn each(name: &str, dir: &Path, wrong: &mut String) -> (usize, usize) {
    let family = load(dir).expect("a family").model;
    let boards = family.boards.iter();
    let untold = boards.map(|board| judge(name, dir, &family, &[board], wrong));
    (family.boards.len(), untold.sum())
}

fn crate_folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn texts(fixture: &str) -> Vec<(String, String)> {
    let mut out: Vec<(String, String)> = Vec::new();
    for line in fixture.lines() {
        if let Some(name) = line.strip_prefix("#--- ") {
            out.push((name.to_owned(), String::new()));
        } else if let Some((_, text)) = out.last_mut() {
            text.push_str(line);
            text.push('\n');
        }
    }
    out
}

#[test]
fn the_example_and_what_new_writes_live_as_their_files_say() {
    let mut wrong = String::new();
    for dir in ["../../examples/frost-beacon", "template"] {
        let (_, untold) = each(dir, &crate_folder().join(dir), &mut wrong);
        assert_eq!(untold, 0, "{dir}: every net has room for its voltage");
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn stacks_of_the_example_live_as_their_files_say() {
    let dir = crate_folder().join("../../examples/frost-beacon");
    let family = load(&dir).expect("the example").model;
    let mut wrong = String::new();
    let boards: Vec<&Board> = family.boards.iter().collect();
    for stack in [&boards[..2], &boards[1..], &boards[..]] {
        assert_eq!(judge("stack", &dir, &family, stack, &mut wrong), 0);
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn every_fixture_lives_as_its_files_say() {
    let mut wrong = String::new();
    let (mut boards, mut untold) = (0, 0);
    let folder = crate_folder().join("tests/suite");
    for entry in std::fs::read_dir(folder).expect("the suite") {
        let path = entry.expect("an entry").path();
        let fixture = std::fs::read_to_string(&path).expect("a text");
        let name = path.file_stem().and_then(|s| s.to_str()).expect("a name");
        let folder = Folder::new(name, &texts(&fixture));
        let found = each(name, &folder.0, &mut wrong);
        (boards, untold) = (boards + found.0, untold + found.1);
    }
    assert!(wrong.is_empty(), "{wrong}");
    assert!(
        100 * untold < 5 * boards,
        "{untold} nets untold on {boards} boards"
    );
}

#[test]
fn unusual_and_awkward_boards_live_as_their_files_say() {
    let mut wrong = String::new();
    let unusual = texts(include_str!("../../../../tests/drawings/unusual.toml"));
    let folder = Folder::new("unusual", &unusual);
    assert_eq!(each("unusual", &folder.0, &mut wrong).0, 14);
    let files = awkward::texts().into_iter();
    let files: Vec<(String, String)> = files.map(|(n, t)| (n.to_owned(), t)).collect();
    let folder = Folder::new("awkward", &files);
    assert_eq!(each("awkward", &folder.0, &mut wrong).0, 5);
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn a_hundred_random_boards_live_as_their_files_say() {
    let mut wrong = String::new();
    let mut boards = 0;
    for number in 0..2 {
        let folder = Folder::new(&format!("random-{number}"), &random::family(number));
        boards += each(&format!("random {number}"), &folder.0, &mut wrong).0;
    }
    assert!(wrong.is_empty(), "{wrong}");
    assert_eq!(boards, 2 * random::BOARDS);
}

#[test]
fn a_part_below_is_below_in_the_drawing_at_rest_too() {
    for dir in ["../../examples/frost-beacon", "template"] {
        let family = load(&crate_folder().join(dir)).expect("a family").model;
        for board in &family.boards {
            let situation = usual(&family, std::slice::from_ref(&board.name));
            let empty = BTreeMap::new();
            let live = Live {
                situation: &situation,
                texts: &empty,
                href: &|_| String::new(),
                chosen: None,
            };
            let alive = crate::draw::schematic::changing(&family, board, &live);
            let rest = crate::draw::schematic::schematic(&family, board, None);
            // What is below stands at stubs alone, each of them a piece of its net.
            let pieces = |s: &crate::draw::schematic::Schematic| {
                let groups = s.wires.nets.iter().map(|w| w.groups.len());
                groups.sum::<usize>()
            };
            assert_eq!(pieces(&alive), pieces(&rest), "{}", board.name);
        }
    }
}
