//! Junctions that integrated parts have beside their channel.

use crate::device::Junction;
use crate::numerics::math;
use crate::quantity::{Current, Spread, Voltage};

/// Forward voltage of a body diode at a current, and its emission coefficient (typical of the class;
/// from memory).
const BODY_VOLTS: f64 = 0.7;
const BODY_AMPS: f64 = 0.05;
const BODY_EMISSION: f64 = 1.2;
/// Fall of the forward voltage with temperature (common practice).
const FORWARD_VOLTS_PER_KELVIN: f64 = -2e-3;
/// Voltage taken for a leakage that is stated without one (common practice).
const LEAKAGE_AT_VOLTS: f64 = 5.0;

/// A body diode of silicon with a leakage beside it.
pub(super) fn silicon_body(celsius: f64, leak_siemens: f64) -> Junction {
    let emission_volts = BODY_EMISSION * math::thermal_volts(25.0);
    let volts = BODY_VOLTS + FORWARD_VOLTS_PER_KELVIN * (celsius - 25.0);
    Junction {
        saturation_amps: BODY_AMPS * math::exp(-volts / emission_volts),
        emission_volts,
        series_ohms: 0.0,
        leak_siemens,
    }
}

/// A stated leakage as a conductance; it doubles every 10 K from 25 degC.
pub(super) fn leak_siemens(leakage: &Spread<Current>, at: Option<Voltage>, celsius: f64) -> f64 {
    let volts = at.map_or(LEAKAGE_AT_VOLTS, Voltage::as_volts).max(0.1);
    leakage.si() * math::exp2((celsius - 25.0) / 10.0) / volts
}
