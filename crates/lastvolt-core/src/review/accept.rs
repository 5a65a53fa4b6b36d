//! Findings that the files accept, and accepts that accept nothing.

use crate::model::{Accept, Family};
use crate::review::Finding;

/// Marks the findings that an accept of the family covers with its reason.
pub(super) fn mark(family: &Family, findings: &mut [Finding]) {
    for finding in findings {
        let cover = family.accepts.iter().find(|a| covers(a, finding));
        finding.accepted = cover.map(|a| a.because.clone());
    }
}

/// Places in [`Family::accepts`] of those that cover none of the findings.
#[must_use]
pub fn idle_accepts(family: &Family, findings: &[Finding]) -> Vec<usize> {
    let idle = |a: &Accept| findings.iter().all(|f| !covers(a, f));
    let accepts = family.accepts.iter().enumerate();
    accepts.filter(|(_, a)| idle(a)).map(|(at, _)| at).collect()
}

/// Whether an accept covers a finding: the same rule, on its board, about its parts and no others.
fn covers(accept: &Accept, finding: &Finding) -> bool {
    let of_board = accept.board.as_ref().is_none_or(|b| *b == finding.board);
    let own = |part: &String| {
        let name = part.strip_prefix(&format!("{}/", finding.board));
        name.unwrap_or(part).to_owned()
    };
    let named = |part: &String| accept.parts.contains(part) || accept.parts.contains(&own(part));
    let about = accept.parts.is_empty() || finding.parts.iter().all(named);
    accept.rule == finding.rule && of_board && about
}
