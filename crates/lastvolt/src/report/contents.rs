//! The table of contents: all sections, and within boards their parts.

use maud::{Markup, html};

use crate::report::Input;
use crate::report::board::BoardPage;

/// A section by its anchor and its title.
pub(super) type Entry = (&'static str, &'static str);

/// The list, boards between what stands before and behind them.
pub(super) fn contents(
    input: &Input,
    before: &[Entry],
    boards: &[BoardPage],
    behind: &[Entry],
) -> Markup {
    let profiles = 1 < input.family.profiles.len();
    html! {
        nav #contents aria-labelledby="contents-title" {
            h2 #contents-title { "Contents" }
            ol {
                (entries(before))
                @for board in boards {
                    li {
                        a href={ "#" (board.id) } { "Board " bdi { (board.board.name) } }
                        ul {
                            @for piece in &board.pieces {
                                li { a href={ "#" (piece.id) } { (short(&piece.title, profiles)) } }
                            }
                        }
                    }
                }
                (entries(behind))
            }
        }
    }
}

fn entries(entries: &[Entry]) -> Markup {
    html! { @for (id, title) in entries { li { a href={ "#" (id) } { (title) } } } }
}

/// The profile is named where there are several.
fn short(title: &str, profiles: bool) -> &str {
    match title.split_once(" in profile ") {
        Some((head, _)) if !profiles => head,
        _ => title,
    }
}
