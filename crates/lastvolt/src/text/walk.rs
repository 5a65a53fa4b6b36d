//! `walk` as text: a board block by block in sentences that read well aloud, then what its switches do.

use std::fmt::Write as _;

use crate::text::number::{figure, listed};
use crate::text::paint::{Paint, Tone};
use crate::text::{heading, push_warnings, push_wrapped};
use crate::view::{BlockFigureView, BlockView, BoardWalkView, Document, FindingView, WalkView};

/// The whole text.
pub(crate) fn text(document: &Document<WalkView>, paint: Paint) -> String {
    let mut out = String::new();
    for (at, board) in document.body.boards.iter().enumerate() {
        if 0 < at {
            out.push('\n');
        }
        push_board(&mut out, board, &document.body.findings, paint);
    }
    push_warnings(&mut out, &document.warnings, paint);
    out
}

fn push_board(out: &mut String, board: &BoardWalkView, findings: &[FindingView], paint: Paint) {
    let head = format!("Board {}: {}", board.name, board.title);
    let _ = writeln!(
        out,
        "{}",
        paint.tone(Tone::Heading, head.trim_end_matches(": "))
    );
    for block in &board.blocks {
        out.push('\n');
        push_block(out, block, findings, paint);
    }
    if !board.unplaced.is_empty() {
        let words = format!("In no block: {}.", listed(&board.unplaced));
        out.push('\n');
        push_wrapped(out, "", &words);
    }
    if board.legend.is_empty() {
        return;
    }
    heading(out, "What the switches do", paint);
    push_wrapped(
        out,
        "",
        "One switch is moved at a time, the others are in their usual positions. Fresh cells, loads at rest.",
    );
    for legend in &board.legend {
        let label = legend.label.as_ref();
        let label = label.map_or_else(String::new, |l| format!(", marked {l}"));
        let _ = writeln!(out, "  {}{label}", legend.part);
        for row in &legend.positions {
            let usual = if row.usual { " (usual)" } else { "" };
            push_wrapped(out, &format!("    {}{usual}: ", row.position), &row.says);
        }
    }
}

fn push_block(out: &mut String, block: &BlockView, findings: &[FindingView], paint: Paint) {
    let parts = match block.parts.as_slice() {
        [] => String::new(),
        parts => format!(" ({})", parts.join(", ")),
    };
    let _ = writeln!(out, "{}{parts}", paint.tone(Tone::Heading, &block.title));
    push_wrapped(out, "  ", &block.purpose);
    for (label, values) in grouped(&block.figures) {
        let each: Vec<String> = values
            .iter()
            .map(|f| {
                format!(
                    "{} ({})",
                    figure(f.figure.value.0, f.figure.of),
                    f.situation
                )
            })
            .collect();
        push_wrapped(
            out,
            "  ",
            &format!("{}: {}.", capital(label), each.join("; ")),
        );
    }
    for id in &block.findings {
        let Some(finding) = findings.iter().find(|f| f.id == *id) else {
            continue;
        };
        let tone = match finding.severity {
            "stop" => Tone::Stop,
            "fix" => Tone::Fix,
            _ => Tone::Note,
        };
        let accepted = finding.accepted.as_ref().map_or("", |_| "accepted ");
        let head = format!("{accepted}{}[{}]", finding.severity, finding.rule);
        let mut said = String::new();
        push_wrapped(&mut said, "  ", &format!("{head}: {}", finding.says));
        let _ = write!(out, "{}", said.replacen(&head, &paint.tone(tone, &head), 1));
    }
}

/// Figures of one label together, in the order of the first.
pub(crate) fn grouped(figures: &[BlockFigureView]) -> Vec<(&str, Vec<&BlockFigureView>)> {
    let mut out: Vec<(&str, Vec<&BlockFigureView>)> = Vec::new();
    for figure in figures {
        match out.iter_mut().find(|(label, _)| *label == figure.label) {
            Some((_, values)) => values.push(figure),
            None => out.push((&figure.label, vec![figure])),
        }
    }
    out
}

/// A text with its first letter large.
pub(crate) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}
