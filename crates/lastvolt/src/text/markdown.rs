//! `review` as Markdown: a summary to be put under a change of the files, for GitHub and to be read as
//! it is.
//!
//! Whatever a file of the family may hold, it stays text: characters that Markdown or HTML give a meaning
//! are escaped, line ends become blanks, and an `@` cannot call anybody.

use std::fmt::Write as _;

use crate::report::verdict::{judgement, weights};
use crate::text::check::{cautions, measure, summary};
use crate::text::life::{life_words, verdict};
use crate::text::number::duration;
use crate::view::{Document, FindingView, ReviewView};

/// The whole text.
pub(crate) fn text(document: &Document<ReviewView>) -> String {
    let review = &document.body;
    let mut out = String::new();
    let _ = writeln!(out, "# Circuit review: {}\n", plain(&review.family));
    let _ = writeln!(out, "{}\n", summary(&review.findings, review.boards.len()));
    push_verdicts(&mut out, review);
    push_lives(&mut out, review);
    push_weighty(&mut out, review);
    push_folded(&mut out, review);
    push_cautions(&mut out, review);
    for warning in &document.warnings {
        let _ = writeln!(out, "- Note: {}", plain(warning));
    }
    let _ = writeln!(out, "- {}", last(document));
    out
}

fn last(document: &Document<ReviewView>) -> String {
    let date = document.body.date.as_deref();
    let date = date.map_or_else(String::new, |d| format!(", dated {d}"));
    let digest = &document.digest;
    format!("Made by {} from input `{digest}`{date}.", document.tool)
}

fn push_verdicts(out: &mut String, review: &ReviewView) {
    out.push_str("| board | verdict | stop | fix | note |\n| --- | --- | ---: | ---: | ---: |\n");
    for board in &review.boards {
        let (stop, fix, note) = weights(review, &board.name);
        let verdict = judgement(review, &board.name);
        let name = plain(&board.name);
        let _ = writeln!(out, "| {name} | {verdict} | {stop} | {fix} | {note} |");
    }
    out.push('\n');
}

fn push_lives(out: &mut String, review: &ReviewView) {
    let required = review.required_life_s.map(|l| l.0);
    let asked = required.map_or_else(|| "none".to_owned(), duration);
    out.push_str("| board | profile | life | asked for | |\n| --- | --- | --- | --- | --- |\n");
    for run in &review.runs {
        let _ = writeln!(
            out,
            "| {} | {} | {} | {asked} | {} |",
            plain(&run.board),
            plain(run.profile.as_deref().unwrap_or("base states")),
            life_words(run),
            match verdict(run, required) {
                "ok" => "met",
                other => other,
            }
        );
    }
    out.push('\n');
}

/// What is to stop at and to fix, each with place and remedy.
fn push_weighty(out: &mut String, review: &ReviewView) {
    for (severity, title) in [("stop", "To stop at"), ("fix", "To fix")] {
        let found = review.findings.iter();
        let found: Vec<_> = found
            .filter(|f| f.counts() && f.severity == severity)
            .collect();
        if !found.is_empty() {
            let _ = writeln!(out, "## {title}\n");
            for finding in found {
                push_finding(out, finding);
            }
            out.push('\n');
        }
    }
}

fn push_finding(out: &mut String, finding: &FindingView) {
    let _ = writeln!(
        out,
        "- **{}**, board {}, {}: {}",
        finding.rule,
        plain(&finding.board),
        plain(&place(finding)),
        plain(&finding.says)
    );
    if let Some(measured) = &finding.measured {
        let words = measure(measured, finding.limit.as_ref());
        let _ = writeln!(out, "  - figures: {}", plain(&words));
    }
    if !finding.remedy.is_empty() {
        let _ = writeln!(out, "  - remedy: {}", plain(&finding.remedy));
    }
    if let Some(reason) = &finding.accepted {
        let _ = writeln!(out, "  - accepted because: {}", plain(reason));
    }
}

fn place(finding: &FindingView) -> String {
    format!("{}:{}:{}", finding.file, finding.line, finding.column)
}

/// Notes, and what the files accept, folded.
fn push_folded(out: &mut String, review: &ReviewView) {
    let of = |accepted: bool| -> Vec<&FindingView> {
        let all = review.findings.iter().filter(|f| !f.is_caution());
        let own = all.filter(|f| f.accepted.is_some() == accepted);
        own.filter(|f| accepted || f.severity == "note").collect()
    };
    for (title, found) in [("notes", of(false)), ("accepted", of(true))] {
        if !found.is_empty() {
            let count = found.len();
            let _ = writeln!(out, "<details>\n<summary>{count} {title}</summary>\n");
            for finding in found {
                push_finding(out, finding);
            }
            out.push_str("\n</details>\n\n");
        }
    }
}

fn push_cautions(out: &mut String, review: &ReviewView) {
    let all = cautions(&review.findings);
    if !all.is_empty() {
        out.push_str("## Cautions for label and manual\n\n");
    }
    for (caution, boards) in all {
        let boards = plain(&boards.join(", "));
        let _ = writeln!(out, "- {} ({boards})", plain(&caution.says));
    }
    out.push_str(
        "- This review is a computed estimate. It does not replace local codes, data sheets, \
         licensed practice or the authority that has jurisdiction.\n",
    );
}

/// A text that Markdown takes as it is, in one line.
fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            // A page that shows this looks for names to call and numbers to link in the finished text, where
            // no backslash is left: a space of no width keeps them apart.
            '@' => out.push_str("@\u{200b}"),
            '#' => out.push_str("\\#\u{200b}"),
            ':' if out.ends_with("http") || out.ends_with("https") => out.push_str("&#58;"),
            '.' if out.ends_with("www") => out.push_str("&#46;"),
            '\\' | '`' | '*' | '_' | '{' | '}' | '[' | ']' | '|' | '~' | '!' => {
                out.push('\\');
                out.push(c);
            }
            c if c.is_control() || c == '\u{2028}' || c == '\u{2029}' => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_of_a_name_becomes_markup() {
        assert_eq!(plain("a|b`c\nd"), "a\\|b\\`c d");
        assert_eq!(plain("<img src=x>"), "&lt;img src=x&gt;");
        assert_eq!(plain("[x](http://y)"), "\\[x\\](http&#58;//y)");
        assert_eq!(plain("@all #1 \\"), "@\u{200b}all \\#\u{200b}1 \\\\");
        assert_eq!(plain("10 ohm (5 %)"), "10 ohm (5 %)");
    }
}
