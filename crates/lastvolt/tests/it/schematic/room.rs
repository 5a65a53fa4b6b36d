//! Whether everything has its room: no text on anything, no wire through a part, all inside the page.

use super::picture::{Picture, Text};
use super::shapes::{Area, Line, Point, px};

/// How deep a wire may go into a body to reach the terminal at which it ends, in tenths of a pixel:
/// a step of the grid.
const REACH: i64 = 100;

/// How far a cross reaches from its place.
const CROSS: f64 = 4.0;

/// What overlaps in a drawing.
pub(super) fn faults(picture: &Picture) -> Vec<String> {
    let mut out = Vec::new();
    bodies(picture, &mut out);
    texts(picture, &mut out);
    wires(picture, &mut out);
    inside(picture, &mut out);
    strokes(picture, &mut out);
    out
}

fn bodies(picture: &Picture, out: &mut Vec<String>) {
    for (at, one) in picture.pieces.iter().enumerate() {
        for other in &picture.pieces[at + 1..] {
            if one.body.meets(&other.body) {
                out.push(format!(
                    "bodies of {} {} and {} {} overlap",
                    one.part, one.body, other.part, other.body
                ));
            }
        }
        for connector in &picture.connectors {
            if connector.body.is_some_and(|b| b.meets(&one.body)) {
                out.push(format!("the body of {} is on the connector", one.part));
            }
        }
    }
}

fn texts(picture: &Picture, out: &mut Vec<String>) {
    let lines = lines(picture);
    let grounds: Vec<&Area> = picture
        .nets
        .iter()
        .flat_map(|n| n.grounds.iter().map(|g| &g.1))
        .collect();
    for (at, text) in picture.texts.iter().enumerate() {
        let Text { says, area, .. } = text;
        for other in &picture.texts[at + 1..] {
            if area.meets(&other.area) {
                out.push(format!("texts {says:?} and {:?} overlap", other.says));
            }
        }
        for (piece, drawn) in picture.pieces.iter().enumerate() {
            if text.piece != Some(piece) && area.meets(&drawn.body) {
                out.push(format!("text {says:?} is on the body of {}", drawn.part));
            }
        }
        for (net, line) in &lines {
            if area.meets(&line.area()) {
                out.push(format!(
                    "text {says:?} is on a wire of {net} from {} to {}",
                    line.a, line.b
                ));
            }
        }
        signs(text, picture, out);
        for ground in &grounds {
            if area.meets(ground) {
                out.push(format!("text {says:?} is on a ground sign {ground}"));
            }
        }
    }
}

/// A text against crosses and the frame of a connector that is not its own.
fn signs(text: &Text, picture: &Picture, out: &mut Vec<String>) {
    let Text { says, area, .. } = text;
    let crosses = picture.pieces.iter().flat_map(|p| &p.crosses);
    for cross in crosses.filter(|c| area.meets(&around(**c, CROSS))) {
        out.push(format!("text {says:?} is on the cross at {cross}"));
    }
    let mut frames = picture.connectors.iter().filter_map(|c| c.body);
    if !text.at_connector && frames.any(|f| area.meets(&f)) {
        out.push(format!("text {says:?} is on the connector"));
    }
}

fn around(at: Point, half: f64) -> Area {
    Area {
        left: px(at.x) - half,
        top: px(at.y) - half,
        right: px(at.x) + half,
        bottom: px(at.y) + half,
    }
}

/// Every straight line of every wire, with its net.
fn lines(picture: &Picture) -> Vec<(&str, Line)> {
    let mut out = Vec::new();
    for net in &picture.nets {
        for wire in &net.wires {
            let lines = wire.windows(2).map(|w| Line::new(w[0], w[1]));
            out.extend(lines.map(|line| (net.name.as_str(), line)));
        }
    }
    out
}

fn wires(picture: &Picture, out: &mut Vec<String>) {
    let lines = lines(picture);
    for piece in &picture.pieces {
        let terminals: Vec<Point> = piece.terminals.iter().map(|t| t.1).collect();
        for (net, line) in &lines {
            let Some((a, b)) = line.inside(&piece.body) else {
                continue;
            };
            let reach = (b.x - a.x) + (b.y - a.y);
            // What lies inside ends at a terminal, and does not go through.
            let ends = [(line.a, a), (line.b, b)].into_iter().any(|(end, inner)| {
                terminals.contains(&end) && (end.x - inner.x).abs() + (end.y - inner.y).abs() <= 3
            });
            if !(ends && reach <= REACH) {
                out.push(format!(
                    "a wire of {net} from {} to {} runs through {} {}",
                    line.a, line.b, piece.part, piece.body
                ));
            }
        }
        for net in &picture.nets {
            for ground in net.grounds.iter().filter(|g| g.1.meets(&piece.body)) {
                out.push(format!(
                    "a ground sign at {} is on {}",
                    ground.0, piece.part
                ));
            }
        }
    }
}

fn inside(picture: &Picture, out: &mut Vec<String>) {
    let Some(view) = picture.view else { return };
    for text in picture.texts.iter().filter(|t| !view.holds(&t.area)) {
        out.push(format!(
            "text {:?} {} leaves the page {view}",
            text.says, text.area
        ));
    }
    for piece in picture.pieces.iter().filter(|p| !view.holds(&p.body)) {
        out.push(format!("the body of {} leaves the page", piece.part));
    }
    for (net, line) in lines(picture) {
        if !view.holds(&line.area()) {
            out.push(format!("a wire of {net} leaves the page at {}", line.a));
        }
    }
}

/// No text lies on a stroke of its own symbol, and a stroke leads to each terminal.
fn strokes(picture: &Picture, out: &mut Vec<String>) {
    for text in &picture.texts {
        let Some(piece) = text.piece.map(|at| &picture.pieces[at]) else {
            continue;
        };
        if piece.edges.iter().any(|edge| text.area.is_entered(*edge)) {
            let (says, part) = (&text.says, &piece.part);
            out.push(format!("text {says:?} is on a stroke of its symbol {part}"));
        }
    }
    for piece in &picture.pieces {
        let edges = piece.edges.iter();
        let ends = edges.flat_map(|[x1, y1, x2, y2]| [Point::new(*x1, *y1), Point::new(*x2, *y2)]);
        let ends: Vec<Point> = ends.collect();
        for (name, at) in piece.terminals.iter().filter(|t| !ends.contains(&t.1)) {
            let part = &piece.part;
            out.push(format!("no stroke leads to pin {part}.{name} at {at}"));
        }
    }
}
