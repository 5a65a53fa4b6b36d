//! One file a section: what a table of the files may hold, with units, defaults and checks.
//!
//! A kind of part is one file that states a [`Section`] and one line in [`SECTIONS`].

pub(crate) mod board;
pub(crate) mod connector;
pub(crate) mod family;
pub(crate) mod heat;
pub(crate) mod like;
pub(crate) mod load;
pub(crate) mod model;
pub(crate) mod part;
pub(crate) mod pins;
pub(crate) mod profile;
pub(crate) mod requirement;
pub(crate) mod seen;

mod capacitor;
pub(crate) mod cell;
mod diode;
mod fet;
mod fuse;
mod inductor;
mod load_part;
mod regulator;
mod resistor;
mod supply;
mod switch;
mod test_point;

use lastvolt_core::model::{Device, Kind, Pin};

use crate::diagnostic::Problem;
use crate::document::{Field, Fields, Reader};
use crate::place::Spot;
use crate::suggest::quoted;

/// How a kind of part is written.
pub(crate) struct Section {
    /// The kind.
    pub(crate) kind: Kind,
    /// What it is, one sentence without full stop.
    pub(crate) doc: &'static str,
    /// The pins it has.
    pub(crate) pins: PinSet,
    /// Fields of the part alone.
    pub(crate) part: &'static [Field],
    /// Fields of a model of this kind, which a part may state or override in place.
    pub(crate) model: &'static [Field],
    /// Reads the fields; the pins are those of the part, in the order of the kind.
    pub(crate) read: fn(&Fields<'_>, &[Pin]) -> Option<Device>,
}

/// The pins that a kind of part has.
#[derive(Clone, Copy)]
pub(crate) enum PinSet {
    /// Two pins, which may be listed in order; several pairs of names may be allowed.
    Two(&'static [[&'static str; 2]]),
    /// One pin.
    One,
    /// Pins with names, in the order of the kind.
    Named {
        /// Pins that every part of the kind has.
        required: &'static [&'static str],
        /// Pins that it may have.
        optional: &'static [&'static str],
    },
    /// Any names.
    Free,
}

/// Every kind of part, in the order of the manual.
pub(crate) static SECTIONS: [&Section; 18] = [
    &cell::SECTION,
    &supply::SECTION,
    &resistor::SECTION,
    &capacitor::SECTION,
    &inductor::SECTION,
    &diode::DIODE,
    &diode::LED,
    &fet::P_FET,
    &fet::N_FET,
    &switch::SWITCH,
    &switch::JUMPER,
    &fuse::SECTION,
    &regulator::LDO,
    &regulator::BUCK,
    &regulator::BOOST,
    &regulator::BUCK_BOOST,
    &load_part::SECTION,
    &test_point::SECTION,
];

/// Kinds that are planned and cannot be used yet.
pub(crate) const PLANNED: [&str; 5] = ["detector", "load-switch", "ideal-diode", "zener", "ptc"];

/// Kinds that are outside what the tool covers.
pub(crate) const NOT_COVERED: [&str; 6] = [
    "charger",
    "solar",
    "solar-cell",
    "photovoltaic",
    "harvester",
    "solar-panel",
];

/// The section of a kind word.
pub(crate) fn of_word(word: &str) -> Option<&'static Section> {
    SECTIONS.into_iter().find(|s| s.kind.word() == word)
}

/// Reads a kind word and says what is wrong with it.
pub(crate) fn kind(reader: Reader<'_>, spot: &Spot, word: &str) -> Option<&'static Section> {
    if let Some(section) = of_word(word) {
        return Some(section);
    }
    let at = reader.inner(spot, word, 0..word.len());
    let words = SECTIONS.iter().map(|s| s.kind.word());
    if PLANNED.contains(&word) {
        let says = format!("parts of the kind `{word}` are planned and cannot be read yet");
        let known: Vec<&str> = words.collect();
        let problem = Problem::new("planned-kind", at, says)
            .label("planned")
            .proposal(format!("kinds there are: {}", known.join(", ")));
        reader.report(problem);
    } else if NOT_COVERED.contains(&word) {
        let says = format!(
            "{} is not covered: chargers and solar sources are left out",
            quoted(word)
        );
        reader.report(Problem::new("not-covered", at, says).label("not covered"));
    } else {
        reader.unknown_name(spot, "kind of part", word, words);
    }
    None
}

/// Longest name.
const LONGEST_NAME: usize = 64;

/// Checks a name that people give: of a part, net, load, state, position, profile or task.
pub(crate) fn check_name(reader: Reader<'_>, at: &Spot, name: &str, what: &str) -> bool {
    let wrong = name
        .chars()
        .find(|c| !(c.is_alphanumeric() || matches!(c, '_' | '-' | '+' | ' ')));
    let says = if name.trim().is_empty() {
        format!("the name of a {what} is empty")
    } else if name.len() > LONGEST_NAME {
        format!(
            "the name {} of a {what} is longer than {LONGEST_NAME} bytes",
            quoted(name)
        )
    } else if let Some(wrong) = wrong {
        format!(
            "the name {} of a {what} holds {}: letters, digits, `_`, `-`, `+` and blanks may be used",
            quoted(name),
            quoted(&wrong.escape_debug().to_string())
        )
    } else if name != name.trim() {
        format!(
            "the name {} of a {what} begins or ends with a blank",
            quoted(name)
        )
    } else {
        return true;
    };
    reader.report(Problem::new("bad-name", at.clone(), says).label("this name"));
    false
}
