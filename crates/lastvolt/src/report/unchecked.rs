//! What was not looked at, on one page, and what to do about it by hand.

use maud::{Markup, html};

use crate::report::Input;
use crate::report::typeset::typeset;
use crate::scope;

/// What no version looks at: what it is, and what a person has to look at instead.
const BY_HAND: [(&str, &str); 6] = [
    (
        "Layout",
        "Loops of switched current, distance of bypass capacitors, widths of copper for the largest \
         currents, sense lines, paths of heat. Figures here take every connection for a plain wire.",
    ),
    (
        "Electrostatic discharge",
        "What a finger or a cable can touch: connector, switch, cell contacts. Neither clamps nor the \
         strength of pins are looked at.",
    ),
    (
        "Electromagnetic compatibility",
        "Emission of converters and their harmonics, immunity of rail and reset to the own radio and to \
         others. Measure a built board.",
    ),
    (
        "Antenna",
        "Cells, holders and ground areas near an antenna shift and damp it. Measure with the cells in.",
    ),
    (
        "Mechanics",
        "Hold of cells in shock and vibration, lids that children cannot open, room for swelling cells, \
         moisture and corrosion of contacts.",
    ),
    (
        "Making",
        "Cells of one lot, soldering of coin cells, order of assembly, test points within reach.",
    ),
];

/// The section.
pub(super) fn section(input: &Input) -> Markup {
    html! {
        section.unchecked aria-labelledby="not-checked" {
            h2 #not-checked { "What was not checked" }
            p { "To be looked at by a person, or measured on a built board:" }
            dl.by-hand { @for (what, says) in BY_HAND { dt { (what) } dd { (says) } } }
            p { "Not computed by this version:" }
            ul { @for line in not_computed(input) { li { (line) } } }
            @let left_out = &input.document.body.coverage.left_out;
            @if !left_out.is_empty() {
                p { "Left out because there were too many situations:" }
                ul.left-out { @for what in left_out { li { (typeset(what)) } } }
            }
            @let notes = notes(input);
            @if !notes.is_empty() {
                p { "Notes on this review:" }
                ul { @for note in notes { li { (typeset(note)) } } }
            }
        }
    }
}

/// What came up on the way, without what the list above says already.
fn notes<'i>(input: &'i Input) -> Vec<&'i str> {
    let said = scope::warnings(input.family, input.profile);
    let all = input.document.warnings.iter();
    all.filter(|w| !said.contains(w))
        .map(String::as_str)
        .collect()
}

/// What the requirement or the family would need and this version does not compute.
fn not_computed(input: &Input) -> Vec<&'static str> {
    let requirement = &input.family.requirement;
    let mut out = Vec::new();
    if 1 < input.family.boards.len() {
        out.push("Three and more boards plugged together: every pair is looked at.");
    }
    out.push("How the control of converters behaves beyond one time of response; their ripple is a formula.");
    if requirement.ambient.monthly.is_none() {
        out.push("Months of different temperature: none are given, so lives run at one temperature, with one cold night on top.");
    }
    if requirement.storage.is_some() {
        out.push("Storage in the board or at another temperature: cells are taken to lie on a shelf at 20\u{a0}°C.");
    }
    if requirement.confidence.is_some() {
        out.push("The spread of units beyond that of charge and resistance of their cells: parts, loads and ambient are typical in every unit, and the limits of a load are no spread.");
    }
    out.push("Charging and solar sources, which are not covered.");
    out
}
