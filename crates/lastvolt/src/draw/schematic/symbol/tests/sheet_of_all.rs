//! Writes a sheet of all symbols in all positions to `target/symbols.svg`, to be looked at.

use std::fmt::Write;

use super::{every_kind, positions};
use crate::draw::schematic::sheet::{STEP, Stroke, Symbol, TextRole};
use crate::draw::schematic::symbol::pieces;
use crate::draw::svg::{Anchor, escape};

fn points(places: &[crate::draw::schematic::sheet::Place]) -> String {
    let pairs = places.iter().map(|p| format!("{},{}", p.x, p.y));
    pairs.collect::<Vec<_>>().join(" ")
}

fn stroke(stroke: &Stroke) -> String {
    match stroke {
        Stroke::Line(p) => format!(r#"<polyline class="sym" points="{}"/>"#, points(p)),
        Stroke::Dashes(p) => format!(r#"<polyline class="sym dashes" points="{}"/>"#, points(p)),
        Stroke::Shape { corners, filled } => {
            let class = if *filled { "sym ink" } else { "sym" };
            format!(r#"<polygon class="{class}" points="{}"/>"#, points(corners))
        }
        Stroke::Ring {
            centre,
            radius,
            filled,
        } => {
            let class = if *filled { "sym ink" } else { "sym" };
            let (x, y) = (centre.x, centre.y);
            format!(r#"<circle class="{class}" cx="{x}" cy="{y}" r="{radius}"/>"#)
        }
        Stroke::Bows { from, to, count } => {
            let n = f64::from(*count);
            let (dx, dy) = ((to.x - from.x) / n, (to.y - from.y) / n);
            let r = dx.hypot(dy) / 2.0;
            let mut path = format!("M{},{}", from.x, from.y);
            for _ in 0..*count {
                let _ = write!(path, " a{r},{r} 0 0 1 {dx},{dy}");
            }
            format!(r#"<path class="sym" d="{path}"/>"#)
        }
        Stroke::Room(_) => String::new(),
    }
}

fn drawn(symbol: &Symbol) -> String {
    let b = symbol.body;
    let mut out = format!(
        r#"<rect x="{}" y="{}" width="{}" height="{}" fill="none" stroke="var(--rule)" stroke-width=".5"/>"#,
        b.left,
        b.top,
        b.right - b.left,
        b.bottom - b.top
    );
    out.extend(symbol.strokes.iter().map(stroke));
    for t in &symbol.terminals {
        let (x, y) = (f64::from(t.at.x) * STEP, f64::from(t.at.y) * STEP);
        let _ = write!(out, r#"<circle cx="{x}" cy="{y}" r="1.5" fill="red"/>"#);
    }
    for t in &symbol.texts {
        let anchor = match t.anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let class = if t.role == TextRole::Pin {
            "pin"
        } else {
            "val"
        };
        let (x, y) = (t.at.x, t.at.y);
        let says = escape(&t.says);
        let _ = write!(
            out,
            r#"<text class="{class}" text-anchor="{anchor}" x="{x:.1}" y="{y:.1}">{says}</text>"#
        );
    }
    out
}

#[test]
fn a_sheet_of_all_symbols_can_be_looked_at() {
    let board = every_kind();
    let pieces = pieces(&board);
    let mut body = String::new();
    for (row, piece) in pieces.iter().enumerate() {
        let y = 80 + 150 * row;
        for (at, (_, line)) in piece.lines.iter().enumerate() {
            let class = if at == 0 { "ref" } else { "val" };
            let (y, line) = (y + 14 * at, escape(line));
            let _ = write!(
                body,
                r#"<text class="{class}" x="10" y="{y}">{line}</text>"#
            );
        }
        for (column, symbol) in positions(&piece.symbol).iter().enumerate() {
            let x = 240 + 170 * column;
            let _ = write!(
                body,
                r#"<g transform="translate({x},{y})">{}</g>"#,
                drawn(symbol)
            );
        }
    }
    let height = 80 + 150 * pieces.len();
    let style = crate::draw::STYLE;
    let svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 1560 {height}\" width=\"1560\" height=\"{height}\"><style>{style}</style><rect width=\"100%\" height=\"100%\" fill=\"var(--paper)\"/>{body}</svg>"
    );
    assert!(roxmltree::Document::parse(&svg).is_ok(), "well-formed");
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../target");
    std::fs::create_dir_all(&folder).expect("a folder");
    std::fs::write(folder.join("symbols.svg"), svg).expect("written");
}
