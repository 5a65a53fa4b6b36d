//! A survey: the worst of every reading over all situations of a circuit.
//!
//! Reduced, it solves all combinations of positions and sources with every board fresh or at its
//! end, at the usual ambient, in base states, running; reversed cells fresh; combinations of groups that
//! cannot influence each other run side by side. From the worst of each reading it then walks along
//! every axis for as long as something is worse. Full, it solves the whole product; a test holds
//! the one against the other.

use std::collections::BTreeMap;

use super::axes::{Axes, Choice, Grid};
use super::mirror::Mirror;
use super::product::{few, product};
use super::read::{Quantity, Reader, Reading};
use crate::circuit::{CellDrive, Circuit, Detail, Point, Situation};
use crate::model::Profile;
use crate::progress::Progress;

/// Most combinations of positions and sources that are solved; beyond it they are moved one at a
/// time, then two at a time.
const MOST_COMBINATIONS: usize = 2048;
/// Most steps of a walk, a guard: each step makes its reading worse.
const MOST_STEPS: usize = 64;

/// How much of the product is solved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum How {
    /// What the worst cases can hang on.
    Reduced,
    /// Everything.
    Full,
}

/// The worst of one reading.
#[derive(Debug, Clone, PartialEq)]
pub struct Worst {
    /// Whether a cell is in backwards in these situations.
    pub turned: bool,
    /// What is read.
    pub what: Quantity,
    /// Name of the part or load in the circuit.
    pub part: String,
    /// The largest value.
    pub value: f64,
    /// Where it occurs; of equal ones the first.
    pub situation: Situation,
    /// The value in every solved situation where it is above zero.
    pub values: Vec<f64>,
}

/// What a survey of one circuit found.
#[derive(Debug, Clone, PartialEq)]
pub struct Survey {
    /// Situations that the axes span.
    pub covered: u64,
    /// Situations that were solved.
    pub solved: u64,
    /// Situations without an operating point.
    pub without_point: u64,
    /// The worst of each reading.
    pub worst: Vec<Worst>,
    /// What was left out, where there were too many.
    pub left_out: Option<String>,
}

impl Survey {
    /// The worst of a reading with every cell the right way round.
    pub fn forward(&self, what: Quantity) -> impl Iterator<Item = &Worst> {
        let worst = self.worst.iter();
        worst.filter(move |w| !w.turned && w.what == what)
    }
}

/// Surveys a circuit under a profile.
#[must_use]
pub fn survey(
    circuit: &Circuit,
    profile: Option<&Profile>,
    grid: Grid,
    how: How,
    progress: &dyn Progress,
) -> Survey {
    let axes = Axes::new(circuit, profile, grid);
    let reader = Reader::new(circuit);
    let mirror = match how {
        How::Reduced => Mirror::new(circuit, &axes, &reader),
        How::Full => None,
    };
    let mut search = Search {
        circuit,
        axes: &axes,
        reader,
        mirror,
        known: BTreeMap::new(),
        solved: 0,
        top: BTreeMap::new(),
        warm: None,
        without_point: 0,
    };
    let left_out = match how {
        How::Reduced => search.reduced(progress),
        How::Full => search.full(),
    };
    search.survey(left_out)
}

/// Whether a cell is backwards, what is read, and where.
type Key = (bool, Quantity, usize);

struct Search<'a, 'f> {
    circuit: &'a Circuit<'f>,
    axes: &'a Axes,
    reader: Reader,
    /// The exchange of two equal boards.
    mirror: Option<Mirror>,
    /// Every choice that has been looked at; with a mirror what was read there, where there is a point.
    known: BTreeMap<Choice, Option<Vec<Reading>>>,
    solved: u64,
    /// The worst of each reading, where, and all of its values.
    top: BTreeMap<Key, (f64, Choice, Vec<f64>)>,
    warm: Option<Point>,
    without_point: u64,
}

/// Values above another by less than this share of it are equal.
const EQUAL: f64 = 1e-6;

impl Search<'_, '_> {
    /// Solves a choice once and notes what is read off it.
    fn visit(&mut self, choice: Choice) {
        let choice = self.axes.canonical(choice);
        if self.known.contains_key(&choice) {
            return;
        }
        let mirrored = self.mirrored(&choice);
        let readings = mirrored.unwrap_or_else(|| self.read(&choice));
        match &readings {
            Some(readings) => self.note(&choice, readings),
            None => self.without_point += 1,
        }
        let kept = readings.filter(|_| self.mirror.is_some());
        self.known.insert(choice, kept);
    }

    /// What is read where two equal boards are exchanged, if that is known.
    fn mirrored(&self, choice: &Choice) -> Option<Option<Vec<Reading>>> {
        let mirror = self.mirror.as_ref()?;
        let known = self.known.get(&mirror.choice(choice))?;
        Some(known.as_ref().map(|readings| mirror.readings(readings)))
    }

    /// Solves a choice; nothing where it has no point.
    fn read(&mut self, choice: &Choice) -> Option<Vec<Reading>> {
        self.solved += 1;
        let situation = self.axes.situation(choice);
        let rested = &CellDrive::Rested;
        let solved = self
            .circuit
            .solve_in(Detail::Bare, &situation, rested, self.warm.as_ref());
        let point = solved.ok()?;
        let lasting = self.axes.is_lasting(choice);
        let readings = self.reader.read(&situation, lasting, &point);
        self.warm = Some(point);
        Some(readings)
    }

    fn note(&mut self, choice: &Choice, readings: &[Reading]) {
        let turned = self.axes.is_turned(choice);
        for &Reading { what, place, value } in readings {
            let key = (turned, what, place);
            let top = self.top.entry(key);
            let top = top.or_insert_with(|| (0.0, choice.clone(), Vec::new()));
            top.2.push(value);
            if top.0 * (1.0 + EQUAL) < value {
                (top.0, top.1) = (value, choice.clone());
            }
        }
    }

    /// Everything.
    fn full(&mut self) -> Option<String> {
        let (states, ambients, depths, histories) = self.axes.lengths();
        let mut lengths: Vec<usize> = self.axes.discrete().iter().map(|d| d.choices).collect();
        lengths.extend(&depths);
        lengths.extend([states, ambients, histories]);
        let discrete = self.axes.discrete().len();
        for all in product(&lengths) {
            let rest = &all[discrete + depths.len()..];
            self.visit(Choice {
                discrete: all[..discrete].to_vec(),
                depths: all[discrete..discrete + depths.len()].to_vec(),
                states: rest[0],
                ambient: rest[1],
                history: rest[2],
            });
        }
        None
    }

    /// All combinations at the corners, then walks from the worst.
    fn reduced(&mut self, progress: &dyn Progress) -> Option<String> {
        let (combinations, mut left_out) = self.combinations();
        let corners = self.corners();
        let count = combinations.len();
        for (at, discrete) in combinations.into_iter().enumerate() {
            if progress.cancelled() {
                left_out = Some(format!(
                    "stopped after {at} of {count} combinations of positions and sources"
                ));
                break;
            }
            let turned = self.axes.is_turned(&Choice {
                discrete: discrete.clone(),
                ..self.axes.usual()
            });
            // What a reversed cell does is worst with fresh cells: rules look at no other depth.
            let some = if turned { &corners[..1] } else { &corners };
            for corner in some {
                self.visit(Choice {
                    discrete: discrete.clone(),
                    ..corner.clone()
                });
            }
        }
        let keys: Vec<Key> = self.top.keys().copied().collect();
        for key in keys.into_iter().filter(|key| !key.0) {
            self.walk(key);
        }
        left_out
    }

    /// Every cell part fresh or at its end, base states.
    fn corners(&self) -> Vec<Choice> {
        let (_, _, depths, _) = self.axes.lengths();
        let ends = product(&vec![2; depths.len()]).into_iter();
        let corner = |ends: Vec<usize>| Choice {
            depths: ends
                .iter()
                .zip(&depths)
                .map(|(end, n)| end * (n - 1))
                .collect(),
            ..self.axes.usual()
        };
        ends.map(corner).collect()
    }

    /// Choices of switches and sources: all of each group, groups side by side.
    fn combinations(&self) -> (Vec<Vec<usize>>, Option<String>) {
        let axes = self.axes.discrete();
        let mut groups: Vec<usize> = axes.iter().map(|d| d.group).collect();
        groups.sort_unstable();
        groups.dedup();
        let mut columns: Vec<(Vec<usize>, Vec<Vec<usize>>)> = Vec::new();
        let mut left_out = None;
        for group in groups {
            let own: Vec<usize> = (0..axes.len())
                .filter(|a| axes[*a].group == group)
                .collect();
            let lengths: Vec<usize> = own.iter().map(|a| axes[*a].choices).collect();
            let count = lengths.iter().fold(1_usize, |n, l| n.saturating_mul(*l));
            if count <= MOST_COMBINATIONS {
                columns.push((own, product(&lengths)));
            } else {
                let some = few(&lengths, MOST_COMBINATIONS);
                left_out = Some(format!(
                    "{count} combinations of positions and sources: {} solved, the first of those in which at most two differ from the usual; \
                     from the worst of them one at a time was moved on",
                    some.len()
                ));
                columns.push((own, some));
            }
        }
        let rows = columns.iter().map(|c| c.1.len()).max().unwrap_or(1);
        let row = |at: usize| {
            let mut out = vec![0; axes.len()];
            for (own, choices) in &columns {
                let of_group = choices[at % choices.len()].iter();
                for (axis, choice) in own.iter().zip(of_group) {
                    out[*axis] = *choice;
                }
            }
            out
        };
        ((0..rows).map(row).collect(), left_out)
    }

    /// Moves the worst of a reading along every axis for as long as that makes it worse.
    fn walk(&mut self, key: Key) {
        for _ in 0..MOST_STEPS {
            let Some((value, from, _)) = self.top.get(&key).cloned() else {
                return;
            };
            for next in self.neighbours(&from) {
                if self.axes.is_turned(&next) == key.0 {
                    self.visit(next);
                }
            }
            let now = self.top.get(&key).map_or(0.0, |t| t.0);
            if now <= value {
                return;
            }
        }
    }

    /// Choices that differ on one axis.
    fn neighbours(&self, from: &Choice) -> Vec<Choice> {
        let (states, ambients, depths, histories) = self.axes.lengths();
        let mut out = Vec::new();
        for (axis, length) in depths.iter().enumerate() {
            for depth in 0..*length {
                let mut next = from.clone();
                next.depths[axis] = depth;
                out.push(next);
            }
        }
        let with = |states, ambient, history| Choice {
            states,
            ambient,
            history,
            ..from.clone()
        };
        out.extend((0..states).map(|s| with(s, from.ambient, from.history)));
        out.extend((0..ambients).map(|a| with(from.states, a, from.history)));
        out.extend((0..histories).map(|h| with(from.states, from.ambient, h)));
        for (axis, discrete) in self.axes.discrete().iter().enumerate() {
            for choice in 0..discrete.choices {
                let mut next = from.clone();
                next.discrete[axis] = choice;
                out.push(next);
            }
        }
        out
    }

    fn survey(self, left_out: Option<String>) -> Survey {
        let mut worst = Vec::with_capacity(self.top.len());
        for ((turned, what, place), (value, choice, values)) in self.top {
            worst.push(Worst {
                turned,
                what,
                part: self.reader.name(place).to_owned(),
                value,
                situation: self.axes.situation(&choice),
                values,
            });
        }
        Survey {
            covered: self.axes.covered(),
            solved: self.solved,
            without_point: self.without_point,
            worst,
            left_out,
        }
    }
}
