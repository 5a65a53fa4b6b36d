//! Lanes from left to right: series pieces in the rail, what hangs from each net under it, converters
//! with what belongs to them; then the lanes below each other.

use super::graph::Graph;
use super::hang::{Chain, Foot};
use super::spine::{self, Begins, Ends, Lane};
use super::{Guide, Interface, Placed, Plan, Wish, steps};
use crate::draw::schematic::sheet::{Area, STEP, Spot};

/// Distance of what hangs side by side, in pixels.
const APART: f64 = 8.0;
/// Widest piece with its texts, in steps.
const FARTHEST: i32 = 60;

/// A lane under way, at the height of its own first rail.
#[derive(Debug, Clone, Default)]
pub(super) struct Frame {
    pub(super) placed: Vec<Placed>,
    pub(super) guides: Vec<Guide>,
    /// What pieces, their texts and their leads cover.
    pub(super) areas: Vec<Area>,
    /// Room that wires leave to names.
    pub(super) kept: Vec<Area>,
    /// Where the last wire met the rail.
    pub(super) attach: i32,
    /// Where the rail of the current net begins.
    pub(super) begin: i32,
    /// Where the room for the name of the current net ends.
    pub(super) named: i32,
    /// Height of the rail of the current net.
    pub(super) level: i32,
    /// The current net.
    pub(super) net: Option<usize>,
    /// How far the lane is moved down in the end.
    pub(super) down: i32,
    laid: bool,
}

/// A wire down or up from a net of one lane to another lane.
#[derive(Debug, Clone, Copy)]
pub(super) struct Drop {
    pub(super) net: usize,
    pub(super) x: i32,
    pub(super) other: usize,
    /// Whether the other lane comes to the net, or begins there.
    pub(super) feeds: bool,
}

/// The place where everything is put.
pub(super) struct Floor<'g, 'a> {
    pub(super) graph: &'g Graph<'a>,
    pub(super) pins: &'g [String],
    pub(super) wish: &'g Wish,
    pub(super) lanes: Vec<Lane>,
    pub(super) frames: Vec<Frame>,
    /// Inductors that stand above their converters.
    pub(super) coils: Vec<usize>,
    /// Which pieces have a place.
    pub(super) done: Vec<bool>,
    /// Where nets that are no rails hang.
    pub(super) hung: Vec<Option<Spot>>,
    /// Lane and height of each rail, and where it begins and ends.
    pub(super) rails: Vec<Option<(usize, i32, i32, i32)>>,
    pub(super) drops: Vec<Drop>,
    /// How many chains hang from each other where one is being hung.
    pub(super) depth: usize,
    pub(super) interface: Option<Interface>,
    pub(super) plan: Plan,
}

impl<'g, 'a> Floor<'g, 'a> {
    pub(super) fn new(graph: &'g Graph<'a>, pins: &'g [String], wish: &'g Wish) -> Self {
        let nets = graph.board.nets.len();
        let mut done = vec![false; graph.pieces.len()];
        for piece in &wish.below {
            done[*piece] = true;
        }
        Self {
            graph,
            pins,
            wish,
            lanes: Vec::new(),
            frames: Vec::new(),
            coils: Vec::new(),
            done,
            hung: vec![None; nets],
            rails: vec![None; nets],
            drops: Vec::new(),
            depth: 0,
            interface: None,
            plan: Plan::default(),
        }
    }

    /// Whether a piece has no place yet and is not in a rail.
    pub(super) fn is_free(&self, piece: usize) -> bool {
        let mut between = self.lanes.iter().flat_map(|l| &l.between);
        !self.done[piece] && !self.coils.contains(&piece) && !between.any(|(p, _, _)| *p == piece)
    }

    pub(super) fn is_rail(&self, net: usize) -> bool {
        self.lanes.iter().any(|l| l.nets.contains(&net))
    }

    pub(super) fn hung(&self, net: usize) -> Option<Spot> {
        self.hung.get(net).copied().flatten()
    }

    /// Whether a net is neither a rail nor ground nor placed.
    pub(super) fn is_loose(&self, net: usize) -> bool {
        !self.graph.is_ground(net) && !self.is_rail(net) && self.hung(net).is_none()
    }

    /// Nets of the connector, the main rail first.
    pub(super) fn targets(&self) -> Vec<usize> {
        let nets = &self.graph.board.nets;
        let found = self
            .pins
            .iter()
            .filter_map(|pin| nets.iter().position(|n| n == pin));
        found.filter(|n| !self.graph.is_ground(*n)).collect()
    }

    /// Lays all lanes.
    pub(super) fn lay(&mut self) {
        self.lanes = spine::lanes(self.graph, &self.targets(), &self.wish.below);
        self.frames = vec![Frame::default(); self.lanes.len()];
        let between = self.lanes.iter().flat_map(|l| &l.between);
        let coils = between
            .filter_map(|(p, ..)| self.coil_of(*p))
            .map(|(coil, _)| coil);
        self.coils = coils.collect();
        for lane in 0..self.lanes.len() {
            self.lay_lane(lane);
        }
        self.stack_lanes();
        self.bridges();
        self.connect();
        self.leftovers();
    }

    /// Lays nothing by rule.
    pub(super) fn lay_nothing(&mut self) {
        self.connect();
        self.leftovers();
    }

    fn lay_lane(&mut self, at: usize) {
        if self.frames[at].laid {
            return;
        }
        self.frames[at].laid = true;
        let lane = self.lanes[at].clone();
        let mut between = lane.between.iter();
        if let Begins::Branch(net) = lane.begins {
            let drops = self.drops.iter();
            let x = drops
                .filter(|d| d.other == at && !d.feeds)
                .map(|d| d.x)
                .max();
            let x = x.unwrap_or_else(|| self.rails[net].map_or(0, |r| r.2));
            let frame = &mut self.frames[at];
            (frame.attach, frame.begin) = (x, x);
            frame.net = Some(net);
            if let Some(step) = between.next() {
                self.lay_piece(at, *step);
            }
        }
        for (place, net) in lane.nets.iter().enumerate() {
            let next = between.next().copied();
            self.lay_net(at, *net, place == 0, next);
            if let Some(step) = next {
                self.lay_feeders(at, Ends::Piece(step.0));
                self.lay_piece(at, step);
            }
        }
    }

    /// Lays the lanes that end at a place of this one, and gives the step after the last of them.
    fn lay_feeders(&mut self, at: usize, ends: Ends) -> Vec<usize> {
        let feeders: Vec<usize> = (0..self.lanes.len())
            .filter(|l| *l != at && self.lanes[*l].ends == ends)
            .collect();
        for lane in &feeders {
            self.lay_lane(*lane);
        }
        if matches!(ends, Ends::Piece(_)) {
            let reach = feeders.iter().map(|l| self.frames[*l].end()).max();
            let frame = &mut self.frames[at];
            frame.attach = frame.attach.max(reach.unwrap_or(0));
        }
        feeders
    }

    /// A net of a lane with all that hangs from it.
    fn lay_net(&mut self, at: usize, net: usize, first: bool, next: Option<(usize, usize, usize)>) {
        let before = self.lanes[at].between.iter();
        let previous = before
            .clone()
            .find(|(p, _, b)| self.graph.net(*p, *b) == Some(net));
        let previous = previous.map(|(p, _, _)| *p);
        let frame = &mut self.frames[at];
        frame.net = Some(net);
        self.rails[net] = Some((at, frame.level, frame.begin, frame.begin));
        let room = self.wish.label.get(net).copied().unwrap_or(0);
        let name = Area {
            left: 2.0,
            top: f64::from(frame.level) * STEP - 3.0 * STEP,
            right: f64::from(room) * STEP,
            bottom: f64::from(frame.level) * STEP - 14.0,
        };
        let x = frame.first_free(&[name], frame.begin);
        frame.named = x + room;
        frame.areas.push(name.shifted(f64::from(x) * STEP, 0.0));
        for feeder in self.lay_feeders(at, Ends::Net(net)) {
            let reach = self.frames[feeder].end();
            let frame = &mut self.frames[at];
            let x = (frame.end().max(reach) + 1).max(frame.attach + 1);
            self.drops.push(Drop {
                net,
                x,
                other: feeder,
                feeds: true,
            });
            self.attach(at, net, x);
        }
        self.hang_from_rail(at, net, first, previous, next.map(|n| n.0));
        self.test_points(at, net);
        for branch in 0..self.lanes.len() {
            if self.lanes[branch].begins == Begins::Branch(net) {
                let frame = &mut self.frames[at];
                let x = frame.end().max(frame.attach) + 1;
                self.drops.push(Drop {
                    net,
                    x,
                    other: branch,
                    feeds: false,
                });
                self.attach(at, net, x);
            }
        }
        if let Some((piece, pin, _)) = next {
            self.hang_left_of(at, piece, pin);
        }
    }

    /// What hangs from a rail, in order: sources, what belongs to the converter before, all else, what
    /// controls the piece that comes next.
    fn hang_from_rail(
        &mut self,
        at: usize,
        net: usize,
        first: bool,
        previous: Option<usize>,
        next: Option<usize>,
    ) {
        let taps = |piece: Option<usize>| -> Vec<usize> {
            let pins = piece.map_or_else(Vec::new, |p| self.graph.pins(p));
            pins.into_iter().filter_map(|(_, n)| n).collect()
        };
        let (behind, ahead) = (taps(previous), taps(next));
        let mut chains: Vec<(u8, Chain)> = Vec::new();
        for (piece, _) in self.graph.on(net) {
            if !self.is_free(*piece) || self.graph.is_rigid(*piece) {
                continue;
            }
            let Some((chain, foot)) = self.chain(net, *piece) else {
                continue;
            };
            let inner = |nets: &[usize]| {
                let mut ends = chain.iter().filter_map(|(p, _, b)| self.graph.net(*p, *b));
                ends.any(|n| !self.graph.is_ground(n) && n != net && nets.contains(&n))
            };
            let rank = match foot {
                Foot::Rail(_) => continue,
                _ if first && self.graph.is_source(*piece) => 0,
                _ if inner(&behind) => 1,
                _ if inner(&ahead) => 3,
                _ => 2,
            };
            chains.push((rank, chain));
        }
        chains.sort_by_key(|c| c.0);
        for rank in 0..4 {
            if rank == 3 {
                self.hang_boxes(at, net, next);
            }
            let of: Vec<usize> = chains
                .iter()
                .filter(|c| c.0 == rank)
                .filter_map(|c| c.1.first().map(|f| f.0))
                .collect();
            for piece in of {
                self.hang_from(at, net, piece);
            }
        }
    }

    /// Hangs the chain that begins with a piece, if it has no place yet.
    fn hang_from(&mut self, at: usize, net: usize, piece: usize) {
        if !self.is_free(piece) {
            return;
        }
        let Some((chain, foot)) = self.chain(net, piece) else {
            return;
        };
        if !matches!(foot, Foot::Rail(_)) {
            let level = self.frames[at].level + self.lowered(net, &chain);
            let x = self.hang(at, &chain, level, 0, None);
            self.attach(at, net, x);
        }
    }

    /// Notes that a wire meets a rail.
    pub(super) fn attach(&mut self, at: usize, net: usize, x: i32) {
        let frame = &mut self.frames[at];
        frame.attach = frame.attach.max(x);
        let rail = self.rails.get_mut(net).and_then(Option::as_mut);
        if let Some(rail) = rail.filter(|r| r.0 == at) {
            rail.2 = rail.2.min(x);
            rail.3 = rail.3.max(x);
        }
    }

    /// Measurement points of a rail stand on it.
    fn test_points(&mut self, at: usize, net: usize) {
        for (piece, pin) in self.graph.on(net) {
            let alone = self.graph.pieces[*piece].symbol.terminals.len() == 1;
            if self.done[*piece] || !alone {
                continue;
            }
            let symbol = self.graph.pieces[*piece].symbol.clone();
            let mut placed = Placed::new(*piece, symbol, &self.graph.pieces[*piece].lines);
            let frame = &self.frames[at];
            let under = placed.symbol.terminals.iter().find(|t| t.pin == *pin);
            let y = frame.level - 2 - under.map_or(0, |t| t.at.y);
            placed.at = Spot { x: 0, y };
            let x = frame.first_free(&[placed.cell().moved(placed.at)], frame.attach + 1);
            placed.at.x = x;
            self.frames[at].put(placed);
            self.done[*piece] = true;
            self.attach(at, net, x);
        }
    }
}

impl Frame {
    /// The first step right of everything.
    pub(super) fn end(&self) -> i32 {
        let right = self.areas.iter().map(|a| steps(a.right) + 1).max();
        right.unwrap_or(0).max(self.attach + 1)
    }

    /// The first column, from one on, in which areas about it meet nothing.
    pub(super) fn first_free(&self, areas: &[Area], from: i32) -> i32 {
        let meets = |x: i32| {
            let shift = f64::from(x) * STEP;
            let mut own = areas.iter().map(|a| a.shifted(shift, 0.0).grown(APART));
            own.any(|a| self.areas.iter().any(|t| t.meets(a)))
        };
        let last = self.end().max(from) + FARTHEST;
        (from..last).find(|x| !meets(*x)).unwrap_or(last)
    }

    /// Puts a piece into its place.
    pub(super) fn put(&mut self, placed: Placed) {
        self.areas.push(placed.body());
        self.areas.extend(placed.text_areas());
        self.placed.push(placed);
    }
}
