//! Names of columns: which one of a log is time, voltage or current, and in which unit.

use std::ops::Range;

use lastvolt_core::quantity::Unit;

use super::Options;
use super::problem::Slip;
use crate::quantity::{fitting, parse};
use crate::suggest::{listed, nearest, quoted};

/// The columns of a file of points.
pub(super) const POINTS: [&str; 16] = [
    "maker",
    "type",
    "quantity",
    "load",
    "regime",
    "end",
    "ambient",
    "at",
    "age",
    "loss",
    "value",
    "unit",
    "source",
    "read",
    "confidence",
    "use",
];

/// What a column of a log is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Role {
    Time,
    Date,
    Volts,
    Amps,
}

impl Role {
    /// Its name in options and messages.
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Time => "time",
            Self::Date => "date",
            Self::Volts => "volts",
            Self::Amps => "amps",
        }
    }

    fn unit(self) -> Unit {
        match self {
            Self::Time | Self::Date => Unit::Second,
            Self::Volts => Unit::Volt,
            Self::Amps => Unit::Ampere,
        }
    }

    fn example(self) -> &'static str {
        match self {
            Self::Time | Self::Date => "time_s",
            Self::Volts => "volts",
            Self::Amps => "current_mA",
        }
    }
}

/// Names of columns that logs commonly have, their role, and the unit that the name itself says.
const KNOWN: [(&str, Role, Option<&str>); 38] = [
    ("time", Role::Time, None),
    ("t", Role::Time, None),
    ("elapsed", Role::Time, None),
    ("elapsed time", Role::Time, None),
    ("test time", Role::Time, None),
    ("timestamp", Role::Time, None),
    ("datetime", Role::Time, None),
    ("date time", Role::Time, None),
    ("date/time", Role::Time, None),
    ("seconds", Role::Time, Some("s")),
    ("secs", Role::Time, Some("s")),
    ("minutes", Role::Time, Some("min")),
    ("mins", Role::Time, Some("min")),
    ("hours", Role::Time, Some("h")),
    ("date", Role::Date, None),
    ("voltage", Role::Volts, None),
    ("cell voltage", Role::Volts, None),
    ("battery voltage", Role::Volts, None),
    ("terminal voltage", Role::Volts, None),
    ("u", Role::Volts, None),
    ("v", Role::Volts, Some("V")),
    ("volt", Role::Volts, Some("V")),
    ("volts", Role::Volts, Some("V")),
    ("mv", Role::Volts, Some("mV")),
    ("millivolts", Role::Volts, Some("mV")),
    ("current", Role::Amps, None),
    ("load current", Role::Amps, None),
    ("cell current", Role::Amps, None),
    ("battery current", Role::Amps, None),
    ("discharge current", Role::Amps, None),
    ("i", Role::Amps, None),
    ("amp", Role::Amps, Some("A")),
    ("amps", Role::Amps, Some("A")),
    ("ma", Role::Amps, Some("mA")),
    ("milliamps", Role::Amps, Some("mA")),
    ("ua", Role::Amps, Some("uA")),
    ("microamps", Role::Amps, Some("uA")),
    ("\u{b5}a", Role::Amps, Some("uA")),
];

/// What the name of a column says.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Named {
    pub(super) role: Role,
    /// The unit, where one is written.
    pub(super) unit: Option<String>,
}

/// Reads the name of a column of a log.
pub(super) fn named(header: &str) -> Option<Named> {
    let header = header.trim();
    if header.len() > 60 {
        return None;
    }
    if let Some((role, unit)) = known(header) {
        let unit = unit.map(str::to_owned);
        return Some(Named { role, unit });
    }
    if let Some((base, unit)) = header.split_once(['(', '[', '/']) {
        let unit = unit.trim().trim_end_matches([')', ']']).trim().to_owned();
        let (role, _) = known(base)?;
        return Some(Named {
            role,
            unit: Some(unit),
        });
    }
    let (base, unit) = header.rsplit_once(['_', ' ', '-', '.'])?;
    let (role, _) = known(base)?;
    factor(unit, role.unit())?;
    Some(Named {
        role,
        unit: Some(unit.to_owned()),
    })
}

/// The unit that stands in the name of a column whose words say nothing, such as `Strom [mA]`.
fn unit_in(header: &str, role: Role) -> Option<String> {
    let header = header.trim();
    let unit = match header.rsplit_once(['(', '[', '/']) {
        Some((_, unit)) => unit.trim().trim_end_matches([')', ']']).trim(),
        None => header.rsplit_once(['_', ' '])?.1,
    };
    factor(unit, role.unit()).map(|_| unit.to_owned())
}

fn known(base: &str) -> Option<(Role, Option<&'static str>)> {
    let base = base.to_lowercase().replace(['_', '-'], " ");
    let base = base.trim();
    let found = KNOWN.iter().find(|known| known.0 == base);
    found.map(|known| (known.1, known.2))
}

/// How much one of a unit is in SI; common slips of spelling are understood.
fn factor(word: &str, unit: Unit) -> Option<f64> {
    let read = |word: &str| parse(&format!("1 {word}"), unit);
    match read(word.trim()) {
        Ok(reading) => Some(reading.value),
        Err(error) => read(&error.patch?).ok().map(|reading| reading.value),
    }
}

/// A column of numbers.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Column {
    /// Which one.
    pub(super) index: usize,
    /// Where its name stands.
    pub(super) span: Range<usize>,
    /// What one of its units is in SI.
    pub(super) factor: f64,
    /// Whether a unit is written or stated.
    pub(super) stated: bool,
}

/// Where the columns of a log are.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Layout {
    pub(super) time: Column,
    pub(super) date: Option<usize>,
    pub(super) volts: Column,
    pub(super) amps: Option<Column>,
}

type Header<'a> = [(&'a str, Range<usize>)];

/// Indices of the columns that may have a role: one that is stated, or all whose names say so.
pub(super) fn candidates(names: &[&str], role: Role, options: &Options) -> Vec<usize> {
    if let Some(theirs) = options.column(role.name()) {
        let found = names.iter().position(|name| name.trim() == theirs);
        if let Some(found) = found {
            return vec![found];
        }
    }
    let taken = |name: &str| {
        let stated = options.columns.iter();
        stated.into_iter().any(|(_, theirs)| theirs == name.trim())
    };
    let is = |name: &str| !taken(name) && named(name).is_some_and(|n| n.role == role);
    (0..names.len()).filter(|k| is(names[*k])).collect()
}

/// Finds the columns of a log; a line of units may stand under its header.
///
/// # Errors
/// Every column that is missing, ambiguous, or in no unit.
pub(super) fn layout(
    header: &Header<'_>,
    units: &[Option<String>],
    options: &Options,
) -> Result<Layout, Vec<Slip>> {
    let mut slips = Vec::new();
    let mut column = |role, needed| match column(header, units, role, options, needed) {
        Ok(column) => column,
        Err(slip) => {
            slips.push(slip);
            None
        }
    };
    let by_load = options.load.is_some();
    let (time, volts) = (column(Role::Time, true), column(Role::Volts, true));
    let amps = column(Role::Amps, !by_load);
    let names: Vec<&str> = header.iter().map(|h| h.0).collect();
    let date = candidates(&names, Role::Date, options).first().copied();
    match (time, volts) {
        (Some(time), Some(volts)) if slips.is_empty() => Ok(Layout {
            time,
            date,
            volts,
            amps,
        }),
        _ => Err(slips),
    }
}

fn column(
    header: &Header<'_>,
    units: &[Option<String>],
    role: Role,
    options: &Options,
    needed: bool,
) -> Result<Option<Column>, Slip> {
    let names: Vec<&str> = header.iter().map(|h| h.0).collect();
    if let Some(theirs) = options.column(role.name())
        && !names.iter().any(|name| name.trim() == theirs)
    {
        let says = format!(
            "there is no column {} to be `{}`",
            quoted(theirs),
            role.name()
        );
        let place = header.first().map_or(0..0, |h| h.1.clone());
        return Err(Slip::new("unknown-column", place, says)
            .label("the columns stand here")
            .proposal(match nearest(theirs, names.iter().copied()) {
                Some(near) => format!("did you mean {}?", quoted(near)),
                None => format!("it has {}", listed(names.iter().copied())),
            }));
    }
    let found = candidates(&names, role, options);
    let index = match found[..] {
        [] if !needed => return Ok(None),
        [] => return Err(missing(header, role, options)),
        [index] => index,
        [first, second, ..] => {
            let says = format!(
                "{} and {} may both be the column `{}`",
                quoted(names[first]),
                quoted(names[second]),
                role.name()
            );
            return Err(Slip::new("two-columns", header[second].1.clone(), says)
                .label("which one?")
                .proposal(format!(
                    "state which column is `{}`, or rename one",
                    role.name()
                )));
        }
    };
    let (name, span) = header[index].clone();
    let under = units.get(index).cloned().flatten();
    let own = || named(name).and_then(|n| n.unit);
    let written = own().or_else(|| unit_in(name, role)).or(under);
    let stated = options.unit(role.name()).map(str::to_owned).or(written);
    let Some(word) = stated else {
        return Ok(Some(Column {
            index,
            span,
            factor: 1.0,
            stated: false,
        }));
    };
    let Some(factor) = factor(&word, role.unit()) else {
        let says = format!(
            "{} is no unit of {} ({})",
            quoted(&word),
            role.unit().measures(),
            fitting(role.unit())
        );
        return Err(Slip::new("unknown-unit", span, says)
            .label("unit?")
            .proposal(format!("name the column for instance `{}`", role.example())));
    };
    Ok(Some(Column {
        index,
        span,
        factor,
        stated: true,
    }))
}

fn missing(header: &Header<'_>, role: Role, options: &Options) -> Slip {
    let names = header.iter().map(|h| h.0).filter(|name| !name.is_empty());
    let says = match options.column(role.name()) {
        Some(theirs) => format!(
            "there is no column {}, which `{}` is said to be; the columns are {}",
            quoted(theirs),
            role.name(),
            listed(names.clone())
        ),
        None => format!(
            "a log needs a column `{}`; the columns are {}",
            role.name(),
            listed(names.clone())
        ),
    };
    let whole = header.first().map_or(0, |h| h.1.start)..header.last().map_or(0, |h| h.1.end);
    let own = KNOWN
        .iter()
        .filter(|known| known.1 == role && known.0.len() > 3);
    let own: Vec<&str> = own.map(|known| known.0).collect();
    for (name, span) in header {
        let base = name.split(['(', '[', '/', '_']).next().unwrap_or(name);
        if named(name).is_none()
            && let Some(near) = nearest(base.trim(), own.iter().copied())
        {
            return Slip::new("missing-column", span.clone(), says)
                .label("this one?")
                .proposal(format!("did you mean `{near}`?"));
        }
    }
    let mut proposal = format!(
        "name it for instance `{}`, or state which column is `{}`",
        role.example(),
        role.name()
    );
    if role == Role::Amps {
        proposal.push_str("; where the load is a resistor, state the load instead");
    }
    Slip::new("missing-column", whole, says)
        .label("no such column")
        .proposal(proposal)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_say_role_and_unit() {
        let said = |name: &str| named(name).map(|n| (n.role, n.unit.unwrap_or_default()));
        let is = |role, unit: &str| Some((role, unit.to_owned()));
        assert_eq!(said("time_s"), is(Role::Time, "s"));
        assert_eq!(said("time (h)"), is(Role::Time, "h"));
        assert_eq!(said("Elapsed Time [min]"), is(Role::Time, "min"));
        assert_eq!(said("t/s"), is(Role::Time, "s"));
        assert_eq!(said("Date/Time"), is(Role::Time, ""));
        assert_eq!(said("Voltage (V)"), is(Role::Volts, "V"));
        assert_eq!(said("volts_mV"), is(Role::Volts, "mV"));
        assert_eq!(said("current_mA"), is(Role::Amps, "mA"));
        assert_eq!(said("mA"), is(Role::Amps, "mA"));
        assert_eq!(said("Current"), is(Role::Amps, ""));
        assert_eq!(said("I [\u{b5}A]"), is(Role::Amps, "\u{b5}A"));
        assert_eq!(said("temperature"), None);
        assert_eq!(said("time_left_over"), None);
        assert_eq!(said(""), None);
    }

    #[test]
    fn slips_in_units_are_understood() {
        assert_eq!(factor("sec", Unit::Second), Some(1.0));
        assert_eq!(factor("hrs", Unit::Second), Some(3600.0));
        assert_eq!(factor("ma", Unit::Ampere), Some(1e-3));
        assert_eq!(factor("apples", Unit::Ampere), None);
        assert_eq!(factor("V", Unit::Ampere), None);
    }
}
