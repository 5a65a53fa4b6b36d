//! The axes of a circuit's situations, and a choice on each of them.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::{Circuit, History, Situation};
use crate::device::{Reversal, Switch};
use crate::model::{Device, Part, Profile};
use crate::quantity::Temperature;

use super::apart::groups;
use super::product::{few, product};

/// Depths that are looked at: fresh, three in between, and drawn to the end.
const DEPTHS: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];

/// Most combinations of positions that are solved at the limits of supplies and references.
const MOST_POSITIONS: usize = 64;

/// Values on the axes that are continuous.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    /// Depths of the cells of each board, rising.
    pub depths: Vec<f64>,
    /// Ambients, the usual one first.
    pub ambients: Vec<Temperature>,
}

impl Grid {
    /// Five depths, and the usual, lowest and highest ambient of the requirement.
    #[must_use]
    pub fn usual(circuit: &Circuit) -> Self {
        let ambient = &circuit.family().requirement.ambient;
        let mut ambients = vec![ambient.usual];
        for other in [ambient.low, ambient.high] {
            if !ambients.contains(&other) {
                ambients.push(other);
            }
        }
        Self {
            depths: DEPTHS.to_vec(),
            ambients,
        }
    }
}

/// What is in a holder or port.
#[derive(Debug, Clone, PartialEq)]
struct Put {
    reversed: BTreeSet<String>,
    absent: bool,
}

/// One axis with choices that are combined with each other.
#[derive(Debug, Clone)]
pub(super) struct Discrete {
    /// How many choices there are; the usual one is the first.
    pub(super) choices: usize,
    /// Those with the same number may influence each other.
    pub(super) group: usize,
}

/// One choice on every axis.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Choice {
    /// Of each switch, then of each source.
    pub(super) discrete: Vec<usize>,
    /// Of the joint states.
    pub(super) states: usize,
    /// Of the ambient.
    pub(super) ambient: usize,
    /// Of the depth of each cell part.
    pub(super) depths: Vec<usize>,
    /// Of the history: running, cold.
    pub(super) history: usize,
}

/// Every axis of a circuit.
#[derive(Debug)]
pub struct Axes {
    usual: Situation,
    switches: Vec<(String, Vec<String>)>,
    /// Whether each position of each switch lasts.
    lasting: Vec<Vec<bool>>,
    sources: Vec<(String, Vec<Put>)>,
    discrete: Vec<Discrete>,
    states: Vec<BTreeMap<String, String>>,
    grid: Grid,
    /// Cell parts by the name that their depth goes by, and their places among the sources.
    cells: Vec<(String, usize)>,
    histories: usize,
    /// Positions of switches without those that close the same nets as another one left out.
    written: u64,
}

impl Axes {
    /// The axes of a circuit under a profile.
    #[must_use]
    pub fn new(circuit: &Circuit, profile: Option<&Profile>, grid: Grid) -> Self {
        let names: Vec<String> = circuit.boards().iter().map(|b| b.name.clone()).collect();
        let usual = Situation::usual(circuit.family(), &names, profile);
        let group = groups(circuit);
        let mut axes = Self {
            switches: Vec::new(),
            lasting: Vec::new(),
            sources: Vec::new(),
            discrete: Vec::new(),
            states: Vec::new(),
            grid,
            cells: Vec::new(),
            histories: if has_memory(circuit) { 2 } else { 1 },
            written: 1,
            usual,
        };
        axes.add_switches(circuit, &group);
        axes.add_sources(circuit, &group);
        axes.add_states(profile);
        axes
    }

    fn add_switches(&mut self, circuit: &Circuit, group: &[usize]) {
        for (at, (name, part)) in circuit.parts().iter().enumerate() {
            if let Device::Switch(switch) = &part.device {
                let all = switch.positions.len() + switch.between().len();
                self.written = self.written.saturating_mul(all as u64);
                let positions = distinct(part, switch);
                let lasting = positions.iter().map(|p| switch.lasts_in(p));
                self.lasting.push(lasting.collect());
                self.discrete.push(Discrete {
                    choices: positions.len(),
                    group: group[at],
                });
                self.switches.push((name.clone(), positions));
            }
        }
    }

    fn add_sources(&mut self, circuit: &Circuit, group: &[usize]) {
        for (at, (name, part)) in circuit.parts().iter().enumerate() {
            let puts = match &part.device {
                Device::Cell(cell) => puts(name, cell.series, cell.holder.reversed),
                Device::Supply(_) => puts(name, 0, Reversal::Blocked),
                _ => continue,
            };
            if matches!(part.device, Device::Cell(_)) {
                self.cells
                    .push((depth_key(circuit, name), self.sources.len()));
            }
            self.discrete.push(Discrete {
                choices: puts.len(),
                group: group[at],
            });
            self.sources.push((name.clone(), puts));
        }
    }

    /// Base states, then every step over them.
    fn add_states(&mut self, profile: Option<&Profile>) {
        self.states.push(self.usual.states.clone());
        for step in profile.iter().flat_map(|p| &p.tasks).flat_map(|t| &t.steps) {
            let mut states = self.usual.states.clone();
            for (name, state) in &step.set {
                if let Some(known) = states.get_mut(name) {
                    known.clone_from(state);
                }
            }
            if !self.states.contains(&states) {
                self.states.push(states);
            }
        }
    }

    /// Axes whose choices are combined: switches, then sources.
    pub(super) fn discrete(&self) -> &[Discrete] {
        &self.discrete
    }

    /// Names of the switches, then of the sources.
    pub(super) fn discrete_names(&self) -> Vec<&str> {
        let switches = self.switches.iter().map(|s| s.0.as_str());
        let sources = self.sources.iter().map(|s| s.0.as_str());
        switches.chain(sources).collect()
    }

    /// Names that depths go by.
    pub(super) fn depth_names(&self) -> Vec<&str> {
        self.cells.iter().map(|c| c.0.as_str()).collect()
    }

    /// The joint states.
    pub(super) fn states(&self) -> &[BTreeMap<String, String>] {
        &self.states
    }

    /// How many choices there are on the other axes: states, ambients, depths of each cell part, histories.
    pub(super) fn lengths(&self) -> (usize, usize, Vec<usize>, usize) {
        let depths = vec![self.grid.depths.len(); self.cells.len()];
        (
            self.states.len(),
            self.grid.ambients.len(),
            depths,
            self.histories,
        )
    }

    /// Number of situations: the product of all axes, positions as they are written.
    #[must_use]
    pub fn covered(&self) -> u64 {
        let sources = self.sources.iter().map(|s| s.1.len() as u64);
        let sources = sources.fold(self.written, u64::saturating_mul);
        let (states, ambients, depths, histories) = self.lengths();
        let rest = [states as u64, ambients as u64, histories as u64];
        let rest = rest.into_iter().fold(sources, u64::saturating_mul);
        depths.iter().fold(rest, |n, d| n.saturating_mul(*d as u64))
    }

    /// The usual choice: everything as the files say, fresh, running.
    #[must_use]
    pub fn usual(&self) -> Choice {
        Choice {
            discrete: vec![0; self.discrete.len()],
            states: 0,
            ambient: 0,
            depths: vec![0; self.cells.len()],
            history: 0,
        }
    }

    /// Every combination of positions, everything else usual; those with a few switches moved where
    /// there are too many.
    #[must_use]
    pub fn positions(&self) -> Vec<Choice> {
        let mut lengths = vec![1; self.discrete.len()];
        for (length, axis) in lengths
            .iter_mut()
            .zip(&self.discrete[..self.switches.len()])
        {
            *length = axis.choices;
        }
        let all = if lengths.iter().fold(1_usize, |n, l| n.saturating_mul(*l)) <= MOST_POSITIONS {
            product(&lengths)
        } else {
            few(&lengths, MOST_POSITIONS)
        };
        let with = |discrete| Choice {
            discrete,
            ..self.usual()
        };
        all.into_iter().map(with).collect()
    }

    /// The first of all choices that are the same situation: the depth of cells that are not there
    /// does not matter.
    pub(super) fn canonical(&self, mut choice: Choice) -> Choice {
        for (at, (_, cells)) in self.cells.iter().enumerate() {
            let put = choice.discrete[self.switches.len() + cells];
            if self.sources[*cells].1[put].absent {
                choice.depths[at] = 0;
            }
        }
        choice
    }

    /// Whether a cell is in backwards.
    pub(super) fn is_turned(&self, choice: &Choice) -> bool {
        let puts = choice.discrete[self.switches.len()..].iter();
        let mut puts = puts.zip(&self.sources).map(|(at, s)| &s.1[*at]);
        puts.any(|put| !put.reversed.is_empty())
    }

    /// Whether a choice can last for a life: the usual ambient, no switch between two positions
    /// or held against its spring.
    pub(super) fn is_lasting(&self, choice: &Choice) -> bool {
        let mut switches = choice.discrete.iter().zip(&self.lasting);
        choice.ambient == 0 && switches.all(|(at, lasting)| lasting[*at])
    }

    /// The situation of a choice.
    #[must_use]
    pub fn situation(&self, choice: &Choice) -> Situation {
        let mut out = self.usual.clone();
        for ((name, positions), at) in self.switches.iter().zip(&choice.discrete) {
            out.positions.insert(name.clone(), positions[*at].clone());
        }
        let puts = &choice.discrete[self.switches.len()..];
        for ((name, choices), at) in self.sources.iter().zip(puts) {
            let put = &choices[*at];
            out.reversed.extend(put.reversed.iter().cloned());
            if put.absent {
                out.absent.insert(name.clone());
            }
        }
        out.states.clone_from(&self.states[choice.states]);
        out.ambient = self.grid.ambients[choice.ambient];
        let depths = choice.depths.iter().map(|at| self.grid.depths[*at]);
        for ((key, _), depth) in self.cells.iter().zip(depths) {
            if self.cells.len() == 1 && out.boards.len() == 1 {
                out.depth = depth;
            } else if 0.0 < depth {
                out.depths.insert(key.clone(), depth);
            }
        }
        if choice.history == 1 {
            out.history = History::Cold;
        }
        out
    }
}

/// The name that the depth of a cell part goes by: its board's where it is the only one on a board of
/// a stack, else its own.
fn depth_key(circuit: &Circuit, name: &str) -> String {
    if let Some((board, _)) = name.rsplit_once('/') {
        let found = circuit.boards().iter().find(|b| b.name == board);
        let cells = found.map_or(0, |b| {
            let parts = b.parts.iter();
            parts
                .filter(|p| matches!(p.device, Device::Cell(_)))
                .count()
        });
        if cells == 1 {
            return board.to_owned();
        }
    }
    name.to_owned()
}

/// Whether anything of a circuit hangs on how it came to where it is.
fn has_memory(circuit: &Circuit) -> bool {
    let parts = circuit.parts();
    let mut parts = parts.iter();
    let hangs = |device: &Device| {
        matches!(
            device,
            Device::Regulator(_)
                | Device::Detector(_)
                | Device::LoadSwitch(_)
                | Device::IdealDiode(_)
        )
    };
    parts.any(|(_, part)| hangs(&part.device))
        || circuit.loads().iter().any(|(_, load)| load.reset.is_some())
}

/// Forward, empty, wholly reversed, each cell of a string reversed.
fn puts(name: &str, series: usize, reversed: Reversal) -> Vec<Put> {
    let put = |reversed: &[String], absent| Put {
        reversed: reversed.iter().cloned().collect(),
        absent,
    };
    let mut out = vec![put(&[], false), put(&[], true)];
    // Without contact a reversed cell is as good as none.
    if matches!(reversed, Reversal::Blocked | Reversal::NoContact) {
        return out;
    }
    out.push(put(&[name.to_owned()], false));
    if 1 < series {
        out.extend((1..=series).map(|n| put(&[format!("{name}.{n}")], false)));
    }
    out
}

/// Positions and states in between that close different nets, the usual one first.
fn distinct(part: &Part, switch: &Switch) -> Vec<String> {
    let usual = switch.positions.get(switch.usual);
    let settled = switch.positions.iter().map(|p| p.name.clone());
    let names = usual.map(|p| p.name.clone()).into_iter().chain(settled);
    let mut seen: Vec<BTreeSet<(usize, usize)>> = Vec::new();
    let mut out: Vec<String> = Vec::new();
    for name in names.chain(switch.between()) {
        let closed = switch.closed_in(&name).unwrap_or_default();
        let net = |pin: usize| part.pins.get(pin).and_then(|p| p.net);
        // Equal nets are still told apart by how many contacts are in parallel: only whole sets count.
        let pairs = closed.iter().filter_map(|(a, b)| {
            let (a, b) = (net(*a)?, net(*b)?);
            (a != b).then_some((a.min(b), a.max(b)))
        });
        let pairs: Vec<(usize, usize)> = pairs.collect();
        let set: BTreeSet<(usize, usize)> = pairs.iter().copied().collect();
        let parallel = set.len() != pairs.len();
        if parallel || !seen.contains(&set) {
            if !out.contains(&name) {
                out.push(name);
            }
            if !parallel {
                seen.push(set);
            }
        }
    }
    out
}
