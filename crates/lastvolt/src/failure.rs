//! Why a command stops, and the exit status that says so: 0 fine, 1 findings, 2 bad input, 3 fault.

use lastvolt_core::circuit::NoPoint;
use lastvolt_input::{Diagnostic, Text};

use crate::cli::load::Family;

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

    /// A situation that has no operating point: the circuit as written is at fault.
    pub(crate) fn of_point(family: &Family, board: &str, why: &NoPoint) -> Self {
        let place = family.spans.find(Some(board), "", None);
        let file = place.map_or_else(|| "family.toml".to_owned(), |p| p.file);
        let code = match why {
            NoPoint::Singular { .. } => "not-determined",
            NoPoint::NotConverged { .. } => "no-operating-point",
            NoPoint::Unknown { .. } => "unknown-name",
        };
        Self::of_file(code, &file, format!("board `{board}`: {why}"))
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
