//! Schematics drawn from the netlist: sources at the left, rails level, what lies in series in them, what
//! shunts them hanging to ground, the connector at the right. Nothing is told apart by its name.

mod labels;
mod place;
mod render;
mod route;
pub(crate) mod sheet;
pub(crate) mod stack;
pub(crate) mod symbol;
pub(crate) mod words;

#[cfg(test)]
mod tests;

use lastvolt_core::circuit::Point;
use lastvolt_core::model::{Board, Family};
use lastvolt_core::quantity::Unit;

use crate::draw::lettering::{Letters, width};
use crate::text::number::figure;
use labels::Label;
use place::graph::Graph;
use place::{Interface, Plan, Wish};
use route::Wires;
use sheet::{Area, Piece, Place, STEP, TextRole};

/// Tries by rule, each with more air or more that goes below, before all goes below.
const TRIES: usize = 8;
/// Voltage that is none, in volts.
const NOTHING: f64 = 0.5e-3;
/// Paper around the drawing, in pixels.
const EDGE: f64 = 14.0;

/// A drawing of one board.
#[derive(Debug, Clone)]
pub(crate) struct Schematic {
    board: Board,
    pieces: Vec<Piece>,
    plan: Plan,
    wires: Wires,
    labels: Vec<Label>,
    covered: Area,
    /// What it shows, in words.
    message: String,
}

/// Draws a board; with a solved point each net has its voltage beside its name.
pub(crate) fn schematic(family: &Family, board: &Board, values: Option<&Point>) -> Schematic {
    let pieces = symbol::pieces(board);
    let ground = board
        .nets
        .iter()
        .position(|n| n == family.connector.ground_net());
    let graph = Graph::new(board, &pieces, ground);
    let told = told(board, &family.connector.pins, ground, values);
    let (plan, wires, labels) = drawn(&graph, &family.connector.pins, &told);
    let covered = covered(&plan, &wires, &labels);
    Schematic {
        board: board.clone(),
        plan,
        wires,
        labels,
        covered,
        pieces,
        message: words::words(family, board),
    }
}

/// The voltage of each net as it is written beside its name.
fn told(
    board: &Board,
    pins: &[String],
    ground: Option<usize>,
    values: Option<&Point>,
) -> Vec<Option<String>> {
    let of = |(at, name): (usize, &String)| {
        let point = values.filter(|_| ground != Some(at))?;
        let own = format!("{}/{name}", board.name);
        let volts = point.net(name).or_else(|| point.net(&own))?;
        // Nothing is learnt from a lead of an indicator that is off.
        let rail = pins.contains(name);
        (rail || NOTHING < volts.abs()).then(|| figure(volts, Unit::Volt))
    };
    board.nets.iter().enumerate().map(of).collect()
}

/// Tries by rule until everything has its place, then without rules.
fn drawn(graph: &Graph, pins: &[String], told: &[Option<String>]) -> (Plan, Wires, Vec<Label>) {
    let mut wish = Wish {
        label: rooms(&graph.names, told),
        ..Wish::default()
    };
    for _ in 0..TRIES {
        let plan = place::plan(graph, pins, &wish);
        let mut bad = route::collisions(&plan);
        if bad.is_empty() {
            let wires = route::route(graph, &plan);
            bad.clone_from(&wires.failed);
            if bad.is_empty() {
                let (labels, missing) = labels::labels(graph, &wires, told);
                if missing.is_empty() {
                    return (plan, wires, labels);
                }
                // Air helps a name that found no place; when it does not, its pieces go below.
                if std::env::var("DBG").is_ok() {
                    eprintln!(
                        "{}: missing {:?}",
                        graph.board.name,
                        missing
                            .iter()
                            .map(|p| &graph.board.nets[*p])
                            .collect::<Vec<_>>()
                    );
                }
                if wish.air < 3 {
                    wish.air += 1;
                    continue;
                }
                let on = missing.iter().flat_map(|n| graph.on(*n)).map(|(p, _)| *p);
                bad.extend(on);
            }
        }
        if std::env::var("DBG").is_ok() {
            eprintln!(
                "{}: bad {bad:?} {:?}",
                graph.board.name,
                bad.iter().map(|p| &graph.part(*p).name).collect::<Vec<_>>()
            );
        }
        bad.retain(|p| !wish.below.contains(p));
        if bad.is_empty() {
            break;
        }
        wish.below.extend(bad);
        wish.below.sort_unstable();
        wish.below.dedup();
    }
    let plan = place::rows(graph, pins, &wish);
    let wires = route::route(graph, &plan);
    let (labels, _) = labels::labels(graph, &wires, told);
    (plan, wires, labels)
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

/// All that the drawing covers.
fn covered(plan: &Plan, wires: &Wires, labels: &[Label]) -> Area {
    let mut areas: Vec<Area> = wires.taken.clone();
    let spots = wires
        .nets
        .iter()
        .flat_map(|w| &w.groups)
        .flat_map(|g| g.wires.iter().flatten());
    areas.extend(spots.map(|s| {
        let at = s.place();
        Area {
            left: at.x,
            top: at.y,
            right: at.x,
            bottom: at.y,
        }
    }));
    areas.extend(plan.interface.iter().map(|i| i.area));
    for label in labels {
        areas.push(place::text_area(&label.name));
        areas.extend(label.value.iter().map(place::text_area));
    }
    let all = areas.into_iter().reduce(Area::with);
    all.unwrap_or(Area {
        left: 0.0,
        top: 0.0,
        right: 20.0 * STEP,
        bottom: 8.0 * STEP,
    })
}

impl Schematic {
    /// Width and height in pixels, with the paper around.
    pub(crate) fn size(&self) -> (f64, f64) {
        let Area {
            left,
            top,
            right,
            bottom,
        } = self.covered;
        (
            (right - left + 2.0 * EDGE).ceil(),
            (bottom - top + 2.0 * EDGE).ceil(),
        )
    }

    /// Pins of the connector where the drawing's upper left corner is at 0, 0: names and places.
    pub(crate) fn connector(&self) -> Vec<(String, Place)> {
        let (x, y) = self.offset();
        let pins = self.plan.interface.iter().flat_map(|i: &Interface| &i.pins);
        pins.map(|(name, _, at)| {
            let at = at.place();
            let place = Place {
                x: at.x + x,
                y: at.y + y,
            };
            (name.clone(), place)
        })
        .collect()
    }

    /// The frame of the connector, where the drawing's upper left corner is at 0, 0.
    pub(crate) fn frame(&self) -> Option<Area> {
        let (x, y) = self.offset();
        let interface = self.plan.interface.as_ref()?;
        Some(interface.area.shifted(x, y))
    }

    /// How far the drawing is moved so that its corner is at 0, 0, by whole pixels.
    fn offset(&self) -> (f64, f64) {
        (
            (EDGE - self.covered.left).ceil(),
            (EDGE - self.covered.top).ceil(),
        )
    }

    /// The groups of the drawing, its upper left corner moved to a place.
    pub(crate) fn body(&self, corner: Place) -> String {
        let (x, y) = self.offset();
        let shift = Place {
            x: corner.x + x,
            y: corner.y + y,
        };
        render::body(self, shift)
    }

    /// The drawing for a page that has the style sheet.
    pub(crate) fn inside(&self) -> String {
        let origin = Place { x: 0.0, y: 0.0 };
        render::page(
            &self.title(),
            &self.message,
            self.size(),
            &self.body(origin),
        )
    }

    /// The drawing as a file of its own.
    pub(crate) fn alone(&self) -> String {
        let origin = Place { x: 0.0, y: 0.0 };
        render::file(
            &self.title(),
            &self.message,
            self.size(),
            &self.body(origin),
        )
    }

    fn title(&self) -> String {
        format!("Schematic of {}", self.board.name)
    }
}
