//! The proof proves itself: a small sound drawing passes, and each fault planted in it is found.

use super::judged;
use super::netlist::{Netlist, Pin};

/// A cell, a resistor in the rail, a capacitor to ground, a switch with an open throw.
const SOUND: &str = r#"<svg class="schematic" role="img" viewBox="0 0 400 260" xmlns="http://www.w3.org/2000/svg">
<title>Circuit of a</title><desc>A cell feeds VDD.</desc>
<g class="part" id="board-a-part-BT1" data-part="BT1" data-board="a" data-terminals="plus 40 60;minus 40 120" data-body="26 60 54 120"><title>BT1</title>
<line x1="40" y1="60" x2="40" y2="120"/><text class="ref" x="60" y="84">BT1</text><text class="val" x="60" y="98">CR2032</text></g>
<g class="part" id="board-a-part-R1" data-part="R1" data-board="a" data-terminals="1 80 40;2 140 40" data-body="80 30 140 50"><title>R1</title><path d="M80 40H140"/>
<text class="ref" text-anchor="middle" x="110" y="14">R1</text><text class="val" text-anchor="middle" x="110" y="26">10 k</text></g>
<g class="part" id="board-a-part-C1" data-part="C1" data-board="a" data-terminals="1 200 80;2 200 140" data-body="186 80 214 140"><title>C1</title><path d="M200 80L200 140"/>
<text class="ref" text-anchor="end" x="184" y="106">C1</text><text class="val" text-anchor="end" x="184" y="120">10 u</text></g>
<g class="part" id="board-a-part-S1" data-part="S1" data-board="a" data-terminals="1 240 180;2 300 160;3 300 200" data-body="240 150 300 210"><title>S1</title><path d="M240 180L300 160M300 200L290 200"/>
<text class="ref" text-anchor="middle" x="270" y="146">S1</text><text class="pin" x="280" y="175">on</text><path class="open" data-at="300 200" d="M296 196L304 204M296 204L304 196"/></g>
<g class="connector" data-board="a" data-terminals="VDD 360 40;GND 360 80" data-body="360 26 396 94"><text class="heading" x="366" y="20">P</text></g>
<g class="net" id="board-a-net-BAT" data-net="BAT" data-board="a"><path class="wire" d="M 40 60 V 40 H 80"/><path class="wire" d="M 320 180 V 160 H 300"/><text class="net-name" data-at="40 40" x="34" y="30">BAT</text><text class="net-name" data-at="320 180" x="326" y="184">BAT</text></g>
<g class="net" id="board-a-net-VDD" data-net="VDD" data-board="a"><path class="wire" d="M 140 40 H 360"/><path class="wire" d="M 200 40 V 80"/><circle class="junction" cx="200" cy="40" r="3"/><text class="net-name" x="240" y="34">VDD</text><text class="net-value" x="280" y="34">3.0 V</text></g>
<g class="net" id="board-a-net-MID" data-net="MID" data-board="a"><path class="wire" d="M 240 180 H 230 V 60 H 300"/><text class="net-name" data-at="300 60" x="306" y="64">MID</text></g>
<g class="net" id="board-a-net-GND" data-net="GND" data-board="a"><path class="wire" d="M 40 120 V 140"/><path class="wire" d="M 200 140 V 160"/><path class="wire" d="M 360 80 V 100"/>
<g class="ground" data-at="40 140"><line x1="32" y1="140" x2="48" y2="140"/><line x1="36" y1="146" x2="44" y2="146"/></g>
<g class="ground" data-at="200 160"><line x1="192" y1="160" x2="208" y2="160"/><line x1="196" y1="166" x2="204" y2="166"/></g>
<g class="ground" data-at="360 100"><line x1="352" y1="100" x2="368" y2="100"/><path d="M356 106h8"/></g></g>
</svg>"#;

fn netlist() -> Netlist {
    let pin = |(part, name, net): (&str, &str, Option<&str>)| Pin {
        part: part.to_owned(),
        name: name.to_owned(),
        net: net.map(str::to_owned),
    };
    let pins = [
        ("BT1", "plus", Some("BAT")),
        ("BT1", "minus", Some("GND")),
        ("R1", "1", Some("BAT")),
        ("R1", "2", Some("VDD")),
        ("C1", "1", Some("VDD")),
        ("C1", "2", Some("GND")),
        ("S1", "1", Some("MID")),
        ("S1", "2", Some("BAT")),
        ("S1", "3", None),
    ];
    Netlist {
        board: "a".to_owned(),
        parts: ["BT1", "R1", "C1", "S1"].map(str::to_owned).to_vec(),
        pins: pins.map(pin).to_vec(),
        connector: vec!["VDD".to_owned(), "GND".to_owned()],
        ground: "GND".to_owned(),
    }
}

#[test]
fn a_sound_drawing_passes() {
    let faults = judged(&netlist(), SOUND);
    assert!(faults.is_empty(), "{faults:#?}");
}

/// What is exchanged in the sound drawing, for what, and what must be said of it.
type Planted = (&'static str, &'static str, &'static str);

/// Documents, parts and pins.
const WHOLE: &[Planted] = &[
    ("</svg>", "", "not well-formed"),
    (
        "<desc>A cell feeds VDD.</desc>",
        "<desc> </desc>",
        "no desc",
    ),
    ("<title>Circuit of a</title>", "", "no title"),
    (
        "id=\"board-a-part-C1\"",
        "id=\"board-a-part-R1\"",
        "is there twice",
    ),
    ("id=\"board-a-part-C1\"", "id=\"board-a part\"", "odd signs"),
    ("id=\"board-a-part-C1\"", "", "no id"),
    (" data-body=\"186 80 214 140\"", "", "no data-body"),
    ("role=\"img\"", "", "no svg.schematic"),
    ("viewBox=\"0 0 400 260\"", "viewBox=\"none\"", "viewBox"),
    (
        "<g class=\"connector\"",
        "<g transform=\"scale(2)\" class=\"connector\"",
        "a transform",
    ),
    (
        "data-part=\"C1\"",
        "data-part=\"C2\"",
        "part C1 is not drawn",
    ),
    ("data-part=\"C1\"", "data-part=\"C2\"", "that no file has"),
    (">C1</text>", ">C9</text>", "does not show its designator"),
    (
        "\"1 200 80;2 200 140\"",
        "\"1 200 80\"",
        "pin C1.2 is drawn 0 times",
    ),
    (
        "\"1 200 80;2 200 140\"",
        "\"1 200 80;2 200 140;1 190 140\"",
        "pin C1.1 is drawn 2 times",
    ),
    (
        "\"1 200 80;2 200 140\"",
        "\"1 200 80;2 200 140;3 190 140\"",
        "a pin C1.3 that no file has",
    ),
    ("VDD 360 40;GND 360 80", "VDD 360 40", "the connector has"),
    ("class=\"connector\"", "class=\"other\"", "0 connectors"),
    (
        "data-board=\"a\" data-terminals=\"plus",
        "data-board=\"b\" data-terminals=\"plus",
        "of a board \"b\"",
    ),
];

/// Wires and signs.
const JOINS: &[Planted] = &[
    // A corner on a wire of another net joins it.
    (
        "M 240 180 H 230 V 60 H 300",
        "M 240 180 H 230 V 40",
        "nets MID and VDD are joined",
    ),
    // A dot on a crossing joins what crosses.
    (
        "M 240 180 H 230 V 60 H 300\"/>",
        "M 240 180 H 230 V 60 H 280 V 20\"/><circle class=\"junction\" cx=\"280\" cy=\"40\" r=\"3\"/>",
        "are joined",
    ),
    // A wire over a terminal of another net.
    (
        "M 240 180 H 230 V 60 H 300",
        "M 240 180 H 230 V 80 H 200",
        "nets MID and VDD are joined, at pins R1.2, C1.1",
    ),
    (
        "M 240 180 H 230 V 60 H 300",
        "M 240 180 H 230 V 80 H 380",
        "are joined",
    ),
    // A wire that stops short of its terminal.
    ("M 200 40 V 80", "M 200 40 V 70", "net VDD is in 2 pieces"),
    (
        "M 240 180 H 230 V 60 H 300",
        "M 240 180 H 230 V 60 H 300 M 330 200 V 220",
        "leads to no pin",
    ),
    // A dot without a crossing, a crossing without a dot.
    (
        "<circle class=\"junction\" cx=\"200\" cy=\"40\" r=\"3\"/>",
        "",
        "no dot where ends meet at (200, 40)",
    ),
    (
        "cx=\"200\" cy=\"40\"",
        "cx=\"260\" cy=\"40\"",
        "a dot where nothing meets at (260, 40)",
    ),
    // Wires that only cross are not joined.
    (
        "M 200 40 V 80\"/><circle class=\"junction\" cx=\"200\" cy=\"40\" r=\"3\"/>",
        "M 200 30 V 80\"/>",
        "net VDD is in 2 pieces",
    ),
    (
        "M 240 180 H 230 V 60 H 300",
        "M 240 180 H 230 V 40 H 250 V 60 H 300",
        "MID run along each other",
    ),
    (
        "M 40 60 V 40 H 80",
        "M 40 60 V 50 L 80 40",
        "wire \"M 40 60 V 50 L 80 40\"",
    ),
    // Names that join groups.
    (
        " data-at=\"320 180\"",
        "",
        "net BAT is in 2 pieces, 1 of them without a name",
    ),
    (
        " data-at=\"320 180\"",
        " data-at=\"330 180\"",
        "stands on nothing of it",
    ),
    (
        " data-at=\"320 180\"",
        " data-at=\"260 40\"",
        "stands on nothing of it",
    ),
    (">MID</text>", ">BAT</text>", "is shown as \"BAT\""),
    (
        ">MID</text>",
        ">M…</text><text class=\"net-name\" x=\"306\" y=\"250\">N…</text>",
        "is shown as \"N…\"",
    ),
    (
        "<g class=\"ground\" data-at=\"200 160\">",
        "<g class=\"ground\" data-at=\"204 160\">",
        "net GND is in 3 pieces, 1",
    ),
    (
        "<g class=\"ground\" data-at=\"200 160\">",
        "<g class=\"other\">",
        "net GND is in 3 pieces, 1",
    ),
    (
        "<g class=\"ground\" data-at=\"200 160\">",
        "<g class=\"ground\">",
        "ground sign without a place",
    ),
    (
        "<text class=\"net-name\" data-at=\"300 60\"",
        "<g class=\"ground\" data-at=\"300 60\"/><text class=\"net-name\"",
        "a ground sign at net MID",
    ),
    // Open pins.
    (
        "M 320 180 V 160 H 300",
        "M 320 180 V 200 H 300 V 160",
        "open pin S1.3 touches",
    ),
    (
        "class=\"open\" data-at=\"300 200\"",
        "class=\"open\" data-at=\"300 160\"",
        "no cross at the open pin at (300, 200)",
    ),
    (
        "class=\"open\" data-at=\"300 200\"",
        "class=\"open\" data-at=\"300 160\"",
        "a cross where no pin is open at (300, 160)",
    ),
    (
        "class=\"open\" data-at=\"300 200\"",
        "class=\"open\"",
        "a cross without a place",
    ),
];

/// Texts, bodies and the page.
const ROOM: &[Planted] = &[
    (
        "x=\"280\" y=\"175\">on<",
        "x=\"298\" y=\"203\">on<",
        "is on the cross at (300, 200)",
    ),
    (
        "x=\"280\" y=\"34\">3.0 V<",
        "x=\"350\" y=\"36\">3.0 V<",
        "text \"3.0 V\" is on the connector",
    ),
    (
        "M80 40H140",
        "M80 40H139",
        "no stroke leads to pin R1.2 at (140, 40)",
    ),
    (
        "x=\"280\" y=\"175\">on<",
        "x=\"270\" y=\"175\">on<",
        "text \"on\" is on a stroke of its symbol S1",
    ),
    (
        "M80 40H140",
        "M80 40H140M90 40L120 10",
        "text \"R1\" is on a stroke of its symbol R1",
    ),
    (
        "y=\"106\">C1<",
        "y=\"114\">C1<",
        "texts \"C1\" and \"10 u\" overlap",
    ),
    (
        "x=\"184\" y=\"106\">C1<",
        "x=\"270\" y=\"200\">C1<",
        "text \"C1\" is on the body of S1",
    ),
    (
        "x=\"240\" y=\"34\">VDD<",
        "x=\"240\" y=\"38\">VDD<",
        "is on a wire of VDD",
    ),
    (
        "x=\"240\" y=\"34\">VDD<",
        "x=\"240\" y=\"48\">VDD<",
        "is on a wire of VDD",
    ),
    (
        "x=\"306\" y=\"64\">MID<",
        "x=\"200\" y=\"172\">MID<",
        "is on a ground sign",
    ),
    (
        "x=\"366\" y=\"20\">P<",
        "x=\"396\" y=\"20\">P<",
        "leaves the page",
    ),
    (
        "x=\"366\" y=\"20\">P<",
        "x=\"366\" y=\"5\">P<",
        "leaves the page",
    ),
    (
        "text class=\"val\" x=\"60\"",
        "text class=\"odd\" x=\"60\"",
        "has no place or size",
    ),
    (
        "data-body=\"186 80 214 140\"",
        "data-body=\"120 40 214 140\"",
        "bodies of R1",
    ),
    (
        "data-body=\"186 80 214 140\"",
        "data-body=\"186 80 250 140\"",
        "runs through C1",
    ),
    (
        "data-body=\"240 150 300 210\"",
        "data-body=\"240 150 330 210\"",
        "runs through S1",
    ),
    (
        "data-body=\"240 150 300 210\"",
        "data-body=\"240 150 300 270\"",
        "the body of S1 leaves the page",
    ),
    (
        "M 40 120 V 140",
        "M 40 120 V 280 H 20 V 140 H 40",
        "a wire of GND leaves the page",
    ),
    (
        "<g class=\"ground\" data-at=\"40 140\"><line x1=\"32\" y1=\"140\" x2=\"48\" y2=\"140\"/>",
        "<g class=\"ground\" data-at=\"40 140\"><line x1=\"32\" y1=\"100\" x2=\"48\" y2=\"140\"/>",
        "a ground sign at (40, 140) is on BT1",
    ),
    // A wire that goes right through the part from one terminal to the other.
    ("M 40 60 V 40 H 80", "M 40 60 V 40 H 140", "runs through R1"),
];

#[test]
fn each_planted_fault_is_found() {
    let mut missed = Vec::new();
    for (from, to, says) in [WHOLE, JOINS, ROOM].concat() {
        assert_eq!(SOUND.matches(from).count(), 1, "{from}");
        let faults = judged(&netlist(), &SOUND.replacen(from, to, 1));
        if !faults.iter().any(|f| f.contains(says)) {
            missed.push(format!("{to}: no {says:?} in {faults:#?}"));
        }
    }
    assert!(missed.is_empty(), "{}", missed.join("\n"));
}
