//! Which terminals a drawing joins, by geometry alone: wires join where one ends or bends on another
//! or where a dot is, and not where they only cross.

use std::collections::{BTreeMap, BTreeSet};

use super::netlist::Netlist;
use super::picture::Picture;
use super::shapes::{Line, Point};
use super::whole::shows;

/// A wire with the net that it is drawn for.
struct Wire {
    net: usize,
    corners: Vec<Point>,
    lines: Vec<Line>,
}

/// A pin in the drawing, the connector's under no part.
struct Terminal {
    told: String,
    at: Point,
    net: Option<String>,
}

/// What belongs together, found by joining.
struct Joined(Vec<usize>);

impl Joined {
    fn root(&mut self, at: usize) -> usize {
        let mut at = at;
        while self.0[at] != at {
            self.0[at] = self.0[self.0[at]];
            at = self.0[at];
        }
        at
    }

    fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.root(a), self.root(b));
        self.0[a.max(b)] = a.min(b);
    }
}

/// What the joining of a drawing gets wrong.
pub(super) fn faults(netlist: &Netlist, picture: &Picture) -> Vec<String> {
    let mut proof = Proof::new(netlist, picture);
    proof.join();
    proof.dots();
    proof.along();
    proof.islands();
    proof.crosses();
    proof.out
}

struct Proof<'a> {
    netlist: &'a Netlist,
    picture: &'a Picture,
    wires: Vec<Wire>,
    terminals: Vec<Terminal>,
    joined: Joined,
    out: Vec<String>,
}

impl<'a> Proof<'a> {
    fn new(netlist: &'a Netlist, picture: &'a Picture) -> Self {
        let mut wires = Vec::new();
        for (net, drawn) in picture.nets.iter().enumerate() {
            for corners in &drawn.wires {
                let lines = corners.windows(2).map(|w| Line::new(w[0], w[1]));
                wires.push(Wire {
                    net,
                    lines: lines.collect(),
                    corners: corners.clone(),
                });
            }
        }
        let terminals = terminals(netlist, picture);
        let nodes = wires.len() + terminals.len();
        Self {
            netlist,
            picture,
            wires,
            terminals,
            joined: Joined((0..nodes).collect()),
            out: Vec::new(),
        }
    }

    /// Wires and terminals that have a point.
    fn at(&self, p: Point) -> Vec<usize> {
        let has = |w: &Wire| w.lines.iter().any(|l| l.has(p));
        let wires = self.wires.iter().enumerate().filter(|(_, w)| has(w));
        let terminals = self.terminals.iter().enumerate();
        let terminals = terminals.filter(|(_, t)| t.at == p);
        let first = self.wires.len();
        let wires = wires.map(|(at, _)| at);
        wires.chain(terminals.map(|(at, _)| first + at)).collect()
    }

    /// Every point at which what is there is joined.
    fn points(&self) -> BTreeSet<Point> {
        let corners = self.wires.iter().flat_map(|w| &w.corners);
        let dots = self.picture.nets.iter().flat_map(|n| &n.junctions);
        let terminals = self.terminals.iter().map(|t| &t.at);
        corners.chain(dots).chain(terminals).copied().collect()
    }

    fn join(&mut self) {
        for p in self.points() {
            let here = self.at(p);
            for pair in here.windows(2) {
                self.joined.join(pair[0], pair[1]);
            }
        }
    }

    /// A dot where three or more ends meet, and nowhere else.
    fn dots(&mut self) {
        let dots = self.picture.nets.iter().flat_map(|n| &n.junctions);
        let dots: BTreeSet<Point> = dots.copied().collect();
        for p in self.points() {
            let mut arms = [false; 4];
            let lines = self.wires.iter().flat_map(|w| &w.lines);
            for line in lines.filter(|l| l.has(p)) {
                for (arm, there) in arms.iter_mut().zip(line.arms(p)) {
                    *arm |= there;
                }
            }
            let ends = arms.iter().filter(|a| **a).count();
            let pins = self.terminals.iter().filter(|t| t.at == p).count();
            let dot = dots.contains(&p);
            if 3 <= ends + pins && !dot {
                self.out.push(format!("no dot where ends meet at {p}"));
            }
            if dot && ends + pins < 3 {
                self.out.push(format!("a dot where nothing meets at {p}"));
            }
        }
    }

    /// Wires of different nets never share a line.
    fn along(&mut self) {
        for (at, one) in self.wires.iter().enumerate() {
            for other in self.wires[at + 1..].iter().filter(|o| o.net != one.net) {
                let shared = one.lines.iter().find(|l| {
                    let mut all = other.lines.iter();
                    all.any(|o| l.runs_along(o))
                });
                if let Some(line) = shared {
                    let nets = &self.picture.nets;
                    let (a, b) = (&nets[one.net].name, &nets[other.net].name);
                    let says = format!("wires of {a} and {b} run along each other at {}", line.a);
                    self.out.push(says);
                }
            }
        }
    }

    /// Each group of joined things is of one net, and the groups of a net are joined by name.
    fn islands(&mut self) {
        let mut islands: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for at in 0..self.wires.len() + self.terminals.len() {
            let root = self.joined.root(at);
            islands.entry(root).or_default().push(at);
        }
        let mut by_net: BTreeMap<String, Vec<bool>> = BTreeMap::new();
        for members in islands.values() {
            let Some(net) = self.island_net(members) else {
                continue;
            };
            let named = self.named(members, &net);
            by_net.entry(net).or_default().push(named);
        }
        for (net, groups) in &by_net {
            let apart = groups.iter().filter(|named| !**named).count();
            if 1 < groups.len() && 0 < apart {
                let n = groups.len();
                let says = format!("net {net} is in {n} pieces, {apart} of them without a name");
                self.out.push(says);
            }
        }
        self.strangers();
        self.twins();
    }

    /// The one net of what is joined; tells where there are more or none.
    fn island_net(&mut self, members: &[usize]) -> Option<String> {
        let n_wires = self.wires.len();
        let mut nets: BTreeSet<String> = BTreeSet::new();
        let mut told = Vec::new();
        for &at in members {
            if at < n_wires {
                nets.insert(self.picture.nets[self.wires[at].net].name.clone());
                continue;
            }
            let terminal = &self.terminals[at - n_wires];
            told.push(terminal.told.clone());
            match &terminal.net {
                Some(net) => {
                    nets.insert(net.clone());
                }
                None if 1 < members.len() => {
                    let says = format!("open pin {} touches something", terminal.told);
                    self.out.push(says);
                }
                None => return None,
            }
        }
        if told.is_empty() {
            let wire = &self.wires[members[0]];
            let net = &self.picture.nets[wire.net].name;
            let says = format!("a wire of {net} leads to no pin at {}", wire.corners[0]);
            self.out.push(says);
        }
        if 1 < nets.len() {
            let nets: Vec<&str> = nets.iter().map(String::as_str).collect();
            let says = format!(
                "nets {} are joined, at pins {}",
                nets.join(" and "),
                told.join(", ")
            );
            self.out.push(says);
        }
        nets.into_iter().next()
    }

    /// Whether a group touches a ground sign or a name of its net.
    fn named(&self, members: &[usize], net: &str) -> bool {
        let here = |p: &Point| self.at(*p).iter().any(|at| members.contains(at));
        let mut drawn = self.picture.nets.iter().filter(|n| n.name == net);
        drawn.any(|n| n.stubs.iter().any(here) || n.grounds.iter().any(|g| here(&g.0)))
    }

    /// Two parts never look alike, nor do two pins of the connector.
    fn twins(&mut self) {
        let mut shown: BTreeMap<&str, &str> = BTreeMap::new();
        for text in self.picture.texts.iter().filter(|t| t.class == "ref") {
            let Some(piece) = text.piece.map(|at| &self.picture.pieces[at]) else {
                continue;
            };
            let other = shown.insert(&text.says, &piece.part);
            if other.is_some_and(|other| other != piece.part) {
                let says = format!("two parts are shown as {:?}", text.says);
                self.out.push(says);
            }
        }
        for connector in &self.picture.connectors {
            let once: BTreeSet<&String> = connector.shown.iter().collect();
            if once.len() < connector.shown.len() {
                self.out
                    .push("two pins of the connector look alike".to_owned());
            }
        }
    }

    /// Signs stand on their own net, and two nets never look alike.
    fn strangers(&mut self) {
        let mut shown: BTreeMap<&str, &str> = BTreeMap::new();
        for net in &self.picture.nets {
            for text in &net.shown {
                if !shows(text, &net.name) {
                    let says = format!("net {} is shown as {text:?}", net.name);
                    self.out.push(says);
                }
                let other = shown.insert(text, &net.name);
                if other.is_some_and(|other| other != net.name) {
                    let says = format!("two nets are shown as {text:?}");
                    self.out.push(says);
                }
            }
            if !net.grounds.is_empty() && net.name != self.netlist.ground {
                let says = format!("a ground sign at net {}", net.name);
                self.out.push(says);
            }
            let signs = net.stubs.iter().chain(net.grounds.iter().map(|g| &g.0));
            for p in signs {
                let own = self.at(*p).into_iter().any(|at| self.is_of(at, &net.name));
                if !own {
                    let says = format!("a sign of net {} stands on nothing of it at {p}", net.name);
                    self.out.push(says);
                }
            }
        }
    }

    fn is_of(&self, at: usize, net: &str) -> bool {
        match at.checked_sub(self.wires.len()) {
            None => self.picture.nets[self.wires[at].net].name == net,
            Some(at) => self.terminals[at].net.as_deref() == Some(net),
        }
    }

    /// Open pins carry crosses, no other place does.
    fn crosses(&mut self) {
        let drawn = self.picture.pieces.iter().flat_map(|p| &p.crosses);
        let drawn: BTreeSet<Point> = drawn.copied().collect();
        let open = self.terminals.iter().filter(|t| t.net.is_none());
        let open: BTreeSet<Point> = open.map(|t| t.at).collect();
        for p in open.difference(&drawn) {
            self.out.push(format!("no cross at the open pin at {p}"));
        }
        for p in drawn.difference(&open) {
            self.out
                .push(format!("a cross where no pin is open at {p}"));
        }
    }
}

/// Every terminal that the files know; others are told elsewhere.
fn terminals(netlist: &Netlist, picture: &Picture) -> Vec<Terminal> {
    let mut out = Vec::new();
    for piece in &picture.pieces {
        for (name, at) in &piece.terminals {
            let mut pins = netlist.pins.iter();
            let pin = pins.find(|p| p.part == piece.part && p.name == *name);
            if let Some(pin) = pin {
                out.push(Terminal {
                    told: format!("{}.{name}", piece.part),
                    at: *at,
                    net: pin.net.clone(),
                });
            }
        }
    }
    for (name, at) in picture.connectors.iter().flat_map(|c| &c.terminals) {
        out.push(Terminal {
            told: format!("connector.{name}"),
            at: *at,
            net: Some(name.clone()),
        });
    }
    out
}
