//! `life`: run time of every board under every profile, why it ends and where the energy went.

use std::collections::BTreeMap;

use lastvolt_core::model::{self, Board, Device};
use lastvolt_core::progress::Piece;
use lastvolt_core::time::{Bursts, Climate, LifeRequest, life, notice};

use crate::cli::load::{Family, load};
use crate::cli::options::{Format, Input, Pair};
use crate::cli::progress::Line;
use crate::cli::resolve::Resolver;
use crate::failure::{FINE, Failure};
use crate::output::{json, print};
use crate::text;
use crate::text::paint::Paint;
use crate::view::{Document, LifeView, RunView};

/// Run time of every board under every profile, why it ends and where the energy went
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    #[command(flatten)]
    input: Input,
    /// Which board; may be repeated [default: all]
    #[arg(long, value_name = "NAME")]
    board: Vec<String>,
    /// Which profile [default: all]
    #[arg(long, value_name = "NAME")]
    profile: Option<String>,
    /// Temperature around the boards: "20 degC", low, usual (the calendar of the family, where it has
    /// one), high or all
    #[arg(
        long,
        value_name = "TEMPERATURE",
        default_value = "usual",
        allow_hyphen_values = true
    )]
    ambient: String,
    /// Position of a switch or jumper, on every board that has it; may be repeated
    #[arg(long, value_name = "S1=on")]
    set: Vec<Pair>,
}

/// Runs the command.
pub(crate) fn run(args: &Args) -> Result<u8, Failure> {
    let family = load(&args.input.dir)?;
    super::show_slips(&family);
    let mut resolver = Resolver::new(&family.model);
    let boards = resolver.boards_or_all(&args.board);
    let profiles = profiles(&mut resolver, &family.model, args.profile.as_deref());
    let ambients = match args.ambient.trim() {
        "all" => {
            let ambient = &family.model.requirement.ambient;
            let usual = Climate::usual(&family.model);
            vec![ambient.low.into(), usual, ambient.high.into()]
        }
        "usual" => vec![Climate::usual(&family.model)],
        one => vec![resolver.ambient(one).into()],
    };
    let positions = positions(&mut resolver, &family.model, &boards, &args.set);
    resolver.finish()?;
    let asked = Asked {
        boards,
        profiles,
        ambients,
        positions,
    };
    let (runs, warnings) = runs(&family, &asked)?;
    let document = Document::new(&family.digest, warnings, LifeView { runs });
    match args.input.format {
        Format::Json => print(&json(&document)?)?,
        Format::Text => {
            let text = text::life::text(&document, &family.model, Paint::for_stdout());
            print(&text)?;
        }
    }
    Ok(FINE)
}

/// What is asked for.
struct Asked<'f> {
    boards: Vec<String>,
    profiles: Vec<Option<String>>,
    ambients: Vec<Climate<'f>>,
    /// Positions that differ from the usual, by board.
    positions: BTreeMap<String, BTreeMap<String, String>>,
}

/// The named profile, or all; a family without profiles is run in its base states.
fn profiles(
    resolver: &mut Resolver,
    family: &model::Family,
    name: Option<&str>,
) -> Vec<Option<String>> {
    if name.is_some() {
        return vec![resolver.profile(name).map(|p| p.name.clone())];
    }
    if family.profiles.is_empty() {
        return vec![None];
    }
    family
        .profiles
        .iter()
        .map(|p| Some(p.name.clone()))
        .collect()
}

/// Stated positions by board: `S1=on` goes to every board that has an S1, `coin/S1=on` to one.
pub(super) fn positions(
    resolver: &mut Resolver,
    family: &model::Family,
    boards: &[String],
    set: &[Pair],
) -> BTreeMap<String, BTreeMap<String, String>> {
    let mut out: BTreeMap<String, BTreeMap<String, String>> = BTreeMap::new();
    let boards: Vec<&Board> = boards.iter().filter_map(|b| family.board(b)).collect();
    for pair in set {
        let (only, name) = match pair.name.split_once('/') {
            Some((board, name)) => (Some(board), name),
            None => (None, pair.name.as_str()),
        };
        let mut switches: Vec<&str> = Vec::new();
        let mut known: Vec<String> = Vec::new();
        let mut taken = false;
        for board in boards
            .iter()
            .filter(|b| only.is_none_or(|only| only == b.name))
        {
            for part in &board.parts {
                let Device::Switch(switch) = &part.device else {
                    continue;
                };
                switches.push(&part.name);
                if part.name != name {
                    continue;
                }
                let names = switch.positions.iter().map(|p| p.name.clone());
                let names: Vec<String> = names.chain(switch.between()).collect();
                if names.contains(&pair.value) {
                    let of_board = out.entry(board.name.clone()).or_default();
                    of_board.insert(name.to_owned(), pair.value.clone());
                    taken = true;
                }
                known.extend(names);
            }
        }
        switches.dedup();
        if !switches.contains(&name) {
            resolver.unknown("--set", "switch or jumper", &pair.name, &switches);
        } else if !taken {
            let known: Vec<&str> = known.iter().map(String::as_str).collect();
            resolver.unknown("--set", &format!("position of {name}"), &pair.value, &known);
        }
    }
    out
}

/// Runs in file order of boards, then profiles, then ambients, and what the reader should know.
fn runs(family: &Family, asked: &Asked) -> Result<(Vec<RunView>, Vec<String>), Failure> {
    let progress = Line::new("ageing");
    let total = asked.boards.len() * asked.profiles.len() * asked.ambients.len();
    let mut runs = Vec::new();
    let mut warnings: Vec<String> = Vec::new();
    for board in &asked.boards {
        for profile in &asked.profiles {
            for &ambient in &asked.ambients {
                let request = LifeRequest {
                    family: &family.model,
                    board,
                    profile: profile.as_deref(),
                    ambient,
                    bursts: Bursts::Followed,
                    positions: asked.positions.get(board).cloned().unwrap_or_default(),
                };
                let piece = Piece::new(&progress, runs.len(), total);
                let solved =
                    life(&request, &piece).map_err(|why| Failure::of_point(family, board, &why))?;
                for warning in &solved.warnings {
                    let warning = format!("{board}: {warning}");
                    if !warnings.contains(&warning) {
                        warnings.push(warning);
                    }
                }
                let usual = ambient == Climate::usual(&family.model);
                let notice = usual.then(|| notice(&request, &solved, &piece)).flatten();
                let view = RunView::new(board, profile.as_deref(), ambient, &solved);
                runs.push(view.with_notice(notice.as_ref()));
            }
        }
    }
    Ok((runs, warnings))
}
