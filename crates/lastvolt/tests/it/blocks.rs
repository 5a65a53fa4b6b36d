//! Recognised blocks against what stands beside each part of a fixture: `#= KIND` at its header. A part
//! without it is in no block; a fixture without any is a mistake.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use lastvolt_core::model::Family;
use lastvolt_core::progress::Silent;
use lastvolt_core::review::{BlockKind, Evidence, blocks};
use lastvolt_input::{Text, board_files};

use crate::program::{example_arg, run};
use crate::rules::{load, suite, texts};

/// Kind of each annotated part, by board and name; `None` where a text has no annotation at all.
fn wanted(texts: &[Text]) -> BTreeMap<(String, String), String> {
    let mut out = BTreeMap::new();
    for text in texts {
        let board = text.name.trim_end_matches(".toml");
        for line in text.text.lines() {
            let Some((head, kind)) = line.split_once("#= ") else {
                continue;
            };
            let name = head.trim_start().strip_prefix("[parts.");
            let name = name.and_then(|n| n.split_once(']')).expect("a part").0;
            let known = BlockKind::ALL.iter().any(|k| k.word() == kind.trim());
            assert!(known, "no such kind of block: {line}");
            out.insert((board.to_owned(), name.to_owned()), kind.trim().to_owned());
        }
    }
    out
}

fn found(family: &Family) -> BTreeMap<(String, String), String> {
    let mut out = BTreeMap::new();
    for board in &family.boards {
        let profile = family.profiles.first();
        let e = Evidence::new(family, &board.name, profile, &Silent).expect("a board");
        let found = blocks::recognise(&e);
        let mut times: BTreeMap<&str, usize> = BTreeMap::new();
        for block in &found.blocks {
            for part in &block.parts {
                *times.entry(part).or_default() += 1;
                let key = (board.name.clone(), part.clone());
                out.insert(key, block.kind.word().to_owned());
            }
        }
        for part in &board.parts {
            let placed = times.get(part.name.as_str()).copied().unwrap_or(0);
            let left = found.unplaced.contains(&part.name);
            assert!(placed <= 1, "{} is in {placed} blocks", part.name);
            assert_eq!(placed == 0, left, "{} is hidden", part.name);
        }
    }
    out
}

#[test]
fn every_block_of_the_corpus_is_recognised() {
    let mut wrong = String::new();
    let mut plain: Vec<String> = Vec::new();
    for (name, fixture) in suite() {
        let texts = texts(&fixture);
        let wanted = wanted(&texts);
        if wanted.is_empty() {
            plain.push(name.clone());
            continue;
        }
        let (family, _) = load(&name, &texts);
        let found = found(&family);
        let parts: Vec<_> = family
            .boards
            .iter()
            .flat_map(|b| b.parts.iter().map(|p| (b.name.clone(), p.name.clone())))
            .collect();
        for key in parts {
            let (w, f) = (wanted.get(&key), found.get(&key));
            if w != f {
                writeln!(
                    wrong,
                    "{name} {}/{}: wanted {w:?}, found {f:?}",
                    key.0, key.1
                )
                .unwrap();
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
    assert!(plain.is_empty(), "no part says its block: {plain:?}");
}

/// The boards of the example, as somebody who reads their files would sort them.
#[test]
fn the_blocks_of_the_example_are_recognised() {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/frost-beacon");
    let text = |name: &str| Text {
        name: name.to_owned(),
        text: std::fs::read_to_string(format!("{root}/{name}")).expect("a text of the example"),
    };
    let family = text("family.toml");
    let names = board_files(&family.text);
    let all: Vec<Text> = std::iter::once(family)
        .chain(names.iter().map(|n| text(n)))
        .collect();
    let (family, _) = load("example", &all);
    let sorted: [(&str, &str, &str); 21] = [
        ("coin", "source", "BT1"),
        ("coin", "reverse-protection", "Q1"),
        ("coin", "power-switch", "S1 R1"),
        ("coin", "bypass", "C1 C2"),
        ("coin", "indicator", "JP1 R2 DS1"),
        ("one-cell", "source", "BT1"),
        ("one-cell", "converter", "C1 L1 U1 R1 R2 C2"),
        ("one-cell", "indicator", "S1 R3 D1"),
        ("two-cell", "source", "BT1"),
        ("two-cell", "reverse-protection", "F1 D1"),
        ("two-cell", "power-switch", "S1"),
        ("two-cell", "enable-control", "R1"),
        ("two-cell", "converter", "C1 L1 U1 R2 R3 C2"),
        ("two-cell", "indicator", "R4 D2 Q1 R5"),
        ("usb", "source", "J1"),
        ("usb", "converter", "C1 U1 C2"),
        ("usb", "isolation", "D1"),
        ("usb", "bypass", "C3"),
        ("usb", "indicator", "S1 R1 D2"),
        ("usb", "interface", ""),
        ("coin", "interface", ""),
    ];
    let mut wanted = BTreeMap::new();
    for (board, kind, parts) in sorted {
        for part in parts.split_whitespace() {
            wanted.insert((board.to_owned(), part.to_owned()), kind.to_owned());
        }
    }
    assert_eq!(found(&family), wanted);
}

#[test]
fn a_walk_names_every_block_and_what_the_switches_do() {
    let dir = example_arg();
    let text = run(&["walk", &dir, "--board", "coin"]).expect(0);
    for piece in [
        "Board coin",
        "Source BT1 (BT1)",
        "Reverse protection Q1",
        "Indicator DS1",
        "What the switches do",
        "S1, marked POWER",
        "off: VDD is down",
    ] {
        assert!(text.out.contains(piece), "no {piece} in\n{}", text.out);
    }
    let json = run(&["walk", &dir, "--board", "two-cell", "--format", "json"]).expect(0);
    let json: serde_json::Value = serde_json::from_str(&json.out).expect("a document");
    let board = &json["boards"][0];
    assert_eq!(board["name"], "two-cell");
    assert_eq!(board["unplaced"].as_array().map(Vec::len), Some(0));
    let blocks = board["blocks"].as_array().expect("blocks");
    for block in blocks {
        assert!(!block["purpose"].as_str().expect("a purpose").is_empty());
    }
    let rails = &board["legend"][0]["positions"][1]["rails"][0];
    assert_eq!(board["legend"][0]["positions"][1]["position"], "off");
    assert_eq!(rails["up"], false);
}

/// Shapes that the corpus has no fault for.
const RARER: &str = r##"
#--- family.toml
[family]
name   = "Rarer shapes"
boards = ["joined.toml", "held.toml", "facing.toml", "lamps.toml", "gate.toml"]
[connector]
pins = ["VDD", "GND"]
[loads.radio]
pins    = { plus = "VDD", minus = "GND" }
working = ["1.8 V", "3.6 V"]
[loads.radio.states]
sleep = "10 uA"
#--- joined.toml
[parts.B]   #= source
kind  = "cell"
model = "CR2032"
pins  = { plus = "N1", minus = "GND" }
[parts.P]   #= source
kind    = "supply"
voltage = "3.3 V"
pins    = { plus = "N2", minus = "GND" }
[parts.X]   #= isolation
kind  = "diode"
model = "schottky-small"
pins  = { anode = "N1", cathode = "VDD" }
[parts.Y]   #= isolation
kind  = "diode"
model = "schottky-small"
pins  = { anode = "N2", cathode = "VDD" }
[parts.K]   #= bulk
kind  = "capacitor"
value = "470 uF"
pins  = ["VDD", "GND"]
[parts.E]   #= bypass
kind  = "capacitor"
value = "100 nF"
pins  = ["GND", "VDD"]
#--- held.toml
[parts.B]   #= source
kind  = "cell"
model = "CR2032"
pins  = { plus = "N1", minus = "GND" }
[parts.F]   #= limiter
kind       = "fuse"
resistance = "100 mohm"
pins       = ["N1", "N2"]
[parts.M]   #= power-switch
kind  = "p-fet"
model = "p-fet-low-threshold"
pins  = { drain = "VDD", gate = "N3", source = "N2" }
[parts.U]   #= enable-control
kind  = "resistor"
value = "1M"
pins  = ["N2", "N3"]
[parts.D]   #= enable-control
kind  = "n-fet"
model = "n-fet-low-threshold"
pins  = { drain = "N3", gate = "N4", source = "GND" }
[parts.R]   #= enable-control
kind  = "resistor"
value = "1M"
pins  = ["N4", "GND"]
[parts.S]   #= enable-control
kind      = "switch"
pins      = { 1 = "N2", 2 = "N4" }
positions = { on = [["1", "2"]], off = [] }
#--- facing.toml
[parts.B]   #= source
kind  = "cell"
model = "CR2032"
pins  = { plus = "N1", minus = "GND" }
[parts.M]   #= isolation
kind  = "p-fet"
model = "p-fet-low-threshold"
pins  = { drain = "N1", gate = "N3", source = "N2" }
[parts.N]   #= isolation
kind  = "p-fet"
model = "p-fet-low-threshold"
pins  = { drain = "VDD", gate = "N3", source = "N2" }
[parts.U]   #= enable-control
kind  = "resistor"
value = "1M"
pins  = ["N2", "N3"]
[parts.S]   #= enable-control
kind      = "switch"
pins      = { 1 = "N3", 2 = "GND" }
positions = { on = [["1", "2"]], off = [] }
#--- lamps.toml
[parts.B]   #= source
kind  = "cell"
model = "CR2032"
pins  = { plus = "N1", minus = "GND" }
[parts.L]   #= filter
kind  = "inductor"
value = "10 uH"
pins  = ["N1", "VDD"]
[parts.S]   #= indicator
kind      = "switch"
pins      = { 1 = "VDD", 2 = "N2" }
positions = { on = [["1", "2"]], off = [] }
[parts.R]   #= indicator
kind  = "resistor"
value = "1k"
pins  = ["N2", "N3"]
[parts.A]   #= indicator
kind  = "led"
model = "led-red"
pins  = { anode = "N3", cathode = "GND" }
[parts.Q]   #= indicator
kind  = "resistor"
value = "1k"
pins  = ["N2", "N4"]
[parts.G]   #= indicator
kind  = "led"
model = "led-green"
pins  = { anode = "N4", cathode = "GND" }
[parts.T]   #= measurement
kind = "test-point"
pins = ["VDD"]
[parts.W]   #= own-load
kind  = "resistor"
value = "1M"
pins  = ["VDD", "GND"]
#--- gate.toml
[parts.B]   #= source
kind  = "cell"
model = "CR2032"
pins  = { plus = "N1", minus = "GND" }
[parts.M]   #= reverse-protection
kind  = "p-fet"
model = "p-fet-low-threshold"
pins  = { drain = "N1", gate = "N2", source = "N3" }
[parts.R]   #= reverse-protection
kind  = "resistor"
value = "100k"
pins  = ["N2", "GND"]
[parts.S]   #= power-switch
kind      = "switch"
pins      = { 1 = "N3", 2 = "VDD", 3 = "N4" }
positions = { on = [["1", "2"]], off = [["2", "3"]] }
[parts.Q]   #= power-switch
kind  = "resistor"
value = "1k"
pins  = ["N4", "GND"]
[parts.Z]
kind  = "resistor"
value = "1k"
pins  = ["N5", "N6"]
"##;

#[test]
fn rarer_shapes_are_recognised_and_what_is_lost_is_listed() {
    let texts = texts(RARER.trim_start());
    let (family, _) = load("rarer", &texts);
    assert_eq!(found(&family), wanted(&texts));
}

/// Parts made of transistors, and what breaks through or warms up.
const GATED: &str = r##"
#--- family.toml
[family]
name   = "Gated"
boards = ["watched.toml", "lone.toml", "told.toml"]
[connector]
pins = ["VDD", "GND", "PG"]
[loads.radio]
pins    = { plus = "VDD", minus = "GND" }
working = ["1.8 V", "3.6 V"]
[loads.radio.states]
sleep = "10 uA"
#--- watched.toml
[parts.B]   #= source
kind   = "cell"
model  = "CR2032"
holder = { contact = "50 mohm", reversed = "possible" }
pins   = { plus = "N1", minus = "GND" }
[parts.F]   #= reverse-protection
kind  = "ptc"
model = "ptc-200mA"
pins  = ["N1", "N2"]
[parts.D]   #= reverse-protection
kind  = "diode"
model = "schottky-small"
pins  = { anode = "GND", cathode = "N2" }
[parts.H]   #= lockout
kind  = "resistor"
value = "1M"
pins  = ["N2", "N3"]
[parts.L]   #= lockout
kind  = "resistor"
value = "4M7"
pins  = ["N3", "GND"]
[parts.W]   #= lockout
kind  = "detector"
model = "detector-1V8-push-pull"
pins  = { in = "N3", out = "N4", gnd = "GND" }
[parts.U]   #= power-switch
kind  = "load-switch"
model = "load-switch-1A"
pins  = { in = "N2", out = "VDD", gnd = "GND", enable = "N4" }
#--- lone.toml
[parts.B]   #= source
kind   = "cell"
model  = "CR2032"
holder = { contact = "50 mohm", reversed = "possible" }
pins   = { plus = "N1", minus = "GND" }
[parts.I]   #= reverse-protection
kind  = "ideal-diode"
model = "ideal-diode-nanoamp"
pins  = { in = "N1", out = "VDD", gnd = "GND" }
[parts.Z]   #= clamp
kind  = "zener"
model = "zener-6V2"
pins  = { anode = "GND", cathode = "VDD" }
#--- told.toml
[parts.B]   #= source
kind   = "cell"
model  = "CR2032"
holder = { contact = "50 mohm", reversed = "blocked" }
pins   = { plus = "VDD", minus = "GND" }
[parts.W]   #= measurement
kind  = "detector"
model = "detector-1V8"
pins  = { in = "VDD", out = "PG", gnd = "GND" }
[parts.R]   #= measurement
kind  = "resistor"
value = "1M"
pins  = ["VDD", "PG"]
"##;

#[test]
fn what_detectors_switches_and_diodes_do_is_told_with_their_thresholds() {
    let texts = texts(GATED.trim_start());
    let (family, _) = load("gated", &texts);
    assert_eq!(found(&family), wanted(&texts));
    let profile = family.profiles.first();
    let of = |board: &str, part: &str| {
        let e = Evidence::new(&family, board, profile, &Silent).expect("a board");
        blocks::blocks(&e).of(part).expect("a block").clone()
    };
    // 1.8 V at the middle of 1 and 4.7 Mohm are 2.183 V above it.
    let lockout = of("watched", "W");
    assert!(
        lockout
            .purpose
            .starts_with("W watches N2. Below 2.18 V it pulls N4 low, which switches U off;"),
        "{}",
        lockout.purpose
    );
    let falling = &lockout.figures[0];
    assert_eq!(falling.label, "N2 at which it pulls low, falling");
    assert!((falling.value - 1.8 * (1.0 + 1.0 / 4.7)).abs() < 1e-9);
    let said = [
        ("watched", "U", "U joins N2 to VDD while N4 is high"),
        ("watched", "D", "D conducts, and F warms up"),
        ("lone", "I", "with the small drop of a transistor"),
        ("lone", "Z", "conducts when VDD rises to about 6.20 V"),
        (
            "told",
            "W",
            "it pulls PG low; from 1.89 V up R lifts PG again.",
        ),
    ];
    for (board, part, words) in said {
        let purpose = of(board, part).purpose;
        assert!(purpose.contains(words), "{purpose}");
    }
}
