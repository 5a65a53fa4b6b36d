//! Tries to lay a drawing out: by rule, with more room or with less in its place, and without rules where
//! none of them leads to a sound drawing.

use super::labels::{self, Label, Labels};
use super::place::graph::Graph;
use super::place::{self, Plan, Wish};
use super::route::{self, Wires};
use super::sheet::TextRole;
use crate::draw::lettering::{Letters, width};

/// Tries by rule, each with more air or more that goes below, before all goes below.
const TRIES: usize = 8;
/// Steps of air at most.
const MOST_AIR: i32 = 2;
/// Steps more between what hangs one below the other that are tried where all voltages want room, and
/// pieces of a board for which only the first is.
const DROPS: [i32; 3] = [1, 2, 3];
const MANY: usize = 60;

/// Everything in its place.
type Laid = (Plan, Wires, Vec<Label>);

/// Pieces that are not in their place by rule, and voltages without room: what a layout lacks.
type Lack = (usize, usize);

/// Texts beside the names of nets.
pub(super) struct Values {
    pub(super) texts: Vec<Option<String>>,
    /// Whether each must find its place.
    pub(super) must: bool,
}

/// What keeps a plan from being drawn: pieces without room for themselves or their wires, nets without
/// room for their names.
enum Flaw {
    Pieces(Vec<usize>),
    Names(Vec<usize>),
}

/// Tries by rule until everything has its place, then without rules.
pub(super) fn drawn(graph: &Graph, pins: &[String], told: &Values) -> Laid {
    let drops = match told.must {
        false => &[0],
        true if MANY < graph.pieces.len() => &DROPS[..1],
        true => &DROPS[..],
    };
    let mut best: Option<(Lack, Laid)> = None;
    let mut wish = Wish::default();
    for drop in drops {
        wish = Wish {
            label: rooms(&graph.names, &told.texts),
            drop: *drop,
            ..Wish::default()
        };
        by_rule(graph, pins, told, &mut wish, &mut best);
        if best.as_ref().is_some_and(|b| b.0 == (0, 0)) {
            break;
        }
    }
    match best {
        Some((_, laid)) => laid,
        None => in_rows(graph, pins, told, wish),
    }
}

/// Tries with more air, and with more below, until nothing is lacking; keeps what lacks least.
fn by_rule(
    graph: &Graph,
    pins: &[String],
    told: &Values,
    wish: &mut Wish,
    best: &mut Option<(Lack, Laid)>,
) {
    for _ in 0..TRIES {
        let plan = place::plan(graph, pins, wish);
        let mut bad = match finished(graph, &plan, told) {
            Ok((wires, labels)) => {
                let untold = if told.must { labels.untold.len() } else { 0 };
                let lack = (wish.below.len(), untold);
                if best.as_ref().is_none_or(|b| lack < b.0) {
                    *best = Some((lack, (plan, wires, labels.all)));
                }
                if untold == 0 || MOST_AIR <= wish.air {
                    return;
                }
                wish.air += 1;
                continue;
            }
            // Air helps a name that found no place; when it does not, its pieces go below.
            Err(Flaw::Names(_)) if wish.air < MOST_AIR => {
                wish.air += 1;
                continue;
            }
            Err(Flaw::Names(nets)) => {
                let on = nets.iter().flat_map(|n| graph.on(*n));
                on.map(|(piece, _)| *piece).collect()
            }
            Err(Flaw::Pieces(pieces)) => pieces,
        };
        bad.retain(|p| !wish.below.contains(p));
        if bad.is_empty() {
            return;
        }
        wish.below.extend(bad);
        wish.below.sort_unstable();
        wish.below.dedup();
    }
}

/// All pieces in rows, wider until each pin has room for its stub and its name.
fn in_rows(graph: &Graph, pins: &[String], told: &Values, mut wish: Wish) -> Laid {
    loop {
        let plan = place::rows(graph, pins, &wish);
        let wires = route::route(graph, &plan);
        let labels = labels::labels(graph, &wires, &told.texts, told.must);
        let whole = wires.failed.is_empty() && labels.missing.is_empty();
        let all = whole && (labels.untold.is_empty() || !told.must);
        if all || MOST_AIR + TRIES as i32 <= wish.air {
            let (failed, missing) = (&wires.failed, &labels.missing);
            debug_assert!(whole, "rows have room for {failed:?}, {missing:?}");
            return (plan, wires, labels.all);
        }
        wish.air += 1;
    }
}

/// Wires and names of a plan.
fn finished(graph: &Graph, plan: &Plan, told: &Values) -> Result<(Wires, Labels), Flaw> {
    let colliding = route::collisions(plan);
    if !colliding.is_empty() {
        return Err(Flaw::Pieces(colliding));
    }
    let wires = route::route(graph, plan);
    if !wires.failed.is_empty() {
        return Err(Flaw::Pieces(wires.failed));
    }
    let labels = labels::labels(graph, &wires, &told.texts, told.must);
    if labels.missing.is_empty() {
        Ok((wires, labels))
    } else {
        Err(Flaw::Names(labels.missing))
    }
}

/// Steps that the name of each net takes along its rail.
fn rooms(names: &[String], told: &[Option<String>]) -> Vec<i32> {
    let room = |name: &String, told: Option<&String>| {
        let name = width(name, TextRole::Net.size(), Letters::Mono);
        let told = told.map_or(0.0, |t| width(t, TextRole::NetValue.size(), Letters::Mono));
        place::steps(name.max(told) + 6.0)
    };
    let nets = names.iter().enumerate();
    nets.map(|(at, name)| room(name, told.get(at).and_then(Option::as_ref)))
        .collect()
}
