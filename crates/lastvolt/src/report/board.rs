//! One board: its circuit in figures, its life, where the energy goes, what each position does.

use lastvolt_core::circuit::{MatrixCase, Mode};
use lastvolt_core::model::{Board, Device, Load};
use lastvolt_core::quantity::Unit;
use lastvolt_core::review::{BoardReview, Budget, Finding};
use lastvolt_core::time::Life;
use maud::{Markup, PreEscaped, html};

use crate::draw::bars::shares;
use crate::draw::curves::{LifePicture, Line};
use crate::report::{Input, finding, parts, verdict};
use crate::text::number::{celsius, duration, figure, percent, solved};

pub(super) fn section(input: &Input, review: &BoardReview) -> Markup {
    let Some(board) = input.family.board(&review.board) else {
        return html! {};
    };
    let findings: Vec<&Finding> = input
        .review
        .findings
        .iter()
        .filter(|f| f.board == review.board && f.rule != "cautions")
        .collect();
    html! {
        h2 id={ "board-" (review.board) } { "Board " (review.board) }
        p.lead { (board.title) " — " (verdict(input, review)) }
        @if findings.is_empty() { p { "No findings." } }
        @for finding in findings { (finding::block(input, finding)) }
        (parts::walk(input, board, review))
        (nets(review))
        @for profile in &review.lives { (life(input, board, profile.profile.as_deref(), &profile.life)) }
        @if !review.budget.columns.is_empty() { (budget(&review.budget)) }
        (positions(review))
        (parts::list(board))
    }
}

fn nets(review: &BoardReview) -> Markup {
    html! {
        h3 { "Voltages of board " (review.board) " at rest" }
        p.quiet { "Usual positions, base states of the first profile, usual ambient, fresh cells." }
        div.table { table {
            thead { tr { th { "net" } th.n { "voltage" } } }
            tbody { @for net in &review.usual.nets {
                tr { td { code { (net.name) } } td.n { (solved(net.volts, Unit::Volt)) } }
            } }
        } }
    }
}

fn life(input: &Input, board: &Board, profile: Option<&str>, life: &Life) -> Markup {
    let name = profile.map_or_else(
        || "in base states".to_owned(),
        |p| format!("in profile {p}"),
    );
    html! {
        h3 { "Life of board " (board.name) " " (name) }
        p { (ending(life)) }
        @if let Some(night) = life.cold_night {
            p {
                "One night at " (celsius(input.family.requirement.ambient.low.as_celsius()))
                " ends it from " (duration(night.time_secs)) " on, with " (percent(1.0 - night.depth))
                " of the charge still inside."
            }
        }
        @for warning in &life.warnings { p.quiet { (warning) } }
        @if life.trace.time_secs.len() > 1 { (picture(input, board, life)) }
        @if !life.end.shares.is_empty() { (fatal_drop(board, life)) }
        @if !life.ledger.is_empty() { (ledger(board, life)) }
    }
}

/// How a life ends, in a sentence.
fn ending(life: &Life) -> String {
    let end = &life.end;
    let Some(secs) = life.life_secs else {
        return if life.ledger.is_empty() {
            "No cell feeds this board, so nothing runs empty.".to_owned()
        } else {
            format!(
                "Nothing ends it within 100 years; {} of the charge is drawn by then.",
                percent(end.depth)
            )
        };
    };
    let what = end.cause.word();
    let mut text = format!(
        "Ends after {} (give or take {}): {what}",
        duration(secs),
        duration(life.error_secs)
    );
    if let (Some(load), Some(state)) = (&end.load, &end.state) {
        text.push_str(&format!(" of {load} in state {state}"));
    }
    if let Some(task) = &end.task {
        text.push_str(&format!(" during task {task}"));
    }
    if let (Some(net), Some(volts)) = (&end.net, end.net_volts) {
        text.push_str(&format!(", with {net} at {}", figure(volts, Unit::Volt)));
    }
    if let Some(volts) = end.cell_volts {
        text.push_str(&format!(" and a cell at {}", figure(volts, Unit::Volt)));
    }
    let left = percent((1.0 - end.depth).max(0.0));
    text + &format!(
        ". {left} of the charge stays behind; the mean current was {}.",
        figure(life.mean_cell_amps, Unit::Ampere)
    )
}

fn picture(input: &Input, board: &Board, life: &Life) -> Markup {
    let trace = &life.trace;
    let loads = input.family.loads_of(board);
    let band = band(&loads, life);
    let end = life
        .life_secs
        .map(|s| format!("{} after {}", life.end.cause.word(), duration(s)));
    let mut lines = vec![
        Line {
            name: "rail at rest",
            class: "rail-rest",
            volts: &trace.rail.rest_volts,
        },
        Line {
            name: "rail, lowest in a burst",
            class: "rail-lowest",
            volts: &trace.rail.lowest_volts,
        },
    ];
    let same = |a: &[f64], b: &[f64]| a.iter().zip(b).all(|(a, b)| (a - b).abs() < 0.02);
    if !same(&trace.cell.rest_volts, &trace.rail.rest_volts) {
        lines.push(Line {
            name: "cell at rest",
            class: "cell-rest",
            volts: &trace.cell.rest_volts,
        });
        lines.push(Line {
            name: "cell, lowest in a burst",
            class: "cell-lowest",
            volts: &trace.cell.lowest_volts,
        });
    }
    let description = format!("Voltages over the life. {}", ending(life));
    let drawing = LifePicture {
        title: format!("Life of board {}", board.name),
        description,
        time_secs: &trace.time_secs,
        lines,
        band,
        end,
        cold_secs: life.cold_night.map(|c| c.time_secs),
        required_secs: input.family.requirement.life.map(|l| l.as_secs()),
    };
    html! { figure { (PreEscaped(drawing.draw())) figcaption {
        "Full lines at rest, broken lines at the lowest instant of the worst coincidence of tasks."
    } } }
}

/// The working range that decides the end, or the first load's.
fn band(loads: &[&Load], life: &Life) -> Option<(String, f64, f64)> {
    let wanted = life.end.load.as_deref();
    let load = loads
        .iter()
        .find(|l| Some(l.name.as_str()) == wanted)
        .or(loads.first())?;
    let state = life
        .end
        .state
        .as_deref()
        .and_then(|s| load.state(s))
        .unwrap_or(0);
    let range = load.working_in(state)?;
    let name = load.states.get(state).map_or("", |s| s.name.as_str());
    let said = format!("{} works here in state {name}", load.name);
    Some((said, range.from.as_volts(), range.to.as_volts()))
}

fn fatal_drop(board: &Board, life: &Life) -> Markup {
    let total: f64 = life.end.shares.iter().map(|s| s.1.abs()).sum();
    let rows: Vec<_> = life
        .end
        .shares
        .iter()
        .map(|(name, volts)| {
            (
                name.clone(),
                figure(*volts, Unit::Volt),
                volts.abs() / total.max(1e-12),
            )
        })
        .collect();
    html! {
        h3 { "Where the voltage goes at the end of board " (board.name) }
        figure { (PreEscaped(shares("Shares of the drop from the open cell to the load", &rows))) }
    }
}

fn ledger(board: &Board, life: &Life) -> Markup {
    let total: f64 = life.ledger.iter().map(|l| l.1).sum();
    let mut rows: Vec<_> = life
        .ledger
        .iter()
        .map(|(name, joules)| (name.clone(), figure(*joules, Unit::Joule), joules / total))
        .collect();
    rows.sort_by(|a, b| b.2.total_cmp(&a.2));
    let small: Vec<String> = rows
        .iter()
        .filter(|r| r.2.abs() < 5e-4)
        .map(|r| r.0.clone())
        .collect();
    rows.retain(|r| r.2.abs() >= 5e-4);
    html! {
        h3 { "Where the energy of board " (board.name) " goes" }
        figure {
            (PreEscaped(shares("Share of the stored energy by line", &rows)))
            figcaption {
                "Of " (figure(total, Unit::Joule)) " stored at the start. "
                @if !small.is_empty() { "Below 0.05 %: " (small.join(", ")) ". " }
                "The lines and the change of the stored energy agree within "
                (format!("{:.0e}", life.ledger_error.max(1e-12))) " of it."
            }
        }
    }
}

fn budget(budget: &Budget) -> Markup {
    html! {
        h3 { "Standing currents" }
        div.table { table {
            thead { tr { th { "" } th { "ambient" } th { "part" } th.n { "typical" } th.n { "maximum" } } }
            tbody { @for column in &budget.columns {
                @for (k, row) in column.rows.iter().enumerate() {
                    tr {
                        td { @if k == 0 { (column.which) } }
                        td { @if k == 0 { (celsius(column.ambient.as_celsius())) } }
                        td { (row.name) }
                        td.n { (figure(row.typical_amps, Unit::Ampere)) }
                        td.n { (figure(row.most_amps, Unit::Ampere)) }
                    }
                }
                tr {
                    td { @if column.rows.is_empty() { (column.which) } }
                    td { @if column.rows.is_empty() { (celsius(column.ambient.as_celsius())) } }
                    td { strong { "all" } }
                    td.n { strong { (figure(column.typical_amps, Unit::Ampere)) } }
                    td.n { strong { (figure(column.most_amps, Unit::Ampere)) } }
                }
            } }
        } }
    }
}

fn positions(review: &BoardReview) -> Markup {
    html! {
        h3 { "What every position of board " (review.board) " does" }
        @for warning in &review.matrix.warnings { p.quiet { (warning) } }
        div.table { table {
            thead { tr { th { "positions" } th { "cells" } th.n { "rail" } th { "loads" } th { "cells give" } th { "stressed" } th { "floating" } } }
            tbody { @for case in &review.matrix.cases { (position(case)) } }
        } }
    }
}

fn position(case: &MatrixCase) -> Markup {
    let set: Vec<String> = case
        .situation
        .positions
        .iter()
        .map(|(s, p)| format!("{s} {p}"))
        .collect();
    let reversed: Vec<&str> = case.situation.reversed.iter().map(String::as_str).collect();
    let cells: Vec<String> = case
        .cells
        .iter()
        .map(|(name, amps)| format!("{name} {}", figure(*amps, Unit::Ampere)))
        .collect();
    let stressed: Vec<String> = case
        .stressed
        .iter()
        .map(|s| format!("{} {} {}", s.part, s.quantity, percent(s.share)))
        .collect();
    html! { tr {
        td { @if set.is_empty() { "as built" } @else { (set.join(", ")) } }
        td { @if reversed.is_empty() { "right way round" } @else { (reversed.join(", ")) " backwards" } }
        @if let Err(error) = &case.point {
            td colspan="5" { "not solved: " (error) }
        } @else {
            td.n { (figure(case.rail_volts, Unit::Volt)) }
            td { @if case.powered { "powered" } @else { "not powered" } }
            td { (cells.join(", ")) @if !case.charged.is_empty() { ", charged: " (case.charged.join(", ")) } }
            td { (stressed.join(", ")) }
            td { (case.floating.join(", ")) }
        }
    } }
}

/// A converter's mode in words.
pub(super) fn mode_words(mode: Mode) -> &'static str {
    match mode {
        Mode::Off => "off",
        Mode::Start => "cannot start",
        Mode::Run => "regulating",
        Mode::Limit => "at its current limit",
        Mode::Dropout => "in dropout",
        Mode::Pass => "passing its input on",
        Mode::Collapsed => "collapsed: asked for more than its source can give",
        Mode::Hiccup => "starting and falling off again",
    }
}

/// Whether a part is one that a cell feeds through.
pub(super) fn is_source(device: &Device) -> bool {
    matches!(device, Device::Cell(_) | Device::Supply(_))
}
