//! `review` as Markdown: a summary to be put under a change of the files, for GitHub and to be read as
//! it is.
//!
//! Whatever a file of the family may hold, it stays text: characters that Markdown or HTML give a meaning
//! are escaped, line ends become blanks, an `@` cannot call anybody, and what turns the direction of
//! writing is left out.

use std::fmt::Write as _;

use crate::report::verdict::{held, judgement, weights};
use crate::text::check::{cautions, measure, summary};
use crate::text::direction::isolated;
use crate::text::life::life_words;
use crate::text::number::{count, duration, percent};
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
    push_about(&mut out, document);
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
    let share = review.required_share.map(|s| percent(s.0));
    let share = share.map_or_else(String::new, |s| format!(" in {s} of units"));
    let asked = required.map_or_else(|| "none".to_owned(), |l| duration(l) + &share);
    out.push_str("| board | profile | life | asked for | |\n| --- | --- | --- | --- | --- |\n");
    for run in &review.runs {
        let _ = writeln!(
            out,
            "| {} | {} | {} | {asked} | {} |",
            plain(&run.board),
            plain(run.profile.as_deref().unwrap_or("base states")),
            life_words(run),
            held(review, run).word()
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
        plain(&finding.place()),
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

/// Notes, and what the files accept, folded.
fn push_folded(out: &mut String, review: &ReviewView) {
    let of = |accepted: bool| -> Vec<&FindingView> {
        let all = review.findings.iter().filter(|f| !f.is_caution());
        let own = all.filter(|f| f.accepted.is_some() == accepted);
        own.filter(|f| accepted || f.severity == "note").collect()
    };
    let (notes, accepted) = (of(false), of(true));
    let titles = [
        count(notes.len(), "note"),
        format!("{} accepted", accepted.len()),
    ];
    for (title, found) in titles.into_iter().zip([notes, accepted]) {
        if !found.is_empty() {
            let _ = writeln!(out, "<details>\n<summary>{title}</summary>\n");
            for finding in found {
                push_finding(out, finding);
            }
            out.push_str("\n</details>\n\n");
        }
    }
}

fn push_cautions(out: &mut String, review: &ReviewView) {
    let all = cautions(&review.findings);
    if all.is_empty() {
        return;
    }
    out.push_str("## Cautions for label and manual\n\n");
    for (caution, boards) in all {
        let boards = plain(&boards.join(", "));
        let _ = writeln!(out, "- {} ({boards})", plain(&caution.says));
    }
    out.push('\n');
}

/// What is to be known of the review itself.
fn push_about(out: &mut String, document: &Document<ReviewView>) {
    out.push_str("## About this review\n\n");
    for what in &document.body.coverage.left_out {
        let _ = writeln!(out, "- Left out: {}", plain(what));
    }
    for warning in &document.warnings {
        let _ = writeln!(out, "- Note: {}", plain(warning));
    }
    out.push_str(
        "- This review is a computed estimate. It does not replace local codes, data sheets, \
         licensed practice or the authority that has jurisdiction.\n",
    );
    let _ = writeln!(out, "- {}", last(document));
}

/// A text that Markdown takes as it is, in one line.
fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    let text = isolated(text);
    let mut rest = text.chars();
    while let Some(c) = rest.next() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            // A page that shows this looks for names to call and numbers to link in the finished text, where
            // no backslash is left: a space of no width keeps them apart.
            '@' => out.push_str("@\u{200b}"),
            '#' => out.push_str("\\#\u{200b}"),
            ':' if rest.as_str().starts_with('/') => out.push_str("&#58;"),
            ':' if names_picture(rest.as_str()) => out.push_str(":\u{200b}"),
            '.' if ends_in_www(&out) => out.push_str("&#46;"),
            '\\' | '`' | '*' | '_' | '{' | '}' | '[' | ']' | '|' | '~' | '!' | '$' => {
                out.push('\\');
                out.push(c);
            }
            c if c.is_control() || c == '\u{2028}' || c == '\u{2029}' => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// Whether what follows a colon is a word up to another one, which stands for a small picture; lines and
/// columns of a place do not, but for two numbers that do.
fn names_picture(rest: &str) -> bool {
    let Some((word, _)) = rest.split_once(':') else {
        return false;
    };
    let number = word.bytes().all(|b| b.is_ascii_digit());
    let plain = |b: u8| b.is_ascii_alphanumeric() || b"_+-".contains(&b);
    word.bytes().all(plain) && !word.is_empty() && (!number || matches!(word, "100" | "1234"))
}

fn ends_in_www(text: &str) -> bool {
    let tail = text.len().checked_sub(3).and_then(|at| text.get(at..));
    tail.is_some_and(|tail| tail.eq_ignore_ascii_case("www"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::paint::Paint;
    use crate::view::CoverageView;

    #[test]
    fn what_was_left_out_is_told() {
        let review = ReviewView {
            family: "F".to_owned(),
            date: None,
            files: Vec::new(),
            profile: None,
            coverage: CoverageView {
                boards: 1,
                stacks: 0,
                covered: 9000,
                solved: 2048,
                left_out: vec!["a: 9000 combinations".to_owned()],
            },
            required_life_s: None,
            required_share: None,
            findings: Vec::new(),
            runs: Vec::new(),
            boards: Vec::new(),
        };
        let document = Document::new("sha256:0", Vec::new(), review);
        assert!(text(&document).contains("- Left out: a: 9000 combinations\n"));
        assert!(!text(&document).contains("## Cautions"));
        let said = crate::text::review::text(&document, &[], Paint::Plain);
        assert!(said.contains("Left out: a: 9000 combinations\n"), "{said}");
    }

    #[test]
    fn nothing_of_a_name_becomes_markup() {
        assert_eq!(plain("a|b`c\nd"), "a\\|b\\`c d");
        assert_eq!(plain("<img src=x>"), "&lt;img src=x&gt;");
        assert_eq!(plain("[x](http://y)"), "\\[x\\](http&#58;//y)");
        assert_eq!(plain("@all #1 \\"), "@\u{200b}all \\#\u{200b}1 \\\\");
        assert_eq!(plain("10 ohm (5 %)"), "10 ohm (5 %)");
        for live in [
            "ftp://a",
            "HTTP://a",
            "WWW.a",
            "$x$",
            ":tada:",
            "a.toml:100:1",
        ] {
            assert!(!plain(live).contains(live), "{live}");
        }
        assert_eq!(plain("a.toml:12:3: b"), "a.toml:12:3: b");
        assert_eq!(plain("a\u{202e}b"), "ab");
        assert_eq!(plain("on \u{5d0} x"), "on \u{2068}\u{5d0}\u{2069} x");
    }
}
