//! `deliver-short`: is the current that the connector promises there to the end, in the cold, and from off?
//!
//! The promised current itself is asked for, fresh, half way and at the depth of the required life (or
//! just before the end where that comes sooner), at the usual, low and high ambient. Where the board
//! does not serve its own loads either, other rules say so.

use crate::deliver::{Bound, BrokenPromise, DeliverRequest, Limit, broken_promises};
use crate::progress::Silent;
use crate::quantity::{Quantity, Unit};
use crate::review::rules::Rule;
use crate::review::{Evidence, Figure, Finding, RuleId, Severity, words};

/// Share of the life after which a promise that nobody gave a time for may fade.
const HALF_WAY: f64 = 0.5;

pub(super) struct DeliverShort;

impl Rule for DeliverShort {
    fn id(&self) -> RuleId {
        "deliver-short"
    }

    fn look(&self, e: &Evidence) -> Vec<Finding> {
        let promised = e.family.connector.promises.iter();
        if promised.filter(|p| p.current.is_some()).count() == 0 {
            return Vec::new();
        }
        let broken = broken(e);
        let mut rails: Vec<&str> = broken.iter().map(|b| b.rail.as_str()).collect();
        rails.dedup();
        let of = |rail: &&str| {
            broken
                .iter()
                .filter(|b| b.rail == *rail)
                .collect::<Vec<_>>()
        };
        rails
            .iter()
            .filter_map(|rail| finding(e, self.id(), &of(rail)))
            .collect()
    }
}

fn broken(e: &Evidence) -> Vec<BrokenPromise> {
    let ambient = &e.family.requirement.ambient;
    let mut ambients = vec![ambient.usual, ambient.low, ambient.high];
    ambients.dedup();
    let (last, _) = e.promised_depth();
    let depths = if e.board.has_cell() {
        vec![0.0, HALF_WAY * last, last]
    } else {
        vec![0.0]
    };
    let request = DeliverRequest {
        family: e.family,
        board: &e.board.name,
        profile: e.profile.map(|p| p.name.as_str()),
        rail: None,
        ambients,
        depths,
        positions: std::collections::BTreeMap::new(),
    };
    broken_promises(&request, &Silent).unwrap_or_default()
}

/// One finding a rail: of what is missing the soonest, running before starting, usual before cold.
fn finding(e: &Evidence, rule: RuleId, broken: &[&BrokenPromise]) -> Option<Finding> {
    let lasting = broken.iter().filter(|b| !b.for_a_moment);
    let soonest = lasting.min_by_key(|b| b.at_start);
    let first = soonest.or(broken.first())?;
    let (last, reached) = e.promised_depth();
    let required = e.family.requirement.life.is_some() && reached;
    let early = broken.iter().any(|b| b.depth <= HALF_WAY * last);
    let severity = if (required || early) && !first.for_a_moment {
        Severity::Fix
    } else {
        Severity::Note
    };
    let source = e.source_name()?;
    let at = at_part(e, &first.bound);
    let parts: Vec<&str> = [source.as_str()].into_iter().chain(at).collect();
    let celsius = words::figure(first.ambient.si(), Unit::Celsius);
    let from = if first.depth <= 1e-3 {
        "from the start".to_owned()
    } else {
        format!("from depth {} on", words::percent(first.depth))
    };
    let how = if first.at_start {
        " when it is switched on"
    } else {
        ""
    };
    let mut binds = binds(&first.bound);
    if first.for_a_moment {
        binds += ", while for a moment it is there";
    }
    // Figures are depths, which a board without cells has not.
    let fades = e.board.has_cell();
    Some(Finding {
        aspect: if first.at_start { "start" } else { "running" },
        nets: vec![first.rail.clone()],
        situation: Some(crate::circuit::Situation {
            depth: first.depth,
            ambient: first.ambient,
            ..e.usual()
        }),
        situations: broken.len(),
        measured: fades.then(|| Figure::new(first.depth, Unit::Fraction)),
        limit: fades.then(|| Figure::new(last, Unit::Fraction)),
        says: format!(
            "The connector promises {} on {}; at {celsius} the board does not give them{how} {from}: {binds}.",
            words::amps(first.amps),
            first.rail
        ),
        remedy: "promise less (`lastvolt deliver` shows what the rail gives), lower the resistance of cells and \
                 path, or take a converter with more to give at its lowest input"
            .to_owned(),
        basis: "the connector's promise".to_owned(),
        ..e.finding(rule, severity, &parts)
    })
}

/// The part that binds, where it is another than the source.
fn at_part<'e>(e: &'e Evidence, bound: &Bound) -> Option<&'e str> {
    let part = e.board.part(bound.at.as_deref()?)?;
    let source = e.source_name();
    (source.as_deref() != Some(part.name.as_str())).then_some(part.name.as_str())
}

fn binds(bound: &Bound) -> String {
    let at = bound.at.clone().unwrap_or_else(|| "the rail".to_owned());
    match bound.limit {
        Limit::WorkingRange => format!("{at} leaves its working range"),
        Limit::PromiseBand => format!("{at} leaves the promised band"),
        Limit::Sag => format!("{at} sags by more than 5 %"),
        Limit::ConverterLimit => format!("{at} is at its current limit"),
        Limit::Fold => format!("the source cannot give the power that {at} asks for"),
        Limit::Dropout => format!("the input of {at} is too low"),
        Limit::RegulatorStops => format!("the input of {at} falls below what it runs from"),
        Limit::DoesNotStart => format!("{at} does not start"),
        Limit::CellRating => format!("{at} would give more than its maker allows"),
        Limit::SupplyLimit => format!("{at} is at its current limit"),
        Limit::PartRating => format!("{at} would be worked beyond its rating"),
        Limit::NotPowered => format!("{at} has no voltage"),
        Limit::NoPoint | Limit::None => format!("{at} has no operating point"),
    }
}
