//! The equations of a circuit, element by element.
//!
//! Each element says which current flows into each of its pins and which equations of its own hold,
//! both with derivatives. The same lines serve the Newton step and the currents reported.

use crate::circuit::netlist::{GROUND, Net};
use crate::circuit::pass::PassLaw;
use crate::circuit::regulation::RegulatorTerms;
use crate::device::{CellModel, ChannelLaw, Junction};
use crate::model::Law;

/// Takes currents and equations; derivatives are pairs of unknown and slope.
pub(crate) trait Sink {
    /// A current into pin `slot` of the element's owner, which is on `net`.
    fn current(&mut self, slot: usize, net: Net, amps: f64, slopes: &[(usize, f64)]);
    /// An equation `value = 0` in the row of an unknown.
    fn row(&mut self, row: usize, value: f64, slopes: &[(usize, f64)]);
}

/// A pin of the owner and the net it is on.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Tap {
    pub(crate) slot: usize,
    pub(crate) net: Net,
}

/// One element; `i`, `u` and other plain indices name unknowns.
#[derive(Debug)]
pub(crate) enum Element<'f> {
    /// Ohm's law with a conductance.
    Conductance { a: Tap, b: Tap, siemens: f64 },
    /// `va - vb - ohms i = 0`, for low resistances and closed contacts.
    Branch { a: Tap, b: Tap, ohms: f64, i: usize },
    /// A string of cells, or one held at its terminals.
    Cells {
        plus: Tap,
        minus: Tap,
        cells: Vec<CellTerms<'f>>,
        contact_ohms: f64,
        i: usize,
    },
    /// A source of fixed voltage behind a resistance.
    Source {
        plus: Tap,
        minus: Tap,
        volts: f64,
        ohms: f64,
        i: usize,
    },
    /// A supply that only gives, up to a limit.
    Supply {
        plus: Tap,
        minus: Tap,
        volts: f64,
        ohms: f64,
        limit_amps: f64,
        i: usize,
    },
    /// Pins that are not connected inside: the current is zero.
    Open { plus: Tap, minus: Tap, i: usize },
    /// A junction behind its series resistance.
    Diode {
        anode: Tap,
        cathode: Tap,
        junction: Junction,
        u: usize,
    },
    /// A channel; `sign` is -1 for a p-channel part.
    Channel {
        drain: Tap,
        source: Tap,
        gate: Tap,
        law: ChannelLaw,
        sign: f64,
        i: usize,
    },
    /// The channel of a load switch or an ideal diode.
    Pass {
        a: Tap,
        b: Tap,
        law: PassLaw,
        i: usize,
    },
    /// A current that fades below a small voltage: quiescent, bias and sleep currents.
    Drain {
        a: Tap,
        b: Tap,
        amps: f64,
        fades_below_volts: f64,
    },
    /// A load of any law that scales to zero below a voltage.
    Load {
        plus: Tap,
        minus: Tap,
        law: Law,
        scale: f64,
        fades_below_volts: f64,
    },
    /// A regulator that is on, or off with its outputs open.
    Regulator(Box<RegulatorTerms<'f>>),
}

/// One cell of a string, its state already worked in: `v = emf - ohms i - activation(i)`.
#[derive(Debug)]
pub(crate) struct CellTerms<'f> {
    pub(crate) model: &'f CellModel,
    pub(crate) emf_volts: f64,
    pub(crate) ohms: f64,
    /// 1, or -1 for a cell put in backwards.
    pub(crate) sign: f64,
}

/// Difference below which giving and not giving are the same.
pub(crate) const TIE: f64 = 1e-9;

pub(crate) fn volts(x: &[f64], net: Net) -> f64 {
    if net == GROUND { 0.0 } else { x[net] }
}

impl Element<'_> {
    /// Gives all currents and equations at `x`.
    pub(crate) fn eval(&self, x: &[f64], sink: &mut dyn Sink) {
        match self {
            Self::Conductance { a, b, siemens } => eval_conductance(x, sink, (*a, *b), *siemens),
            Self::Branch { a, b, ohms, i } => eval_branch(x, sink, (*a, *b), *ohms, *i),
            Self::Cells {
                plus,
                minus,
                cells,
                contact_ohms,
                i,
            } => eval_cells(x, sink, (*plus, *minus), cells, *contact_ohms, *i),
            Self::Source {
                plus,
                minus,
                volts,
                ohms,
                i,
            } => eval_source(x, sink, (*plus, *minus), (*volts, *ohms), *i),
            Self::Supply {
                plus,
                minus,
                volts,
                ohms,
                limit_amps,
                i,
            } => eval_supply(x, sink, (*plus, *minus), (*volts, *ohms, *limit_amps), *i),
            Self::Open { plus, minus, i } => {
                through(sink, *minus, *plus, x[*i], &[(*i, 1.0)]);
                sink.row(*i, x[*i], &[(*i, 1.0)]);
            }
            Self::Diode {
                anode,
                cathode,
                junction,
                u,
            } => eval_diode(x, sink, (*anode, *cathode), junction, *u),
            Self::Channel {
                drain,
                source,
                gate,
                law,
                sign,
                i,
            } => eval_channel(x, sink, [*drain, *source, *gate], law, *sign, *i),
            Self::Drain {
                a,
                b,
                amps,
                fades_below_volts,
            } => {
                let law = |v| {
                    let (share, slope) = fade(v, *fades_below_volts);
                    (amps * share, amps * slope)
                };
                eval_between(x, sink, (*a, *b), law);
            }
            Self::Load {
                plus,
                minus,
                law,
                scale,
                fades_below_volts,
            } => {
                let law = |v| {
                    let (amps, slope) = load_amps(law, v, *fades_below_volts);
                    (scale * amps, scale * slope)
                };
                eval_between(x, sink, (*plus, *minus), law);
            }
            Self::Pass { a, b, law, i } => law.eval(x, sink, (*a, *b), *i),
            Self::Regulator(terms) => terms.eval(x, sink),
        }
    }
}

/// A current into pin `a` and out of pin `b`.
pub(crate) fn through(sink: &mut dyn Sink, a: Tap, b: Tap, amps: f64, slopes: &[(usize, f64)]) {
    sink.current(a.slot, a.net, amps, slopes);
    let mut back = [(GROUND, 0.0); 6];
    for (to, from) in back.iter_mut().zip(slopes) {
        *to = (from.0, -from.1);
    }
    sink.current(b.slot, b.net, -amps, &back[..slopes.len()]);
}

/// 1 above a voltage, falling to 0 in proportion below it.
pub(crate) fn fade(v: f64, below: f64) -> (f64, f64) {
    if v >= below {
        (1.0, 0.0)
    } else {
        (v / below, 1.0 / below)
    }
}

/// Current of a load law and its slope; proportional to the voltage below `fades_below`.
pub(crate) fn load_amps(law: &Law, v: f64, fades_below: f64) -> (f64, f64) {
    match law {
        Law::Resistance(ohms) => (v / ohms.si(), 1.0 / ohms.si()),
        Law::Current(amps) => {
            let (share, slope) = fade(v, fades_below);
            (amps.si() * share, amps.si() * slope)
        }
        Law::Power(watts) if v >= fades_below => (watts.si() / v, -watts.si() / (v * v)),
        Law::Power(watts) => {
            let siemens = watts.si() / (fades_below * fades_below);
            (v * siemens, siemens)
        }
    }
}

/// A current that follows from the voltage between two pins, with its slope.
fn eval_between(
    x: &[f64],
    sink: &mut dyn Sink,
    (a, b): (Tap, Tap),
    law: impl Fn(f64) -> (f64, f64),
) {
    let (amps, slope) = law(volts(x, a.net) - volts(x, b.net));
    through(sink, a, b, amps, &[(a.net, slope), (b.net, -slope)]);
}

fn eval_conductance(x: &[f64], sink: &mut dyn Sink, (a, b): (Tap, Tap), siemens: f64) {
    eval_between(x, sink, (a, b), |v| (siemens * v, siemens));
}

fn eval_branch(x: &[f64], sink: &mut dyn Sink, (a, b): (Tap, Tap), ohms: f64, i: usize) {
    through(sink, a, b, x[i], &[(i, 1.0)]);
    let value = volts(x, a.net) - volts(x, b.net) - ohms * x[i];
    sink.row(i, value, &[(a.net, 1.0), (b.net, -1.0), (i, -ohms)]);
}

fn eval_source(
    x: &[f64],
    sink: &mut dyn Sink,
    (plus, minus): (Tap, Tap),
    (emf, ohms): (f64, f64),
    i: usize,
) {
    through(sink, minus, plus, x[i], &[(i, 1.0)]);
    let value = volts(x, plus.net) - volts(x, minus.net) - emf + ohms * x[i];
    sink.row(i, value, &[(plus.net, 1.0), (minus.net, -1.0), (i, ohms)]);
}

fn eval_cells(
    x: &[f64],
    sink: &mut dyn Sink,
    (plus, minus): (Tap, Tap),
    cells: &[CellTerms],
    contact_ohms: f64,
    i: usize,
) {
    let amps = x[i];
    through(sink, minus, plus, amps, &[(i, 1.0)]);
    let mut value = volts(x, plus.net) - volts(x, minus.net) + contact_ohms * amps;
    let mut slope = contact_ohms;
    for cell in cells {
        let (activation, activation_slope) = cell.model.activation_volts(cell.sign * amps);
        value -= cell.sign * (cell.emf_volts - activation) - cell.ohms * amps;
        slope += cell.ohms + activation_slope;
    }
    sink.row(i, value, &[(plus.net, 1.0), (minus.net, -1.0), (i, slope)]);
}

/// Off, giving and limiting in one complementarity: `min(i, max(v - E + R i, i - limit)) = 0`.
fn eval_supply(
    x: &[f64],
    sink: &mut dyn Sink,
    (plus, minus): (Tap, Tap),
    (emf, ohms, limit): (f64, f64, f64),
    i: usize,
) {
    through(sink, minus, plus, x[i], &[(i, 1.0)]);
    let gives = volts(x, plus.net) - volts(x, minus.net) - emf + ohms * x[i];
    let limits = x[i] - limit;
    // With nothing connected both hold; giving is the one that fixes the voltage.
    let (value, by_volts, by_amps) = if x[i] < gives.max(limits) - TIE {
        (x[i], 0.0, 1.0)
    } else if gives >= limits {
        (gives, 1.0, ohms)
    } else {
        (limits, 0.0, 1.0)
    };
    let slopes = [(plus.net, by_volts), (minus.net, -by_volts), (i, by_amps)];
    sink.row(i, value, &slopes);
}

fn eval_diode(
    x: &[f64],
    sink: &mut dyn Sink,
    (anode, cathode): (Tap, Tap),
    junction: &Junction,
    u: usize,
) {
    let (amps, slope) = junction.amps(x[u]);
    let g = junction.leak_siemens;
    let v = volts(x, anode.net) - volts(x, cathode.net);
    through(
        sink,
        anode,
        cathode,
        amps + g * v,
        &[(u, slope), (anode.net, g), (cathode.net, -g)],
    );
    let rs = junction.series_ohms;
    let slopes = [
        (anode.net, 1.0),
        (cathode.net, -1.0),
        (u, -1.0 - rs * slope),
    ];
    sink.row(u, v - x[u] - rs * amps, &slopes);
}

/// The channel sees the drain behind the series resistance; its own current is an unknown.
fn eval_channel(
    x: &[f64],
    sink: &mut dyn Sink,
    [drain, source, gate]: [Tap; 3],
    law: &ChannelLaw,
    sign: f64,
    i: usize,
) {
    through(sink, drain, source, x[i], &[(i, 1.0)]);
    let inner = volts(x, drain.net) - law.series_ohms * x[i];
    let (vg, vs) = (sign * volts(x, gate.net), sign * volts(x, source.net));
    let (amps, [dg, dd, ds]) = law.amps(vg, sign * inner, vs);
    let value = x[i] - sign * amps;
    let slopes = [
        (gate.net, -dg),
        (drain.net, -dd),
        (source.net, -ds),
        (i, 1.0 + dd * law.series_ohms),
    ];
    sink.row(i, value, &slopes);
}

impl Element<'_> {
    /// The unknowns that this element brings.
    pub(crate) fn own_unknowns(&self) -> Vec<usize> {
        match self {
            Self::Branch { i, .. }
            | Self::Cells { i, .. }
            | Self::Source { i, .. }
            | Self::Supply { i, .. }
            | Self::Open { i, .. }
            | Self::Channel { i, .. }
            | Self::Pass { i, .. } => vec![*i],
            Self::Diode { u, .. } => vec![*u],
            Self::Regulator(t) => {
                let mut own = vec![t.ip, t.io];
                own.extend(t.inductor.iter().flat_map(|(il, level)| [*il, *level]));
                own
            }
            Self::Conductance { .. } | Self::Drain { .. } | Self::Load { .. } => Vec::new(),
        }
    }
}
