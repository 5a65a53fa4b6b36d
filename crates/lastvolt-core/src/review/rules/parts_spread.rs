//! `parts-spread`: which values of the family could be one?
//!
//! Resistors that hold pins, resistors of dividers and of indicators, and ceramic capacitors to ground
//! are sorted into groups of near values. For each group one of its values is put in all places, and the
//! rules that judge such parts look at the changed boards: where none of them says anything that it did
//! not say before, the value does everywhere.

use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;

use crate::device::Dielectric;
use crate::model::{Board, Change, Device, Family, Part, PropertyId};
use crate::progress::Silent;
use crate::quantity::Unit;
use crate::review::anatomy::{dividers, ends, pulls};
use crate::review::rules::{RULES, Rule};
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, Whole, words};

/// Values of one role up to this ratio may be one part. Pulls bear a decade; dividers only what their
/// tolerance is about; capacitors one and a half steps of E3 up, so that starting currents stay alike;
/// lamps two steps of E12 (common practice).
const PULL_RATIO: f64 = 10.0;
const DIVIDER_RATIO: f64 = 1.05;
const LAMP_RATIO: f64 = 1.5;
const CAPACITOR_RATIO: f64 = 3.0;
/// Values nearer than this are the same.
const SAME: f64 = 1e-6;
/// Most values of a group that are tried in all places.
const MOST_TRIED: usize = 3;

pub(super) struct PartsSpread;

impl Rule for PartsSpread {
    fn id(&self) -> RuleId {
        "parts-spread"
    }

    fn look_at_family(&self, w: &Whole) -> Vec<Finding> {
        let groups = groups(w);
        let looked: BTreeSet<(&str, Role)> = groups
            .iter()
            .flat_map(|g| g.places.iter().map(|p| (p.board.as_str(), g.role)))
            .collect();
        let looked = looked.into_par_iter();
        let before = looked.map(|(board, role)| ((board, role), heard(w.family, w, board, role)));
        let before: Before = before.collect();
        groups
            .par_iter()
            .filter_map(|g| g.finding(w, self.id(), &before))
            .collect()
    }
}

/// What a part is for. The order is that of the findings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Role {
    Pull,
    Divider,
    Lamp,
    Bypass,
}

impl Role {
    fn ratio(self) -> f64 {
        match self {
            Self::Pull => PULL_RATIO,
            Self::Divider => DIVIDER_RATIO,
            Self::Lamp => LAMP_RATIO,
            Self::Bypass => CAPACITOR_RATIO,
        }
    }

    /// The rules that judge such parts.
    fn judges(self) -> &'static [RuleId] {
        match self {
            Self::Pull => &["pull-resistor", "floating-control", "off-leak"],
            Self::Divider => &["output-error", "idle-thief"],
            Self::Lamp => &["indicator", "idle-thief", "thermal"],
            Self::Bypass => &[
                "capacitor-rating",
                "burst-capacity",
                "will-not-restart",
                "no-reset-after-off",
                "usb-limits",
                "hot-plug",
                "ripple",
            ],
        }
    }

    fn what(self) -> &'static str {
        match self {
            Self::Pull => "hold pins",
            Self::Divider => "set outputs",
            Self::Lamp => "set the current of indicators",
            Self::Bypass => "carry edges",
        }
    }
}

/// What the rules that judge a role say about each board as it is.
type Before<'a> = BTreeMap<(&'a str, Role), Option<Heard>>;
/// Severity and name of each finding.
type Heard = BTreeSet<(Severity, String)>;

/// One place of a part.
#[derive(Debug, Clone, PartialEq)]
struct Place {
    board: String,
    part: String,
    value: f64,
}

/// Places whose values are near each other.
#[derive(Debug, Clone, PartialEq)]
struct Group {
    role: Role,
    places: Vec<Place>,
}

/// What else must be alike: the kind of dielectric and the rated voltage, in millivolts.
type Alike = (u8, u64);

fn groups(w: &Whole) -> Vec<Group> {
    let mut sorted: BTreeMap<(Role, Alike), Vec<Place>> = BTreeMap::new();
    for board in &w.family.boards {
        for part in &board.parts {
            if let Some((role, alike, value)) = role(w, board, part) {
                sorted.entry((role, alike)).or_default().push(Place {
                    board: board.name.clone(),
                    part: part.name.clone(),
                    value,
                });
            }
        }
    }
    let mut out = Vec::new();
    for ((role, _), mut places) in sorted {
        places.sort_by(|a, b| a.value.total_cmp(&b.value));
        let mut rest = places.as_slice();
        while let Some(first) = rest.first() {
            let count = rest.partition_point(|p| p.value <= role.ratio() * first.value);
            let (near, further) = rest.split_at(count);
            rest = further;
            let differ = near
                .last()
                .is_some_and(|l| (1.0 + SAME) * first.value < l.value);
            if differ {
                let places = near.to_vec();
                out.push(Group { role, places });
            }
        }
    }
    out
}

fn role(w: &Whole, board: &Board, part: &Part) -> Option<(Role, Alike, f64)> {
    let any = (0, 0);
    match &part.device {
        Device::Resistor(r) => {
            let value = r.value.si();
            let named = |p: &Part| p.name == part.name;
            let divides = dividers(board)
                .iter()
                .any(|d| named(d.upper) || named(d.lower));
            let holds = pulls(board).iter().any(|p| named(p.resistor));
            let lights = board.parts.iter().any(|p| {
                let touches = ends(p).zip(ends(part));
                let own = |n| !w.family.connector.pins.contains(&board.nets[n]);
                matches!(p.device, Device::Led(_))
                    && touches.is_some_and(|((a, k), (x, y))| {
                        [a, k].into_iter().any(|n| own(n) && (n == x || n == y))
                    })
            });
            let role = match (divides, holds, lights) {
                (true, ..) => Role::Divider,
                (_, true, _) => Role::Pull,
                (.., true) => Role::Lamp,
                _ => return None,
            };
            (0.0 < value).then_some((role, any, value))
        }
        Device::Capacitor(c) => {
            let ceramic = match c.dielectric? {
                Dielectric::Class1 => 1,
                Dielectric::Class2X => 2,
                Dielectric::Class2Y => 3,
                _ => return None,
            };
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "rated voltages are positive and small"
            )]
            let rated = (c.rated?.as_volts() * 1e3) as u64;
            let ground = w.family.connector.ground_net();
            let (a, b) = ends(part)?;
            let grounded = board.nets[a] == ground || board.nets[b] == ground;
            grounded.then_some((Role::Bypass, (ceramic, rated), c.value.si()))
        }
        _ => None,
    }
}

impl Group {
    /// The values worth trying in all places: of capacitors the largest; of resistors the most used
    /// first, then the largest.
    fn values(&self) -> Vec<f64> {
        let mut counted: Vec<(usize, f64)> = Vec::new();
        for place in &self.places {
            match counted.last_mut() {
                Some(last) if place.value <= (1.0 + SAME) * last.1 => last.0 += 1,
                _ => counted.push((1, place.value)),
            }
        }
        counted.reverse();
        if self.role == Role::Bypass {
            counted.truncate(1);
        } else {
            counted.sort_by_key(|c| std::cmp::Reverse(c.0));
            counted.truncate(MOST_TRIED);
        }
        counted.into_iter().map(|c| c.1).collect()
    }

    fn others(&self, value: f64) -> Vec<&Place> {
        let differs = |p: &&Place| SAME < (p.value / value - 1.0).abs();
        self.places.iter().filter(differs).collect()
    }

    /// Whether a value does in all places.
    fn serves(&self, w: &Whole, value: f64, before: &Before) -> bool {
        let others = self.others(value);
        let set = |p: &&Place| {
            let id = PropertyId {
                board: Some(p.board.clone()),
                part: p.part.clone(),
                key: "value".to_owned(),
            };
            Change::Set(id, value)
        };
        let changes: Vec<Change> = others.iter().map(set).collect();
        let Ok(changed) = w.family.with(&changes) else {
            return false;
        };
        let boards: BTreeSet<&str> = others.iter().map(|p| p.board.as_str()).collect();
        boards.into_iter().all(|board| {
            let Some(Some(before)) = before.get(&(board, self.role)) else {
                return false;
            };
            heard(&changed, w, board, self.role).is_some_and(|after| after.is_subset(before))
        })
    }

    fn finding(&self, w: &Whole, rule: RuleId, before: &Before) -> Option<Finding> {
        let mut values = self.values().into_iter();
        let value = values.find(|v| self.serves(w, *v, before))?;
        let unit = if self.role == Role::Bypass {
            Unit::Farad
        } else {
            Unit::Ohm
        };
        let others = self.others(value);
        let first = others.first()?;
        let named = |p: &Place| {
            format!(
                "{} of {} ({})",
                p.part,
                p.board,
                words::figure(p.value, unit)
            )
        };
        let all: Vec<String> = self.places.iter().map(named).collect();
        Some(Finding {
            measured: Some(Figure::new(first.value, unit)),
            limit: Some(Figure::new(value, unit)),
            says: format!(
                "{} {}; {} does in each of these places.",
                words::join(&all),
                self.role.what(),
                words::figure(value, unit)
            ),
            remedy: format!(
                "take {} for all of them: fewer parts to buy and to mix up",
                words::figure(value, unit)
            ),
            ..w.finding(rule, Severity::Note, &first.board, &first.part)
        })
    }
}

/// What the rules that judge a role say about a board; none where it cannot be looked at.
fn heard(family: &Family, w: &Whole, board: &str, role: Role) -> Option<Heard> {
    let evidence = Evidence::new(family, board, w.profile, &Silent).ok()?;
    let judges = RULES.iter().filter(|r| role.judges().contains(&r.id()));
    let found = judges.flat_map(|rule| rule.look(&evidence));
    Some(found.map(|f| (f.severity, f.id())).collect())
}
