//! Parts of a circuit that cannot influence each other: those that meet at ground alone.
//!
//! Ground is the reference of all voltages, so two groups of nets that share nothing but ground have
//! equations without a common unknown: what one group does is the same whatever the other does.

use crate::circuit::Circuit;

/// A number for each part of a circuit, in circuit order; equal numbers may influence each other.
/// Parts on ground alone get a number of their own.
pub(super) fn groups(circuit: &Circuit) -> Vec<usize> {
    let ground = circuit.family().connector.ground_net().to_owned();
    let names = circuit.net_names();
    let parts = circuit.parts();
    let place = |net: &str| names.iter().position(|n| n == net);
    let mut root: Vec<usize> = (0..names.len() + parts.len()).collect();
    for (at, (name, part)) in parts.iter().enumerate() {
        let Some(board) = board_of(circuit, name) else {
            continue;
        };
        for pin in &part.pins {
            let Some(net) = board.net_of(pin).filter(|net| *net != ground) else {
                continue;
            };
            let inside = format!("{}/{net}", board.name);
            if let Some(net) = place(net).or_else(|| place(&inside)) {
                join(&mut root, names.len() + at, net);
            }
        }
    }
    join_loads(circuit, &ground, &place, &mut root);
    (0..parts.len())
        .map(|at| find(&root, names.len() + at))
        .collect()
}

/// The board that a part of a circuit is on.
fn board_of<'a>(circuit: &Circuit<'a>, name: &str) -> Option<&'a crate::model::Board> {
    match name.rsplit_once('/') {
        Some((board, _)) => circuit.boards().iter().find(|b| b.name == board).copied(),
        None => circuit.boards().first().copied(),
    }
}

/// A load joins its pins and the nets that it drives.
fn join_loads(
    circuit: &Circuit,
    ground: &str,
    place: &dyn Fn(&str) -> Option<usize>,
    root: &mut [usize],
) {
    for board in circuit.boards() {
        for load in circuit.family().loads_of(board) {
            let drives = load.drives.iter().map(|d| d.net.as_str());
            let nets = [load.plus.as_str(), load.minus.as_str()].into_iter();
            let nets = nets.chain(drives).filter(|net| *net != ground);
            let nets = nets
                .filter_map(|net| place(net).or_else(|| place(&format!("{}/{net}", board.name))));
            let nets: Vec<usize> = nets.collect();
            for pair in nets.windows(2) {
                join(root, pair[0], pair[1]);
            }
        }
    }
}

fn find(root: &[usize], mut at: usize) -> usize {
    while root[at] != at {
        at = root[at];
    }
    at
}

fn join(root: &mut [usize], a: usize, b: usize) {
    let (a, b) = (find(root, a), find(root, b));
    root[a.max(b)] = a.min(b);
}
