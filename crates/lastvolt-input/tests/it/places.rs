//! Where things stand: parts, pins, keys, loads, states, profiles, tasks, requirement.

use crate::annotated::check;

#[test]
fn everything_has_its_place() {
    let loaded = check(
        r#"
#- family.toml
[family]
boards = ["board.toml"]
[requirement]
life = "18 months"
ambient = { low = "-15 degC", usual = "8 degC", high = "40 degC" }
[connector]
pins = ["VDD", "GND"]
[loads.module]
pins = { plus = "VDD", minus = "GND" }
[loads.module.states]
sleep = "2 uA"
[profiles.season]
[[profiles.season.tasks]]
name = "report"
every = "5 s"
steps = [{ for = "3 ms", set = { module = "sleep" } }]
[models.up]
kind = "boost"
output = "3 V"
#- board.toml
title = "Trial"
[parts.U1]
kind = "boost"
model = "up"
quiescent = { in = "1 uA", out = "2 uA" }
pins = { in = "BAT", out = "VDD", gnd = "GND" }
[parts.BT1]
kind = "cell"
model = "CR2032"
pins = ["BAT", "GND"]
"#,
    );
    let at = |board: Option<&str>, part: &str, key: Option<&str>| {
        let place = loaded.spans.find(board, part, key).expect("a place");
        (place.file, place.line, place.column)
    };
    let family = |line, column| ("family.toml".to_owned(), line, column);
    let board = |line, column| ("board.toml".to_owned(), line, column);
    let coin = Some("board");
    assert_eq!(at(coin, "U1", None), board(2, 8));
    assert_eq!(at(coin, "U1", Some("gnd")), board(6, 41));
    assert_eq!(at(coin, "U1", Some("quiescent.out")), board(5, 34));
    assert_eq!(at(coin, "U1", Some("quiescent.typ")), board(5, 13));
    assert_eq!(at(coin, "U1", Some("output")), family(19, 10));
    assert_eq!(at(coin, "U1", Some("response")), board(2, 8));
    assert_eq!(at(coin, "BT1", Some("minus")), board(10, 16));
    assert_eq!(at(coin, "BT1", Some("charge")), board(7, 8));
    assert_eq!(at(coin, "BT1.1", None), board(7, 8));
    assert_eq!(at(coin, "board/BT1", None), board(7, 8));
    assert_eq!(at(coin, "module", Some("states.sleep")), family(11, 9));
    assert_eq!(at(None, "module", Some("sleep")), family(11, 1));
    assert_eq!(at(None, "requirement", Some("ambient.low")), family(5, 19));
    assert_eq!(at(None, "season", Some("report")), family(14, 8));
    assert_eq!(at(None, "season", Some("report.every")), family(15, 9));
    assert_eq!(at(coin, "nothing", None), board(1, 1));
    assert_eq!(at(None, "nothing", None), family(1, 1));
    assert_eq!(loaded.spans.find(Some("no board"), "R1", None), None);
}

#[test]
fn columns_count_characters() {
    let loaded = check(
        "[parts.R1]\nkind = \"resistor\"\nvalue = \"1k\" # Ω\npins = { \"1\" = \"VDD\", \"2\" = \"µ\" }\n",
    );
    let place = loaded
        .spans
        .find(Some("board"), "R1", Some("2"))
        .expect("a place");
    assert_eq!((place.line, place.column), (4, 29));
}
