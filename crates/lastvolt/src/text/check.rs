//! `check` as text: findings with place, figures and remedy, a summary, the cautions at the end.

use std::fmt::Write as _;

use crate::text::matrix::situation_words;
use crate::text::number::{count, figure};
use crate::text::paint::{Paint, Tone};
use crate::text::{heading, push_warnings, push_wrapped};
use crate::view::{CheckView, CoverageView, Document, FigureView, FindingView};

/// The whole text.
pub(crate) fn text(document: &Document<CheckView>, boards: usize, paint: Paint) -> String {
    let findings = &document.body.findings;
    let mut out = String::new();
    for finding in findings.iter().filter(|f| !f.is_caution()) {
        push_finding(&mut out, finding, paint);
        out.push('\n');
    }
    let _ = writeln!(out, "{}", summary(findings, boards));
    push_coverage(&mut out, &document.body.coverage);
    push_cautions(&mut out, findings, paint);
    push_warnings(&mut out, &document.warnings, paint);
    out
}

/// How many situations stand behind the findings.
fn push_coverage(out: &mut String, coverage: &CoverageView) {
    let says = format!(
        "covers {} of {} and {}; {} solved",
        count_of(coverage.covered, "situation"),
        count(coverage.boards, "board"),
        count(coverage.stacks, "pair"),
        coverage.solved
    );
    push_wrapped(out, "", &says);
    for left in &coverage.left_out {
        push_wrapped(out, "", &format!("left out: {left}"));
    }
}

fn count_of(n: u64, word: &str) -> String {
    count(usize::try_from(n).unwrap_or(usize::MAX), word)
}

/// Severity, rule and board, then place, matter, figures, remedy and basis.
pub(crate) fn push_finding(out: &mut String, finding: &FindingView, paint: Paint) {
    let tone = match finding.severity {
        _ if finding.accepted.is_some() => Tone::Note,
        "stop" => Tone::Stop,
        "fix" => Tone::Fix,
        _ => Tone::Note,
    };
    let accepted = if finding.accepted.is_some() {
        "accepted "
    } else {
        ""
    };
    let head = format!("{accepted}{}[{}]", finding.severity, finding.rule);
    let _ = writeln!(
        out,
        "{}: board {}, {}:{}:{}",
        paint.tone(tone, &head),
        finding.board,
        finding.file,
        finding.line,
        finding.column
    );
    push_wrapped(out, "  ", &finding.says);
    if 1 < finding.parts.len() {
        push_wrapped(out, "  parts:  ", &finding.parts.join(", "));
    }
    if let Some(measured) = &finding.measured {
        push_wrapped(out, "  ", &measure(measured, finding.limit.as_ref()));
    }
    if let Some(situation) = &finding.situation {
        let more = match finding.situations {
            0 | 1 => String::new(),
            n => format!(" (the worst of {n} situations)"),
        };
        let words = format!("{}{more}", situation_words(situation));
        push_wrapped(out, "  when:   ", &words);
    }
    if let Some(reason) = &finding.accepted {
        push_wrapped(out, "  accepted because: ", reason);
    }
    push_wrapped(out, "  remedy: ", &finding.remedy);
    let basis = match finding.confidence {
        "data-sheet" => finding.basis.clone(),
        "typical" => format!("{}; figures typical of the class", finding.basis),
        _ => format!("{}; figures from memory", finding.basis),
    };
    push_wrapped(out, "  basis:  ", &basis);
    if !finding.also.is_empty() {
        push_wrapped(out, "  also:   ", &finding.also.join(", "));
    }
}

/// A finding in sentences, for documents that have one text for it.
pub(crate) fn told(finding: &FindingView) -> String {
    let mut told = finding.says.clone();
    if let Some(measured) = &finding.measured {
        let words = measure(measured, finding.limit.as_ref());
        told.push_str(&format!(" {}.", capital(&words)));
    }
    if let Some(situation) = &finding.situation {
        told.push_str(&format!(" When: {}.", situation_words(situation)));
    }
    if !finding.remedy.is_empty() {
        told.push_str(&format!(" Remedy: {}.", finding.remedy));
    }
    told.push_str(&format!(" Basis: {}.", finding.basis));
    if !finding.also.is_empty() {
        told.push_str(&format!(" Also: {}.", finding.also.join(", ")));
    }
    told
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    let first = chars.next().map(|c| c.to_ascii_uppercase());
    first.into_iter().chain(chars).collect()
}

/// Measured value against its limit.
pub(crate) fn measure(measured: &FigureView, limit: Option<&FigureView>) -> String {
    let words = |f: &FigureView| figure(f.value.0, f.of);
    match limit {
        Some(limit) => format!("measured {}, limit {}", words(measured), words(limit)),
        None => format!("measured {}", words(measured)),
    }
}

/// How many findings of each severity, cautions and accepted ones left out.
pub(crate) fn summary(findings: &[FindingView], boards: usize) -> String {
    let boards = count(boards, "board");
    let of = |severity: &str| {
        let found = findings.iter().filter(|f| f.counts());
        found.filter(|f| f.severity == severity).count()
    };
    let (stop, fix, note) = (of("stop"), of("fix"), of("note"));
    let accepted = findings.iter().filter(|f| !f.is_caution() && !f.counts());
    let accepted = match accepted.count() {
        0 => String::new(),
        accepted => format!("; {accepted} accepted"),
    };
    if stop + fix + note == 0 {
        return format!("{boards} checked, no findings{accepted}.");
    }
    format!(
        "{boards} checked: {stop} stop, {fix} fix, {}{accepted}.",
        count(note, "note")
    )
}

/// The cautions, each once with the boards that it belongs to, the gravest first.
pub(crate) fn push_cautions(out: &mut String, findings: &[FindingView], paint: Paint) {
    let cautions = cautions(findings);
    if cautions.is_empty() {
        return;
    }
    heading(out, "Cautions for label and manual", paint);
    for (caution, boards) in cautions {
        push_wrapped(out, "  - ", &caution_words(caution, &boards));
    }
}

/// What a caution says, for which boards, by which standard, and why it is accepted where it is.
fn caution_words(caution: &FindingView, boards: &[&str]) -> String {
    let basis = match caution.basis.as_str() {
        "common practice" => String::new(),
        basis => format!("; {basis}"),
    };
    let accepted = match &caution.accepted {
        Some(reason) => format!("; accepted because: {reason}"),
        None => String::new(),
    };
    format!("{} ({}{basis}{accepted})", caution.says, boards.join(", "))
}

/// Each caution once, with the names of the boards that need it, the gravest first.
pub(crate) fn cautions(findings: &[FindingView]) -> Vec<(&FindingView, Vec<&str>)> {
    let mut out: Vec<(&FindingView, Vec<&str>)> = Vec::new();
    for finding in findings.iter().filter(|f| f.is_caution()) {
        let same = |f: &FindingView| f.says == finding.says && f.accepted == finding.accepted;
        match out.iter_mut().find(|(f, _)| same(f)) {
            Some((_, boards)) => {
                if !boards.contains(&finding.board.as_str()) {
                    boards.push(&finding.board);
                }
            }
            None => out.push((finding, vec![&finding.board])),
        }
    }
    out.sort_by_key(|(finding, _)| finding.order);
    out
}
