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

/// What lies between input and output when a regulator is off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WhenOff {
    /// Nothing.
    Disconnects,
    /// A diode from input to output.
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
