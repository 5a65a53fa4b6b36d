//! Every way of plugging boards together, in every position: one line a stack, and under it what to look
//! at, each with a way to the page that shows it.

use std::collections::BTreeMap;

use lastvolt_core::circuit::{MatrixCase, Situation, matrix_at};
use lastvolt_core::model::Family;
use lastvolt_core::progress::{Piece, Progress};
use lastvolt_core::quantity::Unit;
use lastvolt_core::review::situations::plugged;
use maud::{Markup, html};

use crate::report::typeset;
use crate::text::number::{count, figure, listed, percent};
use crate::web::desk::Sound;
use crate::web::setting::path;

/// Situations of one stack that are listed.
const MOST_ROWS: usize = 24;

/// One stack, solved in every position.
struct Stack {
    boards: Vec<String>,
    /// A board is there twice, which no page shows.
    twice: bool,
    cases: Vec<MatrixCase>,
    warnings: Vec<String>,
}

/// Works them out.
///
/// # Errors
/// Why they cannot be.
pub(super) fn run(
    sound: &Sound,
    at_once: usize,
    progress: &dyn Progress,
) -> Result<Markup, String> {
    let model = &sound.family.model;
    let (doubled, more) = plugged(model, at_once);
    let alone = model.boards.iter().map(|b| (vec![b.name.clone()], false));
    let alone = alone.filter(|_| at_once == 2);
    let stacks: Vec<_> = alone
        .chain(more.into_iter().map(|p| (p.boards, p.twice)))
        .collect();
    let mut solved = Vec::new();
    let whole = stacks.len();
    for (at, (boards, twice)) in stacks.into_iter().enumerate() {
        if progress.cancelled() {
            return Err("stopped".to_owned());
        }
        let piece = Piece::new(progress, at, whole);
        let worn = if boards.len() == 1 {
            Vec::new()
        } else {
            worn(&doubled, &boards)
        };
        let found = matrix_at(&doubled, &boards, model.profiles.first(), &worn, &piece);
        let found = found.map_err(|why| why.to_string())?;
        solved.push(Stack {
            boards,
            twice,
            cases: found.cases,
            warnings: found.warnings,
        });
    }
    Ok(table(model, &solved))
}

/// Each board with a cell drawn to the end, the others fresh.
fn worn(family: &Family, boards: &[String]) -> Vec<BTreeMap<String, f64>> {
    let found = boards.iter().filter_map(|name| family.board(name));
    let celled = found.filter(|b| b.has_cell());
    celled
        .map(|b| BTreeMap::from([(b.name.clone(), 1.0)]))
        .collect()
}

fn table(family: &Family, stacks: &[Stack]) -> Markup {
    let all: usize = stacks.iter().map(|s| s.cases.len()).sum();
    let ambient = crate::text::number::celsius(family.requirement.ambient.usual.as_celsius());
    html! {
        p { (typeset(&format!("{} in all, loads in base states, {ambient}.", count(all, "situation")))) }
        div.table.situations tabindex="0" role="group" aria-label="Boards plugged together" {
            table {
                caption { span.hidden { "Boards plugged together" } }
                thead { tr { th { "boards" } th.n { "situations" } th.n { "powered" } th.n { "hardest worked" } th { "look at" } } }
                tbody { @for stack in stacks { (line(stack)) } }
            }
        }
        @for stack in stacks { (details(stack)) }
    }
}

/// A stack in a line.
fn line(stack: &Stack) -> Markup {
    let powered = stack.cases.iter().filter(|c| c.powered).count();
    html! {
        tr class=(if powered == 0 { "rests" } else { "runs" }) {
            th scope="row" { (name(stack)) }
            td.n { (stack.cases.len()) }
            td.n { (powered) }
            td.n { (typeset(&hardest(stack))) }
            td.w { (typeset(&look_at(stack))) }
        }
    }
}

/// The boards, as a way to their page where there is one.
fn name(stack: &Stack) -> Markup {
    let words = stack.boards.join(" + ");
    html! {
        @if stack.twice { bdi { (words) } } @else { a href=(path(&stack.boards)) { bdi { (words) } } }
    }
}

/// The largest share of a rating.
fn hardest(stack: &Stack) -> String {
    let shares = stack
        .cases
        .iter()
        .flat_map(|c| &c.stressed)
        .map(|s| s.share);
    shares
        .reduce(f64::max)
        .map_or_else(|| "\u{2013}".to_owned(), percent)
}

/// What is out of order in any situation, in words.
fn look_at(stack: &Stack) -> String {
    let of = |is: fn(&MatrixCase) -> bool| stack.cases.iter().filter(|c| is(c)).count();
    let kinds = [
        (of(|c| !c.charged.is_empty()), "charges a cell"),
        (of(is_overworked), "works a part above its rating"),
        (
            of(|c| !c.floating.is_empty()),
            "leaves a net without a level",
        ),
        (of(|c| c.point.is_err()), "has no operating point"),
    ];
    let words = kinds
        .iter()
        .filter(|k| 0 < k.0)
        .map(|(n, what)| format!("{what} in {n}"));
    words.collect::<Vec<_>>().join("; ")
}

fn is_overworked(case: &MatrixCase) -> bool {
    case.stressed.iter().any(|s| 1.0 < s.share)
}

fn tells(case: &MatrixCase) -> bool {
    is_overworked(case) || !case.charged.is_empty() || case.point.is_err()
}

/// Situations to look at.
fn details(stack: &Stack) -> Markup {
    let cases: Vec<&MatrixCase> = stack.cases.iter().filter(|c| tells(c)).collect();
    let more = cases.len().saturating_sub(MOST_ROWS);
    html! {
        @if !cases.is_empty() {
            details {
                summary { bdi { (stack.boards.join(" + ")) } ": " (count(cases.len(), "situation")) " to look at" }
                ul.lines {
                    @for case in cases.iter().take(MOST_ROWS) {
                        li { (situation(stack, &case.situation)) " " (typeset(&remarks(case))) }
                    }
                }
                @if 0 < more { p.quiet { (more) " more are not shown here; " code { "lastvolt matrix --pairs" } " lists all." } }
            }
        }
        @if !stack.warnings.is_empty() { p.quiet { bdi { (stack.boards.join(" + ")) } ": " (typeset(&stack.warnings.join("; "))) } }
    }
}

/// A situation in words, as a way to the page that shows it.
fn situation(stack: &Stack, situation: &Situation) -> Markup {
    let mut words: Vec<String> = situation
        .positions
        .iter()
        .map(|(n, p)| format!("{n} {p}"))
        .collect();
    words.extend(situation.reversed.iter().map(|n| format!("{n} backwards")));
    words.extend(
        situation
            .depths
            .keys()
            .map(|n| format!("cells of {n} at their end")),
    );
    let words = if words.is_empty() {
        "as usual".to_owned()
    } else {
        words.join(", ")
    };
    // Cells of one board alone cannot be set by a link.
    let shows = !stack.twice && situation.depths.is_empty();
    html! {
        @if shows { a href=(link(situation)) { bdi { (words) } } } @else { bdi { (words) } }
        ":"
    }
}

fn link(situation: &Situation) -> String {
    let mut query = form_urlencoded::Serializer::new(String::new());
    for (name, position) in &situation.positions {
        query.append_pair("set", &format!("{name}={position}"));
    }
    for name in &situation.reversed {
        query.append_pair("reverse", name);
    }
    format!("{}?{}", path(&situation.boards), query.finish())
}

/// What is out of order in a situation.
fn remarks(case: &MatrixCase) -> String {
    if let Err(why) = &case.point {
        return format!("no operating point: {why}");
    }
    let mut words = Vec::new();
    if !case.charged.is_empty() {
        words.push(format!("charges {}", listed(&case.charged)));
    }
    let over = case.stressed.iter().filter(|s| 1.0 < s.share);
    words.extend(over.map(|s| {
        format!(
            "{} {} at {} of its rating",
            s.part,
            s.quantity,
            percent(s.share)
        )
    }));
    format!(
        "{}; rail at {}",
        words.join("; "),
        figure(case.rail_volts, Unit::Volt)
    )
}
