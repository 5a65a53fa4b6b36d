//! `point` as text: nets, parts and loads in aligned tables, then what is out of order.

use std::fmt::Write as _;

use lastvolt_core::circuit::Circuit;
use lastvolt_core::quantity::Unit;

use crate::text::matrix::situation_words;
use crate::text::number::{figure, listed, percent, solved};
use crate::text::paint::{Paint, Tone};
use crate::text::table::{Align, Table};
use crate::text::{heading, push_lines, push_warnings};
use crate::view::{Document, PointView};

/// The whole text.
pub(crate) fn text(document: &Document<PointView>, circuit: &Circuit, paint: Paint) -> String {
    let point = &document.body;
    let mut out = String::new();
    for board in circuit.boards() {
        let _ = writeln!(out, "{}: {}", board.name, board.title);
    }
    let _ = writeln!(out, "{}", situation_words(&point.situation));
    heading(&mut out, "Nets", paint);
    push_lines(&mut out, &nets(point).lines(2));
    heading(&mut out, "Parts", paint);
    push_lines(&mut out, &parts(point, circuit).lines(2));
    if !point.loads.is_empty() {
        heading(&mut out, "Loads", paint);
        push_lines(&mut out, &loads(point).lines(2));
    }
    push_faults(&mut out, point, paint);
    let residual = match point.kcl_residual_a.0 {
        small if small < 1e-12 => "a picoampere".to_owned(),
        large => figure(large, Unit::Ampere),
    };
    let sum = format!("Currents into every net sum to zero within {residual}.");
    let _ = writeln!(out, "\n{}", paint.tone(Tone::Quiet, &sum));
    push_warnings(&mut out, &document.warnings, paint);
    out
}

fn nets(point: &PointView) -> Table {
    let mut table = Table::new(&[("net", Align::Left), ("voltage", Align::Right)]);
    for (name, volts) in point.nets.iter() {
        table.row([name.to_owned(), solved(volts.0, Unit::Volt)]);
    }
    table
}

fn parts(point: &PointView, circuit: &Circuit) -> Table {
    let mut table = Table::new(&[
        ("part", Align::Left),
        ("kind", Align::Left),
        ("current", Align::Right),
        ("voltage", Align::Right),
        ("power", Align::Right),
        ("mode", Align::Left),
    ]);
    let known = circuit.parts();
    for (name, part) in point.parts.iter() {
        let kind = known.iter().find(|(n, _)| n == name);
        table.row([
            name.to_owned(),
            kind.map_or("", |(_, p)| p.kind.word()).to_owned(),
            solved(part.current_a.0, Unit::Ampere),
            solved(part.voltage_v.0, Unit::Volt),
            solved(part.power_w.0, Unit::Watt),
            part.mode.unwrap_or_default().to_owned(),
        ]);
    }
    table
}

fn loads(point: &PointView) -> Table {
    let mut table = Table::new(&[
        ("load", Align::Left),
        ("state", Align::Left),
        ("current", Align::Right),
        ("voltage", Align::Right),
        ("power", Align::Right),
        ("", Align::Left),
    ]);
    for (name, load) in point.loads.iter() {
        let state = point.situation.states.get(name).cloned();
        table.row([
            name.to_owned(),
            state.unwrap_or_default(),
            solved(load.current_a.0, Unit::Ampere),
            solved(load.voltage_v.0, Unit::Volt),
            solved(load.power_w.0, Unit::Watt),
            if load.awake { "" } else { "held in reset" }.to_owned(),
        ]);
    }
    table
}

fn push_faults(out: &mut String, point: &PointView, paint: Paint) {
    if !point.floating.is_empty() {
        let what = format!("Floating: {}", listed(&point.floating));
        let _ = writeln!(
            out,
            "\n{} have no defined level.",
            paint.tone(Tone::Fix, &what)
        );
    }
    for fold in &point.folds {
        let what = format!("{} has collapsed:", fold.part);
        let _ = writeln!(
            out,
            "\n{} its source can give at most {}, which carries {} of this load.",
            paint.tone(Tone::Stop, &what),
            figure(fold.most_w.0, Unit::Watt),
            percent(fold.load_share.0)
        );
    }
}
