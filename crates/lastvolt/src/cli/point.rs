//! `point`: every voltage, current and loss in one situation.

use lastvolt_core::circuit::{CellDrive, Circuit};
use lastvolt_core::model::Family;

use crate::cli::load::load;
use crate::cli::options::{Format, Input};
use crate::cli::resolve::{Resolver, Stated};
use crate::failure::{FINE, Failure};
use crate::output::{json, message, print};
use crate::text;
use crate::text::number::listed;
use crate::text::paint::Paint;
use crate::view::{Document, PointView};

/// Every voltage, current and loss in one situation
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
    #[command(flatten)]
    stated: Stated,
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
    let circuit = Circuit::new(&family.model, &boards)
        .map_err(|board| Failure::Fault(format!("no board {board}")))?;
    let (situation, warnings) = resolver.situation(&circuit, profile, &args.stated);
    resolver.finish()?;
    let at = boards.first().map_or("", String::as_str);
    let point = circuit
        .solve(&situation, &CellDrive::Rested, None)
        .map_err(|why| Failure::of_point(&family, at, &why))?;
    let view = PointView::new(&circuit, &situation, &point);
    let document = Document::new(&family.digest, warnings, view);
    match args.input.format {
        Format::Json => print(&json(&document)?)?,
        Format::Text => {
            if args.board.is_empty() {
                say_first(&family.model);
            }
            print(&text::point::text(&document, &circuit, Paint::for_stdout()))?;
        }
    }
    Ok(FINE)
}

/// The first board of a family, which is taken where none is named.
pub(crate) fn first_board(family: &Family) -> Vec<String> {
    family
        .boards
        .iter()
        .take(1)
        .map(|b| b.name.clone())
        .collect()
}

/// Says which board is shown where none was named, and which others there are.
pub(crate) fn say_first(family: &Family) {
    if let [first, others @ ..] = family.boards.as_slice()
        && !others.is_empty()
    {
        let others: Vec<&str> = others.iter().map(|b| b.name.as_str()).collect();
        message(&format!(
            "showing the first board, {}; --board shows {}",
            first.name,
            listed(&others)
        ));
    }
}
