//! Families of random boards: the usual and the odd, the same on every run.

mod board;
mod dice;
mod parts;

use std::fmt::Write as _;

use board::Maker;
use dice::Dice;

/// Boards of one family.
pub(super) const BOARDS: usize = 50;

/// The files of the family of this number: names and texts.
pub(super) fn family(number: usize) -> Vec<(String, String)> {
    let mut dice = Dice::new(number);
    let connector = connector(&mut dice);
    let (rail, ground) = (&connector[0], &connector[1]);
    let names: Vec<String> = (0..BOARDS).map(|at| format!("b{number}-{at}")).collect();
    let mut text = format!("[family]\nname = \"Random {number}\"\nboards = [");
    for name in &names {
        let _ = write!(text, "\"{name}.toml\", ");
    }
    let pins: Vec<String> = connector.iter().map(|p| format!("{p:?}")).collect();
    let _ = write!(
        text,
        r#"]
[connector]
pins = [{}]
ground = {ground:?}
[loads.radio]
pins = {{ plus = {rail:?}, minus = {ground:?} }}
working = ["1.8 V", "3.6 V"]
states = {{ sleep = "3 uA", send = "9 mA" }}
"#,
        pins.join(", ")
    );
    let mut files = vec![("family.toml".to_owned(), text)];
    for (at, name) in names.iter().enumerate() {
        // Small boards are likelier, as outside, and there are some of a hundred parts.
        let most = [6, 12, 20, 35, 100][at % 5];
        let size = 1 + dice.below(most);
        let board = Maker::new(&mut dice, &connector, size).board();
        files.push((format!("{name}.toml"), board));
    }
    files
}

/// Pins of the connector, the rail and the ground first.
fn connector(dice: &mut Dice) -> Vec<String> {
    let rail = dice.pick(&["VDD", "VCC", "+3V0", "Versorgung +3 V", "מתח ראשי"]);
    let ground = dice.pick(&["GND", "GND", "0V", "Masse"]);
    let mut out = vec![rail.to_owned(), ground.to_owned()];
    let more = ["SIG", "EN-B", "VBAT OUT", "إشارة", "W", "X", "Y"];
    let n = if dice.chance(15) { 7 } else { dice.below(3) };
    out.extend(more.iter().take(n).map(|p| (*p).to_owned()));
    out
}
