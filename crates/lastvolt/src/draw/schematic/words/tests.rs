//! Words of small boards, and of every board that the repository has.

use lastvolt_core::model::Family;
use lastvolt_input::{Text, board_files, read};

use super::{title, words};

/// The family that the repository ships as its example.
pub(crate) fn example() -> Family {
    let folder =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/frost-beacon");
    let text = |name: &str| Text {
        name: name.to_owned(),
        text: std::fs::read_to_string(folder.join(name)).expect("a file of the example"),
    };
    let family = text("family.toml");
    let boards = board_files(&family.text);
    let texts: Vec<Text> = std::iter::once(family)
        .chain(boards.iter().map(|b| text(b)))
        .collect();
    read(&texts).family.expect("the example is sound")
}

#[test]
fn words_say_the_way_of_the_supply() {
    let family = example();
    let of = |name: &str| words(&family, family.board(name).expect("a board"));
    let coin = of("coin");
    assert!(
        coin.starts_with("BT1 feeds VDD through Q1 and S1. "),
        "{coin}"
    );
    assert!(coin.contains("C1 and C2 stand across VDD."), "{coin}");
    assert!(
        coin.contains("JP1, R2 and DS1 lie between GND and VDD."),
        "{coin}"
    );
    assert!(
        coin.contains("Drawn with S1 in on and JP1 in removed."),
        "{coin}"
    );
    let one = of("one-cell");
    assert!(
        one.starts_with("BT1 feeds VDD through U1 (with L1, R1 and R2). "),
        "{one}"
    );
    let two = of("two-cell");
    assert!(
        two.starts_with("BT1 feeds VDD through F1, S1 and U1 (with L1, R2 and R3). "),
        "{two}"
    );
    let usb = of("usb");
    assert!(usb.starts_with("J1 feeds VDD through U1 and D1. "), "{usb}");
}

#[test]
fn words_are_short_and_name_every_part_or_count_it() {
    let family = example();
    for board in &family.boards {
        let text = words(&family, board);
        assert!(text.chars().count() <= 600, "{text}");
        for part in &board.parts {
            let named = text
                .split(|c: char| !c.is_alphanumeric())
                .any(|w| w == part.name);
            assert!(named, "{} is missing: {text}", part.name);
        }
    }
}

#[test]
fn long_boards_count_what_they_leave_out() {
    let family = example();
    let mut board = family.board("coin").expect("a board").clone();
    let resistor = board.part("R1").expect("a part").clone();
    for n in 0..100 {
        let mut more = resistor.clone();
        more.name = format!("R{}", 100 + n);
        more.pins[0].net = Some(0);
        more.pins[1].net = Some(2);
        board.parts.push(more);
    }
    let text = words(&family, &board);
    assert!(text.chars().count() <= 600, "{text}");
    assert!(text.contains(" parts more."), "{text}");
}

#[test]
fn titles_say_what_a_part_is_and_where_it_is() {
    let family = example();
    let coin = family.board("coin").expect("a board");
    let of = |name: &str| title(coin, coin.part(name).expect("a part"));
    assert_eq!(
        of("R1"),
        "R1, resistor, 10\u{a0}kΩ ±5\u{a0}%: 1 on BLEED, 2 on GND."
    );
    assert_eq!(
        of("S1"),
        "S1, switch, POWER: 1 on BATP, 2 on VDD, 3 on BLEED. on joins 1 with 2; off joins 2 with 3. Drawn in on."
    );
}

#[test]
fn cells_in_series_feed_through_each_other() {
    let family = example();
    let mut board = family.board("coin").expect("a board").clone();
    let mut lower = board.part("BT1").expect("a part").clone();
    lower.name = "BT2".to_owned();
    board.nets.push("MIDDLE".to_owned());
    let middle = Some(board.nets.len() - 1);
    lower.pins[0].net = middle;
    board.parts[0].pins[1].net = middle;
    board.parts.push(lower);
    let text = words(&family, &board);
    assert!(
        text.contains("BT2 feeds VDD through BT1, Q1 and S1."),
        "{text}"
    );
    assert!(
        text.contains("BT1 feeds VDD through Q1 and S1; its other end returns through BT2."),
        "{text}"
    );
}
