//! `check`: the findings, and an exit status for a build server.

use lastvolt_core::review;

use crate::cli::load::load;
use crate::cli::options::{FailOn, Format, Input};
use crate::cli::progress::Line;
use crate::cli::resolve::Resolver;
use crate::failure::{FINDINGS, FINE, Failure};
use crate::output::{json, print};
use crate::scope;
use crate::text;
use crate::text::paint::Paint;
use crate::view::{CheckView, Document, FindingView};

/// Findings only, with an exit status for a build server
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    #[command(flatten)]
    input: Input,
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
    let family = load(&args.input.dir)?;
    super::show_slips(&family);
    let mut resolver = Resolver::new(&family.model);
    let boards = resolver.boards_or_all(&args.board);
    let profile = resolver.profile(args.profile.as_deref());
    resolver.finish()?;
    let name = profile.map(|p| p.name.as_str());
    let checked = review::checked(&family.model, name, &Line::new("checking"))
        .map_err(|why| Failure::of_review(&family, profile, &why))?;
    let shown: Vec<_> = checked
        .findings
        .iter()
        .filter(|f| boards.contains(&f.board))
        .collect();
    let failed = shown
        .iter()
        .any(|f| f.accepted.is_none() && args.fail_on.severity() <= f.severity);
    let findings = shown.iter().map(|f| FindingView::new(f, &family.spans));
    let view = CheckView {
        findings: findings.collect(),
        coverage: (&checked.coverage).into(),
    };
    let document = Document::new(&family.digest, scope::warnings(&family.model), view);
    match args.input.format {
        Format::Json => print(&json(&document)?)?,
        Format::Text => {
            let text = text::check::text(&document, boards.len(), Paint::for_stdout());
            print(&text)?;
        }
    }
    Ok(if failed { FINDINGS } else { FINE })
}
