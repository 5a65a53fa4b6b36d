//! `deliver`: what the rails of a board can give to anything plugged on.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use lastvolt_core::deliver::{DeliverRequest, LifeDepth, deliver, depths, life_depth, rails};
use lastvolt_core::model::{self, Board};
use lastvolt_core::progress::{Piece, Silent};
use lastvolt_core::quantity::Temperature;
use lastvolt_core::time::{Bursts, Climate, LifeRequest, life};

use crate::cli::life::positions;
use crate::cli::load::{Family, load};
use crate::cli::options::{Format, Input, Pair};
use crate::cli::progress::Line;
use crate::cli::resolve::Resolver;
use crate::draw::output::OutputPicture;
use crate::failure::{FINE, Failure};
use crate::output::{json, message, print, write_files};
use crate::text;
use crate::text::paint::Paint;
use crate::view::{Document, OutputView};

/// What each rail can give to anything plugged on, running and starting, and what limits it
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    #[command(flatten)]
    input: Input,
    /// Which board; may be repeated [default: all]
    #[arg(long, value_name = "NAME")]
    board: Vec<String>,
    /// Which rail of the connector [default: all]
    #[arg(long, value_name = "NAME")]
    rail: Option<String>,
    /// Whose base states and tasks the own loads follow [default: the first profile]
    #[arg(long, value_name = "NAME")]
    profile: Option<String>,
    /// Temperature around the boards: "20 degC", low, usual, high or all
    #[arg(
        long,
        value_name = "TEMPERATURE",
        default_value = "all",
        allow_hyphen_values = true
    )]
    ambient: String,
    /// Position of a switch or jumper, on every board that has it; may be repeated
    #[arg(long, value_name = "S1=on")]
    set: Vec<Pair>,
    /// Draw the curves of one board into this file
    #[arg(long, value_name = "FILE.svg")]
    out: Option<PathBuf>,
}

/// Runs the command.
pub(crate) fn run(args: &Args) -> Result<u8, Failure> {
    let family = load(&args.input.dir)?;
    super::show_slips(&family);
    let mut resolver = Resolver::new(&family.model);
    let boards = resolver.boards_or_all(&args.board);
    let profile = resolver.profile(args.profile.as_deref());
    let profile = profile.map(|p| p.name.clone());
    let ambients = match args.ambient.trim() {
        "all" => all(&family.model),
        one => vec![resolver.ambient(one)],
    };
    let positions = positions(&mut resolver, &family.model, &boards, &args.set);
    if let Some(rail) = &args.rail {
        look_for_rail(&mut resolver, &family.model, &boards, rail);
    }
    resolver.finish()?;
    let boards = with_rail(&family.model, boards, args.rail.as_deref())?;
    if let Some(path) = &args.out {
        check_picture(&family.model, &boards, path)?;
    }
    let asked = Asked {
        boards,
        rail: args.rail.clone(),
        profile,
        ambients,
        positions,
    };
    let (outputs, warnings) = outputs(&family, &asked)?;
    let document = Document::new(&family.digest, warnings, outputs);
    if let Some(path) = &args.out {
        write_picture(path, &document.body, &family.model)?;
    }
    match args.input.format {
        Format::Json => print(&json(&document)?)?,
        Format::Text => {
            let text = text::deliver::text(&document, &family.model, Paint::for_stdout());
            print(&text)?;
        }
    }
    if let Some(path) = &args.out {
        message(&format!("Wrote {}", path.display()));
    }
    Ok(FINE)
}

/// What is asked for.
struct Asked {
    boards: Vec<String>,
    rail: Option<String>,
    profile: Option<String>,
    ambients: Vec<Temperature>,
    /// Positions that differ from the usual, by board.
    positions: BTreeMap<String, BTreeMap<String, String>>,
}

/// The ambients of the requirement, each once.
fn all(family: &model::Family) -> Vec<Temperature> {
    let ambient = &family.requirement.ambient;
    let mut all = vec![ambient.low, ambient.usual, ambient.high];
    all.dedup();
    all
}

fn look_for_rail(resolver: &mut Resolver, family: &model::Family, boards: &[String], rail: &str) {
    let boards = boards.iter().filter_map(|b| family.board(b));
    let mut known: Vec<&str> = boards.flat_map(|b| rails(family, b)).collect();
    known.sort_unstable();
    known.dedup();
    if !known.contains(&rail) {
        resolver.unknown("--rail", "rail", rail, &known);
    }
}

/// The boards that have the rail, or any.
fn with_rail(
    family: &model::Family,
    mut boards: Vec<String>,
    rail: Option<&str>,
) -> Result<Vec<String>, Failure> {
    let has = |name: &String| {
        let pins = family.board(name).map(|b| rails(family, b));
        pins.is_some_and(|pins| rail.map_or(!pins.is_empty(), |rail| pins.contains(&rail)))
    };
    let without = boards.iter().find(|b| !has(b)).cloned();
    boards.retain(has);
    match (boards.is_empty(), without) {
        (true, Some(board)) => {
            let says =
                format!("board `{board}` has no rail: no pin of the connector but ground is on it");
            let proposal = "give a net of the board the name of a pin of the connector".to_owned();
            Err(Failure::of_option("no-rail", says, Some(proposal)))
        }
        (true, None) => Err(Failure::of_option(
            "no-board",
            "the family has no board",
            None,
        )),
        _ => Ok(boards),
    }
}

/// One picture shows one board with cells.
fn check_picture(family: &model::Family, boards: &[String], path: &Path) -> Result<(), Failure> {
    let shown = path.to_string_lossy();
    if shown.ends_with(std::path::is_separator) || path.file_name().is_none() {
        let says = format!("`--out {shown}` is a folder, and the picture is one file");
        let proposal = format!("`--out {shown}output.svg`");
        return Err(Failure::of_option("no-file-name", says, Some(proposal)));
    }
    let path = shown;
    match boards {
        [one] if family.board(one).is_some_and(Board::has_cell) => Ok(()),
        [one] => {
            let says = format!(
                "`--out {path}`: board `{one}` has no cells, and so no curve over their depth"
            );
            Err(Failure::of_option("no-curve", says, None))
        }
        _ => {
            let says = format!("`--out {path}`: one picture shows one board");
            let proposal = format!("name it with `--board {}`", boards[0]);
            Err(Failure::of_option("one-picture", says, Some(proposal)))
        }
    }
}

fn write_picture(path: &Path, output: &OutputView, family: &model::Family) -> Result<(), Failure> {
    let drawing = OutputPicture::new(output, family).alone();
    let folder = match path.parent() {
        Some(parent) if parent != Path::new("") => parent,
        _ => Path::new("."),
    };
    let name = path.file_name().and_then(|n| n.to_str());
    let name = name.ok_or_else(|| {
        let says = format!("`--out {}` is no name of a file", path.display());
        Failure::of_option("no-file-name", says, None)
    })?;
    write_files(folder, &[(name, &drawing)])
}

/// Boards in file order, and what the reader should know.
fn outputs(family: &Family, asked: &Asked) -> Result<(OutputView, Vec<String>), Failure> {
    let progress = Line::new("loading");
    let mut views = Vec::new();
    let mut warnings = Vec::new();
    for (at, name) in asked.boards.iter().enumerate() {
        let Some(board) = family.model.board(name) else {
            continue;
        };
        let positions = asked.positions.get(name).cloned().unwrap_or_default();
        let life = life_depth_of(&family.model, board, asked, &positions);
        let request = DeliverRequest {
            family: &family.model,
            board: name,
            profile: asked.profile.as_deref(),
            rail: asked.rail.as_deref(),
            ambients: asked.ambients.clone(),
            depths: depths(board, life),
            positions,
        };
        let piece = Piece::new(&progress, at, asked.boards.len());
        let found =
            deliver(&request, &piece).map_err(|why| Failure::of_point(family, name, &why))?;
        warnings.extend(found.warnings.iter().map(|w| format!("{name}: {w}")));
        views.extend(OutputView::new(
            name,
            asked.profile.as_deref(),
            life,
            &found,
        ));
    }
    warnings.push(NOT_MOVING.to_owned());
    let mut views = views.into_iter();
    let Some(mut first) = views.next() else {
        return Err(Failure::Fault("no board was looked at".to_owned()));
    };
    first.others = views.collect();
    Ok((first, warnings))
}

/// What the method leaves out.
const NOT_MOVING: &str = "voltages are settled ones and the cells were rested at each depth: capacitors \
     carry nothing, wells are not drained by the added current, and a start is judged by its operating \
     point, not by its waveform";

/// The depth at the end of the required life, where the life can be computed.
fn life_depth_of(
    family: &model::Family,
    board: &Board,
    asked: &Asked,
    positions: &BTreeMap<String, String>,
) -> Option<LifeDepth> {
    if !board.has_cell() {
        return None;
    }
    let request = LifeRequest {
        family,
        board: &board.name,
        profile: asked.profile.as_deref(),
        ambient: Climate::usual(family),
        bursts: Bursts::Followed,
        positions: positions.clone(),
    };
    life_depth(family, &life(&request, &Silent).ok()?)
}
