//! The netlist as the placement sees it: which pieces are on a net, and between which pins current
//! can flow.

use lastvolt_core::model::{Board, Device, Kind, Part};

use crate::draw::schematic::names;
use crate::draw::schematic::sheet::Piece;

/// What a way along a rail may cost before it is none.
pub(super) const MOST: u32 = 90;
/// Most letters of a name in the drawing.
pub(super) const LETTERS: usize = 18;

/// A board's pieces and nets.
pub(crate) struct Graph<'a> {
    pub(crate) board: &'a Board,
    pub(crate) pieces: &'a [Piece],
    /// Names of the nets as they are drawn: not too long, and no two alike.
    pub(crate) names: Vec<String>,
    /// Net of the connector's ground.
    pub(crate) ground: Option<usize>,
    /// Pieces and their pins on each net.
    on: Vec<Vec<(usize, usize)>>,
}

/// A way for current through a piece.
#[derive(Debug, Clone, Copy)]
pub(super) struct Link {
    pub(super) from: usize,
    pub(super) to: usize,
    /// How unlikely it is the way that the board is about; none where it is not a way along a rail.
    pub(super) cost: Option<u32>,
}

impl<'a> Graph<'a> {
    pub(crate) fn new(board: &'a Board, pieces: &'a [Piece], ground: Option<usize>) -> Self {
        let mut on = vec![Vec::new(); board.nets.len()];
        for (at, piece) in pieces.iter().enumerate() {
            for terminal in &piece.symbol.terminals {
                let pin = board
                    .parts
                    .get(piece.part)
                    .and_then(|p| p.pins.get(terminal.pin));
                if let Some(list) = pin.and_then(|p| p.net).and_then(|n| on.get_mut(n)) {
                    list.push((at, terminal.pin));
                }
            }
        }
        let nets: Vec<&str> = board.nets.iter().map(String::as_str).collect();
        Self {
            board,
            pieces,
            names: names::apart(&nets, LETTERS),
            ground,
            on,
        }
    }

    /// The part that a piece belongs to.
    pub(crate) fn part(&self, piece: usize) -> &'a Part {
        &self.board.parts[self.pieces[piece].part]
    }

    /// The net of a pin of a piece.
    pub(crate) fn net(&self, piece: usize, pin: usize) -> Option<usize> {
        self.part(piece).pins.get(pin).and_then(|p| p.net)
    }

    /// Pieces and pins on a net.
    pub(crate) fn on(&self, net: usize) -> &[(usize, usize)] {
        self.on.get(net).map_or(&[], Vec::as_slice)
    }

    pub(super) fn is_ground(&self, net: usize) -> bool {
        self.ground == Some(net)
    }

    /// Pins of a piece with their nets, in the order of its terminals.
    pub(super) fn pins(&self, piece: usize) -> Vec<(usize, Option<usize>)> {
        let terminals = self.pieces[piece].symbol.terminals.iter();
        terminals.map(|t| (t.pin, self.net(piece, t.pin))).collect()
    }

    /// Whether a symbol stands as it is: a box whose pins have their sides.
    pub(super) fn is_rigid(&self, piece: usize) -> bool {
        matches!(
            self.part(piece).kind,
            Kind::Ldo
                | Kind::Buck
                | Kind::Boost
                | Kind::BuckBoost
                | Kind::Detector
                | Kind::LoadSwitch
                | Kind::IdealDiode
                | Kind::TestPoint
        )
    }

    pub(super) fn is_source(&self, piece: usize) -> bool {
        matches!(self.part(piece).kind, Kind::Cell | Kind::Supply)
    }

    /// A box that takes power at `in` and hands it on at `out`.
    pub(super) fn is_block(&self, piece: usize) -> bool {
        self.is_rigid(piece) && !matches!(self.part(piece).kind, Kind::TestPoint | Kind::Detector)
    }

    /// The pin of this name, where the piece shows it.
    pub(super) fn named(&self, piece: usize, name: &str) -> Option<usize> {
        let (at, _) = self.part(piece).pin(name)?;
        let shown = self.pieces[piece]
            .symbol
            .terminals
            .iter()
            .any(|t| t.pin == at);
        shown.then_some(at)
    }

    /// Ways through a piece, in both directions.
    pub(super) fn links(&self, piece: usize) -> Vec<Link> {
        let part = self.part(piece);
        let both = |a, b, there, back| {
            vec![
                Link {
                    from: a,
                    to: b,
                    cost: there,
                },
                Link {
                    from: b,
                    to: a,
                    cost: back,
                },
            ]
        };
        match &part.device {
            Device::Cell(_)
            | Device::Supply(_)
            | Device::Capacitor(_)
            | Device::Load(_)
            | Device::Led(_) => both(0, 1, None, None),
            Device::Resistor(r) if r.value.si() < 10.0 => both(0, 1, Some(2), Some(2)),
            Device::Resistor(_) => both(0, 1, Some(30), Some(30)),
            Device::Inductor(_) | Device::Fuse(_) | Device::Ptc(_) => both(0, 1, Some(1), Some(1)),
            Device::Fet(_) => both(0, 1, Some(1), Some(1)),
            Device::Diode(_) => both(0, 1, Some(1), Some(70)),
            Device::Zener(_) => both(0, 1, Some(20), Some(70)),
            Device::Regulator(_) | Device::LoadSwitch(_) | Device::IdealDiode(_) => {
                match (self.named(piece, "in"), self.named(piece, "out")) {
                    (Some(a), Some(b)) => vec![Link {
                        from: a,
                        to: b,
                        cost: Some(1),
                    }],
                    _ => Vec::new(),
                }
            }
            Device::Switch(switch) => {
                let shown = |pin: usize| {
                    let mut terminals = self.pieces[piece].symbol.terminals.iter();
                    terminals.any(|t| t.pin == pin)
                };
                let mut out: Vec<Link> = Vec::new();
                for (at, position) in switch.positions.iter().enumerate() {
                    let cost = if at == switch.usual { 1 } else { 15 };
                    for (a, b) in position
                        .closed
                        .iter()
                        .filter(|(a, b)| shown(*a) && shown(*b))
                    {
                        for link in both(*a, *b, Some(cost), Some(cost)) {
                            let known = out
                                .iter_mut()
                                .find(|l| (l.from, l.to) == (link.from, link.to));
                            match known {
                                Some(known) => known.cost = known.cost.min(link.cost),
                                None => out.push(link),
                            }
                        }
                    }
                }
                out
            }
            Device::Detector(_) | Device::TestPoint => Vec::new(),
        }
    }
}
