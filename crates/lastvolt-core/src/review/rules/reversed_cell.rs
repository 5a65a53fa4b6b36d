//! `reversed-cell`: with a cell in backwards, does current flow, or does a part see what it is not
//! rated for? And what if another supply holds the rail up at the same time?
//!
//! Every position is compared with the same position and the cells the right way round, so that only
//! what the reversal brings about counts. A fuse that carries twice its rating opens (common
//! practice); what remains then is judged. The second question puts each other board of the family
//! onto the connector, or, where there is none, an ideal supply at the rail's usual voltage: a
//! p-channel transistor with its gate to ground blocks a reversed cell only while nothing else feeds
//! its source.
//!
//! # References
//! TI SLVA139; TI SLVAE57B, "reverse polarity protection vs reverse current blocking"; IEC 60086-4
//! and 60086-5 on reversed and charged primary cells.

mod harm;

use std::collections::BTreeSet;

use self::harm::{Wrong, overstressed, with_rail_supply};
use crate::circuit::{CellDrive, Circuit, MatrixCase, Point, Situation, all_powered, case};
use crate::device::{Cell, Charging, Reversal};
use crate::model::{Change, Device, Family, Part};
use crate::quantity::Unit;
use crate::review::evidence::FORGOTTEN_SECS;
use crate::review::rules::Rule;
use crate::review::rules::floating_control::positions;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

/// Multiple of its rating at which a fuse counts as opening (common practice; IEC 60127 asks for
/// opening within minutes at about twice the rating).
const OPENS: f64 = 2.0;
/// Charging current that a primary cell bears where its maker states none: ten microamperes are what
/// makers of lithium cells advise as the most for full life.
const CHARGING_AMPS: f64 = 10e-6;

/// Ratio within which two harms are alike.
const ALIKE: f64 = 1.05;

pub(super) struct ReversedCell;

impl Rule for ReversedCell {
    fn id(&self) -> RuleId {
        "reversed-cell"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let mut out = Vec::new();
        for part in &e.board.parts {
            let Device::Cell(cell) = &part.device else {
                continue;
            };
            if cell.holder.reversed == Reversal::Blocked {
                continue;
            }
            let looked = Looked { e, part, cell };
            let alone = looked.alone();
            let harm = if alone.is_empty() {
                looked.with_rail_held()
            } else {
                alone
            };
            out.extend(looked.finding(self.id(), &harm));
        }
        out
    }
}

/// The weightiest harm; among those that differ by little the first, whose positions are the usual ones.
fn worst_of(harms: &[Harm]) -> Option<&Harm> {
    let mut worst = harms.first()?;
    for harm in harms {
        let heavier = worst.severity < harm.severity;
        let equal = worst.severity == harm.severity;
        if heavier || equal && ALIKE * worst.share() < harm.share() {
            worst = harm;
        }
    }
    Some(worst)
}

/// One cell part under scrutiny.
struct Looked<'a> {
    e: &'a Evidence<'a>,
    part: &'a Part,
    cell: &'a Cell,
}

/// One thing that goes wrong in one situation.
#[derive(Debug, Clone)]
struct Harm {
    situation: Situation,
    /// What holds the rail up, where something else does.
    held_by: Option<String>,
    /// The transistor that conducts, where one does.
    through: Option<String>,
    part: String,
    says: String,
    measured: Figure,
    limit: Figure,
    severity: Severity,
}

impl Harm {
    fn share(&self) -> f64 {
        self.measured.value / self.limit.value
    }
}

/// A circuit with what stands in it besides the cells.
struct Bench<'f> {
    family: &'f Family,
    circuit: Circuit<'f>,
    /// The board under scrutiny, for names in a stack.
    prefix: String,
    held_by: Option<String>,
    /// Whether what holds the rail is no board of the family.
    is_invented: bool,
}

impl Looked<'_> {
    /// Harm with the board alone.
    fn alone(&self) -> Vec<Harm> {
        let boards = [self.e.board.name.clone()];
        let Ok(circuit) = Circuit::new(self.e.family, &boards) else {
            return Vec::new();
        };
        let bench = Bench {
            family: self.e.family,
            circuit,
            prefix: String::new(),
            held_by: None,
            is_invented: false,
        };
        let cases: Vec<&MatrixCase> = self.e.matrix().cases.iter().collect();
        let mut out = Vec::new();
        for turned in cases.iter().filter(|c| self.is_turned(&c.situation)) {
            let forward = cases.iter().find(|c| {
                c.situation.reversed.is_empty()
                    && c.situation.positions == turned.situation.positions
            });
            if let (Some(Ok(forward)), Ok(point)) = (forward.map(|c| &c.point), &turned.point) {
                out.extend(self.harms(&bench, &turned.situation, forward, point));
            }
        }
        out
    }

    fn is_turned(&self, situation: &Situation) -> bool {
        let own = format!("{}.", self.part.name);
        let mut reversed = situation.reversed.iter();
        reversed.any(|r| *r == self.part.name || r.starts_with(&own))
    }

    /// Harm with another board, or a supply in its place, holding the rail up.
    fn with_rail_held(&self) -> Vec<Harm> {
        let e = self.e;
        let others: Vec<_> = e.family.boards.iter().collect();
        let others: Vec<_> = others
            .into_iter()
            .filter(|b| b.name != e.board.name)
            .collect();
        if others.is_empty() {
            return self.with_supply();
        }
        let mut out = Vec::new();
        for other in others {
            let boards = [e.board.name.clone(), other.name.clone()];
            let Ok(circuit) = Circuit::new(e.family, &boards) else {
                continue;
            };
            let bench = Bench {
                family: e.family,
                circuit,
                prefix: format!("{}/", e.board.name),
                held_by: Some(format!("board {} stacked", other.name)),
                is_invented: false,
            };
            out.extend(self.on_bench(&bench, &boards));
        }
        out
    }

    fn with_supply(&self) -> Vec<Harm> {
        let e = self.e;
        let Some((family, volts)) = with_rail_supply(e) else {
            return Vec::new();
        };
        let boards = [e.board.name.clone()];
        let Ok(circuit) = Circuit::new(&family, &boards) else {
            return Vec::new();
        };
        let bench = Bench {
            family: &family,
            circuit,
            prefix: String::new(),
            held_by: Some(format!(
                "another supply holding the rail at {}",
                words::volts(volts)
            )),
            is_invented: true,
        };
        self.on_bench(&bench, &boards)
    }

    /// Solves this board's positions on a bench, each way round.
    fn on_bench(&self, bench: &Bench, boards: &[String]) -> Vec<Harm> {
        let usual = Situation::usual(self.e.family, boards, self.e.profile);
        let mut out = Vec::new();
        let (mut near_forward, mut near_turned): (Option<Point>, Option<Point>) = (None, None);
        for (own, _) in self.e.forward() {
            if self.fused(&own.situation) {
                continue;
            }
            let mut forward = usual.clone();
            for (switch, position) in &own.situation.positions {
                let name = format!("{}{switch}", bench.prefix);
                forward.positions.insert(name, position.clone());
            }
            let turned = Situation {
                reversed: BTreeSet::from([format!("{}{}", bench.prefix, self.part.name)]),
                ..forward.clone()
            };
            let rested = &CellDrive::Rested;
            let sound = bench.circuit.solve(&forward, rested, near_forward.as_ref());
            let point = bench.circuit.solve(&turned, rested, near_turned.as_ref());
            let (Ok(sound), Ok(point)) = (sound, point) else {
                continue;
            };
            out.extend(self.harms(bench, &turned, &sound, &point));
            (near_forward, near_turned) = (Some(sound), Some(point));
        }
        out
    }

    /// What a reversed point does that the forward one does not.
    fn harms(
        &self,
        bench: &Bench,
        situation: &Situation,
        forward: &Point,
        point: &Point,
    ) -> Vec<Harm> {
        if let Some(opened) = self.after_fuses(bench, situation, point) {
            return opened;
        }
        self.harms_of(bench, &bench.circuit, situation, forward, point)
    }

    /// What remains once fuses that must open have done so; none where none must.
    fn after_fuses(
        &self,
        bench: &Bench,
        situation: &Situation,
        point: &Point,
    ) -> Option<Vec<Harm>> {
        let opening = self.opening_fuses(&bench.prefix, point);
        if opening.is_empty() {
            return None;
        }
        if opening.iter().any(|fuse| self.in_series(fuse)) {
            // Nothing is connected to the cell any more.
            return Some(Vec::new());
        }
        let opening: Vec<Change> = opening
            .iter()
            .map(|p| Change::Remove {
                board: self.e.board.name.clone(),
                part: p.name.clone(),
            })
            .collect();
        let opened = bench.family.with(&opening).ok()?;
        let circuit = Circuit::new(&opened, &situation.boards).ok()?;
        let sound = Situation {
            reversed: BTreeSet::new(),
            ..situation.clone()
        };
        let forward = circuit.solve(&sound, &CellDrive::Rested, None).ok()?;
        let point = circuit.solve(situation, &CellDrive::Rested, None).ok()?;
        Some(self.harms_of(bench, &circuit, situation, &forward, &point))
    }

    /// Whether the reversed part disconnects itself by its fuse in a position with the board alone; it
    /// then does so all the more with another supply.
    fn fused(&self, forward: &Situation) -> bool {
        let turned = self.e.matrix().cases.iter().find(|c| {
            c.situation.positions == forward.positions
                && c.situation.reversed.len() == 1
                && c.situation.reversed.contains(&self.part.name)
        });
        let Some(Ok(point)) = turned.map(|c| &c.point) else {
            return false;
        };
        let opening = self.opening_fuses("", point);
        opening.iter().any(|fuse| self.in_series(fuse))
    }

    /// Fuses of this board that carry so much that they open.
    fn opening_fuses(&self, prefix: &str, point: &Point) -> Vec<&Part> {
        let parts = self.e.board.parts.iter();
        let opens = |p: &&Part| {
            let rated = match &p.device {
                Device::Fuse(fuse) => fuse.rated,
                // What it lets through to stay tripped is left out.
                Device::Ptc(ptc) => ptc.trip.or(ptc.hold),
                _ => return false,
            };
            let amps = point.part(&format!("{prefix}{}", p.name));
            let amps = amps.map_or(0.0, |f| f.amps.abs());
            let share = if let Device::Ptc(_) = p.device {
                1.0
            } else {
                OPENS
            };
            rated.is_some_and(|rated| share * rated.as_amps() <= amps)
        };
        parts.filter(opens).collect()
    }

    /// Whether a part is all that a pin of the cell is connected to.
    fn in_series(&self, fuse: &Part) -> bool {
        let cell_nets = self.part.pins.iter().filter_map(|p| p.net);
        cell_nets.into_iter().any(|net| {
            let pins = self.e.board.parts.iter().flat_map(|p| &p.pins);
            let count = pins.filter(|p| p.net == Some(net)).count();
            let shared = fuse.pins.iter().any(|p| p.net == Some(net));
            let name = self.e.net_name(net);
            let elsewhere = self.e.family.connector.pins.contains(&name);
            shared && count == 2 && !elsewhere
        })
    }

    fn harms_of(
        &self,
        bench: &Bench,
        circuit: &Circuit,
        situation: &Situation,
        forward: &Point,
        point: &Point,
    ) -> Vec<Harm> {
        let mut out = overstressed(circuit, situation, forward, point);
        out.extend(self.drained_or_charged(bench, circuit, situation, point));
        let through = self.conducting(bench, point);
        let as_harm = |wrong: Wrong| Harm {
            situation: situation.clone(),
            held_by: bench.held_by.clone(),
            through: through.clone(),
            // Two things at once have to go wrong for the second question.
            severity: if bench.is_invented {
                Severity::Note
            } else if wrong.hazard && bench.held_by.is_none() {
                Severity::Stop
            } else {
                Severity::Fix
            },
            part: wrong.part,
            says: wrong.says,
            measured: wrong.measured,
            limit: wrong.limit,
        };
        out.into_iter().map(as_harm).collect()
    }

    /// A primary cell that is charged, or a cell that will be flat within a month.
    fn drained_or_charged(
        &self,
        bench: &Bench,
        circuit: &Circuit,
        situation: &Situation,
        point: &Point,
    ) -> Option<Wrong> {
        let name = format!("{}{}", bench.prefix, self.part.name);
        let own = format!("{name}.");
        let solved = case(circuit, situation.clone(), Ok(point.clone()));
        let amps = solved.cells.iter().find(|c| c.0 == name)?.1.abs();
        let limits = &self.cell.model.limits;
        let stated = limits.reverse_current.map(|a| a.as_amps());
        let bears = stated.filter(|a| 0.0 < *a).unwrap_or(CHARGING_AMPS);
        let mut charged = solved.charged.iter();
        let charged = charged.find(|c| **c == name || c.starts_with(&own));
        let primary = self.cell.model.charging == Charging::Primary;
        if let Some(charged) = charged.filter(|_| primary && bears < amps) {
            return Some(Wrong {
                part: charged.clone(),
                says: format!(
                    "{charged} is charged with {}; it bears {}",
                    words::amps(amps),
                    words::amps(bears)
                ),
                measured: Figure::new(amps, Unit::Ampere),
                limit: Figure::new(bears, Unit::Ampere),
                hazard: true,
            });
        }
        // A board that works although one cell of its string is turned draws what it always draws.
        let works = bench.held_by.is_none() && all_powered(circuit, situation, point);
        let month = self.cell.model.charge.si() / FORGOTTEN_SECS;
        (month < amps && !works).then(|| Wrong {
            says: format!(
                "{} flow through {name}, which is flat within {}",
                words::amps(amps),
                words::span(self.cell.model.charge.si() / amps)
            ),
            part: name,
            measured: Figure::new(amps, Unit::Ampere),
            limit: Figure::new(month, Unit::Ampere),
            hazard: false,
        })
    }

    /// The transistor of this board that carries most of the reversed cell's current.
    fn conducting(&self, bench: &Bench, point: &Point) -> Option<String> {
        let amps = |name: &str| {
            let solved = point.part(&format!("{}{name}", bench.prefix));
            solved.map_or(0.0, |p| p.amps.abs())
        };
        let own = amps(&self.part.name);
        let parts = self.e.board.parts.iter();
        let mut fets = parts.filter(|p| matches!(p.device, Device::Fet(_)));
        fets.find(|p| 1e-6 < own && 0.5 * own < amps(&p.name))
            .map(|p| p.name.clone())
    }

    /// One finding on the worst of all harms.
    fn finding(&self, rule: RuleId, harms: &[Harm]) -> Option<Finding> {
        let worst = worst_of(harms)?;
        let mut situations: Vec<&Situation> = Vec::new();
        for harm in harms {
            if !situations.contains(&&harm.situation) {
                situations.push(&harm.situation);
            }
        }
        let turned: Vec<String> = worst.situation.reversed.iter().cloned().collect();
        let place = positions(&worst.situation);
        let place = if place.is_empty() {
            String::new()
        } else {
            format!(" ({place})")
        };
        let mut parts = vec![self.part.name.as_str()];
        let held = match (&worst.held_by, &worst.through) {
            (None, _) => String::new(),
            (Some(by), None) => format!(" and {by}"),
            (Some(by), Some(fet)) => {
                parts.push(fet);
                format!(" and {by}, which keeps {fet} on")
            }
        };
        if parts.iter().all(|p| *p != worst.part) && self.e.board.part(&worst.part).is_some() {
            parts.push(&worst.part);
        }
        Some(Finding {
            aspect: if worst.held_by.is_some() {
                "rail-held-up"
            } else {
                ""
            },
            situation: Some(worst.situation.clone()),
            situations: situations.len(),
            measured: Some(worst.measured),
            limit: Some(worst.limit),
            says: format!(
                "With {} backwards{held}{place}: {}.",
                words::join(&turned),
                worst.says
            ),
            remedy: self.remedy(worst),
            basis: if worst.held_by.is_some() {
                "TI SLVAE57B; IEC 60086-4, IEC 60086-5".to_owned()
            } else {
                "TI SLVA139; IEC 60086-4, IEC 60086-5".to_owned()
            },
            ..self.e.finding(rule, worst.severity, &parts)
        })
    }

    fn remedy(&self, worst: &Harm) -> String {
        let holder = if self.cell.holder.reversed == Reversal::Short {
            "a holder whose contacts a reversed cell does not reach"
        } else {
            "a holder that a reversed cell does not fit (reversed = \"blocked\" or \"no-contact\")"
        };
        if worst.held_by.is_some() {
            format!(
                "take {holder}, or block current from the rail as well: a diode or two transistors back to back"
            )
        } else {
            format!(
                "take {holder}, or a p-channel transistor with its drain to the cell and its gate to ground"
            )
        }
    }
}
