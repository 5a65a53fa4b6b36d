//! Lanes below each other, the connector at their right, what bridges two rails above them, and rows
//! of stubs for what found no place.

use super::graph::LETTERS;
use super::hang::Foot;
use super::lane::Floor;
use super::spine::Ends;
use super::{Guide, Interface, Placed, Plan, oriented_by, steps};
use crate::draw::lettering::{Letters, width};
use crate::draw::schematic::names;
use crate::draw::schematic::sheet::{Area, STEP, Side, Spot, TextRole};

/// From the outermost pins of the connector to its frame, in pixels.
const FRAME: f64 = 14.0;
/// Right of everything, in steps.
const FAR: i32 = 10_000;
/// Room for a name above a rail, in pixels.
const NAME: f64 = 28.0;
/// Widest row of what found no place, in steps.
const WIDEST: i32 = 100;

impl Floor<'_, '_> {
    /// Moves each lane down until it meets none of those before it.
    pub(super) fn stack_lanes(&mut self) {
        let mut taken: Vec<Area> = Vec::new();
        for at in 0..self.frames.len() {
            let own = self.taken_by(at);
            let mut down = 0;
            for area in &own {
                for above in &taken {
                    if area.left < above.right + STEP && above.left < area.right + STEP {
                        down = down.max(steps(above.bottom + 1.5 * STEP - area.top));
                    }
                }
            }
            let frame = &mut self.frames[at];
            frame.down = down;
            for placed in &mut frame.placed {
                placed.at = placed.at.plus(0, down);
            }
            for kept in &mut frame.kept {
                *kept = kept.shifted(0.0, f64::from(frame.down) * STEP);
            }
            for guide in &mut frame.guides {
                guide.from = guide.from.plus(0, down);
                guide.to = guide.to.plus(0, down);
            }
            for (lane, level, ..) in self.rails.iter_mut().flatten() {
                if *lane == at {
                    *level += down;
                }
            }
            frame.level += down;
            let moved = own.iter().map(|a| a.shifted(0.0, f64::from(down) * STEP));
            taken.extend(moved);
        }
    }

    /// What a lane covers: cells with their feet, rails.
    fn taken_by(&self, at: usize) -> Vec<Area> {
        let frame = &self.frames[at];
        let mut own: Vec<Area> = Vec::new();
        for placed in &frame.placed {
            let mut cell = placed.cell().moved(placed.at);
            if placed.symbol.terminals.iter().any(|t| t.side == Side::Down) {
                cell.bottom = cell.bottom.max(placed.body().bottom + 2.5 * STEP);
            }
            own.push(cell);
        }
        for (lane, level, from, to) in self.rails.iter().flatten() {
            if *lane == at {
                own.push(strip(*level, *from, (*to).max(frame.begin)));
            }
        }
        // A rail to the connector runs on to the right.
        let lane = &self.lanes[at];
        let to_edge =
            lane.ends == Ends::Open && lane.nets.last().is_some_and(|n| self.targets().contains(n));
        let end = if to_edge { FAR } else { frame.end() };
        own.push(strip(frame.level, frame.begin, end));
        own
    }

    /// The connector at the right edge, its pins at the heights of their rails, then ground, then
    /// the others.
    pub(super) fn connect(&mut self) {
        if self.pins.is_empty() {
            return;
        }
        let nets = &self.graph.board.nets;
        let mut rows: Vec<(i32, usize)> = Vec::new();
        for (place, name) in self.pins.iter().enumerate() {
            let net = nets.iter().position(|n| n == name);
            let level = net.and_then(|n| self.open_end(n));
            let ground = net.is_some_and(|n| self.graph.is_ground(n));
            rows.push((level.unwrap_or(if ground { 10_000 } else { 20_000 }), place));
        }
        rows.sort_unstable();
        let mut pins: Vec<(String, Option<usize>, Spot)> = Vec::new();
        let mut last: Option<i32> = None;
        for (wanted, place) in rows {
            let next = last.map_or(0, |l| l + 3);
            let y = if wanted < 10_000 {
                wanted.max(last.map_or(wanted, |_| next))
            } else {
                next
            };
            last = Some(y);
            let name = &self.pins[place];
            let net = nets.iter().position(|n| n == name);
            pins.push((name.clone(), net, Spot { x: 0, y }));
        }
        let names: Vec<&str> = pins.iter().map(|p| p.0.as_str()).collect();
        let shown = names::apart(&names, LETTERS);
        let wide = shown
            .iter()
            .map(|name| width(name, TextRole::Pin.size(), Letters::Mono));
        let wide = wide.fold(0.0, f64::max);
        let area = Area {
            left: 0.0,
            top: f64::from(pins.first().map_or(0, |p| p.2.y)) * STEP - FRAME,
            right: wide + 14.0,
            bottom: f64::from(pins.last().map_or(0, |p| p.2.y)) * STEP + FRAME,
        };
        let mut x = self.right_of(area);
        // At first wires are hoped for; then pins off the rails get room for a name.
        if 0 < self.wish.air {
            x += self.widest_name(&pins);
        }
        for (_, net, at) in &mut pins {
            at.x = x;
            let rail = net.and_then(|n| self.rails[n]).filter(|r| r.1 == at.y);
            if let (Some(rail), Some(net)) = (rail, *net) {
                let from = Spot { x: rail.2, y: at.y };
                let to = at.plus(-1, 0);
                self.plan.guides.push(Guide { net, from, to });
            }
        }
        self.interface = Some(Interface {
            area: area.shifted(f64::from(x) * STEP, 0.0),
            pins,
            shown,
        });
    }

    /// Steps for the longest name at a pin of the connector that no rail leads to.
    fn widest_name(&self, pins: &[(String, Option<usize>, Spot)]) -> i32 {
        let off = pins.iter().filter_map(|(_, net, at)| {
            let net = (*net)?;
            let on_rail = self.rails[net].is_some_and(|r| r.1 == at.y);
            let name = width(&self.graph.names[net], TextRole::Net.size(), Letters::Mono);
            (!on_rail && !self.graph.is_ground(net)).then(|| steps(name) + 1)
        });
        off.max().unwrap_or(0)
    }

    /// The first column right of all rails and of what stands at the height of an area.
    fn right_of(&self, area: Area) -> i32 {
        let mut x = 8;
        for frame in &self.frames {
            x = x.max(frame.attach + 3).max(frame.named + 2);
            let shift = f64::from(frame.down) * STEP;
            for own in frame.areas.iter().map(|a| a.shifted(0.0, shift)) {
                if own.top < area.bottom + 2.0 * STEP && area.top - 2.0 * STEP < own.bottom {
                    x = x.max(steps(own.right) + 4);
                }
            }
        }
        x
    }

    /// The height of a rail that ends at the connector.
    fn open_end(&self, net: usize) -> Option<i32> {
        let (lane, level, ..) = self.rails.get(net).copied().flatten()?;
        let of = self.lanes.get(lane)?;
        (of.ends == Ends::Open && of.nets.last() == Some(&net)).then_some(level)
    }

    /// Chains that lead from one rail to another lie above the rails.
    pub(super) fn bridges(&mut self) {
        for piece in 0..self.graph.pieces.len() {
            if !self.is_free(piece) || self.graph.is_rigid(piece) {
                continue;
            }
            let rails = self.graph.pins(piece).into_iter();
            let Some(from) = rails.filter_map(|(_, n)| n).find(|n| self.is_rail(*n)) else {
                continue;
            };
            let Some((chain, Foot::Rail(to))) = self.chain(from, piece) else {
                continue;
            };
            let (Some(a), Some(b)) = (self.rails[from], self.rails[to]) else {
                continue;
            };
            let turned = b.2 < a.2;
            let mut chain = chain;
            if turned {
                chain = chain.iter().rev().map(|(p, x, y)| (*p, *y, *x)).collect();
            }
            let (left, right) = if turned { (b, a) } else { (a, b) };
            self.bridge(&chain, left.3, right.2, left.1.min(right.1));
        }
    }

    fn bridge(&mut self, chain: &[(usize, usize, usize)], from: i32, to: i32, level: i32) {
        let mut x = 0;
        let mut row: Vec<Placed> = Vec::new();
        for (piece, a, b) in chain {
            let symbol = oriented_by(&self.graph.pieces[*piece].symbol, false, |s| {
                let points = s.terminals.iter().map(|t| match t.pin {
                    pin if pin == *a => 8 * i32::from(t.side == Side::Left),
                    pin if pin == *b => 8 * i32::from(t.side == Side::Right),
                    _ => i32::from(t.side != Side::Up),
                });
                points.sum()
            });
            let mut placed = Placed::new(*piece, symbol, &self.graph.pieces[*piece].lines);
            let (left, right) = placed.sides();
            placed.at = Spot { x: x + left, y: 0 };
            x += left + right + 2;
            row.push(placed);
        }
        let start = i32::midpoint(from, to) - (x - 2) / 2;
        let taken: Vec<Area> = (0..self.frames.len())
            .flat_map(|at| self.taken_by(at))
            .collect();
        for up in 5..60 {
            let moved = |p: &Placed| p.cell().moved(p.at.plus(start, level - up)).grown(STEP);
            let free = row.iter().all(|p| taken.iter().all(|t| !t.meets(moved(p))));
            if free {
                for mut placed in row {
                    placed.at = placed.at.plus(start, level - up);
                    self.done[placed.piece] = true;
                    if let Some(frame) = self.frames.first_mut() {
                        frame.placed.push(placed);
                    }
                }
                return;
            }
        }
    }

    /// What found no place goes below in rows, each pin with a stub.
    pub(super) fn leftovers(&mut self) {
        let mut bottom = self
            .interface
            .as_ref()
            .map_or(0.0, |i| i.area.bottom + 2.0 * STEP);
        for placed in self.frames.iter().flat_map(|f| &f.placed) {
            let cell = placed.cell().moved(placed.at);
            bottom = bottom.max(cell.bottom + 2.0 * STEP);
        }
        let mut top = steps(bottom) + 2;
        let left_edge = self.left_edge();
        let mut x = left_edge;
        let mut deepest = top;
        let named = |piece: usize, side: Side| -> i32 {
            let symbol = &self.graph.pieces[piece].symbol;
            let names = symbol.terminals.iter().filter(|t| t.side == side).map(|t| {
                let net = self.graph.net(piece, t.pin);
                net.map_or(0, |n| {
                    let shown = &self.graph.names[n];
                    steps(width(shown, TextRole::Net.size(), Letters::Mono) + 8.0)
                })
            });
            names.max().map_or(0, |n| n + 2)
        };
        let mut placed_all = Vec::new();
        for piece in 0..self.graph.pieces.len() {
            let wished = self.wish.below.contains(&piece);
            if self.done[piece] && !wished {
                continue;
            }
            let of = &self.graph.pieces[piece];
            let mut placed = Placed::new(piece, of.symbol.clone(), &of.lines);
            let (left, right) = placed.sides();
            // Names of pins that leave up or down stand across them.
            let across = named(piece, Side::Up).max(named(piece, Side::Down));
            let left = left
                .max(steps(-placed.symbol.body.left) + named(piece, Side::Left))
                .max(across);
            let right = right
                .max(steps(placed.symbol.body.right) + named(piece, Side::Right))
                .max(across);
            let cell = placed.cell();
            if x > left_edge && x + left + right > left_edge + WIDEST {
                x = left_edge;
                top = deepest + 2;
            }
            let above = steps(-cell.top) + if named(piece, Side::Up) > 0 { 4 } else { 1 };
            placed.at = Spot {
                x: x + left,
                y: top + above,
            };
            deepest = deepest.max(placed.at.y + steps(cell.bottom) + 4);
            x += left + right + 2;
            self.done[piece] = true;
            placed_all.push(placed);
        }
        self.plan.stubs_from(&placed_all);
        self.plan.placed = placed_all;
    }

    fn left_edge(&self) -> i32 {
        let all = self.frames.iter().flat_map(|f| &f.placed);
        let left = all.map(|p| p.at.x - p.sides().0).min();
        left.unwrap_or(0).min(0)
    }

    /// The plan, with its rails.
    pub(super) fn finish(mut self) -> Plan {
        let mut plan = std::mem::take(&mut self.plan);
        let first: usize = self.frames.iter().map(|f| f.placed.len()).sum();
        for (net, rail) in self.rails.iter().enumerate() {
            if let Some((_, y, from, to)) = *rail {
                let (from, to) = (Spot { x: from, y }, Spot { x: to, y });
                plan.guides.push(Guide { net, from, to });
            }
        }
        self.guide_drops(&mut plan);
        let mut placed = Vec::new();
        for frame in self.frames {
            placed.extend(frame.placed);
            plan.guides.extend(frame.guides);
            plan.kept.extend(frame.kept);
        }
        placed.append(&mut plan.placed);
        plan.placed = placed;
        for stub in &mut plan.stubs {
            stub.0 += first;
        }
        plan.interface = self.interface;
        plan.guides.retain(|g| g.from != g.to);
        plan
    }

    /// Wires between lanes.
    fn guide_drops(&self, plan: &mut Plan) {
        for drop in &self.drops {
            let Some((_, level, ..)) = self.rails[drop.net] else {
                continue;
            };
            let other = &self.frames[drop.other];
            let (y, x) = if !drop.feeds {
                let first = self.lanes[drop.other].between.first();
                let piece = first.and_then(|(p, a, _)| {
                    let placed = other.placed.iter().find(|q| q.piece == *p)?;
                    placed.terminal(*a)
                });
                piece.map_or((other.level, drop.x), |t| (t.at.y, t.at.x - 1))
            } else {
                (other.level, other.begin)
            };
            let corner = Spot { x: drop.x, y };
            plan.guides.push(Guide {
                net: drop.net,
                from: Spot {
                    x: drop.x,
                    y: level,
                },
                to: corner,
            });
            plan.guides.push(Guide {
                net: drop.net,
                from: corner,
                to: Spot { x, y },
            });
        }
        for lane in &self.lanes {
            let (Ends::Piece(piece), Some(net)) = (lane.ends, lane.nets.last()) else {
                continue;
            };
            let mut all = self.frames.iter().flat_map(|f| &f.placed);
            let Some(placed) = all.find(|p| p.piece == piece) else {
                continue;
            };
            let pins = self.graph.pins(piece).into_iter();
            let found = pins
                .filter(|(_, n)| n == &Some(*net))
                .find_map(|(pin, _)| placed.terminal(pin));
            if let (Some(t), Some((_, level, from, _))) = (found, self.rails[*net]) {
                let turn = t.at.beside(t.side);
                let corner = Spot {
                    x: turn.x,
                    y: level,
                };
                let net = *net;
                plan.guides.push(Guide {
                    net,
                    from: turn,
                    to: corner,
                });
                plan.guides.push(Guide {
                    net,
                    from: corner,
                    to: Spot { x: from, y: level },
                });
            }
        }
    }
}

impl Plan {
    /// Every pin of these pieces gets a stub.
    fn stubs_from(&mut self, placed: &[Placed]) {
        for (at, of) in placed.iter().enumerate() {
            self.stubs
                .extend(of.symbol.terminals.iter().map(|t| (at, t.pin)));
        }
    }
}

/// A rail with room for its name.
fn strip(level: i32, from: i32, to: i32) -> Area {
    Area {
        left: f64::from(from) * STEP,
        top: f64::from(level) * STEP - NAME,
        right: f64::from(to) * STEP,
        bottom: f64::from(level) * STEP + 0.5 * STEP,
    }
}
