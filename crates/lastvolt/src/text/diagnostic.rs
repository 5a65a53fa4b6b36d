//! Problems of files and command line: for people with a caret under the place, for programs as JSON.

use std::ops::Range;

use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Group, Level, Origin, Patch, Renderer, Snippet};
use lastvolt_input::{Diagnostic, Place, Severity, Text};
use serde::Serialize;

use crate::failure::COMMAND_LINE;
use crate::text::number::count;
use crate::text::paint::Paint;

/// Longest stretch of a line that is shown around a place, in bytes on each side.
const SHOWN: usize = 120;

/// The document of problems.
#[derive(Serialize)]
struct Problems<'a> {
    problems: Vec<ProblemView<'a>>,
}

/// One problem.
#[derive(Serialize)]
struct ProblemView<'a> {
    code: &'a str,
    file: &'a str,
    line: usize,
    column: usize,
    says: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    proposal: Option<&'a str>,
}

/// The errors as a JSON document; where there is none, whatever there is.
pub(crate) fn json(problems: &[Diagnostic]) -> String {
    let failed = problems.iter().any(|p| p.severity == Severity::Error);
    let told = |p: &&Diagnostic| !failed || p.severity == Severity::Error;
    let problems = problems.iter().filter(told).map(|p| ProblemView {
        code: p.code,
        file: &p.file,
        line: p.line,
        column: p.column,
        says: &p.says,
        proposal: p.proposal.as_deref(),
    });
    let document = Problems {
        problems: problems.collect(),
    };
    // Names and whole numbers always serialise.
    let text = serde_json::to_string_pretty(&document).unwrap_or_default();
    format!("{text}\n")
}

/// The problems as text, with their places in these texts.
pub(crate) fn text(problems: &[Diagnostic], texts: &[Text], paint: Paint) -> String {
    let renderer = match paint {
        Paint::Plain => Renderer::plain(),
        Paint::Colour => Renderer::styled(),
    };
    let renderer = renderer.decor_style(DecorStyle::Ascii);
    let mut out = String::new();
    for problem in problems {
        out.push_str(&one(problem, texts, &renderer));
        out.push_str("\n\n");
    }
    let errors = problems.iter().filter(|p| p.severity == Severity::Error);
    let errors = errors.count();
    if 1 < errors {
        out.push_str(&format!("{} found\n", count(errors, "error")));
    }
    out
}

fn one(problem: &Diagnostic, texts: &[Text], renderer: &Renderer) -> String {
    let level = match problem.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
    };
    let title = level.primary_title(&problem.says).id(problem.code);
    let mut group = Group::with_title(title);
    let here = Place {
        file: problem.file.clone(),
        line: problem.line,
        column: problem.column,
        span: problem.span.clone(),
    };
    let place = Excerpt::at(&here, texts);
    if let Some(place) = &place {
        let mark = AnnotationKind::Primary.span(place.span.clone());
        group = group.element(place.snippet().annotation(mark.label(&problem.label)));
    } else if problem.file != COMMAND_LINE {
        let origin = Origin::path(&problem.file).line(problem.line);
        group = group.element(origin.char_column(problem.column));
    }
    let related = problem.related.iter();
    let related: Vec<(Excerpt, &str)> = related
        .filter_map(|r| Some((Excerpt::at(&r.place, texts)?, r.label.as_str())))
        .collect();
    for (place, label) in &related {
        let mark = AnnotationKind::Context.span(place.span.clone());
        group = group.element(place.snippet().annotation(mark.label(*label)));
    }
    let mut groups = vec![group];
    let patch = problem.patch.as_deref();
    if let (Some(patch), Some(place), Some(says)) = (patch, &place, &problem.proposal) {
        let source = Snippet::source(place.source).line_start(problem.line);
        let patched = source.patch(Patch::new(place.span.clone(), patch));
        groups.push(Level::HELP.secondary_title(says).element(patched));
    } else if let Some(says) = &problem.proposal
        && let Some(group) = groups.pop()
    {
        groups.push(group.element(Level::HELP.message(says)));
    }
    let mut text = renderer.render(&groups);
    for place in place.iter().chain(related.iter().map(|r| &r.0)) {
        text = place.with_true_column(text);
    }
    text
}

/// The stretch of a line around a place.
#[derive(Debug)]
struct Excerpt<'t> {
    source: &'t str,
    span: Range<usize>,
    file: String,
    line: usize,
    column: usize,
}

impl<'t> Excerpt<'t> {
    /// The line of a place without its end, cut where it is very long; nothing where the text is not
    /// known, or for the start of a file, which stands for the file as a whole.
    fn at(place: &Place, texts: &'t [Text]) -> Option<Self> {
        let text = &texts.iter().find(|t| t.name == place.file)?.text;
        let span = &place.span;
        if span.is_empty() && span.start == 0 {
            return None;
        }
        let start = floor(text, span.start);
        let line_start = text[..start].rfind('\n').map_or(0, |at| at + 1);
        let line_end = text[start..].find('\n').map_or(text.len(), |at| start + at);
        let from = floor(text, line_start.max(start.saturating_sub(SHOWN)));
        let end = floor(text, span.end.min(line_end)).max(start);
        let to = floor(text, line_end.min(end.min(start + SHOWN) + SHOWN));
        Some(Self {
            source: text[from..to].trim_end_matches('\r'),
            span: start - from..end.min(to) - from,
            file: place.file.clone(),
            line: place.line,
            column: place.column,
        })
    }

    fn snippet<A: Clone>(&self) -> Snippet<'t, A> {
        Snippet::source(self.source)
            .line_start(self.line)
            .path(self.file.clone())
    }

    /// The rendered text with the column in the file, where the renderer counted in the excerpt.
    fn with_true_column(&self, text: String) -> String {
        let counted = self.source[..self.span.start].chars().count() + 1;
        if counted == self.column {
            return text;
        }
        let (file, line) = (&self.file, self.line);
        let wrong = format!("{file}:{line}:{counted}");
        text.replacen(&wrong, &format!("{file}:{line}:{}", self.column), 1)
    }
}

/// The nearest place at or before `at` where a character begins.
fn floor(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    fn problem(line: usize, column: usize, span: Range<usize>) -> Diagnostic {
        Diagnostic {
            line,
            column,
            span,
            label: "here".to_owned(),
            ..Diagnostic::of_file("unknown-key", "a.toml", "unknown key".to_owned())
        }
    }

    #[test]
    fn a_problem_shows_its_place_with_a_caret_and_the_fix() {
        let texts = [Text {
            name: "a.toml".to_owned(),
            text: "x = 1\nvlaue = \"4 µF\"\n".to_owned(),
        }];
        let problem = Diagnostic {
            proposal: Some("did you mean `value`?".to_owned()),
            patch: Some("value".to_owned()),
            ..problem(2, 1, 6..11)
        };
        let text = text(&[problem], &texts, Paint::Plain);
        assert!(
            text.starts_with("error[unknown-key]: unknown key\n"),
            "{text}"
        );
        assert!(text.contains("a.toml:2:1"), "{text}");
        assert!(text.contains("^^^^^ here"), "{text}");
        assert!(text.contains("did you mean `value`?"), "{text}");
        assert!(!text.contains('\u{1b}'), "{text}");
    }

    #[test]
    fn a_very_long_line_is_cut_around_the_place() {
        let texts = [Text {
            name: "a.toml".to_owned(),
            text: "é".repeat(100_000),
        }];
        let text = text(
            &[problem(1, 50_001, 100_000..100_002)],
            &texts,
            Paint::Plain,
        );
        assert!(text.len() < 1000, "{} bytes", text.len());
        assert!(text.contains("a.toml:1:50001"), "{text}");
    }
}
