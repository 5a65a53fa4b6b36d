//! `check`: the findings, and an exit status for a build server.

use std::path::{Component, Path, PathBuf};

use clap::ValueEnum;
use lastvolt_core::review;
use lastvolt_input::Diagnostic;

use crate::cli::accepts;
use crate::cli::load::{Family, load};
use crate::cli::options::FailOn;
use crate::cli::progress::Line;
use crate::cli::resolve::Resolver;
use crate::failure::{FINDINGS, FINE, Failure};
use crate::output::{json, pretty, print};
use crate::scope;
use crate::text;
use crate::text::paint::Paint;
use crate::view::{CheckView, CoverageView, Document, FindingView, SarifInput, SarifLog};

/// Text for people, or a document for a program or a build server.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Form {
    /// Tables and sentences
    Text,
    /// One JSON document
    Json,
    /// A SARIF 2.1.0 log, for annotations beside the lines
    Sarif,
    /// JUnit XML, a suite for each board and a case for each rule
    Junit,
}

/// Findings only, with an exit status for a build server
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// Folder of the family, or its family.toml
    #[arg(value_name = "DIR")]
    dir: PathBuf,
    /// How to answer
    #[arg(long, value_name = "FORMAT", default_value = "text")]
    format: Form,
    /// Show the findings of this board only; may be repeated [default: all]
    #[arg(long, value_name = "NAME")]
    board: Vec<String>,
    /// Which profile is judged [default: the first]
    #[arg(long, value_name = "NAME")]
    profile: Option<String>,
    /// Severity from which on findings give exit status 1
    #[arg(long, value_name = "SEVERITY", default_value = "stop")]
    fail_on: FailOn,
}

/// Runs the command.
pub(crate) fn run(args: &Args) -> Result<u8, Failure> {
    let family = load(&args.dir)?;
    super::show_slips(&family);
    let mut resolver = Resolver::new(&family.model);
    let boards = resolver.boards_or_all(&args.board);
    let profile = resolver.profile(args.profile.as_deref());
    resolver.finish()?;
    let name = profile.map(|p| p.name.as_str());
    let checked = review::checked(&family.model, name, &Line::new("checking"))
        .map_err(|why| Failure::of_review(&family, profile, &why))?;
    let idle = accepts::idle(&family, &checked.findings);
    accepts::show(&family, &idle);
    let shown: Vec<_> = checked
        .findings
        .iter()
        .filter(|f| boards.contains(&f.board))
        .collect();
    let failed = shown.iter().any(|f| args.fail_on.fails(f));
    let mut warnings = scope::warnings(&family.model, profile);
    warnings.extend(checked.warnings);
    let answer = Answer {
        findings: FindingView::all(shown, &family.spans),
        boards,
        idle,
        coverage: (&checked.coverage).into(),
        warnings,
        status: if failed { FINDINGS } else { FINE },
    };
    let status = answer.status;
    print(&answer.text(args, &family)?)?;
    Ok(status)
}

/// What was found.
struct Answer {
    findings: Vec<FindingView>,
    boards: Vec<String>,
    idle: Vec<Diagnostic>,
    coverage: CoverageView,
    warnings: Vec<String>,
    status: u8,
}

impl Answer {
    /// The document that leaves on standard output.
    fn text(self, args: &Args, family: &Family) -> Result<String, Failure> {
        let mut warnings = self.warnings;
        let prefix = prefix(&family.folder);
        match args.format {
            Form::Junit => {
                let fails = |severity: &str| args.fail_on.reached_by(severity);
                let findings = &self.findings;
                Ok(text::junit::junit(findings, &self.boards, &prefix, &fails))
            }
            Form::Sarif => pretty(&SarifLog::new(&SarifInput {
                findings: &self.findings,
                idle: &self.idle,
                warnings: &warnings,
                texts: &family.texts,
                prefix: &prefix,
                status: self.status,
            })),
            Form::Json => {
                warnings.extend(accepts::lines(&self.idle));
                let view = CheckView {
                    findings: self.findings,
                    coverage: self.coverage,
                };
                json(&Document::new(&family.digest, warnings, view))
            }
            Form::Text => {
                let boards = self.boards.len();
                let view = CheckView {
                    findings: self.findings,
                    coverage: self.coverage,
                };
                let document = Document::new(&family.digest, warnings, view);
                Ok(text::check::text(&document, boards, Paint::for_stdout()))
            }
        }
    }
}

/// The family's folder as seen from the working folder, with a slash behind it; empty where it is not
/// inside that. A build server puts findings beside the lines of its checkout.
fn prefix(folder: &Path) -> String {
    let here = std::env::current_dir().ok();
    let inside = here.as_ref().and_then(|h| folder.strip_prefix(h).ok());
    let mut prefix = String::new();
    for step in inside.unwrap_or(folder).components() {
        match step {
            Component::CurDir => {}
            Component::Normal(name) => {
                prefix.push_str(&name.to_string_lossy());
                prefix.push('/');
            }
            _ => return String::new(),
        }
    }
    prefix
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_beside_the_working_folder_has_no_prefix() {
        assert_eq!(prefix(Path::new("./supply/beacon")), "supply/beacon/");
        assert_eq!(prefix(Path::new("../beacon")), "");
        let here = std::env::current_dir().expect("a working folder");
        assert_eq!(prefix(&here.join("beacon")), "beacon/");
        assert_eq!(prefix(&here), "");
    }
}
