//! The equations of a regulator: its power balance, and the one of its limits that binds.
//!
//! # Formula
//! ```text
//! Vin Iin = (1 + a) Vout Iout + Rpath IL^2 + Vin Iq,in + Vout Iq,out
//! min(Iout, max(feedback, dropout, limit, fold)) = 0
//! ```
//! The quiescent current at the input is a current of its own beside the power path.

use crate::circuit::element::{Sink, TIE, Tap, fade, through, volts};
use crate::circuit::netlist::Net;
use crate::device::{Junction, Loss, Regulator, Topology, WhenOff};
use crate::numerics::math;

/// A regulator with its nets and unknowns.
#[derive(Debug)]
pub(crate) struct RegulatorTerms<'f> {
    pub(crate) device: &'f Regulator,
    /// What the sensing pin is held at.
    pub(crate) set_volts: f64,
    pub(crate) on: bool,
    pub(crate) pass: bool,
    /// Taken to give nothing; whether that holds is checked afterwards.
    pub(crate) idle: bool,
    pub(crate) supply: Tap,
    pub(crate) gnd: Tap,
    /// Where power comes in: `in`, or `sw` of a step-up converter.
    pub(crate) power_in: Tap,
    /// Where power goes out: `out`, or `sw` of a step-down converter.
    pub(crate) power_out: Tap,
    /// Where the output is sensed.
    pub(crate) sense: Tap,
    /// The two switch nodes of a step-up/down converter.
    pub(crate) switch_nodes: Option<(Tap, Tap)>,
    /// Unknown: current into `power_in`.
    pub(crate) ip: usize,
    /// Unknown: current out of `power_out`.
    pub(crate) io: usize,
    /// Unknowns of the switch nodes: inductor current, and the current that holds their level.
    pub(crate) inductor: Option<(usize, usize)>,
    /// How it answers in time; none in a static point, where the feedback holds at once.
    pub(crate) answer: Option<Answer>,
}

/// A regulator that answers in time: a proportional and integral source of output current.
///
/// # Formula
/// ```text
/// e = (Vset - Vfb) Vout/Vset      wanted = w + K e      K = 2 C/t
/// dw/dt = C/t^2 e + (Iout - wanted)/t
/// ```
/// With the output capacitance C both roots of the loop lie at 1/t. The last term is zero while the
/// feedback rules, and lets the integral follow the current while a limit does (anti-windup).
///
/// # References
/// K. J. Astrom and T. Hagglund, "PID Controllers: Theory, Design and Tuning" (1995): tracking
/// anti-windup.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Answer {
    /// Capacitance at the output that the loop is made for.
    pub(crate) farads: f64,
    pub(crate) secs: f64,
    /// Volts at the output for one at the sensing pin.
    pub(crate) out_per_sense: f64,
    /// The integral w before the stage, and how far the stage goes.
    pub(crate) known_amps: f64,
    pub(crate) theta: f64,
    /// Not yet in regulation since it came on: it starts only into so much.
    pub(crate) starting: bool,
}

impl Answer {
    fn gain(&self) -> f64 {
        2.0 * self.farads / self.secs
    }

    /// The integral at the end of a stage.
    fn integral(&self, error: f64, out_amps: f64) -> f64 {
        let drive = self.farads / (self.secs * self.secs) * error
            + (out_amps - self.gain() * error) / self.secs;
        (self.known_amps + self.theta * drive) / (1.0 + self.theta / self.secs)
    }

    /// What it wants to give beyond nothing, with the slopes by error and output current.
    fn wanted(&self, error: f64, out_amps: f64) -> (f64, f64, f64) {
        let relaxed = 1.0 + self.theta / self.secs;
        let wanted = self.integral(error, out_amps) + self.gain() * error;
        let square = self.farads / (self.secs * self.secs);
        let by_error = self.gain() - self.theta * square / relaxed;
        (wanted, by_error, self.theta / self.secs / relaxed)
    }
}

/// Which equation a regulator obeys.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Active {
    Idle,
    Feedback,
    Dropout,
    Limit,
    Fold,
}

/// A few derivatives of one equation.
#[derive(Debug, Clone, Copy, Default)]
struct Slopes {
    pairs: [(usize, f64); MOST_SLOPES],
    len: usize,
}

/// Most derivatives that an equation of a regulator has.
const MOST_SLOPES: usize = 8;

impl Slopes {
    fn of(pairs: &[(usize, f64)]) -> Self {
        let mut slopes = Self::default();
        slopes.extend(pairs);
        slopes
    }

    fn extend(&mut self, pairs: &[(usize, f64)]) {
        let to = self.len + pairs.len();
        self.pairs[self.len..to].copy_from_slice(pairs);
        self.len = to;
    }

    fn all(&self) -> &[(usize, f64)] {
        &self.pairs[..self.len]
    }
}

/// An equation that may bind, its value and its slopes.
type Binding = (Active, f64, Slopes);

/// Voltage below which small currents fade out.
const QUIESCENT_FADES_BELOW_VOLTS: f64 = 0.2;

impl RegulatorTerms<'_> {
    fn above_gnd(&self, x: &[f64], tap: Tap) -> f64 {
        volts(x, tap.net) - volts(x, self.gnd.net)
    }

    /// Current drawn from the input beside the power path, with its slope.
    fn quiescent(&self, x: &[f64]) -> (f64, f64) {
        let amps = match (&self.device.loss, self.on) {
            (_, false) => self.device.shutdown.si(),
            (Loss::Efficiency(_), true) => 0.0,
            (Loss::Share { .. }, true) => self.device.quiescent_in.si(),
        };
        let (share, slope) = fade(self.above_gnd(x, self.supply), QUIESCENT_FADES_BELOW_VOLTS);
        (amps * share, amps * slope)
    }

    /// Inductor current and its slopes with `ip` and `io`.
    fn inductor_amps(&self, x: &[f64]) -> (f64, f64, f64) {
        let own = if self.power_in.net == self.supply.net {
            self.quiescent(x).0
        } else {
            0.0
        };
        let (input, output) = (x[self.ip] + own, x[self.io]);
        match self.device.topology {
            Topology::Boost => (input, 1.0, 0.0),
            Topology::Linear | Topology::Buck => (output, 0.0, 1.0),
            Topology::BuckBoost if input > output => (input, 1.0, 0.0),
            Topology::BuckBoost => (output, 0.0, 1.0),
        }
    }

    /// Gives all currents and equations at `x`.
    pub(crate) fn eval(&self, x: &[f64], sink: &mut dyn Sink) {
        let (quiescent, quiescent_slope) = self.quiescent(x);
        let slopes = [
            (self.supply.net, quiescent_slope),
            (self.gnd.net, -quiescent_slope),
        ];
        through(sink, self.supply, self.gnd, quiescent, &slopes);
        through(sink, self.power_in, self.gnd, x[self.ip], &[(self.ip, 1.0)]);
        through(
            sink,
            self.gnd,
            self.power_out,
            x[self.io],
            &[(self.io, 1.0)],
        );
        self.eval_switch_nodes(x, sink);
        if self.on {
            self.eval_power(x, sink);
            self.eval_mode(x, sink);
        } else {
            sink.row(self.ip, x[self.ip], &[(self.ip, 1.0)]);
            sink.row(self.io, x[self.io], &[(self.io, 1.0)]);
        }
    }

    /// The inductor between the switch nodes carries the larger of input and output current; the
    /// level of the nodes follows the lower of input and output voltage.
    fn eval_switch_nodes(&self, x: &[f64], sink: &mut dyn Sink) {
        let (Some((first, second)), Some((il, level))) = (self.switch_nodes, self.inductor) else {
            return;
        };
        through(sink, second, first, x[il], &[(il, 1.0)]);
        through(sink, second, self.gnd, x[level], &[(level, 1.0)]);
        if !self.on {
            sink.row(il, x[il], &[(il, 1.0)]);
            let v = self.above_gnd(x, second);
            sink.row(level, v, &[(second.net, 1.0), (self.gnd.net, -1.0)]);
            return;
        }
        let (amps, dp, dout) = self.inductor_amps(x);
        sink.row(
            il,
            x[il] - amps,
            &[(il, 1.0), (self.ip, -dp), (self.io, -dout)],
        );
        let (vin, vout) = (
            self.above_gnd(x, self.power_in),
            self.above_gnd(x, self.power_out),
        );
        let (by_in, by_out) = if vin < vout { (-1.0, 0.0) } else { (0.0, -1.0) };
        let value = self.above_gnd(x, second) - vin.min(vout);
        let slopes = [
            (second.net, 1.0),
            (self.power_in.net, by_in),
            (self.power_out.net, by_out),
        ];
        sink.row(level, value, &slopes);
    }

    /// Power in the path from input to output balances.
    fn eval_power(&self, x: &[f64], sink: &mut dyn Sink) {
        let (ip, io) = (x[self.ip], x[self.io]);
        let (vp, vo) = (
            self.above_gnd(x, self.power_in),
            self.above_gnd(x, self.power_out),
        );
        if self.device.topology == Topology::Linear || self.pass {
            let (extra, extra_slopes) = self.dropout_ground(x);
            let mut slopes = Slopes::of(&[(self.ip, 1.0), (self.io, -1.0)]);
            for &(at, slope) in extra_slopes.all() {
                slopes.extend(&[(at, -slope)]);
            }
            sink.row(self.ip, ip - io - extra, slopes.all());
            return;
        }
        let (il, il_ip, il_io) = self.inductor_amps(x);
        let (loss, by_vp, by_vo, by_il, by_io) = self.loss_watts(vp, vo, il, io);
        let mut value = vp * ip - vo * io - loss;
        let mut slopes = Slopes::of(&[
            (self.power_in.net, ip - by_vp),
            (self.power_out.net, -io - by_vo),
            (self.gnd.net, -(ip - io) + by_vp + by_vo),
            (self.ip, vp - by_il * il_ip),
            (self.io, -vo - by_io - by_il * il_io),
        ]);
        if let (Some((first, second)), Some((il, _))) = (self.switch_nodes, self.inductor) {
            let winding = volts(x, first.net) - volts(x, second.net);
            value -= winding * x[il];
            slopes.extend(&[(first.net, -x[il]), (second.net, x[il]), (il, -winding)]);
        }
        sink.row(self.ip, value, slopes.all());
    }

    /// Losses and their slopes with input voltage, output voltage, inductor and output current.
    fn loss_watts(&self, vp: f64, vo: f64, il: f64, io: f64) -> (f64, f64, f64, f64, f64) {
        match &self.device.loss {
            Loss::Share { share, path } => {
                let (a, r) = (share.si(), path.si());
                let (fading, fading_slope) = fade(vo, QUIESCENT_FADES_BELOW_VOLTS);
                let iq = self.device.quiescent_out.si();
                let loss = a * vo * io + r * il * il + vo * iq * fading;
                let by_vo = a * io + iq * (fading + vo * fading_slope);
                (loss, 0.0, by_vo, 2.0 * r * il, a * vo)
            }
            Loss::Efficiency(_) => {
                let at = |vo: f64, io: f64| self.device.table_loss_watts(vp, vo, io);
                let loss = at(vo, io);
                let (dv, di) = (1e-4, (io.abs() * 1e-6).max(1e-9));
                let by_vo = (at(vo + dv, io) - loss) / dv;
                (loss, 0.0, by_vo, 0.0, (at(vo, io + di) - loss) / di)
            }
        }
    }

    /// What a linear regulator in dropout draws into ground beyond its quiescent current.
    fn dropout_ground(&self, x: &[f64]) -> (f64, Slopes) {
        let share = self.device.dropout_ground;
        let set = self.set_volts;
        let short = (set - self.above_gnd(x, self.sense)) / (DROPOUT_BAND * set);
        if self.pass || share == 0.0 || short <= 0.0 {
            return (0.0, Slopes::default());
        }
        let io = x[self.io];
        if short >= 1.0 {
            return (share * io, Slopes::of(&[(self.io, share)]));
        }
        let slope = -share * io / (DROPOUT_BAND * set);
        let slopes = Slopes::of(&[
            (self.io, share * short),
            (self.sense.net, slope),
            (self.gnd.net, -slope),
        ]);
        (share * io * short, slopes)
    }

    /// The complementarity row: idle, or whichever of feedback, dropout, limit and fold binds.
    fn eval_mode(&self, x: &[f64], sink: &mut dyn Sink) {
        let io = x[self.io];
        let (active, value, slopes) = self.binding(x);
        // Whatever may bind keeps its place in the elimination.
        let any = [self.sense, self.gnd, self.power_in, self.power_out].map(|tap| (tap.net, 0.0));
        sink.row(self.io, 0.0, &any);
        if self.answer.is_some() {
            sink.row(self.io, 0.0, &[(self.supply.net, 0.0)]);
        }
        sink.row(self.io, 0.0, &[(self.ip, 0.0), (self.io, 0.0)]);
        let idle = io / AMPS_SCALE;
        // At no load both hold; the binding equation is the one that fixes the output.
        if self.idle || active == Active::Idle || idle < value - TIE {
            sink.row(self.io, idle, &[(self.io, 1.0 / AMPS_SCALE)]);
        } else {
            sink.row(self.io, value, slopes.all());
        }
    }

    /// The active equation at `x`.
    pub(crate) fn active(&self, x: &[f64]) -> Active {
        let (active, value, _) = self.binding(x);
        match active {
            // Giving nothing while the input runs away is the other root, not idling.
            Active::Fold => Active::Fold,
            Active::Limit if value > 1e-9 => Active::Fold,
            _ if x[self.io] / AMPS_SCALE < value - TIE => Active::Idle,
            active => active,
        }
    }

    /// Whether a regulator taken to be idle has its output held by something else.
    pub(crate) fn idles_rightly(&self, x: &[f64]) -> bool {
        let (active, value, _) = self.binding(x);
        !self.idle || (active == Active::Feedback && value > -TIE)
    }

    /// Net, voltage and current of the input of a converter that is on and takes power.
    pub(crate) fn constant_power_input(&self, x: &[f64]) -> Option<(Net, f64, f64)> {
        let amps = x[self.ip];
        let takes_power = self.on && !self.pass && self.device.topology != Topology::Linear;
        let net = self.power_in.net;
        (takes_power && amps > RUN_AWAY_AMPS).then(|| (net, self.above_gnd(x, self.power_in), amps))
    }

    /// Whether the input lies at or past the converter's own fold: from `V / 2R` on, or any where
    /// nothing is left of the input voltage.
    pub(crate) fn has_run_away(&self, volts: f64, amps: f64) -> bool {
        let half_drop = 2.0 * self.device.path_ohms() * amps;
        volts < half_drop.max(RUN_AWAY_VOLTS) * (1.0 + RUN_AWAY)
    }

    fn binding(&self, x: &[f64]) -> Binding {
        let (ip, io) = (x[self.ip], x[self.io]);
        let (vp, vo) = (
            self.above_gnd(x, self.power_in),
            self.above_gnd(x, self.power_out),
        );
        let (gnd, set) = (self.gnd.net, self.set_volts);
        let drop = |ohms: f64, diode: f64| {
            let value = (vo - vp + diode + ohms * io) / set;
            let slopes = [
                (self.power_out.net, 1.0 / set),
                (self.power_in.net, -1.0 / set),
                (self.io, ohms / set),
            ];
            (Active::Dropout, value, Slopes::of(&slopes))
        };
        let ohms = self.device.dropout.si();
        if self.pass {
            let passing = drop(ohms, self.device.pass_diode.as_volts());
            // What charges an output far below the input is held to the limit of the switch.
            let charging = self.precharge_limit(x).filter(|limit| limit.1 > passing.1);
            return charging.unwrap_or(passing);
        }
        let mut best = self.feedback(x);
        let mut offer = |other: Binding| {
            if other.1 > best.1 {
                best = other;
            }
        };
        if matches!(self.device.topology, Topology::Linear | Topology::Buck) {
            offer(drop(ohms, 0.0));
        }
        if let Some(start) = self.start_limit(x) {
            offer(start);
        }
        if let Some(limit) = &self.device.limit {
            let (il, dp, dout) = self.inductor_amps(x);
            let limit = limit.si();
            let slopes = Slopes::of(&[(self.ip, dp / limit), (self.io, dout / limit)]);
            offer((Active::Limit, (il - limit) / limit, slopes));
        }
        let path = self.device.path_ohms();
        if path > 0.0 && self.device.topology != Topology::Linear {
            let scale = 1.0 / AMPS_SCALE;
            let half = 0.5 / path;
            let slopes = Slopes::of(&[
                (self.ip, scale),
                (self.power_in.net, -half * scale),
                (gnd, half * scale),
            ]);
            offer((Active::Fold, (ip - vp * half) * scale, slopes));
        }
        best
    }

    /// The sensing pin at its level; in time the output current that the deviation asks for.
    fn feedback(&self, x: &[f64]) -> Binding {
        let (gnd, set) = (self.gnd.net, self.set_volts);
        let Some(answer) = &self.answer else {
            let value = (self.above_gnd(x, self.sense) - set) / set;
            let slopes = Slopes::of(&[(self.sense.net, 1.0 / set), (gnd, -1.0 / set)]);
            return (Active::Feedback, value, slopes);
        };
        let (wanted, by_error, by_amps) = answer.wanted(self.error_volts(x), x[self.io]);
        // Far from a solution the answer comes before a limit, which may not be reachable there.
        let scale = 1.0 / (2.0 * wanted.abs().max(AMPS_SCALE));
        let by_sense = by_error * answer.out_per_sense * scale;
        let slopes = Slopes::of(&[
            (self.io, (1.0 - by_amps) * scale),
            (self.sense.net, by_sense),
            (gnd, -by_sense),
        ]);
        (Active::Feedback, (x[self.io] - wanted) * scale, slopes)
    }

    fn precharge_limit(&self, x: &[f64]) -> Option<Binding> {
        self.answer.filter(|a| a.starting)?;
        let limit = self.device.limit?.si();
        let slopes = Slopes::of(&[(self.io, 1.0 / limit)]);
        Some((Active::Limit, (x[self.io] - limit) / limit, slopes))
    }

    /// While it starts it gives no more than what it is stated to start into.
    fn start_limit(&self, x: &[f64]) -> Option<Binding> {
        self.answer.filter(|a| a.starting)?;
        let input = self.above_gnd(x, self.supply);
        let (most, slope) = self.device.starts_into_amps(input)?;
        let slopes = Slopes::of(&[
            (self.io, 1.0 / AMPS_SCALE),
            (self.supply.net, -slope / AMPS_SCALE),
            (self.gnd.net, slope / AMPS_SCALE),
        ]);
        Some((Active::Limit, (x[self.io] - most) / AMPS_SCALE, slopes))
    }

    /// How far the output lies below its nominal voltage, by the sensing pin.
    pub(crate) fn error_volts(&self, x: &[f64]) -> f64 {
        let out_per_sense = self.answer.map_or(1.0, |a| a.out_per_sense);
        (self.set_volts - self.above_gnd(x, self.sense)) * out_per_sense
    }

    /// The integral of the answer and its rate at the end of a stage.
    pub(crate) fn integral(&self, x: &[f64]) -> (f64, f64) {
        let Some(answer) = self.answer.filter(|_| self.on) else {
            return (0.0, 0.0);
        };
        let (error, amps) = (self.error_volts(x), x[self.io]);
        let w = answer.integral(error, amps);
        let square = answer.farads / (answer.secs * answer.secs);
        let behind = amps - w - answer.gain() * error;
        (w, square * error + behind / answer.secs)
    }

    /// The integral that stands still at a solved point.
    pub(crate) fn resting_integral(&self, x: &[f64]) -> f64 {
        let rests = |a: &Answer| x[self.io] - a.farads / a.secs * self.error_volts(x);
        self.answer.filter(|_| self.on).map_or(0.0, |a| rests(&a))
    }

    /// The inductor current of a converter, the output current of a linear regulator.
    pub(crate) fn reported_inductor_amps(&self, x: &[f64]) -> f64 {
        self.inductor_amps(x).0
    }
}

/// Scale of currents in a regulator's mode row.
const AMPS_SCALE: f64 = 0.1;
/// What is rounding at the edge of a fold: a share, and least values.
const RUN_AWAY: f64 = 1e-6;
const RUN_AWAY_AMPS: f64 = 1e-12;
const RUN_AWAY_VOLTS: f64 = 1e-6;
/// Share of the set voltage within which a linear regulator goes into dropout.
const DROPOUT_BAND: f64 = 0.02;

/// The path that a regulator leaves between its power pins when off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum OffPath {
    None,
    Diode,
    Ohms(f64),
}

pub(crate) fn off_path(device: &Regulator) -> OffPath {
    match device.when_off {
        WhenOff::Disconnects => OffPath::None,
        WhenOff::BodyDiode => OffPath::Diode,
        WhenOff::Passes => OffPath::Ohms(device.dropout.si()),
    }
}

/// The body diode of a regulator's switch: its stated forward voltage, or 0.7 V, at 50 mA with an
/// emission coefficient of 1.2 (typical of the class).
pub(crate) fn body_diode(device: &Regulator, celsius: f64) -> Junction {
    let stated = device.pass_diode.as_volts();
    let forward = if stated > 0.0 { stated } else { 0.7 };
    let emission_volts = 1.2 * math::thermal_volts(25.0);
    let shift = 2e-3 * (celsius - 25.0);
    Junction {
        saturation_amps: 0.05 * math::exp((shift - forward) / emission_volts),
        emission_volts,
        series_ohms: 0.0,
        leak_siemens: 0.0,
    }
}
