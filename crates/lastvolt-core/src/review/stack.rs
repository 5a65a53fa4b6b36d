//! Boards plugged together on their connector, as the rules look at them.

use std::cell::OnceCell;
use std::collections::BTreeMap;
use std::sync::OnceLock;

use crate::circuit::{CellDrive, Circuit, Detail, NoPoint, Situation, stresses};
use crate::model::{Board, Family, Profile};
use crate::progress::Progress;
use crate::review::evidence::high_corner;
use crate::review::situations::{Axes, Grid, How, Plugged, Survey, original, survey};
use crate::review::{Finding, HighPoint, RuleId, Severity};

/// Boards alone at the limits that give the highest voltages, worked out once for all stacks.
#[derive(Debug)]
pub(crate) struct HighAlone(BTreeMap<String, OnceLock<Vec<HighPoint>>>);

impl HighAlone {
    /// Nothing is solved yet.
    pub(crate) fn new(family: &Family) -> Self {
        let boards = family.boards.iter();
        Self(boards.map(|b| (b.name.clone(), OnceLock::new())).collect())
    }
}

/// Two or more boards of a family on one connector.
pub struct Stack<'a> {
    /// The family.
    pub family: &'a Family,
    /// The boards, in file order.
    pub boards: Vec<&'a Board>,
    /// Whether a board is there more than once.
    pub twice: bool,
    /// What the loads do.
    pub profile: Option<&'a Profile>,
    /// Told how far the work is, and asked whether to stop.
    pub progress: &'a dyn Progress,
    circuit: Circuit<'a>,
    survey: OnceCell<Survey>,
    high: OnceCell<Vec<HighPoint>>,
    alone: &'a HighAlone,
}

impl<'a> Stack<'a> {
    /// Boards plugged together; nothing is solved yet.
    ///
    /// # Errors
    /// A board that the family does not have.
    pub(crate) fn new(
        family: &'a Family,
        plugged: &Plugged,
        profile: Option<&'a Profile>,
        alone: &'a HighAlone,
        progress: &'a dyn Progress,
    ) -> Result<Self, NoPoint> {
        let circuit = Circuit::new(family, &plugged.boards).map_err(|what| NoPoint::Unknown {
            what: format!("board {what}"),
        })?;
        Ok(Self {
            family,
            boards: circuit.boards().to_vec(),
            twice: plugged.twice,
            profile,
            progress,
            circuit,
            survey: OnceCell::new(),
            high: OnceCell::new(),
            alone,
        })
    }

    /// The worst of every reading over all situations of the stack.
    #[must_use]
    pub fn survey(&self) -> &Survey {
        self.survey.get_or_init(|| {
            let grid = Grid::usual(&self.circuit);
            let how = How::Reduced;
            survey(&self.circuit, self.profile, grid, how, self.progress)
        })
    }

    /// Positions with fresh cells the right way round, solved with supplies, references and dividers
    /// at the limits that give the highest voltages.
    #[must_use]
    pub fn high(&self) -> &[HighPoint] {
        self.high.get_or_init(|| high(&self.circuit, self.profile))
    }

    /// The same for one board of the stack alone.
    #[must_use]
    pub fn high_alone(&self, board: &str) -> &[HighPoint] {
        let board = original(board);
        let Some(known) = self.alone.0.get(board) else {
            return &[];
        };
        known.get_or_init(|| {
            let circuit = Circuit::new(self.family, &[board.to_owned()]);
            circuit.map_or_else(|_| Vec::new(), |c| high(&c, self.profile))
        })
    }

    /// The circuit of all boards; parts and nets are `board/NAME`.
    #[must_use]
    pub fn circuit(&self) -> &Circuit<'a> {
        &self.circuit
    }

    /// Names of the boards.
    #[must_use]
    pub fn names(&self) -> Vec<String> {
        self.boards.iter().map(|b| b.name.clone()).collect()
    }

    /// The usual situation of the stack.
    #[must_use]
    pub fn usual(&self) -> Situation {
        Situation::usual(self.family, &self.names(), self.profile)
    }

    /// A finding about parts of the stack by their names in it (`board/REF`), still without words and
    /// figures; it belongs to the board of the first part.
    #[must_use]
    pub fn finding(&self, rule: RuleId, severity: Severity, parts: &[&str]) -> Finding {
        let split = |name: &str| {
            let (board, part) = name.split_once('/')?;
            let board = self.boards.iter().find(|b| b.name == board)?;
            Some((board.name.clone(), board.part(part)?.origin.confidence))
        };
        let known: Vec<_> = parts.iter().filter_map(|name| split(name)).collect();
        let first = self.boards.first().map(|b| b.name.clone());
        let board = known.first().map(|k| k.0.clone()).or(first);
        Finding {
            parts: parts.iter().map(|p| (*p).to_owned()).collect(),
            ..Finding::about(
                rule,
                severity,
                &board.unwrap_or_default(),
                known.iter().map(|k| k.1).min(),
            )
        }
    }
}

fn high(circuit: &Circuit, profile: Option<&Profile>) -> Vec<HighPoint> {
    let boards: Vec<String> = circuit.boards().iter().map(|b| b.name.clone()).collect();
    let mut family = circuit.family().clone();
    for board in circuit.boards() {
        family = high_corner(&family, board);
    }
    let Ok(raised) = Circuit::new(&family, &boards) else {
        return Vec::new();
    };
    let axes = Axes::new(circuit, profile, Grid::usual(circuit));
    let mut out = Vec::new();
    let mut warm = None;
    for choice in axes.positions() {
        let situation = axes.situation(&choice);
        let rested = &CellDrive::Rested;
        let Ok(point) = raised.solve_in(Detail::Bare, &situation, rested, warm.as_ref()) else {
            continue;
        };
        warm = Some(point.clone());
        out.push(HighPoint {
            stresses: stresses(&raised, &situation, &point),
            situation,
            point,
        });
    }
    out
}
