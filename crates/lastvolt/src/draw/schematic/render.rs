//! A drawing as SVG: a group a part, a group a net, one for the connector; every text escaped.

use std::fmt::Write;

use super::Schematic;
use super::live::With;
use super::place::Placed;
use super::route::Wiring;
use super::sheet::{Area, Place, Reading, Spot, Stroke, Text, TextRole};
use crate::draw::lettering::{Letters, width};
use crate::draw::svg::{Anchor, escape};
use crate::report;

/// Moves places of the drawing to where they are shown.
#[derive(Clone, Copy)]
pub(super) struct Pen {
    pub(super) x: f64,
    pub(super) y: f64,
}

impl Pen {
    pub(super) fn spot(self, at: Spot) -> Place {
        self.place(at.place())
    }

    fn place(self, at: Place) -> Place {
        Place {
            x: at.x + self.x,
            y: at.y + self.y,
        }
    }

    pub(super) fn of(self, placed: &Placed) -> Self {
        let at = self.spot(placed.at);
        Self { x: at.x, y: at.y }
    }
}

/// The picture inside a page.
pub(super) fn page(title: &str, message: &str, size: (f64, f64), body: &str) -> String {
    let (w, h) = size;
    let attributes = format!(" width=\"{w:.0}\" height=\"{h:.0}\"");
    svg((&attributes, "img"), title, message, size, "", body)
}

/// The picture inside a page, with links and with texts that change.
pub(super) fn live_page(title: &str, message: &str, size: (f64, f64), body: &str) -> String {
    let (w, h) = size;
    let attributes = format!(" width=\"{w:.0}\" height=\"{h:.0}\"");
    svg((&attributes, "group"), title, message, size, "", body)
}

/// The picture as a file: it brings its style and its paper along and fills the window.
pub(super) fn file(title: &str, message: &str, size: (f64, f64), body: &str) -> String {
    let first = format!(
        "<style>\n{}.paper{{fill:var(--paper)}}\n</style>\n<rect class=\"paper\" width=\"100%\" height=\"100%\"/>\n",
        crate::draw::STYLE
    );
    let name_space = " xmlns=\"http://www.w3.org/2000/svg\"";
    svg((name_space, "img"), title, message, size, &first, body)
}

fn svg(
    (attributes, role): (&str, &str),
    title: &str,
    message: &str,
    (w, h): (f64, f64),
    first: &str,
    body: &str,
) -> String {
    format!(
        "<svg{attributes} class=\"schematic\" role=\"{role}\" viewBox=\"0 0 {w:.0} {h:.0}\">\n<title>{}</title>\n<desc>{}</desc>\n{first}{body}</svg>\n",
        escape(title),
        escape(message),
    )
}

/// Writes under a drawing under which condition its voltages hold; gives the size with it.
pub(super) fn foot(condition: Option<&str>, (w, h): (f64, f64), out: &mut String) -> (f64, f64) {
    let Some(condition) = condition else {
        return (w, h);
    };
    let mut lines: Vec<String> = vec!["Voltages at rest:".to_owned()];
    let room = |line: &str| width(line, TextRole::NetValue.size(), Letters::Mono);
    for word in condition.split(' ') {
        let longer = lines.last().map(|l| format!("{l} {word}"));
        match longer.filter(|l| room(l) <= w - 2.0 * super::EDGE) {
            Some(longer) => {
                lines.pop();
                lines.push(longer);
            }
            None => lines.push(word.to_owned()),
        }
    }
    let widest = lines.iter().map(|l| room(l)).fold(0.0, f64::max);
    for (at, says) in lines.iter().enumerate() {
        let text = Text {
            says: says.clone(),
            role: TextRole::NetValue,
            at: Place {
                x: super::EDGE,
                y: h + 8.0 + 14.0 * at as f64,
            },
            anchor: Anchor::Start,
        };
        write_text(&text, Pen { x: 0.0, y: 0.0 }, "", out);
    }
    let size = (
        w.max(widest + 2.0 * super::EDGE),
        h + 14.0 * lines.len() as f64 + 6.0,
    );
    (size.0.ceil(), size.1.ceil())
}

/// All groups of a drawing.
pub(super) fn body(of: &Schematic, shift: Place) -> String {
    let pen = Pen {
        x: shift.x,
        y: shift.y,
    };
    let mut out = String::new();
    for wiring in &of.wires.nets {
        net(of, wiring, pen, None, &mut out);
    }
    for placed in &of.plan.placed {
        part(of, placed, pen, None, &mut out);
    }
    connector(of, pen, None, &mut out);
    out
}

/// The same cleaning of names as in the anchors of the report.
pub(super) fn cleaned(name: &str) -> String {
    report::slug(name)
}

fn area(area: Area) -> String {
    format!(
        "{} {} {} {}",
        n(area.left),
        n(area.top),
        n(area.right),
        n(area.bottom)
    )
}

/// A figure in pixels, without digits that say nothing.
pub(super) fn n(value: f64) -> String {
    let text = format!("{value:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

/// A piece of a part; with what changes in it, and room to point at, in a drawing that lives.
pub(super) fn part(
    of: &Schematic,
    placed: &Placed,
    pen: Pen,
    with: Option<With>,
    out: &mut String,
) {
    let piece = &of.pieces[placed.piece];
    let part = &of.board.parts[piece.part];
    let own = pen.of(placed);
    let terminals = placed.symbol.terminals.iter().map(|t| {
        let name = part.pins.get(t.pin).map_or("", |p| p.name.as_str());
        let at = own.place(t.at.place());
        format!("{} {} {}", escape(name), n(at.x), n(at.y))
    });
    let terminals: Vec<String> = terminals.collect();
    let suffix = if piece.piece == 0 {
        String::new()
    } else {
        format!(".{}", piece.piece + 1)
    };
    let _ = writeln!(
        out,
        "<g class=\"part{}\" id=\"{}.part.{}{suffix}\" data-part=\"{}\" data-board=\"{}\" data-terminals=\"{}\" data-body=\"{}\">\n<title>{}</title>",
        with.map_or("", |w| w.named.look(piece.part)),
        report::anchor(&of.board.name),
        cleaned(&part.name),
        escape(&part.name),
        escape(&of.board.name),
        terminals.join(";"),
        area(placed.symbol.body.shifted(own.x, own.y)),
        escape(&super::words::title(&of.board, part)),
    );
    if with.is_some() {
        super::live::part_hits(placed, own, out);
    }
    for stroke in &placed.symbol.strokes {
        draw(stroke, own, out);
    }
    for text in placed.symbol.texts.iter().chain(&placed.texts) {
        let now = with.and_then(|w| w.part_text(text, piece.part));
        match now {
            Some((text, more)) => write_text(&text, own, &more, out),
            None => write_text(text, own, "", out),
        }
    }
    for terminal in &placed.symbol.terminals {
        let net = part.pins.get(terminal.pin).and_then(|p| p.net);
        if net.is_none() {
            let at = own.place(terminal.at.place());
            cross(at, out);
        }
    }
    out.push_str("</g>\n");
}

pub(super) fn cross(at: Place, out: &mut String) {
    let Place { x, y } = at;
    let _ = writeln!(
        out,
        "<path class=\"open\" data-at=\"{} {}\" d=\"M{} {}L{} {}M{} {}L{} {}\"/>",
        n(x),
        n(y),
        n(x - 4.0),
        n(y - 4.0),
        n(x + 4.0),
        n(y + 4.0),
        n(x - 4.0),
        n(y + 4.0),
        n(x + 4.0),
        n(y - 4.0),
    );
}

fn path(points: &[Place], pen: Pen) -> String {
    let mut d = String::new();
    for (at, point) in points.iter().enumerate() {
        let to = pen.place(*point);
        let letter = if at == 0 { 'M' } else { 'L' };
        let _ = write!(d, "{letter}{} {}", n(to.x), n(to.y));
    }
    d
}

fn fill(filled: bool) -> &'static str {
    if filled { "sym ink" } else { "sym" }
}

fn draw(stroke: &Stroke, pen: Pen, out: &mut String) {
    let _ = match stroke {
        Stroke::Line(points) => {
            writeln!(out, "<path class=\"sym\" d=\"{}\"/>", path(points, pen))
        }
        Stroke::Dashes(points) => {
            writeln!(
                out,
                "<path class=\"sym dashes\" d=\"{}\"/>",
                path(points, pen)
            )
        }
        Stroke::Shape { corners, filled } => writeln!(
            out,
            "<path class=\"{}\" d=\"{}Z\"/>",
            fill(*filled),
            path(corners, pen)
        ),
        Stroke::Ring {
            centre,
            radius,
            filled,
        } => {
            let at = pen.place(*centre);
            writeln!(
                out,
                "<circle class=\"{}\" cx=\"{}\" cy=\"{}\" r=\"{}\"/>",
                fill(*filled),
                n(at.x),
                n(at.y),
                n(*radius)
            )
        }
        Stroke::Bows { from, to, count } => bows(pen.place(*from), pen.place(*to), *count, out),
        Stroke::Room(_) => Ok(()),
    };
}

/// Half circles that bulge to the left of the way.
fn bows(from: Place, to: Place, count: u8, out: &mut String) -> std::fmt::Result {
    let share = 1.0 / f64::from(count.max(1));
    let step = Place {
        x: (to.x - from.x) * share,
        y: (to.y - from.y) * share,
    };
    let radius = step.x.hypot(step.y) / 2.0;
    let mut d = format!("M{} {}", n(from.x), n(from.y));
    for at in 1..=count {
        let x = from.x + step.x * f64::from(at);
        let y = from.y + step.y * f64::from(at);
        let _ = write!(d, "A{r} {r} 0 0 1 {} {}", n(x), n(y), r = n(radius));
    }
    writeln!(out, "<path class=\"sym\" d=\"{d}\"/>")
}

pub(super) fn write_text(text: &Text, pen: Pen, more: &str, out: &mut String) {
    let class = match text.role {
        TextRole::Designator => "ref",
        TextRole::Value => "val",
        TextRole::Pin => "pin",
        TextRole::Net => "net-name",
        TextRole::NetValue => "net-value",
        TextRole::Heading => "heading",
        TextRole::Reading(Reading::Mode) => "reading mode",
        TextRole::Reading(_) => "reading",
    };
    let anchor = match text.anchor {
        Anchor::Start => "start",
        Anchor::Middle => "middle",
        Anchor::End => "end",
    };
    let at = pen.place(text.at);
    let _ = writeln!(
        out,
        "<text class=\"{class}\" text-anchor=\"{anchor}\"{more} x=\"{}\" y=\"{}\">{}</text>",
        n(at.x),
        n(at.y),
        escape(&text.says)
    );
}

/// The frame of the connector and its pins; those lead to their nets in a drawing that lives.
pub(super) fn connector(of: &Schematic, pen: Pen, with: Option<With>, out: &mut String) {
    let Some(interface) = &of.plan.interface else {
        return;
    };
    let pins = interface.pins.iter().map(|(name, _, at)| {
        let at = pen.spot(*at);
        format!("{} {} {}", escape(name), n(at.x), n(at.y))
    });
    let pins: Vec<String> = pins.collect();
    let frame = interface.area.shifted(pen.x, pen.y);
    let _ = writeln!(
        out,
        "<g class=\"connector\" data-board=\"{}\" data-terminals=\"{}\" data-body=\"{}\">\n<title>Connector</title>\n<rect class=\"sym\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>",
        escape(&of.board.name),
        pins.join(";"),
        area(frame),
        n(frame.left),
        n(frame.top),
        n(frame.right - frame.left),
        n(frame.bottom - frame.top),
    );
    for ((_, net, at), shown) in interface.pins.iter().zip(&interface.shown) {
        let place = at.place();
        let text = Text {
            says: shown.clone(),
            role: TextRole::Pin,
            at: Place {
                x: place.x + 7.0,
                y: place.y + 3.0,
            },
            anchor: Anchor::Start,
        };
        let link = with.zip(*net);
        if let Some((with, net)) = link {
            with.open_pin(net, frame, pen.spot(*at), out);
        }
        write_text(&text, pen, "", out);
        if link.is_some() {
            out.push_str("</a>\n");
        }
        if net.is_none() {
            cross(pen.spot(*at), out);
        }
    }
    out.push_str("</g>\n");
}

/// The wires, signs and names of a net; with its voltage as it is now in a drawing that lives.
pub(super) fn net(of: &Schematic, wiring: &Wiring, pen: Pen, with: Option<With>, out: &mut String) {
    let name = &of.board.nets[wiring.net];
    let _ = writeln!(
        out,
        "<g class=\"net\" id=\"{}.net.{}\" data-net=\"{}\" data-board=\"{}\">",
        report::anchor(&of.board.name),
        cleaned(name),
        escape(name),
        escape(&of.board.name),
    );
    for group in &wiring.groups {
        for wire in &group.wires {
            let d = along(wire, pen);
            if with.is_some() {
                let _ = writeln!(out, "<path class=\"hit\" d=\"{d}\"/>");
            }
            let _ = writeln!(out, "<path class=\"wire\" d=\"{d}\"/>");
        }
        for junction in &group.junctions {
            let at = pen.spot(*junction);
            let _ = writeln!(
                out,
                "<circle class=\"junction\" cx=\"{}\" cy=\"{}\" r=\"3\"/>",
                n(at.x),
                n(at.y)
            );
        }
        if let Some(at) = group.ground {
            sign(pen.spot(at), out);
        }
    }
    for label in of.labels.iter().filter(|l| l.net == wiring.net) {
        let at = pen.spot(label.at);
        let at = format!(" data-at=\"{} {}\"", n(at.x), n(at.y));
        if with.is_some() {
            super::live::label_hit(label, pen, out);
        }
        write_text(&label.name, pen, &at, out);
        let Some(value) = &label.value else { continue };
        match with.map(|w| w.net_text(value, label.net)) {
            Some((value, more)) => write_text(&value, pen, &more, out),
            None => write_text(value, pen, "", out),
        }
    }
    out.push_str("</g>\n");
}

/// A wire of level and upright pieces.
fn along(wire: &[Spot], pen: Pen) -> String {
    let mut d = String::new();
    let mut last: Option<Spot> = None;
    for spot in wire {
        let at = pen.spot(*spot);
        let _ = match last {
            None => write!(d, "M{} {}", n(at.x), n(at.y)),
            Some(before) if before.y == spot.y => write!(d, " H{}", n(at.x)),
            Some(_) => write!(d, " V{}", n(at.y)),
        };
        last = Some(*spot);
    }
    d
}

/// The sign of ground: three bars, each shorter.
pub(super) fn sign(at: Place, out: &mut String) {
    let mut d = String::new();
    for (row, half) in [8.0, 5.0, 2.0].into_iter().enumerate() {
        let y = at.y + 3.5 * row as f64;
        let _ = write!(d, "M{} {}H{}", n(at.x - half), n(y), n(at.x + half));
    }
    let _ = writeln!(
        out,
        "<g class=\"ground\" data-at=\"{} {}\"><path class=\"sym\" d=\"{d}\"/></g>",
        n(at.x),
        n(at.y)
    );
}
