//! Which boards can be plugged together: every pair, and every board with a second one of its kind.

use crate::model::{Board, Family};

/// What follows the name of a board that is there twice.
const SECOND: &str = " (second)";

/// Boards plugged together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plugged {
    /// Their names.
    pub boards: Vec<String>,
    /// Whether a board is there more than once.
    pub twice: bool,
}

/// The family with a second one of every board, and every way of plugging `count` boards together,
/// in file order.
#[must_use]
pub fn plugged(family: &Family, count: usize) -> (Family, Vec<Plugged>) {
    let mut whole = family.clone();
    let names: Vec<String> = family.boards.iter().map(|b| b.name.clone()).collect();
    whole.boards.extend(family.boards.iter().map(second));
    for load in &mut whole.loads {
        if let Some(on) = &mut load.on {
            let more: Vec<String> = on.iter().map(|name| format!("{name}{SECOND}")).collect();
            on.extend(more);
        }
    }
    let mut out = Vec::new();
    if 1 < count {
        choose(&names, count, 0, &mut Vec::new(), &mut out);
    }
    (whole, out)
}

/// Name of the board in the files.
#[must_use]
pub(crate) fn original(name: &str) -> &str {
    name.strip_suffix(SECOND).unwrap_or(name)
}

/// Name of the second one of a board.
pub(super) fn second_name(board: &str) -> String {
    format!("{board}{SECOND}")
}

fn second(board: &Board) -> Board {
    Board {
        name: second_name(&board.name),
        ..board.clone()
    }
}

/// Boards in file order, each at most twice.
fn choose(
    names: &[String],
    count: usize,
    from: usize,
    taken: &mut Vec<usize>,
    out: &mut Vec<Plugged>,
) {
    if taken.len() == count {
        let mut boards: Vec<String> = Vec::new();
        for at in taken.iter() {
            let again = boards.contains(&names[*at]);
            let suffix = if again { SECOND } else { "" };
            boards.push(format!("{}{suffix}", names[*at]));
        }
        let twice = boards.iter().any(|b| b.ends_with(SECOND));
        out.push(Plugged { boards, twice });
        return;
    }
    for at in from..names.len() {
        if taken.iter().filter(|t| **t == at).count() < 2 {
            taken.push(at);
            choose(names, count, at, taken, out);
            taken.pop();
        }
    }
}
