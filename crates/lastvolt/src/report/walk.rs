//! The walk through a board, block by block: what each is for, what shows how it does, its findings and
//! parts; and what the switches do.

use lastvolt_core::circuit::{Mode, PartPoint};
use lastvolt_core::device::Topology;
use lastvolt_core::model::{Device, Part};
use lastvolt_core::quantity::Unit;
use maud::{Markup, PreEscaped, html};

use crate::draw::legend::{self, Silk};
use crate::report::board::{Section, is_source};
use crate::report::purpose::{purpose, value};
use crate::report::typeset::typeset;
use crate::report::{bypass, finding, table};
use crate::text::number::figure;
use crate::text::walk::{capital, grouped};
use crate::view::BlockView;

/// The walk, block by block, then the parts that are in none.
pub(super) fn part(s: &Section) -> Markup {
    let unplaced: Vec<&Part> = named(s, &s.view.unplaced);
    html! {
        p.quiet {
            "Each part's figures are its current, the voltage across it and what it loses; sources show what they give. "
            "A transistor shows its channel, a regulator its input current and output voltage."
        }
        @for block in &s.view.blocks { (block_of(s, block)) }
        @if !unplaced.is_empty() {
            h4 { "Parts in no block" }
            p { "What these are for could not be told from the circuit." }
            (parts(s, &unplaced))
        }
    }
}

fn named<'s>(s: &Section<'s>, names: &[String]) -> Vec<&'s Part> {
    names.iter().filter_map(|n| s.board.part(n)).collect()
}

fn block_of(s: &Section, block: &BlockView) -> Markup {
    let own = named(s, &block.parts);
    let findings = s.input.findings(&s.board.name);
    let findings: Vec<_> = findings
        .filter(|(_, f)| block.findings.contains(&f.id))
        .collect();
    html! {
        section.block {
            h4 { (block.title) @if !says_kind(block) { span.where { (block.kind) } } }
            p { (typeset(&block.purpose)) }
            (figures_of(block))
            @if !findings.is_empty() {
                p {
                    "Findings: "
                    @for (at, one) in findings {
                        span.pointer { (finding::mark(one)) a href={ "#" (finding::anchor(at)) } { (one.rule) } } " "
                    }
                }
            }
            @if !own.is_empty() { (parts(s, &own)) }
        }
    }
}

/// Whether the title of a block says its kind already.
fn says_kind(block: &BlockView) -> bool {
    let kind = block.kind.replace('-', " ");
    block.title.to_lowercase().starts_with(&kind)
}

/// Each figure on a line of its own, with when it holds; equal labels once.
fn figures_of(block: &BlockView) -> Markup {
    if block.figures.is_empty() {
        return html! {};
    }
    html! {
        dl {
            @for (label, values) in grouped(&block.figures) {
                dt { (capital(label)) }
                dd {
                    @for (at, one) in values.iter().enumerate() {
                        @if 0 < at { br; }
                        (typeset(&figure(one.figure.value.0, one.figure.of)))
                        " " span.quiet { (typeset(&one.situation)) }
                    }
                }
            }
        }
    }
}

/// Some parts as a table: what each is and does, what it carries and loses.
fn parts(s: &Section, parts: &[&Part]) -> Markup {
    let has_burst = s.burst.is_some();
    let head = html! {
        tr { th { "part" } th { "what it is and does" } th.n { "at rest" } @if has_burst { th.n { "in the burst" } } }
    };
    let rows = html! { @for part in parts { (row(s, part)) } };
    table("Parts and what they carry", &head, &rows)
}

/// What each position of each switch does, and the legend that can be printed on the board.
pub(super) fn legend(s: &Section) -> Markup {
    let legends = &s.view.legend;
    let Some(svg) = legend::legend(&s.board.name, legends, Silk::PAGE, "currentColor") else {
        return html! {};
    };
    let head = html! { tr { th { "switch" } th { "position" } th { "what it does" } } };
    let rows = html! {
        @for legend in legends {
            @for (at, row) in legend.positions.iter().enumerate() {
                tr {
                    @if at == 0 {
                        th scope="rowgroup" rowspan=(legend.positions.len()) {
                            span.ref { (legend.part) }
                            @if let Some(label) = &legend.label { br; "marked " (label) }
                        }
                    }
                    td { (row.position) @if row.usual { " " span.quiet { "(usual)" } } }
                    td.w { (typeset(&row.says)) }
                }
            }
        }
    };
    html! {
        p.quiet { "One switch is moved at a time, the others are in their usual positions. Fresh cells, loads at rest." }
        (table("What each position does", &head, &rows))
        figure {
            (PreEscaped(svg))
            figcaption { "The legend as it can be printed on the board, five times larger than life; a star marks the usual position. The file beside this page holds it in millimetres." }
        }
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
                @if let Some(words) = mode(part, rest, burst.flatten()) { " " (typeset(&words)) }
                span.nets {
                    @for pin in &part.pins {
                        span { span.pin { (pin.name) } " " (s.board.net_of(pin).unwrap_or("open")) } " "
                    }
                }
            }
            td.n data-label="at rest" { @if let Some(p) = rest { (figures(part, p)) } }
            @if let Some(point) = burst {
                td.n data-label="in the burst" { @if let Some(p) = point { (figures(part, p)) } }
            }
        }
    }
}

/// Below this a figure is printed as nothing.
const NOTHING: f64 = 1e-15;

/// Current, voltage and loss, one below the other.
fn figures(part: &Part, point: &PartPoint) -> Markup {
    let gives = is_source(part.kind);
    let watts = if gives { -point.watts } else { point.watts };
    // What nothing flows through loses nothing.
    let none = |value: f64| value.abs() < NOTHING;
    let idle = none(point.amps) && none(watts);
    html! {
        (typeset(&figure(point.amps, Unit::Ampere)))
        @if !idle || !none(point.volts) { br; (typeset(&figure(point.volts, Unit::Volt))) }
        @if !idle { br; span.quiet { (typeset(&figure(watts, Unit::Watt))) } }
    }
}

/// What a regulator is doing at rest and in the burst.
fn mode(part: &Part, rest: Option<&PartPoint>, burst: Option<&PartPoint>) -> Option<String> {
    let at_rest = rest?.mode?;
    let linear = matches!(&part.device, Device::Regulator(u) if u.topology == Topology::Linear);
    let mut text = format!("At rest it is {}", mode_words(at_rest));
    if let Some(point) = burst
        && let Some(mode) = point.mode
    {
        if mode == at_rest {
            text.push_str(", in the burst too");
        } else {
            text.push_str(&format!(", in the burst {}", mode_words(mode)));
        }
        if let Some(amps) = point.inductor_amps.filter(|_| !linear) {
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
