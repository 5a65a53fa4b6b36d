//! A drawing as its SVG says it: groups of parts and nets, wires, signs, and the room of its texts.

use roxmltree::{Document, Node};

use super::paths::{Edge, edges, numbers, strokes, wires};
use super::shapes::{Area, Point};

/// A part, or one piece of it.
#[derive(Debug, Clone)]
pub(super) struct Piece {
    pub(super) part: String,
    pub(super) board: String,
    pub(super) terminals: Vec<(String, Point)>,
    pub(super) body: Area,
    pub(super) crosses: Vec<Point>,
    /// The strokes of its symbol.
    pub(super) edges: Vec<Edge>,
}

/// What is drawn of a net; of no board where it joins several.
#[derive(Debug, Clone)]
pub(super) struct Net {
    pub(super) name: String,
    pub(super) board: String,
    pub(super) wires: Vec<Vec<Point>>,
    pub(super) junctions: Vec<Point>,
    /// Names at stubs.
    pub(super) stubs: Vec<Point>,
    /// Names as shown.
    pub(super) shown: Vec<String>,
    pub(super) grounds: Vec<(Point, Area)>,
}

/// A text and the room that it takes.
#[derive(Debug, Clone)]
pub(super) struct Text {
    pub(super) says: String,
    pub(super) class: String,
    pub(super) area: Area,
    /// The piece that it belongs to, in the order of the pieces.
    pub(super) piece: Option<usize>,
    /// Whether it belongs to a connector.
    pub(super) at_connector: bool,
}

/// The connector of a board.
#[derive(Debug, Clone)]
pub(super) struct Connector {
    pub(super) board: String,
    pub(super) terminals: Vec<(String, Point)>,
    pub(super) body: Option<Area>,
    /// Its texts.
    pub(super) shown: Vec<String>,
}

/// A whole drawing.
#[derive(Debug, Default)]
pub(super) struct Picture {
    pub(super) view: Option<Area>,
    pub(super) pieces: Vec<Piece>,
    pub(super) nets: Vec<Net>,
    pub(super) texts: Vec<Text>,
    pub(super) connectors: Vec<Connector>,
    /// What is wrong with it as a document.
    pub(super) faults: Vec<String>,
}

impl Picture {
    /// Reads a drawing; what cannot be read is among its faults.
    pub(super) fn read(svg: &str) -> Self {
        let mut out = Self::default();
        match Document::parse(svg) {
            Ok(document) => out.take(&document),
            Err(e) => out.fault(format!("not well-formed: {e}")),
        }
        out
    }

    fn fault(&mut self, says: String) {
        self.faults.push(says);
    }

    fn take(&mut self, document: &Document<'_>) {
        let root = document.root_element();
        self.head(root);
        let mut ids: Vec<&str> = Vec::new();
        for node in root.descendants().filter(Node::is_element) {
            if let Some(id) = node.attribute("id") {
                let clean = |c: char| c.is_ascii_alphanumeric() || "-_.".contains(c);
                if ids.contains(&id) || !id.chars().all(clean) {
                    self.fault(format!("id {id} is there twice or holds odd signs"));
                }
                ids.push(id);
            }
            if node.has_attribute("transform") {
                self.fault(format!("a transform at {}", told(node)));
            }
            match node.tag_name().name() {
                "g" if is(node, "part") => self.piece(node),
                "g" if is(node, "net") || is(node, "join") => self.net(node),
                "g" if is(node, "connector") => self.connector(node),
                "text" => self.text(node),
                _ => {}
            }
        }
    }

    fn head(&mut self, root: Node<'_, '_>) {
        let role = root.attribute("role");
        if !(is(root, "schematic") && matches!(role, Some("img" | "group"))) {
            self.fault("the root is no svg.schematic with the role of a picture".to_owned());
        }
        for tag in ["title", "desc"] {
            let child = root.children().find(|n| n.tag_name().name() == tag);
            let text = child.and_then(|c| c.text()).unwrap_or_default();
            if text.trim().is_empty() {
                self.fault(format!("no {tag}"));
            }
        }
        let view = root.attribute("viewBox").unwrap_or_default();
        match numbers(view)[..] {
            [left, top, width, height] => {
                self.view = Some(Area {
                    left,
                    top,
                    right: left + width,
                    bottom: top + height,
                });
            }
            _ => self.fault(format!("viewBox {view:?}")),
        }
    }

    fn piece(&mut self, node: Node<'_, '_>) {
        let body = area_of(node.attribute("data-body").unwrap_or_default());
        if body.is_none() {
            self.fault(format!("no data-body at {}", told(node)));
        }
        if node.attribute("id").is_none() {
            self.fault(format!("no id at {}", told(node)));
        }
        let crosses = node.descendants().filter(|n| is(*n, "open"));
        let crosses: Vec<_> = crosses.map(|n| point(n)).collect();
        let terminals = self.terminals(node);
        self.pieces.push(Piece {
            part: attribute(node, "data-part"),
            board: attribute(node, "data-board"),
            terminals,
            body: body.unwrap_or(Area::NONE),
            edges: edges(node),
            crosses: crosses.iter().flatten().copied().collect(),
        });
        if crosses.contains(&None) {
            self.fault(format!("a cross without a place at {}", told(node)));
        }
    }

    fn terminals(&mut self, node: Node<'_, '_>) -> Vec<(String, Point)> {
        let written = node.attribute("data-terminals").unwrap_or_default();
        let mut out = Vec::new();
        for entry in written.split(';').filter(|e| !e.trim().is_empty()) {
            let mut words = entry.trim().rsplitn(3, ' ');
            let (y, x, name) = (words.next(), words.next(), words.next());
            let number = |w: Option<&str>| w.and_then(|w| w.parse::<f64>().ok());
            match (name, number(x), number(y)) {
                (Some(name), Some(x), Some(y)) => out.push((name.to_owned(), Point::new(x, y))),
                _ => self.fault(format!("terminal {entry:?} at {}", told(node))),
            }
        }
        out
    }

    fn connector(&mut self, node: Node<'_, '_>) {
        let terminals = self.terminals(node);
        self.connectors.push(Connector {
            board: attribute(node, "data-board"),
            terminals,
            body: node.attribute("data-body").and_then(area_of),
            shown: Vec::new(),
        });
    }

    fn net(&mut self, node: Node<'_, '_>) {
        let mut net = Net {
            name: attribute(node, "data-net"),
            board: attribute(node, "data-board"),
            wires: Vec::new(),
            junctions: Vec::new(),
            stubs: Vec::new(),
            shown: Vec::new(),
            grounds: Vec::new(),
        };
        if node.attribute("id").is_none() {
            self.fault(format!("no id at {}", told(node)));
        }
        for child in node.descendants() {
            if is(child, "wire") {
                let path = child.attribute("d").unwrap_or_default();
                match wires(path) {
                    Some(wires) => net.wires.extend(wires),
                    None => self.fault(format!("wire {path:?} of {}", net.name)),
                }
            } else if is(child, "junction") {
                let at = |key| child.attribute(key).and_then(|v| v.parse::<f64>().ok());
                match (at("cx"), at("cy")) {
                    (Some(x), Some(y)) => net.junctions.push(Point::new(x, y)),
                    _ => self.fault(format!("junction without a place of {}", net.name)),
                }
            } else if is(child, "net-name") {
                net.stubs.extend(point(child));
                net.shown.push(said(child));
            } else if is(child, "ground") {
                match point(child) {
                    Some(at) => net.grounds.push((at, strokes(child))),
                    None => self.fault(format!("ground sign without a place of {}", net.name)),
                }
            }
        }
        self.nets.push(net);
    }

    fn text(&mut self, node: Node<'_, '_>) {
        let at = |key| node.attribute(key).and_then(|v| v.parse::<f64>().ok());
        let class = attribute(node, "class");
        let says = said(node);
        let (Some(x), Some(y), Some(size)) = (at("x"), at("y"), size(&class)) else {
            self.fault(format!(
                "text {says:?} of class {class:?} has no place or size"
            ));
            return;
        };
        let width = size * says.chars().map(letter).sum::<f64>();
        let left = match node.attribute("text-anchor") {
            Some("middle") => x - width / 2.0,
            Some("end") => x - width,
            _ => x,
        };
        let part = node.ancestors().find(|n| is(*n, "part"));
        let mine = part.map(|_| self.pieces.len().saturating_sub(1));
        let at_connector = node.ancestors().any(|n| is(n, "connector"));
        if let (true, Some(connector)) = (at_connector, self.connectors.last_mut()) {
            connector.shown.push(says.clone());
        }
        self.texts.push(Text {
            at_connector,
            says,
            class,
            area: Area {
                left,
                top: y - 0.8 * size,
                right: left + width,
                bottom: y + 0.22 * size,
            },
            piece: mine,
        });
    }
}

/// Width of a letter against its size: the widest of common fonts of one width, and of what other
/// scripts bring (measured in the browser's test).
fn letter(c: char) -> f64 {
    match c {
        '\u{590}'..='\u{1fff}' => 1.0,
        c if c <= '\u{2e7f}' => 0.605,
        _ => 1.4,
    }
}

fn size(class: &str) -> Option<f64> {
    class.split_whitespace().find_map(|word| match word {
        "ref" | "heading" => Some(12.0),
        "val" | "net-name" | "net-value" | "reading" => Some(11.0),
        "pin" => Some(9.0),
        _ => None,
    })
}

fn is(node: Node<'_, '_>, class: &str) -> bool {
    let classes = node.attribute("class").unwrap_or_default();
    classes.split_whitespace().any(|c| c == class)
}

fn attribute(node: Node<'_, '_>, key: &str) -> String {
    node.attribute(key).unwrap_or_default().to_owned()
}

fn said(node: Node<'_, '_>) -> String {
    let texts = node.descendants().filter(Node::is_text);
    texts.filter_map(|n| n.text()).collect()
}

fn told(node: Node<'_, '_>) -> String {
    let id = node.attribute("id").unwrap_or("no id");
    format!("<{}> {id}", node.tag_name().name())
}

fn area_of(text: &str) -> Option<Area> {
    match numbers(text)[..] {
        [left, top, right, bottom] => Some(Area {
            left,
            top,
            right,
            bottom,
        }),
        _ => None,
    }
}

fn point(node: Node<'_, '_>) -> Option<Point> {
    match numbers(node.attribute("data-at")?)[..] {
        [x, y] => Some(Point::new(x, y)),
        _ => None,
    }
}
