//! `matrix`: what every switch position and every reversed cell does.

use lastvolt_core::circuit::matrix;

use crate::cli::load::load;
use crate::cli::options::{Format, Input};
use crate::cli::point::{first_board, say_first};
use crate::cli::progress::Line;
use crate::cli::resolve::Resolver;
use crate::failure::{FINE, Failure};
use crate::output::{json, print};
use crate::text;
use crate::text::paint::Paint;
use crate::view::{Document, MatrixView};

/// Every switch position and reversed cell: what is powered, stressed, charged, floating
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    #[command(flatten)]
    input: Input,
    /// Which board; several are solved stacked on the connector [default: the first]
    #[arg(long, value_name = "NAME")]
    board: Vec<String>,
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
