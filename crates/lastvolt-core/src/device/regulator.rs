//! Regulators and converters, averaged over a switching period.
//!
//! # Formula
//! ```text
//! Vin Iin = (1 + a) Vout Iout + Rpath IL^2 + Vin Iq,in + Vout Iq,out
//! IL = Iin (boost), Iout (buck), the larger (buck-boost)
//! ```

use crate::quantity::{
    Bearing, Current, Fraction, Frequency, Properties, Resistance, Spread, Time, Voltage,
};

/// A regulator as its data sheet gives it.
#[derive(Debug, Clone, PartialEq)]
pub struct Regulator {
    /// How energy flows through it.
    pub topology: Topology,
    /// What it regulates to.
    pub setpoint: Setpoint,
    /// Current into the feedback pin.
    pub bias: Spread<Current>,
    /// Current drawn from the input when on, beyond what the output needs.
    pub quiescent_in: Spread<Current>,
    /// Current drawn from the output when on.
    pub quiescent_out: Spread<Current>,
    /// Current drawn from the input when off.
    pub shutdown: Spread<Current>,
    /// Where energy is lost.
    pub loss: Loss,
    /// Resistance from input to output in dropout (linear regulator, buck) or in pass-through (boost).
    pub dropout: Spread<Resistance>,
    /// Forward voltage of the rectifier in pass-through or when off, 0 for a synchronous switch that stays on.
    pub pass_diode: Voltage,
    /// Additional ground current of a linear regulator per ampere of output in dropout.
    pub dropout_ground: f64,
    /// Switching frequency.
    pub frequency: Option<Spread<Frequency>>,
    /// Current limit: of the inductor for a converter, of the output for a linear regulator.
    pub limit: Option<Spread<Current>>,
    /// Lowest input voltage that starts into a load of the given current, current rising.
    pub start: Vec<(Current, Voltage)>,
    /// Input voltage below which it stops.
    pub runs_down_to: Voltage,
    /// Highest input voltage it survives.
    pub survives: Option<Voltage>,
    /// The enable input, where there is one.
    pub enable: Option<Enable>,
    /// The path from input to output when off.
    pub when_off: WhenOff,
    /// The path from output back to input when the output is held above the input.
    pub reverse: WhenOff,
    /// How fast it answers a step of load.
    pub response: Option<Time>,
}

/// How energy flows through a regulator.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Topology {
    /// Series element: output current comes from the input.
    Linear,
    /// Step-down.
    Buck,
    /// Step-up.
    Boost,
    /// Step-up and step-down.
    BuckBoost,
}

/// What a regulator holds constant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Setpoint {
    /// A fixed output voltage, sensed at the output.
    Output(Spread<Voltage>),
    /// The voltage of the feedback pin.
    Reference(Spread<Voltage>),
}

/// Where a converter loses energy.
#[derive(Debug, Clone, PartialEq)]
pub enum Loss {
    /// A share `a` of the output power and a resistance in the path of the inductor current.
    Share {
        /// The share a.
        share: Spread<Fraction>,
        /// The resistance of the switches; the winding of an inductor part comes on top.
        path: Spread<Resistance>,
    },
    /// Measured efficiency, quiescent current included: input voltage, output current, share.
    Efficiency(Vec<(Voltage, Current, Fraction)>),
}

/// An enable input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Enable {
    /// At or below this voltage it is surely off.
    pub low: Voltage,
    /// At or above this voltage it is surely on.
    pub high: Voltage,
    /// Current into the pin, either way.
    pub leakage: Spread<Current>,
}

/// What lies between input and output when a regulator does not regulate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WhenOff {
    /// Nothing.
    Disconnects,
    /// A diode in the direction of the path.
    BodyDiode,
    /// The dropout resistance.
    Passes,
}

impl Regulator {
    /// Offers the adjustable properties.
    pub fn visit<P: Properties>(&mut self, p: &mut P) {
        match &mut self.setpoint {
            Setpoint::Output(v) => p.spread("output", Bearing::Other, v),
            Setpoint::Reference(v) => p.spread("reference", Bearing::Other, v),
        }
        p.spread("bias", Bearing::Other, &mut self.bias);
        p.spread("quiescent.in", Bearing::Drain, &mut self.quiescent_in);
        p.spread("quiescent.out", Bearing::Drain, &mut self.quiescent_out);
        p.spread("shutdown", Bearing::Drain, &mut self.shutdown);
        if let Loss::Share { share, path } = &mut self.loss {
            p.spread("loss.share", Bearing::Other, share);
            p.spread("loss.path", Bearing::Other, path);
        }
        p.spread("dropout", Bearing::Other, &mut self.dropout);
        if let Some(limit) = &mut self.limit {
            p.spread("switch_limit", Bearing::Other, limit);
        }
        if let Some(enable) = &mut self.enable {
            p.spread("enable.leakage", Bearing::Drain, &mut enable.leakage);
        }
    }
}

impl Regulator {
    /// The voltage that the sensing pin is held at.
    #[must_use]
    pub fn setpoint_volts(&self) -> f64 {
        match self.setpoint {
            Setpoint::Output(v) | Setpoint::Reference(v) => v.si(),
        }
    }

    /// Resistance of the path of the inductor current, without the winding.
    #[must_use]
    pub fn path_ohms(&self) -> f64 {
        match &self.loss {
            Loss::Share { path, .. } => path.si(),
            Loss::Efficiency(_) => 0.0,
        }
    }

    /// Lowest input voltage that starts into an output current, linear between stated points.
    #[must_use]
    pub fn start_volts(&self, load_amps: f64) -> f64 {
        let Some(&(first_amps, first_volts)) = self.start.first() else {
            return self.runs_down_to.as_volts();
        };
        if load_amps <= first_amps.as_amps() {
            return first_volts.as_volts();
        }
        for pair in self.start.windows(2) {
            let (low, high) = (pair[0], pair[1]);
            if load_amps <= high.0.as_amps() {
                let share = (load_amps - low.0.as_amps()) / (high.0.as_amps() - low.0.as_amps());
                return low.1.as_volts() + share * (high.1.as_volts() - low.1.as_volts());
            }
        }
        self.start.last().map_or(0.0, |p| p.1.as_volts())
    }

    /// Largest output current into which it starts at an input voltage: [`Self::start_volts`]
    /// backwards, with its slope; the line through the last two points goes on above them. None where
    /// nothing is stated or only one point is.
    #[must_use]
    pub fn starts_into_amps(&self, in_volts: f64) -> Option<(f64, f64)> {
        let pairs = self.start.windows(2);
        let mut rising = pairs.filter(|p| p[1].1 > p[0].1 && p[1].0 > p[0].0);
        let above = |p: &&[(Current, Voltage)]| in_volts <= p[1].1.as_volts();
        let pair = rising.clone().find(above).or_else(|| rising.next_back())?;
        let (low, high) = (pair[0], pair[1]);
        let slope = (high.0.as_amps() - low.0.as_amps()) / (high.1.as_volts() - low.1.as_volts());
        let amps = low.0.as_amps() + slope * (in_volts - low.1.as_volts());
        let least = self.start[0].0.as_amps();
        Some(if amps > least {
            (amps, slope)
        } else {
            (least, 0.0)
        })
    }

    /// Time in which it answers a step of load: as stated, or 10 us for a linear regulator and 50 us
    /// for a converter (typical of their classes; from memory).
    #[must_use]
    pub fn response_secs(&self) -> f64 {
        let class = match self.topology {
            Topology::Linear => 10e-6,
            Topology::Buck | Topology::Boost | Topology::BuckBoost => 50e-6,
        };
        self.response.map_or(class, Time::as_secs).max(1e-9)
    }

    /// Power lost at an input voltage and output, from the efficiency table.
    ///
    /// Nearest stated input voltage; linear in the output current between stated points; below the
    /// lowest stated current the loss stays what it is there, above the highest the share does.
    #[must_use]
    pub fn table_loss_watts(&self, in_volts: f64, out_volts: f64, out_amps: f64) -> f64 {
        let Loss::Efficiency(rows) = &self.loss else {
            return 0.0;
        };
        let nearest = |v: &Voltage| (v.as_volts() - in_volts).abs();
        let Some(best) = rows.iter().map(|r| nearest(&r.0)).min_by(f64::total_cmp) else {
            return 0.0;
        };
        let row = rows.iter().filter(|r| nearest(&r.0) <= best);
        let points: Vec<(f64, f64)> = row
            .map(|r| {
                let amps = r.1.as_amps();
                (
                    amps,
                    out_volts * amps * (1.0 / r.2.as_share().max(1e-3) - 1.0),
                )
            })
            .collect();
        interpolate(&points, out_amps)
    }
}

impl Regulator {
    /// Share of the input power that reaches a load, by the equation of this file without the winding
    /// of an inductor part. None where the input is outside what it runs from, the output current is
    /// beyond its limit, or there is no such point.
    #[must_use]
    pub fn efficiency(&self, in_volts: f64, out_volts: f64, out_amps: f64) -> Option<f64> {
        let steps_down = matches!(self.topology, Topology::Linear | Topology::Buck);
        let headroom = out_volts + self.dropout.si() * out_amps;
        let reaches = match self.topology {
            Topology::Boost => in_volts < out_volts,
            Topology::BuckBoost => true,
            Topology::Linear | Topology::Buck => headroom <= in_volts,
        };
        let survives = self.survives.is_none_or(|v| in_volts <= v.as_volts());
        if !reaches || !survives || in_volts < self.runs_down_to.as_volts() || out_amps <= 0.0 {
            return None;
        }
        let own_out_amps = self.quiescent_out.si();
        let path_amps = match (&self.loss, self.topology) {
            (_, Topology::Linear) => out_amps + own_out_amps,
            (Loss::Efficiency(_), _) => {
                let lost = self.table_loss_watts(in_volts, out_volts, out_amps);
                (out_volts * out_amps + lost) / in_volts
            }
            (Loss::Share { share, .. }, _) => {
                let watts = (1.0 + share.si()) * out_volts * out_amps + out_volts * own_out_amps;
                self.path_amps(in_volts, watts, out_amps)?
            }
        };
        let inductor_amps = if steps_down {
            out_amps
        } else {
            path_amps.max(out_amps)
        };
        if self.limit.is_some_and(|limit| inductor_amps > limit.si()) {
            return None;
        }
        // The quiescent current is within a stated efficiency.
        let own_in_amps = match (&self.loss, self.topology) {
            (Loss::Efficiency(_), Topology::Buck | Topology::Boost | Topology::BuckBoost) => 0.0,
            _ => self.quiescent_in.si(),
        };
        Some(out_volts * out_amps / (in_volts * (path_amps + own_in_amps)))
    }

    /// Input current of a converter that hands on a power: the lower root of
    /// `Vin Iin = watts + Rpath IL^2`, none past its fold.
    fn path_amps(&self, in_volts: f64, watts: f64, out_amps: f64) -> Option<f64> {
        let ohms = self.path_ohms();
        let by_output = (watts + ohms * out_amps * out_amps) / in_volts;
        let by_input = || {
            let inner = in_volts * in_volts - 4.0 * ohms * watts;
            (inner >= 0.0).then(|| 2.0 * watts / (in_volts + inner.sqrt()))
        };
        match self.topology {
            Topology::Linear | Topology::Buck => Some(by_output),
            Topology::Boost => by_input(),
            Topology::BuckBoost if by_output <= out_amps => Some(by_output),
            Topology::BuckBoost => by_input(),
        }
    }
}

fn interpolate(points: &[(f64, f64)], x: f64) -> f64 {
    let (first, last) = match (points.first(), points.last()) {
        (Some(first), Some(last)) => (*first, *last),
        _ => return 0.0,
    };
    if x <= first.0 {
        return first.1;
    }
    for pair in points.windows(2) {
        if x <= pair[1].0 {
            let share = (x - pair[0].0) / (pair[1].0 - pair[0].0);
            return pair[0].1 + share * (pair[1].1 - pair[0].1);
        }
    }
    last.1 * x / last.0
}
