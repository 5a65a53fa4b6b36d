//! `indicator`: is an indicator seen over the whole life, does it stay within its rating, and can it be
//! turned off?
//!
//! Its current is solved in every position and every joint load state, fresh, along the life and with
//! every supply at its highest. Its light is proportional to its current; it is seen from the current
//! that its model states. An indicator that never lights is looked at again with a wire in its place:
//! that tells one that is the wrong way round or has too little voltage from one that nothing lights.
//! What an indicator costs belongs to `idle-thief`: where that speaks, nothing is said of turning it off.

use crate::circuit::{CellDrive, Circuit, Situation};
use crate::device::{Led, Resistor};
use crate::model::{Change, Device, Family, Kind, Part};
use crate::numerics::eseries::Series;
use crate::quantity::{Resistance, Spread, Unit};
use crate::review::anatomy::{ends, resistance};
use crate::review::rules::Rule;
use crate::review::rules::idle_thief::IdleThief;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

/// Current from which an indicator counts as lit.
const LIT_AMPS: f64 = 1e-6;
/// Above this multiple of its rated current it does not last.
const FAR_BEYOND: f64 = 2.0;
/// A pulse this long is steady to it: peak ratings are printed for pulses of 0.1 to 10 ms (common
/// practice).
const HELD_NS: u64 = 10_000_000;
/// An indicator that is seen for less than this share of the life does not do its work.
const MOST_OF_LIFE: f64 = 0.5;
/// Share of its rated current that an indicator is set to where a value is proposed (common practice).
const PROPOSED_SHARE: f64 = 0.5;
/// The same for the current from which it is seen: half as much again.
const PROPOSED_SEEN: f64 = 1.5;
/// Voltage across a resistor from which its value sets the current.
const SETS_VOLTS: f64 = 0.05;
/// Steps in which the depth is looked for at which it is no longer seen.
const DEPTH_STEPS: u32 = 20;
/// A wire that stands for an indicator.
const WIRE_OHMS: f64 = 1.0;

pub(super) struct Indicator;

impl Rule for Indicator {
    fn id(&self) -> RuleId {
        "indicator"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let mut out = Vec::new();
        if !e.has_source() {
            return out;
        }
        for part in &e.board.parts {
            let Device::Led(led) = &part.device else {
                continue;
            };
            let lamp = Lamp {
                e,
                rule: self.id(),
                part,
                led,
            };
            out.extend(lamp.over());
            let lit = lamp.lit();
            let brightest = lit.iter().max_by(|a, b| a.1.total_cmp(&b.1));
            match brightest {
                None => out.extend(lamp.dark()),
                Some((situation, amps)) => {
                    out.extend(lamp.seen(situation, *amps));
                    out.extend(lamp.always());
                }
            }
        }
        out
    }
}

/// One indicator of a board.
struct Lamp<'e, 'f> {
    e: &'e Evidence<'f>,
    rule: RuleId,
    part: &'e Part,
    led: &'e Led,
}

impl Lamp<'_, '_> {
    /// Every forward position with every joint load state.
    fn situations(&self) -> Vec<Situation> {
        let states = self.e.joint_states();
        let cases = self.e.forward().map(|(case, _)| &case.situation);
        let with = |situation: &Situation| {
            let each = states.iter().map(|states| Situation {
                states: states.clone(),
                ..situation.clone()
            });
            each.collect::<Vec<_>>()
        };
        cases.flat_map(with).collect()
    }

    fn amps(&self, situation: &Situation) -> Option<f64> {
        let point = self.e.point(situation)?;
        Some(point.part(&self.part.name)?.amps)
    }

    /// Situations with fresh cells in which it is lit, and its current.
    fn lit(&self) -> Vec<(Situation, f64)> {
        let all = self.situations().into_iter();
        let each = all.filter_map(|s| {
            let amps = self.amps(&s)?;
            (LIT_AMPS <= amps).then_some((s, amps))
        });
        each.collect()
    }

    /// The currents of this part in a changed family.
    fn amps_in(&self, family: &Family) -> Vec<(Situation, f64)> {
        let names = std::slice::from_ref(&self.e.board.name);
        let Ok(circuit) = Circuit::new(family, names) else {
            return Vec::new();
        };
        let all = self.situations().into_iter();
        let each = all.filter_map(|s| {
            let point = circuit.solve(&s, &CellDrive::Rested, None).ok()?;
            let amps = point.part(&self.part.name)?.amps;
            Some((s, amps))
        });
        each.collect()
    }

    /// Resistor in series with it.
    fn series(&self, situation: &Situation) -> Option<String> {
        let (a, k) = ends(self.part)?;
        let amps = self.amps(situation)?;
        let point = self.e.point(situation)?;
        let found = self.e.board.parts.iter().find(|p| {
            let touches = ends(p).is_some_and(|(x, y)| [x, y].iter().any(|n| *n == a || *n == k));
            let same = point.part(&p.name).map_or(0.0, |s| s.amps.abs()) / amps;
            resistance(p).is_some() && touches && (same - 1.0).abs() < 0.05
        });
        found.map(|p| p.name.clone())
    }

    /// Voltage at its place while it is not there.
    fn open_volts(&self, situation: &Situation) -> Option<f64> {
        let (a, k) = ends(self.part)?;
        let family = self.without()?;
        let names = std::slice::from_ref(&self.e.board.name);
        let circuit = Circuit::new(&family, names).ok()?;
        let point = circuit.solve(situation, &CellDrive::Rested, None).ok()?;
        Some(point.net(&self.e.net_name(a))? - point.net(&self.e.net_name(k))?)
    }

    /// The family without it.
    fn without(&self) -> Option<Family> {
        let remove = Change::Remove {
            board: self.e.board.name.clone(),
            part: self.part.name.clone(),
        };
        self.e.family.with(&[remove]).ok()
    }

    /// Whether the loads are in their states for long enough to count as steady.
    fn is_held(&self, situation: &Situation) -> bool {
        let base = self.e.usual().states;
        let steps = || {
            let tasks = self.e.profile.iter().flat_map(|p| &p.tasks);
            tasks.flat_map(|t| &t.steps)
        };
        let mut changed = situation
            .states
            .iter()
            .filter(|(l, s)| base.get(*l) != Some(*s));
        changed.all(|(load, state)| {
            let sets = |(l, s): &(String, String)| l == load && s == state;
            steps().any(|step| HELD_NS <= step.span_ns && step.set.iter().any(sets))
        })
    }

    /// Current above its rating with every supply at its highest.
    fn over(&self) -> Option<Finding> {
        let rated = self.led.junction.rated_current?.as_amps();
        let all = self.amps_in(&self.e.high_family());
        let over = all.iter().filter(|(_, amps)| rated < *amps);
        let over: Vec<_> = over
            .map(|(situation, amps)| {
                let severity = match self.is_held(situation) {
                    true if FAR_BEYOND * rated < *amps => Severity::Stop,
                    true => Severity::Fix,
                    false => Severity::Note,
                };
                (severity, situation, *amps)
            })
            .collect();
        let worst = over
            .iter()
            .max_by(|a, b| a.0.cmp(&b.0).then(a.2.total_cmp(&b.2)));
        let &(severity, situation, amps) = worst?;
        let (how, basis) = if severity == Severity::Note {
            (
                " in short pulses",
                "rated current of the part, which holds for a steady current; its pulse rating is not known here",
            )
        } else {
            ("", "rated current of the part")
        };
        Some(Finding {
            aspect: "over-current",
            situation: Some(situation.clone()),
            situations: over.len(),
            measured: Some(Figure::new(amps, Unit::Ampere)),
            limit: Some(Figure::new(rated, Unit::Ampere)),
            says: format!(
                "{} carries {}{how}; it is rated {}.",
                self.part.name,
                words::amps(amps),
                words::amps(rated)
            ),
            remedy: self.resistor_for(situation, PROPOSED_SHARE * rated),
            basis: basis.to_owned(),
            ..self.e.finding(self.rule, severity, &[&self.part.name])
        })
    }

    /// What to do to bring its current to a value.
    fn resistor_for(&self, situation: &Situation, wanted: f64) -> String {
        let junction = self.led.junction.junction(situation.ambient.as_celsius());
        let open = self.open_volts(situation).unwrap_or(0.0);
        let volts = open - junction.volts(wanted);
        if volts < SETS_VOLTS {
            return format!(
                "take one with a lower forward voltage, or feed it from a higher voltage: no resistor lets {} through",
                words::amps(wanted)
            );
        }
        let ohms = words::ohms(Series::E24.nearest(volts / wanted));
        let lets = format!("that lets {} through", words::amps(wanted));
        match self.series(situation) {
            Some(name) => format!("take {ohms} for {name}: {lets}"),
            None => format!("put {ohms} in series with it: {lets}"),
        }
    }

    /// Whether it is lit with a cell in backwards: that is what it is there to show.
    fn shows_reversal(&self) -> bool {
        let cases = self.e.matrix().cases.iter();
        let mut turned = cases.filter(|c| !c.situation.reversed.is_empty());
        turned.any(|case| {
            let solved = case.point.as_ref().ok();
            let amps = solved.and_then(|p| Some(p.part(&self.part.name)?.amps));
            amps.is_some_and(|amps| LIT_AMPS <= amps)
        })
    }

    /// Never lit: the wrong way round, too little voltage, or nothing that lights it.
    fn dark(&self) -> Option<Finding> {
        if self.shows_reversal() {
            return None;
        }
        let mut family = self.e.family.clone();
        let board = family
            .boards
            .iter_mut()
            .find(|b| b.name == self.e.board.name)?;
        let part = board.parts.iter_mut().find(|p| p.name == self.part.name)?;
        part.device = Device::Resistor(Resistor {
            value: Spread::exactly(Resistance::from_ohms(WIRE_OHMS)),
            rated: None,
        });
        part.kind = Kind::Resistor;
        let through = self.amps_in(&family);
        let most = through.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
        let least = through.iter().min_by(|a, b| a.1.total_cmp(&b.1))?;
        let name = &self.part.name;
        let (severity, at, says, remedy) = if LIT_AMPS <= most.1 {
            let says = format!("{name} never lights: it needs more voltage than it gets.");
            let remedy = "take one with a lower forward voltage, such as red in place of blue or white, or feed it from a higher voltage";
            (Severity::Fix, most, says, remedy)
        } else if least.1 <= -LIT_AMPS {
            let says = format!("{name} never lights: it is the wrong way round.");
            (Severity::Fix, least, says, "turn it round")
        } else {
            let says = format!(
                "{name} is lit in no position and no state of a load that the files tell of."
            );
            let remedy =
                "say which state of a load drives it, under `drives` of the load, or leave it out";
            (Severity::Note, most, says, remedy)
        };
        let seen = self.led.visible_from.map(|a| a.as_amps());
        Some(Finding {
            aspect: "dark",
            situation: Some(at.0.clone()),
            situations: through.len(),
            measured: Some(Figure::new(
                self.amps(&at.0).unwrap_or(0.0).max(0.0),
                Unit::Ampere,
            )),
            limit: Some(Figure::new(seen.unwrap_or(LIT_AMPS), Unit::Ampere)),
            says,
            remedy: remedy.to_owned(),
            basis: "forward voltage of the part".to_owned(),
            ..self.e.finding(self.rule, severity, &[name])
        })
    }

    /// Lit, but not seen: never, or from some depth on.
    fn seen(&self, situation: &Situation, amps: f64) -> Option<Finding> {
        let from = self.led.visible_from?.as_amps();
        let name = &self.part.name;
        let basis = "current from which the part's light is seen, as its model states".to_owned();
        if amps < from {
            return Some(Finding {
                aspect: "dim",
                situation: Some(situation.clone()),
                measured: Some(Figure::new(amps, Unit::Ampere)),
                limit: Some(Figure::new(from, Unit::Ampere)),
                says: format!(
                    "{name} is not seen: it gets {} at most, and is seen from {} on.",
                    words::amps(amps),
                    words::amps(from)
                ),
                remedy: self.resistor_for(situation, PROPOSED_SEEN * from),
                basis,
                ..self.e.finding(self.rule, Severity::Fix, &[name])
            });
        }
        let end = self.e.lasting_life()?.end.depth;
        let at = |depth: f64| Situation {
            depth,
            ..situation.clone()
        };
        let last = self.amps(&at(end))?;
        if from <= last {
            return None;
        }
        let (mut seen, mut dark) = (0.0, end);
        for _ in 0..DEPTH_STEPS {
            let middle = 0.5 * (seen + dark);
            match self.amps(&at(middle)) {
                Some(amps) if from <= amps => seen = middle,
                _ => dark = middle,
            }
        }
        let share = seen / end;
        let severity = if share < MOST_OF_LIFE {
            Severity::Fix
        } else {
            Severity::Note
        };
        Some(Finding {
            aspect: "fades",
            situation: Some(at(end)),
            measured: Some(Figure::new(last.max(0.0), Unit::Ampere)),
            limit: Some(Figure::new(from, Unit::Ampere)),
            says: format!(
                "{name} is seen until {} of the charge that the board uses is drawn; at the end it gets {} of the {} from which it is seen.",
                words::percent(share),
                words::amps(last.max(0.0)),
                words::amps(from)
            ),
            remedy: "take one with a lower forward voltage, or feed it from a regulated rail"
                .to_owned(),
            basis,
            ..self.e.finding(self.rule, severity, &[name])
        })
    }

    /// Lit by a cell as long as the board runs.
    fn always(&self) -> Option<Finding> {
        let usual = self.e.usual();
        let amps = self.amps(&usual)?;
        if !self.e.board.has_cell() || amps < LIT_AMPS || !self.drains(&usual, amps) {
            return None;
        }
        let states = self.e.joint_states();
        let running = self.e.forward().filter(|(case, _)| case.powered);
        for (case, _) in running {
            for states in &states {
                let situation = Situation {
                    states: states.clone(),
                    ..case.situation.clone()
                };
                if self.amps(&situation).is_some_and(|amps| amps < LIT_AMPS) {
                    return None;
                }
            }
        }
        let thieves = IdleThief.look(self.e);
        if thieves.iter().any(|f| f.parts.contains(&self.part.name)) {
            return None;
        }
        Some(Finding {
            aspect: "always",
            situation: Some(usual),
            measured: Some(Figure::new(amps, Unit::Ampere)),
            limit: Some(Figure::new(LIT_AMPS, Unit::Ampere)),
            says: format!(
                "{} is lit with {} as long as the board runs: no position and no state of a load turns it off.",
                self.part.name,
                words::amps(amps)
            ),
            remedy: "put a jumper in its branch, or let the firmware drive it".to_owned(),
            ..self
                .e
                .finding(self.rule, Severity::Note, &[&self.part.name])
        })
    }

    /// Whether the cells give its current, and not a supply beside them.
    fn drains(&self, usual: &Situation, amps: f64) -> bool {
        let names = std::slice::from_ref(&self.e.board.name);
        let without = self.without();
        let without = without.as_ref().and_then(|family| {
            let circuit = Circuit::new(family, names).ok()?;
            circuit.solve(usual, &CellDrive::Rested, None).ok()
        });
        let (Some(with), Some(without)) = (self.e.point(usual), without) else {
            return false;
        };
        let cells = self.e.board.parts.iter().filter(|p| p.kind == Kind::Cell);
        let saved =
            cells.filter_map(|p| Some(with.part(&p.name)?.amps - without.part(&p.name)?.amps));
        0.1 * amps < saved.sum::<f64>()
    }
}
