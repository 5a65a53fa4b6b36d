//! What hangs from a net: chains of pieces that lead down to ground, each in a column of its own.

use std::collections::VecDeque;

use super::lane::Floor;
use super::{Guide, Placed, oriented_by};
use crate::draw::schematic::sheet::{Area, STEP, Side, Spot, Symbol};

/// From the rail to the first terminal of what hangs from it, in steps.
const LEAD: i32 = 2;
/// Most chains that hang each from the one before.
const DEEPEST: usize = 60;

/// Pieces one after the other: piece, pin where it is entered, pin where it is left.
pub(super) type Chain = Vec<(usize, usize, usize)>;

/// Where a chain leads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Foot {
    Ground,
    /// A net that hangs elsewhere already.
    Hung(usize),
    /// Another rail.
    Rail(usize),
    /// Nowhere.
    Open,
}

/// A chain in its places about the column that it hangs in.
struct Column {
    placed: Vec<Placed>,
    /// What it covers, leads included.
    areas: Vec<Area>,
    /// Nets between its pieces and where they are.
    nets: Vec<(usize, Spot)>,
    foot: Spot,
}

impl Floor<'_, '_> {
    /// The shortest chain that begins with a piece on a net, and where it leads.
    pub(super) fn chain(&self, from: usize, first: usize) -> Option<(Chain, Foot)> {
        let graph = self.graph;
        let mut came: Vec<Option<(usize, usize, usize, usize)>> =
            vec![None; graph.board.nets.len()];
        let mut queue = VecDeque::from([from]);
        let mut seen = vec![false; graph.board.nets.len()];
        seen[from] = true;
        let mut feet: [Option<usize>; 3] = [None; 3];
        while let Some(net) = queue.pop_front() {
            for (piece, pin) in graph.on(net) {
                let fresh = self.is_free(*piece) && !graph.is_rigid(*piece);
                if !fresh || (net == from && *piece != first) || (net != from && *piece == first) {
                    continue;
                }
                // Two contacts of one pole are not closed at once.
                if came[net].is_some_and(|c| c.0 == *piece) {
                    continue;
                }
                for link in graph.links(*piece).iter().filter(|l| l.from == *pin) {
                    let Some(next) = graph.net(*piece, link.to).filter(|n| !seen[*n]) else {
                        continue;
                    };
                    seen[next] = true;
                    came[next] = Some((*piece, link.from, link.to, net));
                    let rank = if graph.is_ground(next) {
                        0
                    } else if self.hung(next).is_some() {
                        1
                    } else if self.is_rail(next) {
                        2
                    } else {
                        queue.push_back(next);
                        continue;
                    };
                    feet[rank] = feet[rank].or(Some(next));
                }
            }
        }
        let [ground, hung, rail] = feet;
        let foot = match (ground, hung, rail) {
            (Some(_), _, _) => Foot::Ground,
            (_, Some(net), _) => Foot::Hung(net),
            (_, _, Some(net)) => Foot::Rail(net),
            _ => return self.dead_end(from, first),
        };
        let mut at = ground.or(hung).or(rail)?;
        let mut chain = Chain::new();
        while at != from {
            let (piece, a, b, before) = came[at]?;
            chain.push((piece, a, b));
            at = before;
        }
        chain.reverse();
        let mut once: Vec<usize> = chain.iter().map(|c| c.0).collect();
        once.sort_unstable();
        once.dedup();
        if once.len() < chain.len() {
            return self.dead_end(from, first);
        }
        Some((chain, foot))
    }

    fn dead_end(&self, from: usize, first: usize) -> Option<(Chain, Foot)> {
        let graph = self.graph;
        let links = graph.links(first).into_iter();
        let link = links
            .filter(|l| graph.net(first, l.from) == Some(from))
            .find(|l| graph.net(first, l.to) != Some(from))?;
        Some((vec![(first, link.from, link.to)], Foot::Open))
    }

    /// Hangs a chain into a column of its own, at the given one or right of all that hangs here; then
    /// all that hangs on the nets between its pieces.
    pub(super) fn hang(
        &mut self,
        lane: usize,
        chain: &Chain,
        level: i32,
        beyond: i32,
        column: Option<i32>,
    ) -> i32 {
        let made = self.column(chain, level);
        let frame = &self.frames[lane];
        let from = column.unwrap_or(frame.attach.max(beyond) + 1 + self.wish.air);
        let x = frame.first_free(&made.areas, from);
        for mut placed in made.placed {
            placed.at = placed.at.plus(x, 0);
            self.done[placed.piece] = true;
            self.frames[lane].put(placed);
        }
        let shift = f64::from(x) * STEP;
        let leads = made.areas.iter().map(|a| a.shifted(shift, 0.0));
        self.frames[lane].areas.extend(leads);
        let nets: Vec<(usize, Spot)> = made
            .nets
            .iter()
            .map(|(net, at)| (*net, at.plus(x, 0)))
            .collect();
        for (net, at) in &nets {
            self.hung[*net] = self.hung[*net].or(Some(*at));
        }
        for (net, at) in nets {
            self.hang_on(lane, net, at, None);
        }
        self.hang_on_controls(lane, chain);
        x
    }

    /// From a rail to the first terminal of what hangs from it, in steps.
    fn lead(&self) -> i32 {
        LEAD + self.wish.drop
    }

    /// How much lower a chain begins so that what hangs from the rail to its control pin has room.
    pub(super) fn lowered(&self, rail: usize, chain: &Chain) -> i32 {
        let Some((piece, a, b)) = chain.first().copied() else {
            return 0;
        };
        let symbol = self.hanging(piece, a, b);
        let row = |pin: usize| {
            symbol
                .terminals
                .iter()
                .find(|t| t.pin == pin)
                .map(|t| t.at.y)
        };
        let others = symbol.terminals.iter().filter(|t| t.pin != a && t.pin != b);
        let wanted = others.filter_map(|t| {
            let net = self.graph.net(piece, t.pin).filter(|n| self.is_loose(*n))?;
            Some(self.drop_of(rail, net)? - (self.lead() + t.at.y - row(a)?))
        });
        wanted.fold(0, i32::max)
    }

    /// What hangs on the control pins of a chain's pieces.
    fn hang_on_controls(&mut self, lane: usize, chain: &Chain) {
        for (piece, a, b) in chain {
            let Some(placed) = self.frames[lane].placed.iter().rfind(|p| p.piece == *piece) else {
                continue;
            };
            let others = placed
                .symbol
                .terminals
                .iter()
                .filter(|t| t.pin != *a && t.pin != *b);
            let spots: Vec<(usize, Spot, Side)> = others
                .map(|t| {
                    let at = placed.at.plus(t.at.x, t.at.y);
                    (t.pin, at.beside(t.side), t.side)
                })
                .collect();
            for (pin, at, side) in spots {
                if let Some(net) = self.graph.net(*piece, pin)
                    && side != Side::Left
                    && self.is_loose(net)
                {
                    self.hung[net] = Some(at);
                    self.hang_on(lane, net, at, None);
                }
            }
        }
    }

    /// Hangs what is on a net that is not a rail; the first chain straight under the given column.
    pub(super) fn hang_on(&mut self, lane: usize, net: usize, at: Spot, column: Option<i32>) {
        // What hangs deeper than anyone follows goes below.
        if DEEPEST <= self.depth {
            return;
        }
        self.depth += 1;
        let mut column = column;
        self.point_on(lane, net, at);
        for (piece, _) in self.graph.on(net).to_vec() {
            if !self.is_free(piece) || self.graph.is_rigid(piece) {
                continue;
            }
            let Some((chain, foot)) = self.chain(net, piece) else {
                continue;
            };
            match foot {
                Foot::Ground | Foot::Open | Foot::Hung(_) => {
                    let x = self.hang(lane, &chain, at.y, at.x, column.take());
                    self.guide(lane, net, at, Spot { x, y: at.y });
                }
                Foot::Rail(rail) => self.hang_up(lane, net, at, rail, &chain),
            }
        }
        self.depth -= 1;
    }

    /// Measurement points of a net that is not a rail stand beside where it hangs.
    fn point_on(&mut self, lane: usize, net: usize, at: Spot) {
        for (piece, _) in self.graph.on(net) {
            let symbol = &self.graph.pieces[*piece].symbol;
            if !self.is_free(*piece) || symbol.terminals.len() != 1 {
                continue;
            }
            let lines = &self.graph.pieces[*piece].lines;
            let mut placed = Placed::new(*piece, symbol.clone(), lines);
            placed.at = Spot { x: 0, y: at.y - 1 };
            let cell = placed.cell().moved(placed.at);
            let x = self.frames[lane].first_free(&[cell], at.x + 2);
            placed.at.x = x;
            self.frames[lane].put(placed);
            self.done[*piece] = true;
            self.guide(lane, net, at, Spot { x, y: at.y });
        }
    }

    /// Hangs a chain from the rail above down to a net.
    fn hang_up(&mut self, lane: usize, net: usize, at: Spot, rail: usize, chain: &Chain) {
        let frame = &self.frames[lane];
        if frame.net != Some(rail) {
            return;
        }
        let level = frame.level;
        let down: Chain = chain.iter().rev().map(|(p, a, b)| (*p, *b, *a)).collect();
        if at.y < self.column(&down, level).foot.y {
            return;
        }
        let x = self.hang(lane, &down, level, at.x, None);
        self.attach(lane, rail, x);
        self.guide(lane, net, at, Spot { x, y: at.y });
    }

    /// How deep the first net below a rail lies under it, where something hangs from the rail to it.
    pub(super) fn drop_of(&self, rail: usize, net: usize) -> Option<i32> {
        let mut all = self.graph.on(net).iter();
        let chain = all.find_map(|(piece, _)| {
            if !self.is_free(*piece) || self.graph.is_rigid(*piece) {
                return None;
            }
            // Straight, and not over ground, which every chain would prefer.
            let links = self.graph.links(*piece);
            let link = links.iter().find(|l| {
                self.graph.net(*piece, l.from) == Some(rail)
                    && self.graph.net(*piece, l.to) == Some(net)
            })?;
            Some(vec![(*piece, link.from, link.to)])
        })?;
        Some(self.column(&chain, 0).foot.y)
    }

    fn guide(&mut self, lane: usize, net: usize, from: Spot, to: Spot) {
        if from != to {
            self.frames[lane].guides.push(Guide { net, from, to });
            let (a, b) = (from.min(to).place(), from.max(to).place());
            self.frames[lane].areas.push(Area {
                left: a.x,
                top: a.y - 3.0,
                right: b.x,
                bottom: b.y + 3.0,
            });
        }
    }

    fn column(&self, chain: &Chain, level: i32) -> Column {
        let mut x = 0;
        let mut y = level + self.lead();
        let mut column = Column {
            placed: Vec::new(),
            areas: Vec::new(),
            nets: Vec::new(),
            foot: Spot { x: 0, y },
        };
        for (piece, a, b) in chain {
            let symbol = self.hanging(*piece, *a, *b);
            let mut placed = Placed::new(*piece, symbol, &self.graph.pieces[*piece].lines);
            let spot = |pin: usize| {
                let mut all = placed.symbol.terminals.iter();
                all.find(|t| t.pin == pin)
                    .map_or(Spot { x: 0, y: 0 }, |t| t.at)
            };
            let (enters, leaves) = (spot(*a), spot(*b));
            placed.at = Spot {
                x: x - enters.x,
                y: y - enters.y,
            };
            column.areas.push(placed.body());
            column.areas.extend(placed.text_areas());
            column.areas.push(lead(
                Spot {
                    x,
                    y: y - self.lead(),
                },
                Spot { x, y },
            ));
            let exit = placed.at.plus(leaves.x, leaves.y);
            column.foot = exit.plus(0, 1);
            if let Some(net) = self.graph.net(*piece, *b) {
                column.nets.push((net, column.foot));
            }
            x = exit.x;
            y = exit.y + 2 + self.wish.drop;
            column.placed.push(placed);
        }
        let grounded = chain.last().and_then(|(p, _, b)| self.graph.net(*p, *b));
        if grounded.is_some_and(|n| self.graph.is_ground(n)) {
            column
                .areas
                .push(crate::draw::schematic::route::sign_area(column.foot));
        }
        column.nets.retain(|(net, _)| self.is_loose(*net));
        column
    }

    /// A symbol turned so that the chain runs down through it, its control pin to where its net is.
    fn hanging(&self, piece: usize, a: usize, b: usize) -> Symbol {
        let graph = self.graph;
        let side_of_others = |pin: usize| {
            let net = graph.net(piece, pin);
            let known = net.is_some_and(|n| self.is_rail(n) || self.hung(n).is_some());
            if known { Side::Left } else { Side::Right }
        };
        let symbol = &graph.pieces[piece].symbol;
        oriented_by(symbol, graph.is_rigid(piece), |turned| {
            let terminals = turned.terminals.iter();
            let points = terminals.map(|t| match t.pin {
                pin if pin == a => 8 * i32::from(t.side == Side::Up),
                pin if pin == b => 4 * i32::from(t.side == Side::Down),
                pin => i32::from(t.side == side_of_others(pin)),
            });
            points.sum()
        })
    }
}

/// What a lead covers.
pub(super) fn lead(from: Spot, to: Spot) -> Area {
    Area {
        left: from.place().x,
        top: from.place().y + 4.0,
        right: to.place().x,
        bottom: to.place().y,
    }
    .with(Area {
        left: from.place().x - 3.0,
        top: to.place().y - 1.0,
        right: from.place().x + 3.0,
        bottom: to.place().y,
    })
}
