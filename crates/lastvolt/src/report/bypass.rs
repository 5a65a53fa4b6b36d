//! What a bypass capacitor does in a burst: carries its edges or the whole of it, in figures.
//!
//! # Formula
//! ```text
//! R = (V_rest - V_burst) / (I_burst - I_rest)     the source as the capacitor sees it
//! tau = R C      share carried = tau / T (1 - e^(-T / tau))     T the length of the step
//! ```
//! At the output of a converter the capacitor stands alone until the converter answers.

use lastvolt_core::circuit::Point;
use lastvolt_core::device::{Capacitor, Dielectric};
use lastvolt_core::model::{Board, Device, Part};
use lastvolt_core::quantity::Unit;

use crate::report::burst::{Burst, source_amps};
use crate::text::number::{figure, percent};

/// Below this share the capacitor carries edges only.
const EDGES: f64 = 0.2;
/// Above this share it carries the whole burst.
const WHOLE: f64 = 0.8;

/// The sentence on one capacitor; nothing where no burst reaches it.
pub(super) fn sentence(
    board: &Board,
    part: &Part,
    rest: &Point,
    burst: &Burst,
    ground: &str,
) -> Option<String> {
    let Device::Capacitor(c) = &part.device else {
        return None;
    };
    let nets: Vec<usize> = part.pins.iter().filter_map(|p| p.net).collect();
    let net = *nets.iter().find(|&&n| board.nets[n] != ground)?;
    let grounded = nets.iter().any(|&n| board.nets[n] == ground);
    if !grounded || nets.len() != 2 {
        return None;
    }
    let name = &board.nets[net];
    let volts = rest.net(name)?;
    let farads = c.value.si() * c.bias.as_ref().map_or(1.0, |b| b.at(volts));
    let held = held_words(c, farads);
    if let Some(u) = board.parts.iter().find(|p| p.net("out") == Some(net)) {
        return at_output(u, rest, burst, farads, &held);
    }
    let step_amps = source_amps(board, &burst.point) - source_amps(board, rest);
    let drop = volts - burst.point.net(name)?;
    if drop < 1e-6 || step_amps < 1e-9 {
        return None;
    }
    let ohms = drop / step_amps;
    let tau = ohms * farads;
    let share = tau / burst.step_secs * (1.0 - (-burst.step_secs / tau).exp());
    let carries = if share < EDGES {
        "it carries the edges of the burst and not the burst"
    } else if share < WHOLE {
        "it carries a part of the burst"
    } else {
        "it carries the whole burst"
    };
    Some(format!(
        "Behind {} of fresh source, {held} follow with a time constant of {}; the step lasts {}: \
         {carries} ({} of its charge).",
        figure(ohms, Unit::Ohm),
        figure(tau, Unit::Second),
        figure(burst.step_secs, Unit::Second),
        percent(share)
    ))
}

/// At the output of a converter.
fn at_output(u: &Part, rest: &Point, burst: &Burst, farads: f64, held: &str) -> Option<String> {
    let Device::Regulator(device) = &u.device else {
        return None;
    };
    let out_amps = |point: &Point| {
        let (at, _) = u.pin("out")?;
        Some(-point.part(&u.name)?.pin_amps.get(at)?)
    };
    let step_amps = out_amps(&burst.point)? - out_amps(rest)?;
    let secs = device.response?.as_secs();
    if step_amps < 1e-9 || farads <= 0.0 {
        return None;
    }
    Some(format!(
        "Until {} answers the step of {} after {}, {held} give up {}; then the converter carries the burst.",
        u.name,
        figure(step_amps, Unit::Ampere),
        figure(secs, Unit::Second),
        figure(step_amps * secs / farads, Unit::Volt)
    ))
}

/// What a capacitor holds, and how sure that is.
fn held_words(c: &Capacitor, farads: f64) -> String {
    let value = figure(farads, Unit::Farad);
    match (&c.bias, c.dielectric) {
        (Some(_), _) => format!("{value} left under bias"),
        (None, Some(Dielectric::Class2X | Dielectric::Class2Y)) => {
            format!("{value} (printed; bias may take half of a class 2 ceramic)")
        }
        _ => value,
    }
}
