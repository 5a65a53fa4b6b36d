//! The files and options of a fit, and whether there is enough in them.

use std::path::{Path, PathBuf};

use lastvolt_core::device::Charging;
use lastvolt_core::fit::Drive;
use lastvolt_core::quantity::{Charge, Temperature, Unit};
use lastvolt_input::measured::{Chemistry, Measured, Options, column_names, load};
use lastvolt_input::{Diagnostic, Text, quantity};

use super::Args;
use super::like::Like;
use crate::cli::load::read_file;
use crate::cli::options::Pair;
use crate::cli::resolve::nearest;
use crate::failure::{COMMAND_LINE, Failure};
use crate::text::number::listed;

/// Largest file of measurements that is taken into memory, in bytes: two weeks at one row a second.
const LARGEST_FILE: u64 = 64 << 20;
/// Fewest readings that a model is made of; a log has enough by itself.
const FEWEST: usize = 3;
/// Longest name of a model, in bytes.
const LONGEST_NAME: usize = 64;
/// Columns of a log that have a unit.
const WITH_UNIT: [&str; 3] = ["time", "volts", "amps"];

/// What a fit is made from.
pub(super) struct Inputs {
    pub(super) name: String,
    pub(super) texts: Vec<Text>,
    pub(super) options: Options,
}

/// Reads files and options; everything that is wrong with them is told at once.
pub(super) fn read(args: &Args, like: Option<&Like>) -> Result<Inputs, Failure> {
    let mut problems = Problems::default();
    let options = problems.options(args, like);
    let name = problems.name(args);
    let texts = problems.texts(&args.data);
    if problems.0.is_empty() {
        return Ok(Inputs {
            name,
            texts,
            options,
        });
    }
    Err(Failure::Input {
        problems: problems.0,
        texts: Vec::new(),
    })
}

/// Problems of the reader with the options that may solve them.
pub(super) fn hinted(mut problems: Vec<Diagnostic>) -> Vec<Diagnostic> {
    for problem in &mut problems {
        let hint = match problem.code {
            "unknown-table" => {
                "; other names are told with `--column time=NAME --column volts=NAME --column amps=NAME`"
            }
            "missing-column" => {
                "; `--column volts=NAME` tells another name, `--load \"3 kohm\"` a resistor in place of a current"
            }
            "two-columns" => "; `--column volts=NAME` tells which one",
            "no-unit" | "unknown-unit" | "unit-doubt" => "; or tell it with `--unit amps=mA`",
            "charging" => {
                "; `--current-sign` tells the sign, `--rechargeable` that the cell may be charged"
            }
            _ => continue,
        };
        let proposal = problem.proposal.get_or_insert_default();
        let hint = if proposal.is_empty() {
            hint.trim_start_matches("; ")
        } else {
            hint
        };
        proposal.push_str(hint);
    }
    problems
}

/// Fails where there is too little to make a model of.
pub(super) fn enough(measured: &Measured) -> Result<(), Failure> {
    let logs = measured.tests.iter().filter(|t| is_log(&t.drive)).count();
    let readings = measured.tests.iter().flat_map(|t| &t.readings);
    let fitted = readings.filter(|r| r.fitted).count();
    if 0 < logs || FEWEST <= fitted {
        return Ok(());
    }
    let words = match fitted {
        0 => "no reading that a model may be fitted to".to_owned(),
        1 => "one reading to fit to".to_owned(),
        n => format!("{n} readings to fit to"),
    };
    let says =
        format!("there is {words}, and a model needs {FEWEST} at least, or a log of a discharge");
    let proposal =
        "measure what the cell gives under two loads that lie far apart, and its voltage at the \
        end of a pulse; or log one discharge down to the end"
            .to_owned();
    Err(Failure::of_option("too-few-readings", says, Some(proposal)))
}

pub(super) fn is_log(drive: &Drive) -> bool {
    matches!(drive, Drive::Log(_))
}

/// The name of a file without its folders.
pub(super) fn bare(name: &str) -> String {
    let last = name.rsplit(['/', '\\']).next();
    last.unwrap_or(name).to_owned()
}

/// What is wrong with the command line and the files.
#[derive(Default)]
struct Problems(Vec<Diagnostic>);

impl Problems {
    fn add(&mut self, code: &'static str, says: String, proposal: Option<String>) {
        self.0.push(Diagnostic {
            proposal,
            ..Diagnostic::of_file(code, COMMAND_LINE, says)
        });
    }

    fn options(&mut self, args: &Args, like: Option<&Like>) -> Options {
        let rechargeable =
            args.rechargeable || like.is_some_and(|l| l.model.charging == Charging::Rechargeable);
        let ambient = self.value("--ambient", &args.ambient, Unit::Celsius, "\"20 degC\"");
        const TEMPERATURES: std::ops::RangeInclusive<f64> = -100.0..=200.0;
        if ambient.is_some_and(|celsius| !TEMPERATURES.contains(&celsius)) {
            let says = format!("`--ambient {}` is no temperature of a cell", args.ambient);
            self.add(
                "out-of-range",
                says,
                Some("state the temperature of the test".to_owned()),
            );
        }
        let rated = args.rated.as_deref();
        let rated = rated.and_then(|t| self.value("--rated", t, Unit::Coulomb, "\"225 mAh\""));
        let stated = args.load.as_deref().and_then(|text| {
            let read = load(text);
            read.map_err(|says| {
                let proposal = "write it as \"3 kohm\", \"10 mA\" or \"50 mW\"".to_owned();
                self.add(
                    "no-load",
                    format!("`--load {text}`: {says}"),
                    Some(proposal),
                );
            })
            .ok()
        });
        Options {
            columns: self.pairs("--column", &args.column, &column_names()),
            units: self.pairs("--unit", &args.unit, &WITH_UNIT),
            load: stated,
            ambient: Temperature::from_celsius(ambient.unwrap_or(20.0)),
            sample: args.sample.clone(),
            chemistry: if rechargeable {
                Chemistry::Rechargeable
            } else {
                Chemistry::Primary
            },
            direction: args.current_sign.into(),
            rated: rated.map(Charge::from_coulombs),
        }
    }

    /// A single value of an option.
    fn value(&mut self, option: &str, text: &str, unit: Unit, like: &str) -> Option<f64> {
        match quantity::parse(text, unit) {
            Ok(reading) if reading.limits.is_none() => Some(reading.value),
            Ok(_) => {
                let says = format!("`{option} {text}`: one value is needed, not a spread");
                self.add("one-value", says, None);
                None
            }
            Err(error) => {
                let says = format!("`{option} {text}`: {}", error.says);
                let proposal = error
                    .proposal
                    .unwrap_or_else(|| format!("write for instance {like}"));
                self.add(error.code, says, Some(proposal));
                None
            }
        }
    }

    /// Pairs whose names are known.
    fn pairs(&mut self, option: &str, pairs: &[Pair], known: &[&str]) -> Vec<(String, String)> {
        let mut out: Vec<(String, String)> = Vec::new();
        for pair in pairs {
            if !known.contains(&pair.name.as_str()) {
                let says = format!(
                    "`{option} {}=`: there is no column `{}`",
                    pair.name, pair.name
                );
                let proposal = match nearest(&pair.name, known) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => format!("there is {}", listed(known)),
                };
                self.add("unknown-name", says, Some(proposal));
            } else if out.iter().any(|(name, _)| *name == pair.name) {
                let says = format!("`{option} {}=` is stated twice", pair.name);
                self.add("stated-twice", says, None);
            } else {
                out.push((pair.name.clone(), pair.value.clone()));
            }
        }
        out
    }

    /// The name of the model: as stated, or that of the first file as far as a name may be like it.
    fn name(&mut self, args: &Args) -> String {
        let allowed = |c: char| c.is_alphanumeric() || matches!(c, '_' | '-' | '+' | ' ');
        if let Some(name) = &args.name {
            let wrong = name.chars().find(|c| !allowed(*c));
            let says = match wrong {
                Some(c) => format!("holds `{}`", c.escape_debug()),
                None if name.trim().is_empty() => "is empty".to_owned(),
                None if name.trim() != name => "begins or ends with a blank".to_owned(),
                None if LONGEST_NAME < name.len() => {
                    format!("is longer than {LONGEST_NAME} bytes")
                }
                None => return name.clone(),
            };
            let proposal = "letters, digits, `_`, `-`, `+` and blanks may be used".to_owned();
            self.add(
                "bad-name",
                format!("`--name`: the name {says}"),
                Some(proposal),
            );
            return name.clone();
        }
        let first = args.data.first().and_then(|p| p.file_stem());
        let stem = first.map(|s| s.to_string_lossy().into_owned());
        let stem = stem.unwrap_or_default();
        let safe = |c: char| if allowed(c) && c != ' ' { c } else { '-' };
        let name: String = stem.chars().map(safe).take(LONGEST_NAME / 4).collect();
        let name = name.trim_matches('-');
        if name.is_empty() { "cell" } else { name }.to_owned()
    }

    fn texts(&mut self, paths: &[PathBuf]) -> Vec<Text> {
        let mut texts: Vec<Text> = Vec::new();
        for path in paths {
            let Some(name) = path.to_str() else {
                let says = format!("`{}` is no name in UTF-8", path.display());
                self.add("not-utf-8", says, None);
                continue;
            };
            if texts.iter().any(|t| t.name == name) {
                self.add("stated-twice", format!("`{name}` is given twice"), None);
                continue;
            }
            match read_file(Path::new(""), name, LARGEST_FILE) {
                Ok(text) => texts.push(text),
                Err(problem) => self.0.push(*problem),
            }
        }
        texts
    }
}
