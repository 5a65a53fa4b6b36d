//! From words of the command line to boards, profiles, temperatures and situations of a family.
//!
//! Every unknown name is an error with the nearest known spelling; all of a command line are reported
//! at once.

use clap::{Args, ValueEnum};
use lastvolt_core::circuit::{Circuit, History, Situation};
use lastvolt_core::device::{Cell, Reversal};
use lastvolt_core::model::{Device, Family, Part, Profile};
use lastvolt_core::quantity::{Temperature, Unit, YEAR_SECS};
use lastvolt_input::{Diagnostic, quantity};

use crate::cli::options::{Pair, depth};
use crate::failure::{COMMAND_LINE, Failure};
use crate::text::number::listed;

/// A situation as the command line states it; what is not said is usual.
#[derive(Debug, Args)]
pub(crate) struct Stated {
    /// Temperature around the boards: "20 degC", low, usual or high
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub(crate) ambient: Option<String>,
    /// Position of a switch or jumper; may be repeated
    #[arg(long, value_name = "S1=on")]
    pub(crate) set: Vec<Pair>,
    /// Put a cell in backwards: a whole string (BT1) or one of its cells (BT1.2); may be repeated
    #[arg(long, value_name = "BT1")]
    pub(crate) reverse: Vec<String>,
    /// Share of the cells' charge that is drawn, 0 to 1
    #[arg(long, value_name = "0.4", default_value = "0", value_parser = depth, allow_hyphen_values = true)]
    pub(crate) depth: f64,
    /// State of a load; may be repeated
    #[arg(long, value_name = "LOAD=STATE")]
    pub(crate) state: Vec<Pair>,
    /// Whether the circuit starts from off or is already up
    #[arg(long, value_name = "HISTORY", default_value = "running")]
    pub(crate) history: HistoryWord,
}

/// How the circuit came to where it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum HistoryWord {
    /// Starting from off
    Cold,
    /// Already up
    Running,
}

/// Looks up names and collects what is wrong with them.
#[derive(Debug)]
pub(crate) struct Resolver<'f> {
    family: &'f Family,
    problems: Vec<Diagnostic>,
}

impl<'f> Resolver<'f> {
    /// A resolver for the names of this family.
    pub(crate) fn new(family: &'f Family) -> Self {
        Self {
            family,
            problems: Vec::new(),
        }
    }

    /// Ends with what is wrong, if anything is.
    pub(crate) fn finish(self) -> Result<(), Failure> {
        if self.problems.is_empty() {
            return Ok(());
        }
        Err(Failure::Input {
            problems: self.problems,
            texts: Vec::new(),
        })
    }

    /// The boards of these names in the order given, each once.
    pub(crate) fn boards(&mut self, names: &[String]) -> Vec<String> {
        let known: Vec<&str> = self.family.boards.iter().map(|b| b.name.as_str()).collect();
        let mut out: Vec<String> = Vec::new();
        for name in names {
            if !known.contains(&name.as_str()) {
                self.unknown("--board", "board", name, &known);
            } else if !out.contains(name) {
                out.push(name.clone());
            }
        }
        out
    }

    /// The boards of these names, or all boards where none is named.
    pub(crate) fn boards_or_all(&mut self, names: &[String]) -> Vec<String> {
        if names.is_empty() {
            return self.family.boards.iter().map(|b| b.name.clone()).collect();
        }
        let named = self.boards(names);
        let all = self.family.boards.iter().map(|b| &b.name);
        all.filter(|b| named.contains(b)).cloned().collect()
    }

    /// The profile of this name, or the first.
    pub(crate) fn profile(&mut self, name: Option<&str>) -> Option<&'f Profile> {
        let family = self.family;
        let Some(name) = name else {
            return family.profiles.first();
        };
        let found = family.profile(name);
        if found.is_none() {
            let known: Vec<&str> = family.profiles.iter().map(|p| p.name.as_str()).collect();
            self.unknown("--profile", "profile", name, &known);
        }
        found
    }

    /// A temperature: a word of the requirement, or a value with its unit.
    pub(crate) fn ambient(&mut self, text: &str) -> Temperature {
        let ambient = &self.family.requirement.ambient;
        match text.trim() {
            "low" => return ambient.low,
            "usual" => return ambient.usual,
            "high" => return ambient.high,
            _ => {}
        }
        match quantity::parse(text, Unit::Celsius) {
            Ok(reading) if reading.limits.is_none() => Temperature::from_celsius(reading.value),
            Ok(_) => {
                let says = format!("`--ambient {text}`: one temperature is needed, not a spread");
                self.problem("one-temperature", says, None);
                ambient.usual
            }
            Err(error) => {
                let says = format!("`--ambient {text}`: {}", error.says);
                let words = "write a temperature such as \"20 degC\", or low, usual or high";
                let proposal = error.proposal.unwrap_or_else(|| words.to_owned());
                self.problem(error.code, says, Some(proposal));
                ambient.usual
            }
        }
    }

    /// A length of time in whole nanoseconds; none where it is no such thing.
    pub(crate) fn nanos(&mut self, option: &str, text: &str) -> Option<u64> {
        /// A century: far more than a waveform holds, and far less than 2^64 ns.
        const LONGEST_SECS: f64 = 100.0 * YEAR_SECS;
        let example = "write a time such as \"50 ms\"";
        let reading = match quantity::parse(text, Unit::Second) {
            Ok(reading) if reading.limits.is_none() => reading,
            Ok(_) => {
                let says = format!("`{option} {text}`: one time is needed, not a spread");
                self.problem("one-time", says, Some(example.to_owned()));
                return None;
            }
            Err(error) => {
                let says = format!("`{option} {text}`: {}", error.says);
                let proposal = error.proposal.unwrap_or_else(|| example.to_owned());
                self.problem(error.code, says, Some(proposal));
                return None;
            }
        };
        let nanos = (reading.value * 1e9).round();
        if !(1.0..=LONGEST_SECS * 1e9).contains(&nanos) {
            let says = format!("`{option} {text}`: a time from 1 ns to 100 years is needed");
            self.problem("out-of-range", says, Some(example.to_owned()));
            return None;
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "bounded above"
        )]
        Some(nanos as u64)
    }

    /// The situation that the command line states, and what the reader should know about it.
    pub(crate) fn situation(
        &mut self,
        circuit: &Circuit,
        profile: Option<&Profile>,
        stated: &Stated,
    ) -> (Situation, Vec<String>) {
        let boards: Vec<String> = circuit.boards().iter().map(|b| b.name.clone()).collect();
        let mut situation = Situation::usual(self.family, &boards, profile);
        if let Some(text) = &stated.ambient {
            situation.ambient = self.ambient(text);
        }
        situation.depth = stated.depth;
        situation.history = match stated.history {
            HistoryWord::Cold => History::Cold,
            HistoryWord::Running => History::Running,
        };
        for pair in &stated.set {
            self.set(circuit, pair, &mut situation);
        }
        for pair in &stated.state {
            self.state(circuit, pair, &mut situation);
        }
        let mut warnings = Vec::new();
        for name in &stated.reverse {
            if let Some(cell) = self.reverse(circuit, name, &mut situation)
                && cell.holder.reversed == Reversal::Blocked
            {
                warnings.push(format!(
                    "the holder of {name} does not let a cell in backwards: solved as if it did"
                ));
            }
        }
        (situation, warnings)
    }

    fn set(&mut self, circuit: &Circuit, pair: &Pair, situation: &mut Situation) {
        let parts = circuit.parts();
        let switches = || {
            parts.iter().filter_map(|(name, part)| match &part.device {
                Device::Switch(switch) => Some((name, switch)),
                _ => None,
            })
        };
        let Some((name, switch)) = switches().find(|(name, _)| **name == pair.name) else {
            let known: Vec<&str> = switches().map(|(name, _)| name.as_str()).collect();
            self.unknown("--set", "switch or jumper", &pair.name, &known);
            return;
        };
        let mut known: Vec<String> = switch.positions.iter().map(|p| p.name.clone()).collect();
        known.extend(switch.between());
        if known.contains(&pair.value) {
            situation.positions.insert(name.clone(), pair.value.clone());
        } else {
            let known: Vec<&str> = known.iter().map(String::as_str).collect();
            self.unknown("--set", &format!("position of {name}"), &pair.value, &known);
        }
    }

    fn state(&mut self, circuit: &Circuit, pair: &Pair, situation: &mut Situation) {
        let loads = circuit.loads();
        let Some((name, load)) = loads.iter().find(|(name, _)| *name == pair.name) else {
            let known: Vec<&str> = loads.iter().map(|(name, _)| name.as_str()).collect();
            self.unknown("--state", "load", &pair.name, &known);
            return;
        };
        if load.state(&pair.value).is_some() {
            situation.states.insert(name.clone(), pair.value.clone());
        } else {
            let known: Vec<&str> = load.states.iter().map(|s| s.name.as_str()).collect();
            self.unknown("--state", &format!("state of {name}"), &pair.value, &known);
        }
    }

    fn reverse<'c>(
        &mut self,
        circuit: &'c Circuit,
        name: &str,
        situation: &mut Situation,
    ) -> Option<&'c Cell> {
        let mut known = Vec::new();
        for (part_name, part) in circuit.parts() {
            if let Some(cell) = cell_of(part) {
                let one = (1..=cell.series).map(|n| format!("{part_name}.{n}"));
                let names: Vec<String> = std::iter::once(part_name.clone()).chain(one).collect();
                if names.iter().any(|n| n == name) {
                    situation.reversed.insert(name.to_owned());
                    return Some(cell);
                }
                known.extend(names);
            }
        }
        let known: Vec<&str> = known.iter().map(String::as_str).collect();
        self.unknown("--reverse", "cell", name, &known);
        None
    }

    /// Notes a name that is not there, with the nearest that is.
    pub(crate) fn unknown(&mut self, option: &str, what: &str, name: &str, known: &[&str]) {
        let says = format!("`{option}`: there is no {what} `{name}`");
        let proposal = match nearest(name, known) {
            Some(near) => format!("did you mean `{near}`?"),
            None if known.is_empty() => format!("there is no {what} at all: leave `{option}` out"),
            None => format!("there is {}", listed(known)),
        };
        self.problem("unknown-name", says, Some(proposal));
    }

    fn problem(&mut self, code: &'static str, says: String, proposal: Option<String>) {
        self.problems.push(Diagnostic {
            proposal,
            ..Diagnostic::of_file(code, COMMAND_LINE, says)
        });
    }
}

fn cell_of(part: &Part) -> Option<&Cell> {
    match &part.device {
        Device::Cell(cell) => Some(cell),
        _ => None,
    }
}

/// The known name nearest to what was written, if one is near enough to be meant.
pub(crate) fn nearest<'a>(got: &str, known: &[&'a str]) -> Option<&'a str> {
    const LONGEST: usize = 64;
    if LONGEST < got.len() {
        return None;
    }
    let lower = got.to_lowercase();
    let near = known.iter().filter_map(|name| {
        let distance = strsim::damerau_levenshtein(&lower, &name.to_lowercase());
        (distance <= 1 + name.chars().count() / 4).then_some((distance, *name))
    });
    near.min().map(|found| found.1)
}
