//! Every example family reads without a problem.

use lastvolt_input::{Loaded, Text, board_files, read};

fn load(folder: &str) -> Loaded {
    let root = format!("{}/../../{folder}", env!("CARGO_MANIFEST_DIR"));
    let text = |name: &str| Text {
        name: name.to_owned(),
        text: std::fs::read_to_string(format!("{root}/{name}")).expect(name),
    };
    let family = text("family.toml");
    let mut texts = vec![family.clone()];
    texts.extend(board_files(&family.text).iter().map(|name| text(name)));
    read(&texts)
}

#[test]
fn frost_beacon_reads_clean() {
    let loaded = load("examples/frost-beacon");
    assert_eq!(loaded.problems, []);
    let family = loaded.family.expect("a family");
    let coin = family.board("coin").expect("a board");
    assert_eq!(coin.nets, ["BAT", "GND", "BATP", "VDD"]);
    let place = loaded
        .spans
        .find(Some("coin"), "C1", Some("rated"))
        .expect("a place");
    assert_eq!(
        (place.file.as_str(), place.line, place.column),
        ("coin.toml", 26, 9)
    );
}
