//! A board at all the temperatures of a life, solved at three of them.
//!
//! What a board draws changes with temperature by leakages, which double per 10 K, and by junction
//! voltages and resistances, which are nearly straight. So between the coldest, the middle and the
//! warmest temperature every power and every rail is
//!
//! # Formula
//! ```text
//! P(V, T) = a(V) + b(V) T + c(V) 2^(T / 10 K)
//! ```
//! through the three, a rule that is linear in the data: rows of the ledger that add up at the three
//! add up at all. Up to three temperatures are solved themselves, and so are boards with several
//! cell parts.

use crate::circuit::{Circuit, NoPoint, Point, Situation};
use crate::numerics::math;
use crate::quantity::Temperature;
use crate::time::port::{
    Halt, Known, Port, Reading, Wanted, begin_tables, highest_volts, read_table,
};
use crate::time::schedule::Schedule;
use crate::time::site::{Seen, Site};
use crate::time::table::{Node, Table, Through};

/// Place of the middle reference between coldest and warmest: what leaks bends most where it is warm.
const MIDDLE: f64 = 0.62;

/// Which of the boards of a life.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Which {
    /// At a temperature of the course, by its place.
    Course(usize),
    /// At the temperature of a cold night.
    Night,
}

/// A board at every temperature of a life.
pub(crate) struct Ports<'c, 'f> {
    /// At the temperatures of the course, then at three reference temperatures where those are too
    /// many, then at that of a cold night.
    ports: Vec<Port<'c, 'f>>,
    /// By temperature of the course: what stands for it.
    blends: Vec<Option<Blend<'c>>>,
    /// Place of the first reference.
    references: usize,
    has_night: bool,
}

/// A board between reference temperatures.
struct Blend<'c> {
    /// Weight of each reference.
    weights: [f64; 3],
    /// Place of the nearest.
    nearest: usize,
    /// One table a joint state.
    tables: &'c mut Vec<Table>,
}

/// What is known of the boards of a life, kept for further lives of the same request.
#[derive(Debug, Clone, Default)]
pub(crate) struct KnownPorts {
    /// In the order of the ports.
    ports: Vec<Known>,
    /// By temperature of the course, where it stands between others.
    blends: Vec<Vec<Table>>,
}

impl<'c, 'f> Ports<'c, 'f> {
    pub(crate) fn new(
        circuit: &'c Circuit<'f>,
        base: &Situation,
        schedule: &Schedule,
        sites: &[Site],
        celsius: &[f64],
        night: Option<f64>,
        known: &'c mut KnownPorts,
    ) -> Self {
        let references = celsius.len();
        let (low, high) = (celsius[0], celsius[references - 1]);
        let at = [low, low + MIDDLE * (high - low), high];
        let is_blended = matches!((references - 1, sites), (3.., [_]));
        let mut all = celsius.to_vec();
        all.extend(at.iter().filter(|_| is_blended));
        all.extend(night);
        known.ports.resize_with(all.len(), Known::default);
        let ports = all.iter().zip(&mut known.ports);
        let ports = ports.map(|(&celsius, known)| {
            let ambient = Temperature::from_celsius(celsius);
            Port::new(circuit, base, schedule, ambient, sites, known)
        });
        let highest = highest_volts(circuit, sites);
        known.blends.resize_with(references, Vec::new);
        let blends = celsius.iter().zip(&mut known.blends).map(|(&c, tables)| {
            is_blended.then(|| {
                begin_tables(tables, highest, schedule.joints.len());
                Blend::new(at, c, tables)
            })
        });
        Self {
            ports: ports.collect(),
            blends: blends.collect(),
            references,
            has_night: night.is_some(),
        }
    }

    /// What happens in a joint state with the cells as they are.
    pub(crate) fn read(
        &mut self,
        which: Which,
        joint: usize,
        cells: (&[Site], &[Seen]),
        (through, wanted): (Through, Wanted),
        out: &mut Reading,
    ) -> Result<(), Halt> {
        let at = self.place(which);
        let blend = match which {
            Which::Course(at) => self.blends[at].as_mut(),
            Which::Night => None,
        };
        let ((Some(blend), [site]), [cell]) = ((blend, cells.0), cells.1) else {
            return self.ports[at].read(joint, cells.0, cells.1, through, wanted, out);
        };
        let refs = &mut self.ports[self.references..self.references + 3];
        let (weights, nearest) = (blend.weights, blend.nearest);
        let mut solve =
            |volts: f64, _: Option<&Node>| blended(refs, weights, nearest, joint, volts, site);
        let table = &mut blend.tables[joint];
        read_table(table, site, cell, (through, wanted), &mut solve, out)
    }

    /// The solved point of a joint state with the cells as they are.
    pub(crate) fn point(
        &mut self,
        which: Which,
        joint: usize,
        sites: &[Site],
        seen: &[Seen],
    ) -> Result<Point, NoPoint> {
        let at = self.place(which);
        self.ports[at].point(joint, sites, seen)
    }

    fn place(&self, which: Which) -> usize {
        match which {
            Which::Course(at) => at,
            Which::Night => self.ports.len() - 1,
        }
    }

    /// Whether one night is looked at besides.
    pub(crate) fn has_night(&self) -> bool {
        self.has_night
    }

    /// Whether temperatures are interpolated.
    pub(crate) fn is_blended(&self) -> bool {
        self.blends.iter().any(Option::is_some)
    }

    /// Operating points solved so far.
    pub(crate) fn solved(&self) -> usize {
        self.ports.iter().map(Port::solved).sum()
    }

    /// Tables that come by voltages of the cells at which no operating point was found.
    pub(crate) fn unsolved(&self) -> usize {
        let each = self.ports.iter().zip(&self.blends);
        let each = each.map(|(port, blend)| match blend {
            Some(blend) => blend.tables.iter().filter(|t| t.is_unsolved()).count(),
            None => port.unsolved(),
        });
        each.sum()
    }

    /// Whether an answer is cheap.
    pub(crate) fn is_tabulated(&self) -> bool {
        self.ports[0].is_tabulated()
    }

    /// How many of a reading's data are powers.
    pub(crate) fn powers(&self) -> usize {
        self.ports[0].powers()
    }
}

impl<'c> Blend<'c> {
    fn new(at: [f64; 3], celsius: f64, tables: &'c mut Vec<Table>) -> Self {
        let away = |k: &usize| (at[*k] - celsius).abs();
        let nearest = (0..3).min_by(|a, b| away(a).total_cmp(&away(b)));
        Self {
            weights: weights(at, celsius),
            nearest: nearest.unwrap_or(0),
            tables,
        }
    }
}

/// Weights of three temperatures that are exact for what is constant, straight, or doubles per 10 K.
fn weights(at: [f64; 3], celsius: f64) -> [f64; 3] {
    // Divided differences of the exponential leave the straight part out.
    let warm = |c: f64| math::exp2((c - at[0]) / 10.0) - 1.0;
    let straight = |c: f64| (c - at[0]) / (at[2] - at[0]);
    let bend = |c: f64| warm(c) - straight(c) * warm(at[2]);
    let middle = bend(celsius) / bend(at[1]);
    let last = straight(celsius) - middle * straight(at[1]);
    [1.0 - middle - last, middle, last]
}

/// A point between those of three temperatures.
fn blended(
    refs: &mut [Port],
    weights: [f64; 3],
    nearest: usize,
    joint: usize,
    volts: f64,
    site: &Site,
) -> Result<Node, NoPoint> {
    let mut nodes = Vec::with_capacity(refs.len());
    for port in refs {
        nodes.push(port.node_at(joint, volts, site)?);
    }
    let mut out = nodes[nearest].clone();
    out.unknowns.clear();
    // What has stopped at one temperature and runs at another is not mixed.
    if nodes.iter().any(|n| n.stopped != out.stopped) {
        return Ok(out);
    }
    let sum = |of: &dyn Fn(&Node) -> f64| -> f64 {
        nodes.iter().zip(weights).map(|(n, w)| w * of(n)).sum()
    };
    out.source_watts = sum(&|n| n.source_watts);
    for k in 0..out.data.len() {
        out.data[k] = sum(&|n| n.data[k]);
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_are_exact_for_leakages_and_for_what_is_straight() {
        let at = [-20.0, 12.0, 44.0];
        for celsius in [-20.0, -7.0, 3.0, 12.0, 30.0, 44.0] {
            let w = weights(at, celsius);
            for law in [
                &(|_| 1.0) as &dyn Fn(f64) -> f64,
                &|c| 3.0 - 0.2 * c,
                &|c| math::exp2(c / 10.0),
            ] {
                let sum: f64 = at.iter().zip(w).map(|(&c, w)| w * law(c)).sum();
                assert!((sum - law(celsius)).abs() < 1e-12, "{celsius}");
            }
        }
    }
}
