//! `matrix`: what every switch position and every reversed cell does.

use std::collections::BTreeMap;

use lastvolt_core::circuit::{Matrix, matrix, matrix_at};
use lastvolt_core::model::{Family, Profile};
use lastvolt_core::review::situations::plugged;

use crate::cli::load::{Family as Loaded, load};
use crate::cli::options::{Format, Input};
use crate::cli::point::{first_board, say_first};
use crate::cli::progress::Line;
use crate::cli::resolve::Resolver;
use crate::failure::{FINE, Failure};
use crate::output::{json, print};
use crate::text;
use crate::text::paint::Paint;
use crate::view::{Document, MatrixView};
use lastvolt_core::progress::Piece;

/// Every switch position and reversed cell: what is powered, stressed, charged, floating
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    #[command(flatten)]
    input: Input,
    /// Which board; several are solved stacked on the connector [default: the first]
    #[arg(long, value_name = "NAME")]
    board: Vec<String>,
    /// Every board alone and every pair of boards, two of one kind too; each cell also drawn to its end
    /// beside a fresh one
    #[arg(long, conflicts_with = "board")]
    pairs: bool,
    /// How many boards are plugged together at once
    #[arg(long, value_name = "N", default_value = "2", requires = "pairs", value_parser = clap::value_parser!(u8).range(2..=3))]
    boards_at_once: u8,
    /// Whose base states the loads are in [default: the first profile]
    #[arg(long, value_name = "NAME")]
    profile: Option<String>,
    /// Temperature around the boards: "20 degC", low, usual or high
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    ambient: Option<String>,
}

/// Runs the command.
pub(crate) fn run(args: &Args) -> Result<u8, Failure> {
    let family = load(&args.input.dir)?;
    super::show_slips(&family);
    let mut resolver = Resolver::new(&family.model);
    let mut boards = resolver.boards(&args.board);
    let profile = resolver.profile(args.profile.as_deref());
    if boards.is_empty() {
        boards = first_board(&family.model);
    }
    // The matrix is solved at the usual ambient, which is what is asked for here.
    let mut model = family.model.clone();
    if let Some(text) = &args.ambient {
        model.requirement.ambient.usual = resolver.ambient(text);
    }
    resolver.finish()?;
    if args.pairs {
        return all(args, &family, &model, profile);
    }
    let at = boards.first().map_or("", String::as_str);
    let solved = matrix(&model, &boards, profile, &Line::new("solving"))
        .map_err(|why| Failure::of_point(&family, at, &why))?;
    // Where nothing at all could be solved, that is the answer.
    if let Some(Err(why)) = solved.cases.first().map(|c| &c.point)
        && solved.solved == 0
    {
        return Err(Failure::of_point(&family, at, why));
    }
    let warnings = MatrixView::warnings(&solved);
    let document = Document::new(&family.digest, warnings, MatrixView::new(&solved));
    match args.input.format {
        Format::Json => print(&json(&document)?)?,
        Format::Text => {
            if args.board.is_empty() {
                say_first(&family.model);
            }
            print(&text::matrix::text(&document, &boards, Paint::for_stdout()))?;
        }
    }
    Ok(FINE)
}

/// Every board alone and every stack, one table each; one document holds all cases.
fn all(
    args: &Args,
    family: &Loaded,
    model: &Family,
    profile: Option<&Profile>,
) -> Result<u8, Failure> {
    let mut stacks: Vec<Vec<String>> = model.boards.iter().map(|b| vec![b.name.clone()]).collect();
    let mut doubled = model.clone();
    for count in 2..=usize::from(args.boards_at_once) {
        let (with_seconds, more) = plugged(model, count);
        doubled = with_seconds;
        stacks.extend(more.into_iter().map(|p| p.boards));
    }
    let line = Line::new("solving");
    let mut solved: Vec<(Vec<String>, Matrix)> = Vec::new();
    for (at, boards) in stacks.iter().enumerate() {
        let piece = Piece::new(&line, at, stacks.len());
        let worn = if boards.len() == 1 {
            Vec::new()
        } else {
            worn(&doubled, boards)
        };
        let found = matrix_at(&doubled, boards, profile, &worn, &piece)
            .map_err(|why| Failure::of_point(family, &boards[0], &why))?;
        solved.push((boards.clone(), found));
    }
    let warnings = solved.iter().flat_map(|(boards, m)| {
        let told = MatrixView::warnings(m).into_iter();
        told.map(move |w| format!("{}: {w}", boards.join(" + ")))
    });
    let warnings: Vec<String> = warnings.collect();
    let whole = MatrixView::joined(solved.iter().map(|s| &s.1));
    let document = Document::new(&family.digest, warnings, whole);
    match args.input.format {
        Format::Json => print(&json(&document)?)?,
        Format::Text => print(&text::matrix::stacks(&document, Paint::for_stdout()))?,
    }
    Ok(FINE)
}

/// Each board with a cell drawn to the end, the others fresh.
fn worn(family: &Family, boards: &[String]) -> Vec<BTreeMap<String, f64>> {
    let found = boards.iter().filter_map(|name| family.board(name));
    let celled = found.filter(|b| b.has_cell());
    celled
        .map(|b| BTreeMap::from([(b.name.clone(), 1.0)]))
        .collect()
}
