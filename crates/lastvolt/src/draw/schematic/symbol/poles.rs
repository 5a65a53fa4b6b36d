//! The poles of a switch: pins that some position joins belong together.

use lastvolt_core::device::Switch;
use lastvolt_core::model::Part;

/// Pins of each pole in the order of the part's pins, poles in the order of their first pin.
///
/// A pin that no position joins belongs to the pole whose pin stands before it, as a spare throw does.
pub(super) fn poles(part: &Part, switch: &Switch) -> Vec<Vec<usize>> {
    let n_pins = part.pins.len();
    let mut pole: Vec<usize> = (0..n_pins).collect();
    for &(a, b) in switch.positions.iter().flat_map(|p| &p.closed) {
        let (Some(&first), Some(&second)) = (pole.get(a), pole.get(b)) else {
            continue;
        };
        let (low, high) = (first.min(second), first.max(second));
        for of in &mut pole {
            if *of == high {
                *of = low;
            }
        }
    }
    let mut poles: Vec<Vec<usize>> = Vec::new();
    let mut lonely = Vec::new();
    for first in 0..n_pins {
        let pins: Vec<usize> = (0..n_pins).filter(|p| pole[*p] == first).collect();
        match pins.as_slice() {
            [] => {}
            [one] => lonely.push(*one),
            _ => poles.push(pins),
        }
    }
    if poles.is_empty() {
        return if lonely.is_empty() {
            poles
        } else {
            vec![lonely]
        };
    }
    for pin in lonely {
        let before = |p: &Vec<usize>| p.iter().filter(|q| **q < pin).max().copied();
        let near = (0..poles.len()).max_by_key(|p| (before(&poles[*p]), usize::MAX - p));
        let near = near.unwrap_or(0);
        poles[near].push(pin);
        poles[near].sort_unstable();
    }
    poles
}

/// The pin that takes part in every joint of a pole, where there is exactly one; the first of a pole of two.
pub(super) fn common(switch: &Switch, pins: &[usize]) -> Option<usize> {
    let joints = switch.positions.iter().flat_map(|p| &p.closed);
    let joints: Vec<(usize, usize)> = joints.filter(|j| pins.contains(&j.0)).copied().collect();
    let in_all = |pin: &usize| joints.iter().all(|j| j.0 == *pin || j.1 == *pin);
    let mut all = pins.iter().copied().filter(in_all);
    let first = all.next().filter(|_| !joints.is_empty())?;
    // Of two pins that only ever join each other neither is the common one of a pole with more.
    (all.next().is_none() || pins.len() == 2).then_some(first)
}

/// Names of the positions that join two pins.
pub(super) fn joined_in(switch: &Switch, a: usize, b: usize) -> Vec<&str> {
    let joins = |j: &(usize, usize)| *j == (a, b) || *j == (b, a);
    let positions = switch.positions.iter();
    positions
        .filter(|p| p.closed.iter().any(joins))
        .map(|p| p.name.as_str())
        .collect()
}

/// Whether the usual position joins two pins.
pub(super) fn usually_joined(switch: &Switch, a: usize, b: usize) -> bool {
    is_joined(switch, switch.usual, a, b)
}

/// Whether a position joins two pins.
pub(super) fn is_joined(switch: &Switch, position: usize, a: usize, b: usize) -> bool {
    let joins = |j: &(usize, usize)| *j == (a, b) || *j == (b, a);
    let of = switch.positions.get(position);
    of.is_some_and(|p| p.closed.iter().any(joins))
}
