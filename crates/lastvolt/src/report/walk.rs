//! The walk through the parts of a board: what each is, what it does, what it carries and loses.

use lastvolt_core::circuit::{Mode, PartPoint};
use lastvolt_core::model::Part;
use lastvolt_core::quantity::Unit;
use maud::{Markup, html};

use crate::report::board::{Section, is_source};
use crate::report::purpose::{purpose, value};
use crate::report::typeset::typeset;
use crate::report::{bypass, table};
use crate::text::number::figure;

/// The walk as a table.
pub(super) fn table_of(s: &Section) -> Markup {
    let has_burst = s.burst.is_some();
    let head = html! {
        tr { th { "part" } th { "what it is and does" } th { "nets" } th.n { "at rest" } @if has_burst { th.n { "in the burst" } } }
    };
    let rows = html! { @for part in &s.board.parts { (row(s, part)) } };
    html! {
        h3 { "Walk through the parts" }
        p.quiet {
            "Each figure is the part's current, the voltage across it and what it loses; sources show what they give. "
            "A transistor shows its channel, a regulator its input current and output voltage."
        }
        (table(&head, &rows))
    }
}

fn row(s: &Section, part: &Part) -> Markup {
    let rest = s.review.usual.part(&part.name);
    let burst = s.burst.as_ref().map(|b| b.point.part(&part.name));
    let bypassed = s.burst.as_ref().and_then(|burst| {
        bypass::sentence(s.board, part, &s.review.usual, burst, s.input.ground())
    });
    html! {
        tr {
            th scope="row" { span.ref { (part.name) } br; span.quiet { (part.kind.word()) } }
            td.w {
                @let value = value(part);
                @if !value.is_empty() { strong { (typeset(&value)) } ". " }
                (typeset(&purpose(s.board, part, s.input.ground())))
                @if let Some(words) = bypassed { " " (typeset(&words)) }
                @if let Some(words) = mode(rest, burst.flatten()) { " " (typeset(&words)) }
            }
            td.nets {
                @for pin in &part.pins {
                    span { span.pin { (pin.name) } " " (s.board.net_of(pin).unwrap_or("open")) }
                }
            }
            td.n { @if let Some(p) = rest { (figures(part, p)) } }
            @if let Some(point) = burst { td.n { @if let Some(p) = point { (figures(part, p)) } } }
        }
    }
}

/// Current, voltage and loss, one below the other.
fn figures(part: &Part, point: &PartPoint) -> Markup {
    let gives = is_source(part.kind);
    let watts = if gives { -point.watts } else { point.watts };
    html! {
        (typeset(&figure(point.amps, Unit::Ampere))) br;
        (typeset(&figure(point.volts, Unit::Volt))) br;
        span.quiet { (typeset(&figure(watts, Unit::Watt))) }
    }
}

/// What a regulator is doing at rest and in the burst.
fn mode(rest: Option<&PartPoint>, burst: Option<&PartPoint>) -> Option<String> {
    let at_rest = rest?.mode?;
    let mut text = format!("At rest it is {}", mode_words(at_rest));
    if let Some(point) = burst
        && let Some(mode) = point.mode
    {
        if mode == at_rest {
            text.push_str(", in the burst too");
        } else {
            text.push_str(&format!(", in the burst {}", mode_words(mode)));
        }
        if let Some(amps) = point.inductor_amps {
            text.push_str(&format!(
                " with {} in its inductor",
                figure(amps, Unit::Ampere)
            ));
        }
    }
    text.push('.');
    Some(text)
}

/// The mode of a converter, detector, load switch or ideal diode in words.
fn mode_words(mode: Mode) -> &'static str {
    match mode {
        Mode::Off => "off",
        Mode::Start => "unable to start",
        Mode::Run => "regulating",
        Mode::Limit => "at its current limit",
        Mode::Dropout => "in dropout",
        Mode::Pass => "passing its input on",
        Mode::Collapsed => "collapsed: asked for more than its source can give",
        Mode::Hiccup => "starting and falling off again",
        Mode::On => "on",
        Mode::BodyDiode => "without enough voltage to work, so that only its body diode conducts",
        Mode::Released => "letting its output go",
        Mode::Detects => "pulling its output low",
    }
}
