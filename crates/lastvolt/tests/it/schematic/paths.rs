//! Paths of an SVG as numbers: the corners of wires, and how much room the strokes of a sign take.

use roxmltree::Node;

use super::shapes::{Area, Point};

/// Every number of a text, whatever parts them.
pub(super) fn numbers(text: &str) -> Vec<f64> {
    let mut spaced = String::new();
    for c in text.chars() {
        match c {
            ',' => spaced.push(' '),
            '-' => spaced.push_str(" -"),
            c => spaced.push(c),
        }
    }
    let words = spaced.split_whitespace();
    words.filter_map(|word| word.parse().ok()).collect()
}

/// The commands of a path, each with its numbers.
fn commands(path: &str) -> Vec<(char, Vec<f64>)> {
    let letters = path.char_indices().filter(|(_, c)| c.is_ascii_alphabetic());
    let starts: Vec<(usize, char)> = letters.collect();
    let mut out = Vec::new();
    for (at, (start, letter)) in starts.iter().enumerate() {
        let end = starts.get(at + 1).map_or(path.len(), |next| next.0);
        out.push((*letter, numbers(&path[start + 1..end])));
    }
    out
}

/// Lines of a path that has the commands M, H and V alone.
pub(super) fn wires(path: &str) -> Option<Vec<Vec<Point>>> {
    let mut out: Vec<Vec<Point>> = Vec::new();
    let (mut x, mut y) = (0.0, 0.0);
    for (letter, args) in commands(path) {
        match (letter, &args[..]) {
            ('M', &[to_x, to_y]) => {
                (x, y) = (to_x, to_y);
                out.push(Vec::new());
            }
            ('H', &[to]) => x = to,
            ('V', &[to]) => y = to,
            _ => return None,
        }
        out.last_mut()?.push(Point::new(x, y));
    }
    // A wire of one point joins nothing.
    let long = out.iter().all(|wire| 2 <= wire.len());
    (long && !out.is_empty()).then_some(out)
}

/// The rectangle around the strokes of a sign.
pub(super) fn strokes(node: Node<'_, '_>) -> Area {
    let mut area = Area::NONE;
    for child in node.descendants() {
        let at = |key: &str| child.attribute(key).and_then(|v| v.parse::<f64>().ok());
        for (x, y) in [("x1", "y1"), ("x2", "y2"), ("x", "y"), ("cx", "cy")] {
            if let (Some(x), Some(y)) = (at(x), at(y)) {
                let (width, height) = (at("width"), at("height"));
                let reach = at("r").unwrap_or(0.0);
                area.add(x - reach, y - reach);
                area.add(x + width.unwrap_or(reach), y + height.unwrap_or(reach));
            }
        }
        for pair in numbers(child.attribute("points").unwrap_or_default()).chunks_exact(2) {
            area.add(pair[0], pair[1]);
        }
        corners(child.attribute("d").unwrap_or_default(), &mut area);
    }
    area
}

/// Takes in the corners of a path; of bows their ends and the points that pull them.
fn corners(path: &str, area: &mut Area) {
    let (mut x, mut y) = (0.0, 0.0);
    for (letter, args) in commands(path) {
        let base = if letter.is_ascii_lowercase() {
            (x, y)
        } else {
            (0.0, 0.0)
        };
        match letter.to_ascii_uppercase() {
            'H' => x = base.0 + args.last().copied().unwrap_or_default(),
            'V' => y = base.1 + args.last().copied().unwrap_or_default(),
            // Radii, turn and flags come before the end of a bow.
            'A' => {
                for bow in args.chunks_exact(7) {
                    (x, y) = (base.0 + bow[5], base.1 + bow[6]);
                    area.add(x, y);
                }
            }
            'Z' => {}
            _ => {
                let mut from = base;
                for pair in args.chunks_exact(2) {
                    (x, y) = (from.0 + pair[0], from.1 + pair[1]);
                    area.add(x, y);
                    if letter == 'l' || letter == 'm' {
                        from = (x, y);
                    }
                }
            }
        }
        area.add(x, y);
    }
}
