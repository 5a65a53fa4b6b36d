//! Signs of ground and stubs with names: short wires at a terminal that need no way to anywhere.

use super::grid::{Owner, WAYS};
use super::{Group, Router};
use crate::draw::schematic::place::text_area;
use crate::draw::schematic::sheet::{Area, Place, STEP, Side, Spot, Terminal, Text, TextRole};
use crate::draw::svg::Anchor;

/// Longest stub, in steps.
const LONGEST: i32 = 6;

impl Router<'_, '_, '_> {
    /// Each pin on ground gets a sign of its own, or a stub with the name where there is no room.
    pub(super) fn feet(&mut self) {
        let Some(ground) = self.graph.ground else {
            return;
        };
        for end in self.ends[ground].clone() {
            let mut group = Group::default();
            let made = self.foot(ground, end.terminal, &mut group)
                || self.named(ground, end.terminal, &mut group);
            if !made {
                self.fail(end.placed);
            }
            self.wiring(ground).groups.push(group);
        }
        // What has its foot takes no further part.
        self.ends[ground].clear();
    }

    /// The pins that are to have a stub.
    pub(super) fn stubs(&mut self) {
        for net in 0..self.ends.len() {
            for end in self.ends[net].clone().iter().filter(|e| e.stubbed) {
                let mut group = Group::default();
                if !self.named(net, end.terminal, &mut group) {
                    self.fail(end.placed);
                }
                self.wiring(net).groups.push(group);
            }
        }
    }

    fn foot(&mut self, net: usize, terminal: Terminal, group: &mut Group) -> bool {
        let out = terminal.at.beside(terminal.side);
        let mut ways: Vec<Vec<Spot>> = Vec::new();
        match terminal.side {
            Side::Down => {
                for length in 1..=LONGEST {
                    ways.push(vec![terminal.at, terminal.at.plus(0, length)]);
                }
            }
            Side::Left | Side::Right => {
                let x = out.x - terminal.at.x;
                for length in 1..=3 {
                    for down in 1..=2 {
                        let corner = terminal.at.plus(x * length, 0);
                        ways.push(vec![terminal.at, corner, corner.plus(0, down)]);
                    }
                }
            }
            Side::Up => {
                for x in [2, -2, 3, -3] {
                    for down in 1..=2 {
                        let corner = out.plus(x, 0);
                        ways.push(vec![terminal.at, out, corner, corner.plus(0, down)]);
                    }
                }
            }
        }
        for way in ways {
            let Some(end) = way.last().copied() else {
                continue;
            };
            let sign = sign_area(end);
            if self.is_clear(sign) && self.can_take(net, &way) {
                self.take(net, &way);
                self.settle(sign);
                group.wires = vec![way];
                group.ground = Some(end);
                return true;
            }
        }
        false
    }

    /// A stub with the name of the net, as short as there is room.
    pub(super) fn named(&mut self, net: usize, terminal: Terminal, group: &mut Group) -> bool {
        let name = self.graph.names[net].clone();
        let step = terminal.at.beside(terminal.side);
        let (x, y) = (step.x - terminal.at.x, step.y - terminal.at.y);
        for length in 1..=LONGEST {
            let end = terminal.at.plus(x * length, y * length);
            let way = vec![terminal.at, end];
            if !self.can_take(net, &way) {
                return false;
            }
            let text = at_end(&name, end, terminal.side);
            let area = text_area(&text);
            if self.is_clear(area.grown(1.0)) {
                self.take(net, &way);
                self.settle(area);
                group.wires = vec![way];
                group.name = Some((text, end));
                return true;
            }
        }
        false
    }

    /// Whether nothing stands in an area and no wire runs through it.
    fn is_clear(&self, area: Area) -> bool {
        if self.areas.iter().any(|a| a.meets(area)) {
            return false;
        }
        let first = |v: f64| (v / STEP).floor() as i32;
        let last = |v: f64| (v / STEP).ceil() as i32;
        for y in first(area.top)..=last(area.bottom) {
            for x in first(area.left)..=last(area.right) {
                let spot = Spot { x, y };
                for way in [(1, 0), (0, 1)] {
                    let to = spot.plus(way.0, way.1);
                    let line = Area {
                        left: spot.place().x - 0.5,
                        top: spot.place().y - 0.5,
                        right: to.place().x + 0.5,
                        bottom: to.place().y + 0.5,
                    };
                    let wired = matches!(self.grid.line(spot, way), Owner::Net(_));
                    if wired && line.meets(area) {
                        return false;
                    }
                }
            }
        }
        true
    }

    fn can_take(&self, net: usize, way: &[Spot]) -> bool {
        let spots = dense(way);
        let lines = spots.windows(2).all(|p| {
            let step = (p[1].x - p[0].x, p[1].y - p[0].y);
            self.grid.may_use(p[0], step, net)
        });
        // Nothing of the net may touch the stub, or it were no stub.
        let fresh = spots
            .iter()
            .skip(2)
            .all(|s| self.grid.may_turn(*s, net) && self.grid.own(*s, net) == [false; 4]);
        lines && fresh && spots.iter().skip(1).all(|s| self.grid.may_turn(*s, net))
    }

    fn take(&mut self, net: usize, way: &[Spot]) {
        self.grid.take(net, &dense(way));
    }

    /// Nothing else may come here.
    fn settle(&mut self, area: Area) {
        self.areas.push(area);
        let kept: Vec<(Spot, (i32, i32), Owner)> = self.lines_in(area);
        self.grid.block(area);
        for (spot, way, owner) in kept {
            self.grid.own_line(spot, way, owner);
        }
    }

    fn lines_in(&self, area: Area) -> Vec<(Spot, (i32, i32), Owner)> {
        let area = area.grown(STEP);
        let first = |v: f64| (v / STEP).floor() as i32;
        let last = |v: f64| (v / STEP).ceil() as i32;
        let mut out = Vec::new();
        for y in first(area.top)..=last(area.bottom) {
            for x in first(area.left)..=last(area.right) {
                for way in WAYS.iter().take(2) {
                    let spot = Spot { x, y };
                    let owner = self.grid.line(spot, *way);
                    if matches!(owner, Owner::Net(_)) {
                        out.push((spot, *way, owner));
                    }
                }
            }
        }
        out
    }
}

/// All spots along a way of corners.
fn dense(way: &[Spot]) -> Vec<Spot> {
    let mut out: Vec<Spot> = way.first().copied().into_iter().collect();
    for pair in way.windows(2) {
        let (x, y) = (
            (pair[1].x - pair[0].x).signum(),
            (pair[1].y - pair[0].y).signum(),
        );
        let mut at = pair[0];
        while at != pair[1] {
            at = at.plus(x, y);
            out.push(at);
        }
    }
    out
}

/// A name at the end of a stub.
fn at_end(name: &str, end: Spot, side: Side) -> Text {
    let at = end.place();
    let (x, y, anchor) = match side {
        Side::Right => (at.x + 4.0, at.y + 4.0, Anchor::Start),
        Side::Left => (at.x - 4.0, at.y + 4.0, Anchor::End),
        Side::Up => (at.x, at.y - 5.0, Anchor::Middle),
        Side::Down => (at.x, at.y + 12.0, Anchor::Middle),
    };
    Text {
        says: name.to_owned(),
        role: TextRole::Net,
        at: Place { x, y },
        anchor,
    }
}

/// What a sign of ground covers.
pub(crate) fn sign_area(at: Spot) -> Area {
    let at = at.place();
    Area {
        left: at.x - 8.0,
        top: at.y,
        right: at.x + 8.0,
        bottom: at.y + 8.0,
    }
}

/// What the cross at an open pin covers.
pub(super) fn cross_area(at: Spot) -> Area {
    let at = at.place();
    Area {
        left: at.x,
        top: at.y,
        right: at.x,
        bottom: at.y,
    }
    .grown(4.0)
}
