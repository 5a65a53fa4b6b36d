//! `fit`: a model of a cell from figures of data sheets and logs of discharges.

mod curves;
mod gaps;
mod inputs;
mod like;
mod model;

use std::path::{Path, PathBuf};

use clap::ValueEnum;
use lastvolt_core::device::Charging;
use lastvolt_core::fit::{FitRequest, Fitted, NoFit, fit};
use lastvolt_input::measured::{Direction, Measured, measured};
use lastvolt_input::{Diagnostic, Severity};

use crate::cli::load::digest;
use crate::cli::options::{Format, Pair};
use crate::cli::progress::Line;
use crate::draw::fit::FitPicture;
use crate::failure::{FINE, Failure};
use crate::output::{json, message, print, write_each};
use crate::text;
use crate::text::paint::Paint;
use crate::view::{Document, FitDocument, FitView};
use inputs::Inputs;
use like::Like;

/// A model of a cell from figures of data sheets and logs of discharges
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// Files of measurements (comma-separated values): figures of data sheets, or logs of discharges
    #[arg(value_name = "DATA", required = true)]
    data: Vec<PathBuf>,
    /// Cell of the same chemistry to begin from; what the data leave open stays as it is there
    #[arg(long, value_name = "NAME")]
    like: Option<String>,
    /// What the new model is called [default: the name of the first file]
    #[arg(long, value_name = "NAME")]
    name: Option<String>,
    /// Models of this family may be named too
    #[arg(long, value_name = "DIR")]
    family: Option<PathBuf>,
    /// Temperature of the cell where a file states none
    #[arg(
        long,
        value_name = "TEMPERATURE",
        default_value = "20 degC",
        allow_hyphen_values = true
    )]
    ambient: String,
    /// What loads the cell where a log has no current: "3 kohm", "10 mA" or "50 mW"
    #[arg(long, value_name = "LOAD")]
    load: Option<String>,
    /// The file's name of a column; may be repeated
    #[arg(long, value_name = "volts=NAME")]
    column: Vec<Pair>,
    /// The unit of a column of a log; may be repeated
    #[arg(long, value_name = "amps=mA")]
    unit: Vec<Pair>,
    /// Name of the sample where a file states none; files of one sample are one cell
    #[arg(long, value_name = "NAME")]
    sample: Option<String>,
    /// The cell may be charged [default: as the cell to begin from]
    #[arg(long)]
    rechargeable: bool,
    /// Which sign the current of a discharge has in a log
    #[arg(long, value_name = "SIGN", default_value = "found")]
    current_sign: Sign,
    /// Charge that the maker rates, against which the current of a log is held: "225 mAh"
    #[arg(long, value_name = "CHARGE")]
    rated: Option<String>,
    /// Descents from different beginnings, 1 to 64
    #[arg(long, value_name = "N", default_value = "4", value_parser = clap::value_parser!(u8).range(1..=64))]
    descents: u8,
    /// Write the model into this file, ready to be put into a family
    #[arg(long, value_name = "FILE.toml")]
    out: Option<PathBuf>,
    /// Write a picture of what was measured and what the model says into this file (SVG)
    #[arg(long, value_name = "FILE.svg")]
    picture: Option<PathBuf>,
    /// How to answer
    #[arg(long, value_name = "FORMAT", default_value = "text")]
    format: Format,
}

/// The sign of the current of a discharge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Sign {
    /// Found from the log
    Found,
    /// Positive
    Positive,
    /// Negative
    Negative,
}

impl From<Sign> for Direction {
    fn from(sign: Sign) -> Self {
        match sign {
            Sign::Found => Self::Found,
            Sign::Positive => Self::Positive,
            Sign::Negative => Self::Negative,
        }
    }
}

/// A fit with all that it was made from.
struct Job<'a> {
    name: &'a str,
    like: &'a Like,
    measured: &'a Measured,
    fitted: &'a Fitted,
    files: &'a [String],
}

/// Runs the command.
pub(crate) fn run(args: &Args) -> Result<u8, Failure> {
    let cells = like::cells(args.family.as_deref())?;
    let like = like::named(&cells, args.like.as_deref())?;
    let Inputs {
        name,
        texts,
        options,
    } = inputs::read(args, like.as_ref())?;
    let mut measured = measured(&texts, &options);
    measured.problems = inputs::hinted(measured.problems);
    if measured.failed() {
        return Err(Failure::Input {
            problems: measured.problems,
            texts,
        });
    }
    let Some(like) = like else {
        return Err(like::missing(&cells, &measured));
    };
    inputs::enough(&measured)?;
    like::suits(&like, &cells, &measured)?;
    check_out(args, &texts)?;
    if !measured.problems.is_empty() {
        let paint = Paint::for_stderr();
        message(text::diagnostic::text(&measured.problems, &texts, paint).trim_end());
    }
    let fitted = fitted(args, &like, &measured)?;
    let files: Vec<String> = texts.iter().map(|t| inputs::bare(&t.name)).collect();
    let job = Job {
        name: &name,
        like: &like,
        measured: &measured,
        fitted: &fitted,
        files: &files,
    };
    answer(args, &job, &digest(&texts))
}

fn fitted(args: &Args, like: &Like, measured: &Measured) -> Result<Fitted, Failure> {
    let mut start = like.model.clone();
    if args.rechargeable {
        start.charging = Charging::Rechargeable;
    }
    let request = FitRequest {
        start: &start,
        tests: &measured.tests,
        units: measured.units.len(),
        descents: usize::from(args.descents),
    };
    let progress = Line::new("fitting");
    fit(&request, &progress).map_err(|why| match why {
        NoFit::NothingRead => Failure::of_option(
            "nothing-to-fit",
            "nothing is left to fit: every reading is held back or only compared",
            Some("let the column `use` say `fit`, or leave it empty, where a reading counts".into()),
        ),
        NoFit::TooManyBranches { most } => Failure::of_option(
            "too-many-branches",
            format!(
                "`--like {}`: that cell has {} polarisation branches, and a fit can turn {most} at most",
                like.name,
                like.model.polarisation.len()
            ),
            Some("name another cell, or one of your own with fewer branches".into()),
        ),
        NoFit::Cancelled => Failure::Closed,
    })
}

/// Writes the files, then prints the answer.
fn answer(args: &Args, job: &Job<'_>, digest: &str) -> Result<u8, Failure> {
    model::possible(&job.fitted.model)?;
    model::alike(job)?;
    let open = gaps::gaps(job);
    let view = FitView::new(job.name, &job.like.name, job.measured, job.fitted);
    let toml = model::text(job, &open, &view.missed.words())?;
    let view = view.with_files(job.files).with_open(open).with_model(toml);
    let mut warnings = model::warnings(job);
    if args.format == Format::Json {
        let problems = job.measured.problems.iter();
        warnings.splice(0..0, problems.map(said));
    }
    let document = Document::new(digest, warnings, FitDocument { fit: view });
    let answer = match args.format {
        Format::Json => json(&document)?,
        Format::Text => text::fit::text(&document, args.out.is_none(), Paint::for_stdout()),
    };
    let mut files: Vec<(&Path, String)> = Vec::new();
    if let Some(path) = &args.out {
        files.push((path, document.body.fit.model_toml.clone()));
    }
    if let Some(path) = &args.picture {
        let panels = curves::panels(job);
        let picture = FitPicture::new(&document.body.fit, &panels);
        files.push((path, picture.alone()));
    }
    write_each(&files)?;
    print(&answer)?;
    for (path, _) in &files {
        message(&format!("Wrote {}", path.display()));
    }
    Ok(FINE)
}

/// A notice of the reader in one line.
fn said(problem: &Diagnostic) -> String {
    let kind = match problem.severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
    };
    let (file, line) = (inputs::bare(&problem.file), problem.line);
    format!("{file}:{line}: {kind}[{}]: {}", problem.code, problem.says)
}

/// A model must not take the place of measurements, nor of a file that somebody wrote.
fn check_out(args: &Args, texts: &[lastvolt_input::Text]) -> Result<(), Failure> {
    let places = [("--out", &args.out), ("--picture", &args.picture)];
    for (option, path) in places {
        let Some(path) = path else { continue };
        let same = |data: &&PathBuf| {
            let whole = |p: &Path| std::fs::canonicalize(p).ok();
            whole(path).is_some_and(|p| whole(data) == Some(p))
        };
        if let Some(data) = args.data.iter().find(same) {
            let says = format!(
                "`{option} {}` is one of the files of measurements",
                data.display()
            );
            return Err(Failure::of_option("overwrites-data", says, None));
        }
    }
    debug_assert!(!texts.is_empty());
    if let Some(path) = &args.out
        && let Ok(there) = std::fs::read_to_string(path)
        && !there.trim().is_empty()
        && !there.starts_with(model::FIRST_WORDS)
    {
        let says = format!(
            "`--out {}`: that file is there and no model of an earlier fit",
            path.display()
        );
        let proposal = "name another file; a model is put into a family by hand".to_owned();
        return Err(Failure::of_option("file-exists", says, Some(proposal)));
    }
    if let Some(path) = &args.picture
        && let Ok(there) = std::fs::read(path)
        && !there.is_empty()
        && !there.starts_with(b"<svg")
    {
        let says = format!(
            "`--picture {}`: that file is there and no picture of an earlier fit",
            path.display()
        );
        let proposal = "name another file".to_owned();
        return Err(Failure::of_option("file-exists", says, Some(proposal)));
    }
    Ok(())
}
