//! `review`: the whole review as a report, a document and a summary.

use std::path::{Path, PathBuf};

use lastvolt_core::review;

use crate::cli::accepts;
use crate::cli::load::load;
use crate::cli::options::{FailOn, Format, Input};
use crate::cli::progress::Line;
use crate::cli::resolve::Resolver;
use crate::draw::legend::{self, Silk};
use crate::failure::{FINDINGS, FINE, Failure};
use crate::output::{json, print, write_files};
use crate::report;
use crate::scope;
use crate::text;
use crate::text::paint::Paint;
use crate::view::{Document, ReviewView};

/// Name of the report.
const HTML: &str = "review.html";
/// Name of the document.
const JSON: &str = "review.json";

/// The whole review: a summary here, review.html, review.json and switch legends in a folder
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
    /// Height of the letters of the switch legends, in millimetres
    #[arg(long, value_name = "MM", default_value_t = Silk::LEAST.height_mm, value_parser = millimetres)]
    legend_height: f64,
    /// Width of the strokes of the switch legends, in millimetres
    #[arg(long, value_name = "MM", default_value_t = Silk::LEAST.stroke_mm, value_parser = millimetres)]
    legend_stroke: f64,
}

/// A length that letters can have.
fn millimetres(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if (0.05..=50.0).contains(&value) => Ok(value),
        _ => Err("a length from 0.05 to 50 millimetres is needed".to_owned()),
    }
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
    let idle = accepts::idle(&family, &reviewed.findings);
    accepts::show(&family, &idle);
    reviewed.boards.retain(|b| boards.contains(&b.board));
    reviewed.findings.retain(|f| boards.contains(&f.board));
    let failed = reviewed.findings.iter().any(|f| args.fail_on.fails(f));
    let waves = report::waves(&family.model, &reviewed, judged);
    let (view, slips) = report::view(&family, &reviewed, &waves, profile);
    let mut warnings = scope::warnings(&family.model, judged);
    warnings.extend(slips);
    warnings.extend(accepts::lines(&idle));
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
    let legends = legends(args, &document);
    let mut files: Vec<(&str, &str)> = vec![(HTML, &html), (JSON, &document_text)];
    files.extend(
        legends
            .iter()
            .map(|(name, svg)| (name.as_str(), svg.as_str())),
    );
    write_files(&out, &files)?;
    match args.input.format {
        Format::Json => print(&document_text)?,
        Format::Text => {
            let written: Vec<PathBuf> = files.iter().map(|(name, _)| out.join(name)).collect();
            let written: Vec<&Path> = written.iter().map(PathBuf::as_path).collect();
            print(&text::review::text(
                &document,
                &written,
                Paint::for_stdout(),
            ))?;
        }
    }
    Ok(if failed { FINDINGS } else { FINE })
}

/// Name and picture of the switch legend of each board that has a switch.
fn legends(args: &Args, document: &Document<ReviewView>) -> Vec<(String, String)> {
    let silk = Silk {
        height_mm: args.legend_height,
        stroke_mm: args.legend_stroke,
        ..Silk::LEAST
    };
    let boards = document.body.boards.iter();
    let drawn = boards.filter_map(|board| {
        let svg = legend::legend(&board.name, &board.legend, silk, "black")?;
        let name = report::anchor(&board.name).replacen("board-", "legend-", 1);
        Some((format!("{name}.svg"), svg))
    });
    drawn.collect()
}
