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
    let used = |a: &Accept, f: &Finding| covers(a, f) || told_of(a, f);
    let idle = |a: &Accept| !findings.iter().any(|f| used(a, f));
    let accepts = family.accepts.iter().enumerate();
    accepts.filter(|(_, a)| idle(a)).map(|(at, _)| at).collect()
}

/// Whether an accept covers a finding: the same rule, on its board, about its parts and no others.
fn covers(accept: &Accept, finding: &Finding) -> bool {
    let named = |part: &String| named(accept, finding, part);
    let about =
        accept.parts.is_empty() || (!finding.parts.is_empty() && finding.parts.iter().all(named));
    accept.rule == finding.rule
        && of_board(accept, finding)
        && about
        && !is_of_others(accept, finding)
}

/// Whether an accept in the file of one board, without parts, meets what several boards do to each
/// other: another board may be plugged on that its author did not think of.
fn is_of_others(accept: &Accept, finding: &Finding) -> bool {
    let stacked = finding.situation.as_ref().map_or(0, |s| s.boards.len());
    let blanket = accept.board.is_some() && accept.parts.is_empty();
    finding.rule == "over-voltage" && blanket && 1 < stacked
}

/// Whether a finding stands for one of the accepted rule, whose own parts it no longer has.
fn told_of(accept: &Accept, finding: &Finding) -> bool {
    of_board(accept, finding) && finding.also.iter().any(|rule| *rule == accept.rule)
}

fn of_board(accept: &Accept, finding: &Finding) -> bool {
    accept.board.as_ref().is_none_or(|b| *b == finding.board)
}

/// Whether an accept names a part of a finding: by itself where the part is of the finding's board, or
/// as `board/REF`; a cell of a string (`BT1.2`) goes by the name of the string.
fn named(accept: &Accept, finding: &Finding, part: &str) -> bool {
    let (board, own) = part.split_once('/').unwrap_or((&finding.board, part));
    let own = own.split('.').next().unwrap_or(own);
    accept.parts.iter().any(|name| match name.split_once('/') {
        Some((of, name)) => of == board && name == own,
        None => board == finding.board && name == own,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::review::Severity;

    fn accept(board: Option<&str>, parts: &[&str]) -> Accept {
        Accept {
            rule: "cell-charged".to_owned(),
            board: board.map(str::to_owned),
            parts: parts.iter().map(|p| (*p).to_owned()).collect(),
            because: "known".to_owned(),
        }
    }

    fn finding(parts: &[&str]) -> Finding {
        Finding {
            parts: parts.iter().map(|p| (*p).to_owned()).collect(),
            ..Finding::about("cell-charged", Severity::Stop, "coin", None)
        }
    }

    /// Board and parts of an accept, parts of a finding, and whether it is covered.
    type Case = (
        Option<&'static str>,
        &'static [&'static str],
        &'static [&'static str],
        bool,
    );

    #[test]
    fn every_part_of_a_finding_must_be_named() {
        let cases: [Case; 11] = [
            (None, &[], &["BT1"], true),
            (Some("coin"), &[], &["BT1"], true),
            (Some("usb"), &[], &["BT1"], false),
            (None, &["BT1"], &["BT1"], true),
            (None, &["coin/BT1"], &["BT1"], true),
            (None, &["usb/BT1"], &["BT1"], false),
            (Some("coin"), &["BT1"], &["BT1.2"], true),
            (Some("coin"), &["BT1"], &["BT1", "D1"], false),
            (Some("coin"), &["BT1"], &["coin/BT1", "usb/BT1"], false),
            (
                None,
                &["coin/BT1", "usb/BT1"],
                &["coin/BT1", "usb/BT1"],
                true,
            ),
            (None, &["BT1"], &[], false),
        ];
        for (board, accepted, parts, expected) in cases {
            let covered = covers(&accept(board, accepted), &finding(parts));
            assert_eq!(covered, expected, "{board:?} {accepted:?} for {parts:?}");
        }
    }
}
