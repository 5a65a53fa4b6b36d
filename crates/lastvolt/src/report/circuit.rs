//! The circuit of a board as a drawing, with the voltages at rest beside its nets.

use maud::{Markup, html};

use crate::report::board::Section;

/// The part of a board's section.
pub(super) fn part(_: &Section) -> Markup {
    html! {}
}
