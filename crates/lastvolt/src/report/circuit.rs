//! The circuit of a board as a drawing, with the voltages at rest beside its nets.

use lastvolt_core::model::{Board, Family};
use lastvolt_core::review::BoardReview;
use maud::{Markup, PreEscaped, html};

use crate::draw::schematic::{Schematic, condition, file_name, schematic};
use crate::report::Input;
use crate::report::board::Section;
use crate::report::typeset::typeset;

/// The part of a board's section.
pub(super) fn part(s: &Section) -> Markup {
    let drawn = drawing(s.input.family, s.board, s.review);
    let caption = format!(
        "Drawn from the netlist. Beside the nets, where there is room, their voltages at rest: {}; \
         below 0.5 mV off the connector they are left out.",
        condition(s.input.family)
    );
    html! {
        figure.circuit {
            div.scroll tabindex="0" role="group" aria-label={ "Circuit of board " (s.board.name) } {
                (PreEscaped(drawn.inside()))
            }
            figcaption { (typeset(&caption)) }
        }
    }
}

fn drawing(family: &Family, board: &Board, review: &BoardReview) -> Schematic {
    schematic(family, board, Some(&review.usual))
}

/// Name and text of the drawing of each board as a file of its own.
pub(crate) fn files(input: &Input) -> Vec<(String, String)> {
    let boards = input.review.boards.iter();
    let each = boards.filter_map(|review| {
        let board = input.family.board(&review.board)?;
        let name = file_name(input.family, &[board]);
        Some((name, drawing(input.family, board, review).alone()))
    });
    each.collect()
}
