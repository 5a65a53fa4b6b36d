//! Schematics drawn from the netlist: sources at the left, rails level, what lies in series in them, what
//! shunts them hanging to ground, the connector at the right. Nothing is told apart by its name.

mod labels;
pub(crate) mod live;
mod names;
mod place;
mod render;
mod route;
pub(crate) mod set;
pub(crate) mod sheet;
pub(crate) mod stack;
pub(crate) mod symbol;
mod tries;
pub(crate) mod words;

#[cfg(test)]
mod tests;

use lastvolt_core::circuit::Point;
use lastvolt_core::model::{Board, Confidence, Device, Family, Heat, Kind, Origin, Part, Pin};
use lastvolt_core::quantity::Unit;

use crate::report;
use crate::text::number::{celsius, figure};
use labels::Label;
use live::{Live, Named};
use place::graph::Graph;
use place::{Interface, Plan};
use route::Wires;
use set::Set;
use sheet::{Area, Piece, Place, STEP};
use tries::Values;

/// Voltage that is none, in volts.
const NOTHING: f64 = 0.5e-3;
/// Longest name of a file, in bytes; many file systems allow 255.
const LONGEST_FILE: usize = 200;
/// Longest name of a board in it.
const LONGEST_NAME: usize = 160;
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
    /// Under which condition its voltages hold, where it has some.
    condition: Option<String>,
    /// Names of what changes in it, where something does.
    named: Option<Named>,
}

/// Draws a board; with a solved point each net has its voltage beside its name.
pub(crate) fn schematic(family: &Family, board: &Board, values: Option<&Point>) -> Schematic {
    let board = &with_own_loads(board);
    let ground = ground(family, board);
    let told = Values {
        texts: told(board, &family.connector.pins, ground, values),
        must: false,
    };
    let drawn = laid(family, board, symbol::pieces_in(board, None), &told);
    Schematic {
        message: words::words(family, board),
        condition: values.map(|_| condition(family)),
        ..drawn
    }
}

/// Draws a board in a situation, with room for all that changes in it.
fn changing(family: &Family, board: &Board, live: &Live) -> Schematic {
    let whole = &with_own_loads(board);
    let set = Set {
        family,
        board,
        situation: live.situation,
    };
    let ground = ground(family, whole);
    let nets =
        (0..whole.nets.len()).map(|net| (ground != Some(net)).then(|| set::WIDEST.to_owned()));
    let told = Values {
        texts: nets.collect(),
        must: true,
    };
    let drawn = laid(family, whole, symbol::pieces_in(whole, Some(&set)), &told);
    let named = Named::new(&set, whole);
    let as_set = live::as_set(&set, whole);
    Schematic {
        message: words::words(family, &as_set),
        board: as_set,
        named: Some(named),
        ..drawn
    }
}

fn ground(family: &Family, board: &Board) -> Option<usize> {
    let ground = family.connector.ground_net();
    board.nets.iter().position(|n| n == ground)
}

/// Everything in its place, without words.
fn laid(family: &Family, board: &Board, pieces: Vec<Piece>, told: &Values) -> Schematic {
    let graph = Graph::new(board, &pieces, ground(family, board));
    let (plan, wires, labels) = tries::drawn(&graph, &family.connector.pins, told);
    let covered = covered(&plan, &wires, &labels);
    Schematic {
        board: board.clone(),
        plan,
        wires,
        labels,
        covered,
        pieces,
        message: String::new(),
        condition: None,
        named: None,
    }
}

/// The board with its own loads as parts: those that name their nets themselves have no part to be drawn.
fn with_own_loads(board: &Board) -> Board {
    let mut whole = board.clone();
    for load in &board.loads {
        let of_part = |p: &Part| matches!(&p.device, Device::Load(name) if *name == load.name);
        if board.parts.iter().any(of_part) {
            continue;
        }
        let taken = board.parts.iter().any(|p| p.name == load.name);
        let pin = |name: &str, net: &String| Pin {
            name: name.to_owned(),
            net: board.nets.iter().position(|n| n == net),
            declared_open: false,
        };
        whole.parts.push(Part {
            name: if taken {
                format!("load {}", load.name)
            } else {
                load.name.clone()
            },
            kind: Kind::Load,
            pins: vec![pin("plus", &load.plus), pin("minus", &load.minus)],
            device: Device::Load(load.name.clone()),
            heat: Heat::default(),
            origin: Origin {
                model: None,
                source: None,
                confidence: Confidence::DataSheet,
                class: false,
                cautions: Vec::new(),
            },
        });
    }
    whole
}

/// The condition of voltages at rest.
pub(crate) fn condition(family: &Family) -> String {
    let ambient = family.requirement.ambient.usual.as_celsius();
    let ambient = report::typeset(&celsius(ambient));
    format!("usual positions, fresh rested cells, loads in base states, {ambient}")
}

/// Name of the file of a drawing, from its boards; of no two drawings alike, letter case left aside.
pub(crate) fn file_name(family: &Family, boards: &[&Board]) -> String {
    let names: Vec<String> = boards.iter().map(|b| file_slug(family, &b.name)).collect();
    let whole = format!("schematic-{}.svg", names.join("+"));
    if whole.len() <= LONGEST_FILE || names.len() < 2 {
        return whole;
    }
    // The first names that have room, and how many more there are.
    let mut kept = names.len();
    loop {
        kept -= 1;
        let more = names.len() - kept;
        let short = format!("schematic-{}.{more}-more.svg", names[..kept].join("+"));
        if short.len() <= LONGEST_FILE || kept == 1 {
            return short;
        }
    }
}

/// A board's name in names of files: its capitals by their numbers where another board differs by
/// letter case only.
pub(crate) fn file_slug(family: &Family, name: &str) -> String {
    let mut slug = report::slug(name);
    if LONGEST_NAME < slug.len() {
        let place = family.boards.iter().position(|b| b.name == name);
        slug.truncate(LONGEST_NAME);
        return format!("{slug}.{}", place.unwrap_or(0) + 1);
    }
    let others = family.boards.iter().filter(|b| b.name != name);
    let mut others = others.map(|b| report::slug(&b.name));
    if !others.any(|o| o.eq_ignore_ascii_case(&slug)) {
        return slug;
    }
    let letter = |c: char| match c {
        c if c.is_ascii_uppercase() => format!("_{:x}_", u32::from(c)),
        c => c.to_string(),
    };
    slug.chars().map(letter).collect()
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
        (rail || NOTHING < volts.abs()).then(|| report::typeset(&figure(volts, Unit::Volt)))
    };
    board.nets.iter().enumerate().map(of).collect()
}

/// The message, and under which condition the voltages hold.
fn described(message: &str, condition: Option<&str>) -> String {
    match condition {
        Some(condition) => format!("{message} Voltages at rest: {condition}."),
        None => message.to_owned(),
    }
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
    pub(crate) fn body(&self, corner: Place, live: Option<&Live>) -> String {
        let (x, y) = self.offset();
        let shift = Place {
            x: corner.x + x,
            y: corner.y + y,
        };
        match (live, &self.named) {
            (Some(live), Some(named)) => live::body(self, shift, live::With { live, named }),
            _ => render::body(self, shift),
        }
    }

    /// The drawing for a page that has the style sheet.
    pub(crate) fn inside(&self) -> String {
        let origin = Place { x: 0.0, y: 0.0 };
        render::page(
            &self.title(),
            &described(&self.message, self.condition.as_deref()),
            self.size(),
            &self.body(origin, None),
        )
    }

    /// The drawing as a file of its own.
    pub(crate) fn alone(&self) -> String {
        let (w, h) = self.size();
        let origin = Place { x: 0.0, y: 0.0 };
        let mut body = self.body(origin, None);
        let condition = self.condition.as_deref();
        let size = render::foot(condition, (w, h), &mut body);
        render::file(
            &self.title(),
            &described(&self.message, condition),
            size,
            &body,
        )
    }

    fn title(&self) -> String {
        format!("Schematic of {}", self.board.name)
    }
}
