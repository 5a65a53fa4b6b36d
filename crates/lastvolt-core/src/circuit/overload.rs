//! Which converter falls off when a circuit has no solution, and how much its source could give.
//!
//! A converter takes power, so behind a source of resistance Rs there is none past `E^2 / (4 Rs)`; the
//! answer is the converter that asks for too much, the share of the loads that would still be carried
//! and the most that its source gives.

use crate::circuit::build::System;
use crate::circuit::element::{Element, volts};
use crate::circuit::newton::{Failure, Solution};
use crate::circuit::operate::{Detail, Operation, terms_of};
use crate::circuit::regulation::{Active, RegulatorTerms};
use crate::circuit::{Fold, History, Mode, NoPoint};
use crate::device::Topology;
use crate::numerics::math;

impl Operation<'_, '_, '_> {
    /// No solution with these flags: the converter that asks for too much falls off.
    pub(super) fn fall(&mut self, system: &System, failure: &Failure) -> Result<(), NoPoint> {
        let on: Vec<usize> = (0..self.flags.on.len())
            .filter(|&at| self.flags.on[at] && is_converter(system, at))
            .collect();
        if on.is_empty() {
            return Err(self.no_point(system, failure));
        }
        if self.drop_unpowered(&on) {
            return Ok(());
        }
        // Of one converter it is known which falls.
        if let ([at], Detail::Bare) = (on.as_slice(), self.detail) {
            self.fold(*at);
            return Ok(());
        }
        let share = self.carried_share();
        let (at, most_watts) = self.most_overloaded(on, share);
        if self.is_unpowered(at) {
            self.switch_off(at, self.why_down());
            return Ok(());
        }
        self.collapse(at, share, most_watts);
        Ok(())
    }

    /// A converter at its fold falls off, or was never fed.
    pub(super) fn fold(&mut self, at: usize) {
        if self.is_unpowered(at) {
            self.switch_off(at, self.why_down());
            return;
        }
        let (load_share, most_watts) = match self.detail {
            Detail::Bare | Detail::Near => (0.0, 0.0),
            Detail::Explained => (self.carried_share(), self.most_watts(at).unwrap_or(0.0)),
        };
        self.collapse(at, load_share, most_watts);
    }

    fn collapse(&mut self, at: usize, load_share: f64, most_watts: f64) {
        let part = self.netlist.parts[at].name.clone();
        self.folds.push(Fold {
            part,
            load_share,
            most_watts,
        });
        let cold = self.situation.history == History::Cold;
        self.switch_off(at, if cold { Mode::Hiccup } else { Mode::Collapsed });
    }

    /// Looks at the circuit with a converter off and a share of the loads, and leaves it as it was.
    fn without<T>(
        &mut self,
        at: usize,
        load_scale: f64,
        look: impl FnOnce(&System, &Solution) -> Option<T>,
    ) -> Option<T> {
        self.flags.on[at] = false;
        self.flags.load_scale = load_scale;
        let found = self.look(look);
        self.flags.on[at] = true;
        self.flags.load_scale = 1.0;
        found
    }

    fn look<T>(&mut self, look: impl FnOnce(&System, &Solution) -> Option<T>) -> Option<T> {
        let mut kept = self.kept().ok()?;
        let solution = self.solve(&mut kept, None);
        let found = solution.ok().and_then(|found| look(&kept.system, &found));
        self.shelf.put(kept);
        found
    }

    /// The converter that asks most of what its source can give, and what that is.
    ///
    /// Where the loads are not what asks too much, the one without which most others stay up. The
    /// name decides between equals, so that the order of the parts does not.
    fn most_overloaded(&mut self, mut on: Vec<usize>, share: f64) -> (usize, f64) {
        let netlist = self.netlist;
        on.sort_by_key(|&at| &netlist.parts[at].name);
        let mut best: Option<(usize, f64, f64)> = None;
        for &at in &on {
            if let Some((most, asked)) = self.asks(at, share)
                && best.is_none_or(|(.., overload)| asked / most > overload * (1.0 + EQUAL))
            {
                best = Some((at, most, asked / most));
            }
        }
        if let Some((at, most, _)) = best {
            return (at, most);
        }
        let mut kept: Option<(usize, usize)> = None;
        for &at in &on {
            let standing = self.standing_without(at);
            if kept.is_none_or(|(_, most)| standing > most) {
                kept = Some((at, standing));
            }
        }
        let at = kept.map_or(on[0], |(at, _)| at);
        (at, self.most_watts(at).unwrap_or(0.0))
    }

    /// How many regulators run on when one is switched off.
    fn standing_without(&mut self, at: usize) -> usize {
        let standing = self.without(at, 1.0, |system, solution| {
            let x = &solution.x;
            let runs = |terms: &&RegulatorTerms| {
                terms.on && has_input(terms, x) && terms.active(x) != Active::Fold
            };
            Some(1 + regulators(system).filter(runs).count())
        });
        standing.unwrap_or(0)
    }

    /// Switches off the converters that have no supply even with everything off; says whether there
    /// was one.
    fn drop_unpowered(&mut self, on: &[usize]) -> bool {
        let before = self.flags.clone();
        for &at in on {
            self.flags.on[at] = false;
        }
        let dead = self.look(|system, solution| {
            let is_dead =
                |at: &usize| terms_of(system, *at).is_none_or(|t| !has_input(t, &solution.x));
            Some(on.iter().all(is_dead))
        });
        self.flags = before;
        // One that is fed by another may still come up.
        if dead != Some(true) {
            return false;
        }
        for &at in on {
            self.switch_off(at, Mode::Off);
        }
        true
    }

    /// Whether a converter's input is too low to run from even when it takes nothing.
    fn is_unpowered(&mut self, at: usize) -> bool {
        let unpowered = self.without(at, 1.0, |system, solution| {
            terms_of(system, at).map(|terms| !has_input(terms, &solution.x))
        });
        unpowered.unwrap_or(false)
    }

    /// The largest share of the loads that still has a solution, by bisection; nothing where not even the
    /// least has one, which is where something else than the loads is too much.
    fn carried_share(&mut self) -> f64 {
        self.flags.load_scale = math::exp2(-f64::from(SHARE_ROUNDS));
        if !self.carries() {
            self.flags.load_scale = 1.0;
            return 0.0;
        }
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..SHARE_ROUNDS {
            let middle = f64::midpoint(low, high);
            self.flags.load_scale = middle;
            if self.carries() {
                low = middle;
            } else {
                high = middle;
            }
        }
        self.flags.load_scale = 1.0;
        low
    }

    /// Whether there is a solution in which no converter has fallen off.
    fn carries(&mut self) -> bool {
        let carries = self.look(|system, solution| {
            let mut on = regulators(system).filter(|terms| terms.on);
            Some(!on.any(|terms| terms.active(&solution.x) == Active::Fold))
        });
        carries.unwrap_or(false)
    }

    /// The most that the source can give into a converter, and what it takes at a share of the load.
    fn asks(&mut self, at: usize, share: f64) -> Option<(f64, f64)> {
        self.flags.load_scale = share;
        let taken = self.look(|system, solution| {
            let terms = terms_of(system, at)?;
            let x = &solution.x;
            Some((volts(x, terms.power_in.net) - volts(x, terms.gnd.net)) * x[terms.ip])
        });
        self.flags.load_scale = 1.0;
        Some((self.most_watts(at)?, taken?))
    }

    /// `V^2 / (4 (Rs + Rpath))` from the source as it is with the converter off and nothing drawn.
    fn most_watts(&mut self, at: usize) -> Option<f64> {
        self.without(at, 0.0, |system, solution| {
            let terms = terms_of(system, at)?;
            let net = terms.power_in.net;
            let open_volts = volts(&solution.x, net) - volts(&solution.x, terms.gnd.net);
            let source_ohms = system.transfer_ohms(solution, net, net)?;
            let ohms = source_ohms + terms.device.path_ohms();
            (ohms > 0.0).then(|| open_volts * open_volts / (4.0 * ohms))
        })
    }
}

/// Rounds of the bisection.
const SHARE_ROUNDS: u32 = 14;
/// Share within which two converters ask equally much.
const EQUAL: f64 = 1e-6;

fn regulators<'s, 'f>(system: &'s System<'_, 'f>) -> impl Iterator<Item = &'s RegulatorTerms<'f>> {
    system
        .elements
        .iter()
        .filter_map(|(_, element)| match element {
            Element::Regulator(terms) => Some(&**terms),
            _ => None,
        })
}

/// Whether a regulator's input is high enough to run from.
fn has_input(terms: &RegulatorTerms, x: &[f64]) -> bool {
    let input = volts(x, terms.supply.net) - volts(x, terms.gnd.net);
    0.0 < input && terms.device.runs_down_to.as_volts() <= input
}

/// Whether a part takes power rather than current from its input, so that it can fold.
fn is_converter(system: &System, part: usize) -> bool {
    terms_of(system, part).is_some_and(|t| t.device.topology != Topology::Linear)
}
