//! Options that several commands share.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use lastvolt_core::review::{Finding, Severity};

/// Text for people or JSON for programs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Format {
    /// Tables and sentences
    Text,
    /// One JSON document
    Json,
}

impl Format {
    /// The word that asks for JSON.
    pub(crate) const JSON: &'static str = "json";
}

/// What every command that reads a family takes.
#[derive(Debug, Args)]
pub(crate) struct Input {
    /// Folder of the family, or its family.toml
    #[arg(value_name = "DIR")]
    pub(crate) dir: PathBuf,
    /// How to answer
    #[arg(long, value_name = "FORMAT", default_value = "text")]
    pub(crate) format: Format,
}

/// From which severity on findings fail a command.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum FailOn {
    /// Do not build
    Stop,
    /// Works, but not as promised
    Fix,
    /// Worth knowing
    Note,
}

impl FailOn {
    /// The lowest severity that fails.
    fn severity(self) -> Severity {
        match self {
            Self::Stop => Severity::Stop,
            Self::Fix => Severity::Fix,
            Self::Note => Severity::Note,
        }
    }

    /// Whether a word for a severity weighs enough.
    pub(crate) fn reached_by(self, severity: &str) -> bool {
        let all = [Severity::Stop, Severity::Fix, Severity::Note];
        let enough = |s: &Severity| self.severity() <= *s && s.word() == severity;
        all.iter().any(enough)
    }

    /// Whether a finding fails a command: cautions and accepted findings do not.
    pub(crate) fn fails(self, finding: &Finding) -> bool {
        let counts = finding.accepted.is_none() && !finding.is_caution();
        counts && self.severity() <= finding.severity
    }
}

/// `NAME=VALUE`, as `--set` and `--state` take it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Pair {
    /// What is set.
    pub(crate) name: String,
    /// To what.
    pub(crate) value: String,
}

impl std::str::FromStr for Pair {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        match text.split_once('=') {
            Some((name, value)) if !name.trim().is_empty() && !value.trim().is_empty() => {
                Ok(Self {
                    name: name.trim().to_owned(),
                    value: value.trim().to_owned(),
                })
            }
            _ => Err("write it as NAME=VALUE".to_owned()),
        }
    }
}

/// A depth from 0 to 1.
pub(crate) fn depth(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(depth) if (0.0..=1.0).contains(&depth) => Ok(depth),
        _ => Err("a depth is a number from 0 (fresh) to 1 (empty)".to_owned()),
    }
}
