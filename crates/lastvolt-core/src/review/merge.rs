//! One root cause, one finding: where the matter of one finding explains another, the other is told
//! of in the first and not listed on its own.
//!
//! Nothing is swallowed by a lesser finding, an accepted finding neither swallows nor is swallowed, and
//! a finding about danger goes into another about danger only.

use crate::circuit::Situation;
use crate::model::{Device, Family, Part};
use crate::review::{Finding, RuleId, Severity};

/// Rules whose findings are about danger to people.
const DANGER: [RuleId; 4] = [
    "reversed-cell",
    "cell-charged",
    "sources-fight",
    "over-voltage",
];

/// What two findings of one board must share to have one cause.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Link {
    /// Nothing more than the board.
    Board,
    /// A part of each.
    Part,
    /// A part of each, and the cells that are in backwards, of which there is one at least.
    Reversal,
    /// Positions, reversed cells and load states, on a board with one converter or regulator to blame.
    OneConverter,
}

/// One finding explains another.
struct Row {
    /// The rule that stays.
    stays: RuleId,
    /// What it says, where it can say several things and only this one explains.
    aspect: Option<&'static str>,
    /// The rule that yields.
    yields: RuleId,
    /// The weightiest finding that yields.
    up_to: Severity,
    /// What they must share.
    link: Link,
}

const fn row(stays: RuleId, yields: RuleId, link: Link) -> Row {
    Row {
        stays,
        aspect: None,
        yields,
        up_to: Severity::Stop,
        link,
    }
}

const ROWS: &[Row] = &[
    // A load that does not even work with fresh cells has no life to speak of.
    Row {
        aspect: Some("at-once"),
        ..row("brown-out", "life-short", Link::Board)
    },
    // A converter at its limit starves what it feeds.
    row("converter-limit", "brown-out", Link::OneConverter),
    // An output set too high is outside its band as well.
    row("over-voltage", "output-error", Link::Part),
    // An output outside the promised band promises no current there either.
    row("output-error", "deliver-short", Link::Board),
    // A pin without a level has no pull resistor that could be too weak.
    row("floating-control", "pull-resistor", Link::Part),
    // A cell that is in backwards is charged by the others, and keeping it from that cures both.
    row("reversed-cell", "cell-charged", Link::Reversal),
    row("cell-charged", "reversed-cell", Link::Reversal),
    // An indicator that eats the life is bright for its supply; that it is dim or above its rating is
    // another matter, and weighs more than a note.
    Row {
        up_to: Severity::Note,
        ..row("idle-thief", "indicator", Link::Part)
    },
    // Without a lockout the string runs empty and its weakest cell is driven below zero.
    row("deep-discharge", "weak-cell", Link::Part),
    row("weak-cell", "deep-discharge", Link::Part),
];

/// The findings in their order without those that another explains; the other lists their rules in
/// [`Finding::also`]. Accepted findings must be marked before.
#[must_use]
pub fn merge(family: &Family, findings: Vec<Finding>) -> Vec<Finding> {
    let mut into: Vec<Option<usize>> = vec![None; findings.len()];
    for row in ROWS {
        for (at, lesser) in findings.iter().enumerate() {
            if lesser.rule != row.yields || into[at].is_some() {
                continue;
            }
            let explains = |&(k, f): &(usize, &Finding)| {
                k != at && last(&into, k) != at && explains(family, row, f, lesser)
            };
            let found = findings.iter().enumerate().find(explains);
            into[at] = found.map(|(k, _)| k);
        }
    }
    let targets: Vec<usize> = (0..findings.len()).map(|at| last(&into, at)).collect();
    let rules: Vec<RuleId> = findings.iter().map(|f| f.rule).collect();
    let mut out = Vec::new();
    for (at, mut finding) in findings.into_iter().enumerate() {
        if targets[at] != at {
            continue;
        }
        for (k, rule) in rules.iter().enumerate() {
            let new = *rule != finding.rule && !finding.also.contains(rule);
            if k != at && targets[k] == at && new {
                finding.also.push(rule);
            }
        }
        out.push(finding);
    }
    out
}

/// The finding that a finding ends up in; there are no circles.
fn last(into: &[Option<usize>], mut at: usize) -> usize {
    while let Some(next) = into[at] {
        at = next;
    }
    at
}

fn explains(family: &Family, row: &Row, stays: &Finding, lesser: &Finding) -> bool {
    let danger = |f: &Finding| DANGER.contains(&f.rule) && f.severity == Severity::Stop;
    stays.rule == row.stays
        && stays.board == lesser.board
        && row.aspect.is_none_or(|aspect| aspect == stays.aspect)
        && lesser.severity <= stays.severity.min(row.up_to)
        && stays.accepted.is_none()
        && lesser.accepted.is_none()
        && (danger(stays) || !danger(lesser))
        && shares(family, row.link, stays, lesser)
}

fn shares(family: &Family, link: Link, stays: &Finding, lesser: &Finding) -> bool {
    let situations = || stays.situation.as_ref().zip(lesser.situation.as_ref());
    match link {
        Link::Board => true,
        Link::Part => share_a_part(stays, lesser),
        Link::Reversal => {
            let same = |(a, b): (&Situation, &Situation)| {
                !a.reversed.is_empty() && a.boards == b.boards && a.reversed == b.reversed
            };
            situations().is_some_and(same) && share_a_part(stays, lesser)
        }
        Link::OneConverter => {
            let same = |(a, b): (&Situation, &Situation)| {
                a.positions == b.positions && a.reversed == b.reversed && a.states == b.states
            };
            situations().is_some_and(same) && converters(family, &stays.board) == 1
        }
    }
}

fn converters(family: &Family, board: &str) -> usize {
    let parts = family.board(board).map_or(&[][..], |b| &b.parts);
    let is_one = |part: &&Part| matches!(part.device, Device::Regulator(_));
    parts.iter().filter(is_one).count()
}

/// Whether both name a part; one of a stack (`board/REF`) is the same as `REF` on its board.
fn share_a_part(one: &Finding, other: &Finding) -> bool {
    let names = |f: &Finding| -> Vec<String> {
        let full = |part: &String| match part.contains('/') {
            true => part.clone(),
            false => format!("{}/{part}", f.board),
        };
        f.parts.iter().map(full).collect()
    };
    let others = names(other);
    names(one).iter().any(|part| others.contains(part))
}
