//! What a cable and the capacitors behind it do when a live supply is plugged in.
//!
//! # Formula
//! ```text
//! L di/dt = V - R i - v      C_k dv_k/dt = (v - v_k)/r_k      i = sum (v - v_k)/r_k
//! one capacitor: zeta = (R + r)/2 sqrt(C/L), peak V (1 + exp(-pi zeta / sqrt(1 - zeta^2)))
//! ```
//! Capacitors start empty, the load is left out, diodes are left out.
//!
//! # References
//! The step of a series resonant circuit is textbook; that ceramic input capacitors ring up to twice the
//! supply is Linear Technology application note 88 (from memory).

use crate::numerics::math;

/// Series resistances within this share of the characteristic impedance of the cable act as one.
const SAME_SHARE: f64 = 0.1;
/// Capacitors below this share of the rest change nothing beside one of no larger series resistance.
const SMALL_SHARE: f64 = 0.05;
/// Damping ratio from which the series resistance of the next branch keeps a small one from ringing.
const DEAD_DAMPING: f64 = 2.0;
/// Steps a period of the fastest ringing: the rule of fourth order is then exact to better than 1e-6.
const STEPS: f64 = 400.0;
/// Share of the shortest time constant between branches up to which a step stays stable.
const STABLE_SHARE: f64 = 1.0;
/// Periods of the whole capacitance to follow: the first peak comes after half of one, later with a
/// large damping capacitor.
const PERIODS: f64 = 3.0;
/// Most steps: by then a small branch that is the fastest has long rung out.
const MOST_STEPS: f64 = 200_000.0;

/// One capacitor behind a cable.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Branch {
    /// Capacitance.
    pub farads: f64,
    /// Series resistance.
    pub ohms: f64,
}

/// A live supply on a cable that is plugged onto empty capacitors.
#[derive(Debug, Clone, PartialEq)]
pub struct Plug {
    /// Voltage of the supply.
    pub volts: f64,
    /// Inductance of the cable, both conductors.
    pub henries: f64,
    /// Resistance of supply, cable and plug.
    pub ohms: f64,
    /// The capacitors.
    pub branches: Vec<Branch>,
}

impl Plug {
    /// Capacitance of all branches.
    #[must_use]
    pub fn farads(&self) -> f64 {
        self.branches.iter().map(|b| b.farads).sum()
    }

    /// Damping ratio with all capacitance in one and the least series resistance.
    #[must_use]
    pub fn damping(&self) -> f64 {
        let least = self.branches.iter().map(|b| b.ohms);
        let ohms = self.ohms + least.fold(f64::INFINITY, f64::min);
        ohms / 2.0 * (self.farads() / self.henries).sqrt()
    }

    /// Peak on one ideal capacitor of all the capacitance.
    #[must_use]
    pub fn lumped_peak_volts(&self) -> f64 {
        let zeta = self.damping();
        if 1.0 <= zeta {
            return self.volts;
        }
        let over = math::exp(-std::f64::consts::PI * zeta / (1.0 - zeta * zeta).sqrt());
        self.volts * (1.0 + over)
    }

    /// Series resistance to add for a damping ratio; 0 where it is reached.
    #[must_use]
    pub fn ohms_for(&self, damping: f64) -> f64 {
        let impedance = (self.henries / self.farads()).sqrt();
        (2.0 * impedance * (damping - self.damping())).max(0.0)
    }

    /// Characteristic impedance of the cable with the capacitors.
    #[must_use]
    pub fn impedance_ohms(&self) -> f64 {
        (self.henries / self.farads()).sqrt()
    }

    /// The same with only the capacitors that ring: those of the least series resistance.
    #[must_use]
    pub fn ringing(&self) -> Self {
        let mut branches = self.merged();
        branches.truncate(1);
        Self {
            branches,
            ..self.clone()
        }
    }

    /// Highest voltage at the capacitors, followed through time; the supply's own where it does not
    /// overshoot or nothing is there to ring.
    #[must_use]
    pub fn peak_volts(&self) -> f64 {
        let branches = self.merged();
        if branches.is_empty() || self.henries <= 0.0 {
            return self.volts;
        }
        let dt = self.step_secs(&branches);
        let span_secs = PERIODS * self.period_secs(self.farads());
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a positive number below MOST_STEPS"
        )]
        let steps = (span_secs / dt).min(MOST_STEPS) as usize;
        // Current of the cable, then one voltage a branch.
        let mut state = vec![0.0; branches.len() + 1];
        let mut peak = self.volts;
        for _ in 0..steps {
            state = self.stepped(&branches, &state, dt);
            peak = peak.max(node_volts(&branches, &state));
        }
        peak
    }

    /// Period of the cable with a capacitance.
    fn period_secs(&self, farads: f64) -> f64 {
        2.0 * std::f64::consts::PI * (self.henries * farads).sqrt()
    }

    /// A step that follows the fastest ringing and stays stable between any two branches.
    fn step_secs(&self, branches: &[Branch]) -> f64 {
        let least = branches.iter().map(|b| b.farads);
        let mut secs = self.period_secs(least.fold(f64::INFINITY, f64::min)) / STEPS;
        for (at, one) in branches.iter().enumerate() {
            for other in &branches[at + 1..] {
                let farads = one.farads * other.farads / (one.farads + other.farads);
                secs = secs.min(STABLE_SHARE * (one.ohms + other.ohms) * farads);
            }
        }
        secs
    }

    /// One step of the classic rule of fourth order.
    fn stepped(&self, branches: &[Branch], state: &[f64], dt: f64) -> Vec<f64> {
        let along = |rate: &[f64], share: f64| -> Vec<f64> {
            let pairs = state.iter().zip(rate);
            pairs.map(|(x, r)| x + share * dt * r).collect()
        };
        let k1 = self.rates(branches, state);
        let k2 = self.rates(branches, &along(&k1, 0.5));
        let k3 = self.rates(branches, &along(&k2, 0.5));
        let k4 = self.rates(branches, &along(&k3, 1.0));
        let mean = |at: usize| (k1[at] + 2.0 * (k2[at] + k3[at]) + k4[at]) / 6.0;
        let each = state.iter().enumerate();
        each.map(|(at, x)| x + dt * mean(at)).collect()
    }

    fn rates(&self, branches: &[Branch], state: &[f64]) -> Vec<f64> {
        let volts = node_volts(branches, state);
        let mut rates = vec![(self.volts - self.ohms * state[0] - volts) / self.henries];
        for (branch, held) in branches.iter().zip(&state[1..]) {
            rates.push((volts - held) / (branch.ohms * branch.farads));
        }
        rates
    }

    /// Whether the next branch damps a small one so well that it does not ring.
    fn is_dead(&self, small: &Branch, next: &Branch) -> bool {
        let impedance = (self.henries / small.farads).sqrt();
        2.0 * DEAD_DAMPING * next.ohms <= impedance
    }

    /// The branches with those of next to the same series resistance as one, the least resistance
    /// first, and without those too small to matter: what is left is not stiff.
    fn merged(&self) -> Vec<Branch> {
        let mut rest: Vec<Branch> = self.branches.clone();
        rest.retain(|b| 0.0 < b.farads);
        rest.sort_by(|a, b| a.ohms.total_cmp(&b.ohms));
        let is_small = |b: &Branch| b.farads < SMALL_SHARE * self.farads();
        while rest.len() > 1 && is_small(&rest[0]) && self.is_dead(&rest[0], &rest[1]) {
            rest.remove(0);
        }
        let first = rest.first().copied();
        rest.retain(|b| Some(*b) == first || !is_small(b));
        let mut out: Vec<Branch> = Vec::new();
        for branch in rest {
            let same = SAME_SHARE * self.impedance_ohms();
            match out.last_mut() {
                Some(last) if branch.ohms - last.ohms <= same => {
                    last.ohms = last.ohms * branch.ohms / (last.ohms + branch.ohms).max(1e-9);
                    last.farads += branch.farads;
                }
                _ => out.push(branch),
            }
        }
        out
    }
}

/// Voltage at the plug: the currents of the branches sum to that of the cable.
fn node_volts(branches: &[Branch], state: &[f64]) -> f64 {
    let siemens: f64 = branches.iter().map(|b| 1.0 / b.ohms).sum();
    let held = branches.iter().zip(&state[1..]);
    let held: f64 = held.map(|(b, v)| v / b.ohms).sum();
    (state[0] + held) / siemens
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plug(ohms: f64, branches: &[(f64, f64)]) -> Plug {
        let branches = branches.iter();
        Plug {
            volts: 5.0,
            henries: 1e-6,
            ohms,
            branches: branches
                .map(|&(farads, ohms)| Branch { farads, ohms })
                .collect(),
        }
    }

    /// Following it through time gives the closed form of the textbook; 2 milliohms of series
    /// resistance stand apart from it by at most a millivolt or so.
    #[test]
    fn ref_textbook_step_of_a_resonant_circuit() {
        for ohms in [0.01, 0.1, 0.3, 0.6] {
            let plug = plug(ohms, &[(10e-6, 1e-3)]);
            let (followed, formula) = (plug.peak_volts(), plug.lumped_peak_volts());
            assert!(
                (followed - formula).abs() < 3e-3,
                "{ohms}: {followed} against {formula}"
            );
        }
        assert!(plug(0.0, &[(10e-6, 1e-3)]).lumped_peak_volts() > 9.9);
    }

    #[test]
    fn law_no_overshoot_above_critical_damping() {
        let damped = plug(0.7, &[(10e-6, 1e-3)]);
        assert!(damped.damping() > 1.0);
        assert_eq!(damped.lumped_peak_volts(), 5.0);
        assert!(damped.peak_volts() < 5.0 + 1e-6);
    }

    #[test]
    fn law_added_resistance_reaches_the_damping() {
        let plain = plug(0.05, &[(6e-6, 2e-3)]);
        let more = plug(0.05 + plain.ohms_for(0.7), &[(6e-6, 2e-3)]);
        assert!((more.damping() - 0.7).abs() < 1e-12);
        assert!(more.peak_volts() < 5.0 * 1.05);
    }

    /// One capacitor of 1 uF beside 22 uF that 2 ohm keep from taking part: 7.2875 V by the midpoint
    /// rule in steps of a nanosecond, worked out on its own.
    #[test]
    fn ref_a_small_ceramic_rings_beside_a_lossy_capacitor() {
        let plug = Plug {
            volts: 5.25,
            ..plug(0.05, &[(1e-6, 5e-3), (22e-6, 2.0)])
        };
        let peak = plug.peak_volts();
        assert!((peak - 7.2875).abs() < 1e-3, "{peak}");
    }

    /// What a nanofarad does beside a large capacitor is damped away, whatever its resistance.
    #[test]
    fn law_a_tiny_capacitor_changes_nothing() {
        let large = plug(0.1, &[(22e-6, 0.5)]).peak_volts();
        let both = plug(0.1, &[(22e-6, 0.5), (1e-9, 5e-3)]).peak_volts();
        assert!((both - large).abs() < 0.02 * large, "{both} {large}");
    }

    #[test]
    fn law_a_lossy_capacitor_damps_and_a_second_ceramic_does_not() {
        let alone = plug(0.05, &[(4e-6, 2e-3)]).peak_volts();
        let damped = plug(0.05, &[(4e-6, 2e-3), (47e-6, 0.5)]).peak_volts();
        let ceramic = plug(0.05, &[(4e-6, 2e-3), (4e-6, 2e-3)]).peak_volts();
        assert!(damped < 0.75 * alone, "{damped} {alone}");
        assert!(
            ceramic > 0.9 * alone && ceramic < alone,
            "{ceramic} {alone}"
        );
    }
}
