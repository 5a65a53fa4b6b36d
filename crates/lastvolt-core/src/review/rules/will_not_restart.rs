//! `will-not-restart`: a board that runs, does it also start again from the same depth?
//!
//! Along the life the base state is solved twice, running and from off, with the current of the boot
//! sequence as load where one is given. Said where the board runs but does not start over more than
//! a twentieth of its life.
//!
//! # References
//! Data sheets state the lowest starting input into a load apart from the lowest running one: TI
//! SLVSBX9A (1.5 V against 0.9 V), Microchip DS22234B (0.65 V against 0.35 V).

use crate::circuit::{CellDrive, Circuit, History, Mode, Point, Situation};
use crate::deliver::{BOOT, with_boot};
use crate::quantity::Unit;
use crate::review::rules::Rule;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};
use crate::time::Life;

/// Depths to look at, as shares of the depth at the end of life.
const SHARES: [f64; 9] = [0.0, 0.2, 0.4, 0.6, 0.7, 0.8, 0.87, 0.93, 0.97];
/// Halvings between the last depth that starts and the first that does not.
const HALVINGS: usize = 10;

pub(super) struct WillNotRestart;

impl Rule for WillNotRestart {
    fn id(&self) -> RuleId {
        "will-not-restart"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let family = with_boot(e.family);
        let Ok(circuit) = Circuit::new(&family, std::slice::from_ref(&e.board.name)) else {
            return Vec::new();
        };
        let start = Start { e, circuit };
        let Some((depth, stuck)) = start.first_failure() else {
            return Vec::new();
        };
        start.finding(self.id(), depth, stuck).into_iter().collect()
    }
}

struct Start<'e, 'f> {
    e: &'e Evidence<'e>,
    circuit: Circuit<'f>,
}

/// What keeps a board from starting.
struct Stuck {
    part: Option<String>,
    says: String,
}

impl Start<'_, '_> {
    fn cold(&self, depth: f64) -> Situation {
        Situation {
            depth,
            history: History::Cold,
            ..self.e.usual()
        }
    }

    /// What keeps the board from starting at a depth at which it runs.
    fn fails(&self, depth: f64) -> Option<Stuck> {
        let running = Situation {
            history: History::Running,
            ..self.cold(depth)
        };
        let runs = self.e.point(&running)?;
        if !self.e.shortfalls(&running, &runs).is_empty() {
            return None;
        }
        let mut booting = self.cold(depth);
        for (name, load) in self.circuit.loads() {
            if load.state(BOOT).is_some() {
                booting.states.insert(name, BOOT.to_owned());
            }
        }
        let point = self
            .circuit
            .solve(&booting, &CellDrive::Rested, None)
            .ok()?;
        self.stuck(&runs, &point)
    }

    fn stuck(&self, runs: &Point, point: &Point) -> Option<Stuck> {
        let low = self.circuit.loads().into_iter().find(|(name, load)| {
            let least = load.reset.as_ref().map(|r| r.below.as_volts());
            let least = least.or_else(|| load.working_in(0).map(|r| r.from.as_volts()));
            point
                .load(name)
                .is_some_and(|l| !l.awake || l.volts < least.unwrap_or(0.0))
        });
        let (load, _) = low?;
        let stuck = |m: Mode| matches!(m, Mode::Start | Mode::Hiccup | Mode::Collapsed | Mode::Off);
        let regulator = point.parts.iter().find(|p| {
            let ran = runs.part(&p.name).and_then(|p| p.mode);
            p.mode.is_some_and(stuck) && !ran.is_some_and(stuck)
        });
        let volts = point.load(&load).map_or(0.0, |l| l.volts);
        let says = match regulator {
            Some(part) => format!(
                "{} stays in {} with {} at its input, and {load} gets {}",
                part.name,
                part.mode.map_or("off", Mode::word),
                words::volts(self.input_volts(&part.name, point)),
                words::volts(volts)
            ),
            None => format!("{load} gets {} and stays in reset", words::volts(volts)),
        };
        Some(Stuck {
            part: regulator.map(|p| p.name.clone()),
            says,
        })
    }

    fn input_volts(&self, part: &str, point: &Point) -> f64 {
        let net = self.e.board.part(part).and_then(|p| p.net("in"));
        let net = net.map(|n| self.e.net_name(n));
        net.and_then(|n| point.net(&n)).unwrap_or(0.0)
    }

    /// The shallowest depth from which the board does not start although it runs.
    fn first_failure(&self) -> Option<(f64, Stuck)> {
        let end = self.e.life().map_or(0.0, |l| l.end.depth);
        let depths: Vec<f64> = if self.e.board.has_cell() {
            SHARES.iter().map(|s| s * end).collect()
        } else {
            vec![0.0]
        };
        let mut starts = 0.0;
        for depth in depths {
            let Some(mut stuck) = self.fails(depth) else {
                starts = depth;
                continue;
            };
            let mut fails = depth;
            for _ in 0..HALVINGS {
                let middle = f64::midpoint(starts, fails);
                match self.fails(middle) {
                    Some(s) => (fails, stuck) = (middle, s),
                    None => starts = middle,
                }
            }
            return Some((fails, stuck));
        }
        None
    }

    fn finding(&self, rule: RuleId, depth: f64, stuck: Stuck) -> Option<Finding> {
        let e = self.e;
        let source = e.source_name()?;
        let part = stuck.part.as_deref().unwrap_or(&source);
        let fresh = depth <= 1e-3;
        let life = e.life().filter(|_| !fresh);
        let when = life.map(|l| (time_at(l, depth), l.life_secs.unwrap_or(f64::INFINITY)));
        let severity = match when {
            None => Severity::Stop,
            Some((at, secs)) => {
                let needed = e.family.requirement.life.map_or(secs, |t| t.as_secs());
                if (1.0 - e.sensitivity.win_share) * secs < at {
                    return None;
                }
                if needed.min(secs) <= at {
                    Severity::Note
                } else {
                    Severity::Fix
                }
            }
        };
        let from = match when {
            None => "Even from fresh cells the board does not start".to_owned(),
            Some((at, secs)) => format!(
                "From {} on (depth {}) of {} the board runs but does not start again once it was off",
                words::span(at),
                words::percent(depth),
                words::span(secs)
            ),
        };
        let end = e.life().map_or(1.0, |l| l.end.depth);
        Some(Finding {
            situation: Some(self.cold(depth)),
            measured: Some(Figure::new(depth, Unit::Fraction)),
            limit: Some(Figure::new(end, Unit::Fraction)),
            says: format!("{from}: {}.", stuck.says),
            remedy: "take a converter that starts at the end voltage of the cells, keep the load off until \
                     the output stands, or end the life by a low-battery threshold above this depth"
                .to_owned(),
            basis: "TI SLVSBX9A, Microchip DS22234B: starting input apart from running input".to_owned(),
            ..e.finding(rule, severity, &[part])
        })
    }
}

/// When the life reaches a depth.
fn time_at(life: &Life, depth: f64) -> f64 {
    let trace = &life.trace;
    let after = trace.depth.iter().position(|d| depth <= *d);
    let end = life.life_secs.unwrap_or(0.0);
    match after {
        Some(0) | None => end * (depth / life.end.depth.max(1e-9)).min(1.0),
        Some(k) => {
            let (d0, d1) = (trace.depth[k - 1], trace.depth[k]);
            let share = (depth - d0) / (d1 - d0).max(1e-12);
            trace.time_secs[k - 1] + share * (trace.time_secs[k] - trace.time_secs[k - 1])
        }
    }
}
