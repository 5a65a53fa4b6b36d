//! The rails of a board: from each source's plus through what lies in series to the connector, each
//! way a lane of its own that ends where it meets an earlier one.

use super::graph::{Graph, MOST};

/// A way along which current comes, drawn at one height.
#[derive(Debug, Clone)]
pub(super) struct Lane {
    /// Its nets, from left to right.
    pub(super) nets: Vec<usize>,
    /// What lies between one and the next: piece, pin at the left, pin at the right.
    pub(super) between: Vec<(usize, usize, usize)>,
    /// Where it begins.
    pub(super) begins: Begins,
    /// Where it ends.
    pub(super) ends: Ends,
}

/// Where a lane begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Begins {
    /// At a source.
    Source,
    /// On a net of another lane, with its first piece.
    Branch(usize),
}

/// Where a lane ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ends {
    /// At the connector, or nowhere.
    Open,
    /// On a net of an earlier lane.
    Net(usize),
    /// At a piece of an earlier lane.
    Piece(usize),
}

/// The lanes of a board: nets are on one at most, pieces too.
pub(super) fn lanes(graph: &Graph, targets: &[usize], below: &[usize]) -> Vec<Lane> {
    let mut search = Search {
        graph,
        below,
        lanes: Vec::new(),
    };
    let rail = targets.first().copied();
    let mut sources: Vec<usize> = (0..graph.pieces.len())
        .filter(|p| graph.is_source(*p) && !below.contains(p))
        .collect();
    // The longest way is the uppermost lane.
    sources.sort_by_key(|p| std::cmp::Reverse(search.length(*p, rail)));
    for piece in sources {
        search.source(piece, rail);
    }
    for target in targets {
        search.branch_to(*target);
    }
    search.blocks();
    search.lanes
}

struct Search<'g, 'a> {
    graph: &'g Graph<'a>,
    below: &'g [usize],
    lanes: Vec<Lane>,
}

/// How a net was reached: over which piece, from which net.
type Step = (usize, usize, usize, usize);

impl Search<'_, '_> {
    fn holds(&self, net: usize) -> bool {
        self.lanes.iter().any(|l| l.nets.contains(&net))
    }

    fn uses(&self, piece: usize) -> bool {
        let mut all = self.lanes.iter().flat_map(|l| &l.between);
        all.any(|(p, _, _)| *p == piece)
    }

    /// The net that a source feeds; its minus where its plus is on ground.
    fn feeds_from(&self, piece: usize) -> Option<usize> {
        let ends = [0, 1].map(|pin| self.graph.net(piece, pin));
        let mut nets = ends.into_iter().flatten();
        nets.find(|n| !self.graph.is_ground(*n))
    }

    /// How many pieces lie between a source and the rail.
    fn length(&self, piece: usize, rail: Option<usize>) -> usize {
        let start = self.feeds_from(piece);
        let way = start.and_then(|start| self.way(&[start], &|net| Some(net) == rail));
        way.map_or(0, |w| w.len())
    }

    /// The lane of a source, unless its plus is on a lane already or behind another source.
    fn source(&mut self, piece: usize, rail: Option<usize>) {
        let graph = self.graph;
        let Some(plus) = self.feeds_from(piece) else {
            return;
        };
        let behind = |p: usize, pin: usize| p != piece && graph.is_source(p) && pin == 1;
        if graph.is_ground(plus)
            || self.holds(plus)
            || graph.on(plus).iter().any(|(p, pin)| behind(*p, *pin))
        {
            return;
        }
        let lanes = !self.lanes.is_empty();
        let goal = |net: usize| Some(net) == rail || (lanes && self.holds(net));
        let way = self.way(&[plus], &goal);
        let mut lane = Lane {
            nets: vec![plus],
            between: Vec::new(),
            begins: Begins::Source,
            ends: Ends::Open,
        };
        for (piece, from, to, net) in way.unwrap_or_default() {
            if self.uses(piece) {
                lane.ends = Ends::Piece(piece);
                break;
            }
            if self.holds(net) {
                lane.ends = Ends::Net(net);
            } else {
                lane.nets.push(net);
            }
            lane.between.push((piece, from, to));
        }
        self.lanes.push(lane);
    }

    /// A lane to a pin of the connector that no lane holds, from the nearest net of one.
    fn branch_to(&mut self, target: usize) {
        if self.holds(target) || self.graph.is_ground(target) {
            return;
        }
        if self.lanes.is_empty() {
            self.lanes.push(Lane {
                nets: vec![target],
                between: Vec::new(),
                begins: Begins::Source,
                ends: Ends::Open,
            });
            return;
        }
        let starts: Vec<usize> = self.lanes.iter().flat_map(|l| l.nets.clone()).collect();
        let Some(way) = self.way(&starts, &|net| net == target) else {
            return;
        };
        // A way over resistors is a divider or a pull, not a rail.
        if way.iter().any(|(p, ..)| self.uses(*p)) || way.is_empty() || 30 <= self.cost(&way) {
            return;
        }
        self.push_branch(&way);
    }

    fn cost(&self, way: &[Step]) -> u32 {
        let of = |(piece, from, to, _): &Step| {
            let links = self.graph.links(*piece).into_iter();
            let cost = links.filter(|l| (l.from, l.to) == (*from, *to));
            cost.filter_map(|l| l.cost).min().unwrap_or(MOST)
        };
        way.iter().map(of).sum()
    }

    fn push_branch(&mut self, way: &[Step]) {
        let Some((piece, from, ..)) = way.first() else {
            return;
        };
        let Some(start) = self.graph.net(*piece, *from) else {
            return;
        };
        self.lanes.push(Lane {
            nets: way.iter().map(|s| s.3).collect(),
            between: way.iter().map(|(p, a, b, _)| (*p, *a, *b)).collect(),
            begins: Begins::Branch(start),
            ends: Ends::Open,
        });
    }

    /// Lanes for blocks that no lane holds yet: converters beside the way to the connector.
    fn blocks(&mut self) {
        let graph = self.graph;
        loop {
            let found = (0..graph.pieces.len()).find_map(|piece| {
                if !graph.is_block(piece) || self.uses(piece) || self.below.contains(&piece) {
                    return None;
                }
                let (a, b) = (graph.named(piece, "in")?, graph.named(piece, "out")?);
                let (from, to) = (graph.net(piece, a)?, graph.net(piece, b)?);
                let free = self.holds(from) && !graph.is_ground(to);
                let new = !self.holds(to);
                (free && (new || self.follows(from, to))).then_some((piece, a, b, to))
            });
            match found {
                Some(step) if self.holds(step.3) => {
                    let (piece, a, b, to) = step;
                    self.lanes.push(Lane {
                        nets: Vec::new(),
                        between: vec![(piece, a, b)],
                        begins: Begins::Branch(graph.net(piece, a).unwrap_or(to)),
                        ends: Ends::Net(to),
                    });
                }
                Some(step) => self.push_branch(&[step]),
                None => return,
            }
        }
    }

    /// Whether a net comes after another on the same lane.
    fn follows(&self, first: usize, second: usize) -> bool {
        self.lanes.iter().any(|l| {
            let place = |net: usize| l.nets.iter().position(|n| *n == net);
            matches!((place(first), place(second)), (Some(a), Some(b)) if a < b)
        })
    }

    /// The cheapest way from one of some nets to a goal: pieces, their pins and the nets reached.
    fn way(&self, starts: &[usize], goal: &dyn Fn(usize) -> bool) -> Option<Vec<Step>> {
        let graph = self.graph;
        let mut costs: Vec<Option<u32>> = vec![None; graph.board.nets.len()];
        let mut came: Vec<Option<Step>> = vec![None; graph.board.nets.len()];
        let mut done = vec![false; graph.board.nets.len()];
        for start in starts {
            *costs.get_mut(*start)? = Some(0);
        }
        loop {
            let open = (0..costs.len()).filter(|n| !done[*n]);
            let net = open
                .filter_map(|n| costs[n].map(|c| (c, n)))
                .min()
                .filter(|(c, _)| *c <= MOST)?
                .1;
            if goal(net) {
                return Some(unwound(&came, net)).filter(|way| is_simple(way));
            }
            done[net] = true;
            for (piece, pin) in graph.on(net) {
                // Two contacts of one pole are not closed at once.
                let again = came[net].is_some_and(|c| c.0 == *piece);
                if self.below.contains(piece) || again {
                    continue;
                }
                for link in graph.links(*piece).iter().filter(|l| l.from == *pin) {
                    let (Some(cost), Some(next)) = (link.cost, graph.net(*piece, link.to)) else {
                        continue;
                    };
                    let sum = costs[net].unwrap_or(0) + cost;
                    if graph.is_ground(next) || costs[next].is_some_and(|c| c <= sum) {
                        continue;
                    }
                    costs[next] = Some(sum);
                    came[next] = Some((*piece, link.from, link.to, net));
                }
            }
        }
    }
}

/// The steps to a net, from the first on.
fn unwound(came: &[Option<Step>], net: usize) -> Vec<Step> {
    let mut way = Vec::new();
    let mut at = net;
    while let Some((piece, from, to, before)) = came[at] {
        way.push((piece, from, to, at));
        at = before;
    }
    way.reverse();
    way
}

/// Whether a way goes through each piece once at most.
fn is_simple(way: &[Step]) -> bool {
    let mut pieces: Vec<usize> = way.iter().map(|s| s.0).collect();
    pieces.sort_unstable();
    pieces.windows(2).all(|p| p[0] != p[1])
}
