//! Every family that comes with the tool reads without a problem.

use lastvolt_core::model::{Device, Kind};
use lastvolt_input::{Loaded, Text, board_files, read};

/// The texts of a family in the repository.
#[expect(clippy::disallowed_methods, reason = "a test may read the repository")]
pub(crate) fn family(folder: &str) -> Vec<Text> {
    let root = format!("{}/../../{folder}", env!("CARGO_MANIFEST_DIR"));
    let text = |name: &str| Text {
        name: name.to_owned(),
        text: std::fs::read_to_string(format!("{root}/{name}")).expect(name),
    };
    let family = text("family.toml");
    let mut texts = vec![family.clone()];
    texts.extend(board_files(&family.text).iter().map(|name| text(name)));
    texts
}

fn load(folder: &str) -> Loaded {
    let loaded = read(&family(folder));
    assert_eq!(loaded.problems, [], "{folder}");
    loaded
}

#[test]
fn frost_beacon_reads_clean() {
    let loaded = load("examples/frost-beacon");
    let family = loaded.family.expect("a family");
    let names: Vec<&str> = family.boards.iter().map(|b| b.name.as_str()).collect();
    assert_eq!(names, ["coin", "one-cell", "two-cell", "usb"]);
    let kinds = |kind: Kind| {
        family
            .boards
            .iter()
            .any(|b| b.parts.iter().any(|p| p.kind == kind))
    };
    for kind in [
        Kind::Cell,
        Kind::Supply,
        Kind::PFet,
        Kind::NFet,
        Kind::Fuse,
        Kind::Diode,
        Kind::Led,
    ] {
        assert!(kinds(kind), "no {}", kind.word());
    }
    for kind in [
        Kind::Boost,
        Kind::BuckBoost,
        Kind::Ldo,
        Kind::Switch,
        Kind::Jumper,
        Kind::Inductor,
    ] {
        assert!(kinds(kind), "no {}", kind.word());
    }
    let coin = family.board("coin").expect("a board");
    assert_eq!(
        coin.nets,
        ["BAT", "GND", "BATP", "VDD", "BLEED", "LAMP", "LEDA"]
    );
    let Some(Device::Cell(cell)) = coin.part("BT1").map(|p| &p.device) else {
        panic!("a cell");
    };
    assert!(cell.model.button);
}

#[test]
fn the_family_of_the_new_command_reads_clean() {
    let loaded = load("crates/lastvolt/template");
    assert_eq!(loaded.family.map(|f| f.boards.len()), Some(2));
}
