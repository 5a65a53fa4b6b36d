//! The nets, parts and loads of one or more boards joined at the connector.

use std::sync::OnceLock;

use crate::circuit::situation::qualified;
use crate::device::{Diode, Fitted, Junction};
use crate::model::{Board, Device, Family, Load, Part};

/// Place of a net in a circuit's list; [`GROUND`] is the connector's ground.
pub(crate) type Net = usize;

/// The ground of everything, whose voltage is 0.
pub(crate) const GROUND: Net = usize::MAX;

/// A circuit before any situation is chosen.
#[derive(Debug)]
pub(crate) struct Netlist<'f> {
    /// Names of the nets that people know; ground is not among them.
    pub(crate) nets: Vec<String>,
    /// Name of the ground net.
    pub(crate) ground: String,
    /// Parts of all boards.
    pub(crate) parts: Vec<PlacedPart<'f>>,
    /// Loads, each once however many boards feed it.
    pub(crate) loads: Vec<PlacedLoad<'f>>,
}

/// A part with its nets.
#[derive(Debug)]
pub(crate) struct PlacedPart<'f> {
    pub(crate) name: String,
    pub(crate) part: &'f Part,
    /// One entry a pin, in the part's order.
    pub(crate) nets: Vec<Option<Net>>,
    /// The fit of a junction's forward points, once asked for: it is the same in every situation.
    fitted: OnceLock<Fitted>,
}

/// A load with its nets.
#[derive(Debug)]
pub(crate) struct PlacedLoad<'f> {
    pub(crate) name: String,
    pub(crate) load: &'f Load,
    pub(crate) plus: Option<Net>,
    pub(crate) minus: Option<Net>,
    /// Nets of the load's driven pins, in the order of its drives.
    pub(crate) drives: Vec<Option<Net>>,
}

impl PlacedPart<'_> {
    /// The part's junction at a temperature.
    pub(crate) fn junction(&self, diode: &Diode, celsius: f64) -> Junction {
        let fitted = *self.fitted.get_or_init(|| diode.fitted());
        diode.junction_by(fitted, celsius)
    }
}

impl<'f> Netlist<'f> {
    pub(crate) fn new(family: &'f Family, boards: &[&'f Board]) -> Self {
        let names: Vec<String> = boards.iter().map(|b| b.name.clone()).collect();
        let ground = family.connector.ground_net().to_owned();
        let mut list = Self {
            nets: Vec::new(),
            ground,
            parts: Vec::new(),
            loads: Vec::new(),
        };
        for board in boards {
            list.add_parts(family, &names, board);
        }
        for board in boards {
            list.add_loads(family, &names, board);
        }
        list
    }

    fn add_parts(&mut self, family: &Family, names: &[String], board: &'f Board) {
        let nets: Vec<Net> = board
            .nets
            .iter()
            .map(|n| self.net(&net_name(family, names, board, n)))
            .collect();
        for part in &board.parts {
            if matches!(part.device, Device::Load(_)) {
                continue;
            }
            let nets = part
                .pins
                .iter()
                .map(|p| p.net.and_then(|n| nets.get(n).copied()))
                .collect();
            self.parts.push(PlacedPart {
                name: qualified(names, &board.name, &part.name),
                part,
                nets,
                fitted: OnceLock::new(),
            });
        }
    }

    fn add_loads(&mut self, family: &'f Family, names: &[String], board: &'f Board) {
        for load in family.loads_of(board) {
            let own = board.loads.iter().any(|l| std::ptr::eq(l, load));
            let name = if own {
                qualified(names, &board.name, &load.name)
            } else {
                load.name.clone()
            };
            if self.loads.iter().any(|l| l.name == name) {
                continue;
            }
            let (plus, minus) = attached(board, load);
            let find = |net: &str| self.known(&net_name(family, names, board, net));
            let placed = PlacedLoad {
                load,
                plus: find(&plus),
                minus: find(&minus),
                drives: load.drives.iter().map(|d| find(&d.net)).collect(),
                name,
            };
            self.loads.push(placed);
        }
    }

    fn net(&mut self, name: &str) -> Net {
        self.known(name).unwrap_or_else(|| {
            self.nets.push(name.to_owned());
            self.nets.len() - 1
        })
    }

    fn known(&self, name: &str) -> Option<Net> {
        if name == self.ground {
            return Some(GROUND);
        }
        self.nets.iter().position(|n| n == name)
    }

    /// Name of a net for people; nets behind the known ones are inside parts.
    pub(crate) fn net_label(&self, net: Net) -> String {
        if net == GROUND {
            return self.ground.clone();
        }
        self.nets
            .get(net)
            .cloned()
            .unwrap_or_else(|| "an unconnected pin".to_owned())
    }
}

/// The nets of a load: its own, or those of the part that attaches it to the board.
fn attached(board: &Board, load: &Load) -> (String, String) {
    let part = board
        .parts
        .iter()
        .find(|p| matches!(&p.device, Device::Load(l) if *l == load.name));
    let net = |pin: &str| {
        part.and_then(|p| p.net(pin))
            .and_then(|n| board.nets.get(n))
            .cloned()
    };
    (
        net("plus").unwrap_or_else(|| load.plus.clone()),
        net("minus").unwrap_or_else(|| load.minus.clone()),
    )
}

fn net_name(family: &Family, names: &[String], board: &Board, net: &str) -> String {
    if family.connector.pins.iter().any(|pin| pin == net) {
        net.to_owned()
    } else {
        qualified(names, &board.name, net)
    }
}
