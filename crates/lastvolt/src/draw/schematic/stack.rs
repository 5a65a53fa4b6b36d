//! Boards plugged together: one below the other, their connectors in one line, pins of one name joined by
//! wires at the right, and there the loads that they share.

mod shared;

#[cfg(test)]
mod tests;

use std::fmt::Write;

use lastvolt_core::circuit::Point;
use lastvolt_core::model::{Board, Family, Load};

use super::live::Live;
use super::sheet::{Area, Place, TextRole};
use super::{EDGE, Schematic, changing, render, schematic, words};
use crate::draw::lettering::{Letters, width};
use crate::draw::svg::{escape, shortened};
use crate::text::number::listed;
use shared::Shared;

/// The band of a heading, in pixels.
const HEADING: f64 = 30.0;
/// Paper between two boards.
const BETWEEN: f64 = 12.0;
/// Most characters of a heading and of the message.
const MOST_HEADING: usize = 60;
const MOST_MESSAGE: usize = 600;

/// A drawing of boards that are plugged together.
#[derive(Debug, Clone)]
pub(crate) struct Stack {
    title: String,
    message: String,
    condition: Option<String>,
    size: (f64, f64),
    body: String,
    /// Whether it has links and texts that change.
    lives: bool,
}

/// A board in its place.
struct Floor<'a> {
    board: &'a Board,
    drawn: Schematic,
    corner: Place,
}

impl Floor<'_> {
    /// The frame of its connector, where it is shown.
    fn frame(&self) -> Option<Area> {
        let frame = self.drawn.frame()?;
        Some(frame.shifted(self.corner.x, self.corner.y))
    }

    /// How far down each pin of its connector is, of those that the board has a net for.
    fn pins(&self) -> Vec<(String, f64)> {
        let pins = self.drawn.connector().into_iter();
        pins.filter(|(name, _)| self.board.nets.contains(name))
            .map(|(name, at)| (name, at.y + self.corner.y))
            .collect()
    }
}

/// Draws boards on one connector; with a solved point of them all each net has its voltage.
pub(crate) fn stack(family: &Family, boards: &[&Board], values: Option<&Point>) -> Stack {
    let drawn = boards.iter().map(|b| schematic(family, b, values));
    let floors = floors(boards, drawn, HEADING);
    let names: Vec<&str> = boards.iter().map(|b| b.name.as_str()).collect();
    Stack {
        title: format!("Schematic of {} on one connector", listed(&names)),
        condition: values.map(|_| super::condition(family)),
        ..built(family, boards, &floors, None)
    }
}

/// Draws a board with the loads that it feeds, or boards on one connector, as they are in a situation and
/// with room for what changes; see [`super::live`].
pub(crate) fn live(family: &Family, boards: &[&Board], live: &Live) -> Stack {
    let drawn = boards.iter().map(|b| changing(family, b, live));
    let alone = boards.len() == 1;
    let floors = floors(boards, drawn, if alone { 0.0 } else { HEADING });
    let names: Vec<&str> = boards.iter().map(|b| b.name.as_str()).collect();
    let stack = built(family, boards, &floors, Some(live));
    match floors.as_slice() {
        [floor] => Stack {
            title: format!("Schematic of {}", floor.board.name),
            message: floor.drawn.message.clone(),
            ..stack
        },
        _ => Stack {
            title: format!("Schematic of {} on one connector", listed(&names)),
            ..stack
        },
    }
}

/// Everything about boards in their places but the title.
fn built(family: &Family, boards: &[&Board], floors: &[Floor], live: Option<&Live>) -> Stack {
    let edge = floors.iter().filter_map(Floor::frame).map(|f| f.right);
    let edge = edge.fold(0.0, f64::max);
    let loads = loads(family, boards);
    let shared = Shared::new(family, floors, &loads, edge, live.is_some());
    let mut body = String::new();
    let mut right = edge + EDGE;
    let mut bottom = 0.0_f64;
    for floor in floors {
        let (w, h) = floor.drawn.size();
        right = right.max(floor.corner.x + w);
        bottom = bottom.max(floor.corner.y + h);
        if 0.0 < floor.corner.y {
            let wide = heading(floor, edge, &mut body);
            right = right.max(wide);
        }
        body.push_str(&floor.drawn.body(floor.corner, live));
    }
    let (shared_right, shared_bottom) = shared.draw(live, &mut body);
    let size = (
        right.max(shared_right + EDGE).ceil(),
        bottom.max(shared_bottom + EDGE).ceil(),
    );
    Stack {
        title: String::new(),
        message: message(family, boards, &loads, &shared.joined()),
        condition: None,
        size,
        body,
        lives: live.is_some(),
    }
}

impl Stack {
    /// Width in pixels.
    pub(crate) fn width(&self) -> f64 {
        self.size.0
    }

    /// The drawing for a page that has the style sheet.
    pub(crate) fn inside(&self) -> String {
        let message = super::described(&self.message, self.condition.as_deref());
        if self.lives {
            return render::live_page(&self.title, &message, self.size, &self.body);
        }
        render::page(&self.title, &message, self.size, &self.body)
    }

    /// The drawing as a file of its own.
    pub(crate) fn alone(&self) -> String {
        let condition = self.condition.as_deref();
        let message = super::described(&self.message, condition);
        let mut body = self.body.clone();
        let size = render::foot(condition, self.size, &mut body);
        render::file(&self.title, &message, size, &body)
    }
}

/// Each board below the one before, the right edges of the connectors in one line.
fn floors<'a>(
    boards: &[&'a Board],
    drawn: impl Iterator<Item = Schematic>,
    heading: f64,
) -> Vec<Floor<'a>> {
    let mut out = Vec::new();
    let mut down = 0.0;
    for (board, drawn) in boards.iter().zip(drawn) {
        let (_, height) = drawn.size();
        let corner = Place {
            x: 0.0,
            y: down + heading,
        };
        down = corner.y + height + BETWEEN;
        out.push(Floor {
            board,
            drawn,
            corner,
        });
    }
    let rights = out.iter().filter_map(Floor::frame).map(|f| f.right);
    let edge = rights.fold(0.0, f64::max);
    for floor in &mut out {
        let right = floor.frame().map_or(edge, |f| f.right);
        floor.corner.x = (edge - right).floor();
    }
    out
}

/// The loads of the family that sit on one of the boards.
fn loads<'a>(family: &'a Family, boards: &[&Board]) -> Vec<&'a Load> {
    let sits = |load: &&Load| {
        let on = load.on.as_ref();
        on.is_none_or(|on| boards.iter().any(|b| on.contains(&b.name)))
    };
    family.loads.iter().filter(sits).collect()
}

/// Writes the heading of a board; gives where it ends.
fn heading(floor: &Floor, edge: f64, out: &mut String) -> f64 {
    let says = match floor.board.title.as_str() {
        title if title.is_empty() || title == floor.board.name => floor.board.name.clone(),
        title => format!("{}: {title}", floor.board.name),
    };
    let says = shortened(&says, MOST_HEADING);
    let wide = width(&says, TextRole::Heading.size(), Letters::Mono);
    let x = (floor.corner.x + EDGE).min(edge - wide).max(EDGE);
    let y = floor.corner.y - 8.0;
    let _ = writeln!(
        out,
        "<text class=\"heading\" x=\"{x:.1}\" y=\"{y:.1}\">{}</text>",
        escape(&says)
    );
    x + wide + EDGE
}

/// What is joined, what hangs on it, and how each board feeds it.
fn message(family: &Family, boards: &[&Board], loads: &[&Load], joined: &[&str]) -> String {
    let names: Vec<&str> = boards.iter().map(|b| b.name.as_str()).collect();
    let mut text = format!("{} share ground", listed(&names));
    if !joined.is_empty() {
        let _ = write!(text, " and are joined at {}", listed(joined));
    }
    text.push('.');
    for load in loads {
        let _ = write!(
            text,
            " {} hangs between {} and {}.",
            load.name, load.plus, load.minus
        );
    }
    for board in boards {
        let told = words::supply(family, board);
        let told = if told.is_empty() { "no source." } else { &told };
        let _ = write!(text, " {}: {told}", board.name);
    }
    shortened(&text, MOST_MESSAGE)
}
