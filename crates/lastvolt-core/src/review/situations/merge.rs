//! One cause, one finding: what several stacks say about the same part of the same board.

use std::collections::BTreeMap;

use super::pairs::original;
use crate::review::{Finding, RuleId, Severity, words};

/// Rule, aspect, board and part that a finding is about; of a load above what it bears the load as well.
type Cause = (RuleId, &'static str, String, String, String);

/// What a rule says of a stack only where no board says it alone in the same positions.
const SETTLED_BY_ITSELF: RuleId = "over-voltage";

/// Merges the findings of stacks: those of one rule about one part of one board become the worst of
/// them with the number of all situations; those that the board has alone already, and at least as
/// heavy, are left out unless their rule has seen to that.
pub(crate) fn merge_stacks(alone: &[Finding], stacked: Vec<Finding>) -> Vec<Finding> {
    let known: Vec<(Cause, Severity)> = alone.iter().map(|f| (cause(f), f.severity)).collect();
    let mut causes: Vec<Cause> = Vec::new();
    let mut kept: BTreeMap<Cause, (Finding, Vec<String>)> = BTreeMap::new();
    for finding in stacked {
        let cause = cause(&finding);
        let said =
            |(known, weight): &(Cause, Severity)| *known == cause && finding.severity <= *weight;
        if finding.rule != SETTLED_BY_ITSELF && known.iter().any(said) {
            continue;
        }
        let others = others(&finding);
        match kept.get_mut(&cause) {
            None => {
                causes.push(cause.clone());
                kept.insert(cause, (finding, others));
            }
            Some((worst, with)) => {
                let situations = worst.situations + finding.situations;
                if weight(worst) < weight(&finding) {
                    *worst = finding;
                }
                worst.situations = situations;
                with.extend(
                    others
                        .into_iter()
                        .filter(|o| !with.contains(o))
                        .collect::<Vec<_>>(),
                );
            }
        }
    }
    let mut out = Vec::new();
    for cause in causes {
        if let Some((mut finding, with)) = kept.remove(&cause) {
            if 1 < with.len() {
                finding.says = format!(
                    "{} The same with each of {}.",
                    finding.says,
                    words::join(&with)
                );
            }
            own_names(&mut finding);
            out.push(finding);
        }
    }
    out
}

fn cause(finding: &Finding) -> Cause {
    let part = finding.parts.first().map_or("", String::as_str);
    let part = part.rsplit('/').next().unwrap_or(part);
    let board = original(&finding.board).to_owned();
    let load = match finding.rule {
        SETTLED_BY_ITSELF => finding.parts.get(1).map_or("", |load| original(load)),
        _ => "",
    };
    (
        finding.rule,
        finding.aspect,
        board,
        part.to_owned(),
        load.to_owned(),
    )
}

/// The boards that the finding's board is plugged together with.
fn others(finding: &Finding) -> Vec<String> {
    let own = original(&finding.board);
    let boards = finding.situation.iter().flat_map(|s| &s.boards);
    let others = boards.filter(|b| **b != finding.board);
    let named = |board: &String| match original(board) {
        same if same == own => format!("another {own}"),
        other => other.to_owned(),
    };
    others.map(named).collect()
}

/// Severity, then how far beyond the limit.
fn weight(finding: &Finding) -> (Severity, f64) {
    let share = match (finding.measured, finding.limit) {
        (Some(measured), Some(limit)) if 0.0 < limit.value => measured.value / limit.value,
        (Some(measured), _) => measured.value,
        _ => 0.0,
    };
    (finding.severity, share)
}

/// A finding is about a board of the files, also where the second one of its kind is concerned.
fn own_names(finding: &mut Finding) {
    let board = original(&finding.board).to_owned();
    for part in &mut finding.parts {
        if let Some(own) = part.strip_prefix(&format!("{}/", finding.board)) {
            *part = format!("{board}/{own}");
        }
    }
    finding.board = board;
}
