//! The power stage of a switching converter in continuous conduction: duty, ripple and peak of the
//! inductor current, the most it gives, ripple of its output.
//!
//! # Formula
//! ```text
//! step up     D = 1 - Vin eta/Vout    dI = Vin D/(f L)            I_peak = Iout/(1-D) + dI/2    (SLVA372 eq. 1, 2, 4)
//! step down   D = Vout/(Vin eta)      dI = (Vin - Vout) D/(f L)   I_peak = Iout + dI/2          (SLVA477 eq. 1, 2, 4)
//! most        (I_lim - dI/2) (1-D)    I_lim - dI/2                                              (SLVA372 eq. 3, SLVA477 eq. 3)
//! output      Iout D/(f C) + ESR I_peak              dI/(8 f C) + ESR dI                        (SLVA372 eq. 12, 13; SLVA477 eq. 12, 13)
//! one pulse   dI (1-D)/(2 f C) + ESR dI              dI/(2 f C) + ESR dI
//! ```
//! A buck-boost steps up below its output and down above it. One pulse of dI from empty is what a
//! converter does at light load at least; what its control adds is not known (common practice).
//!
//! # References
//! TI SLVA372, SLVA477B, SLVA535B. SLVA477 eq. 1 reads as a division in its revision B and as a
//! product before and in the worked example of SLVA535B; the division is used here.

use crate::device::Topology;

/// Direction of the step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Step {
    Up,
    Down,
}

/// A power stage at one input and output voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PowerStage {
    /// How energy flows through it.
    pub topology: Topology,
    /// Input voltage.
    pub in_volts: f64,
    /// Output voltage.
    pub out_volts: f64,
    /// Share of the input power that reaches the output.
    pub efficiency: f64,
    /// Inductance.
    pub henries: f64,
    /// Switching frequency.
    pub hertz: f64,
}

/// What stands at the output of a power stage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutputCapacitor {
    /// Capacitance that is left at the output voltage.
    pub farads: f64,
    /// Series resistance.
    pub ohms: f64,
}

impl PowerStage {
    fn step(&self) -> Step {
        match self.topology {
            Topology::Linear | Topology::Buck => Step::Down,
            Topology::Boost => Step::Up,
            Topology::BuckBoost if self.in_volts < self.out_volts => Step::Up,
            Topology::BuckBoost => Step::Down,
        }
    }

    /// Share of a period in which the inductor is charged.
    #[must_use]
    pub fn duty(&self) -> f64 {
        let duty = match self.step() {
            Step::Up => 1.0 - self.in_volts * self.efficiency / self.out_volts,
            Step::Down => self.out_volts / (self.in_volts * self.efficiency),
        };
        duty.clamp(0.0, 1.0)
    }

    /// Ripple of the inductor current, peak to peak.
    #[must_use]
    pub fn ripple_amps(&self) -> f64 {
        let driven_volts = match self.step() {
            Step::Up => self.in_volts,
            Step::Down => (self.in_volts - self.out_volts).max(0.0),
        };
        driven_volts * self.duty() / (self.hertz * self.henries)
    }

    /// Mean current of the inductor at an output current.
    #[must_use]
    pub fn inductor_amps(&self, out_amps: f64) -> f64 {
        match self.step() {
            Step::Up => out_amps / (1.0 - self.duty()),
            Step::Down => out_amps,
        }
    }

    /// Peak current of inductor and switch at an output current.
    #[must_use]
    pub fn peak_amps(&self, out_amps: f64) -> f64 {
        self.inductor_amps(out_amps) + self.ripple_amps() / 2.0
    }

    /// The most output current at a limit of the peak current.
    #[must_use]
    pub fn most_out_amps(&self, limit_amps: f64) -> f64 {
        let mean = limit_amps - self.ripple_amps() / 2.0;
        match self.step() {
            Step::Up => mean * (1.0 - self.duty()),
            Step::Down => mean,
        }
    }

    /// Ripple of the output at an output current, peak to peak.
    #[must_use]
    pub fn output_ripple_volts(&self, out_amps: f64, capacitor: OutputCapacitor) -> f64 {
        let OutputCapacitor { farads, ohms } = capacitor;
        let ripple = self.ripple_amps();
        match self.step() {
            Step::Up => {
                out_amps * self.duty() / (self.hertz * farads) + ohms * self.peak_amps(out_amps)
            }
            Step::Down => ripple / (8.0 * self.hertz * farads) + ohms * ripple,
        }
    }

    /// Ripple of the output that one pulse makes at light load, peak to peak.
    #[must_use]
    pub fn pulse_ripple_volts(&self, capacitor: OutputCapacitor) -> f64 {
        let OutputCapacitor { farads, ohms } = capacitor;
        let ripple = self.ripple_amps();
        let given = match self.step() {
            Step::Up => 1.0 - self.duty(),
            Step::Down => 1.0,
        };
        ripple * given / (2.0 * self.hertz * farads) + ohms * ripple
    }

    /// Capacitance that keeps the output ripple below a voltage, without series resistance.
    #[must_use]
    pub fn least_farads(&self, out_amps: f64, ripple_volts: f64) -> f64 {
        match self.step() {
            Step::Up => out_amps * self.duty() / (self.hertz * ripple_volts),
            Step::Down => self.ripple_amps() / (8.0 * self.hertz * ripple_volts),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: f64, wanted: f64, share: f64) {
        assert!(
            (found / wanted - 1.0).abs() <= share,
            "{found} against {wanted}"
        );
    }

    const BOOST: PowerStage = PowerStage {
        topology: Topology::Boost,
        in_volts: 1.8,
        out_volts: 3.3,
        efficiency: 0.8,
        henries: 4.7e-6,
        hertz: 1e6,
    };

    /// SLVA372 eq. 1 to 4 worked out for one stage; derived from the printed formulas.
    #[test]
    fn ref_slva372_boost() {
        near(BOOST.duty(), 0.56364, 1e-3);
        near(BOOST.ripple_amps(), 0.21586, 1e-3);
        near(BOOST.peak_amps(0.1), 0.33710, 1e-3);
        near(BOOST.most_out_amps(0.5), 0.17109, 1e-3);
    }

    /// SLVA477B eq. 1 to 4 in the form with a division, and eq. 12; derived from the printed formulas.
    #[test]
    fn ref_slva477_buck() {
        let buck = PowerStage {
            topology: Topology::Buck,
            in_volts: 5.5,
            out_volts: 3.3,
            efficiency: 0.9,
            henries: 4.7e-6,
            hertz: 1.5e6,
        };
        near(buck.duty(), 0.66667, 1e-3);
        near(buck.ripple_amps(), 0.20804, 1e-3);
        near(buck.peak_amps(0.3), 0.40402, 1e-3);
        near(buck.most_out_amps(0.6), 0.49598, 1e-3);
        // Eq. 12: 200 mA of ripple at 1.5 MHz need 1.6667 uF for 10 mV.
        near(
            buck.least_farads(0.3, 0.01) * 0.2 / buck.ripple_amps(),
            1.6667e-6,
            1e-3,
        );
    }

    /// SLVA535B appendix A, step up from 2.6 V to 3.3 V at 2 A; published and recomputed, the
    /// frequency, limit and ripple target back-solved from the printed results.
    #[test]
    fn ref_slva535_buck_boost() {
        let stage = PowerStage {
            topology: Topology::BuckBoost,
            in_volts: 2.6,
            out_volts: 3.3,
            efficiency: 0.85,
            henries: 1e-6,
            hertz: 2.1226e6,
        };
        assert!((stage.duty() - 0.33).abs() < 1e-3);
        near(stage.ripple_amps(), 0.405, 0.01);
        assert!((stage.peak_amps(2.0) - 3.19).abs() < 0.01);
        assert!((stage.most_out_amps(4.5) - 2.88).abs() < 0.01);
        near(stage.least_farads(2.0, 0.1), 3.11e-6, 0.01);
        // Above its output it steps down: D = 0.7097 in the printed form of eq. 1.
        let down = PowerStage {
            in_volts: 5.0,
            efficiency: 0.93,
            ..stage
        };
        assert!((down.duty() - 0.7097).abs() < 1e-3);
    }

    /// TI SLVSAG3 (TPS61252), printed example: duty, ripple, and the capacitance for 10 mV.
    #[test]
    fn ref_slvsag3_boost() {
        let stage = PowerStage {
            in_volts: 2.6,
            out_volts: 5.0,
            efficiency: 0.9,
            henries: 1e-6,
            hertz: 3.25e6,
            ..BOOST
        };
        assert!((stage.duty() - 0.532).abs() < 1e-3);
        assert!((stage.ripple_amps() - 0.426).abs() < 1e-3);
        // Its eq. 9 leaves the efficiency out of the duty.
        let ideal = PowerStage {
            efficiency: 1.0,
            ..stage
        };
        near(ideal.least_farads(0.648, 0.010), 9.6e-6, 0.01);
    }

    /// TI SLVS577 eq. 4 (derived; frequency from memory) and SLVS510E (from memory): mean and peak
    /// current by the efficiency, the ripple by the duty without losses.
    #[test]
    fn ref_slvs577_peak() {
        let lossy = PowerStage {
            in_volts: 1.2,
            out_volts: 3.3,
            efficiency: 0.8,
            henries: 2.2e-6,
            hertz: 1.4e6,
            ..BOOST
        };
        let ideal = PowerStage {
            efficiency: 1.0,
            ..lossy
        };
        let peak = lossy.inductor_amps(0.1) + ideal.ripple_amps() / 2.0;
        near(peak, 0.4677, 5e-3);
        let small = PowerStage {
            in_volts: 0.9,
            hertz: 1.2e6,
            ..ideal
        };
        near(small.least_farads(0.075, 0.01), 4.545e-6, 1e-3);
    }

    #[test]
    fn law_the_least_capacitance_gives_the_ripple() {
        let capacitor = OutputCapacitor {
            farads: BOOST.least_farads(0.1, 0.033),
            ohms: 0.0,
        };
        near(BOOST.output_ripple_volts(0.1, capacitor), 0.033, 1e-12);
        let lossy = OutputCapacitor {
            ohms: 0.01,
            ..capacitor
        };
        let more = BOOST.output_ripple_volts(0.1, lossy) - 0.033;
        near(more, 0.01 * BOOST.peak_amps(0.1), 1e-9);
        assert!(BOOST.pulse_ripple_volts(lossy) > BOOST.pulse_ripple_volts(capacitor));
    }
}
