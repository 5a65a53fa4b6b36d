//! Every reading beside what the model says, test by test; curves and logs in one row.

use std::fmt::Write as _;

use lastvolt_core::quantity::Unit;

use crate::text::number::{count, duration, engineering, figure, percent, solved};
use crate::text::paint::{Paint, Tone};
use crate::text::push_wrapped;
use crate::text::table::{Align, Table};
use crate::view::{FitView, Measure, ReadingView, TestView};

/// Most voltages of a curve that are listed one by one.
const LISTED: usize = 4;

/// Puts the table of all tests down.
pub(super) fn push(out: &mut String, fit: &FitView, paint: Paint) {
    let mut table = Table::new(&[
        ("", Align::Left),
        ("measured", Align::Right),
        ("said", Align::Right),
        ("error", Align::Right),
        ("90 % of readings lie", Align::Left),
        ("", Align::Left),
        ("", Align::Left),
    ]);
    let mut blocks: Vec<(usize, Vec<(usize, String)>)> = Vec::new();
    for test in &fit.tests {
        let (curve, single) = parted(test);
        for reading in &single {
            table.row(row(reading));
        }
        let curves = [true, false].map(|fitted| {
            let own = curve.iter().copied().filter(|r| r.fitted == fitted);
            own.collect::<Vec<_>>()
        });
        let curves = curves.iter().filter(|c| !c.is_empty());
        let curves = curves.map(|c| (single.len(), condensed(c)));
        blocks.push((single.len(), curves.collect()));
    }
    let lines = table.lines(4);
    let mut lines = lines.iter();
    if let Some(head) = lines.next().filter(|l| !l.trim().is_empty()) {
        let _ = writeln!(out, "{head}");
    }
    for (test, (rows, curves)) in fit.tests.iter().zip(&blocks) {
        push_wrapped(out, "  ", &paint.tone(Tone::Quiet, &test.name));
        for line in lines.by_ref().take(*rows) {
            let _ = writeln!(out, "{line}");
        }
        for (_, curve) in curves {
            push_wrapped(out, "    ", curve);
        }
    }
    push_summary(out, fit);
}

/// Readings of curves and logs, and those that are listed one by one.
fn parted(test: &TestView) -> (Vec<&ReadingView>, Vec<&ReadingView>) {
    let of_curve = |r: &&ReadingView| r.quantity == "volts" || r.quantity == "log";
    let many = LISTED < test.readings.iter().filter(of_curve).count();
    test.readings.iter().partition(|r| many && of_curve(r))
}

fn row(reading: &ReadingView) -> [String; 7] {
    let (low, high) = reading.limits;
    let show = |v: f64| shown(reading.measure, v);
    [
        reading.at.clone(),
        show(reading.measured),
        show(reading.said),
        error(reading),
        format!("{} to {}", show(low), show(high)),
        role(reading.fitted).to_owned(),
        if reading.outside { "outside" } else { "" }.to_owned(),
    ]
}

fn role(fitted: bool) -> &'static str {
    if fitted { "fitted" } else { "held back" }
}

fn shown(measure: Measure, value: f64) -> String {
    match measure {
        Measure::Secs => duration(value),
        Measure::Coulombs => engineering(value / 3600.0, "Ah", 3),
        Measure::Count => format!("{value:.0}"),
        Measure::Volts => solved(value, Unit::Volt),
        Measure::Ohms => figure(value, Unit::Ohm),
    }
}

fn error(reading: &ReadingView) -> String {
    match reading.measure {
        Measure::Volts => millivolts(reading.error),
        _ => signed(reading.error * 100.0, 1, "%"),
    }
}

fn millivolts(volts: f64) -> String {
    signed(volts * 1e3, 0, "mV")
}

/// A figure with its sign; what rounds to zero has none.
fn signed(value: f64, digits: usize, unit: &str) -> String {
    let zero = format!("{:.digits$}", 0.0);
    match format!("{value:+.digits$}") {
        text if text[1..] == zero => format!("{zero} {unit}"),
        text => format!("{text} {unit}"),
    }
}

/// A curve in one sentence.
fn condensed(curve: &[&ReadingView]) -> String {
    #[expect(clippy::cast_precision_loss, reason = "counts are far below 2^52")]
    let n = curve.len() as f64;
    let squares: f64 = curve.iter().map(|r| r.error * r.error).sum();
    let rms = (squares / n).sqrt();
    let worst = curve
        .iter()
        .max_by(|a, b| a.error.abs().total_cmp(&b.error.abs()));
    let worst = worst.map_or_else(String::new, |r| {
        let volts = solved(r.measured, Unit::Volt);
        format!(
            "worst {} {}, where {volts} was read",
            millivolts(r.error),
            r.at
        )
    });
    let outside = curve.iter().filter(|r| r.outside).count();
    let outside = match outside {
        0 => "none outside".to_owned(),
        n => format!("{n} outside"),
    };
    format!(
        "{}, {}: RMS error {}, {worst}; {outside}",
        count(curve.len(), "voltage"),
        role(curve.iter().all(|r| r.fitted)),
        figure(rms, Unit::Volt)
    )
}

fn push_summary(out: &mut String, fit: &FitView) {
    let all = || fit.tests.iter().flat_map(|t| &t.readings);
    let mut says = Vec::new();
    for fitted in [true, false] {
        let own = || all().filter(|r| r.fitted == fitted);
        let (n, outside) = (own().count(), own().filter(|r| r.outside).count());
        if 0 < n {
            #[expect(clippy::cast_precision_loss, reason = "counts are far below 2^52")]
            let share = (n - outside) as f64 / n as f64;
            says.push(format!(
                "{} of {} that were {} lie inside ({})",
                n - outside,
                count(n, "reading"),
                role(fitted),
                percent(share)
            ));
        }
    }
    out.push('\n');
    push_wrapped(
        out,
        "  ",
        &format!(
            "{}. The error of a voltage is that to the nearest point of the curve.",
            says.join("; ")
        ),
    );
}
