//! Pieces in a rail and what belongs to their other pins: the inductor of a converter, what hangs on an
//! enable input or a gate; boxes that hang under a rail.

use super::lane::Floor;
use super::{Guide, Placed, oriented_by, steps};
use crate::draw::schematic::sheet::{Area, STEP, Side, Spot, Symbol, Terminal};

use lastvolt_core::model::Kind;

impl Floor<'_, '_> {
    /// A piece in the rail, from the current net of a lane to the next.
    pub(super) fn lay_piece(&mut self, at: usize, (piece, a, b): (usize, usize, usize)) {
        let symbol = self.in_rail(piece, a, b);
        let mut placed = Placed::new(piece, symbol, &self.graph.pieces[piece].lines);
        let pin = |pin: usize| {
            placed
                .symbol
                .terminals
                .iter()
                .find(|t| t.pin == pin)
                .copied()
        };
        let (Some(enters), Some(leaves)) = (pin(a), pin(b)) else {
            return;
        };
        let level = self.frames[at].level;
        let y = level - enters.at.y;
        let coil = self.coil(piece, &placed.symbol);
        let net = self.graph.net(piece, a);
        placed.at = Spot { x: 0, y };
        let mut areas = vec![placed.body()];
        areas.extend(placed.text_areas());
        for t in placed.symbol.terminals.iter().filter(|t| t.pin != b) {
            let end = placed.at.plus(t.at.x, t.at.y);
            areas.push(way_out(end, t.side));
            areas.extend(self.channel(self.graph.net(piece, t.pin), end, t.side));
        }
        if let Some(coil) = &coil {
            let moved = coil.at.plus(0, y);
            areas.push(coil.symbol.body.moved(moved).grown(2.0 * STEP));
            areas.extend(coil.texts.iter().map(|t| super::text_area(t).moved(moved)));
            areas.extend(self.beside_coil(coil, moved));
        }
        let frame = &self.frames[at];
        let from = (frame.attach + 2).max(frame.named + 1) - enters.at.x;
        let left = placed
            .symbol
            .terminals
            .iter()
            .filter(|t| t.side == Side::Left);
        let fed = left.filter_map(|t| {
            let at = self.hung(self.graph.net(piece, t.pin)?)?;
            Some(at.x + 2 - t.at.x)
        });
        let from = fed.fold(from, i32::max);
        let x = frame.first_free(&areas, from + self.wish.air);
        placed.at = Spot { x, y };
        if let Some(net) = net {
            let ends = x + enters.at.x;
            self.attach(at, net, ends);
        }
        let fed_back = placed.symbol.terminals.iter();
        let fed_back = fed_back.filter(|t| t.side == Side::Right).count() > 1;
        let frame = &mut self.frames[at];
        frame.begin = x + leaves.at.x;
        frame.attach = frame.attach.max(frame.begin) + if fed_back { 2 } else { 0 };
        frame.level = y + leaves.at.y;
        frame.net = self.graph.net(piece, b);
        self.done[piece] = true;
        let terminals = placed.symbol.terminals.clone();
        frame.put(placed);
        if let Some(mut coil) = coil {
            coil.at = coil.at.plus(x, y);
            self.done[coil.piece] = true;
            let beside = self.beside_coil(&coil, coil.at);
            self.frames[at].areas.extend(beside.iter().copied());
            self.frames[at].kept.extend(beside);
            self.frames[at].put(coil);
        }
        for terminal in terminals.iter().filter(|t| t.pin != a && t.pin != b) {
            self.hang_on_pin(at, piece, Spot { x, y }, terminal);
        }
    }

    /// Room for the names of the nets at both ends of a coil, where they must have some.
    fn beside_coil(&self, coil: &Placed, at: Spot) -> Vec<Area> {
        if self.wish.drop == 0 {
            return Vec::new();
        }
        let ends = coil.symbol.terminals.iter();
        let room = ends.filter_map(|t| {
            // A rail has its name elsewhere.
            let net = self
                .graph
                .net(coil.piece, t.pin)
                .filter(|n| !self.is_rail(*n))?;
            let wide = self.wish.label.get(net).copied().unwrap_or(0);
            let from = at.plus(t.at.x, t.at.y).beside(t.side);
            let way = match t.side {
                Side::Left => -1,
                Side::Right => 1,
                Side::Up | Side::Down => return None,
            };
            // Beside the wire that goes down to the pin.
            let to = from.plus(way * wide, 0);
            let (left, right) = (from.min(to).place(), from.max(to).place());
            let beside = 4.0 * f64::from(way);
            Some(Area {
                left: left.x + beside,
                top: left.y - 18.0,
                right: right.x + beside,
                bottom: right.y + 10.0,
            })
        });
        room.collect()
    }

    /// Room beside a pin at the left for the wire that comes up from where its net hangs.
    fn channel(&self, net: Option<usize>, end: Spot, side: Side) -> Option<Area> {
        let hung = self.hung(net?).filter(|_| side == Side::Left)?;
        let exit = end.beside(side);
        let (top, bottom) = (exit.y.min(hung.y), exit.y.max(hung.y));
        let corner = Spot { x: exit.x, y: top };
        let foot = Spot {
            x: exit.x,
            y: bottom,
        };
        Some(Area {
            left: corner.place().x - 1.0,
            top: corner.place().y,
            right: foot.place().x + 1.0,
            bottom: foot.place().y,
        })
    }

    /// What hangs on another pin of a piece in the rail.
    fn hang_on_pin(&mut self, at: usize, piece: usize, origin: Spot, terminal: &Terminal) {
        let Some(net) = self.graph.net(piece, terminal.pin) else {
            return;
        };
        if !self.is_loose(net) {
            return;
        }
        let end = origin
            .plus(terminal.at.x, terminal.at.y)
            .beside(terminal.side);
        match terminal.side {
            Side::Down => {
                self.hung[net] = Some(end);
                self.hang_on(at, net, end, Some(end.x));
            }
            Side::Right if !self.tapped_from(net, self.frames[at].net) => {
                self.hung[net] = Some(end);
                self.hang_on(at, net, end, None);
            }
            _ => {}
        }
    }

    /// Whether something hangs from a rail straight to a net.
    fn tapped_from(&self, net: usize, rail: Option<usize>) -> bool {
        rail.is_some_and(|rail| self.drop_of(rail, net).is_some())
    }

    /// What hangs on the pins at the left of the piece that comes next.
    pub(super) fn hang_left_of(&mut self, at: usize, piece: usize, enters: usize) {
        let Some((_, _, b)) = self.lanes[at].between.iter().find(|s| s.0 == piece) else {
            return;
        };
        let symbol = self.in_rail(piece, enters, *b);
        let of = |pin: usize| {
            symbol
                .terminals
                .iter()
                .find(|t| t.pin == pin)
                .map(|t| t.at.y)
        };
        let zero = of(enters).unwrap_or(0);
        for terminal in symbol.terminals.iter().filter(|t| t.pin != enters) {
            let Some(net) = self.graph.net(piece, terminal.pin) else {
                continue;
            };
            if terminal.side != Side::Left || !self.is_loose(net) {
                continue;
            }
            let frame = &self.frames[at];
            let rail = frame.net;
            let drop = rail.and_then(|r| self.drop_of(r, net));
            let y = frame.level + drop.unwrap_or(0).max(terminal.at.y - zero);
            let spot = Spot { x: frame.attach, y };
            self.hung[net] = Some(spot);
            self.hang_on(at, net, spot, None);
        }
    }

    /// A symbol turned for the rail: entered from the left, left to the right, control pins down;
    /// other contacts up where they lead to a rail and down where something hangs on them.
    fn in_rail(&self, piece: usize, a: usize, b: usize) -> Symbol {
        let graph = self.graph;
        oriented_by(
            &graph.pieces[piece].symbol,
            graph.is_rigid(piece),
            |turned| {
                let row = |pin: usize| {
                    turned
                        .terminals
                        .iter()
                        .find(|t| t.pin == pin)
                        .map(|t| t.at.y)
                };
                let entered = row(a).unwrap_or(0);
                let points = turned.terminals.iter().map(|t| match t.pin {
                    pin if pin == a => 16 * i32::from(t.side == Side::Left),
                    pin if pin == b => 16 * i32::from(t.side == Side::Right),
                    pin => {
                        let net = graph.net(piece, pin);
                        let up = net.is_some_and(|n| self.is_rail(n));
                        let other = if t.side == Side::Right || t.side == Side::Left {
                            let beside = if t.side == Side::Left { a } else { b };
                            let row = row(beside).unwrap_or(entered);
                            if up { t.at.y < row } else { row < t.at.y }
                        } else {
                            t.side == Side::Down
                        };
                        2 * i32::from(other)
                    }
                });
                points.sum()
            },
        )
    }

    /// The inductor on the first switching pin of a converter, and its pin there.
    pub(super) fn coil_of(&self, piece: usize) -> Option<(usize, usize)> {
        let graph = self.graph;
        let mut terminals = graph.pieces[piece].symbol.terminals.iter();
        let first = terminals.find(|t| t.side == Side::Up && graph.is_block(piece))?;
        let net = graph.net(piece, first.pin)?;
        let lying = |p: usize| {
            let mut between = self.lanes.iter().flat_map(|l| &l.between);
            between.any(|(q, ..)| *q == p)
        };
        let mut on = graph.on(net).iter().copied();
        on.find(|(p, _)| !lying(*p) && graph.part(*p).kind == Kind::Inductor)
    }

    /// The inductor of a converter in its place about the converter.
    fn coil(&self, piece: usize, symbol: &Symbol) -> Option<Placed> {
        let graph = self.graph;
        let top: Vec<&Terminal> = symbol
            .terminals
            .iter()
            .filter(|t| t.side == Side::Up)
            .collect();
        let first = top.first()?;
        let (coil, pin) = self.coil_of(piece).filter(|(c, _)| !self.done[*c])?;
        let other = graph.net(coil, 1 - pin.min(1));
        let second = top
            .iter()
            .find(|t| Some(t.pin) != Some(first.pin) && graph.net(piece, t.pin) == other);
        let out = graph.named(piece, "out").and_then(|o| graph.net(piece, o));
        let first_left = second.is_some() || (other == out && other.is_some());
        let side = if first_left { Side::Left } else { Side::Right };
        let turned = oriented_by(&graph.pieces[coil].symbol, false, |s| {
            let of = s.terminals.iter().find(|t| t.pin == pin);
            i32::from(of.is_some_and(|t| t.side == side))
        });
        let mut placed = Placed::over(coil, turned, &graph.pieces[coil].lines);
        let half = placed
            .symbol
            .terminals
            .iter()
            .map(|t| t.at.x)
            .max()
            .unwrap_or(3);
        let row = first.at.y - 1;
        placed.at = match second {
            Some(second) => {
                let wide = (second.at.x - first.at.x) / 2;
                let row = if half < wide { row } else { row - 1 };
                Spot {
                    x: i32::midpoint(first.at.x, second.at.x),
                    y: row,
                }
            }
            None if first_left => Spot {
                x: first.at.x + half + 1,
                y: row,
            },
            None => Spot {
                x: first.at.x - half - 1,
                y: row,
            },
        };
        Some(placed)
    }

    /// Boxes and change-over contacts that hang under a rail and hand something on to a control pin.
    pub(super) fn hang_boxes(&mut self, at: usize, rail: usize, next: Option<usize>) {
        for (piece, pin) in self.graph.on(rail).to_vec() {
            if !self.is_free(piece) {
                continue;
            }
            let Some(out) = self.hands_on(piece, pin) else {
                continue;
            };
            let Some(net) = self.graph.net(piece, out).filter(|n| self.is_loose(*n)) else {
                continue;
            };
            let symbol = oriented_by(
                &self.graph.pieces[piece].symbol,
                self.graph.is_rigid(piece),
                |turned| {
                    let of = |p: usize| turned.terminals.iter().find(|t| t.pin == p);
                    let (Some(i), Some(o)) = (of(pin), of(out)) else {
                        return 0;
                    };
                    4 * i32::from(o.side == Side::Right)
                        + 2 * i32::from(i.side == Side::Left)
                        + i32::from(i.at.y < o.at.y)
                },
            );
            let mut placed = Placed::new(piece, symbol, &self.graph.pieces[piece].lines);
            let row = |p: usize| placed.symbol.terminals.iter().find(|t| t.pin == p).copied();
            let (Some(i), Some(o)) = (row(pin), row(out)) else {
                continue;
            };
            let cell = placed.cell();
            let frame = &self.frames[at];
            let top = steps(-cell.top) + 1;
            let wanted = next.and_then(|n| self.row_of(n, net)).unwrap_or(0);
            let drop = self.drop_of(rail, net).unwrap_or(0);
            let y = (frame.level + wanted.max(drop)).max(frame.level + top + o.at.y);
            placed.at = Spot {
                x: 0,
                y: y - o.at.y,
            };
            let mut areas = vec![placed.body()];
            areas.extend(placed.text_areas());
            let pin = placed.at.plus(i.at.x, i.at.y).beside(i.side);
            areas.push(super::hang::lead(
                Spot {
                    x: pin.x,
                    y: frame.level,
                },
                pin,
            ));
            let from = frame.attach + 2 - i.at.x + self.wish.air;
            let x = frame.first_free(&areas, from);
            placed.at = Spot { x, y: y - o.at.y };
            let end = placed.at.plus(o.at.x, o.at.y).beside(o.side);
            let foot = placed.at.plus(i.at.x, i.at.y).beside(i.side);
            let frame = &mut self.frames[at];
            let level = frame.level;
            frame.put(placed);
            self.done[piece] = true;
            self.attach(at, rail, foot.x);
            let up = Spot {
                x: foot.x,
                y: level,
            };
            self.frames[at].guides.push(Guide {
                net: rail,
                from: foot,
                to: up,
            });
            self.hung[net] = Some(end);
            self.hang_on(at, net, end, None);
        }
    }

    /// The row of a net's pin on the piece that comes next, below the rail.
    fn row_of(&self, piece: usize, net: usize) -> Option<i32> {
        let symbol = &self.graph.pieces[piece].symbol;
        let zero = symbol.terminals.iter().find(|t| t.side == Side::Left)?.at.y;
        let mut all = symbol.terminals.iter();
        let of = all.find(|t| t.side == Side::Left && self.graph.net(piece, t.pin) == Some(net))?;
        Some(of.at.y - zero)
    }

    /// The pin at which a box under a rail hands something on; none for what hangs otherwise.
    fn hands_on(&self, piece: usize, pin: usize) -> Option<usize> {
        let graph = self.graph;
        if graph.is_rigid(piece) {
            let out = graph.named(piece, "out")?;
            return (graph.named(piece, "in") == Some(pin)).then_some(out);
        }
        let pins = graph.pins(piece);
        let grounded = pins
            .iter()
            .any(|(_, n)| n.is_some_and(|n| graph.is_ground(n)));
        let links = graph.links(piece);
        let out = links.iter().find(|l| l.from == pin)?.to;
        let to_ground = links
            .iter()
            .any(|l| l.from == out && graph.net(piece, l.to).is_some_and(|n| graph.is_ground(n)));
        (grounded && to_ground && pins.len() == 3).then_some(out)
    }
}

/// The first steps of a wire that leaves a terminal.
fn way_out(at: Spot, side: Side) -> Area {
    let next = at.beside(side).beside(side);
    let (a, b) = (at.min(next).place(), at.max(next).place());
    Area {
        left: a.x - 2.0,
        top: a.y - 2.0,
        right: b.x + 2.0,
        bottom: b.y + 2.0,
    }
}
