//! A solved operating point as numbers alone, in buffers that are used again.

use crate::circuit::build::Owner;
use crate::circuit::element::volts;
use crate::circuit::netlist::Netlist;
use crate::circuit::operate::Settled;
use crate::circuit::{Fold, Mode};
use crate::model::Device;

/// The numbers of a [`crate::circuit::Point`], in the same order and without names.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Figures {
    /// Voltage of each net against ground; ground itself is left out.
    pub net_volts: Vec<f64>,
    /// Current into the first pin of each part; out of plus for cells and supplies.
    pub part_amps: Vec<f64>,
    /// Power that each part takes, negative for sources.
    pub part_watts: Vec<f64>,
    /// What each regulator is doing.
    pub modes: Vec<Option<Mode>>,
    /// Voltage across each load.
    pub load_volts: Vec<f64>,
    /// Current that each load takes.
    pub load_amps: Vec<f64>,
    /// Power that each load takes.
    pub load_watts: Vec<f64>,
    /// Whether each load is out of reset.
    pub awake: Vec<bool>,
    /// Converters asked for more than their source can give.
    pub folds: Vec<Fold>,
    /// Largest sum of currents into any net, ground included.
    pub kcl_residual_amps: f64,
    /// Newton steps taken.
    pub newton_steps: usize,
    /// All unknowns of the equations, to start a neighbouring point from.
    pub(crate) unknowns: Vec<f64>,
    /// Sums of the currents into the nets, ground last.
    sums: Vec<f64>,
}

impl Figures {
    pub(super) fn fill(&mut self, netlist: &Netlist, settled: &Settled) {
        let (x, system) = (&settled.solution.x, &settled.kept.system);
        let (parts, loads) = (netlist.parts.len(), netlist.loads.len());
        for (list, len) in [
            (&mut self.part_amps, parts),
            (&mut self.part_watts, parts),
            (&mut self.load_amps, loads),
            (&mut self.load_watts, loads),
            (&mut self.sums, system.nets + 1),
        ] {
            list.clear();
            list.resize(len, 0.0);
        }
        system.pin_currents(x, |owner, slot, net, amps| {
            let (first, watts) = match owner {
                Owner::Part(at) => (&mut self.part_amps[at], &mut self.part_watts[at]),
                Owner::Load(at) => (&mut self.load_amps[at], &mut self.load_watts[at]),
            };
            if slot == 0 {
                *first += amps;
            }
            *watts += volts(x, net) * amps;
            let last = self.sums.len() - 1;
            self.sums[net.min(last)] += amps;
        });
        for (placed, amps) in netlist.parts.iter().zip(&mut self.part_amps) {
            if matches!(placed.part.device, Device::Cell(_) | Device::Supply(_)) {
                *amps = -*amps;
            }
        }
        let level = |net: Option<usize>| net.map_or(0.0, |net| volts(x, net));
        let across = netlist.loads.iter();
        let across = across.map(|load| level(load.plus) - level(load.minus));
        self.load_volts.clear();
        self.load_volts.extend(across);
        self.net_volts.clear();
        self.net_volts.extend_from_slice(&x[..netlist.nets.len()]);
        self.modes.clone_from(&settled.modes);
        self.awake.clone_from(&settled.kept.flags.awake);
        self.folds.clone_from(&settled.folds);
        self.kcl_residual_amps = self.sums.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
        self.newton_steps = settled.steps;
        self.unknowns.clone_from(x);
    }
}
