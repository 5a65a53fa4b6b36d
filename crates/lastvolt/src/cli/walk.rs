//! `walk`: a board block by block, and what the positions of its switches do.

use lastvolt_core::review;

use crate::cli::load::load;
use crate::cli::options::{Format, Input};
use crate::cli::progress::Line;
use crate::cli::resolve::Resolver;
use crate::failure::{FINE, Failure};
use crate::output::{json, print};
use crate::scope;
use crate::text;
use crate::text::paint::Paint;
use crate::view::{BoardWalkView, Document, FindingView, LegendView, WalkView, blocks};

/// Each board block by block: purpose, figures, findings, and what its switches do
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    #[command(flatten)]
    input: Input,
    /// Walk through this board only; may be repeated [default: all]
    #[arg(long, value_name = "NAME")]
    board: Vec<String>,
    /// Whose tasks the figures are about [default: the first profile]
    #[arg(long, value_name = "NAME")]
    profile: Option<String>,
}

/// Runs the command.
pub(crate) fn run(args: &Args) -> Result<u8, Failure> {
    let family = load(&args.input.dir)?;
    super::show_slips(&family);
    let mut resolver = Resolver::new(&family.model);
    let boards = resolver.boards_or_all(&args.board);
    let profile = resolver.profile(args.profile.as_deref());
    resolver.finish()?;
    let name = profile.map(|p| p.name.as_str());
    let walked = review::walk(&family.model, &boards, name, &Line::new("walking"))
        .map_err(|why| Failure::of_review(&family, profile, &why))?;
    let findings = walked.findings.iter();
    let findings = findings.filter(|f| boards.contains(&f.board) && f.rule != "cautions");
    let findings = FindingView::all(findings, &family.spans);
    let view = |w: &review::BoardWalk| BoardWalkView {
        name: w.board.clone(),
        title: family
            .model
            .board(&w.board)
            .map_or_else(String::new, |b| b.title.clone()),
        blocks: blocks(&w.board, &w.blocks, &findings),
        unplaced: w.blocks.unplaced.clone(),
        legend: w.legend.iter().map(LegendView::from).collect(),
    };
    let view = WalkView {
        family: family.model.name.clone(),
        boards: walked.boards.iter().map(view).collect(),
        findings: findings.clone(),
    };
    let document = Document::new(
        &family.digest,
        scope::warnings(&family.model, profile),
        view,
    );
    match args.input.format {
        Format::Json => print(&json(&document)?)?,
        Format::Text => print(&text::walk::text(&document, Paint::for_stdout()))?,
    }
    Ok(FINE)
}
