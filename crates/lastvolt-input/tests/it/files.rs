//! Files: the head of a family, its boards, texts that are no TOML or too large, requirement and connector.

use lastvolt_input::{Text, board_files, read};

use crate::annotated::{check, texts};

#[test]
fn requirement_and_connector_are_read() {
    let loaded = check(
        r#"
#- family.toml
[family]
name = "Trial"
boards = ["board.toml"]
[requirement]
life = "18 months"
confidence = "95 %"
storage = "6 months"
notice = "14 days"
ambient = { low = "-15 degC", usual = "8 °C", high = "40 degC" }
[connector]
pins = ["VDD", "VBUS", "COM"]
ground = "COM"
[connector.promise.VDD]
band = ["2.9 V", "3.1 V"]
current = "50 mA"
#- board.toml
title = "Trial board"
[parts.R1]
kind = "resistor"
value = "1k"
pins = ["VDD", "COM"]
"#,
    );
    let family = loaded.family.expect("a family");
    assert_eq!(family.name, "Trial");
    assert_eq!(
        family.requirement.life.map(|t| t.as_secs()),
        Some(1.5 * 365.25 * 86_400.0)
    );
    assert_eq!(family.requirement.ambient.low.as_celsius(), -15.0);
    assert_eq!(family.connector.ground_net(), "COM");
    assert_eq!(family.connector.rail(), Some("VDD"));
    assert_eq!(
        family.connector.promises[0].current.map(|c| c.as_amps()),
        Some(0.05)
    );
    assert_eq!(family.boards[0].title, "Trial board");
}

#[test]
fn a_calendar_stands_for_the_ambient() {
    let months = "[\"1 degC\", \"2 degC\", \"5 degC\", \"9 degC\", \"13 degC\", \"17 degC\", \"19 degC\", \"20 degC\", \"15 degC\", \"10 degC\", \"5 degC\", \"2 degC\"]";
    for requirement in [
        format!("monthly = {months}\nstart = \"October\""),
        format!("ambient = {{ monthly = {months}, start = \"October\" }}"),
    ] {
        let loaded = check(&format!(
            "#- family.toml\n[family]\nboards = [\"b.toml\"]\n[requirement]\n{requirement}\n[connector]\npins = [\"VDD\", \"GND\"]\n#- b.toml\n[parts.R1]\nkind = \"resistor\"\nvalue = \"1k\"\npins = [\"VDD\", \"GND\"]\n"
        ));
        let ambient = loaded.family.expect("a family").requirement.ambient;
        assert_eq!(ambient.monthly.map(|m| m.start), Some(9));
        assert_eq!(
            (ambient.low.as_celsius(), ambient.high.as_celsius()),
            (1.0, 20.0)
        );
        assert!((ambient.usual.as_celsius() - 118.0 / 12.0).abs() < 1e-12);
    }
}

#[test]
fn days_and_nights_widen_the_ambient_and_need_months() {
    check(
        r#"
#- family.toml
[family]
boards = ["b.toml"]
[requirement]
ambient = { usual = "8 degC", day_night = "8 K" }
#                                         ^^^^^ error[missing-key]: `day_night` has no `monthly` beside it
[connector]
pins = ["VDD", "GND"]
#- b.toml
[parts.R1]
kind = "resistor"
value = "1k"
pins = ["VDD", "GND"]
"#,
    );
    for (day_night, low, high) in [("8 K", -3.0, 24.0), ("0 K", 1.0, 20.0)] {
        let loaded = check(&format!(
            "#- family.toml\n[family]\nboards = [\"b.toml\"]\n[requirement]\nday_night = \"{day_night}\"\nmonthly = [\"1 degC\", \"2 degC\", \"5 degC\", \"9 degC\", \"13 degC\", \"17 degC\", \"19 degC\", \"20 degC\", \"15 degC\", \"10 degC\", \"5 degC\", \"2 degC\"]\n[connector]\npins = [\"VDD\", \"GND\"]\n#- b.toml\n[parts.R1]\nkind = \"resistor\"\nvalue = \"1k\"\npins = [\"VDD\", \"GND\"]\n"
        ));
        let ambient = loaded.family.expect("a family").requirement.ambient;
        assert_eq!(
            (ambient.low.as_celsius(), ambient.high.as_celsius()),
            (low, high)
        );
        let months = ambient.monthly.expect("months");
        assert_eq!(months.day_night.as_kelvin(), high - 20.0 + (1.0 - low));
    }
}

#[test]
fn wrong_heads_are_explained() {
    check(
        r#"
#- family.toml
[family]
boards = ["board.toml", "sub/board.toml", "../other.toml", "notes.txt"]
#                        ^^^^^^^^^^^^^^ error[duplicate-name]: two boards are called `board`
#                                          ^^^^^^^^^^^^^ error[bad-file-name]
#                                                           ^^^^^^^^^ error[bad-file-name]
[requirment]
#.^^^^^^^^^^ error[unknown-key]: unknown key `requirment` in `family.toml`
[requirement]
life = "-1 s"
#      ^^^^^^ error[out-of-range]
confidence = 95
#            ^^ error[out-of-range]
ambient = { low = "20 degC", usual = "8 degC" }
#                 ^^^^^^^^^ error[min-above-max]
[connector]
pins = ["VDD", "GND", "VDD"]
#                     ^^^^^ error[duplicate-name]
[connector.promise.VCC]
#                  ^^^ error[unknown-name]: there is no connector pin `VCC`
band = ["3 V"]
#      ^^^^^^^ error[wrong-length]
#- board.toml
#! error[not-on-connector]
[parts.R1]
kind = "resistor"
value = "1k"
pins = ["A", "B"]
"#,
    );
    check(
        r#"
#- family.toml
[family]
boards = ["board.toml", "missing.toml"]
#                        ^^^^^^^^^^^^ error[missing-board]: the board file `missing.toml` could not be read
[connector]
pins = ["VDD", "GND"]
#- board.toml
[parts.R1]
kind = "resistor"
value = "1k"
pins = ["VDD", "GND"]
"#,
    );
    check(
        "#- family.toml\n#! error[missing-key]: `family` is missing\n#! error[missing-key]: `connector` is missing\n",
    );
    check(
        r#"
#- family.toml
[family]
boards = ["empty.toml", "far.toml"]
[connector]
pins = ["VDD", "GND"]
#- empty.toml
#! error[missing-key]: `parts` is missing in board `empty`
#- far.toml
#! error[not-on-connector]
[parts.R1]
kind = "resistor"
value = "1k"
pins = ["A", "B"]
"#,
    );
}

#[test]
fn text_that_is_no_toml_hides_what_may_follow_from_it() {
    let loaded = read(&texts(
        "#- family.toml\n[family]\nboards = [\"b.toml\"]\n[connector\npins = [\"VDD\", \"GND\"]\n#- b.toml\n[parts.R1]\nkind = \"resistor\"\nvalue = 4\npins = [\"VDD\", \"GND\"]\n",
    ));
    let codes: Vec<&str> = loaded.problems.iter().map(|p| p.code).collect();
    assert!(codes.contains(&"toml-syntax"));
    assert!(codes.contains(&"bare-number"), "{codes:?}");
    assert!(!codes.contains(&"missing-key"), "{codes:?}");
    assert!(loaded.family.is_none());
}

#[test]
fn board_files_are_those_that_may_be_loaded() {
    let text = "[family]\nboards = [\"a.toml\", \"../b.toml\", 7, \"/c.toml\", \"sub/d.toml\", \"family.toml\", \"a.toml\"]";
    assert_eq!(board_files(text), ["a.toml", "sub/d.toml"]);
    assert!(board_files("boards = 1").is_empty());
    assert!(board_files("[family\nboards").is_empty());
}

#[test]
fn nothing_and_too_much_are_told() {
    assert_eq!(read(&[]).problems[0].code, "no-family");
    let large = Text {
        name: "family.toml".to_owned(),
        text: "#".repeat(10 << 20),
    };
    let loaded = read(&[large]);
    let codes: Vec<&str> = loaded.problems.iter().map(|p| p.code).collect();
    assert_eq!(codes, ["file-too-large"]);
    assert_eq!((loaded.problems[0].line, loaded.problems[0].column), (1, 1));
}
