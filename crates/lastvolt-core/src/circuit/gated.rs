//! Parts that are on or off by a level of their own and are no regulators: detectors, load switches
//! and ideal diodes.
//!
//! Like regulators they are flags around the continuous equations. A detector is on while its output
//! is let go.

use crate::circuit::Mode;
use crate::circuit::build::{Flags, Owner, System};
use crate::circuit::element::{Element, Tap, volts};
use crate::circuit::netlist::PlacedPart;
use crate::circuit::pass::PassLaw;
use crate::device::{Blocking, Detector, Enable, IdealDiode, LoadSwitch, OutputStage};
use crate::model::Device;

/// Voltage below which a quiescent current fades where no lowest voltage is stated; that of regulators.
const FADES_BELOW_VOLTS: f64 = 0.2;
/// Voltage below which the leakage into an output fades.
const LEAKAGE_FADES_BELOW_VOLTS: f64 = 0.1;
/// Share of an enable input's band by which going on and going off differ.
const ENABLE_HYSTERESIS: f64 = 0.1;
/// What an input must recover by where no starting voltage is stated (common practice: lockouts have
/// some tens of millivolts of hysteresis).
pub(crate) const LOCKOUT_HYSTERESIS_VOLTS: f64 = 0.05;
/// Level of what is always enabled.
const ALWAYS: f64 = 1e9;

/// How far a part is from changing.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Level {
    /// Input above where it goes off, as a voltage; below zero it goes off.
    pub(crate) stays_volts: f64,
    /// Input above where it comes on; below zero it does not come on.
    pub(crate) comes_volts: f64,
    /// Where it goes off.
    pub(crate) off_volts: f64,
    /// As [`enable_level`].
    pub(crate) enable: f64,
}

/// Level of an enable input: 0 in the middle of its band, -1 where it lets a part that is on go off, 1
/// where it lets one come on. Far above without an enable input, far below where it is open.
pub(crate) fn enable_level(placed: &PlacedPart, enable: Option<&Enable>, x: &[f64]) -> f64 {
    let (Some(enable), Some((slot, _))) = (enable, placed.part.pin("enable")) else {
        return ALWAYS;
    };
    let Some(net) = placed.nets.get(slot).copied().flatten() else {
        return -ALWAYS;
    };
    let (low, high) = (enable.low.as_volts(), enable.high.as_volts());
    let half = (ENABLE_HYSTERESIS / 2.0 * (high - low)).max(1e-3);
    (volts(x, net) - at(placed, x, GND) - f64::midpoint(low, high)) / half
}

/// Places of the pins that all of them have.
const IN: usize = 0;
const OUT: usize = 1;
const GND: usize = 2;

/// Voltage of a pin; 0 where it is open.
fn at(placed: &PlacedPart, x: &[f64], slot: usize) -> f64 {
    let net = placed.nets.get(slot).copied().flatten();
    net.map_or(0.0, |net| volts(x, net))
}

/// The level of a part of these kinds.
pub(crate) fn level(placed: &PlacedPart, x: &[f64]) -> Option<Level> {
    let above_ground = |slot: usize| at(placed, x, slot) - at(placed, x, GND);
    let input = above_ground(IN);
    let found = match &placed.part.device {
        Device::Detector(d) => Level {
            stays_volts: input - d.threshold.si(),
            comes_volts: input - d.release_volts(),
            off_volts: d.threshold.si(),
            enable: ALWAYS,
        },
        Device::LoadSwitch(s) => Level {
            enable: enable_level(placed, s.enable.as_ref(), x),
            ..lockout(input, s.runs_down_to.as_volts())
        },
        Device::IdealDiode(d) => lockout(input.max(above_ground(OUT)), d.works_from.as_volts()),
        _ => return None,
    };
    Some(found)
}

fn lockout(input: f64, off_volts: f64) -> Level {
    let hysteresis = LOCKOUT_HYSTERESIS_VOLTS.min(off_volts / 10.0);
    Level {
        stays_volts: input - off_volts,
        comes_volts: input - (off_volts + hysteresis).max(1e-3),
        off_volts,
        enable: ALWAYS,
    }
}

/// What a part of these kinds is doing.
pub(crate) fn mode(system: &System, part: usize, on: bool, x: &[f64]) -> Option<Mode> {
    let limits = || {
        system
            .elements
            .iter()
            .any(|(owner, element)| match element {
                Element::Pass { law, i, .. } => {
                    *owner == Owner::Part(part) && law.is_limiting(x[*i])
                }
                _ => false,
            })
    };
    Some(match (&system.netlist.parts[part].part.device, on) {
        (Device::Detector(_), true) => Mode::Released,
        (Device::Detector(_), false) => Mode::Detects,
        (Device::IdealDiode(_), false) => Mode::BodyDiode,
        (Device::LoadSwitch(_), false) => Mode::Off,
        (Device::LoadSwitch(_) | Device::IdealDiode(_), true) if limits() => Mode::Limit,
        (Device::LoadSwitch(_) | Device::IdealDiode(_), true) => Mode::On,
        _ => return None,
    })
}

impl System<'_, '_> {
    fn pins(&self, at: usize) -> (Tap, Tap, Tap) {
        (self.tap(at, IN), self.tap(at, OUT), self.tap(at, GND))
    }

    fn add_drain(&mut self, at: usize, a: Tap, b: Tap, amps: f64, fades_below_volts: f64) {
        if amps > 0.0 {
            let drain = Element::Drain {
                a,
                b,
                amps,
                fades_below_volts,
            };
            self.push(Owner::Part(at), drain);
        }
    }

    fn add_pass(&mut self, at: usize, a: Tap, b: Tap, law: PassLaw) {
        let i = self.unknown();
        self.push(Owner::Part(at), Element::Pass { a, b, law, i });
    }

    pub(super) fn add_detector(&mut self, at: usize, device: &Detector, flags: &Flags) {
        let (input, out, gnd) = self.pins(at);
        let fades = device.works_from.map_or(0.0, |v| v.as_volts());
        let quiescent = device.quiescent.si();
        self.add_drain(at, input, gnd, quiescent, fades.max(FADES_BELOW_VOLTS));
        let ohms = device.output_resistance.si();
        match (flags.on[at], device.output) {
            (false, _) => self.add_resistance(at, out, gnd, ohms),
            (true, OutputStage::PushPull) => self.add_resistance(at, out, input, ohms),
            (true, OutputStage::OpenDrain) => {
                let amps = device.leakage.si();
                self.add_drain(at, out, gnd, amps, LEAKAGE_FADES_BELOW_VOLTS);
            }
        }
    }

    pub(super) fn add_load_switch(
        &mut self,
        at: usize,
        device: &LoadSwitch,
        celsius: f64,
        flags: &Flags,
    ) {
        let (input, out, gnd) = self.pins(at);
        let on = flags.on[at];
        let own = if on {
            &device.quiescent
        } else {
            &device.shutdown
        };
        self.add_drain(at, input, gnd, own.si(), FADES_BELOW_VOLTS);
        if on {
            let law = PassLaw {
                ohms: device.on_resistance.si(),
                held_volts: 0.0,
                limit_amps: device.limit.map_or(f64::MAX, |limit| limit.si()),
                blocks: device.reverse_blocking == Blocking::Always,
            };
            if law.blocks || device.limit.is_some() {
                self.add_pass(at, input, out, law);
            } else {
                self.add_resistance(at, input, out, law.ohms);
            }
        } else {
            let siemens = device.leak_siemens(celsius);
            let (a, b) = (input, out);
            self.push(Owner::Part(at), Element::Conductance { a, b, siemens });
        }
        if device.reverse_blocking == Blocking::Never {
            self.add_junction(at, out, input, device.body(celsius));
        }
    }

    pub(super) fn add_ideal_diode(
        &mut self,
        at: usize,
        device: &IdealDiode,
        celsius: f64,
        flags: &Flags,
    ) {
        let (input, out, gnd) = self.pins(at);
        let fades = device.works_from.as_volts().max(FADES_BELOW_VOLTS);
        self.add_drain(at, input, gnd, device.quiescent.si(), fades);
        if flags.on[at] {
            let law = PassLaw {
                ohms: device.on_resistance.si(),
                held_volts: device.forward.si(),
                limit_amps: f64::MAX,
                blocks: true,
            };
            self.add_pass(at, input, out, law);
        }
        self.add_junction(at, input, out, device.body(celsius));
    }
}
