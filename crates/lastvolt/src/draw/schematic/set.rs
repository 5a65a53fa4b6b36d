//! What a drawing shows of a situation: positions of switches, cells that are put in backwards, sources
//! that are taken out; and how much room the readings of each part need, whatever they come to say.

use lastvolt_core::circuit::{Mode, Situation};
use lastvolt_core::device::{Cell, Switch};
use lastvolt_core::model::{Board, Device, Family, Part};

use super::sheet::{Reading, TextRole};
use crate::draw::lettering::{Letters, width};
use crate::draw::svg::shortened;

/// The widest figure of a reading: sign, three digits and a point, prefix and unit.
pub(crate) const WIDEST: &str = "\u{2212}88.8\u{a0}mA";
/// Most characters of a word.
const MOST: usize = 14;
/// The words of sources that are not as they should be.
const TAKEN_OUT: &str = "taken out";
const REVERSED: &str = "reversed";
/// All that parts with a state of their own can be.
const MODES: [Mode; 12] = [
    Mode::Off,
    Mode::Start,
    Mode::Run,
    Mode::Limit,
    Mode::Dropout,
    Mode::Pass,
    Mode::Collapsed,
    Mode::Hiccup,
    Mode::On,
    Mode::BodyDiode,
    Mode::Released,
    Mode::Detects,
];

/// A board in a situation.
#[derive(Clone, Copy)]
pub(crate) struct Set<'a> {
    pub(crate) family: &'a Family,
    pub(crate) board: &'a Board,
    pub(crate) situation: &'a Situation,
}

/// Which cells of a string are put in backwards.
pub(crate) struct Turned(Vec<bool>);

impl Turned {
    pub(crate) fn is_turned(&self, cell: usize) -> bool {
        self.0.get(cell).copied().unwrap_or(false)
    }

    /// Whether any is.
    pub(crate) fn any(&self) -> bool {
        self.0.contains(&true)
    }

    /// In a word; empty where all stand as they should.
    fn word(&self) -> String {
        let turned = self.0.iter().zip(1..).filter(|(t, _)| **t);
        let turned: Vec<String> = turned.map(|(_, at): (_, usize)| at.to_string()).collect();
        match turned.len() {
            0 => String::new(),
            n if n == self.0.len() => REVERSED.to_owned(),
            _ => format!("{REVERSED}: {}", turned.join(", ")),
        }
    }
}

/// A word that has the room that words have in the drawing.
pub(crate) fn fitted(word: &str) -> String {
    shortened(word, MOST)
}

impl Set<'_> {
    /// The name of a part or load of the board in its circuit.
    pub(crate) fn name(&self, name: &str) -> String {
        if self.situation.boards.len() < 2 {
            name.to_owned()
        } else {
            format!("{}/{name}", self.board.name)
        }
    }

    /// The name of a net of the board in its circuit.
    pub(crate) fn net(&self, net: &str) -> String {
        if self.family.connector.pins.iter().any(|pin| pin == net) {
            net.to_owned()
        } else {
            self.name(net)
        }
    }

    /// Under which name a part is read and chosen: `part:R1`, `load:beacon`.
    pub(crate) fn key(&self, part: &Part) -> String {
        match &part.device {
            Device::Load(load) => {
                let own = self.board.loads.iter().any(|l| l.name == *load);
                let name = if own { self.name(load) } else { load.clone() };
                format!("load:{name}")
            }
            _ => format!("part:{}", self.name(&part.name)),
        }
    }

    /// The position of a switch; the usual one where none is set.
    pub(crate) fn position(&self, part: &str, switch: &Switch) -> usize {
        let set = self.situation.positions.get(&self.name(part));
        let found = set.and_then(|set| switch.positions.iter().position(|p| p.name == *set));
        found.unwrap_or(switch.usual)
    }

    /// Which cells of a part are put in backwards.
    pub(crate) fn turned(&self, part: &str, cell: &Cell) -> Turned {
        let name = self.name(part);
        let reversed = &self.situation.reversed;
        let whole = reversed.contains(&name);
        let one = |k: usize| whole || reversed.contains(&format!("{name}.{k}"));
        Turned((1..=cell.series).map(one).collect())
    }

    /// Whether a source is not there.
    pub(crate) fn is_absent(&self, part: &str) -> bool {
        self.situation.absent.contains(&self.name(part))
    }

    /// The word of a part as far as the situation alone says it.
    pub(crate) fn word(&self, part: &Part) -> Option<String> {
        match &part.device {
            Device::Switch(switch) => {
                let position = switch.positions.get(self.position(&part.name, switch));
                position.map(|p| p.name.clone())
            }
            Device::Cell(_) | Device::Supply(_) if self.is_absent(&part.name) => {
                Some(TAKEN_OUT.to_owned())
            }
            Device::Cell(cell) => Some(self.turned(&part.name, cell).word()),
            Device::Supply(_) => Some(String::new()),
            Device::Load(_) => {
                let key = self.key(part);
                let name = key.strip_prefix("load:")?;
                self.situation.states.get(name).cloned()
            }
            _ => None,
        }
    }

    /// The readings of a part, each with the widest text that it can come to.
    pub(crate) fn rooms(&self, part: &Part) -> Vec<(TextRole, String)> {
        let figure = |r: Reading| (TextRole::Reading(r), WIDEST.to_owned());
        let mode = |word: String| (TextRole::Reading(Reading::Mode), fitted(&word));
        let (current, loss) = (figure(Reading::Current), figure(Reading::Loss));
        match &part.device {
            Device::TestPoint => Vec::new(),
            Device::Switch(switch) => {
                let names = switch.positions.iter().map(|p| p.name.as_str());
                vec![mode(longest(names)), current]
            }
            Device::Cell(cell) if 1 < cell.series => {
                vec![current, loss, mode(format!("{REVERSED}: 1, 2, 3"))]
            }
            Device::Cell(_) | Device::Supply(_) => vec![current, loss, mode(TAKEN_OUT.to_owned())],
            Device::Load(name) => {
                let load = self.family.loads_of(self.board).into_iter();
                let states = load.filter(|l| l.name == *name).flat_map(|l| &l.states);
                let states = states.map(|s| s.name.as_str()).chain(["in reset"]);
                vec![mode(longest(states)), current, loss]
            }
            Device::Regulator(_)
            | Device::Detector(_)
            | Device::LoadSwitch(_)
            | Device::IdealDiode(_) => {
                vec![
                    mode(longest(MODES.map(Mode::word).into_iter())),
                    current,
                    loss,
                ]
            }
            _ => vec![current, loss],
        }
    }
}

/// The widest of some words, as they fit.
pub(crate) fn longest<'w>(words: impl Iterator<Item = &'w str>) -> String {
    let wide = |word: &String| width(word, 1.0, Letters::Mono);
    let longest = words.map(fitted).max_by(|a, b| wide(a).total_cmp(&wide(b)));
    longest.unwrap_or_default()
}
