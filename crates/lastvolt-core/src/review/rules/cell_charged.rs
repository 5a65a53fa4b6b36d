//! `cell-charged`: is a primary cell charged, by how much over the life, and with what current if a
//! diode fails?
//!
//! Judged by coulombs, not by picoamperes: the largest lasting current into the cell, in any settled
//! position, with any source missing and every cell fresh or tired, times the required life; other
//! cells give at most the charge that they hold. The current is that of a rested cell, which is the
//! most. Where that is sound, each diode is shorted in turn and the current held against what the
//! cell bears in a fault.
//!
//! # References
//! UL 1642 practice, two diodes or a diode and a resistor, and currents by cell size: Renata designer
//! guide p. 53. Three percent of the capacity over the life: handbooks of lithium cells, from memory.

use std::collections::BTreeSet;

use crate::circuit::{CellDrive, Circuit, Situation};
use crate::device::{Cell, Charging};
use crate::model::{Change, Device, Part};
use crate::numerics::eseries::Series;
use crate::quantity::{Quantity as _, Unit, YEAR_SECS};
use crate::review::rules::Rule;
use crate::review::rules::floating_control::positions;
use crate::review::situations::{Quantity, Survey, Worst};
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, Stack, words};

/// Share of its capacity that a primary cell may be charged with over its life where its maker states
/// none: three percent is what handbooks of lithium cells allow (from memory).
const USUAL_SHARE: f64 = 0.03;
/// Share below which charge does not count even where the maker allows none: about what a cell loses
/// by itself in a year (common practice), so that nothing is charged on balance.
const LEAST_SHARE: f64 = 0.01;
/// Life that is assumed where none is required.
const USUAL_LIFE_SECS: f64 = YEAR_SECS;
/// Depth at which the current in a fault is judged: the middle of the life.
const FAULT_DEPTH: f64 = 0.5;
/// Current in a fault that a coin cell bears where nothing is stated: the largest of the published
/// table (Renata designer guide p. 53); anything above it is too much for every size.
const FAULT_AMPS: f64 = 25e-3;

pub(super) struct CellCharged;

impl Rule for CellCharged {
    fn id(&self) -> RuleId {
        "cell-charged"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let mut out = Vec::new();
        for part in &e.board.parts {
            let Some(cell) = primary(part) else {
                continue;
            };
            let bench = Bench {
                circuit: e.circuit(),
                survey: e.survey(),
                usual: e.usual(),
            };
            let charged = bench.charged(&part.name, cell);
            if let Some(charged) = charged {
                let base = e.finding(self.id(), charged.severity(), &[&part.name]);
                out.push(charged.told(&part.name, cell, base));
            } else {
                out.extend(faulty(e, self.id(), part, cell));
            }
        }
        out
    }

    fn look_at_stack(&self, s: &Stack) -> Vec<Finding> {
        let bench = Bench {
            circuit: s.circuit(),
            survey: s.survey(),
            usual: s.usual(),
        };
        let mut out = Vec::new();
        for (name, part) in s.circuit().parts() {
            let Some(cell) = primary(part) else {
                continue;
            };
            let Some(charged) = bench.charged(&name, cell) else {
                continue;
            };
            // A board may never meet a second one of its kind.
            let severity = if s.twice {
                Severity::Note
            } else {
                charged.severity()
            };
            out.push(charged.told(&name, cell, s.finding(self.id(), severity, &[&name])));
        }
        out
    }
}

fn primary(part: &Part) -> Option<&Cell> {
    match &part.device {
        Device::Cell(cell) if cell.model.charging == Charging::Primary => Some(cell),
        _ => None,
    }
}

/// What a cell is looked at in.
struct Bench<'a> {
    circuit: &'a Circuit<'a>,
    survey: &'a Survey,
    usual: Situation,
}

/// A cell that gets more charge than it bears.
struct Charged {
    situation: Situation,
    situations: usize,
    amps: f64,
    limit_coulombs: f64,
    secs: f64,
    /// Whether it happens in the usual positions.
    usual: bool,
}

impl Bench<'_> {
    /// The worst lasting charge of a cell, where it is beyond the limit.
    fn charged(&self, name: &str, cell: &Cell) -> Option<Charged> {
        let worst = self.survey.forward(Quantity::Charging);
        let worst = worst.into_iter().find(|w| w.part == name)?;
        let requirement = &self.circuit.family().requirement;
        let secs = requirement.life.map_or(USUAL_LIFE_SECS, |l| l.as_secs());
        let limit_coulombs = limit_share(cell) * cell.model.charge.si();
        let given = self.given_coulombs(name, &worst.situation);
        let coulombs = |amps: f64| (amps * secs).min(given);
        if coulombs(worst.value) <= limit_coulombs {
            return None;
        }
        let beyond = worst.values.iter();
        let situations = beyond
            .filter(|amps| limit_coulombs < coulombs(**amps))
            .count();
        let usual = self.in_usual_positions(name, worst);
        let usual = usual.filter(|(_, amps)| limit_coulombs < coulombs(*amps));
        let is_usual = usual.is_some();
        let (situation, amps) = usual.unwrap_or((worst.situation.clone(), worst.value));
        Some(Charged {
            situation,
            situations,
            amps,
            limit_coulombs,
            secs,
            usual: is_usual,
        })
    }

    /// The same cells in the usual positions, with everything in place.
    fn in_usual_positions(&self, name: &str, worst: &Worst) -> Option<(Situation, f64)> {
        let situation = Situation {
            depth: worst.situation.depth,
            depths: worst.situation.depths.clone(),
            ..self.usual.clone()
        };
        let rested = &CellDrive::Rested;
        let point = self.circuit.solve(&situation, rested, None).ok()?;
        let amps = -point.part(name)?.amps;
        Some((situation, amps))
    }

    /// The most that the other sources can give: without end from a supply, else what cells hold.
    fn given_coulombs(&self, name: &str, situation: &Situation) -> f64 {
        let there = |source: &&String| !situation.absent.contains(*source) && *source != name;
        if self.circuit.supply_names().iter().any(|s| there(&s)) {
            return f64::INFINITY;
        }
        let parts = self.circuit.parts();
        let others = parts.iter().filter(|(source, _)| there(&source));
        let held = others.filter_map(|(source, part)| match &part.device {
            Device::Cell(cell) => {
                let left = 1.0 - situation.depth_of(source);
                Some(left.max(0.0) * cell.model.charge.si() * cell.series as f64)
            }
            _ => None,
        });
        held.sum()
    }
}

/// Share of the capacity that a cell may be charged with.
fn limit_share(cell: &Cell) -> f64 {
    let stated = cell.model.limits.reverse_charge.map(|share| share.si());
    stated.unwrap_or(USUAL_SHARE).max(LEAST_SHARE)
}

impl Charged {
    fn severity(&self) -> Severity {
        if self.usual {
            Severity::Stop
        } else {
            Severity::Fix
        }
    }

    fn told(self, name: &str, cell: &Cell, base: Finding) -> Finding {
        let bears = self.limit_coulombs / cell.model.charge.si();
        let others: Vec<String> = self.situation.boards.clone();
        let stacked = if 1 < others.len() {
            format!(" with {} plugged together", words::join(&others))
        } else {
            String::new()
        };
        let place = match positions(&self.situation) {
            place if place.is_empty() || self.usual => String::new(),
            place => format!(" ({place})"),
        };
        let worn = match self.situation.depth_of(name) {
            depth if 1.0 <= depth => " while it is empty".to_owned(),
            depth if 0.0 < depth => format!(" when {} of it is used", words::percent(depth)),
            _ => String::new(),
        };
        let leak = self.limit_coulombs / self.secs;
        let stated = cell.model.limits.reverse_charge.map(|share| share.si());
        let bears = match stated {
            Some(share) if share < LEAST_SHARE => {
                format!(
                    "its maker allows none, and {} of its capacity",
                    words::percent(bears)
                )
            }
            _ => format!("it bears {} of its capacity, which", words::percent(bears)),
        };
        Finding {
            situations: self.situations,
            measured: Some(Figure::new(self.amps, Unit::Ampere)),
            limit: Some(Figure::new(leak, Unit::Ampere)),
            says: format!(
                "{name} is a primary cell and is charged with up to {}{stacked}{worn}{place}; {bears} is reached after {}. A charged primary cell can leak, burst or burn.",
                words::amps(self.amps),
                words::span(self.limit_coulombs / self.amps)
            ),
            remedy: format!(
                "put a diode from {name} to the rail that leaks {} or less when hot, and a second one or a resistor behind it",
                words::amps(leak)
            ),
            basis:
                "maker's limit on charge over the life, else 3 % of the capacity (from memory); \
                    IEC 60086-4 and 60086-5 on charging primary cells"
                    .to_owned(),
            situation: Some(self.situation),
            ..base
        }
    }
}

/// What a cell gets when a diode of its board is shorted, where that is more than it bears.
fn faulty(e: &Evidence, rule: RuleId, part: &Part, cell: &Cell) -> Option<Finding> {
    let stated = cell.model.limits.reverse_current.map(|a| a.as_amps());
    // Where a maker allows no charging at all, the file states no current for a fault.
    let stated = stated.filter(|amps| 0.0 < *amps);
    let limit = stated.unwrap_or(FAULT_AMPS);
    let mut worst: Option<Fault> = None;
    let mut situations = 0;
    for diode in &e.board.parts {
        if !matches!(diode.device, Device::Diode(_)) {
            continue;
        }
        for fault in shorted(e, part, &diode.name) {
            if fault.amps <= limit {
                continue;
            }
            situations += 1;
            if worst.as_ref().is_none_or(|w| w.amps < fault.amps) {
                worst = Some(fault);
            }
        }
    }
    let worst = worst?;
    let severity = if stated.is_some() {
        Severity::Fix
    } else {
        Severity::Note
    };
    let resistor = worst.resistor_ohms(limit);
    let name = &part.name;
    Some(Finding {
        aspect: "single-fault",
        situations,
        measured: Some(Figure::new(worst.amps, Unit::Ampere)),
        limit: Some(Figure::new(limit, Unit::Ampere)),
        says: format!(
            "If {} is shorted, {name} is charged with {}; it bears {} in a fault.",
            worst.diode,
            words::amps(worst.amps),
            words::amps(limit)
        ),
        remedy: format!(
            "put {} or more in series with {}, or a second diode",
            words::ohms(resistor),
            worst.diode
        ),
        basis:
            "UL 1642 practice: two diodes, or a diode and a resistor (Renata designer guide p. 53)"
                .to_owned(),
        situation: Some(worst.situation),
        ..e.finding(rule, severity, &[name, &worst.diode])
    })
}

/// A cell behind a shorted diode.
struct Fault {
    diode: String,
    amps: f64,
    /// What drives the current: the voltage at the empty holder against the cell's own.
    drive_volts: f64,
    situation: Situation,
}

impl Fault {
    /// The smallest preferred value that keeps the current to a limit.
    fn resistor_ohms(&self, limit_amps: f64) -> f64 {
        let there = self.drive_volts / self.amps;
        Series::E24.at_least((self.drive_volts / limit_amps - there).max(1.0))
    }
}

/// The cell in every settled position with one diode shorted and supplies at their highest.
fn shorted(e: &Evidence, part: &Part, diode: &str) -> Vec<Fault> {
    let board = e.board.name.clone();
    let bridge = Change::Bridge {
        board: board.clone(),
        part: diode.to_owned(),
    };
    let Ok(family) = e.high_family().with(&[bridge]) else {
        return Vec::new();
    };
    let Ok(circuit) = Circuit::new(&family, &[board]) else {
        return Vec::new();
    };
    let mut out = Vec::new();
    let mut seen = BTreeSet::new();
    for (case, _) in e.forward() {
        let mut situation = case.situation.clone();
        situation.depth = FAULT_DEPTH;
        if !seen.insert(situation.positions.clone()) {
            continue;
        }
        let Ok(point) = circuit.solve(&situation, &CellDrive::Rested, None) else {
            continue;
        };
        let Some(solved) = point.part(&part.name).filter(|p| p.amps < 0.0) else {
            continue;
        };
        let empty = Situation {
            absent: BTreeSet::from([part.name.clone()]),
            ..situation.clone()
        };
        let holder = circuit.solve(&empty, &CellDrive::Rested, Some(&point));
        let open = holder
            .ok()
            .and_then(|p| p.part(&part.name).map(|s| s.volts));
        out.push(Fault {
            diode: diode.to_owned(),
            amps: -solved.amps,
            drive_volts: (open.unwrap_or(solved.volts) - own_volts(part)).max(0.0),
            situation,
        });
    }
    out
}

/// Voltage of a rested cell part half used.
fn own_volts(part: &Part) -> f64 {
    primary(part).map_or(0.0, |cell| {
        cell.series as f64 * cell.model.open_circuit_volts(FAULT_DEPTH).0
    })
}
