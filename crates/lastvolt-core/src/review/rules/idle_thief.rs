//! `idle-thief`: does an indicator, a divider, a bleeder, a converter's quiescent current or the own
//! current of a load switch, an ideal diode or a detector take a large share of the life?
//!
//! Each suspect is taken away and the saved current held against the mean one; what counts is the
//! life that this wins.
//! A board without cells has no thieves. Pull resistors belong to `pull-resistor`, leaking
//! capacitors to `capacitor-rating`.

use crate::circuit::Mode;
use crate::device::Loss;
use crate::model::{Change, Device, Kind, PropertyId};
use crate::numerics::eseries::Series;
use crate::quantity::Unit;
use crate::review::anatomy::{dividers, ends, pulls};
use crate::review::rules::Rule;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

/// Current from which an indicator counts as lit.
const LIT_AMPS: f64 = 1e-6;
/// Factor by which a divider is raised to see what it takes.
const RAISED: f64 = 1000.0;

pub(super) struct IdleThief;

impl Rule for IdleThief {
    fn id(&self) -> RuleId {
        "idle-thief"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        if e.lasting_life().is_none() {
            return Vec::new();
        }
        let mut suspects = indicators(e);
        suspects.extend(divider_suspects(e));
        suspects.extend(bleeders(e));
        suspects.extend(quiescents(e));
        suspects.extend(own_currents(e));
        let floor = 0.4 * e.sensitivity.win_share;
        let mut out = Vec::new();
        for suspect in suspects.iter().filter(|s| floor < s.share) {
            let won = e.win_by_drain(&suspect.changes).unwrap_or(0.0);
            // Without it nothing would end the life: a supply beside the cell pays for it.
            let paid = !won.is_finite() && e.board.parts.iter().any(|p| p.kind == Kind::Supply);
            if e.sensitivity.win_share < won && !paid {
                out.push(finding(e, self.id(), suspect, won));
            }
        }
        out
    }
}

/// Won life, as a multiple, from which shares are no longer told.
const MANY_TIMES: f64 = 10.0;

/// Something that takes charge while nothing happens.
struct Suspect {
    parts: Vec<String>,
    what: &'static str,
    /// Share of the ledger, or an estimate of it; only for leaving out what cannot count.
    share: f64,
    amps: f64,
    changes: Vec<Change>,
    remedy: String,
    /// Whether it does a job that the board cannot do without.
    needed: bool,
}

fn ledger_share(e: &Evidence, name: &str) -> f64 {
    let Some(life) = e.life() else { return 0.0 };
    let total: f64 = life.ledger.iter().map(|l| l.1).sum();
    let own = life.ledger.iter().filter(|l| l.0 == name).map(|l| l.1);
    own.sum::<f64>() / total
}

fn usual_amps(e: &Evidence, name: &str) -> f64 {
    let usual = e.point(&e.usual());
    let part = usual.as_ref().and_then(|p| p.part(name));
    part.map_or(0.0, |p| p.amps.abs())
}

fn set(e: &Evidence, part: &str, key: &str, value: f64) -> Change {
    let id = PropertyId {
        board: Some(e.board.name.clone()),
        part: part.to_owned(),
        key: key.to_owned(),
    };
    Change::Set(id, value)
}

fn remove(e: &Evidence, part: &str) -> Change {
    Change::Remove {
        board: e.board.name.clone(),
        part: part.to_owned(),
    }
}

/// Lit indicators, each with the resistor in series.
fn indicators(e: &Evidence) -> Vec<Suspect> {
    let mut out = Vec::new();
    for part in &e.board.parts {
        let Device::Led(led) = &part.device else {
            continue;
        };
        let amps = usual_amps(e, &part.name);
        if amps < LIT_AMPS {
            continue;
        }
        let mut parts = vec![part.name.clone()];
        let mut share = ledger_share(e, &part.name);
        for resistor in series_resistors(e, part, amps) {
            share += ledger_share(e, &resistor);
            parts.push(resistor);
        }
        let seen = led.visible_from.map_or(0.5e-3, |a| a.as_amps());
        let remedy = format!(
            "switch it by the firmware or by a position of its own; a flash of 10 ms every 5 s at {} takes {} on average",
            words::amps(seen.max(amps)),
            words::amps(seen.max(amps) * 0.002)
        );
        out.push(Suspect {
            parts,
            what: "indicator",
            share,
            amps,
            changes: vec![remove(e, &part.name)],
            remedy,
            needed: false,
        });
    }
    out
}

/// Resistors that share a net with a part and carry the same current.
fn series_resistors(e: &Evidence, led: &crate::model::Part, amps: f64) -> Vec<String> {
    let Some((a, k)) = ends(led) else {
        return Vec::new();
    };
    let resistors = e.board.parts.iter().filter(|p| {
        let touches = ends(p).is_some_and(|(x, y)| [x, y].iter().any(|n| *n == a || *n == k));
        matches!(p.device, Device::Resistor(_))
            && touches
            && (usual_amps(e, &p.name) / amps - 1.0).abs() < 0.01
    });
    resistors.map(|p| p.name.clone()).collect()
}

fn divider_suspects(e: &Evidence) -> Vec<Suspect> {
    let found = dividers(e.board).into_iter().filter_map(|d| {
        let (Device::Resistor(upper), Device::Resistor(lower)) = (&d.upper.device, &d.lower.device)
        else {
            return None;
        };
        let (upper_ohms, lower_ohms) = (upper.value.si(), lower.value.si());
        let bias = d.device.bias.high();
        let mut changes = vec![
            set(e, &d.upper.name, "value", RAISED * upper_ohms),
            set(e, &d.lower.name, "value", RAISED * lower_ohms),
        ];
        changes.push(set(e, &d.regulator.name, "bias", 0.0));
        // TI SLVA372 eq. 9: a hundred times the bias current keeps its error below one percent.
        let reference = usual_amps(e, &d.lower.name) * lower_ohms;
        let most = reference / (100.0 * bias);
        let remedy = if most <= lower_ohms {
            format!(
                "the bias current of {} allows no larger values: take one with less, or with a fixed output",
                d.regulator.name
            )
        } else if most.is_finite() {
            format!(
                "raise both resistors in the same ratio; {} may be up to {} for 100 times the bias current",
                d.lower.name,
                words::ohms(Series::E24.at_most(most))
            )
        } else {
            "raise both resistors in the same ratio".to_owned()
        };
        Some(Suspect {
            parts: vec![d.upper.name.clone(), d.lower.name.clone()],
            what: "feedback divider",
            share: ledger_share(e, &d.upper.name) + ledger_share(e, &d.lower.name),
            amps: usual_amps(e, &d.upper.name),
            changes,
            remedy,
            needed: false,
        })
    });
    found.collect()
}

/// Resistors to ground that are neither dividers nor pulls.
fn bleeders(e: &Evidence) -> Vec<Suspect> {
    let ground = e.family.connector.ground_net();
    let ground = e.board.nets.iter().position(|n| n == ground);
    let taken: Vec<&str> = dividers(e.board)
        .iter()
        .flat_map(|d| [d.upper.name.as_str(), d.lower.name.as_str()])
        .chain(pulls(e.board).iter().map(|p| p.resistor.name.as_str()))
        .collect();
    let lit: Vec<String> = indicators(e).into_iter().flat_map(|s| s.parts).collect();
    let mut out = Vec::new();
    for part in &e.board.parts {
        let Some((a, b)) = ends(part) else { continue };
        let grounded = (Some(a) == ground) != (Some(b) == ground);
        let free = !taken.contains(&part.name.as_str()) && !lit.contains(&part.name);
        if !(matches!(part.device, Device::Resistor(_)) && grounded && free) {
            continue;
        }
        out.push(Suspect {
            parts: vec![part.name.clone()],
            what: "resistor to ground",
            // What hangs above it in the same chain is saved as well.
            share: 2.0 * ledger_share(e, &part.name),
            amps: usual_amps(e, &part.name),
            changes: vec![remove(e, &part.name)],
            remedy: "raise it, or switch it on only when it is needed".to_owned(),
            needed: false,
        });
    }
    out
}

fn quiescents(e: &Evidence) -> Vec<Suspect> {
    let (Some(usual), Some(life)) = (e.point(&e.usual()), e.life()) else {
        return Vec::new();
    };
    let mut out = Vec::new();
    for part in &e.board.parts {
        let Device::Regulator(u) = &part.device else {
            continue;
        };
        // A table of efficiencies contains the quiescent current and cannot be told apart from it.
        if matches!(u.loss, Loss::Efficiency(_)) {
            continue;
        }
        let net = |pin: &str| {
            let name = part.net(pin).map(|n| e.net_name(n));
            name.and_then(|n| usual.net(&n)).unwrap_or(0.0)
        };
        let input = (net("in") - net("gnd")).abs().max(1e-3);
        let output = net("out") - net("gnd");
        let amps = u.quiescent_in.si() + u.quiescent_out.si() * output.max(0.0) / input;
        out.push(Suspect {
            parts: vec![part.name.clone()],
            what: "quiescent current",
            share: amps / life.mean_cell_amps.max(1e-15),
            amps,
            changes: vec![
                set(e, &part.name, "quiescent.in", 0.0),
                set(e, &part.name, "quiescent.out", 0.0),
            ],
            remedy: "take a converter with less quiescent current, or do without one if the loads allow it".to_owned(),
            needed: true,
        });
    }
    out
}

/// Load switches, ideal diodes and detectors that take something for themselves.
fn own_currents(e: &Evidence) -> Vec<Suspect> {
    let (Some(usual), Some(life)) = (e.point(&e.usual()), e.life()) else {
        return Vec::new();
    };
    let mut out = Vec::new();
    for part in &e.board.parts {
        let (word, amps) = match &part.device {
            Device::LoadSwitch(s) => ("a load switch", s.quiescent.si()),
            Device::IdealDiode(d) => ("an ideal diode", d.quiescent.si()),
            Device::Detector(d) => ("a detector", d.quiescent.si()),
            _ => continue,
        };
        let mode = usual.part(&part.name).and_then(|p| p.mode);
        if mode == Some(Mode::Off) {
            continue;
        }
        out.push(Suspect {
            parts: vec![part.name.clone()],
            what: "own current",
            share: amps / life.mean_cell_amps.max(1e-15),
            amps,
            changes: vec![set(e, &part.name, "quiescent", 0.0)],
            remedy: format!("take {word} that needs less for itself"),
            needed: true,
        });
    }
    out
}

/// Who takes it, as a sentence begins.
fn subject(suspect: &Suspect) -> String {
    let parts = words::join(&suspect.parts);
    if suspect.what == "resistor to ground" {
        format!("The resistor {parts} to ground")
    } else {
        format!("The {} of {parts}", suspect.what)
    }
}

fn finding(e: &Evidence, rule: RuleId, suspect: &Suspect, won: f64) -> Finding {
    let severity = match e.reaches_requirement() {
        // The board needs its converter: a fix only where the promise is missed.
        Some(true) | None if suspect.needed => Severity::Note,
        _ => e.weight_of_drain(won),
    };
    let now = e.life().and_then(|l| l.life_secs).unwrap_or(0.0);
    let parts: Vec<&str> = suspect.parts.iter().map(String::as_str).collect();
    let gain = if MANY_TIMES < won && won.is_finite() {
        format!(
            "without it the board would live {} in place of {}",
            words::span((1.0 + won) * now),
            words::span(now)
        )
    } else if won.is_finite() {
        format!(
            "without it the board would live {} longer ({} on top of {})",
            words::span(won * now),
            words::percent(won),
            words::span(now)
        )
    } else {
        "without it nothing would end the life".to_owned()
    };
    // Thousands of percent say nothing; the current and the one that would not be told of do.
    let share = e.sensitivity.win_share;
    let (measured, limit) = if won <= MANY_TIMES {
        (won, Figure::new(share, Unit::Fraction))
    } else {
        let quiet = suspect.amps * share / won;
        (suspect.amps, Figure::new(quiet, Unit::Ampere))
    };
    Finding {
        situation: Some(e.usual()),
        measured: Some(Figure::new(measured, limit.unit)),
        limit: Some(limit),
        says: format!(
            "{} takes {} all the time; {gain}.",
            subject(suspect),
            words::amps(suspect.amps)
        ),
        remedy: suspect.remedy.clone(),
        basis: if suspect.what == "quiescent current" {
            "TI SLYT412".to_owned()
        } else if suspect.what == "feedback divider" {
            "TI SLVA372 eq. 9".to_owned()
        } else {
            "common practice".to_owned()
        },
        ..e.finding(rule, severity, &parts)
    }
}
