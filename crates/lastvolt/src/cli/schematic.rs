//! `schematic`: the circuit of each board as a picture, drawn from its netlist.

use std::path::PathBuf;

use clap::ValueEnum;
use lastvolt_core::circuit::{CellDrive, Circuit, Point, Situation};
use lastvolt_core::model::{Board, Family};

use crate::cli::load::load;
use crate::cli::resolve::Resolver;
use crate::draw::schematic::stack::stack;
use crate::draw::schematic::{file_name, schematic};
use crate::failure::{FINE, Failure};
use crate::output::{message, print, write_files};
use crate::text::number::listed;

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
    let boards = family.model.boards.iter();
    let boards: Vec<&Board> = boards.filter(|b| names.contains(&b.name)).collect();
    let together = args.together && 1 < boards.len();
    if args.together && !together {
        message("note: --together needs two boards or more; the one is drawn alone");
    }
    let sheets: Vec<Vec<&Board>> = if together {
        vec![boards]
    } else {
        boards.into_iter().map(|b| vec![b]).collect()
    };
    let drawn: Vec<(String, String)> = sheets
        .iter()
        .map(|boards| {
            (
                file_name(&family.model, boards),
                picture(&family.model, boards, args.values),
            )
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
        said.push_str(&format!("Wrote {}\n", out.join(name).display()));
    }
    print(&said)?;
    Ok(FINE)
}

/// The picture of one board, or of several on one connector.
fn picture(family: &Family, boards: &[&Board], values: Values) -> String {
    let point = match values {
        Values::Rest => {
            let point = at_rest(family, boards);
            if point.is_none() {
                let names: Vec<&str> = boards.iter().map(|b| b.name.as_str()).collect();
                message(&format!(
                    "note: {} has no operating point at rest; drawn without voltages",
                    listed(&names)
                ));
            }
            point
        }
        Values::None => None,
    };
    match boards {
        [board] => schematic(family, board, point.as_ref()).alone(),
        boards => stack(family, boards, point.as_ref()).alone(),
    }
}

/// The usual situation of boards on one connector, where it has an operating point.
fn at_rest(family: &Family, boards: &[&Board]) -> Option<Point> {
    let names: Vec<String> = boards.iter().map(|b| b.name.clone()).collect();
    let circuit = Circuit::new(family, &names).ok()?;
    let situation = Situation::usual(family, &names, family.profiles.first());
    circuit.solve(&situation, &CellDrive::Rested, None).ok()
}
