//! The words in which a load, its regime and a place in a discharge are written.
//!
//! ```text
//! load    15 kohm | 100 mA | 330 mW | rest, or steps: 1500 mW for 2 s then 650 mW for 28 s
//! regime  15 s each 1 min; 8 h each 1 day          (inner to outer)
//! at      fresh | 819 h | 80 mAh | 50 % | 50 % depth
//! ```

use lastvolt_core::fit::{Demand, Step, Window};
use lastvolt_core::quantity::{Charge, Current, Power, Resistance, Time, Unit};

use super::problem::Slip;
use super::words;
use crate::quantity::{parse, unit_of};
use crate::suggest::quoted;

/// A place in a discharge as written; what a share is of hangs on the row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Where {
    /// After so much time on load.
    Time(Time),
    /// After so much charge.
    Charge(Charge),
    /// A share of something.
    Share(f64),
    /// A share of all charge of the cell.
    Depth(f64),
}

/// Reads a value that must lie above zero.
fn positive(text: &str, unit: Unit) -> Result<f64, Slip> {
    let value = exact(text, unit)?;
    if value > 0.0 {
        return Ok(value);
    }
    let says = format!("{} is not above zero", quoted(text.trim()));
    Err(Slip::new("out-of-range", trimmed(text, 0), says).label("must be above zero"))
}

/// Reads a value without a tolerance.
pub(super) fn exact(text: &str, unit: Unit) -> Result<f64, Slip> {
    let reading = parse(text, unit)?;
    if reading.limits.is_some() {
        let says = "a value without tolerance is needed here";
        return Err(Slip::new("no-spread-here", trimmed(text, 0), says).label("tolerance"));
    }
    Ok(reading.value)
}

fn trimmed(text: &str, offset: usize) -> std::ops::Range<usize> {
    let start = offset + text.len() - text.trim_start().len();
    start..start + text.trim().len()
}

/// What is drawn: a current, a resistor, a power, or nothing.
///
/// # Errors
/// Where it is none of these.
pub(super) fn demand(text: &str) -> Result<Demand, Slip> {
    let body = text.trim();
    if body == "rest" {
        return Ok(Demand::Rest);
    }
    let unit = unit_of(body).map(|found| found.1);
    let letters = parse(body, Unit::Ohm).is_ok();
    match unit {
        Some(Unit::Ampere) => {
            positive(text, Unit::Ampere).map(|v| Demand::Current(Current::from_amps(v)))
        }
        Some(Unit::Watt) => positive(text, Unit::Watt).map(|v| Demand::Power(Power::from_watts(v))),
        Some(Unit::Ohm) => resistor(text),
        _ if letters => resistor(text),
        _ => Err(no_demand(text)),
    }
}

fn resistor(text: &str) -> Result<Demand, Slip> {
    positive(text, Unit::Ohm).map(|v| Demand::Resistance(Resistance::from_ohms(v)))
}

fn no_demand(text: &str) -> Slip {
    for unit in [Unit::Ampere, Unit::Ohm, Unit::Watt] {
        if let Err(error) = parse(text, unit)
            && matches!(error.code, "unit-spelling" | "left-over" | "decimal-comma")
        {
            let mut slip = Slip::from(error);
            if slip.code == "left-over" {
                slip.proposal = Some("a load without a pause needs no further word".to_owned());
            }
            return slip;
        }
    }
    let says = format!(
        "{} is not a load: a current (`100 mA`), a resistor (`15 kohm`) or a power (`330 mW`) is needed",
        quoted(text.trim())
    );
    Slip::new("not-a-load", trimmed(text, 0), says)
        .label("not a load")
        .proposal("write `DEMAND`, or `DEMAND for TIME then DEMAND for TIME`")
}

/// The steps of a load.
///
/// # Errors
/// Where the grammar is not kept.
pub(super) fn load(text: &str) -> Result<Vec<Step>, Slip> {
    let steps = steps(text)?;
    if steps
        .iter()
        .any(|s| s.span.is_some_and(|t| t.as_secs() == 0.0))
    {
        let says = "a step of a load must last";
        return Err(Slip::new("no-span", trimmed(text, 0), says).label("0 s"));
    }
    Ok(steps)
}

fn steps(text: &str) -> Result<Vec<Step>, Slip> {
    let pieces = split_word(text, "then");
    let mut steps = Vec::with_capacity(pieces.len());
    for (offset, piece) in &pieces {
        let step = step(piece).map_err(|slip| slip.shifted(*offset))?;
        if step.span.is_none() && pieces.len() > 1 {
            let says = "a step between others needs its time";
            return Err(Slip::new("no-span", trimmed(piece, *offset), says)
                .label("how long?")
                .proposal(format!("write `{} for TIME`", piece.trim())));
        }
        steps.push(step);
    }
    if steps.iter().all(|s| s.demand == Demand::Rest) {
        let says = "a load that only rests draws nothing";
        return Err(Slip::new("not-a-load", trimmed(text, 0), says)
            .label("draws nothing")
            .proposal("leave `load` empty where the cell rests"));
    }
    Ok(steps)
}

/// The single step of a pulse; a time may be absent.
///
/// # Errors
/// Where it is not one step.
pub(super) fn pulse(text: &str) -> Result<Step, Slip> {
    let steps = steps(text)?;
    match steps[..] {
        [step] if step.span.is_some_and(|t| t.as_secs() > LONGEST_PULSE_SECS) => {
            let says = "a pulse of more than a day is a discharge";
            Err(Slip::new("too-long-a-pulse", trimmed(text, 0), says)
                .label("too long")
                .proposal("write it as a service or as voltages of a discharge"))
        }
        [step] => Ok(step),
        _ => {
            let says = format!("a pulse is one step, {} are written", steps.len());
            Err(Slip::new("wrong-length", trimmed(text, 0), says).label("one step"))
        }
    }
}

fn step(piece: &str) -> Result<Step, Slip> {
    let parts = split_word(piece, "for");
    match parts[..] {
        [(_, what)] => Ok(Step {
            demand: demand(what)?,
            span: None,
        }),
        [(_, what), (at, span)] => Ok(Step {
            demand: demand(what)?,
            span: Some(span_of(span).map_err(|slip| slip.shifted(at))?),
        }),
        _ => {
            let says = format!("{} has more than one `for`", quoted(piece.trim()));
            Err(Slip::new("left-over", trimmed(piece, 0), says)
                .label("one step has one time")
                .proposal("put `then` between two steps"))
        }
    }
}

/// The time of a step; 0 stands for its first moment.
fn span_of(text: &str) -> Result<Time, Slip> {
    match exact(text, Unit::Second) {
        Ok(0.0) => Ok(Time::from_secs(0.0)),
        _ => time(text),
    }
}

/// A time above zero; `day` alone is one day.
fn time(text: &str) -> Result<Time, Slip> {
    let one = format!("1 {}", text.trim());
    let secs = match parse(&one, Unit::Second) {
        Ok(reading) if text.trim().starts_with(char::is_alphabetic) => reading.value,
        _ => positive(text, Unit::Second)?,
    };
    Ok(Time::from_secs(secs))
}

/// Most windows that hold each other: seconds, hours, days, weeks.
const MOST_WINDOWS: usize = 4;
/// Longest pulse: beyond, it is a discharge and no pulse.
const LONGEST_PULSE_SECS: f64 = 86_400.0;

/// The windows of a regime, inner to outer.
///
/// # Errors
/// Where the grammar is not kept, or a window does not fit into the next.
pub(super) fn regime(text: &str) -> Result<Vec<Window>, Slip> {
    let mut windows: Vec<Window> = Vec::new();
    if text.trim().is_empty() {
        return Ok(windows);
    }
    let mut offset = 0;
    for piece in text.split(';') {
        let window = window(piece).map_err(|slip| slip.shifted(offset))?;
        if let Some(inner) = windows.last()
            && window.on < inner.every
        {
            let says = format!(
                "this window is open for {}, the one inside it opens only each {}",
                words::time(window.on.as_secs()),
                words::time(inner.every.as_secs())
            );
            return Err(
                Slip::new("windows-out-of-order", trimmed(piece, offset), says)
                    .label("does not hold the one before")
                    .proposal("write the shortest period first"),
            );
        }
        if windows.len() == MOST_WINDOWS {
            let says = format!("more than {MOST_WINDOWS} windows hold each other");
            return Err(Slip::new("too-many-windows", trimmed(piece, offset), says)
                .label("one too many")
                .proposal(
                    "write the pulses and the hours of the day; longer pauses do not matter",
                ));
        }
        windows.push(window);
        offset += piece.len() + 1;
    }
    Ok(windows)
}

fn window(piece: &str) -> Result<Window, Slip> {
    let parts = split_word(piece, "each");
    let [(_, on), (at, every)] = parts[..] else {
        let says = format!("{} is not `TIME each TIME`", quoted(piece.trim()));
        let slip = Slip::new("not-a-regime", trimmed(piece, 0), says).label("not a regime");
        let word = piece.trim().to_lowercase();
        return Err(
            if ["continuous", "continuously", "none"].contains(&&*word) {
                slip.proposal("leave `regime` empty for a load without a pause")
            } else {
                slip.proposal("write for instance `1 h each 1 day`; several are separated by `;`")
            },
        );
    };
    let window = Window {
        on: time(on)?,
        every: time(every).map_err(|slip| slip.shifted(at))?,
    };
    if window.every <= window.on {
        let says = format!("{} is on without a pause", quoted(piece.trim()));
        return Err(Slip::new("too-long-a-window", trimmed(piece, 0), says)
            .label("not shorter than its period")
            .proposal("leave `regime` empty for a load without a pause"));
    }
    Ok(window)
}

/// A place in a discharge.
///
/// # Errors
/// Where it is none.
pub(super) fn place(text: &str) -> Result<Where, Slip> {
    let body = text.trim();
    if body == "fresh" {
        return Ok(Where::Depth(0.0));
    }
    if let Some(share) = body.strip_suffix("depth") {
        return Ok(Where::Depth(share_of_one(share)?));
    }
    let slip = match unit_of(body).map(|found| found.1) {
        Some(Unit::Second) => match exact(text, Unit::Second)? {
            secs if secs >= 0.0 => return Ok(Where::Time(Time::from_secs(secs))),
            _ => negative(text),
        },
        Some(Unit::Coulomb) => match exact(text, Unit::Coulomb)? {
            charge if charge >= 0.0 => return Ok(Where::Charge(Charge::from_coulombs(charge))),
            _ => negative(text),
        },
        Some(Unit::Fraction) => return Ok(Where::Share(share_of_one(text)?)),
        _ => {
            let says = format!(
                "{} is no place in a discharge: a time (`819 h`), a charge (`80 mAh`), a share (`50 %`) or `fresh` is needed",
                quoted(body)
            );
            Slip::new("not-a-place", trimmed(text, 0), says).label("not a place")
        }
    };
    Err(slip)
}

fn negative(text: &str) -> Slip {
    let says = format!("{} lies before the start", quoted(text.trim()));
    Slip::new("out-of-range", trimmed(text, 0), says).label("below zero")
}

fn share_of_one(text: &str) -> Result<f64, Slip> {
    let share = exact(text, Unit::Fraction)?;
    if (0.0..=1.0).contains(&share) {
        return Ok(share);
    }
    let says = format!("{} is not a share of 0 to 100 %", quoted(text.trim()));
    Err(Slip::new("out-of-range", trimmed(text, 0), says).label("0 to 100 %"))
}

/// The pieces of a text between a word, each with its first byte.
fn split_word<'t>(text: &'t str, word: &str) -> Vec<(usize, &'t str)> {
    let mut pieces = Vec::new();
    let mut from = 0;
    for (at, _) in text.match_indices(word) {
        let after = at + word.len();
        let apart = |c: Option<char>| c.is_none_or(char::is_whitespace);
        if at >= from
            && apart(text[..at].chars().next_back())
            && apart(text[after..].chars().next())
        {
            pieces.push((from, &text[from..at]));
            from = after;
        }
    }
    pieces.push((from, &text[from..]));
    pieces
}

#[cfg(test)]
mod tests;
