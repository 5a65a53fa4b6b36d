//! `check` as JUnit XML, which build servers show as tests: a suite for each board, a case for each
//! rule.
//!
//! A case fails where findings do that weigh enough; it is skipped where all of those are accepted.
//! What else is found stands in its output.

use lastvolt_core::review::rules::RULES;
use maud::{Markup, PreEscaped, html};

use crate::text::check::told;
use crate::view::FindingView;

/// The document: `fails` says whether a severity is weighty enough to fail.
pub(crate) fn junit(
    findings: &[FindingView],
    boards: &[String],
    prefix: &str,
    fails: &dyn Fn(&str) -> bool,
) -> String {
    let suites: Vec<Suite> = boards
        .iter()
        .map(|board| suite(board, findings, prefix, fails))
        .collect();
    let count = |of: &dyn Fn(&Case) -> bool| -> usize {
        let cases = suites.iter().flat_map(|s| &s.cases);
        cases.filter(|c| of(c)).count()
    };
    let document = html! {
        testsuites name="lastvolt check" tests=(count(&|_| true)) failures=(count(&|c| c.failed()))
            errors="0" skipped=(count(&|c| c.skipped()))
        {
            (LINE)
            @for suite in &suites { (suite.markup()) }
        }
        (LINE)
    };
    let text = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{}",
        document.into_string()
    );
    text.chars().filter(|c| allowed(*c)).collect()
}

/// Whether XML 1.0 may hold a character (section 2.2 of the recommendation).
fn allowed(c: char) -> bool {
    matches!(c, '\t' | '\n' | ' '..='\u{d7ff}' | '\u{e000}'..='\u{fffd}' | '\u{10000}'..)
}

const LINE: PreEscaped<&str> = PreEscaped("\n");

struct Suite<'a> {
    board: &'a str,
    cases: Vec<Case<'a>>,
}

/// One rule on one board.
struct Case<'a> {
    board: &'a str,
    rule: &'static str,
    prefix: &'a str,
    /// Findings that fail it, the weightiest first.
    failing: Vec<&'a FindingView>,
    /// Findings that would if they were not accepted.
    accepted: Vec<&'a FindingView>,
    /// All others.
    others: Vec<&'a FindingView>,
}

fn suite<'a>(
    board: &'a str,
    findings: &'a [FindingView],
    prefix: &'a str,
    fails: &dyn Fn(&str) -> bool,
) -> Suite<'a> {
    let case = |rule: &'static str| {
        let own = findings
            .iter()
            .filter(|f| f.board == board && f.rule == rule);
        let (weighty, others): (Vec<_>, Vec<_>) =
            own.partition(|f| !f.is_caution() && fails(f.severity));
        let (failing, accepted) = weighty.into_iter().partition(|f| f.counts());
        Case {
            board,
            rule,
            prefix,
            failing,
            accepted,
            others,
        }
    };
    Suite {
        board,
        cases: RULES.iter().map(|rule| case(rule.id())).collect(),
    }
}

impl Suite<'_> {
    fn markup(&self) -> Markup {
        let count = |of: &dyn Fn(&Case) -> bool| self.cases.iter().filter(|c| of(c)).count();
        html! {
            testsuite name=(self.board) tests=(self.cases.len()) failures=(count(&|c| c.failed()))
                errors="0" skipped=(count(&|c| c.skipped()))
            {
                (LINE)
                @for case in &self.cases { (case.markup()) }
            }
            (LINE)
        }
    }
}

impl Case<'_> {
    fn failed(&self) -> bool {
        !self.failing.is_empty()
    }

    fn skipped(&self) -> bool {
        self.failing.is_empty() && !self.accepted.is_empty()
    }

    /// The finding that the case points at.
    fn first(&self) -> Option<&FindingView> {
        let all = self.failing.iter().chain(&self.accepted);
        all.chain(&self.others).next().copied()
    }

    fn markup(&self) -> Markup {
        let file = self.first().map(|f| format!("{}{}", self.prefix, f.file));
        let line = self.first().map(|f| f.line);
        let reason = self.accepted.first().and_then(|f| f.accepted.as_deref());
        let mut told_of = self.others.clone();
        told_of.splice(0..0, self.accepted.iter().copied());
        html! {
            testcase name=(self.rule) classname=(self.board) file=[file] line=[line] {
                @if let Some(first) = self.failing.first() {
                    failure type=(first.severity) message=(first.says) {
                        (self.words(&self.failing))
                    }
                } @else if let Some(reason) = reason {
                    skipped message={ "accepted: " (reason) } {}
                }
                @if !told_of.is_empty() { system-out { (self.words(&told_of)) } }
            }
            (LINE)
        }
    }

    /// Findings with their places.
    fn words(&self, findings: &[&FindingView]) -> String {
        let one = |f: &&FindingView| {
            let accepted = f.accepted.as_ref();
            let accepted = accepted.map_or(String::new(), |r| format!("accepted: {r}\n"));
            format!(
                "{}{}:{}:{}: {}[{}]\n{accepted}{}\n",
                self.prefix,
                f.file,
                f.line,
                f.column,
                f.severity,
                f.rule,
                told(f)
            )
        };
        findings.iter().map(one).collect::<Vec<_>>().join("\n")
    }
}
