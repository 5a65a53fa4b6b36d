//! A board with a second one of its kind: exchanging the two gives the same circuit, so that one of
//! two mirrored situations is solved and the other read off it.

use std::collections::BTreeMap;

use super::axes::{Axes, Choice};
use super::pairs::second_name;
use super::read::{Reader, Reading};
use crate::circuit::Circuit;

/// What each axis and each place becomes when two equal boards are exchanged.
pub(super) struct Mirror {
    discrete: Vec<usize>,
    depths: Vec<usize>,
    places: Vec<usize>,
}

impl Mirror {
    /// The exchange of the boards of a circuit, where it is of two equal ones.
    pub(super) fn new(circuit: &Circuit, axes: &Axes, reader: &Reader) -> Option<Self> {
        let [first, second] = circuit.boards() else {
            return None;
        };
        if second.name != second_name(&first.name) {
            return None;
        }
        let other = |name: &str| exchanged(name, &first.name, &second.name);
        let states = axes.states();
        let same = |states: &BTreeMap<String, String>| {
            let mut each = states.iter();
            each.all(|(load, state)| states.get(&other(load)) == Some(state))
        };
        if !states.iter().all(same) {
            return None;
        }
        Some(Self {
            discrete: moved(&axes.discrete_names(), &other)?,
            depths: moved(&axes.depth_names(), &other)?,
            places: moved(&reader.names(), &other)?,
        })
    }

    /// The choice with the two boards exchanged.
    pub(super) fn choice(&self, choice: &Choice) -> Choice {
        let pick = |from: &[usize], to: &[usize]| to.iter().map(|at| from[*at]).collect();
        Choice {
            discrete: pick(&choice.discrete, &self.discrete),
            depths: pick(&choice.depths, &self.depths),
            ..*choice
        }
    }

    /// What is read with the two boards exchanged.
    pub(super) fn readings(&self, readings: &[Reading]) -> Vec<Reading> {
        let other = |reading: &Reading| Reading {
            place: self.places[reading.place],
            ..*reading
        };
        readings.iter().map(other).collect()
    }
}

/// A name with the two boards exchanged.
fn exchanged(name: &str, first: &str, second: &str) -> String {
    let (board, rest) = name
        .split_once('/')
        .map_or((name, None), |(b, r)| (b, Some(r)));
    let board = match board {
        board if board == first => second,
        board if board == second => first,
        board => board,
    };
    rest.map_or_else(|| board.to_owned(), |rest| format!("{board}/{rest}"))
}

/// The place of each name's other one.
fn moved(names: &[&str], other: &dyn Fn(&str) -> String) -> Option<Vec<usize>> {
    let place = |name: &&str| {
        let other = other(name);
        names.iter().position(|n| *n == other)
    };
    names.iter().map(place).collect()
}
