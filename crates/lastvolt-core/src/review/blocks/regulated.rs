//! The figures of a converter: its output, what it gives, its inductor.

use crate::device::{Setpoint, Topology};
use crate::model::{Device, Kind, Part};
use crate::quantity::Unit;
use crate::review::anatomy;
use crate::review::blocks::figures::{BURST, Moment, Moments, figure};
use crate::review::blocks::{Block, BlockFigure};

impl Moments<'_, '_> {
    pub(super) fn converter(&self, block: &Block) -> Vec<BlockFigure> {
        let kinds = [Kind::Ldo, Kind::Buck, Kind::Boost, Kind::BuckBoost];
        let Some(part) = self.first(block, &kinds) else {
            return Vec::new();
        };
        let mut out = Vec::new();
        if let Some(volts) = self.set_volts(part) {
            out.push(figure("set output", volts, Unit::Volt, "typical values"));
        }
        for (moment, when) in self.each() {
            if let Some(p) = moment.point.part(&part.name) {
                out.push(figure("output", p.volts, Unit::Volt, when));
            }
        }
        if let Some(device) = regulator(part)
            && let Some(m) = &self.burst
            && let Some(p) = m.point.part(&part.name)
        {
            let (out_at, in_at) = (part.pin("out"), part.pin("in"));
            let amps = |at: Option<(usize, _)>| {
                at.and_then(|(n, _)| p.pin_amps.get(n))
                    .map(|a: &f64| a.abs())
            };
            if let (Some(given), Some(volts)) = (amps(out_at), self.volts(m, part, "in")) {
                out.push(figure("current that it gives", given, Unit::Ampere, BURST));
                let taken = amps(in_at).unwrap_or(0.0) * volts;
                let share = given * p.volts / taken;
                if 0.0 < taken && share <= 1.0 {
                    out.push(figure("efficiency", share, Unit::Fraction, BURST));
                }
                let start = device.start_volts(given);
                if 0.0 < start {
                    out.push(figure("starts from", start, Unit::Volt, BURST));
                }
            }
        }
        self.push_inductor(&mut out, part, block);
        out
    }

    fn push_inductor(&self, out: &mut Vec<BlockFigure>, part: &Part, block: &Block) {
        if regulator(part).is_some_and(|u| u.topology == Topology::Linear) {
            return;
        }
        for (moment, when) in self.under_load() {
            let point = moment.point.part(&part.name);
            if let Some(amps) = point.and_then(|p| p.inductor_amps) {
                out.push(figure(
                    "mean current of the inductor",
                    amps,
                    Unit::Ampere,
                    when,
                ));
                let ripple = self.ripple_amps(moment, part, block);
                out.extend(ripple.map(|r| {
                    let peak = amps + 0.5 * r;
                    figure("peak current of the inductor", peak, Unit::Ampere, when)
                }));
            }
        }
    }

    /// Ripple of the inductor's current: the larger of step-down and step-up action, each where it applies.
    ///
    /// # Formula
    /// ```text
    /// step-down  dI = V_out (V_in - V_out) / (V_in f L)
    /// step-up    dI = V_in (V_out - V_in) / (V_out f L)
    /// ```
    ///
    /// # References
    /// TI SLVA477 and SLVA372, equations for the ripple current.
    fn ripple_amps(&self, moment: &Moment, part: &Part, block: &Block) -> Option<f64> {
        let Device::Inductor(l) = &self.first(block, &[Kind::Inductor])?.device else {
            return None;
        };
        let hertz = regulator(part)?.frequency?.si();
        let (from, to) = (
            self.volts(moment, part, "in")?,
            self.volts(moment, part, "out")?,
        );
        let (high, low) = (from.max(to), from.min(to));
        (0.0 < low).then(|| low * (high - low) / (high * hertz * l.value.si()))
    }

    /// The output that a regulator is set to, typical values.
    pub(super) fn set_volts(&self, part: &Part) -> Option<f64> {
        match regulator(part)?.setpoint {
            Setpoint::Output(v) => Some(v.si()),
            Setpoint::Reference(v) => {
                let dividers = anatomy::dividers(self.e.board);
                let d = dividers.iter().find(|d| d.regulator.name == part.name)?;
                let ratio = anatomy::resistance(d.upper)? / anatomy::resistance(d.lower)?;
                Some(v.si() * (1.0 + ratio))
            }
        }
    }

    /// Voltage of a pin against ground.
    fn volts(&self, moment: &Moment, part: &Part, pin: &str) -> Option<f64> {
        moment.point.net(&self.e.net_name(part.net(pin)?))
    }
}

/// What a regulator part is made of.
pub(super) fn regulator(part: &Part) -> Option<&crate::device::Regulator> {
    match &part.device {
        Device::Regulator(u) => Some(u),
        _ => None,
    }
}
