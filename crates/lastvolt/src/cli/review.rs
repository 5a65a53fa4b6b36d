//! `review`: the whole review as a report, a document and a summary.

use std::path::{Path, PathBuf};

use lastvolt_core::review;

use crate::cli::load::load;
use crate::cli::options::{FailOn, Format, Input};
use crate::cli::progress::Line;
use crate::cli::resolve::Resolver;
use crate::failure::{FINDINGS, FINE, Failure};
use crate::output::{json, print, write_files};
use crate::report;
use crate::scope;
use crate::text;
use crate::text::paint::Paint;
use crate::view::Document;

/// Name of the report.
const HTML: &str = "review.html";
/// Name of the document.
const JSON: &str = "review.json";

/// The whole review: a summary here, review.html and review.json in a folder
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    #[command(flatten)]
    input: Input,
    /// Folder for review.html and review.json [default: DIR/review]
    #[arg(long, value_name = "OUT")]
    out: Option<PathBuf>,
    /// Review this board only; may be repeated [default: all]
    #[arg(long, value_name = "NAME")]
    board: Vec<String>,
    /// Which profile the findings judge [default: the first; lives are shown for all]
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
    let profile = args.profile.as_deref();
    let judged = resolver.profile(profile);
    let boards = resolver.boards_or_all(&args.board);
    resolver.finish()?;
    let mut reviewed = review::review(&family.model, profile, &Line::new("reviewing"))
        .map_err(|why| Failure::of_review(&family, judged, &why))?;
    reviewed.boards.retain(|b| boards.contains(&b.board));
    reviewed.findings.retain(|f| boards.contains(&f.board));
    let failed = reviewed
        .findings
        .iter()
        .any(|f| f.accepted.is_none() && args.fail_on.severity() <= f.severity);
    let waves = report::waves(&family.model, &reviewed, judged);
    let (view, slips) = report::view(&family, &reviewed, &waves, profile);
    let mut warnings = scope::warnings(&family.model);
    warnings.extend(slips);
    let document = Document::new(&family.digest, warnings, view);
    let document_text = json(&document)?;
    let html = report::html(&report::Input {
        family: &family.model,
        review: &reviewed,
        document: &document,
        waves: &waves,
        profile: judged,
    });
    let out = args
        .out
        .clone()
        .unwrap_or_else(|| family.folder.join("review"));
    write_files(&out, &[(HTML, &html), (JSON, &document_text)])?;
    match args.input.format {
        Format::Json => print(&document_text)?,
        Format::Text => {
            let (html, json) = (out.join(HTML), out.join(JSON));
            let written: [&Path; 2] = [&html, &json];
            print(&text::review::text(
                &document,
                &written,
                Paint::for_stdout(),
            ))?;
        }
    }
    Ok(if failed { FINDINGS } else { FINE })
}
