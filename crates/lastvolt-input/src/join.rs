//! What must fit between the loads of the family, the boards and the connector.

use std::collections::BTreeSet;

use lastvolt_core::model::{Board, Connector, Load};

use crate::diagnostic::Problem;
use crate::document::Reader;
use crate::place::Spot;
use crate::section::board::{self, Attached, Read};
use crate::section::load::Written;
use crate::section::profile::LoadNames;

/// Puts loads onto nets, checks that the nets are there, and gives the loads of the family and the
/// finished boards.
pub(crate) fn join(
    reader: Reader<'_>,
    loads: Vec<Written<'_>>,
    boards: Vec<Read<'_>>,
    names: &LoadNames<'_>,
    connector: Option<&Connector>,
) -> (Vec<Load>, Vec<Board>) {
    let mut join = Join {
        reader,
        loads,
        boards,
        names,
        pins: connector.map_or(&[], |c| &c.pins),
    };
    join.check_on();
    join.attach();
    join.check_names();
    join.loads.retain(|l| l.pinned);
    if !join.pins.is_empty() {
        join.check_family_nets();
        join.check_board_nets();
    }
    join.finish()
}

struct Join<'a, 't> {
    reader: Reader<'t>,
    loads: Vec<Written<'t>>,
    boards: Vec<Read<'t>>,
    names: &'a LoadNames<'t>,
    pins: &'a [String],
}

impl Join<'_, '_> {
    /// Boards that loads are limited to must exist.
    fn check_on(&self) {
        let known: Vec<&str> = self.boards.iter().map(|b| b.board.name.as_str()).collect();
        for (name, spot) in self.loads.iter().flat_map(|w| &w.on) {
            if !known.contains(name) {
                self.reader.unknown_name(spot, "board", name, known.clone());
            }
        }
    }

    /// Loads without pins of their own go onto the nets of the parts that attach them.
    fn attach(&mut self) {
        for at in 0..self.boards.len() {
            let read = &self.boards[at];
            let mut loads: Vec<Load> = Vec::new();
            for attached in &read.attached {
                loads.extend(self.attached(read, &loads, attached));
            }
            let own = read.loads.iter().filter(|w| w.pinned);
            loads.extend(own.map(|w| w.load.clone()));
            self.boards[at].board.loads = loads;
        }
    }

    /// The load that a part of a board attaches.
    fn attached(&self, read: &Read<'_>, loads: &[Load], part: &Attached) -> Option<Load> {
        let name = &part.load;
        let mut all = read.loads.iter().chain(&self.loads);
        let Some(written) = all.find(|w| w.load.name == *name) else {
            if !self.names.iter().any(|n| n.0 == name) {
                let known: Vec<&str> = self.names.iter().map(|n| n.0).collect();
                self.reader.unknown_name(&part.spot, "load", name, known);
            }
            return None;
        };
        let says = if written.pinned {
            format!("load `{name}` has `pins` of its own and is attached here as well")
        } else if loads.iter().any(|l| l.name == *name) {
            format!("load `{name}` is attached a second time")
        } else {
            return Some(Load {
                plus: part.plus.clone(),
                minus: part.minus.clone(),
                on: None,
                ..written.load.clone()
            });
        };
        let problem = Problem::new("attached-twice", part.spot.clone(), says)
            .label("attached here")
            .related(written.spot.clone(), "the load")
            .proposal("delete `pins` of the load, or the part");
        self.reader.report(problem);
        None
    }

    /// A load has one table, and pins or a part.
    fn check_names(&self) {
        let used: BTreeSet<&str> = self
            .boards
            .iter()
            .flat_map(|b| &b.attached)
            .map(|a| a.load.as_str())
            .collect();
        let own = self.boards.iter().flat_map(|b| &b.loads);
        for written in own.clone() {
            let name = &written.load.name;
            if let Some(first) = self.loads.iter().find(|w| w.load.name == *name) {
                let says = format!("load `{name}` is one of the family and one of the board");
                let problem = Problem::new("duplicate-name", written.spot.clone(), says)
                    .label("second one")
                    .related(first.spot.clone(), "first one");
                self.reader.report(problem);
            }
        }
        for written in self.loads.iter().chain(own) {
            let name = &written.load.name;
            if !written.pinned && !used.contains(name.as_str()) {
                let says = format!("load `{name}` has no `pins` and no part attaches it");
                let problem = Problem::new("missing-key", written.spot.clone(), says)
                    .label("on no net")
                    .proposal("add `pins = { plus = \"VDD\", minus = \"GND\" }`");
                self.reader.report(problem);
            }
        }
    }

    /// Loads of the family sit on the connector or on nets of all boards that they are limited to;
    /// what they drive is on the connector or on one of their boards.
    fn check_family_nets(&self) {
        for written in &self.loads {
            let load = &written.load;
            let boards: Vec<&Board> = self
                .boards
                .iter()
                .map(|b| &b.board)
                .filter(|b| feeds(load, b))
                .collect();
            for (net, spot) in &written.nets {
                let all = boards.iter().all(|b| b.nets.iter().any(|n| n == net));
                if !(load.on.is_some() && all) {
                    self.check_net(net, spot, &[]);
                }
            }
            let nets: Vec<&[String]> = boards.iter().map(|b| b.nets.as_slice()).collect();
            for (net, spot) in &written.driven {
                self.check_net(net, spot, &nets);
            }
        }
    }

    /// Loads of a board sit on its nets or on the connector.
    fn check_board_nets(&self) {
        for read in &self.boards {
            for written in &read.loads {
                for (net, spot) in written.nets.iter().chain(&written.driven) {
                    self.check_net(net, spot, &[&read.board.nets]);
                }
            }
        }
    }

    fn check_net(&self, net: &str, spot: &Spot, nets: &[&[String]]) {
        let known = || self.pins.iter().chain(nets.iter().copied().flatten());
        if known().any(|k| k == net) {
            return;
        }
        let known: BTreeSet<&str> = known().map(String::as_str).collect();
        self.reader.unknown_name(spot, "net", net, known);
    }

    fn finish(self) -> (Vec<Load>, Vec<Board>) {
        let loads: Vec<Load> = self.loads.into_iter().map(|w| w.load).collect();
        let mut boards: Vec<Board> = self.boards.into_iter().map(|r| r.board).collect();
        for board in &mut boards {
            let fed: Vec<&Load> = loads.iter().filter(|l| feeds(l, board)).collect();
            for load in fed {
                board::add_nets(board, load);
            }
            for load in board.loads.clone() {
                board::add_nets(board, &load);
            }
        }
        (loads, boards)
    }
}

/// Whether a board feeds a load of the family.
fn feeds(load: &Load, board: &Board) -> bool {
    load.on.as_ref().is_none_or(|on| on.contains(&board.name))
}
