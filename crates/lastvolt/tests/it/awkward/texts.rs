//! A family that is right and awkward: markup in its texts, very long names, names from right to left,
//! a hundred parts on one board, a board without a cell.

use std::fmt::Write as _;

/// The longest name that is read, in bytes.
const LONGEST: usize = 64;

const MARKUP: &str = r"</title></desc></svg><script>alert(1)</script><img src=x onerror=alert(2)>&amp;&#60;b onload='x'>";

/// The files of the family: names and texts.
pub(crate) fn texts() -> Vec<(&'static str, String)> {
    let rail = long("VDD behind the converter and its output capacitor");
    let head = format!(
        r#"[family]
name = "{MARKUP}"
boards = ["markup.toml", "long.toml", "right to left.toml", "hundred.toml", "no-cell.toml"]

[requirement]
life = "6 months"
ambient = {{ low = "-5 degC", usual = "20 degC", high = "40 degC" }}

[connector]
pins = ["{rail}", "GND", "ערוץ"]
ground = "GND"

[loads."רדיו מרחוק"]
pins = {{ plus = "{rail}", minus = "GND" }}
working = ["1.8 V", "3.6 V"]
survives = "3.9 V"
states = {{ "שינה" = "3 uA", send = "9 mA" }}

[profiles."{}"]
[[profiles."{}".tasks]]
name = "دعوة"
every = "60 s"
steps = [{{ for = "4 ms", set = {{ "רדיו מרחוק" = "send" }} }}]
"#,
        long("a day in the life of it"),
        long("a day in the life of it"),
    );
    let title = "A title without an end that goes on and on".repeat(40);
    let (cell, net) = (
        long("BT of the first channel"),
        long("BAT in front of it all"),
    );
    let hebrew = "לוח עם תא אחד ומתג, ראה <תיעוד>";
    vec![
        ("family.toml", head),
        ("markup.toml", direct(MARKUP, "BT1", "BAT", &rail)),
        ("long.toml", direct(&title, &cell, &net, &rail)),
        ("right to left.toml", direct(hebrew, "תא 1", "סוללה", &rail)),
        ("hundred.toml", hundred(&rail)),
        ("no-cell.toml", without_a_cell(&rail)),
    ]
}

/// A name drawn out to the longest that is read.
fn long(name: &str) -> String {
    let mut out = name.to_owned();
    while out.len() < LONGEST {
        out.push('x');
    }
    out
}

/// A cell, a switch and a capacitor under these names.
fn direct(title: &str, cell: &str, net: &str, rail: &str) -> String {
    format!(
        r#"title = "{title}"
[parts."{cell}"]
kind = "cell"
model = "CR2032"
holder = {{ contact = "50 mohm", reversed = "possible" }}
pins = {{ plus = "{net}", minus = "GND" }}
[parts.S1]
kind = "switch"
label = "{MARKUP}"
pins = {{ 1 = "{net}", 2 = "{rail}" }}
positions = {{ "פועל" = [["1", "2"]], "{}" = [] }}
[parts.C1]
kind = "capacitor"
value = "22 uF"
rated = "6.3 V"
note = "{MARKUP}"
pins = ["{rail}", "GND"]
"#,
        long("off")
    )
}

/// A cell that feeds a hundred parts.
fn hundred(rail: &str) -> String {
    let mut out = format!(
        r#"title = "A hundred parts"
[parts.BT1]
kind = "cell"
model = "LR6"
series = 2
holder = {{ contact = "50 mohm", reversed = "blocked" }}
pins = {{ plus = "{rail}", minus = "GND" }}
"#
    );
    for n in 1..=33 {
        let _ = write!(
            out,
            r#"[parts.R{n}]
kind = "resistor"
value = "47k"
pins = ["{rail}", "LEDA{n}"]
[parts.D{n}]
kind = "led"
model = "led-green"
pins = {{ anode = "LEDA{n}", cathode = "GND" }}
[parts.C{n}]
kind = "capacitor"
value = "100n"
rated = "16 V"
pins = ["{rail}", "GND"]
"#
        );
    }
    out
}

fn without_a_cell(rail: &str) -> String {
    format!(
        r#"title = "No cell, only what is plugged on"
[parts.C1]
kind = "capacitor"
value = "100 uF"
rated = "6.3 V"
pins = ["{rail}", "GND"]
[parts.R1]
kind = "resistor"
value = "2k2"
pins = ["ערוץ", "LEDA"]
[parts.D1]
kind = "led"
model = "led-red"
pins = {{ anode = "LEDA", cathode = "GND" }}
"#
    )
}
