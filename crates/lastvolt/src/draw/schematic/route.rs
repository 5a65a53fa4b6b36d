//! Wires: rails first, then each net as a tree on the grid; where a way is too long, crosses too much or
//! does not exist, both sides get a stub with the name of the net.

mod grid;
mod stub;

use crate::draw::schematic::place::graph::Graph;
use crate::draw::schematic::place::{Placed, Plan};
use crate::draw::schematic::sheet::{Area, Spot, Terminal, Text};
use grid::{Grid, Owner, WAYS};
pub(crate) use stub::sign_area;

/// Dearest way that is still drawn, and the most wires that it crosses.
const MOST_COST: u32 = 260;
const MOST_CROSSED: u32 = 2;
/// Steps around everything that wires may take.
const MARGIN: i32 = 6;

/// The wires of one net.
#[derive(Debug, Clone, Default)]
pub(crate) struct Wiring {
    pub(crate) net: usize,
    /// Parts of the net that no wire joins.
    pub(crate) groups: Vec<Group>,
}

/// Wires that hang together.
#[derive(Debug, Clone, Default)]
pub(crate) struct Group {
    /// Straight pieces one after the other, from end, junction or terminal to the next.
    pub(crate) wires: Vec<Vec<Spot>>,
    pub(crate) junctions: Vec<Spot>,
    /// Where a sign of ground stands.
    pub(crate) ground: Option<Spot>,
    /// The name at its stub, and where the stub ends.
    pub(crate) name: Option<(Text, Spot)>,
}

/// All wires, and what could not be drawn.
#[derive(Debug, Clone, Default)]
pub(crate) struct Wires {
    pub(crate) nets: Vec<Wiring>,
    /// Pieces of which a pin found neither wire nor stub.
    pub(crate) failed: Vec<usize>,
    /// What no text may stand on besides wires: bodies and their texts, the connector, signs, crosses,
    /// names at stubs.
    pub(crate) taken: Vec<Area>,
    /// Spots of pins that are open.
    pub(crate) open: Vec<Spot>,
}

/// An end of a net: its terminal, and the placed piece that it belongs to; none for the connector.
#[derive(Debug, Clone, Copy)]
struct End {
    terminal: Terminal,
    placed: Option<usize>,
    stubbed: bool,
}

struct Router<'p, 'g, 'a> {
    graph: &'g Graph<'a>,
    plan: &'p Plan,
    grid: Grid,
    /// Bodies, texts, signs, names: nothing else may stand there.
    areas: Vec<Area>,
    out: Wires,
    ends: Vec<Vec<End>>,
}

/// Draws the wires of a plan.
pub(crate) fn route(graph: &Graph, plan: &Plan) -> Wires {
    let mut router = Router::new(graph, plan);
    router.feet();
    router.stubs();
    let nets = router.order();
    for guide in &plan.guides {
        router.grid.take_straight(guide.net, guide.from, guide.to);
    }
    for net in nets {
        router.net(net);
    }
    router.out.nets.sort_by_key(|w| w.net);
    router.out.taken.splice(0..0, router.areas);
    router.out
}

impl<'p, 'g, 'a> Router<'p, 'g, 'a> {
    fn new(graph: &'g Graph<'a>, plan: &'p Plan) -> Self {
        let (from, to) = bounds(plan);
        let mut router = Self {
            graph,
            plan,
            grid: Grid::new(from.plus(-MARGIN, -MARGIN), to.plus(MARGIN, MARGIN)),
            areas: Vec::new(),
            out: Wires::default(),
            ends: vec![Vec::new(); graph.board.nets.len()],
        };
        for placed in &plan.placed {
            router.areas.push(placed.body());
            router.areas.extend(placed.text_areas());
        }
        if let Some(interface) = &plan.interface {
            router.areas.push(interface.area);
        }
        for area in router.areas.clone() {
            router.grid.block(area);
        }
        for kept in &plan.kept {
            router.grid.block(*kept);
        }
        router.reserve();
        router
    }

    /// The way out of each terminal belongs to its net.
    fn reserve(&mut self) {
        let plan = self.plan;
        for (at, placed) in plan.placed.iter().enumerate() {
            for of in &placed.symbol.terminals {
                let Some(terminal) = placed.terminal(of.pin) else {
                    continue;
                };
                let stubbed = plan.stubs.contains(&(at, of.pin));
                match self.graph.net(placed.piece, of.pin) {
                    Some(net) => self.end(net, terminal, Some(at), stubbed),
                    None => {
                        self.grid.own_spot(terminal.at, Owner::Blocked);
                        self.out.open.push(terminal.at);
                    }
                }
            }
        }
        for (_, net, at) in plan.interface.iter().flat_map(|i| &i.pins) {
            let terminal = Terminal {
                pin: 0,
                at: *at,
                side: crate::draw::schematic::sheet::Side::Left,
            };
            match net {
                Some(net) => self.end(*net, terminal, None, false),
                None => {
                    self.grid.own_spot(*at, Owner::Blocked);
                    self.out.open.push(*at);
                }
            }
        }
        let open = self.out.open.clone();
        self.areas.extend(open.iter().map(|s| stub::cross_area(*s)));
    }

    fn end(&mut self, net: usize, terminal: Terminal, placed: Option<usize>, stubbed: bool) {
        self.grid.own_spot(terminal.at, Owner::Net(net));
        let way = way_to(terminal);
        self.grid.own_line(terminal.at, way, Owner::Net(net));
        if let Some(list) = self.ends.get_mut(net) {
            list.push(End {
                terminal,
                placed,
                stubbed,
            });
        }
    }

    /// Nets in the order in which they are drawn: the short ones first.
    fn order(&self) -> Vec<usize> {
        let reach = |net: &usize| {
            let at = |f: fn(Spot) -> i32| {
                let all = self.ends[*net].iter().map(|e| f(e.terminal.at));
                all.clone().max().unwrap_or(0) - all.min().unwrap_or(0)
            };
            (at(|s| s.x) + at(|s| s.y), *net)
        };
        let mut nets: Vec<usize> = (0..self.ends.len())
            .filter(|n| self.graph.ground != Some(*n))
            .collect();
        nets.sort_by_key(reach);
        nets
    }

    /// Joins the ends of a net, as far as that is worth it.
    fn net(&mut self, net: usize) {
        let ends: Vec<End> = self.ends[net]
            .iter()
            .filter(|e| !e.stubbed)
            .copied()
            .collect();
        let mut roots: Vec<Vec<Spot>> = Vec::new();
        let mut left: Vec<Spot> = ends.iter().map(|e| e.terminal.at).collect();
        while let Some(first) = left.first().copied() {
            let mut tree = self.grid.flood(net, &[first]);
            loop {
                left.retain(|s| tree.binary_search(s).is_err());
                if left.is_empty() {
                    break;
                }
                let goals = self.grid.flood(net, &left);
                let way = self.grid.way(net, &tree, &goals, MOST_COST);
                match way.filter(|w| w.crossed <= MOST_CROSSED && w.cost <= MOST_COST) {
                    Some(way) => self.grid.take(net, &way.spots),
                    None => break,
                }
                tree = self.grid.flood(net, &[first]);
            }
            roots.push(tree);
        }
        self.trim(net, &ends);
        let alone =
            roots.len() == 1 && self.ends[net].len() > 1 && ends.len() == self.ends[net].len();
        for root in roots {
            let inside: Vec<End> = ends
                .iter()
                .filter(|e| root.binary_search(&e.terminal.at).is_ok())
                .copied()
                .collect();
            let group = self.group(net, &inside);
            self.push(net, group, &inside, alone);
        }
    }

    /// A group of a net that needs a name where it is one of several.
    fn push(&mut self, net: usize, mut group: Group, ends: &[End], alone: bool) {
        if let ([end], false) = (ends, alone) {
            match self.named(net, end.terminal, &mut group) {
                true => {}
                false => self.fail(end.placed),
            }
        }
        self.wiring(net).groups.push(group);
    }

    fn fail(&mut self, placed: Option<usize>) {
        if let Some(at) = placed {
            self.out.failed.push(self.plan.placed[at].piece);
        }
    }

    fn wiring(&mut self, net: usize) -> &mut Wiring {
        let at = match self.out.nets.iter().position(|w| w.net == net) {
            Some(at) => at,
            None => {
                self.out.nets.push(Wiring {
                    net,
                    groups: Vec::new(),
                });
                self.out.nets.len() - 1
            }
        };
        &mut self.out.nets[at]
    }

    /// Gives back lines that end nowhere.
    fn trim(&mut self, net: usize, ends: &[End]) {
        let guides = self.plan.guides.iter().filter(|g| g.net == net);
        let mut starts: Vec<Spot> = guides.flat_map(|g| [g.from, g.to]).collect();
        starts.extend(ends.iter().map(|e| e.terminal.at));
        let kept = |s: Spot| ends.iter().any(|e| e.terminal.at == s);
        for mut spot in self.grid.flood(net, &starts) {
            while !kept(spot) && !self.is_stub_end(net, spot) {
                let own = self.grid.own(spot, net);
                if own.iter().filter(|o| **o).count() != 1 {
                    break;
                }
                let Some(at) = own.iter().position(|o| *o) else {
                    break;
                };
                self.grid.own_line(spot, WAYS[at], Owner::Nobody);
                spot = spot.plus(WAYS[at].0, WAYS[at].1);
            }
        }
    }

    /// Whether a line at a spot is the way out of a terminal, which stays.
    fn is_stub_end(&self, net: usize, spot: Spot) -> bool {
        self.ends[net]
            .iter()
            .any(|e| e.terminal.at.beside(e.terminal.side) == spot)
    }

    /// The wires that hang together with some ends.
    fn group(&mut self, net: usize, ends: &[End]) -> Group {
        let Some(first) = ends.first() else {
            return Group::default();
        };
        let spots = self.grid.flood(net, &[first.terminal.at]);
        let count = |s: Spot| self.grid.own(s, net).iter().filter(|o| **o).count();
        let stops = |s: Spot| count(s) != 2;
        let mut group = Group {
            junctions: spots.iter().copied().filter(|s| count(*s) > 2).collect(),
            ..Group::default()
        };
        for spot in spots.iter().copied().filter(|s| stops(*s)) {
            for (at, way) in WAYS.iter().enumerate() {
                if !self.grid.own(spot, net)[at] {
                    continue;
                }
                let wire = self.follow(net, spot, *way, &stops);
                // Each wire is found from both of its ends.
                if wire.first() <= wire.last() {
                    group.wires.push(wire);
                }
            }
        }
        group.wires.sort();
        group.wires.dedup();
        group
    }

    /// A wire from a spot to the next that is an end or a junction: its corners.
    fn follow(
        &self,
        net: usize,
        from: Spot,
        way: (i32, i32),
        stops: &dyn Fn(Spot) -> bool,
    ) -> Vec<Spot> {
        let mut wire = vec![from];
        let (mut spot, mut way) = (from, way);
        loop {
            spot = spot.plus(way.0, way.1);
            if stops(spot) || spot == from {
                wire.push(spot);
                return wire;
            }
            let own = self.grid.own(spot, net);
            let next = WAYS
                .iter()
                .zip(own)
                .find(|(w, own)| *own && (w.0 + way.0, w.1 + way.1) != (0, 0));
            let Some((next, _)) = next else {
                wire.push(spot);
                return wire;
            };
            if *next != way {
                wire.push(spot);
                way = *next;
            }
        }
    }
}

fn way_to(terminal: Terminal) -> (i32, i32) {
    let next = terminal.at.beside(terminal.side);
    (next.x - terminal.at.x, next.y - terminal.at.y)
}

/// The spots around everything that is placed.
fn bounds(plan: &Plan) -> (Spot, Spot) {
    let mut area: Option<Area> = plan.interface.as_ref().map(|i| i.area);
    for placed in &plan.placed {
        let cell = placed.cell().moved(placed.at);
        area = Some(area.map_or(cell, |a| a.with(cell)));
    }
    let area = area.unwrap_or(Area {
        left: 0.0,
        top: 0.0,
        right: 0.0,
        bottom: 0.0,
    });
    let low = |v: f64| (v / crate::draw::schematic::sheet::STEP).floor() as i32;
    let high = |v: f64| (v / crate::draw::schematic::sheet::STEP).ceil() as i32;
    (
        Spot {
            x: low(area.left),
            y: low(area.top),
        },
        Spot {
            x: high(area.right),
            y: high(area.bottom),
        },
    )
}

/// Whether a piece stands clear of all others.
pub(crate) fn collisions(plan: &Plan) -> Vec<usize> {
    let boxes = |p: &Placed| {
        let mut all = vec![p.body()];
        all.extend(p.text_areas());
        all
    };
    let all: Vec<Vec<Area>> = plan.placed.iter().map(boxes).collect();
    let mut out = Vec::new();
    for (at, own) in all.iter().enumerate() {
        let others = all.iter().take(at).flatten();
        let frame = plan.interface.iter().map(|i| &i.area);
        if others.chain(frame).any(|o| own.iter().any(|a| a.meets(*o))) {
            out.push(plan.placed[at].piece);
        }
    }
    out
}
