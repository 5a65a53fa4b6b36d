//! One fully stated condition of a circuit.

use std::collections::{BTreeMap, BTreeSet};

use crate::model::{Device, Family, Profile};
use crate::quantity::Temperature;

/// How the circuit came to where it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum History {
    /// Starting from off.
    Cold,
    /// Already up.
    Running,
}

/// One fully stated condition.
#[derive(Debug, Clone, PartialEq)]
pub struct Situation {
    /// Names of the boards that are plugged together.
    pub boards: Vec<String>,
    /// Position of every switch and jumper.
    pub positions: BTreeMap<String, String>,
    /// Cells put in backwards: `BT1` for a whole string, `BT1.2` for one of its cells.
    pub reversed: BTreeSet<String>,
    /// State of every load.
    pub states: BTreeMap<String, String>,
    /// Temperature around the boards.
    pub ambient: Temperature,
    /// Depth of every cell whose board has none of its own.
    pub depth: f64,
    /// Depth of the cells of single boards or cell parts, by their name: a fresh cell on one can
    /// charge a worn one on another.
    pub depths: BTreeMap<String, f64>,
    /// Cells and supplies that are not there: an empty holder, a lead that is unplugged.
    pub absent: BTreeSet<String>,
    /// Starting from off, or already up.
    pub history: History,
}

impl Situation {
    /// The usual situation: usual positions, base states of the profile (or first states), usual
    /// ambient, fresh cells, running.
    #[must_use]
    pub fn usual(family: &Family, boards: &[String], profile: Option<&Profile>) -> Self {
        let mut positions = BTreeMap::new();
        let mut states = BTreeMap::new();
        for board in boards.iter().filter_map(|name| family.board(name)) {
            for part in &board.parts {
                if let Device::Switch(switch) = &part.device
                    && let Some(position) = switch.positions.get(switch.usual)
                {
                    let name = qualified(boards, &board.name, &part.name);
                    positions.insert(name, position.name.clone());
                }
            }
            for load in family.loads_of(board) {
                let own = board.loads.iter().any(|l| l.name == load.name);
                let name = if own {
                    qualified(boards, &board.name, &load.name)
                } else {
                    load.name.clone()
                };
                let base = profile.and_then(|p| p.base.iter().find(|(l, _)| *l == load.name));
                let first = load.states.first().map(|s| s.name.clone());
                if let Some(state) = base.map(|(_, s)| s.clone()).or(first) {
                    states.insert(name, state);
                }
            }
        }
        Self {
            boards: boards.to_vec(),
            positions,
            reversed: BTreeSet::new(),
            states,
            ambient: family.requirement.ambient.usual,
            depth: 0.0,
            depths: BTreeMap::new(),
            absent: BTreeSet::new(),
            history: History::Running,
        }
    }

    /// Depth of the cells of a part by its name in the circuit.
    #[must_use]
    pub fn depth_of(&self, part: &str) -> f64 {
        let board = match part.rsplit_once('/') {
            Some((board, _)) => Some(board),
            None => self.boards.first().map(String::as_str),
        };
        let of_board = || board.and_then(|b| self.depths.get(b));
        let own = self.depths.get(part).or_else(of_board);
        own.copied().unwrap_or(self.depth)
    }
}

/// The name of a part in a circuit: alone as it is, in a stack behind its board's name.
pub(crate) fn qualified(boards: &[String], board: &str, name: &str) -> String {
    if boards.len() == 1 {
        name.to_owned()
    } else {
        format!("{board}/{name}")
    }
}
