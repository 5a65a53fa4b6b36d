//! The grid that wires run on: which of its lines are free, which belong to a net, and the cheapest way
//! from one part of a net to another.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use crate::draw::schematic::sheet::{Area, STEP, Spot};

/// Who a line or a crossing of the grid belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Owner {
    Nobody,
    /// Something that no wire may enter.
    Blocked,
    Net(usize),
}

/// The four ways on from a crossing.
pub(super) const WAYS: [(i32, i32); 4] = [(1, 0), (0, 1), (-1, 0), (0, -1)];

/// What a way costs: for each step, each bend and each wire that it crosses.
const STEP_COST: u32 = 2;
const BEND_COST: u32 = 7;
const CROSS_COST: u32 = 30;
/// Distance that wires keep from bodies and texts, in pixels.
const CLEAR: f64 = 2.0;

/// Lines and crossings of the drawing.
pub(super) struct Grid {
    from: Spot,
    wide: i32,
    tall: i32,
    /// Lines to the right of each crossing, and down from it.
    right: Vec<Owner>,
    down: Vec<Owner>,
    spots: Vec<Owner>,
    /// What the current search knows: its round, the cost and the direction before.
    reached: Vec<(u32, u32, u8)>,
    /// In which round a spot was last seen or wanted.
    seen: Vec<u32>,
    round: u32,
}

/// A way that was found: its spots from the start to the end, its cost and the wires that it crosses.
pub(super) struct Way {
    pub(super) spots: Vec<Spot>,
    pub(super) cost: u32,
    pub(super) crossed: u32,
}

impl Grid {
    pub(super) fn new(from: Spot, to: Spot) -> Self {
        let (wide, tall) = (to.x - from.x + 1, to.y - from.y + 1);
        let count = (wide * tall) as usize;
        Self {
            from,
            wide,
            tall,
            right: vec![Owner::Nobody; count],
            down: vec![Owner::Nobody; count],
            spots: vec![Owner::Nobody; count],
            reached: vec![(0, 0, 0); count * 4],
            seen: vec![0; count],
            round: 0,
        }
    }

    fn at(&self, spot: Spot) -> Option<usize> {
        let (x, y) = (spot.x - self.from.x, spot.y - self.from.y);
        let inside = (0..self.wide).contains(&x) && (0..self.tall).contains(&y);
        inside.then_some((y * self.wide + x) as usize)
    }

    fn spot(&self, at: usize) -> Spot {
        let at = at as i32;
        self.from.plus(at % self.wide, at / self.wide)
    }

    /// The owner of the line from a spot in a direction; blocked beyond the edge.
    pub(super) fn line(&self, spot: Spot, (x, y): (i32, i32)) -> Owner {
        let (first, list) = match (x, y) {
            (1, _) => (spot, &self.right),
            (-1, _) => (spot.plus(-1, 0), &self.right),
            (_, 1) => (spot, &self.down),
            _ => (spot.plus(0, -1), &self.down),
        };
        let (Some(at), Some(_)) = (self.at(first), self.at(spot.plus(x, y))) else {
            return Owner::Blocked;
        };
        list[at]
    }

    pub(super) fn own_line(&mut self, spot: Spot, (x, y): (i32, i32), owner: Owner) {
        let (first, list) = match (x, y) {
            (1, _) => (self.at(spot), &mut self.right),
            (-1, _) => (self.at(spot.plus(-1, 0)), &mut self.right),
            (_, 1) => (self.at(spot), &mut self.down),
            _ => (self.at(spot.plus(0, -1)), &mut self.down),
        };
        if let Some(at) = first {
            list[at] = owner;
        }
    }

    pub(super) fn own_spot(&mut self, spot: Spot, owner: Owner) {
        if let Some(at) = self.at(spot) {
            self.spots[at] = owner;
        }
    }

    /// No wire may enter an area.
    pub(super) fn block(&mut self, area: Area) {
        let area = area.grown(CLEAR);
        let first = |v: f64| (v / STEP).floor() as i32;
        let last = |v: f64| (v / STEP).ceil() as i32;
        for y in first(area.top)..=last(area.bottom) {
            for x in first(area.left)..=last(area.right) {
                let spot = Spot { x, y };
                let at = spot.place();
                let hit_x = |a: f64, b: f64| a < area.right && area.left < b;
                let hit_y = |a: f64, b: f64| a < area.bottom && area.top < b;
                if hit_x(at.x, at.x + STEP) && hit_y(at.y, at.y) {
                    self.own_line(spot, (1, 0), Owner::Blocked);
                }
                if hit_x(at.x, at.x) && hit_y(at.y, at.y + STEP) {
                    self.own_line(spot, (0, 1), Owner::Blocked);
                }
            }
        }
    }

    /// Directions in which another net leaves a spot.
    fn others(&self, spot: Spot, net: usize) -> [bool; 4] {
        WAYS.map(|way| matches!(self.line(spot, way), Owner::Net(n) if n != net))
    }

    /// Directions in which a net leaves a spot.
    pub(super) fn own(&self, spot: Spot, net: usize) -> [bool; 4] {
        WAYS.map(|way| self.line(spot, way) == Owner::Net(net))
    }

    /// Whether a wire of a net may end, turn or begin at a spot.
    pub(super) fn may_turn(&self, spot: Spot, net: usize) -> bool {
        let owner = self.at(spot).map_or(Owner::Blocked, |at| self.spots[at]);
        let free = owner == Owner::Nobody || owner == Owner::Net(net);
        free && self.others(spot, net) == [false; 4]
    }

    /// Whether a wire of a net may pass straight through a spot, and over how many others.
    fn passes(&self, spot: Spot, net: usize, (x, _): (i32, i32)) -> Option<u32> {
        let owner = self.at(spot).map_or(Owner::Blocked, |at| self.spots[at]);
        if owner != Owner::Nobody && owner != Owner::Net(net) {
            return None;
        }
        match self.others(spot, net) {
            [false, false, false, false] => Some(0),
            [true, false, true, false] if x == 0 => Some(1),
            [false, true, false, true] if x != 0 => Some(1),
            _ => None,
        }
    }

    /// Whether a net may use a line.
    pub(super) fn may_use(&self, spot: Spot, way: (i32, i32), net: usize) -> bool {
        let owner = self.line(spot, way);
        owner == Owner::Nobody || owner == Owner::Net(net)
    }

    /// Takes a straight wire for a net where all of it is free.
    pub(super) fn take_straight(&mut self, net: usize, from: Spot, to: Spot) -> bool {
        let way = ((to.x - from.x).signum(), (to.y - from.y).signum());
        if way.0 != 0 && way.1 != 0 {
            return false;
        }
        let count = (to.x - from.x).abs() + (to.y - from.y).abs();
        let spots: Vec<Spot> = (0..=count)
            .map(|n| from.plus(way.0 * n, way.1 * n))
            .collect();
        let lines = spots.iter().take(count as usize);
        let free = lines.clone().all(|s| self.may_use(*s, way, net));
        let inner = spots.iter().skip(1).take(spots.len().saturating_sub(2));
        let passes = inner.clone().all(|s| self.passes(*s, net, way).is_some());
        if !free || !passes || !self.may_turn(from, net) || !self.may_turn(to, net) {
            return false;
        }
        for spot in lines {
            self.own_line(*spot, way, Owner::Net(net));
        }
        true
    }

    /// Takes the lines along a way for a net.
    pub(super) fn take(&mut self, net: usize, spots: &[Spot]) {
        for pair in spots.windows(2) {
            let way = (pair[1].x - pair[0].x, pair[1].y - pair[0].y);
            self.own_line(pair[0], way, Owner::Net(net));
        }
    }

    /// All spots that a net's wires reach from some spots.
    pub(super) fn flood(&mut self, net: usize, starts: &[Spot]) -> Vec<Spot> {
        self.round += 1;
        let mut out: Vec<Spot> = Vec::new();
        let mut stack: Vec<Spot> = starts.to_vec();
        while let Some(spot) = stack.pop() {
            let Some(at) = self.at(spot).filter(|at| self.seen[*at] != self.round) else {
                continue;
            };
            self.seen[at] = self.round;
            out.push(spot);
            for (way, is_own) in WAYS.iter().zip(self.own(spot, net)) {
                if is_own {
                    stack.push(spot.plus(way.0, way.1));
                }
            }
        }
        out.sort_unstable();
        out
    }

    /// The cheapest way of a net from one of some spots to one of others, none dearer than a limit.
    pub(super) fn way(&mut self, net: usize, from: &[Spot], to: &[Spot], most: u32) -> Option<Way> {
        self.round += 1;
        for spot in to {
            if let Some(at) = self.at(*spot).filter(|_| self.may_turn(*spot, net)) {
                self.seen[at] = self.round;
            }
        }
        let beyond = beyond(to);
        // Least cost in the end, cost so far, state: a spot and the direction in which it was entered.
        let mut queue: BinaryHeap<Reverse<(u32, u32, usize)>> = BinaryHeap::new();
        for spot in from {
            let Some(at) = self.at(*spot).filter(|_| self.may_turn(*spot, net)) else {
                continue;
            };
            for way in 0..4 {
                if self.better(at * 4 + way, 0, 4) {
                    queue.push(Reverse((beyond(*spot), 0, at * 4 + way)));
                }
            }
        }
        while let Some(Reverse((least, cost, state))) = queue.pop() {
            if most < least {
                break;
            }
            if self.reached[state].1 < cost {
                continue;
            }
            let (at, entered) = (state / 4, state % 4);
            if self.seen[at] == self.round {
                return Some(self.unwind(state, net, cost));
            }
            let spot = self.spot(at);
            let begun = self.reached[state].2 == 4;
            let may_turn = self.may_turn(spot, net);
            for (turn, way) in WAYS.iter().enumerate() {
                let straight = turn == entered;
                if (!straight && !may_turn) || (turn + 2) % 4 == entered && !begun {
                    continue;
                }
                let next = spot.plus(way.0, way.1);
                if !self.may_use(spot, *way, net) {
                    continue;
                }
                let Some(crossed) = self.passes(next, net, *way) else {
                    continue;
                };
                let Some(next_at) = self.at(next) else {
                    continue;
                };
                let bend = if straight || begun { 0 } else { BEND_COST };
                let sum = cost + STEP_COST + bend + crossed * CROSS_COST;
                let next_state = next_at * 4 + turn;
                if self.better(next_state, sum, entered as u8) {
                    queue.push(Reverse((sum + beyond(next), sum, next_state)));
                }
            }
        }
        None
    }

    fn better(&mut self, state: usize, cost: u32, came: u8) -> bool {
        let known = &mut self.reached[state];
        if known.0 == self.round && known.1 <= cost {
            return false;
        }
        *known = (self.round, cost, came);
        true
    }

    fn unwind(&self, state: usize, net: usize, cost: u32) -> Way {
        let mut spots = vec![self.spot(state / 4)];
        let mut crossed = 0;
        let mut state = state;
        while self.reached[state].2 != 4 {
            let (at, entered) = (state / 4, state % 4);
            let way = WAYS[entered];
            let before = self.spot(at).plus(-way.0, -way.1);
            crossed += u32::from(self.others(before, net) != [false; 4]);
            spots.push(before);
            let Some(before_at) = self.at(before) else {
                break;
            };
            state = before_at * 4 + usize::from(self.reached[state].2);
        }
        spots.reverse();
        Way {
            spots,
            cost,
            crossed,
        }
    }
}

/// What a way from a spot to one of some others costs at least: that to the rectangle around them.
fn beyond(goals: &[Spot]) -> impl Fn(Spot) -> u32 + use<> {
    let range = |of: fn(&Spot) -> i32| {
        let all = goals.iter().map(of);
        (all.clone().min().unwrap_or(0), all.max().unwrap_or(0))
    };
    let (left, right) = range(|s| s.x);
    let (top, bottom) = range(|s| s.y);
    move |spot| {
        let x = (left - spot.x).max(spot.x - right).max(0);
        let y = (top - spot.y).max(spot.y - bottom).max(0);
        STEP_COST * (x + y).unsigned_abs()
    }
}
