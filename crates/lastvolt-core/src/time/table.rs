//! A board against the voltage at its cells' terminals, in one joint state of the loads.
//!
//! Depth and resistance of the cell do not enter, so the points are solved once for a whole life,
//! and only where the life comes by. Between three neighbouring points every power and every rail is
//! the parabola through them: a rule that is linear in the data, so that lines of the ledger that add
//! up at the points add up everywhere. A change of mode is located and both its sides are kept.

use crate::circuit::{Mode, NoPoint};
use crate::time::panel::{Panel, Source};
use crate::time::port::Wanted;

/// Panels across the whole range before any is divided.
const PANELS: usize = 10;
/// Lowest voltage as a share of the highest.
const LOWEST_SHARE: f64 = 0.02;
/// Width to which a change of mode is located, as a share of the highest voltage.
const EDGE_SHARE: f64 = 3e-5;
/// A step of Newton's to a meeting point that is the last, as a share of the highest voltage.
const NEAR_SHARE: f64 = 1e-8;
/// How often a panel is halved at most.
const MOST_HALVINGS: usize = 6;
/// Largest error of a power, as a share of it, before a panel is halved.
const POWER_ERROR: f64 = 2e-5;
/// Largest error of a rail in volts before a panel is halved.
const RAIL_ERROR: f64 = 1e-4;

/// The place of no panel.
const NOWHERE: (usize, usize) = (0, usize::MAX);

/// One solved point.
#[derive(Debug, Clone)]
pub(crate) struct Node {
    /// Voltage at the terminals of the cell part.
    pub(crate) volts: f64,
    /// Power out of the terminals.
    pub(crate) source_watts: f64,
    /// Power of each part, then of each load; then the rails.
    pub(crate) data: Vec<f64>,
    /// How many of the data are powers.
    pub(crate) powers: usize,
    pub(crate) modes: Vec<Option<Mode>>,
    pub(crate) awake: Vec<bool>,
    /// What has given up here, as a place among parts or loads.
    pub(crate) stopped: Option<Stopped>,
    /// All unknowns of the equations, to start a point nearby from.
    pub(crate) unknowns: Vec<f64>,
}

/// What becomes of a board that has given up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) enum Through {
    /// It stops, and there is no answer.
    #[default]
    Stops,
    /// It goes on draining the cell: held at the voltage where it gives up while the cell can lift it
    /// there, and drawing what it then draws below.
    Drains,
}

/// What gives up when a board stops.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Stopped {
    /// A converter, by its place among the parts.
    Converter(usize),
    /// A load falls into reset, by its place among the loads.
    Load(usize),
    /// The cell gives less than the board asks for.
    Cell,
}

/// The board in one joint state.
#[derive(Debug, Clone)]
pub(crate) struct Table {
    low: f64,
    high: f64,
    nodes: Vec<Node>,
    /// Points at the borders of the first panels.
    borders: Vec<Option<usize>>,
    panels: Vec<Option<Vec<Panel>>>,
    /// In which of the first panels no operating point was found somewhere.
    unsolved: [bool; PANELS],
    /// Width of the first panels.
    width: f64,
    /// Where the last answer was found.
    last_volts: f64,
    last_place: (usize, usize),
    /// Whether a life has come by a panel in which no operating point was found somewhere.
    is_unsolved: bool,
}

/// Where cell and board agree.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Meeting {
    pub(crate) volts: f64,
    pub(crate) amps: f64,
    place: (usize, usize),
}

/// Whether cell and board agree.
pub(crate) enum Meets {
    /// They do.
    At(Meeting),
    /// They do not, by how many volts, and what gives up.
    Never(f64, Stopped),
}

/// Solves one point, starting from one nearby at which the board runs.
pub(crate) type Solve<'a> = dyn FnMut(f64, Option<&Node>) -> Result<Node, NoPoint> + 'a;

impl Table {
    /// A table for terminal voltages up to `high`.
    pub(crate) fn new(high: f64) -> Self {
        Self {
            low: high * LOWEST_SHARE,
            high,
            nodes: Vec::new(),
            borders: vec![None; PANELS + 1],
            panels: vec![None; PANELS],
            unsolved: [false; PANELS],
            width: (high - high * LOWEST_SHARE) / PANELS as f64,
            last_volts: f64::NAN,
            last_place: NOWHERE,
            is_unsolved: false,
        }
    }

    /// Forgets the last life. The points stay: they do not hang on what was asked.
    pub(crate) fn begin(&mut self) {
        self.last_volts = f64::NAN;
        self.last_place = NOWHERE;
        self.is_unsolved = false;
    }

    /// Whether a life has come by voltages at which no operating point was found.
    pub(crate) fn is_unsolved(&self) -> bool {
        self.is_unsolved
    }

    /// Highest voltage of the table.
    pub(crate) fn high(&self) -> f64 {
        self.high
    }

    /// The highest voltage at which cell and board agree, on the running branch.
    pub(crate) fn meet(
        &mut self,
        source: &Source,
        through: Through,
        solve: &mut Solve,
    ) -> Result<Meets, NoPoint> {
        if let Some(found) = self.newton(source, through, solve)? {
            self.last_volts = found.volts;
            return Ok(Meets::At(found));
        }
        let found = match self.scan(source, through, solve)? {
            Meets::Never(..) if through == Through::Drains => Meets::At(self.lowest(source)),
            found => found,
        };
        if let Meets::At(meeting) = &found {
            self.last_volts = meeting.volts;
        }
        Ok(found)
    }

    /// The point at a voltage, between those that are solved.
    pub(crate) fn at(&mut self, volts: f64, solve: &mut Solve) -> Result<Node, NoPoint> {
        let outer = self.first_panel(volts);
        self.build(outer, solve)?;
        let inner = self.panels[outer].as_deref().unwrap_or(&[]);
        let at = inner.iter().position(|p| volts <= p.high);
        let place = (outer, at.unwrap_or(inner.len().saturating_sub(1)));
        let Some(panel) = self.panel(place) else {
            return solve(volts, None);
        };
        let near_low = volts - panel.low < panel.high - volts;
        let near = panel.nodes[if near_low { 0 } else { 2 }];
        let (watts, meeting) = (
            panel.source_watts(volts).0,
            Meeting {
                volts,
                amps: 0.0,
                place,
            },
        );
        let mut node = self.nodes[near].clone();
        self.read(&meeting, Wanted::Powers, &mut node.data);
        self.read(&meeting, Wanted::Rails, &mut node.data);
        Ok(Node {
            volts,
            source_watts: watts,
            ..node
        })
    }

    /// The end of the table, for a cell that nothing in it meets.
    fn lowest(&self, source: &Source) -> Meeting {
        let asked = self
            .panel((0, 0))
            .map_or(0.0, |p| p.source_watts(self.low).0);
        let given = (source.volts - self.low) / source.ohms.max(1e-6);
        Meeting {
            volts: self.low,
            amps: given.clamp(0.0, (asked / self.low).max(0.0)),
            place: (0, 0),
        }
    }

    /// Powers or rails where cell and board agree.
    pub(crate) fn read(&self, at: &Meeting, wanted: Wanted, out: &mut Vec<f64>) {
        let Some(panel) = self.panel(at.place) else {
            return;
        };
        let w = panel.weights(at.volts);
        let [a, b, c] = panel.nodes.map(|n| &self.nodes[n]);
        let all = a.data.len();
        out.resize(all, 0.0);
        let range = match wanted {
            Wanted::Powers => 0..a.powers,
            Wanted::Rails => a.powers..all,
        };
        let [a, b, c] = [a, b, c].map(|node| &node.data[range.clone()]);
        for (((out, a), b), c) in out[range.clone()].iter_mut().zip(a).zip(b).zip(c) {
            *out = w[0] * a + w[1] * b + w[2] * c;
        }
    }

    fn panel(&self, place: (usize, usize)) -> Option<&Panel> {
        self.panels[place.0].as_ref()?.get(place.1)
    }

    fn border(&self, at: usize) -> f64 {
        self.low + self.width * at as f64
    }

    fn first_panel(&self, volts: f64) -> usize {
        let at = (volts - self.low) / self.width;
        if at <= 0.0 {
            0
        } else {
            (at as usize).min(PANELS - 1)
        }
    }

    /// Newton's steps from the last answer.
    fn newton(
        &mut self,
        source: &Source,
        through: Through,
        solve: &mut Solve,
    ) -> Result<Option<Meeting>, NoPoint> {
        let mut volts = self.last_volts;
        if volts.is_nan() {
            return Ok(None);
        }
        let near_volts = NEAR_SHARE * self.high;
        for _ in 0..9 {
            let Some(panel) = self.panel_at(volts, solve)? else {
                return Ok(None);
            };
            let stops = panel.stopped.is_some() && through == Through::Stops;
            if stops || volts < panel.low {
                return Ok(None);
            }
            let (excess, slope) = panel.excess(source, volts);
            if slope < 0.02 {
                return Ok(None);
            }
            let step = excess / slope;
            volts -= step;
            // The next step would be of the order of this one's square.
            if step.abs() <= near_volts {
                let amps = panel.source_watts(volts).0 / volts;
                let place = self.last_place;
                return Ok(Some(Meeting { volts, amps, place }));
            }
        }
        Ok(None)
    }

    /// The panel of a voltage, which is mostly the last one.
    fn panel_at(&mut self, volts: f64, solve: &mut Solve) -> Result<Option<&Panel>, NoPoint> {
        let last = self.panel(self.last_place);
        if last.is_none_or(|last| volts <= last.low || last.high < volts) {
            let outer = self.first_panel(volts);
            // Built where it is missing, so that the answer does not hang on what was asked before.
            self.build(outer, solve)?;
            let panels = self.panels[outer].as_deref().unwrap_or(&[]);
            self.last_place = (outer, panels.partition_point(|p| p.high < volts));
        }
        Ok(self.panel(self.last_place))
    }

    /// Looks from the open cell downwards, or upwards where the board pushes current into it.
    fn scan(
        &mut self,
        source: &Source,
        through: Through,
        solve: &mut Solve,
    ) -> Result<Meets, NoPoint> {
        let start = source.volts.clamp(self.low, self.high);
        let outer = self.first_panel(start);
        self.build(outer, solve)?;
        let inner = self.panels[outer].as_ref().map_or(0, |p| {
            p.iter()
                .position(|p| start <= p.high)
                .unwrap_or(p.len().saturating_sub(1))
        });
        let first = self.panel((outer, inner));
        let charging = first.is_some_and(|p| {
            p.stopped.is_none() && p.low <= start && p.excess(source, start).0 < 0.0
        });
        if charging {
            self.scan_up(source, start, (outer, inner), solve)
        } else {
            self.scan_down(source, start, (outer, inner), through, solve)
        }
    }

    fn scan_down(
        &mut self,
        source: &Source,
        start: f64,
        place: (usize, usize),
        through: Through,
        solve: &mut Solve,
    ) -> Result<Meets, NoPoint> {
        let mut above = start;
        let mut short = f64::INFINITY;
        let mut inner = place.1;
        for outer in (0..=place.0).rev() {
            self.build(outer, solve)?;
            let panels = self.panels[outer].as_deref().unwrap_or(&[]);
            if outer < place.0 {
                inner = panels.len().saturating_sub(1);
            }
            for at in (0..=inner.min(panels.len().saturating_sub(1))).rev() {
                let Some(panel) = panels.get(at) else {
                    continue;
                };
                if let (Some(what), Through::Stops) = (panel.stopped, through) {
                    return Ok(Meets::Never(shortage(short, source, above), what));
                }
                match panel.cross_down(source, above.min(panel.high), &mut short) {
                    Some(volts) => {
                        let amps = panel.source_watts(volts).0 / volts;
                        let place = (outer, at);
                        return Ok(Meets::At(Meeting { volts, amps, place }));
                    }
                    None => above = panel.low,
                }
            }
        }
        Ok(Meets::Never(shortage(short, source, above), Stopped::Cell))
    }

    fn scan_up(
        &mut self,
        source: &Source,
        start: f64,
        place: (usize, usize),
        solve: &mut Solve,
    ) -> Result<Meets, NoPoint> {
        let mut below = start;
        for outer in place.0..PANELS {
            self.build(outer, solve)?;
            let panels = self.panels[outer].as_deref().unwrap_or(&[]);
            let first = if outer == place.0 { place.1 } else { 0 };
            for (at, panel) in panels.iter().enumerate().skip(first) {
                if panel.excess(source, panel.high).0 < 0.0 {
                    below = panel.high;
                    continue;
                }
                let volts = panel.root(source, below.max(panel.low), panel.high);
                let amps = panel.source_watts(volts).0 / volts;
                let place = (outer, at);
                return Ok(Meets::At(Meeting { volts, amps, place }));
            }
        }
        Ok(Meets::Never(0.0, Stopped::Cell))
    }

    /// Solves the points of one of the first panels and divides it where it bends.
    fn build(&mut self, outer: usize, solve: &mut Solve) -> Result<(), NoPoint> {
        if self.panels[outer].is_none() {
            self.solve_panel(outer, solve)?;
        }
        self.is_unsolved |= self.unsolved[outer];
        Ok(())
    }

    #[cold]
    fn solve_panel(&mut self, outer: usize, solve: &mut Solve) -> Result<(), NoPoint> {
        let low = self.border_node(outer, solve)?;
        let high = self.border_node(outer + 1, solve)?;
        let mut panels = Vec::new();
        self.fill(low, high, None, 0, solve, &mut panels)?;
        self.unsolved[outer] = panels.iter().any(|p| p.stopped == Some(Stopped::Cell));
        self.panels[outer] = Some(panels);
        Ok(())
    }

    fn border_node(&mut self, at: usize, solve: &mut Solve) -> Result<usize, NoPoint> {
        if let Some(node) = self.borders[at] {
            return Ok(node);
        }
        let node = self.add(self.border(at), None, solve)?;
        self.borders[at] = Some(node);
        Ok(node)
    }

    fn add(
        &mut self,
        volts: f64,
        near: Option<usize>,
        solve: &mut Solve,
    ) -> Result<usize, NoPoint> {
        let node = solve(volts, near.map(|near| &self.nodes[near]))?;
        self.nodes.push(node);
        Ok(self.nodes.len() - 1)
    }

    fn between(&mut self, a: usize, b: usize, solve: &mut Solve) -> Result<usize, NoPoint> {
        let volts = f64::midpoint(self.nodes[a].volts, self.nodes[b].volts);
        let near = [b, a].into_iter().find(|&node| !self.is_stopped(node));
        self.add(volts, near, solve)
    }

    fn fill(
        &mut self,
        low: usize,
        high: usize,
        middle: Option<usize>,
        halvings: usize,
        solve: &mut Solve,
        panels: &mut Vec<Panel>,
    ) -> Result<(), NoPoint> {
        if self.nodes[high].volts - self.nodes[low].volts <= 2.0 * EDGE_SHARE * self.high
            || (self.is_stopped(low) && self.is_stopped(high))
        {
            panels.push(self.straight(low, high));
            return Ok(());
        }
        let middle = match middle {
            Some(middle) => middle,
            None => self.between(low, high, solve)?,
        };
        if self.alike(low, middle) && self.alike(middle, high) {
            let quarters = [
                self.between(low, middle, solve)?,
                self.between(middle, high, solve)?,
            ];
            let whole = self.parabola(low, middle, high);
            let smooth = quarters
                .iter()
                .all(|&q| self.alike(low, q) && self.fits(&whole, q));
            if smooth || halvings >= MOST_HALVINGS {
                panels.push(self.parabola(low, quarters[0], middle));
                panels.push(self.parabola(middle, quarters[1], high));
                return Ok(());
            }
            self.fill(low, middle, Some(quarters[0]), halvings + 1, solve, panels)?;
            return self.fill(middle, high, Some(quarters[1]), halvings + 1, solve, panels);
        }
        for (a, b) in [(low, middle), (middle, high)] {
            if self.alike(a, b) {
                self.fill(a, b, None, halvings + 1, solve, panels)?;
            } else {
                let (below, above) = self.edge(a, b, solve)?;
                self.fill(a, below, None, halvings + 1, solve, panels)?;
                panels.push(self.straight(below, above));
                self.fill(above, b, None, halvings + 1, solve, panels)?;
            }
        }
        Ok(())
    }

    /// Two points close to each other on both sides of a change of mode.
    fn edge(
        &mut self,
        low: usize,
        high: usize,
        solve: &mut Solve,
    ) -> Result<(usize, usize), NoPoint> {
        let (mut low, mut high) = (low, high);
        while self.nodes[high].volts - self.nodes[low].volts > EDGE_SHARE * self.high {
            let middle = self.between(low, high, solve)?;
            if self.alike(middle, high) {
                high = middle;
            } else {
                low = middle;
            }
        }
        Ok((low, high))
    }

    fn is_stopped(&self, node: usize) -> bool {
        self.nodes[node].stopped.is_some()
    }

    fn alike(&self, a: usize, b: usize) -> bool {
        let (a, b) = (&self.nodes[a], &self.nodes[b]);
        a.modes == b.modes && a.awake == b.awake
    }

    fn fits(&self, panel: &Panel, node: usize) -> bool {
        let node = &self.nodes[node];
        let w = panel.weights(node.volts);
        let [a, b, c] = panel.nodes.map(|n| &self.nodes[n]);
        let watts = w[0] * a.source_watts + w[1] * b.source_watts + w[2] * c.source_watts;
        let close =
            (watts - node.source_watts).abs() <= POWER_ERROR * node.source_watts.abs() + 1e-11;
        close
            && (node.powers..node.data.len()).all(|k| {
                let volts = w[0] * a.data[k] + w[1] * b.data[k] + w[2] * c.data[k];
                (volts - node.data[k]).abs() <= RAIL_ERROR
            })
    }

    fn parabola(&self, low: usize, middle: usize, high: usize) -> Panel {
        self.with([low, middle, high], false)
    }

    fn straight(&self, low: usize, high: usize) -> Panel {
        self.with([low, low, high], true)
    }

    fn with(&self, nodes: [usize; 3], straight: bool) -> Panel {
        let stopped = nodes.iter().rev().find_map(|&n| self.nodes[n].stopped);
        Panel {
            low: self.nodes[nodes[0]].volts,
            high: self.nodes[nodes[2]].volts,
            nodes,
            watts: nodes.map(|n| self.nodes[n].source_watts),
            straight,
            stopped,
        }
    }
}

/// By how much the cell misses the board: at the best voltage that was looked at.
fn shortage(short: f64, source: &Source, above: f64) -> f64 {
    if short.is_finite() {
        short
    } else {
        (above - source.volts).abs()
    }
}

#[cfg(test)]
#[path = "table_tests.rs"]
mod tests;
