//! What is followed in time: as a link states it, and as the engine is asked.

use lastvolt_core::circuit::{Circuit, History, Situation};
use lastvolt_core::model::{Profile, Task};
use lastvolt_core::quantity::Unit;
use lastvolt_core::time::{Occasion, deepest_task, off_position};
use lastvolt_input::quantity;

use crate::web::server::Asked;

/// For how long it is off where nothing is said.
pub(super) const USUAL_OFF: &str = "200 ms";
/// Longest time off, in seconds: a year, far more than a waveform holds.
const LONGEST_OFF_SECS: f64 = 3.2e7;
/// Longest text that a time may have in a link.
const LONGEST_TEXT: usize = 40;

/// What is followed, as a link states it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Burst {
    /// Tasks of the profile from the same instant on.
    Tasks(Vec<String>),
    /// Switching on.
    Start,
    /// Off for a time, as written, and on again.
    Off(String),
}

impl Burst {
    /// Reads one word of a link after those before it; what was there before where it is none.
    pub(crate) fn read(
        word: &str,
        before: Option<Self>,
        profile: Option<&Profile>,
    ) -> Result<Option<Self>, Option<Self>> {
        if word == "start" {
            return Ok(Some(Self::Start));
        }
        if let Some(time) = word.strip_prefix("off:") {
            let is_short = time.len() <= LONGEST_TEXT;
            return if is_short {
                Ok(Some(Self::Off(time.trim().to_owned())))
            } else {
                Err(before)
            };
        }
        let name = word.strip_prefix("task:").unwrap_or(word);
        let mut tasks = profile.iter().flat_map(|p| &p.tasks);
        if !tasks.any(|t| t.name == name) {
            return Err(before);
        }
        let mut names = match before {
            Some(Self::Tasks(names)) => names,
            _ => Vec::new(),
        };
        if !names.iter().any(|n| n == name) {
            names.push(name.to_owned());
        }
        Ok(Some(Self::Tasks(names)))
    }

    /// As a link states it.
    pub(crate) fn words(&self) -> Vec<String> {
        match self {
            Self::Tasks(names) => names.iter().map(|n| task_word(n)).collect(),
            Self::Start => vec!["start".to_owned()],
            Self::Off(time) => vec![off_word(time)],
        }
    }
}

/// A task as a link states it: plain, unless its name would read as something else.
pub(super) fn task_word(name: &str) -> String {
    let reads_otherwise = name == "start" || name.starts_with("off:") || name.starts_with("task:");
    if reads_otherwise {
        format!("task:{name}")
    } else {
        name.to_owned()
    }
}

pub(super) fn off_word(time: &str) -> String {
    format!("off:{time}")
}

/// What the engine is asked.
pub(super) struct Plan<'f> {
    pub(super) occasion: Occasion<'f>,
    pub(super) situation: Situation,
    /// No task was named: this one was chosen.
    pub(super) chosen: bool,
}

/// What a setting asks the engine, or why that cannot be.
pub(super) fn plan<'f>(asked: &Asked<'f>) -> Result<Plan<'f>, String> {
    let (circuit, setting) = (&asked.circuit, &asked.setting);
    let situation = setting.situation.clone();
    let profile = setting.profile(circuit.family());
    match &setting.burst {
        None => Ok(usual(circuit, situation, profile)),
        Some(Burst::Start) => Ok(start(circuit, situation)),
        Some(Burst::Off(time)) => {
            let span_ns = nanos(time)?;
            let switch =
                off_position(circuit, &situation).ok_or_else(|| cannot_switch_off(circuit))?;
            Ok(Plan {
                occasion: Occasion::Off { switch, span_ns },
                situation,
                chosen: false,
            })
        }
        Some(Burst::Tasks(names)) => {
            let all = profile.map_or(&[][..], |p| &p.tasks);
            let named = names
                .iter()
                .filter_map(|n| all.iter().find(|t| t.name == *n));
            let tasks: Vec<&Task> = named.collect();
            Ok(Plan {
                occasion: Occasion::Tasks(tasks),
                situation,
                chosen: false,
            })
        }
    }
}

/// The task that pulls the rail lowest; without any, switching on.
fn usual<'f>(
    circuit: &Circuit<'f>,
    situation: Situation,
    profile: Option<&'f Profile>,
) -> Plan<'f> {
    match profile.and_then(|p| deepest_task(circuit, &situation, p)) {
        Some(task) => Plan {
            occasion: Occasion::Tasks(vec![task]),
            situation,
            chosen: true,
        },
        None => start(circuit, situation),
    }
}

/// A start begins cold.
fn start<'f>(circuit: &Circuit<'f>, situation: Situation) -> Plan<'f> {
    Plan {
        occasion: Occasion::Start(off_position(circuit, &situation)),
        situation: Situation {
            history: History::Cold,
            ..situation
        },
        chosen: false,
    }
}

fn cannot_switch_off(circuit: &Circuit) -> String {
    let rail = circuit.family().connector.rail().unwrap_or("the rail");
    format!(
        "no position of one switch takes the voltage off {rail} in this setting; switching on shows the \
         cells or the plug going in"
    )
}

/// A time off in whole nanoseconds, or what is wrong with it.
fn nanos(text: &str) -> Result<u64, String> {
    let reading = quantity::parse(text, Unit::Second).map_err(|error| match error.proposal {
        Some(proposal) => format!("{text}: {}; {proposal}", error.says),
        None => format!("{text}: {}", error.says),
    })?;
    let nanos = (reading.value * 1e9).round();
    if reading.limits.is_some() || !(1.0..=LONGEST_OFF_SECS * 1e9).contains(&nanos) {
        return Err(format!(
            "{text}: one time from 1 ns to a year is needed, such as {USUAL_OFF}"
        ));
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "bounded above"
    )]
    Ok(nanos as u64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_off_has_a_unit_and_is_one() {
        assert_eq!(nanos("200 ms"), Ok(200_000_000));
        for wrong in ["", "200", "0 s", "-1 ms", "2 years", "1 ms .. 2 ms", "soon"] {
            assert!(nanos(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn names_that_read_otherwise_are_written_out() {
        for name in ["start", "off:1 s", "task:x"] {
            assert_eq!(task_word(name), format!("task:{name}"));
        }
        assert_eq!(task_word("report"), "report");
    }
}
