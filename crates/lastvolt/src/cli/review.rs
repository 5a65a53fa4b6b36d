//! `review`: the whole review as a report, a document and a summary.

use std::path::{Path, PathBuf};

use clap::ValueEnum;
use lastvolt_core::review;

use crate::cli::accepts;
use crate::cli::load::load;
use crate::cli::options::FailOn;
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
/// Name of the parts list.
const PARTS: &str = "parts.csv";

/// What is printed: text for people, a document for a program, or a summary for a change of the files.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Form {
    /// Tables and sentences
    Text,
    /// One JSON document
    Json,
    /// A summary in Markdown, to be put under a change of the files
    Markdown,
}

/// The whole review: a summary here; review.html, review.json, parts list and pictures in a folder
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// Folder of the family, or its family.toml
    #[arg(value_name = "DIR")]
    dir: PathBuf,
    /// How to answer
    #[arg(long, value_name = "FORMAT", default_value = "text")]
    format: Form,
    /// Folder for what is written [default: DIR/review]
    #[arg(long, value_name = "OUT")]
    out: Option<PathBuf>,
    /// Review this board only; may be repeated [default: all]
    #[arg(long, value_name = "NAME")]
    board: Vec<String>,
    /// Which profile the findings judge [default: the first; lives are shown for all]
    #[arg(long, value_name = "NAME")]
    profile: Option<String>,
    /// Day that the documents bear, as YYYY-MM-DD [default: none, so that they are the same every time]
    #[arg(long, value_name = "DAY", value_parser = day)]
    date: Option<String>,
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

/// A day of the calendar.
fn day(text: &str) -> Result<String, String> {
    let wrong = || "a day is written as YYYY-MM-DD, 2026-11-26".to_owned();
    let parts: Vec<&str> = text.split('-').collect();
    let [year, month, day] = parts.as_slice() else {
        return Err(wrong());
    };
    let number = |text: &str, digits: usize| -> Option<u32> {
        let plain = text.len() == digits && text.bytes().all(|b| b.is_ascii_digit());
        plain.then(|| text.parse().ok())?
    };
    let (Some(year), Some(month), Some(day)) = (number(year, 4), number(month, 2), number(day, 2))
    else {
        return Err(wrong());
    };
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days = match month {
        1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
        4 | 6 | 9 | 11 => 30,
        2 if leap => 29,
        2 => 28,
        _ => 0,
    };
    if (1..=days).contains(&day) {
        Ok(text.to_owned())
    } else {
        Err(format!("{text} is no day of the calendar"))
    }
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
    let family = load(&args.dir)?;
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
    let date = args.date.as_deref();
    let (view, slips) = report::view(&family, &reviewed, &waves, profile, date);
    let mut warnings = scope::warnings(&family.model, judged);
    warnings.extend(slips);
    warnings.extend(accepts::lines(&idle));
    let document = Document::new(&family.digest, warnings, view);
    let files = files(
        args,
        &report::Input {
            family: &family.model,
            review: &reviewed,
            document: &document,
            waves: &waves,
            profile: judged,
        },
    )?;
    let beside = family.folder.join("review");
    let out = args.out.as_deref().unwrap_or(&beside);
    let texts: Vec<(&str, &str)> = files
        .iter()
        .map(|(n, t)| (n.as_str(), t.as_str()))
        .collect();
    write_files(out, &texts)?;
    match args.format {
        Form::Json => print(&json(&document)?)?,
        Form::Markdown => print(&text::markdown::text(&document))?,
        Form::Text => {
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

/// Name and text of every file that a review writes.
fn files(args: &Args, input: &report::Input) -> Result<Vec<(String, String)>, Failure> {
    let mut files = vec![
        (HTML.to_owned(), report::html(input)),
        (JSON.to_owned(), json(input.document)?),
        (
            PARTS.to_owned(),
            report::order::file(input.family, &input.document.body.boards),
        ),
    ];
    files.extend(report::circuit::files(input));
    files.extend(legends(args, input.document));
    Ok(files)
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
