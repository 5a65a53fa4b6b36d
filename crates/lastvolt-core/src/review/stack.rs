//! Boards plugged together on their connector, as the rules look at them.

use crate::circuit::{Circuit, NoPoint, Situation};
use crate::model::{Board, Family, Profile};
use crate::progress::Progress;
use crate::review::{Finding, RuleId, Severity};

/// Two or more boards of a family on one connector.
pub struct Stack<'a> {
    /// The family.
    pub family: &'a Family,
    /// The boards, in file order.
    pub boards: Vec<&'a Board>,
    /// What the loads do.
    pub profile: Option<&'a Profile>,
    /// Told how far the work is, and asked whether to stop.
    pub progress: &'a dyn Progress,
    circuit: Circuit<'a>,
}

impl<'a> Stack<'a> {
    /// Boards plugged together; nothing is solved yet.
    ///
    /// # Errors
    /// A board that the family does not have.
    pub fn new(
        family: &'a Family,
        boards: &[String],
        profile: Option<&'a Profile>,
        progress: &'a dyn Progress,
    ) -> Result<Self, NoPoint> {
        let circuit = Circuit::new(family, boards).map_err(|what| NoPoint::Unknown {
            what: format!("board {what}"),
        })?;
        Ok(Self {
            family,
            boards: circuit.boards().to_vec(),
            profile,
            progress,
            circuit,
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
