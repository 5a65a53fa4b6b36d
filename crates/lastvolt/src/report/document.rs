//! The review as a document: the same figures as the page, for programs.

use lastvolt_core::circuit::{CellDrive, Circuit, Situation};
use lastvolt_core::deliver::life_depth;
use lastvolt_core::model::{self, Board, Part, Profile};
use lastvolt_core::review::{BoardReview, Review};
use lastvolt_core::time::Climate;
use lastvolt_input::Text;

use crate::cli::load::{Family, sha256};
use crate::report::BoardWaves;
use crate::report::assumptions::assumptions;
use crate::report::burst::heaviest;
use crate::report::purpose::stated;
use crate::view::{
    AmbientView, BoardPointView, BoardView, FileView, FindingView, LeakView, LegendView,
    ListedView, MatrixView, Num, OutputView, PointView, ReviewView, RunView, SpreadView, blocks,
    confidence_word,
};

/// The document and what the reader should know about it.
pub(crate) fn view(
    family: &Family,
    review: &Review,
    waves: &[BoardWaves],
    profile: Option<&str>,
    date: Option<&str>,
) -> (ReviewView, Vec<String>) {
    let model = &family.model;
    let findings = FindingView::all(&review.findings, &family.spans);
    let mut runs = Vec::new();
    let mut boards = Vec::new();
    let mut warnings = Vec::new();
    for board_review in &review.boards {
        let Some(board) = model.board(&board_review.board) else {
            continue;
        };
        for run in &board_review.lives {
            let name = run.profile.as_deref();
            let view = RunView::new(&board.name, name, Climate::usual(model), &run.life);
            let view = view.with_notice(run.notice.as_ref());
            runs.push(view.with_restarts(run.restarts.as_ref()));
            for warning in &run.life.warnings {
                warnings.push(format!("{}: {warning}", board.name));
            }
        }
        warnings.extend(MatrixView::warnings(&board_review.matrix));
        let judged = judged(model, profile);
        let own = waves.iter().find(|w| w.board == board.name);
        boards.push(BoardView {
            waves: own.map(BoardWaves::view).unwrap_or_default(),
            ..board_view(family, board, board_review, judged, &findings)
        });
    }
    warnings.extend(review.warnings.iter().cloned());
    warnings.dedup();
    let view = ReviewView {
        family: model.name.clone(),
        date: date.map(str::to_owned),
        files: family.texts.iter().map(file).collect(),
        profile: judged(model, profile).map(|p| p.name.clone()),
        coverage: (&review.coverage).into(),
        required_life_s: model.requirement.life.map(|l| Num(l.as_secs())),
        required_share: model.requirement.confidence.map(|s| Num(s.as_share())),
        findings,
        runs,
        boards,
    };
    (view, warnings)
}

/// The profile of this name, or the first.
fn judged<'f>(model: &'f model::Family, profile: Option<&str>) -> Option<&'f Profile> {
    let named = profile.and_then(|name| model.profile(name));
    named.or(model.profiles.first())
}

fn file(text: &Text) -> FileView {
    FileView {
        name: text.name.clone(),
        sha256: sha256(&text.text),
    }
}

fn board_view(
    family: &Family,
    board: &Board,
    review: &BoardReview,
    profile: Option<&Profile>,
    findings: &[FindingView],
) -> BoardView {
    BoardView {
        name: board.name.clone(),
        title: board.title.clone(),
        points: points(family, board, profile),
        waves: Vec::new(),
        blocks: blocks(&board.name, &review.blocks, findings),
        unplaced: review.blocks.unplaced.clone(),
        legend: review.legend.iter().map(LegendView::from).collect(),
        ambients: review.ambients.iter().map(AmbientView::from).collect(),
        spread: review.spread.as_ref().map(SpreadView::from),
        matrix: MatrixView::new(&review.matrix),
        output: review.output.as_ref().and_then(|deliver| {
            let life = review.lives.first().map(|l| &l.life);
            let depth = life.and_then(|life| life_depth(&family.model, life));
            let profile = profile.map(|p| p.name.as_str());
            OutputView::new(&board.name, profile, depth, deliver)
        }),
        leakage: review.budget.columns.iter().map(LeakView::from).collect(),
        parts: board.parts.iter().map(listed).collect(),
        assumptions: assumptions(family, board),
    }
}

fn points(family: &Family, board: &Board, profile: Option<&Profile>) -> Vec<BoardPointView> {
    let names = [board.name.clone()];
    let Ok(circuit) = Circuit::new(&family.model, &names) else {
        return Vec::new();
    };
    let base = Situation::usual(&family.model, &names, profile);
    let mut points = Vec::new();
    if let Ok(point) = circuit.solve(&base, &CellDrive::Rested, None) {
        let point = PointView::new(&circuit, &base, &point);
        points.push(BoardPointView {
            what: "base",
            task: None,
            point,
        });
    }
    if let Some(burst) = heaviest(&family.model, board, profile) {
        let point = PointView::new(&circuit, &burst.situation, &burst.point);
        points.push(BoardPointView {
            what: "burst",
            task: Some(burst.task),
            point,
        });
    }
    points
}

fn listed(part: &Part) -> ListedView {
    let (value, rated) = stated(part);
    ListedView {
        part: part.name.clone(),
        kind: part.kind.word(),
        value,
        rated,
        model: part.origin.model.clone(),
        class: part.origin.class,
        source: part.origin.source.clone(),
        confidence: confidence_word(part.origin.confidence),
    }
}
