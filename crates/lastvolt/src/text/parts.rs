//! `parts` as text: a table for each kind, or one model whole with its curves.

use std::fmt::Write as _;

use lastvolt_core::quantity::{Unit, YEAR_SECS};

use crate::text::number::{engineering, nominal, percent};
use crate::text::paint::{Paint, Tone};
use crate::text::plot::plot;
use crate::text::table::{Align, Table, wrapped};
use crate::text::{WIDTH, heading, push_lines, push_warnings, push_wrapped};
use crate::view::{Document, PartView, PartsView, Shown, ShownValue};

/// Widest name that a table is widened for.
const NAMES: usize = 28;

/// What to beware of with a button cell.
const BUTTON: &str = "Button and coin cells burn through tissue within hours where a child swallows one: \
     keep them behind a lid that needs a tool, and spares away from children.";
/// What to beware of with a primary cell.
const PRIMARY: &str = "Never charge a primary cell, not even by accident through another supply on the \
     same rail: it can leak, vent or burn.";
/// What to beware of with a rechargeable cell.
const RECHARGEABLE: &str = "Cells can catch fire when shorted, crushed, heated or charged wrongly.";

/// A value as people of the trade say it: charge in ampere-hours, mass in grams, ageing by the year.
pub(crate) fn said(value: f64, unit: Unit) -> String {
    let trimmed = |value: f64, symbol: &str| {
        let text = engineering(value, symbol, 4);
        match text.split_once(' ') {
            Some((number, unit)) if number.contains('.') => {
                let number = number.trim_end_matches('0').trim_end_matches('.');
                format!("{number} {unit}")
            }
            _ => text,
        }
    };
    match unit {
        Unit::Coulomb => trimmed(value / 3600.0, "Ah"),
        Unit::Kilogram => trimmed(value * 1e3, "g"),
        Unit::PerSecond if value.abs() < 3e-7 => format!("{} a year", percent(value * YEAR_SECS)),
        _ => nominal(value, unit),
    }
}

/// A figure with its limits.
fn figure(shown: &Shown) -> String {
    match &shown.value {
        ShownValue::Word(word) => word.clone(),
        ShownValue::Flag(flag) => if *flag { "yes" } else { "no" }.to_owned(),
        // How many times another resistance, no share of a whole.
        ShownValue::Figure { typ, .. } if shown.key.ends_with("_ratio") => format!("{typ} times"),
        ShownValue::Figure {
            unit,
            min,
            typ,
            max,
        } => {
            let say = |value: &f64| said(*value, *unit);
            match (min, max) {
                (None, None) => say(typ),
                (Some(min), Some(max)) => format!("{} ({} to {})", say(typ), say(min), say(max)),
                (Some(min), None) => format!("{} (at least {})", say(typ), say(min)),
                (None, Some(max)) => format!("{} (at most {})", say(typ), say(max)),
            }
        }
    }
}

/// The typical value of a key in few digits, empty where there is none.
fn typical(part: &PartView, key: &str) -> String {
    match part.figures.get(key).map(|s| &s.value) {
        // Three digits of what is printed, which is ampere-hours.
        Some(ShownValue::Figure {
            unit: Unit::Coulomb,
            typ,
            ..
        }) => said(short(*typ / 3600.0) * 3600.0, Unit::Coulomb),
        Some(ShownValue::Figure { unit, typ, .. }) => said(short(*typ), *unit),
        _ => String::new(),
    }
}

/// Three digits of a value.
fn short(value: f64) -> f64 {
    format!("{value:.2e}").parse().unwrap_or(value)
}

/// Key figures of a kind: head of the column, keys of which the first that is there counts.
fn columns(kind: &str) -> &'static [(&'static str, &'static [&'static str])] {
    match kind {
        "cell" => &[
            ("charge", &["charge"]),
            ("volts", &["open_circuit_half"]),
            ("resistance", &["resistance_fresh"]),
            ("continuous", &["continuous"]),
        ],
        "p-fet" | "n-fet" => &[
            ("threshold", &["threshold"]),
            ("from", &["specified_from"]),
            ("on", &["on_resistance"]),
            ("off leaks", &["off_leakage"]),
            ("rated", &["rated_drain_source"]),
        ],
        "diode" | "led" => &[
            ("forward", &["forward"]),
            ("at", &["forward_at"]),
            ("leaks", &["leakage"]),
            ("rated", &["rated_current"]),
        ],
        "ldo" | "buck" | "boost" | "buck-boost" => &[
            ("output", &["output"]),
            ("own in", &["quiescent_in"]),
            ("own out", &["quiescent_out"]),
            ("limit", &["limit"]),
            ("lowest in", &["start_1", "runs_down_to"]),
        ],
        "supply" => &[("voltage", &["voltage"]), ("limit", &["limit"])],
        _ => &[
            ("value", &["value", "resistance", "contact"]),
            ("leaks", &["leakage"]),
            (
                "rated",
                &[
                    "rated_voltage",
                    "rated_current",
                    "rated_power",
                    "saturation",
                ],
            ),
        ],
    }
}

/// The table of the models, kind by kind.
pub(crate) fn list(document: &Document<PartsView>, paint: Paint) -> String {
    let entries = &document.body.entries;
    let mut out = String::new();
    let mut kinds: Vec<&str> = Vec::new();
    for entry in entries {
        if !kinds.contains(&entry.kind) {
            kinds.push(entry.kind);
        }
    }
    if entries.is_empty() {
        out.push_str("Nothing fits.\n");
    }
    for (at, kind) in kinds.iter().enumerate() {
        let gap = if at == 0 { "" } else { "\n" };
        let _ = writeln!(out, "{gap}{}", paint.tone(Tone::Heading, kind));
        push_kind(&mut out, kind, entries, paint);
    }
    let any = |of: fn(&PartView) -> bool| entries.iter().any(of);
    out.push('\n');
    if any(|e| e.kind == "cell") {
        let says = "volts: of a rested cell that has given half its charge; resistance: fresh, at 20 degC.";
        push_wrapped(&mut out, "", says);
    }
    if any(|e| e.figures.get("quiescent_in").is_some()) {
        let says = "own in, own out: current that it takes from its input and output; lowest in: the \
             input that it starts from, or runs down to.";
        push_wrapped(&mut out, "", says);
    }
    if any(|e| e.class) {
        let says =
            "class: stands for parts that several makers sell, and is not one that can be bought.";
        push_wrapped(&mut out, "", says);
    }
    if any(|e| e.thin.is_some()) {
        let says = "thin: published figures leave something open; the entry says what.";
        push_wrapped(&mut out, "", says);
    }
    if !entries.is_empty() {
        let says =
            "One of them whole, with its limits, cautions, sources and curves: lastvolt parts NAME";
        push_wrapped(&mut out, "", says);
    }
    push_warnings(&mut out, &document.warnings, paint);
    out
}

fn push_kind(out: &mut String, kind: &str, entries: &[PartView], paint: Paint) {
    let keys = columns(kind);
    let mut head = vec![("name", Align::Left)];
    head.extend(keys.iter().map(|k| (k.0, Align::Right)));
    head.extend([
        ("size", Align::Left),
        ("sure", Align::Left),
        ("", Align::Left),
    ]);
    let mut table = Table::new(&head);
    let these: Vec<&PartView> = entries.iter().filter(|e| e.kind == kind).collect();
    for part in &these {
        let figure = |keys: &[&str]| {
            let found = keys
                .iter()
                .map(|k| typical(part, k))
                .find(|t| !t.is_empty());
            found.unwrap_or_default()
        };
        let mut row = vec![cut(&part.name, NAMES)];
        row.extend(keys.iter().map(|k| figure(k.1)));
        let marks = [(part.class, "class"), (part.thin.is_some(), "thin")];
        let marks: Vec<&str> = marks.iter().filter(|m| m.0).map(|m| m.1).collect();
        let sure = part
            .confidence
            .strip_prefix("data-")
            .unwrap_or(part.confidence);
        row.extend([size(part), sure.to_owned(), marks.join(" ")]);
        table.row(row);
    }
    let lines = table.lines(2);
    if let Some((head, rows)) = lines.split_first() {
        let _ = writeln!(out, "{head}");
        for (row, part) in rows.iter().zip(&these) {
            let _ = writeln!(out, "{row}");
            for line in wrapped(&part.summary, WIDTH - 6) {
                let _ = writeln!(out, "      {}", paint.tone(Tone::Quiet, &line));
            }
        }
    }
}

/// Outer dimensions of a cell, where they are stated.
fn size(part: &PartView) -> String {
    let keys = ["diameter", "length", "width", "height", "thickness"];
    let sides: Vec<f64> = keys.iter().filter_map(|k| part.figures.number(k)).collect();
    let sides: Vec<String> = sides.iter().map(|m| format!("{:.1}", m * 1e3)).collect();
    if sides.is_empty() {
        return String::new();
    }
    let sides: Vec<&str> = sides.iter().map(|s| s.trim_end_matches(".0")).collect();
    format!("{} mm", sides.join(" x "))
}

fn cut(name: &str, most: usize) -> String {
    if name.chars().count() <= most {
        return name.to_owned();
    }
    let head: String = name.chars().take(most - 3).collect();
    format!("{head}...")
}

/// Models whole, one after another.
pub(crate) fn whole(document: &Document<PartsView>, paint: Paint) -> String {
    let mut out = String::new();
    for (at, part) in document.body.entries.iter().enumerate() {
        if at > 0 {
            out.push('\n');
        }
        push_whole(&mut out, part, paint);
    }
    push_warnings(&mut out, &document.warnings, paint);
    out
}

fn push_whole(out: &mut String, part: &PartView, paint: Paint) {
    let class = if part.class { ", a class of parts" } else { "" };
    let title = format!("{}: {}{class}", part.name, part.kind);
    let _ = writeln!(out, "{}", paint.tone(Tone::Heading, &title));
    if !part.summary.is_empty() {
        push_wrapped(out, "", &part.summary);
    }
    let mut groups: Vec<&str> = Vec::new();
    for shown in &part.figures.0 {
        if !groups.contains(&shown.group) {
            groups.push(shown.group);
        }
    }
    if groups.is_empty() {
        let says =
            "It leaves out what a part must bring, so there is nothing to compute from it alone.";
        push_wrapped(out, "", says);
    }
    let width = part.figures.0.iter().map(|s| s.says.chars().count()).max();
    let width = width.unwrap_or(0);
    for group in groups {
        heading(out, group, paint);
        for shown in part.figures.0.iter().filter(|s| s.group == group) {
            let first = format!("  {:width$}  ", shown.says);
            push_wrapped(out, &first, &figure(shown));
        }
    }
    if !part.seen.is_empty() {
        heading(out, "seen over real parts", paint);
        let words: Vec<String> = part
            .seen
            .iter()
            .map(|s| s.figure.replace('_', " "))
            .collect();
        let width = words.iter().map(|w| w.chars().count()).max().unwrap_or(0);
        for (word, seen) in words.iter().zip(&part.seen) {
            let first = format!("  {word:width$}  ");
            push_wrapped(out, &first, &format!("{} to {}", seen.low, seen.high));
        }
    }
    push_origin(out, part, paint);
    for curve in &part.curves {
        heading(out, &curve.title, paint);
        push_lines(out, &plot(curve));
    }
}

fn push_origin(out: &mut String, part: &PartView, paint: Paint) {
    heading(out, "where this is from", paint);
    let sure = match part.confidence {
        "data-sheet" => "as printed in data sheets",
        "typical" => "typical of its class, not of one maker's part",
        _ => "from memory",
    };
    push_wrapped(
        out,
        "  confidence  ",
        &format!("{}: {sure}", part.confidence),
    );
    if !part.source.is_empty() {
        push_wrapped(out, "  source      ", &part.source);
    }
    for source in &part.sources {
        push_wrapped(out, "            - ", source);
    }
    if let Some(thin) = &part.thin {
        push_wrapped(out, "  thin        ", thin);
    }
    let cautions = cautions(part);
    if !cautions.is_empty() {
        heading(out, "cautions", paint);
        for caution in cautions {
            push_wrapped(out, "  - ", &caution);
        }
    }
}

/// Its own cautions, or those of every cell of its sort where it states none.
fn cautions(part: &PartView) -> Vec<String> {
    let flag = |key: &str| {
        part.figures
            .get(key)
            .map(|s| s.value == ShownValue::Flag(true))
    };
    if !part.cautions.is_empty() {
        return part.cautions.clone();
    }
    let mut all = Vec::new();
    if flag("button") == Some(true) {
        all.push(BUTTON.to_owned());
    }
    match flag("rechargeable") {
        Some(true) => all.push(RECHARGEABLE.to_owned()),
        Some(false) => all.push(PRIMARY.to_owned()),
        None => {}
    }
    all
}
