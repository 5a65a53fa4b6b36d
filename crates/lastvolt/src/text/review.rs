//! `review` as text: the verdict on each board, the findings that matter, where the report is, and the
//! cautions.

use std::fmt::Write as _;
use std::path::Path;

use crate::report::verdict::verdict;
use crate::text::check::{push_cautions, push_finding, summary};
use crate::text::number::count;
use crate::text::paint::{Paint, Tone};
use crate::text::table::{Align, Table};
use crate::text::{push_lines, push_warnings, push_wrapped};
use crate::view::{Document, ReviewView};

/// Findings that the summary spells out; the others are in the report.
const SPELLED: usize = 6;

/// The whole text.
pub(crate) fn text(document: &Document<ReviewView>, written: &[&Path], paint: Paint) -> String {
    let review = &document.body;
    let mut out = String::new();
    let _ = writeln!(out, "{}\n", paint.tone(Tone::Heading, &review.family));
    let mut table = Table::new(&[("", Align::Left), ("", Align::Left)]);
    for board in &review.boards {
        table.row([board.name.clone(), verdict(review, &board.name)]);
    }
    push_lines(&mut out, &table.lines(2)[1..]);
    let _ = writeln!(
        out,
        "\n{}\n",
        summary(&review.findings, review.boards.len())
    );
    for left in &review.coverage.left_out {
        push_wrapped(&mut out, "", &format!("Left out: {left}"));
    }
    let worth = |f: &&crate::view::FindingView| f.counts() && f.severity != "note";
    let weighty: Vec<_> = review.findings.iter().filter(worth).collect();
    for finding in weighty.iter().take(SPELLED) {
        push_finding(&mut out, finding, paint);
        out.push('\n');
    }
    if SPELLED < weighty.len() {
        let more = count(weighty.len() - SPELLED, "more finding");
        let _ = writeln!(out, "{more} to stop at or fix: see the report.\n");
    }
    for path in written {
        let _ = writeln!(out, "Wrote {}", path.display());
    }
    push_cautions(&mut out, &review.findings, paint);
    push_warnings(&mut out, &document.warnings, paint);
    out
}
