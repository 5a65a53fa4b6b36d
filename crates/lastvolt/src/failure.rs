//! Why a command stops, and the exit status that says so: 0 fine, 1 findings, 2 bad input, 3 fault.

use lastvolt_core::circuit::{CellDrive, Circuit, NoPoint, Situation};
use lastvolt_core::model::{Board, Profile};
use lastvolt_core::time::NoWave;
use lastvolt_input::{Diagnostic, Place, Text};

use crate::cli::load::{FAMILY_FILE, Family};
use crate::text::number::duration;

/// Everything is fine.
pub(crate) const FINE: u8 = 0;
/// There are findings that weigh enough.
pub(crate) const FINDINGS: u8 = 1;
/// The input is at fault.
pub(crate) const BAD_INPUT: u8 = 2;
/// The program is at fault.
pub(crate) const FAULT: u8 = 3;

/// Why a command stops.
#[derive(Debug)]
pub(crate) enum Failure {
    /// What was asked or written does not work; the texts are there to point into.
    Input {
        /// What is wrong, at least one.
        problems: Vec<Diagnostic>,
        /// The texts that were read.
        texts: Vec<Text>,
    },
    /// The program is at fault.
    Fault(String),
    /// Whoever reads the output has gone away, which is no error.
    Closed,
}

impl Failure {
    /// One problem of a file or folder as a whole.
    pub(crate) fn of_file(code: &'static str, file: &str, says: impl Into<String>) -> Self {
        Self::one(Diagnostic::of_file(code, file, says.into()))
    }

    /// One problem of the command line.
    pub(crate) fn of_option(
        code: &'static str,
        says: impl Into<String>,
        proposal: Option<String>,
    ) -> Self {
        Self::one(Diagnostic {
            proposal,
            ..Diagnostic::of_file(code, COMMAND_LINE, says.into())
        })
    }

    fn one(problem: Diagnostic) -> Self {
        Self::Input {
            problems: vec![problem],
            texts: Vec::new(),
        }
    }

    /// A situation that has no operating point: the circuit as written is at fault. The place is that
    /// of a part that the reason names, or the board's file.
    pub(crate) fn of_point(family: &Family, board: &str, why: &NoPoint) -> Self {
        let code = match why {
            NoPoint::Singular { .. } => "not-determined",
            NoPoint::NotConverged { .. } => "no-operating-point",
            NoPoint::Unknown { .. } => "unknown-name",
        };
        Self::of_circuit(family, board, code, &why.to_string(), None)
    }

    /// A circuit that cannot be followed in time.
    pub(crate) fn of_wave(family: &Family, board: &str, why: &NoWave, proposal: String) -> Self {
        let at = |secs: &f64| duration(*secs);
        let (code, says) = match why {
            NoWave::Point(why) => return Self::of_point(family, board, why),
            NoWave::Stuck { time_secs } => {
                let says = format!(
                    "the circuit can be followed to {} and no further: its equations have no solution beyond",
                    at(time_secs)
                );
                ("no-waveform", says)
            }
            NoWave::Oscillates { time_secs, what } => {
                let says = format!(
                    "{what} goes on and off without end from {} on",
                    at(time_secs)
                );
                ("oscillates", says)
            }
            NoWave::TooLong {
                time_secs,
                instants,
            } => {
                let says = format!(
                    "{instants} instants, the most that are kept, reach {} only",
                    at(time_secs)
                );
                ("too-long", says)
            }
            NoWave::Cancelled { .. } => return Self::Closed,
        };
        Self::of_circuit(family, board, code, &says, Some(proposal))
    }

    /// What is wrong with a board as a circuit, at the place of a part that the words name, or at the
    /// board's file.
    fn of_circuit(
        family: &Family,
        board: &str,
        code: &'static str,
        says: &str,
        proposal: Option<String>,
    ) -> Self {
        // A load that goes on and off does so by its reset; a part has no such key.
        let key = (code == "oscillates").then_some("reset");
        let named = family.model.board(board).and_then(|b| {
            let words = says.split(|c: char| c.is_whitespace() || c == ',' || c == '/');
            let loads = family.model.loads_of(b);
            let known = |w: &str| b.part(w).is_some() || loads.iter().any(|l| l.name == w);
            words.map(str::to_owned).find(|w| known(w))
        });
        let place = family
            .spans
            .find(Some(board), named.as_deref().unwrap_or_default(), key);
        let says = format!("board `{board}`: {says}");
        let place = place.unwrap_or_else(|| Place {
            file: FAMILY_FILE.to_owned(),
            line: 1,
            column: 1,
            span: 0..0,
        });
        Self::Input {
            problems: vec![Diagnostic {
                line: place.line,
                column: place.column,
                span: place.span,
                proposal,
                ..Diagnostic::of_file(code, &place.file, says)
            }],
            texts: family.texts.clone(),
        }
    }

    /// The same where the board is not known: it is the first whose usual situation has no point.
    pub(crate) fn of_review(family: &Family, profile: Option<&Profile>, why: &NoPoint) -> Self {
        let model = &family.model;
        let fails = |board: &&Board| {
            let names = [board.name.clone()];
            let situation = Situation::usual(model, &names, profile);
            let circuit = Circuit::new(model, &names);
            circuit.is_ok_and(|c| c.solve(&situation, &CellDrive::Rested, None).is_err())
        };
        let board = model.boards.iter().find(fails).or(model.boards.first());
        Self::of_point(family, board.map_or("", |b| &b.name), why)
    }

    /// The exit status.
    pub(crate) fn status(&self) -> u8 {
        match self {
            Self::Input { .. } => BAD_INPUT,
            Self::Fault(_) => FAULT,
            Self::Closed => FINE,
        }
    }
}

/// What stands for the file where a problem is in the command line.
pub(crate) const COMMAND_LINE: &str = "command line";
