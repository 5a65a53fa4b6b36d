//! Runs every rule on every board and puts what they say in order.

use crate::chance::LifeSpread;
use crate::circuit::{Matrix, NoPoint, Point};
use crate::deliver::{Deliver, DeliverRequest, deliver, depths, life_depth};
use crate::model::{Board, Family, Profile};
use crate::progress::{Progress, Shared};
use crate::review::ambients::beside;
use crate::review::blocks::blocks;
use crate::review::legend::legend;
use crate::review::rules::RULES;
use crate::review::situations::{Coverage, Plugged, Survey, merge_stacks, plugged};
use crate::review::stack::HighAlone;
use crate::review::{
    AmbientLife, Blocks, Budget, Evidence, Finding, Stack, SwitchLegend, Whole, accept, merge,
};
use crate::time::{Bursts, Climate, Life, LifeRequest, Notice, Restarts, life, notice, restarts};

/// Everything a report shows about a family.
#[derive(Debug, Clone, PartialEq)]
pub struct Review {
    /// Findings, the weightiest first, then by board and rule.
    pub findings: Vec<Finding>,
    /// How many situations were covered and solved for them.
    pub coverage: Coverage,
    /// One a board, in file order.
    pub boards: Vec<BoardReview>,
    /// What rules could not look at.
    pub warnings: Vec<String>,
}

/// What was worked out about one board.
#[derive(Debug, Clone, PartialEq)]
pub struct BoardReview {
    /// Name of the board.
    pub board: String,
    /// The usual situation, solved.
    pub usual: Point,
    /// One a profile, in file order; one in base states where the family has no profile.
    pub lives: Vec<ProfileLife>,
    /// The judged life at the lowest, usual and highest ambient; empty for a board without cells.
    pub ambients: Vec<AmbientLife>,
    /// Lives of units whose cells differ, where the cells state by how much.
    pub spread: Option<LifeSpread>,
    /// Switch positions and reversed cells.
    pub matrix: Matrix,
    /// What the rails can give; none where the board has none.
    pub output: Option<Deliver>,
    /// Leakages; empty for a board without cells.
    pub budget: Budget,
    /// Its functional blocks.
    pub blocks: Blocks,
    /// What each position of each switch does.
    pub legend: Vec<SwitchLegend>,
}

/// A life and the profile it belongs to.
#[derive(Debug, Clone, PartialEq)]
pub struct ProfileLife {
    /// Name of the profile; none where the family has none.
    pub profile: Option<String>,
    /// The life at the usual ambient.
    pub life: Life,
    /// What firmware could watch to warn in time, where a notice is asked for.
    pub notice: Option<Notice>,
    /// Until when it can be switched on again.
    pub restarts: Option<Restarts>,
}

/// Reviews every board: findings and what they rest on.
///
/// Rules judge the named profile, or the first; lives are computed for the named profile, or for all.
///
/// # Errors
/// A profile that the family does not have; no operating point in a usual situation.
pub fn review(
    family: &Family,
    profile: Option<&str>,
    progress: &dyn Progress,
) -> Result<Review, NoPoint> {
    let judged = judged_profile(family, profile)?;
    let all = profile.is_none();
    let keep = |evidence: &Evidence, progress: &dyn Progress| {
        let (family, board) = (evidence.family, evidence.board);
        let usual = evidence.solve(&evidence.usual())?;
        let (beside, (lives, output)) = beside(evidence, progress, || {
            let lives = lives(family, board, evidence, all, progress)?;
            Ok((lives, output(evidence, progress)))
        })?;
        Ok(BoardReview {
            board: board.name.clone(),
            usual: (*usual).clone(),
            lives,
            ambients: beside.ambients,
            spread: beside.spread,
            matrix: evidence.matrix().clone(),
            output,
            budget: evidence.budget().clone(),
            blocks: blocks(evidence),
            legend: legend(evidence),
        })
    };
    let (checked, boards) = looked(family, judged, progress, &keep)?;
    Ok(Review {
        findings: checked.findings,
        coverage: checked.coverage,
        boards,
        warnings: checked.warnings,
    })
}

/// Findings, and what was looked at for them.
#[derive(Debug, Clone, PartialEq)]
pub struct Checked {
    /// Findings, the weightiest first, then by board and rule.
    pub findings: Vec<Finding>,
    /// How many situations were covered and solved.
    pub coverage: Coverage,
    /// What rules could not look at.
    pub warnings: Vec<String>,
}

/// A walk through boards: findings, blocks and what switches do, and nothing that takes long.
#[derive(Debug, Clone, PartialEq)]
pub struct Walk {
    /// Findings of the whole family.
    pub findings: Vec<Finding>,
    /// One a board that was asked for.
    pub boards: Vec<BoardWalk>,
}

/// A walk through one board.
#[derive(Debug, Clone, PartialEq)]
pub struct BoardWalk {
    /// Name of the board.
    pub board: String,
    /// Its functional blocks.
    pub blocks: Blocks,
    /// What each position of each switch does.
    pub legend: Vec<SwitchLegend>,
}

/// Walks through the boards of these names, in file order.
///
/// # Errors
/// As [`review`].
pub fn walk(
    family: &Family,
    boards: &[String],
    profile: Option<&str>,
    progress: &dyn Progress,
) -> Result<Walk, NoPoint> {
    let judged = judged_profile(family, profile)?;
    let keep = |evidence: &Evidence, _: &dyn Progress| {
        Ok(BoardWalk {
            board: evidence.board.name.clone(),
            blocks: blocks(evidence),
            legend: legend(evidence),
        })
    };
    let (checked, mut walked) = looked(family, judged, progress, &keep)?;
    walked.retain(|walk| boards.contains(&walk.board));
    Ok(Walk {
        findings: checked.findings,
        boards: walked,
    })
}

/// Findings only.
///
/// # Errors
/// As [`review`].
pub fn check(
    family: &Family,
    profile: Option<&str>,
    progress: &dyn Progress,
) -> Result<Vec<Finding>, NoPoint> {
    checked(family, profile, progress).map(|checked| checked.findings)
}

/// Findings with the number of situations behind them.
///
/// # Errors
/// As [`review`].
pub fn checked(
    family: &Family,
    profile: Option<&str>,
    progress: &dyn Progress,
) -> Result<Checked, NoPoint> {
    let judged = judged_profile(family, profile)?;
    let keep = |evidence: &Evidence, _: &dyn Progress| evidence.solve(&evidence.usual()).map(drop);
    looked(family, judged, progress, &keep).map(|(checked, _)| checked)
}

/// What was found on one board or stack.
struct Found<T> {
    findings: Vec<Finding>,
    /// What is kept of it.
    kept: T,
    survey: Survey,
    warnings: Vec<String>,
}

type Looked<T> = Result<Found<T>, NoPoint>;

/// What every rule says about every board, every stack and the family, and what is kept of each board.
///
/// All of them are looked at side by side, what takes longest first; what is found is put together in
/// their order, so that it is the same on any number of threads.
fn looked<T: Send>(
    family: &Family,
    profile: Option<&Profile>,
    progress: &dyn Progress,
    keep: &(dyn Fn(&Evidence, &dyn Progress) -> Result<T, NoPoint> + Sync),
) -> Result<(Checked, Vec<T>), NoPoint> {
    let (doubled, stacks) = plugged(family, 2);
    let alone = HighAlone::new(&doubled);
    let shared = Shared::new(progress, family.boards.len() + stacks.len());
    let mut of_boards: Vec<Option<Looked<T>>> = family.boards.iter().map(|_| None).collect();
    let mut of_stacks: Vec<Option<Looked<()>>> = stacks.iter().map(|_| None).collect();
    let mut of_family = Vec::new();
    rayon::scope_fifo(|scope| {
        let mut largest: Vec<_> = stacks.iter().zip(&mut of_stacks).collect();
        largest.sort_by_key(|(plugged, _)| std::cmp::Reverse(part_count(&doubled, plugged)));
        for (plugged, slot) in largest {
            let (doubled, alone, shared) = (&doubled, &alone, &shared);
            scope.spawn_fifo(move |_| {
                *slot = Some(look_at_stack(doubled, plugged, profile, alone, shared));
                shared.done();
            });
        }
        scope.spawn_fifo(|_| of_family = look_at_family(family, profile));
        for (board, slot) in family.boards.iter().zip(&mut of_boards) {
            let shared = &shared;
            scope.spawn_fifo(move |_| {
                *slot = Some(look_at_board(family, board, profile, shared, keep));
                shared.done();
            });
        }
    });
    let mut checked = Checked {
        findings: Vec::new(),
        coverage: Coverage::default(),
        warnings: Vec::new(),
    };
    let mut kept = Vec::new();
    for (board, looked) in family.boards.iter().zip(of_boards.into_iter().flatten()) {
        let found = looked?;
        checked.findings.extend(found.findings);
        let own = std::slice::from_ref(&board.name);
        checked.coverage.add(own, &found.survey);
        checked.warnings.extend(found.warnings);
        kept.push(found.kept);
    }
    let mut stacked = Vec::new();
    for (plugged, looked) in stacks.iter().zip(of_stacks.into_iter().flatten()) {
        let found = looked?;
        stacked.extend(found.findings);
        checked.coverage.add(&plugged.boards, &found.survey);
    }
    let stacked = merge_stacks(&checked.findings, stacked);
    checked.findings.extend(stacked);
    checked.findings.extend(of_family);
    finish(family, &mut checked.findings);
    Ok((checked, kept))
}

fn look_at_board<T>(
    family: &Family,
    board: &Board,
    profile: Option<&Profile>,
    progress: &dyn Progress,
    keep: &dyn Fn(&Evidence, &dyn Progress) -> Result<T, NoPoint>,
) -> Looked<T> {
    let evidence = Evidence::new(family, &board.name, profile, progress)?;
    evidence.solve(&evidence.usual())?;
    let findings = look(&evidence);
    let kept = keep(&evidence, progress)?;
    Ok(Found {
        findings,
        kept,
        survey: evidence.survey().clone(),
        warnings: evidence.unknown(),
    })
}

fn look_at_stack(
    doubled: &Family,
    plugged: &Plugged,
    profile: Option<&Profile>,
    alone: &HighAlone,
    progress: &dyn Progress,
) -> Looked<()> {
    let stack = Stack::new(doubled, plugged, profile, alone, progress)?;
    let found = RULES.iter().flat_map(|rule| rule.look_at_stack(&stack));
    Ok(Found {
        findings: found.collect(),
        kept: (),
        survey: stack.survey().clone(),
        warnings: Vec::new(),
    })
}

fn look_at_family(family: &Family, profile: Option<&Profile>) -> Vec<Finding> {
    let whole = Whole { family, profile };
    let found = RULES.iter().flat_map(|rule| rule.look_at_family(&whole));
    found.collect()
}

/// How many parts a stack has: what it takes grows with that.
fn part_count(family: &Family, plugged: &Plugged) -> usize {
    let boards = plugged.boards.iter().filter_map(|name| family.board(name));
    boards.map(|board| board.parts.len()).sum()
}

/// What all rules say about one board.
fn look(evidence: &Evidence) -> Vec<Finding> {
    RULES.iter().flat_map(|rule| rule.look(evidence)).collect()
}

/// Puts findings in order, marks those that the files accept and leaves out what others explain;
/// accepted ones come last.
fn finish(family: &Family, findings: &mut Vec<Finding>) {
    sort(family, findings);
    accept::mark(family, findings);
    *findings = merge(family, std::mem::take(findings));
    findings.sort_by_key(|f| f.accepted.is_some());
}

fn judged_profile<'f>(
    family: &'f Family,
    name: Option<&str>,
) -> Result<Option<&'f Profile>, NoPoint> {
    match name {
        None => Ok(family.profiles.first()),
        Some(name) => family
            .profile(name)
            .map(Some)
            .ok_or_else(|| NoPoint::Unknown {
                what: format!("profile {name}"),
            }),
    }
}

/// The judged life, and those of the other profiles where all are asked for.
fn lives(
    family: &Family,
    board: &Board,
    evidence: &Evidence,
    all: bool,
    progress: &dyn Progress,
) -> Result<Vec<ProfileLife>, NoPoint> {
    let judged = ProfileLife {
        profile: evidence.profile.map(|p| p.name.clone()),
        life: evidence.solved_life().map_err(Clone::clone)?.clone(),
        notice: None,
        restarts: None,
    };
    let mut out = vec![judged];
    let others = family.profiles.iter().skip(1).filter(|_| all);
    for profile in others {
        let request = LifeRequest {
            family,
            board: &board.name,
            profile: Some(&profile.name),
            ambient: Climate::usual(family),
            bursts: Bursts::Followed,
            positions: std::collections::BTreeMap::new(),
        };
        out.push(ProfileLife {
            profile: Some(profile.name.clone()),
            life: life(&request, progress)?,
            notice: None,
            restarts: None,
        });
    }
    for one in &mut out {
        let request = LifeRequest {
            family,
            board: &board.name,
            profile: one.profile.as_deref(),
            ambient: Climate::usual(family),
            bursts: Bursts::Followed,
            positions: std::collections::BTreeMap::new(),
        };
        one.notice = notice(&request, &one.life, progress);
        one.restarts = restarts(&request, &one.life, progress);
    }
    Ok(out)
}

/// What the rails can give, where the board has one.
fn output(evidence: &Evidence, progress: &dyn Progress) -> Option<Deliver> {
    let (family, board) = (evidence.family, evidence.board);
    let ambient = &family.requirement.ambient;
    let mut ambients = vec![ambient.low, ambient.usual, ambient.high];
    ambients.dedup();
    let life = evidence.life().and_then(|life| life_depth(family, life));
    let request = DeliverRequest {
        family,
        board: &board.name,
        profile: evidence.profile.map(|p| p.name.as_str()),
        rail: None,
        ambients,
        depths: depths(board, life),
        positions: std::collections::BTreeMap::new(),
    };
    deliver(&request, progress).ok()
}

/// The weightiest first, then boards in file order, then rules by name.
fn sort(family: &Family, findings: &mut Vec<Finding>) {
    let place = |name: &str| family.boards.iter().position(|b| b.name == name);
    findings.sort_by_cached_key(|f| {
        (
            std::cmp::Reverse(f.severity),
            place(&f.board),
            f.rule,
            f.id(),
        )
    });
    findings.dedup_by_key(|f| f.id());
}
