//! `schematic`: the circuit of each board as a picture, drawn from its netlist.

use std::path::PathBuf;

use clap::ValueEnum;
use lastvolt_core::circuit::{CellDrive, Circuit, Point, Situation};
use lastvolt_core::model::{Board, Family};

use crate::cli::load::load;
use crate::cli::resolve::Resolver;
use crate::draw::schematic::schematic;
use crate::failure::{FINE, Failure};
use crate::output::{print, write_files};
use crate::report;

/// The circuit of each board as a picture, drawn from its netlist
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// Folder of the family, or its family.toml
    #[arg(value_name = "DIR")]
    dir: PathBuf,
    /// Folder for the pictures, schematic-BOARD.svg [default: DIR/review]
    #[arg(long, value_name = "OUT")]
    out: Option<PathBuf>,
    /// Draw this board only; may be repeated [default: all]
    #[arg(long, value_name = "NAME")]
    board: Vec<String>,
    /// Draw the boards plugged together, in one picture
    #[arg(long)]
    together: bool,
    /// Voltages beside the names of nets
    #[arg(long, value_name = "VALUES", default_value = "rest")]
    values: Values,
}

/// Which voltages stand beside the names of nets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Values {
    /// Those at rest: usual positions, fresh cells, usual ambient
    Rest,
    /// None
    None,
}

/// Runs the command.
pub(crate) fn run(args: &Args) -> Result<u8, Failure> {
    let family = load(&args.dir)?;
    super::show_slips(&family);
    let mut resolver = Resolver::new(&family.model);
    let names = resolver.boards_or_all(&args.board);
    resolver.finish()?;
    let boards = family
        .model
        .boards
        .iter()
        .filter(|b| names.contains(&b.name));
    let drawn: Vec<(String, String)> = boards
        .map(|board| {
            let point = match args.values {
                Values::Rest => at_rest(&family.model, board),
                Values::None => None,
            };
            let picture = schematic(&family.model, board, point.as_ref());
            (file_name(board), picture.alone())
        })
        .collect();
    let out = args.out.clone();
    let out = out.unwrap_or_else(|| family.folder.join("review"));
    let files: Vec<(&str, &str)> = drawn
        .iter()
        .map(|(n, s)| (n.as_str(), s.as_str()))
        .collect();
    write_files(&out, &files)?;
    let mut said = String::new();
    for (name, _) in &files {
        said.push_str(&format!("wrote {}\n", out.join(name).display()));
    }
    print(&said)?;
    Ok(FINE)
}

/// Name of the picture of a board.
fn file_name(board: &Board) -> String {
    let name = report::anchor(&board.name).replacen("board-", "schematic-", 1);
    format!("{name}.svg")
}

/// The usual situation of a board, where it has an operating point.
fn at_rest(family: &Family, board: &Board) -> Option<Point> {
    let boards = [board.name.clone()];
    let circuit = Circuit::new(family, &boards).ok()?;
    let situation = Situation::usual(family, &boards, family.profiles.first());
    circuit.solve(&situation, &CellDrive::Rested, None).ok()
}
